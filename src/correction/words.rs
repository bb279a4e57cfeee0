//! The advice in sentences. Lengths are written in millimetres; pages in inches rewrite them.

use super::window::{USUAL_LIMIT, Window};
use crate::causes::{CauseKind, CausesOutcome, NextTestKind, Verdict};
use crate::quantities::Told;
use crate::trial::Holding;

/// A length as sentences write it; the sign is said in words.
pub(super) fn mm(value_mm: f64) -> String {
    Told::difference(value_mm.abs(), 3).to_string()
}

/// Which end a taper makes larger.
pub(super) fn larger_end(taper_mm: f64) -> &'static str {
    if taper_mm < 0.0 { "larger at the headstock end" } else { "larger at the tailstock end" }
}

/// What the limits allow, and where they come from.
pub(super) fn limits(window: Window, length_mm: f64) -> String {
    let size = if (window.low_mm + window.high_mm).abs() < 1e-9 {
        format!("{} either way", mm(window.high_mm))
    } else {
        format!("{} larger at the headstock end to {} larger at the tailstock end", mm(window.low_mm), mm(window.high_mm))
    };
    let whole = format!("{size} over the {} tested", Told::length(length_mm));
    if window.assumed {
        let (limit, over) = USUAL_LIMIT;
        format!("{whole}; nobody stated a limit, so {limit} mm in {over:.0} mm was taken (common practice, no source)")
    } else {
        whole
    }
}

/// What to do about a cause that feet do not cure.
pub(super) fn remedy(cause: CauseKind, estimate: Option<f64>) -> String {
    match cause {
        CauseKind::HeadstockYaw => {
            let size = estimate.map_or_else(String::new, |yaw| {
                format!(" by {}, its free end {}", Told::slope(yaw.abs()), if yaw > 0.0 { "to the rear" } else { "to the front" })
            });
            format!(
                "The headstock points away from the carriage's path{size}: level the bed first, then have the headstock aligned by somebody \
                 competent. Feet that bend the bed to hide it only move the error to tools at other heights and shift the tailstock against the \
                 spindle, which drilling shows."
            )
        }
        CauseKind::BedTwist => "The bed is twisted.".to_string(),
        CauseKind::ToolWear => {
            "The edge wears along the cut: sharpen or change it, or cut less metal in one pass; no screw of the machine cures that."
                .to_string()
        }
        CauseKind::Deflection => {
            "The bar yields to the cut: take a lighter cut with a sharp, small-nosed tool, or use a stiffer bar (thicker, or \
                                  shorter out of the chuck); no screw of the machine cures that."
                .to_string()
        }
        CauseKind::WayWear => "The ways are worn: no foot cures that; scraping or regrinding is for whoever is competent.".to_string(),
        CauseKind::TailstockOffset => "The tailstock centre stands beside the axis: set the tailstock over.".to_string(),
        CauseKind::ThermalDrift => {
            "Tool and holder warm while they cut: warm the machine up, use coolant, cut lighter; no screw of the machine cures that."
                .to_string()
        }
    }
}

/// What worn ways forbid.
pub(super) fn unworn_ways(holding: Holding) -> &'static str {
    match holding {
        Holding::Chuck => {
            "The straight part of that wear counts as bed and headstock here and cannot be told from them: set neither by it before levels on unworn \
             ways say the same."
        }
        Holding::Centres | Holding::ChuckAndCentre => {
            "The straight part of that wear counts as the tailstock's here and cannot be told from it: set over by it, the tailstock would suit this \
             length of bar only."
        }
    }
}

/// The remedies of all `causes` of a setting, each found present.
///
/// Beside worn ways the headstock is not to be aligned: what is taken for it may be the straight part of their wear.
pub(super) fn remedies(outcome: &CausesOutcome, setting: u32, causes: &[CauseKind], holding: Holding) -> String {
    let worn = causes.contains(&CauseKind::WayWear);
    let one = |cause: &CauseKind| {
        let estimate = outcome.causes.iter().find(|c| c.setting == setting && c.cause == *cause).and_then(|c| c.estimate);
        remedy(*cause, estimate)
    };
    let mut list: Vec<String> = causes.iter().filter(|cause| !(worn && **cause == CauseKind::HeadstockYaw)).map(one).collect();
    if worn {
        list.push(unworn_ways(holding).to_owned());
    }
    list.join(" ")
}

/// Probability of being large enough to matter above which a cause that is not settled is named: at or below, it would be called too small.
const NAMED_ABOVE: f64 = 0.05;

/// The causes that a setting leaves open and that may make its taper: the group known only together with the largest sum, `wanted` among
/// them if any has it; where there is no such group, those not settled that may be large enough to matter.
pub(super) fn open_causes(outcome: &CausesOutcome, setting: u32, wanted: Option<CauseKind>) -> Vec<CauseKind> {
    let has = |group: &[CauseKind]| wanted.is_some_and(|w| group.contains(&w));
    let groups = outcome.confounded.iter().filter(|group| group.setting == setting);
    let best = groups.max_by(|a, b| has(&a.causes).cmp(&has(&b.causes)).then(a.sum_um.estimate.abs().total_cmp(&b.sum_um.estimate.abs())));
    if let Some(group) = best {
        return group.causes.clone();
    }
    let open = |c: &&crate::causes::CauseEstimate| {
        c.setting == setting && c.verdict == Verdict::NotSettled && c.material_probability.is_some_and(|p| p > NAMED_ABOVE)
    };
    outcome.causes.iter().filter(open).map(|c| c.cause).collect()
}

/// That a log cannot tell `causes` apart, as the beginning of a sentence without its stop.
#[must_use]
pub fn cannot_tell(causes: &[CauseKind]) -> String {
    let names: Vec<&str> = causes.iter().map(|cause| culprit(*cause)).collect();
    match names.as_slice() {
        [] => "this log cannot tell the causes apart".to_owned(),
        [one] => format!("this log does not settle {one}"),
        [one, other] => format!("this log cannot tell {one} from {other}"),
        _ => format!("this log cannot tell {} apart", listed(&names, "and")),
    }
}

/// The test that would tell most of `causes` for its time, from the list of next tests.
pub(super) fn test_that_tells(outcome: &CausesOutcome, causes: &[CauseKind]) -> String {
    let best = outcome.next_tests.iter().find(|test| test.settles.iter().any(|c| causes.contains(c)));
    match best {
        Some(test) => format!("The test that tells: {}, in this setting.", next_test(test.test)),
        None => "None of the tests that could be added here would tell by itself: measure more passes in this setting.".to_owned(),
    }
}

/// Where a cause sits.
#[must_use]
pub fn culprit(cause: CauseKind) -> &'static str {
    match cause {
        CauseKind::HeadstockYaw => "the headstock",
        CauseKind::BedTwist => "the bed",
        CauseKind::ToolWear => "the wear of the tool",
        CauseKind::Deflection => "the bending under the cut",
        CauseKind::WayWear => "the wear of the ways",
        CauseKind::TailstockOffset => "the tailstock",
        CauseKind::ThermalDrift => "the warming of the tool",
    }
}

/// A next test.
#[must_use]
pub fn next_test(test: NextTestKind) -> &'static str {
    match test {
        NextTestKind::PassOtherWay => "a pass cut the other way",
        NextTestKind::HeavyAndLightPass => "a heavy and a light pass",
        NextTestKind::Levels => "a level along the bed",
        NextTestKind::Indicator => "an indicator along a ground test bar",
        NextTestKind::Clamp => "an indicator while the feet are tightened",
        NextTestKind::MoreStations => "more stations",
        NextTestKind::MoreRepeats => "more repeats",
        NextTestKind::LongerBar => "a longer bar",
    }
}

/// `a`, `a and b`, `a, b and c`; `last` stands for the “and”.
#[must_use]
pub fn listed(words: &[&str], last: &str) -> String {
    match words {
        [] => String::new(),
        [only] => (*only).to_owned(),
        [most @ .., end] => format!("{} {last} {end}", most.join(", ")),
    }
}

/// A probability in words, never a certainty.
pub(super) fn chance(probability: f64) -> String {
    match probability {
        p if p > 0.995 => "above 99 %".to_owned(),
        p if p < 0.005 => "below 1 %".to_owned(),
        p => format!("of {:.0} %", 100.0 * p),
    }
}
