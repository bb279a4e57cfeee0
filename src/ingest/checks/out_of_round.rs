//! Readings of one pass at one station that no bar turned in one cut has: one of them is of another cut, or a slip.

use super::super::collector::Collector;
use super::super::passes::at;
use super::super::settings::{Stated, shown};
use super::restarts::{OUT_OF_ROUND_MM, ROUNDING_MM, how};
use super::sizes::used_rows;
use super::slips::ALIKE;
use crate::findings::Severity;
use std::collections::{BTreeMap, BTreeSet};

/// Longest log that is looked through: longer ones are written by machines, which number their passes.
const SEARCHED: usize = 100_000;
/// Fewest stations of a pass with such readings that make it another cut and no slip.
const STATIONS: usize = 2;

/// The readings of one pass at one station: how many, and the rows of the least and the largest diameter.
#[derive(Debug, Clone, Copy)]
struct AtStation {
    readings: usize,
    least: usize,
    largest: usize,
}

/// For each pass that is not in `told`, a warning where readings at one station lie more than [`OUT_OF_ROUND_MM`] and `least_mm` apart at 20 °C, whatever they
/// state of angle, repeat, gauge and operator; an error in a file that numbers no passes, `unnumbered`, where that is so at most stations that were read twice,
/// two or more, by readings that state nothing that tells them apart: then they are of several cuts. `median` is that of the diameters, mm; slips of a digit are told elsewhere.
pub(in crate::ingest) fn check(
    stated: &Stated,
    median: f64,
    least_mm: f64,
    told: &BTreeSet<u32>,
    unnumbered: &BTreeSet<usize>,
    collector: &mut Collector,
) {
    let trial = &stated.trial;
    let log = &trial.diameters;
    if log.len() > SEARCHED {
        return;
    }
    let mut passes: BTreeMap<u32, BTreeMap<u32, AtStation>> = BTreeMap::new();
    for row in used_rows(trial).filter(|row| ALIKE.contains(&(log.diameter_mm(*row) / median)) && !told.contains(&log.cut_number(*row))) {
        let stations = passes.entry(log.cut_number(row)).or_default();
        let here = stations.entry(log.station_number(row)).or_insert(AtStation { readings: 0, least: row, largest: row });
        here.readings += 1;
        if log.diameter_mm(row) < log.diameter_mm(here.least) {
            here.least = row;
        }
        if log.diameter_mm(row) > log.diameter_mm(here.largest) {
            here.largest = row;
        }
    }
    let limit_mm = least_mm.max(OUT_OF_ROUND_MM + ROUNDING_MM);
    let spread_mm = |here: &AtStation| log.diameter_mm(here.largest) - log.diameter_mm(here.least);
    for stations in passes.values() {
        let again: Vec<&AtStation> = stations.values().filter(|here| here.readings > 1).collect();
        let apart: Vec<&AtStation> = again.iter().copied().filter(|here| spread_mm(here) > limit_mm).collect();
        let Some(worst) =
            apart.iter().copied().reduce(|one, other| if spread_mm(other) > spread_mm(one) + ROUNDING_MM { other } else { one })
        else {
            continue;
        };
        let alike = apart.iter().filter(|here| how(log, here.least) == how(log, here.largest)).count();
        let (first, second) = (worst.least.min(worst.largest), worst.least.max(worst.largest));
        let refused = alike >= STATIONS && 2 * alike > again.len() && unnumbered.contains(&log.place(second).file);
        let severity = if refused { Severity::Error } else { Severity::Warning };
        let cut = log.cut(second);
        let so = if again.len() > 1 {
            format!("; of {} stations that were read more than once {} are so", again.len(), apart.len())
        } else {
            String::new()
        };
        let found = format!(
            "a diameter {} mm off that of row {}, in the same pass {} of setting {} at the same station {} mm{so}",
            shown(spread_mm(worst)),
            log.place(first).row,
            cut.pass,
            cut.setting,
            shown(log.station_mm(second))
        );
        let help = format!(
            "no bar turned in one cut is out of round by more than {OUT_OF_ROUND_MM} mm (common practice, no source): if one is of another cut number the \
             passes in a column pass, if it is a slip mend it or exclude it with a reason"
        );
        collector.add(at("readings-apart", severity, log.place(second), &trial.inputs, found, &help).in_column("diameter"));
    }
}
