//! The sentences of the history.

use crate::causes::CauseKind;
use crate::history::{Change, Cutover, DecisionChange, Machine, StateOf, Verdict, Visit};
use crate::quantities::Interval;
use crate::report::prose::Prose;
use crate::report::quantity::{Pen, in_result};
use crate::report::sections::limits;
use crate::report::words;
use crate::trial::Holding;

/// The machine's name for a heading.
pub fn title(machine: &Machine) -> String {
    let name = machine.name.as_deref().unwrap_or("Machine not named");
    let serial = machine.serial.as_ref().map_or_else(String::new, |serial| format!(", serial number {serial}"));
    let held = match machine.holding {
        Holding::Chuck => "bar held in the chuck",
        Holding::Centres => "bar between centres",
        Holding::ChuckAndCentre => "bar in chuck and centre",
    };
    format!("{name}{serial}, {held}")
}

/// What a column or row calls a quantity.
pub fn quantity(name: &str) -> String {
    let cause = CauseKind::ALL.into_iter().find(|cause| cause.name() == name);
    words::sentence_case(cause.map_or(name, |cause| words::cause_name(cause)))
}

/// When a change happened and what it was, in a few words.
pub fn occasion(machine: &Machine, change: &Change) -> String {
    let date = |place: usize| machine.visits.get(place).map_or("", |visit| visit.date.as_str());
    match change.kind {
        Cutover::Repair => format!("repair between {} and {}", date(change.before), date(change.after)),
        Cutover::Moves => format!("feet moved, {}", date(change.after)),
    }
}

/// How the machine was left last.
pub fn lead(machine: &Machine, place: usize, pen: Pen) -> Prose {
    let Some((row, visit)) = machine.visits.iter().enumerate().next_back() else { return Prose::new("No trial.") };
    let taper = &visit.left.taper;
    let half = taper.interval95.half_width();
    let key = |name: &str| in_result(format!("machines.{place}.visits.{row}.left.taper.{name}"));
    let length = pen.length(machine.length_mm, in_result(format!("machines.{place}.length_mm")));
    let begin = Prose::new(format!("Last seen on {}: ", visit.date));
    let said = if taper.interval95.contains(0.0) {
        begin.strong("no taper shows").text(" over ").number(length)
    } else {
        begin
            .text("the bar is ")
            .number(pen.size(taper.value, half, key("value")))
            .strong(format!(" {}", words::larger_end(taper.value)))
            .text(" over ")
            .number(length)
    };
    said.text(" (95 % interval ")
        .number(pen.end(taper.interval95.low, taper.interval95, key("interval95.0")))
        .text(" to ")
        .number(pen.end(taper.interval95.high, taper.interval95, key("interval95.1")))
        .text(").")
}

/// What a stretch shows; `None` for one that has a single point and is not the last.
pub fn stretch(machine: &Machine, place: usize, row: usize, pen: Pen) -> Option<Prose> {
    let stretch = machine.stretches.get(row)?;
    let visit_of = |point: Option<&crate::history::StretchPoint>| point.and_then(|point| machine.visits.get(point.visit));
    let (first, last): (&Visit, &Visit) = (visit_of(stretch.points.first())?, visit_of(stretch.points.last())?);
    let is_last = row + 1 == machine.stretches.len();
    let count = words::counted(stretch.points.len(), "trial", "trials");
    let outside = stretch.points.iter().zip(&stretch.ewma).find(|(_, value)| value.outside);
    let outside = outside.and_then(|(point, _)| machine.visits.get(point.visit)).map_or("", |visit| visit.date.as_str());
    let Some(drift) = &stretch.drift else {
        let lasted = if first.date == last.date { format!("on {}", first.date) } else { format!("from {} to {}", first.date, last.date) };
        return match stretch.verdict {
            Verdict::Unsteady => Some(
                Prose::new(format!("The {count} {lasted} lie too close in time to speak of a drift, but "))
                    .strong(format!("the moving average of {outside} lies outside its limits"))
                    .text(": something stepped or swung."),
            ),
            _ if !is_last => None,
            _ if stretch.points.len() > 1 => Some(Prose::new(format!(
                "The {count} {lasted} lie too close in time to speak of a drift: that needs another one, made the same way some months later."
            ))),
            _ => Some(Prose::new(format!(
                "Since {} there is one trial: whether the machine drifts needs another one, made the same way some months later.",
                first.date
            ))),
        };
    };
    let key = |name: &str| in_result(format!("machines.{place}.stretches.{row}.drift.{name}"));
    let half = drift.interval95.half_width();
    let begin = Prose::new(format!("From {} to {} ({count}) ", first.date, last.date));
    let interval = |prose: Prose| {
        prose
            .text(" a year, 95 % interval ")
            .number(pen.end(drift.interval95.low, drift.interval95, key("interval95.0")))
            .text(" to ")
            .number(pen.end(drift.interval95.high, drift.interval95, key("interval95.1")))
    };
    let slope = pen.difference(drift.per_year, half, key("per_year"));
    let said = match stretch.verdict {
        Verdict::Drifts => {
            let prose = interval(
                begin.strong("the taper drifts").text(" towards ").text(words::larger_end(drift.per_year)).text(" by ").number(slope),
            );
            prose.text(".")
        }
        Verdict::Unsteady => interval(begin.text("no straight drift of the taper is shown (").number(slope))
            .text("), but ")
            .strong(format!("the moving average of {outside} lies outside its limits"))
            .text(": something stepped or swung."),
        Verdict::NoDriftShown | Verdict::CannotSay => interval(begin.strong("no drift of the taper is shown").text(": ").number(slope))
            .text(". A drift within that interval could be there unseen."),
    };
    let said = match drift.scatter {
        Some((_, p)) if p < words::SIGNIFICANCE => said
            .text(" The tapers scatter about the line by more than their uncertainties (p ")
            .number(pen.probability(p, key("scatter.1")))
            .text("): the machine wanders from trial to trial."),
        Some(_) => said,
        None => said.text(" Two trials alone: how much the machine wanders between trials is assumed, and makes the interval wide."),
    };
    Some(said)
}

/// What is decided of the machine as it was left last; `None` where its latest trial states no limit.
pub fn decided(machine: &Machine) -> Option<Prose> {
    let visit = machine.visits.last()?;
    let judged: Vec<_> = visit.left.conformity.iter().collect();
    if judged.is_empty() {
        return None;
    }
    Some(Prose::new(format!("Limits, as left on {}: ", visit.date)).and(limits::lead_of(&judged)))
}

/// Which decisions changed, a sentence each.
pub fn decision_changes(machine: &Machine) -> Vec<String> {
    let when = |of: &StateOf| {
        machine.visits.get(of.visit).map_or_else(String::new, |visit| {
            let moved = visit.found.setting != visit.left.setting;
            let which = match (moved, of.as_left) {
                (true, true) => ", as left",
                (true, false) => ", as found",
                (false, _) => "",
            };
            format!("{}{which}", visit.date)
        })
    };
    let sentence = |change: &DecisionChange| {
        let from = if change.criterion == "trial.toml" { String::new() } else { format!(" ({})", change.criterion) };
        let other = if change.restated { "; the limit or the rule is another one, too" } else { "" };
        format!(
            "{}{from}: {} on {}, {} on {}{other}.",
            words::sentence_case(limits::name(change.quantity)),
            limits::decision(change.was),
            when(&change.before),
            limits::decision(change.is),
            when(&change.after)
        )
    };
    machine.decision_changes.iter().map(sentence).collect()
}

/// What a repair or a move did to the taper.
pub fn change(machine: &Machine, place: usize, row: usize, pen: Pen) -> Option<Prose> {
    let change = machine.changes.get(row)?;
    let taper = change.differences.iter().position(|each| each.quantity == "taper")?;
    let each = change.differences.get(taper)?;
    let key = |name: &str| in_result(format!("machines.{place}.changes.{row}.differences.{taper}.{name}"));
    let Interval { low, high } = each.difference.interval95;
    let half = each.difference.interval95.half_width();
    let what = change.what.as_ref().map_or_else(String::new, |what| format!(" (“{what}”)"));
    let begin = Prose::new(format!("{}{what}: the taper went from ", words::sentence_case(&occasion(machine, change))))
        .number(pen.difference(each.before, half, key("before")))
        .text(" to ")
        .number(pen.difference(each.after, half, key("after")))
        .text(if pen.adds_up([each.before, each.after, each.difference.value], half) { ", a change of " } else { ", a change of about " })
        .number(pen.difference(each.difference.value, half, key("difference.value")))
        .text(" (95 % interval ")
        .number(pen.end(low, each.difference.interval95, key("difference.interval95.0")))
        .text(" to ")
        .number(pen.end(high, each.difference.interval95, key("difference.interval95.1")));
    Some(if each.shown {
        begin.text("): ").strong("a change is shown").text(".")
    } else {
        begin.text("): ").strong("no change is shown").text(".")
    })
}
