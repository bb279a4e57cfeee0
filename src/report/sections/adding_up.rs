//! Whether the causes add up to what was measured, in the plane of the tool and upright.

use super::contributions::main_balance;
use crate::analysis::Analysis;
use crate::report::prose::Prose;
use crate::report::quantity::{Pen, in_result, on_page};
use crate::trial::{Direction, Holding};
use minijinja::Value;

/// Whether the causes add up to what was measured, a sentence a direction.
pub(super) fn balance(analysis: &Analysis, setting: u32, pen: Pen) -> Vec<Value> {
    let main = main_balance(analysis, setting).map(|(place, _)| place);
    analysis
        .balance
        .iter()
        .enumerate()
        .filter(|(_, each)| each.setting == setting)
        .map(|(place, each)| {
            let key = |name: &str| in_result(format!("balance.{place}.{name}"));
            let page = |end: &str| on_page(format!("balance.{place}.sum_interval95_um.{end}"));
            let u = each.standard_uncertainty_um;
            let contradicted = analysis.contradictions.iter().any(|other| other.setting == setting);
            let within = each.unexplained_um.abs() <= 2.0 * u;
            let end = match (contradicted, within) {
                (true, true) => ", but only because the estimate lays the conflict on the spread between passes: the logs contradict each other, and the causes do not account for it.",
                (true, false) => ": the logs contradict each other.",
                (false, true) => ": the causes account for it.",
                (false, false) => ": something that is not in the model moves the diameters.",
            };
            let lead = match (Some(place) == main, each.direction) {
                (true, _) => "Do they add up? The causes make ".to_owned(),
                (false, Direction::ToHeadstock) => "Of passes cut to the headstock the causes make ".to_owned(),
                (false, Direction::ToTailstock) => "Of passes cut to the tailstock the causes make ".to_owned(),
            };
            Prose::new(lead)
                .number(pen.signed_um(each.sum_um, u, key("sum_um")))
                .text(" between the ends (95 % interval ")
                .number(pen.signed_end_um(each.sum_interval95_um.low, each.sum_interval95_um, page("0")))
                .text(" to ")
                .number(pen.signed_end_um(each.sum_interval95_um.high, each.sum_interval95_um, page("1")))
                .text("); measured there were ")
                .number(pen.signed_um(each.end_difference_um, u, key("end_difference_um")))
                .text(". The rest of ")
                .number(pen.signed_um(each.unexplained_um, 0.3 * u, key("unexplained_um")))
                .text(if within { " is within" } else { " is more than" })
                .text(" twice its standard uncertainty of ")
                .number(pen.size_um(u, u, key("standard_uncertainty_um")))
                .text(end)
                .html()
        })
        .collect()
}

/// What the readings on top of a test bar say, a sentence a setting.
pub(super) fn vertical(analysis: &Analysis, pen: Pen) -> Vec<Value> {
    let several = analysis.vertical_misalignment.len() > 1;
    analysis
        .vertical_misalignment
        .iter()
        .enumerate()
        .map(|(place, each)| {
            let key = |name: &str| in_result(format!("vertical_misalignment.{place}.{name}"));
            let u = each.standard_uncertainty;
            let slope = |value: f64, u: f64, name: &str| pen.slope(value, u, key(name));
            let rise_mm = each.mm_per_m * each.bar_length_mm / 1000.0;
            let axis = match each.held {
                Holding::Centres => "the line from the headstock centre to the tailstock centre",
                Holding::Chuck | Holding::ChuckAndCentre => "the spindle’s axis",
            };
            let lead = if several { format!("Height of the axis in setting {}. ", each.setting) } else { "Height of the axis. ".to_owned() };
            Prose::default()
                .strong(lead)
                .text("By the indicator on top of the test bar (")
                .number(pen.count(each.readings, key("readings")))
                .text(if each.readings == 1 { " reading at " } else { " readings at " })
                .number(pen.count(each.spindle_angles, key("spindle_angles")))
                .text(if each.spindle_angles == 1 { " angle of the spindle) " } else { " angles of the spindle) " })
                .text(axis)
                .text(if each.mm_per_m < 0.0 { " falls by " } else { " rises by " })
                .number(slope(each.mm_per_m, u, "mm_per_m").unsigned())
                .text(" towards the tailstock, which is ")
                .number(pen.size(rise_mm, u * each.bar_length_mm / 1000.0, on_page(format!("vertical_misalignment.{place}.over_bar"))))
                .text(" over the ")
                .number(pen.length(each.bar_length_mm, key("bar_length_mm")))
                .text(" of the test bar; standard uncertainty ")
                .number(slope(u, u, "standard_uncertainty"))
                .text(", 95 % interval ")
                .number(slope(each.interval95.low, u, "interval95.0"))
                .text(" to ")
                .number(slope(each.interval95.high, u, "interval95.1"))
                .text(" (positive = rising).")
                .text(match (each.spindle_angles, each.sag_removed) {
                    (1, _) => " Taken at one angle only, the readings hold the bar’s run-out, which the uncertainty allows for: a second run half a turn on removes it.",
                    (_, true) => "",
                    (_, false) => " The bar’s own sag is not taken off, because its diameter is not stated ([testbar] diameter_mm); the uncertainty allows for it.",
                })
                .text(" It is none of the causes above: a diameter feels it only where the tool is off centre height.")
                .html()
        })
        .collect()
}
