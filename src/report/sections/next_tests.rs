//! The table of the tests that would settle more.

use super::causes::closed;
use crate::analysis::Analysis;
use crate::report::quantity::{Pen, in_result};
use crate::report::words;
use minijinja::Value;
use serde::Serialize;

/// A test that the user could still make.
#[derive(Serialize)]
pub(super) struct NextTestRow {
    rank: usize,
    test: String,
    settles: String,
    before: Value,
    after: Value,
    range: Option<(Value, Value)>,
    minutes: Value,
    why: String,
}

/// The next tests of `analysis`, best first.
pub(super) fn next_tests(analysis: &Analysis, pen: Pen) -> Vec<NextTestRow> {
    analysis
        .next_tests
        .iter()
        .enumerate()
        .map(|(row, test)| {
            let key = |name: &str| in_result(format!("next_tests.{row}.{name}"));
            let page = |end: &str| crate::report::quantity::on_page(format!("next_tests.{row}.uncertainty_after_range_um.{end}"));
            NextTestRow {
                rank: row + 1,
                test: words::sentence_case(words::next_test(test.test)),
                settles: test.settles.iter().map(|cause| words::cause_name(*cause)).collect::<Vec<_>>().join(", "),
                before: pen.micrometres(test.uncertainty_before_um, key("uncertainty_before_um")).cell(),
                after: pen.micrometres(test.uncertainty_after_um, key("uncertainty_after_um")).cell(),
                range: test
                    .uncertainty_after_range_um
                    .map(|range| (pen.micrometres(range.low, page("0")).cell(), pen.micrometres(range.high, page("1")).cell())),
                minutes: pen.with_unit(test.minutes, 0, "", key("minutes")).cell(),
                why: closed(&words::sentence_case(&pen.sentence(&test.why))),
            }
        })
        .collect()
}
