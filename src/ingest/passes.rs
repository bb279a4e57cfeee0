//! A pass is one cut along the bar: what its rows state about it must agree, and fills the gaps of its other rows.

use super::collector::Collector;
use super::diameter_rows::DiameterRows;
use crate::findings::{Finding, Severity};
use crate::trial::{Bits, Cut, Diameters, Direction, InputFile, Place, Trial};
use serde_json::json;
use std::collections::BTreeMap;
use std::sync::Arc;

/// What a row states about the cut of its pass.
#[derive(Debug, Clone, Default, PartialEq, Eq, Hash)]
pub(super) struct StatedCut {
    pub(super) direction: Option<Direction>,
    pub(super) depth_mm: Option<Bits>,
    pub(super) feed_mm_per_rev: Option<Bits>,
    pub(super) edge: Option<Arc<str>>,
    pub(super) tool_shift_mm: Option<Bits>,
}

/// What a row states about its pass; all rows that state the same share it.
#[derive(Debug, Clone, PartialEq, Eq, Hash)]
pub(super) struct Stated {
    /// Index of the file.
    pub(super) file: u32,
    pub(super) setting: u32,
    pub(super) pass: u32,
    pub(super) cut: StatedCut,
}

impl Default for Stated {
    /// What no row states: there is no such file.
    fn default() -> Self {
        Self { file: u32::MAX, setting: 0, pass: 0, cut: StatedCut::default() }
    }
}

/// A pass by setting and number.
type PassName = (u32, u32);

/// The different things that rows state, in the order in which they first came, and where.
struct Statements<'r> {
    list: Vec<Stated>,
    rows: &'r DiameterRows,
}

impl Statements<'_> {
    fn name(&self, index: usize) -> PassName {
        self.list.get(index).map_or((0, 0), |stated| (stated.setting, stated.pass))
    }

    /// Rows that state one of those marked, with its number.
    fn rows_of<'m>(&'m self, marked: &'m [bool]) -> impl Iterator<Item = (usize, usize)> + 'm {
        let any = marked.iter().any(|marked| *marked);
        let rows = if any { self.rows.readings.len() } else { 0 };
        let stated = |row| self.rows.stated.number_of(row) as usize;
        (0..rows).map(move |row| (row, stated(row))).filter(|(_, index)| marked.get(*index).copied().unwrap_or(false))
    }

    /// Where the first of its rows stands.
    fn first(&self, index: usize) -> Place {
        let row = (0..self.rows.readings.len()).find(|row| self.rows.stated.number_of(*row) as usize == index);
        self.rows.readings.place(row.unwrap_or(0))
    }

    /// Indices of what rows state; the first of the list is nothing that a row states.
    fn indices(&self) -> std::ops::Range<usize> {
        1..self.list.len()
    }
}

/// Settles direction, depth, feed, edge and shift of every reading; returns the readings.
///
/// A pass number that is used for both directions names two cuts: the second gets a number of its own, and a warning says so. Rows that state the same
/// are settled together, so that the work does not grow with the log.
pub(super) fn settle(rows: &mut DiameterRows, trial: &mut Trial, collector: &mut Collector) -> Diameters {
    let mut stated = Statements { list: rows.stated.values().to_vec(), rows };
    one_file_each(&stated, &trial.inputs, collector);
    left_blank(&stated, &trial.inputs, collector);
    split_directions(&mut stated, &trial.inputs, collector);
    let mut passes: BTreeMap<PassName, StatedCut> = BTreeMap::new();
    let mut clashes: Vec<Vec<&'static str>> = vec![Vec::new(); stated.list.len()];
    for index in stated.indices() {
        let Some(one) = stated.list.get(index) else { continue };
        let known = passes.entry(stated.name(index)).or_insert_with(|| one.cut.clone());
        let found = merge(known, &one.cut).into_iter().filter(|(_, clash)| *clash).map(|(what, _)| what);
        if let Some(slot) = clashes.get_mut(index) {
            slot.extend(found);
        }
    }
    let marked: Vec<bool> = clashes.iter().map(|clash| !clash.is_empty()).collect();
    for (row, index) in stated.rows_of(&marked) {
        for what in clashes.get(index).into_iter().flatten() {
            let name = stated.name(index);
            let found = || format!("another {what} than above in pass {} of setting {}", name.1, name.0);
            let help = "a pass is one cut with the cross slide left alone: give each cut a number of its own";
            collector.error(|| at("pass-not-one-cut", Severity::Error, stated.rows.readings.place(row), &trial.inputs, found(), help));
        }
    }
    let names: Vec<PassName> = (0..stated.list.len()).map(|index| stated.name(index)).collect();
    assume(&passes, trial);
    let cut_of = |index: u32, _: &Stated| {
        let name = names.get(index as usize).copied().unwrap_or((0, 1));
        let pass = passes.get(&name).filter(|_| index > 0);
        Cut {
            setting: name.0,
            pass: if index > 0 { name.1 } else { 1 },
            direction: pass.and_then(|pass| pass.direction).unwrap_or(Direction::ToHeadstock),
            depth_mm: pass.map_or(Bits(0.0), |pass| pass.depth_mm.unwrap_or(Bits(trial.cutting.depth_mm))),
            feed_mm_per_rev: pass.map_or(Bits(0.0), |pass| pass.feed_mm_per_rev.unwrap_or(Bits(trial.cutting.feed_mm_per_rev))),
            edge: pass.and_then(|pass| pass.edge.clone()),
            tool_shift_mm: pass.and_then(|pass| pass.tool_shift_mm).unwrap_or(Bits(0.0)),
        }
    };
    let cuts = std::mem::take(&mut rows.stated).map(cut_of);
    let mut readings = std::mem::take(&mut rows.readings);
    readings.set_cuts(cuts);
    readings
}

/// A pass is logged in one file: the same number in another is another cut, or the same readings twice.
fn one_file_each(stated: &Statements<'_>, inputs: &[InputFile], collector: &mut Collector) {
    let mut files: BTreeMap<PassName, (u32, bool)> = BTreeMap::new();
    for index in stated.indices() {
        let (Some(one), name) = (stated.list.get(index), stated.name(index)) else { continue };
        let (file, said) = files.entry(name).or_insert((one.file, false));
        if *file != one.file && !std::mem::replace(said, true) {
            let found = format!("pass {} of setting {} is in {} too", name.1, name.0, file_name(inputs, *file as usize));
            let help = "give each pass a number of its own, or keep it in one file";
            collector.add(at("pass-in-two-files", Severity::Error, stated.first(index), inputs, found, help));
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

/// Warns of a pass without a direction behind one of which some rows alone state that it was cut to the tailstock: a cell that a spreadsheet program spread
/// over both has its text in its first row.
fn left_blank(stated: &Statements<'_>, inputs: &[InputFile], collector: &mut Collector) {
    // whether a pass has rows that state none, the last direction that it states, and its first statement
    let mut passes: BTreeMap<PassName, (bool, Option<Direction>, usize)> = BTreeMap::new();
    for (index, one) in stated.indices().filter_map(|index| Some((index, stated.list.get(index)?))) {
        let pass = passes.entry((one.setting, one.pass)).or_insert((false, None, index));
        pass.0 |= one.cut.direction.is_none();
        pass.1 = one.cut.direction.or(pass.1);
    }
    for ((name, (has_blank, direction, _)), (next, (_, none, index))) in passes.iter().zip(passes.iter().skip(1)) {
        if *has_blank && *direction == Some(Direction::ToTailstock) && none.is_none() && name.0 == next.0 {
            let found =
                format!("no direction in pass {} of setting {}, and one in some rows alone of pass {} before it", next.1, next.0, name.1);
            let help = "it counts as cut to the headstock: an empty cell does not take the text of the row above; write the direction in every row";
            collector.add(at("direction-left-blank", Severity::Warning, stated.first(*index), inputs, found, help).in_column("direction"));
        }
    }
}

fn split_directions(stated: &mut Statements<'_>, inputs: &[InputFile], collector: &mut Collector) {
    let mut first: BTreeMap<PassName, Direction> = BTreeMap::new();
    let mut highest: BTreeMap<u32, u32> = BTreeMap::new();
    for one in stated.list.iter().skip(1) {
        let top = highest.entry(one.setting).or_insert(one.pass);
        *top = (*top).max(one.pass);
        if let Some(direction) = one.cut.direction {
            first.entry((one.setting, one.pass)).or_insert(direction);
        }
    }
    let mut renamed: BTreeMap<PassName, u32> = BTreeMap::new();
    for index in stated.indices() {
        let name = stated.name(index);
        let Some(direction) = stated.list.get(index).and_then(|one| one.cut.direction) else { continue };
        if first.get(&name) == Some(&direction) {
            continue;
        }
        let place = stated.first(index);
        let new = *renamed.entry(name).or_insert_with(|| {
            let top = highest.entry(name.0).or_insert(name.1);
            *top = top.saturating_add(1);
            let found =
                format!("pass {} of setting {} is cut in both directions; what is cut the other way becomes pass {top}", name.1, name.0);
            let help = "a return stroke is a pass of its own: number it";
            collector.add(at("pass-in-both-directions", Severity::Warning, place, inputs, found, help));
            *top
        });
        if let Some(one) = stated.list.get_mut(index) {
            one.pass = new;
        }
    }
    // a row that states no direction in a pass cut both ways could belong to either
    let marked: Vec<bool> =
        stated.list.iter().map(|one| one.cut.direction.is_none() && renamed.contains_key(&(one.setting, one.pass))).collect();
    for (row, index) in stated.rows_of(&marked) {
        let name = stated.name(index);
        let found = || format!("no direction in pass {} of setting {}, which is cut both ways", name.1, name.0);
        let help = "state the direction of every row";
        collector.error(|| at("pass-not-one-cut", Severity::Error, stated.rows.readings.place(row), inputs, found(), help));
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
pub(super) fn at(code: &'static str, severity: Severity, place: Place, inputs: &[InputFile], found: String, help: &str) -> Finding {
    Finding::new(code, severity, found, help).in_file(file_name(inputs, place.file)).at_row(place.row)
}
