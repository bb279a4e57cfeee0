//! Rows that sum up others: a mean or a total below a table is no reading.

use super::super::collector::Collector;
use super::super::passes::at;
use super::sizes::used_rows;
use crate::findings::Severity;
use crate::trial::Trial;

/// Words that name a row which sums up others.
const WORDS: &[&str] = &[
    "mean",
    "means",
    "average",
    "averages",
    "avg",
    "median",
    "total",
    "totals",
    "sum",
    "mittelwert",
    "mittel",
    "durchschnitt",
    "summe",
    "moyenne",
    "somme",
    "media",
    "promedio",
    "suma",
    "totale",
    "gemiddelde",
    "som",
    "średnia",
    "razem",
];
/// Most of the readings that may bear such a word and still be asked about: where more do, each reading is itself a mean.
const FEW: f64 = 0.25;

/// Whether a text is a word that names a row which sums up others, such as `Mean:`.
pub(in crate::ingest) fn sums_up(text: &str) -> bool {
    let word = text.trim().trim_matches(|c: char| !c.is_alphanumeric()).to_lowercase();
    WORDS.contains(&word.as_str())
}

/// Warns of rows that their note calls a mean, a total or the like, where few rows do: they are read as readings.
pub(in crate::ingest) fn check(trial: &Trial, collector: &mut Collector) {
    let log = &trial.diameters;
    let marked: Vec<bool> = log.notes().iter().map(|text| text.as_deref().is_some_and(sums_up)).collect();
    if !marked.iter().any(|marked| *marked) {
        return;
    }
    let (mut named, mut used) = (Vec::new(), 0_usize);
    for row in used_rows(trial) {
        used += 1;
        if marked.get(log.note_number(row) as usize) == Some(&true) {
            named.push(row);
        }
    }
    if named.len() as f64 > FEW * used as f64 {
        return;
    }
    for row in named {
        collector.remark(|| {
            let (station, read_mm) = (log.station_mm(row), log.read_mm().get(row).copied().unwrap_or(0.0));
            let found = format!("a row that its note calls a mean, a total or the like: {read_mm} mm at station {station} mm");
            let help = "it is used as a reading: if it is none take the row out, or put # before it";
            at("summary-row", Severity::Warning, log.place(row), &trial.inputs, found, help).in_column("note")
        });
    }
}
