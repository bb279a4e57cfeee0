//! What is used as it stands, and asked about: a bar that hangs out too far, cuts that nobody is likely to mean.

use super::collector::Collector;
use super::passes::at;
use super::settings::{Stated, depth_asked, feed_asked};
use crate::findings::{Finding, Severity};
use crate::trial::{Cut, GOOD_OVERHANG, MOST_OVERHANG, Trial};

/// A bar that stands out of a chuck further than it can be cut without a centre; looked at when nothing of the bar is missing any more.
pub(super) fn overhang(trial: &Trial, collector: &mut Collector) {
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

/// Depths and feeds of logged passes that nobody is likely to mean; those of the settings were asked about where they stand.
pub(super) fn cuts(stated: &Stated, collector: &mut Collector) {
    let trial = &stated.trial;
    let diameter = (!stated.diameter_missing).then_some(trial.bar.diameter_mm);
    let depth = |cut: &Cut| depth_asked(cut.depth_mm.0, diameter).filter(|_| cut.depth_mm.0 != trial.cutting.depth_mm);
    let feed =
        |cut: &Cut| feed_asked(cut.feed_mm_per_rev.0, trial.cutting.rpm).filter(|_| cut.feed_mm_per_rev.0 != trial.cutting.feed_mm_per_rev);
    let mut say = |help: Option<String>, number: usize, column: &str, found: String| {
        let row = (0..trial.diameters.len()).find(|row| trial.diameters.cut_number(*row) as usize == number);
        if let (Some(help), Some(row)) = (help, row) {
            let finding = at("unlikely-value", Severity::Warning, trial.diameters.place(row), &trial.inputs, found, &help);
            collector.add(finding.in_column(column));
        }
    };
    let list = trial.diameters.cuts();
    if let Some((number, cut)) = list.iter().enumerate().find(|(_, cut)| depth(cut).is_some()) {
        say(depth(cut), number, "depth", format!("a depth of {} mm", cut.depth_mm.0));
    }
    if let Some((number, cut)) = list.iter().enumerate().find(|(_, cut)| feed(cut).is_some()) {
        say(feed(cut), number, "feed", format!("a feed of {} mm a revolution", cut.feed_mm_per_rev.0));
    }
}
