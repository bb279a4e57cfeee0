//! What the log cannot tell, and what to measure next.

use crate::analysis::Analysis;
use crate::causes::{CauseKind, NextTestKind};
use crate::report::quantity::{Pen, in_result};
use minijinja::Value;
use serde::Serialize;

/// What one setting's log cannot tell about the shape.
#[derive(Serialize)]
pub struct CannotTell {
    setting: u32,
    sentences: Vec<String>,
}

/// One entry a setting.
pub fn cannot_tell(analysis: &Analysis, pen: Pen) -> Vec<CannotTell> {
    analysis
        .shape
        .iter()
        .map(|shape| CannotTell {
            setting: shape.setting,
            sentences: shape.cannot_tell.iter().map(|sentence| pen.sentence(sentence)).collect(),
        })
        .collect()
}

/// A test that the user could still make.
#[derive(Serialize)]
pub struct NextTestRow {
    test: &'static str,
    settles: String,
    before: Value,
    after: Value,
    minutes: Value,
    why: String,
}

/// The next tests of `analysis`, best first.
pub fn next_tests(analysis: &Analysis, pen: Pen) -> Vec<NextTestRow> {
    analysis
        .next_tests
        .iter()
        .enumerate()
        .map(|(row, test)| {
            let key = |name: &str| in_result(format!("next_tests.{row}.{name}"));
            NextTestRow {
                test: test_name(test.test),
                settles: test.settles.iter().map(|cause| cause_name(*cause)).collect::<Vec<_>>().join(", "),
                before: pen.micrometres(test.uncertainty_before_um, key("uncertainty_before_um")).cell(),
                after: pen.micrometres(test.uncertainty_after_um, key("uncertainty_after_um")).cell(),
                minutes: pen.with_unit(test.minutes, 0, "", key("minutes")).cell(),
                why: pen.sentence(&test.why),
            }
        })
        .collect()
}

/// A cause in the words of the trade.
#[must_use]
pub fn cause_name(cause: CauseKind) -> &'static str {
    match cause {
        CauseKind::HeadstockYaw => "headstock out of line",
        CauseKind::BedTwist => "twisted bed",
        CauseKind::ToolWear => "tool wear",
        CauseKind::Deflection => "deflection",
        CauseKind::WayWear => "worn ways",
        CauseKind::TailstockOffset => "tailstock set over",
        CauseKind::ThermalDrift => "tool and holder warming",
    }
}

fn test_name(test: NextTestKind) -> &'static str {
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
