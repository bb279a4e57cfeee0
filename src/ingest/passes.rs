//! A pass is one cut along the bar: what its rows state about it must agree, and fills the gaps of its other rows.

use super::collector::Collector;
use super::diameters::DiameterRows;
use crate::findings::{Finding, Severity};
use crate::trial::{DiameterReading, Direction, InputFile, Trial};
use serde_json::json;
use std::collections::BTreeMap;
use std::sync::Arc;

/// What a row states about the cut of its pass.
#[derive(Debug, Clone, Default, PartialEq)]
pub(super) struct StatedCut {
    pub(super) direction: Option<Direction>,
    pub(super) depth_mm: Option<f64>,
    pub(super) feed_mm_per_rev: Option<f64>,
    pub(super) edge: Option<Arc<str>>,
    pub(super) tool_shift_mm: Option<f64>,
}

/// A pass by setting and number.
type PassName = (u32, u32);

/// Settles direction, depth, feed, edge and shift of every reading; returns the readings.
///
/// A pass number that is used for both directions names two cuts: the second gets a number of its own, and a warning says so.
pub(super) fn settle(rows: &mut DiameterRows, trial: &mut Trial, collector: &mut Collector) -> Vec<DiameterReading> {
    one_file_each(rows, &trial.inputs, collector);
    split_directions(rows, &trial.inputs, collector);
    let mut passes: BTreeMap<PassName, StatedCut> = BTreeMap::new();
    for (reading, cut) in rows.readings.iter().zip(&rows.cuts) {
        let name = (reading.setting, reading.pass);
        let known = passes.entry(name).or_insert_with(|| cut.clone());
        for (what, clash) in merge(known, cut) {
            if clash {
                let found = format!("another {what} than above in pass {} of setting {}", name.1, name.0);
                let help = "a pass is one cut with the cross slide left alone: give each cut a number of its own";
                collector.error(|| at("pass-not-one-cut", Severity::Error, reading, &trial.inputs, found, help));
            }
        }
    }
    assume(&passes, trial);
    let mut readings = std::mem::take(&mut rows.readings);
    for reading in &mut readings {
        let Some(pass) = passes.get(&(reading.setting, reading.pass)) else { continue };
        reading.direction = pass.direction.unwrap_or(Direction::ToHeadstock);
        reading.depth_mm = pass.depth_mm.unwrap_or(trial.cutting.depth_mm);
        reading.feed_mm_per_rev = pass.feed_mm_per_rev.unwrap_or(trial.cutting.feed_mm_per_rev);
        reading.edge.clone_from(&pass.edge);
        reading.tool_shift_mm = pass.tool_shift_mm.unwrap_or(0.0);
    }
    readings
}

/// A pass is logged in one file: the same number in another is another cut, or the same readings twice.
fn one_file_each(rows: &DiameterRows, inputs: &[InputFile], collector: &mut Collector) {
    let mut files: BTreeMap<PassName, (usize, bool)> = BTreeMap::new();
    for reading in &rows.readings {
        let name = (reading.setting, reading.pass);
        let (file, said) = files.entry(name).or_insert((reading.place.file, false));
        if *file != reading.place.file && !std::mem::replace(said, true) {
            let found = format!("pass {} of setting {} is in {} too", name.1, name.0, file_name(inputs, *file));
            let help = "give each pass a number of its own, or keep it in one file";
            collector.add(at("pass-in-two-files", Severity::Error, reading, inputs, found, help));
        }
    }
}

/// Fills the gaps of `known` from `stated`; names what disagrees.
fn merge(known: &mut StatedCut, stated: &StatedCut) -> [(&'static str, bool); 4] {
    fn fill<T: Clone + PartialEq>(known: &mut Option<T>, stated: &Option<T>) -> bool {
        match (known.as_ref(), stated) {
            (Some(known), Some(stated)) => known != stated,
            (None, Some(stated)) => {
                *known = Some(stated.clone());
                false
            }
            _ => false,
        }
    }
    fill(&mut known.direction, &stated.direction);
    [
        ("depth", fill(&mut known.depth_mm, &stated.depth_mm)),
        ("feed", fill(&mut known.feed_mm_per_rev, &stated.feed_mm_per_rev)),
        ("edge", fill(&mut known.edge, &stated.edge)),
        ("tool shift", fill(&mut known.tool_shift_mm, &stated.tool_shift_mm)),
    ]
}

fn split_directions(rows: &mut DiameterRows, inputs: &[InputFile], collector: &mut Collector) {
    let mut first: BTreeMap<PassName, Direction> = BTreeMap::new();
    let mut highest: BTreeMap<u32, u32> = BTreeMap::new();
    for (reading, cut) in rows.readings.iter().zip(&rows.cuts) {
        let top = highest.entry(reading.setting).or_insert(reading.pass);
        *top = (*top).max(reading.pass);
        if let Some(direction) = cut.direction {
            first.entry((reading.setting, reading.pass)).or_insert(direction);
        }
    }
    let mut renamed: BTreeMap<PassName, u32> = BTreeMap::new();
    for (reading, cut) in rows.readings.iter_mut().zip(&rows.cuts) {
        let name = (reading.setting, reading.pass);
        let Some(direction) = cut.direction else { continue };
        if first.get(&name) == Some(&direction) {
            continue;
        }
        let new = *renamed.entry(name).or_insert_with(|| {
            let top = highest.entry(name.0).or_insert(name.1);
            *top = top.saturating_add(1);
            let found =
                format!("pass {} of setting {} is cut in both directions; what is cut the other way becomes pass {top}", name.1, name.0);
            let help = "a return stroke is a pass of its own: number it";
            collector.add(at("pass-in-both-directions", Severity::Warning, reading, inputs, found, help));
            *top
        });
        reading.pass = new;
    }
    // a row that states no direction in a pass cut both ways could belong to either
    for (reading, cut) in rows.readings.iter().zip(&rows.cuts) {
        if cut.direction.is_none() && renamed.contains_key(&(reading.setting, reading.pass)) {
            let found = format!("no direction in pass {} of setting {}, which is cut both ways", reading.pass, reading.setting);
            collector.error(|| at("pass-not-one-cut", Severity::Error, reading, inputs, found, "state the direction of every row"));
        }
    }
}

fn assume(passes: &BTreeMap<PassName, StatedCut>, trial: &mut Trial) {
    if passes.values().any(|pass| pass.direction.is_none()) {
        let why = "the log does not say; the usual way".to_owned();
        trial.assumed.push(crate::trial::Assumption { key: "diameters.direction".to_owned(), value: json!("to-headstock"), why });
    }
    // a log that states depth and feed of every pass leaves nothing to assume
    let stated = |get: fn(&StatedCut) -> bool| !passes.is_empty() && passes.values().all(get);
    let (depth, feed) = (stated(|cut| cut.depth_mm.is_some()), stated(|cut| cut.feed_mm_per_rev.is_some()));
    trial
        .assumed
        .retain(|assumption| !(depth && assumption.key == "cutting.depth_mm" || feed && assumption.key == "cutting.feed_mm_per_rev"));
}

/// The name of an input.
pub(super) fn file_name(inputs: &[InputFile], index: usize) -> String {
    inputs.get(index).map_or_else(String::new, |input| input.file.clone())
}

/// A finding at a reading.
pub(super) fn at(
    code: &'static str,
    severity: Severity,
    reading: &DiameterReading,
    inputs: &[InputFile],
    found: String,
    help: &str,
) -> Finding {
    Finding::new(code, severity, found, help).in_file(file_name(inputs, reading.place.file)).at_row(reading.place.row)
}
