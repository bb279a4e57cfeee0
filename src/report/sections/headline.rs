//! The one sentence about causes: bed, headstock or tool, or that the log cannot tell.

use crate::analysis::Analysis;
use crate::causes::{CauseEstimate, CauseKind, Confounded, ContributionUm, Verdict};
use crate::correction::{Contradiction, check_first, who_contradicts};
use crate::report::prose::Prose;
use crate::report::quantity::{Pen, in_result, on_page};
use crate::report::words;
use crate::shape::Shape;
use crate::trial::Direction;

/// An interval that excludes 0 and whose half is more than this share of the estimate is lopsided, or so wide that its ends say more.
const LOPSIDED: f64 = 0.7;

/// The last setting that has causes: the state in which the machine stands now.
#[must_use]
pub fn latest_setting(analysis: &Analysis) -> Option<u32> {
    analysis.causes.iter().map(|cause| cause.setting).max()
}

/// The causes of a setting with their places in the result's list.
pub fn causes_of(analysis: &Analysis, setting: u32) -> Vec<(usize, &CauseEstimate)> {
    analysis.causes.iter().enumerate().filter(|(_, cause)| cause.setting == setting).collect()
}

/// The groups of a setting with their places in the result's list.
pub fn groups_of(analysis: &Analysis, setting: u32) -> Vec<(usize, &Confounded)> {
    analysis.confounded.iter().enumerate().filter(|(_, group)| group.setting == setting).collect()
}

/// The headline of `setting`; `None` when nothing was estimated there.
pub fn headline(analysis: &Analysis, setting: u32, pen: Pen) -> Option<Prose> {
    let own = analysis.contradictions.iter().enumerate().filter(|(_, each)| each.setting == setting);
    if let Some((place, worst)) = own.max_by(|a, b| a.1.apart_mm().total_cmp(&b.1.apart_mm())) {
        return Some(contradiction(analysis, place, worst, pen));
    }
    let causes = causes_of(analysis, setting);
    let with = |verdict: Verdict| causes.iter().copied().filter(|(_, cause)| cause.verdict == verdict).collect::<Vec<_>>();
    let (mut present, open, small) = (with(Verdict::Present), with(Verdict::NotSettled), with(Verdict::Absent));
    let size = |cause: &CauseEstimate| cause.peak_um.map_or(0.0, |peak| peak.estimate);
    // Worn ways come first: what stands under bed and headstock beside them holds the straight part of the same wear.
    present.sort_by(|a, b| {
        let ways = |cause: &CauseEstimate| cause.cause == CauseKind::WayWear;
        ways(b.1).cmp(&ways(a.1)).then(size(b.1).total_cmp(&size(a.1)))
    });
    let groups = groups_of(analysis, setting);
    if !present.is_empty() {
        return Some(it_is(analysis, setting, &present, &open, pen));
    }
    if let Some((place, group)) = groups.iter().find(|(_, group)| is_the_tool(group, &causes)) {
        let lead = Prose::default().strong("It is the tool").text(": its wear and the warming of it and its holder together ");
        return Some(together(lead, *place, group, pen).text("; which of the two it is, stays open."));
    }
    if let Some((_, cause)) = open.first().filter(|_| open.iter().all(|(_, cause)| cause.peak_um.is_none())) {
        return Some(Prose::default().strong("The causes were not estimated").text(format!(": {}.", cause.reason)));
    }
    if !open.is_empty() {
        let shows = groups.iter().filter(|(_, group)| !group.sum_um.interval95.contains(0.0));
        let largest = shows.max_by(|a, b| a.1.sum_um.estimate.abs().total_cmp(&b.1.sum_um.estimate.abs()));
        return Some(cannot_tell(analysis, setting, largest.copied(), &open, pen));
    }
    let threshold = small.first().and_then(|(place, cause)| cause.material_threshold_um.map(|value| (*place, value)));
    threshold.map(|(place, value)| {
        Prose::default()
            .strong("None of the causes looked for is large enough to matter here")
            .text(": each is less than ")
            .number(pen.size_um(value, value, in_result(format!("causes.{place}.material_threshold_um"))))
            .text(" with a probability of at least 95 %.")
    })
}

/// That the logs contradict the measured taper, by how much, and what to look at first; no cause is named.
fn contradiction(analysis: &Analysis, place: usize, each: &Contradiction, pen: Pen) -> Prose {
    let size = |value: f64, name: &str| pen.size(value, each.expanded_mm, on_page(format!("contradictions.{place}.{name}")));
    Prose::default()
        .strong(who_contradicts(&analysis.trial))
        .text(format!(": as cut {} the bar is ", words::direction(each.direction)))
        .number(size(each.measured_mm, "measured"))
        .text(format!(" {}, give or take ", words::larger_end(each.measured_mm)))
        .number(size(each.expanded_mm, "expanded"))
        .text("; all logs together would make it ")
        .number(size(each.joint_mm, "joint"))
        .text(format!(" {}. They are ", words::larger_end(each.joint_mm)))
        .number(size(each.apart_mm(), "apart"))
        .text(format!(" apart, so no cause is named and nothing advised. {}", check_first(&analysis.trial)))
}

/// Whether a group holds nothing but wear and warming of the tool, and its sum surely matters: the whole interval lies beyond the threshold.
fn is_the_tool(group: &Confounded, causes: &[(usize, &CauseEstimate)]) -> bool {
    let threshold = causes.iter().find_map(|(_, cause)| cause.material_threshold_um).unwrap_or(f64::INFINITY);
    let interval = group.sum_um.interval95;
    group.causes.iter().all(|cause| matches!(cause, CauseKind::ToolWear | CauseKind::ThermalDrift))
        && (interval.low > threshold || interval.high < -threshold)
}

/// The causes found present, those that work against the measured taper after those that make it.
fn it_is(analysis: &Analysis, setting: u32, present: &[(usize, &CauseEstimate)], open: &[(usize, &CauseEstimate)], pen: Pen) -> Prose {
    let shape = analysis.shape.iter().find(|shape| shape.setting == setting);
    let measured = shape.and_then(measured_as_told);
    let opposes = |cause: &CauseEstimate| {
        let change = cause.contribution_um.filter(|change| !change.interval95.contains(0.0));
        measured.zip(change).is_some_and(|(measured, change)| measured * change.estimate < 0.0)
    };
    let (against, making): (Vec<_>, Vec<_>) = present.iter().copied().partition(|(_, cause)| opposes(cause));
    let both_ways = shape.is_some_and(|shape| shape.by_direction.len() > 1);
    let each = |mut prose: Prose, causes: &[(usize, &CauseEstimate)]| {
        for (row, (place, cause)) in causes.iter().enumerate() {
            prose = what_it_makes(prose.text(if row > 0 { "; " } else { "" }).text(words::cause_makes(cause.cause)), *place, cause, pen);
            if both_ways && matches!(cause.cause, CauseKind::ToolWear | CauseKind::ThermalDrift) {
                prose = prose.text(", as cut to the headstock");
            }
        }
        prose
    };
    let culprits = |causes: &[(usize, &CauseEstimate)]| {
        let names: Vec<&str> = causes.iter().map(|(_, cause)| words::culprit(cause.cause)).collect();
        words::listed(&names, "and")
    };
    let lead = match (measured, making.is_empty()) {
        (Some(_), false) => Prose::default().strong(format!("It is {}", culprits(&making))),
        (Some(_), true) => Prose::default().strong("What makes this taper is not settled"),
        (None, _) => Prose::new("No taper shows over the whole length, but ").strong(format!(
            "{} {} at work",
            culprits(&making),
            if making.len() == 1 { "is" } else { "are" }
        )),
    };
    let mut prose = each(lead.text(": "), &making);
    if !against.is_empty() {
        let verb = if against.len() == 1 { "works" } else { "work" };
        let link = if making.is_empty() { "" } else { ". " };
        let name = if making.is_empty() { culprits(&against) } else { words::sentence_case(&culprits(&against)) };
        prose = each(prose.text(format!("{link}{name} {verb} against it: ")), &against);
    }
    prose = prose.text(".");
    let is = |kind: CauseKind| present.iter().any(|(_, cause)| cause.cause == kind);
    if is(CauseKind::WayWear) && (is(CauseKind::BedTwist) || is(CauseKind::HeadstockYaw)) {
        prose = prose.text(
            " The straight part of that wear counts as bed and headstock here and cannot be told from them: do not set the bed by it before levels on unworn ways say the same.",
        );
    }
    if is(CauseKind::WayWear) && is(CauseKind::TailstockOffset) {
        prose = prose
            .text(" The straight part of that wear counts as the tailstock's here and cannot be told from it: do not set it over by that.");
    }
    if open.is_empty() {
        return prose;
    }
    let names: Vec<&str> = open.iter().map(|(_, cause)| words::cause_name(cause.cause)).collect();
    prose.text(format!(" Not settled: {}.", words::listed(&names, "and")))
}

/// The taper of the passes for which the causes are told (those cut to the headstock, where there are any), where one shows.
fn measured_as_told(shape: &Shape) -> Option<f64> {
    if !words::shows_taper(shape) {
        return None;
    }
    let row = shape.by_direction.iter().find(|row| row.direction == Direction::ToHeadstock);
    let (value, interval) = row.map_or((shape.taper.value, shape.taper.interval95), |row| (row.value, row.interval95));
    Some(if interval.contains(0.0) { shape.taper.value } else { value })
}

/// Goes on with ` the bar 0.018 mm larger at the tailstock end, give or take 0.003 mm`.
fn what_it_makes(prose: Prose, place: usize, cause: &CauseEstimate, pen: Pen) -> Prose {
    let key = |name: &str| in_result(format!("causes.{place}.{name}"));
    match (cause.contribution_um, cause.peak_um) {
        (Some(change), _) if !change.interval95.contains(0.0) => {
            let half = change.interval95.half_width();
            prose
                .text(" the bar ")
                .number(pen.size_um(change.estimate, half, key("contribution_um.estimate")))
                .text(format!(" {}", words::larger_end(change.estimate)))
                .then(|prose| give_or_take(prose, change, &format!("causes.{place}.contribution_um"), pen))
        }
        (_, Some(peak)) => prose
            .text(" the diameter differ by ")
            .number(pen.size_um(peak.estimate, peak.interval95.half_width(), key("peak_um.estimate")))
            .text(" along the bar"),
        _ => prose.text(" a difference"),
    }
}

/// Goes on with `, give or take 0.003 mm`; a lopsided or wide interval is stated with its ends.
fn give_or_take(prose: Prose, change: ContributionUm, path: &str, pen: Pen) -> Prose {
    let half = change.interval95.half_width();
    if half <= LOPSIDED * change.estimate.abs() {
        return prose.text(", give or take ").number(pen.size_um(half, half, on_page(format!("{path}.half_width"))));
    }
    let bound = |value: f64, end: &str| pen.end_size_um(value, change.interval95, in_result(format!("{path}.interval95.{end}")));
    words::interval(prose.text(" (95 % interval "), change.interval95, bound, words::LARGER_ENDS).text(")")
}

fn cannot_tell(
    analysis: &Analysis,
    setting: u32,
    group: Option<(usize, &Confounded)>,
    open: &[(usize, &CauseEstimate)],
    pen: Pen,
) -> Prose {
    let prose = match group {
        Some((place, group)) => {
            let names: Vec<&str> = group.causes.iter().map(|cause| words::culprit(*cause)).collect();
            let lead = match names.as_slice() {
                [one, other] => format!("This log cannot tell {one} from {other}"),
                _ => format!("This log cannot tell {} apart", words::listed(&names, "and")),
            };
            together(Prose::default().strong(lead).text(". Together they "), place, group, pen).text("; which of them it is, stays open.")
        }
        None => {
            let names: Vec<&str> = open.iter().map(|(_, cause)| words::cause_name(cause.cause)).collect();
            Prose::default()
                .strong("This log cannot tell")
                .text(format!(". No cause is shown to be large enough to matter; not settled: {}.", words::listed(&names, "and")))
        }
    };
    let wanted: Vec<CauseKind> =
        group.map_or_else(|| open.iter().map(|(_, cause)| cause.cause).collect(), |(_, group)| group.causes.clone());
    let best = analysis
        .next_tests
        .iter()
        .enumerate()
        .find(|(_, test)| latest_setting(analysis) == Some(setting) && test.settles.iter().any(|cause| wanted.contains(cause)));
    match best {
        Some((row, test)) => prose
            .text(format!(" What would tell most for its time: {} (about ", words::next_test(test.test)))
            .number(pen.with_unit(test.minutes, 0, words::minutes(test.minutes), in_result(format!("next_tests.{row}.minutes"))))
            .text(")."),
        None => prose,
    }
}

/// Goes on with `make the bar 0.018 mm larger at the tailstock end, give or take 0.003 mm`, or that no difference shows.
pub fn together(prose: Prose, place: usize, group: &Confounded, pen: Pen) -> Prose {
    let sum = group.sum_um;
    let half = sum.interval95.half_width();
    let key = |name: &str| in_result(format!("confounded.{place}.sum_um.{name}"));
    if sum.interval95.contains(0.0) {
        prose
            .text("make no difference between the ends that shows: it lies from ")
            .number(pen.signed_end_um(sum.interval95.low, sum.interval95, key("interval95.0")))
            .text(" to ")
            .number(pen.signed_end_um(sum.interval95.high, sum.interval95, key("interval95.1")))
    } else {
        prose
            .text("make the bar ")
            .number(pen.size_um(sum.estimate, half, key("estimate")))
            .text(format!(" {}", words::larger_end(sum.estimate)))
            .then(|prose| give_or_take(prose, sum, &format!("confounded.{place}.sum_um"), pen))
    }
}
