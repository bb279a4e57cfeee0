//! Whether the logs beside the diameters can be used: settings of which no diameter was read, evidence that is refused.

use super::super::collector::Collector;
use super::super::passes::at;
use crate::findings::{Finding, Severity};
use crate::trial::{Foot, Place, Trial};
use std::collections::{BTreeMap, BTreeSet};

/// Looks at levels, indicator, clamp log and moves beside the diameters.
pub(in crate::ingest) fn check(trial: &Trial, collector: &mut Collector) {
    unmeasured(trial, collector);
    moved_settings(trial, collector);
    refused(trial, collector);
}

fn warning(code: &'static str, trial: &Trial, place: Place, found: String, help: &str) -> Finding {
    at(code, Severity::Warning, place, &trial.inputs, found, help)
}

/// Settings that a log names and of which no diameter was read, at the first row of each; nothing where no diameter was read at all.
fn unmeasured(trial: &Trial, collector: &mut Collector) {
    let measured: BTreeSet<u32> = trial.diameters.settings().into_iter().collect();
    if measured.is_empty() {
        return;
    }
    let levels = trial.levels.iter().map(|row| (row.setting, row.place));
    let indicator = trial.indicator.iter().map(|row| (row.setting, row.place));
    let clamp = trial.clamp.iter().map(|row| (row.setting, row.place));
    let mut said = BTreeSet::new();
    for (setting, place) in levels.chain(indicator).chain(clamp).filter(|(setting, _)| !measured.contains(setting)) {
        if said.insert((place.file, setting)) {
            let found = format!("setting {setting}, of which no diameter was read");
            let help = "these rows are not used: mend the setting here or in the log of diameters, or read diameters in it";
            collector.remark(|| warning("setting-not-measured", trial, place, found, help));
        }
    }
}

/// Moves to or from settings of which nothing was measured.
fn moved_settings(trial: &Trial, collector: &mut Collector) {
    let known: BTreeSet<u32> = trial.diameters.settings().into_iter().chain(trial.levels.iter().map(|level| level.setting)).collect();
    for step in &trial.moves {
        for setting in [step.from_setting, step.to_setting].into_iter().filter(|setting| !known.contains(setting)) {
            let found = format!("setting {setting}, of which there is no reading");
            let help = "a move tells most when both settings were measured: mend the number, or measure";
            collector.add(warning("setting-not-measured", trial, step.place, found, help));
        }
    }
}

/// Logs that tell nothing however well they were read: an indicator along a bar turned in this chucking, a clamp log without all four feet.
fn refused(trial: &Trial, collector: &mut Collector) {
    if let (Some(first), true) = (trial.indicator.first(), trial.testbar.as_ref().is_some_and(|bar| bar.turned_here)) {
        let found = "the indicator ran along a bar turned in this chucking: its rows are no evidence".to_owned();
        let help = "run the indicator along a ground test bar; such a bar reads constant whatever is wrong with the lathe";
        collector.add(warning("evidence-refused", trial, first.place, found, help));
    }
    let mut feet: BTreeMap<u32, (Place, BTreeSet<Foot>)> = BTreeMap::new();
    for row in &trial.clamp {
        feet.entry(row.setting).or_insert_with(|| (row.place, BTreeSet::new())).1.insert(row.foot);
    }
    for (setting, (place, feet)) in feet.into_iter().filter(|(_, (_, feet))| feet.len() < Foot::ALL.len()) {
        let found = format!("a clamp log of {} of the four feet in setting {setting}: its rows are no evidence", feet.len());
        let help = "the twist is the sum of what all four feet add: tighten and read each in turn, from free";
        collector.add(warning("evidence-refused", trial, place, found, help));
    }
}
