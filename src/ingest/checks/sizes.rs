//! Sizes that no turned bar has: swapped columns, diameters in another unit, a tested length of nothing, diameters that spread too far.

use super::super::collector::Collector;
use super::super::header::diameter_column::length_of;
use super::super::header::{HeaderCell, Measure};
use super::super::passes::at;
use super::slips::ALIKE;
use crate::findings::Severity;
use crate::quantities::MM_PER_INCH;
use crate::trial::{Place, Trial};

/// Smallest and largest diameter that is taken for one, mm.
pub(in crate::ingest) const DIAMETERS_MM: std::ops::RangeInclusive<f64> = 0.1..=10_000.0;
/// Smallest tested length, of the diameter.
const SHORTEST: f64 = 0.05;
/// Largest spread of the diameters of one pass, of the largest.
const WIDEST: f64 = 0.1;

/// Rows of the readings that are used.
pub(in crate::ingest) fn used_rows(trial: &Trial) -> impl Iterator<Item = usize> + '_ {
    (0..trial.diameters.len()).filter(|row| trial.diameters.is_used(*row))
}

/// Least and largest station and diameter of a pass, and how many readings it has.
#[derive(Clone, Copy)]
pub(in crate::ingest) struct PassSizes {
    readings: usize,
    stations: (f64, f64),
    diameters: (f64, f64),
    /// Its first row.
    first: usize,
}

/// The sizes of every cut that is used, diameters outside `within` left out.
pub(in crate::ingest) fn by_pass(trial: &Trial, within: impl Fn(f64) -> bool) -> Vec<PassSizes> {
    let log = &trial.diameters;
    let nothing = (f64::INFINITY, f64::NEG_INFINITY);
    let mut passes = vec![PassSizes { readings: 0, stations: nothing, diameters: nothing, first: 0 }; log.cuts().len()];
    let widen = |(low, high): (f64, f64), value: f64| (low.min(value), high.max(value));
    for row in (0..log.len()).filter(|row| log.is_used(*row)) {
        let (Some(read_mm), Some(pass)) = (log.read_mm().get(row), passes.get_mut(log.cut_number(row) as usize)) else { continue };
        if within(*read_mm) {
            if pass.readings == 0 {
                pass.first = row;
            }
            pass.readings += 1;
            pass.stations = widen(pass.stations, log.station_mm(row));
            pass.diameters = widen(pass.diameters, *read_mm);
        }
    }
    passes.retain(|pass| pass.readings > 0);
    passes
}

/// Whether in every pass the diameters spread over more than a tenth of the largest at stations within a hundredth of one another: no turned
/// bar does, and exchanged columns do. Where every pass is one reading all readings are looked at together.
pub(in crate::ingest) fn swapped(passes: &[PassSizes]) -> bool {
    let looks_so = |pass: &PassSizes| {
        let ((near, far), (small, large)) = (pass.stations, pass.diameters);
        near > 0.0 && far - near < 0.01 * far && large - small > WIDEST * large
    };
    let mut several = passes.iter().filter(|pass| pass.readings > 1).peekable();
    if several.peek().is_some() {
        return several.all(looks_so);
    }
    let together = |all: PassSizes, one: &PassSizes| {
        let join = |(low, high): (f64, f64), (least, most): (f64, f64)| (low.min(least), high.max(most));
        let (stations, diameters) = (join(all.stations, one.stations), join(all.diameters, one.diameters));
        PassSizes { readings: all.readings + one.readings, stations, diameters, ..all }
    };
    passes.split_first().is_some_and(|(first, others)| looks_so(&others.iter().fold(*first, together)))
}

/// An error where no bar is that thin or thick. `headers` are those of the columns of diameters by their files.
pub(in crate::ingest) fn absurd(median: f64, first: Place, trial: &Trial, headers: &[(usize, String)], collector: &mut Collector) {
    if DIAMETERS_MM.contains(&median) {
        return;
    }
    let header = headers.iter().find(|(file, _)| *file == first.file).map_or("diameter", |(_, header)| header.as_str());
    let (what, unit) = if median < 1.0 { ("thinner than 0.1 mm", "mm or in") } else { ("thicker than 10 m", "µm, thou or mm") };
    let found = format!("`{header}` with diameters near {} mm: {what}", (median * 1e6).round() / 1e6);
    let help = format!(
        "are they in {unit} rather than in the unit of the header? Write there the one that was read; or a thousands separator was taken for a \
         decimal mark: write the digits without it"
    );
    collector.add(at("absurd-size", Severity::Error, first, &trial.inputs, found, &help).in_column(header));
}

/// Diameters in inches, in mm, that are asked about: a bar that thick, and one that thick and that far out; and diameters in millimetres below which they may be
/// inches. What manual lathes turn lies between them (common practice, no source).
const THICK_MM: f64 = 600.0;
const THICK_AND_FAR_MM: (f64, f64) = (300.0, 2000.0);
const THIN_MM: f64 = 3.0;
/// What bars usually measure, mm.
const USUAL_MM: std::ops::Range<f64> = 5.0..150.0;
/// Stations that end here, mm, within so many diameters of one another may be inches.
const NEAR_MM: f64 = 12.0;
const NEAR: f64 = 0.3;

/// Warnings where a whole column looks as if it were in inches and headed in millimetres, or the other way round.
pub(in crate::ingest) fn units(median: f64, first: Place, trial: &Trial, headers: &[(usize, String)], collector: &mut Collector) {
    let header = headers.iter().find(|(file, _)| *file == first.file).map(|(_, header)| header.as_str());
    let factor = header.and_then(|header| length_of(&HeaderCell::parse(header))).map(Measure::step);
    let stations = || used_rows(trial).map(|row| trial.diameters.station_mm(row));
    let (near, far) = (stations().fold(f64::INFINITY, f64::min), stations().fold(f64::NEG_INFINITY, f64::max));
    let header = header.unwrap_or("diameter");
    let mut ask = |column: &str, found: String, help: String| {
        collector.add(at("unlikely-value", Severity::Warning, first, &trial.inputs, found, &help).in_column(column));
    };
    let rounded = |value: f64| (value * 1000.0).round() / 1000.0;
    let thick = median > THICK_MM || median > THICK_AND_FAR_MM.0 && far > THICK_AND_FAR_MM.1;
    if factor == Some(MM_PER_INCH) && thick && USUAL_MM.contains(&(median / MM_PER_INCH)) {
        let inches = rounded(median / MM_PER_INCH);
        let found = format!("`{header}` with diameters near {inches} in: a bar of {} mm", rounded(median));
        ask(header, found, format!("if they are millimetres, near {inches} mm, write mm in the header; if the bar is that thick leave it"));
    }
    if factor == Some(1.0) && median < THIN_MM && USUAL_MM.contains(&(median * MM_PER_INCH)) {
        let found = format!("`{header}` with diameters near {} mm: a bar as thin as wire", rounded(median));
        let inches = format!("{} in, which is {} mm", rounded(median), rounded(median * MM_PER_INCH));
        ask(header, found, format!("if they are inches, near {inches}, write in in the header; if the bar is that thin leave it"));
    } else if far > near && far <= NEAR_MM && far - near < NEAR * median && far - near >= SHORTEST * median {
        let found = format!("stations from {} to {} mm on a bar of {} mm", rounded(near), rounded(far), rounded(median));
        let inches = format!("from {} to {} mm", rounded(near * MM_PER_INCH), rounded(far * MM_PER_INCH));
        ask("station", found, format!("if they are inches, {inches}, write station_in; if so short a length was measured leave it"));
    }
}

/// Warnings where stations lie nearer together, or diameters of one pass further apart, than those of a turned bar.
pub(in crate::ingest) fn unlikely(median: f64, first: Place, trial: &Trial, collector: &mut Collector) {
    // what looks like a slip is said elsewhere
    let passes = by_pass(trial, |read_mm| ALIKE.contains(&(read_mm / median)));
    let near = passes.iter().map(|pass| pass.stations.0).fold(f64::INFINITY, f64::min);
    let far = passes.iter().map(|pass| pass.stations.1).fold(f64::NEG_INFINITY, f64::max);
    if far > near && far - near < SHORTEST * median {
        let found = format!("stations from {near} to {far} mm on a bar of {median} mm: hardly any length");
        let help = "perhaps their unit is another, a thousands separator was taken for a decimal mark, or the columns are swapped";
        collector.add(at("short-length", Severity::Warning, first, &trial.inputs, found, help).in_column("station"));
    }
    if let Some(pass) = passes.iter().find(|pass| pass.diameters.1 - pass.diameters.0 > WIDEST * pass.diameters.1) {
        let (place, cut) = (trial.diameters.place(pass.first), trial.diameters.cut(pass.first));
        let found =
            format!("diameters from {} to {} mm in pass {} of setting {}", pass.diameters.0, pass.diameters.1, cut.pass, cut.setting);
        let help = "no lathe turns such a taper in one pass: perhaps a slip in a digit, a second bar, or swapped columns";
        collector.add(at("diameters-far-apart", Severity::Warning, place, &trial.inputs, found, help).in_column("diameter"));
    }
}
