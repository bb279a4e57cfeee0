//! What is used as it stands, and asked about: a bar that hangs out too far, cuts that nobody is likely to mean.

use super::super::cells::Row;
use super::super::collector::Collector;
use super::super::header::columns::Column;
use super::super::passes::at;
use super::super::settings::{Stated, StatedIn, depth_asked, feed_asked, raise_asked, shown, turns_asked};
use crate::findings::{Finding, Severity};
use crate::trial::{Cut, GOOD_OVERHANG, MOST_OVERHANG, Trial};

/// A bar that stands out of a chuck further than it can be cut without a centre; looked at when nothing of the bar is missing any more.
pub(in crate::ingest) fn overhang(trial: &Trial, collector: &mut Collector) {
    let bar = &trial.bar;
    let Some(diameters) = bar.overhang().filter(|_| bar.hangs_out_too_far()) else { return };
    let tenth = |value: f64| (10.0 * value).round() / 10.0;
    let found = format!(
        "a bar that stands out of the chuck by {} diameters: {} mm of {} mm",
        tenth(diameters),
        tenth(bar.length_mm),
        tenth(bar.diameter_mm)
    );
    let assumed = trial.assumed.iter().any(|assumption| assumption.key == "bar.holding");
    let centre = if assumed { "; if it was between centres, or on one, state holding in [bar]" } else { "" };
    let help = format!(
        "beyond {MOST_OVERHANG} diameters do not cut without a centre, beyond {GOOD_OVERHANG} lightly (common practice, no source): let at most {} mm stand \
         out, take a bar of {} mm or more, or put a centre under its end{centre}",
        (MOST_OVERHANG * bar.diameter_mm).floor(),
        (bar.length_mm / MOST_OVERHANG).ceil()
    );
    let finding = Finding::new("overhang", Severity::Warning, found, help);
    let settings = trial.inputs.iter().find(|input| input.file == "trial.toml");
    collector.add(match settings {
        Some(input) => finding.in_file(input.file.clone()),
        None => finding,
    });
}

/// Depths and feeds of logged passes that nobody is likely to mean; those of the settings were asked about where they stand. `units` are those of the columns
/// of depth and feed by their files.
pub(in crate::ingest) fn cuts(stated: &Stated, units: &[(usize, StatedIn, StatedIn)], collector: &mut Collector) {
    let trial = &stated.trial;
    let diameter = (!stated.diameter_missing).then_some(trial.bar.diameter_mm);
    let unit_of = |row: usize| {
        let file = trial.diameters.place(row).file;
        let unit = units.iter().find(|(one, ..)| *one == file);
        unit.map_or((StatedIn::of(1.0), StatedIn::of(1.0)), |(_, depth, feed)| (*depth, *feed))
    };
    let odd = |is_odd: &dyn Fn(&Cut) -> bool| {
        let number = trial.diameters.cuts().iter().position(is_odd)?;
        (0..trial.diameters.len()).find(|row| trial.diameters.cut_number(*row) as usize == number)
    };
    let mut say = |help: Option<String>, row: usize, column: &str, found: String| {
        if let Some(help) = help {
            let finding = at("unlikely-value", Severity::Warning, trial.diameters.place(row), &trial.inputs, found, &help);
            collector.add(finding.in_column(column));
        }
    };
    let depth = |cut: &Cut, unit| depth_asked(cut.depth_mm.0, diameter, unit).filter(|_| cut.depth_mm.0 != trial.cutting.depth_mm);
    if let Some(row) = odd(&|cut| depth(cut, StatedIn::of(1.0)).is_some()) {
        let (cut, (unit, _)) = (trial.diameters.cut(row), unit_of(row));
        say(depth(cut, unit), row, "depth", format!("a depth of {}", unit.shown(cut.depth_mm.0)));
    }
    let feed = |cut: &Cut, unit| {
        feed_asked(cut.feed_mm_per_rev.0, trial.cutting.rpm, unit).filter(|_| cut.feed_mm_per_rev.0 != trial.cutting.feed_mm_per_rev)
    };
    if let Some(row) = odd(&|cut| feed(cut, StatedIn::of(1.0)).is_some()) {
        let (cut, (_, unit)) = (trial.diameters.cut(row), unit_of(row));
        say(feed(cut, unit), row, "feed", format!("a feed of {} a revolution", unit.shown(cut.feed_mm_per_rev.0)));
    }
}

/// A move of many turns or of millimetres, in the columns that state it.
pub(in crate::ingest) fn moves(row: &mut Row<'_, '_>, raise: Option<(&Column, f64)>, turns: Option<(&Column, f64)>) {
    let raised = raise.and_then(|(column, raise_mm)| {
        let unit = StatedIn::of(column.measure.step());
        Some((column, format!("a raise of {}", unit.shown(raise_mm)), raise_asked(raise_mm, unit)?))
    });
    let turned = turns.and_then(|(column, turns)| Some((column, format!("{} turns in one move", shown(turns)), turns_asked(turns)?)));
    for (column, found, help) in raised.into_iter().chain(turned) {
        let (file, number) = (row.file, row.number);
        let finding = || Finding::new("unlikely-value", Severity::Warning, found, help).in_file(file).at_row(number);
        row.collector.remark(|| finding().in_column(column.header.clone()));
    }
}
