//! What went in: assumptions, readings, inputs with their hashes, findings.

use crate::analysis::Analysis;
use crate::findings::{Finding, Severity};
use crate::report::quantity::{Pen, in_result, on_page};
use crate::report::{thinned, words};
use crate::trial::{Place, Trial};
use minijinja::Value;
use serde::Serialize;
use std::collections::BTreeSet;

/// A value that nobody stated.
#[derive(Serialize)]
pub struct Assumed {
    key: String,
    value: String,
    why: String,
}

/// What was taken for granted in `trial`.
pub fn assumed(trial: &Trial) -> Vec<Assumed> {
    trial.assumed.iter().map(|each| Assumed { key: each.key.clone(), value: json_text(&each.value), why: each.why.clone() }).collect()
}

/// A value of the settings as text, a long number to six figures.
pub fn json_text(value: &serde_json::Value) -> String {
    match value {
        serde_json::Value::String(text) => text.clone(),
        serde_json::Value::Null => "none".into(),
        serde_json::Value::Bool(yes) => if *yes { "yes" } else { "no" }.into(),
        other => match other.as_f64() {
            // A mean of readings has more digits than anybody reads.
            Some(number) if other.to_string().len() > 10 => crate::report::fixed(number, crate::report::decimals_for_figures(number, 6)),
            _ => other.to_string(),
        },
    }
}

/// The readings as they were logged.
#[derive(Serialize)]
pub struct Readings {
    rows: Vec<ReadingRow>,
    total: usize,
    /// What is left out of a long log.
    thinned: Option<String>,
    excluded: usize,
    length_unit: &'static str,
    has_repeats: bool,
    has_notes: bool,
    corrected: bool,
    several_settings: bool,
}

#[derive(Serialize)]
struct ReadingRow {
    file: String,
    line: u64,
    setting: u32,
    pass: u32,
    direction: &'static str,
    station: String,
    repeat: Option<u32>,
    read: String,
    diameter: String,
    note: Option<String>,
    excluded: Option<String>,
}

/// The diameters of `analysis`, in the log's order, excluded ones too: all of them, or of a long log those of [`thinned::rows`].
pub fn readings(analysis: &Analysis, pen: Pen) -> Readings {
    let (trial, log) = (&analysis.trial, &analysis.trial.diameters);
    let flagged: BTreeSet<Place> =
        analysis.shape.iter().flat_map(|shape| &shape.points).filter(|point| point.outlier).map(|point| point.place).collect();
    let rows: Vec<ReadingRow> = thinned::rows(log, |row| !flagged.is_empty() && flagged.contains(&log.place(row)))
        .into_iter()
        .filter_map(|row| log.get(row))
        .map(|reading| {
            let gauge = trial.gauge.diameter_gauge(reading.gauge.as_deref());
            let shown = |value: f64, more: usize| pen.diameter(value, gauge.resolution_mm, more, on_page("diameter")).number_text();
            ReadingRow {
                file: trial.inputs.get(reading.place.file).map_or_else(String::new, |input| input.file.clone()),
                line: reading.place.row,
                setting: reading.setting,
                pass: reading.pass,
                direction: words::direction(reading.direction),
                station: pen.length(reading.station_mm, on_page("station")).number_text(),
                repeat: reading.repeat,
                read: shown(reading.read_mm, 0),
                diameter: shown(reading.diameter_mm, 1),
                note: reading.note.as_deref().map(str::to_owned),
                excluded: reading.excluded.as_deref().map(str::to_owned),
            }
        })
        .collect();
    Readings {
        total: log.len(),
        thinned: thinned::of_rows(rows.len(), log.len()),
        excluded: (0..log.len()).filter(|row| !log.is_used(*row)).count(),
        has_repeats: rows.iter().any(|row| row.repeat.is_some()),
        has_notes: rows.iter().any(|row| row.note.is_some()),
        corrected: trial.diameters.is_corrected(),
        several_settings: trial.diameters.settings().len() > 1,
        length_unit: pen.units.length().symbol,
        rows,
    }
}

/// A file that was read.
#[derive(Serialize)]
pub struct Input {
    file: String,
    sha256: String,
    bytes: Value,
    rows: Value,
    used: Value,
    flagged: Value,
    excluded: Value,
}

/// The inputs of `trial`.
pub fn inputs(trial: &Trial, pen: Pen) -> Vec<Input> {
    let count = |value: u64, row: usize, name: &str| pen.with_unit(value as f64, 0, "", in_result(format!("inputs.{row}.{name}"))).cell();
    trial
        .inputs
        .iter()
        .enumerate()
        .map(|(row, input)| Input {
            file: input.file.clone(),
            sha256: input.sha256.clone(),
            bytes: count(input.bytes, row, "bytes"),
            rows: count(input.rows, row, "rows"),
            used: count(input.used, row, "used"),
            flagged: count(input.flagged, row, "flagged"),
            excluded: count(input.excluded, row, "excluded"),
        })
        .collect()
}

/// A finding as the page shows it.
#[derive(Serialize)]
pub struct FindingRow {
    severity: &'static str,
    code: &'static str,
    place: String,
    found: String,
    help: String,
}

/// The findings of `analysis`, in its order.
pub fn findings(analysis: &Analysis, pen: Pen) -> Vec<FindingRow> {
    analysis.findings.iter().map(|each| finding(each, pen)).collect()
}

fn finding(finding: &Finding, pen: Pen) -> FindingRow {
    let parts = [
        finding.file.clone(),
        finding.row.map(|row| format!("line {row}")),
        finding.column.as_ref().map(|column| format!("column {column}")),
    ];
    FindingRow {
        severity: match finding.severity {
            Severity::Note => "note",
            Severity::Warning => "warning",
            Severity::Error => "error",
        },
        code: finding.code,
        place: parts.into_iter().flatten().collect::<Vec<_>>().join(", "),
        found: pen.quoting(&finding.found),
        help: finding.help.clone(),
    }
}
