//! The advice in sentences. Lengths are written in millimetres; pages in inches rewrite them.

use super::window::{USUAL_LIMIT, Window};
use crate::causes::{CauseKind, CausesOutcome, NextTest, NextTestKind};
use crate::quantities::Told;

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
                 competent. Feet that bend the bed to hide it only move the error to other tool heights, to work between centres and to drilling \
                 from the tailstock."
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

/// The remedies of all `causes` of a setting.
pub(super) fn remedies(outcome: &CausesOutcome, setting: u32, causes: &[CauseKind]) -> String {
    let one = |cause: &CauseKind| {
        let estimate = outcome.causes.iter().find(|c| c.setting == setting && c.cause == *cause).and_then(|c| c.estimate);
        remedy(*cause, estimate)
    };
    causes.iter().map(one).collect::<Vec<_>>().join(" ")
}

/// The test that would tell bed from headstock.
pub(super) fn test_that_tells(outcome: &CausesOutcome) -> String {
    let tells = |test: &&NextTest| test.settles.iter().any(|c| matches!(c, CauseKind::BedTwist | CauseKind::HeadstockYaw));
    let test = match outcome.next_tests.iter().find(tells).map(|t| t.test) {
        Some(NextTestKind::Indicator) => "an indicator run along a ground test bar, with levels along the bed,",
        Some(NextTestKind::Clamp) => "an indicator on the carriage while the feet are tightened in order",
        _ => "levels read along the bed",
    };
    format!("The test that tells: {test} in this setting.")
}
