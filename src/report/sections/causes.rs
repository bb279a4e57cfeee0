//! Where the taper comes from: headline, picture, a sentence a cause, groups, balance, next tests; earlier settings in a table.

use super::adding_up::{balance, vertical};
use super::contributions::pictures;
use super::headline::{causes_of, groups_of, headline, latest_setting, together};
use super::next_tests::{NextTestRow, next_tests};
use crate::analysis::Analysis;
use crate::causes::{CauseEstimate, CauseKind, ContributionUm, Verdict};
use crate::report::drawing::CannotDraw;
use crate::report::number::decimals_for_uncertainty;
use crate::report::prose::Prose;
use crate::report::quantity::{Pen, in_result};
use crate::report::words;
use minijinja::Value;
use serde::Serialize;

/// The latest setting in detail, the others in brief.
#[derive(Serialize)]
pub struct Causes {
    setting: u32,
    headline: Option<Value>,
    svg: Option<Value>,
    narrow_svg: Option<Value>,
    rows: Vec<CauseRow>,
    sentences: Vec<Sentence>,
    not_applicable: Vec<NotApplicable>,
    groups: Vec<Value>,
    balance: Vec<Value>,
    contradicted: bool,
    vertical: Vec<Value>,
    next: Vec<NextTestRow>,
    earlier: Vec<Earlier>,
    fine_unit: &'static str,
}

/// One cause in the table below the picture.
#[derive(Serialize)]
struct CauseRow {
    name: &'static str,
    verdict: &'static str,
    change: Value,
    change_u: Value,
    change_low: Value,
    change_high: Value,
    peak: Value,
    peak_low: Value,
    peak_high: Value,
    material: Value,
    threshold: Value,
    parameter: Option<Parameter>,
}

/// The cause’s own parameter, in the unit of the settings’ priors.
#[derive(Serialize)]
struct Parameter {
    name: &'static str,
    estimate: Value,
    u: Value,
    low: Value,
    high: Value,
    presence: Value,
    removed: Value,
}

#[derive(Serialize)]
struct Sentence {
    name: String,
    sign: &'static str,
    verdict: &'static str,
    change: Value,
    reason: String,
}

#[derive(Serialize)]
struct NotApplicable {
    name: String,
    reason: String,
}

/// A setting before the latest.
#[derive(Serialize)]
struct Earlier {
    setting: u32,
    headline: Option<Value>,
    causes: Vec<EarlierCause>,
}

#[derive(Serialize)]
struct EarlierCause {
    name: &'static str,
    verdict: &'static str,
    change: Value,
    low: Value,
    high: Value,
    material: Value,
}

/// What is said of causes; `None` when nothing was estimated.
pub fn causes(analysis: &Analysis, pen: Pen) -> Result<Option<Causes>, CannotDraw> {
    let Some(setting) = latest_setting(analysis) else { return Ok(None) };
    let own = causes_of(analysis, setting);
    let mut earlier: Vec<u32> = analysis.causes.iter().map(|cause| cause.setting).filter(|number| *number != setting).collect();
    earlier.sort_unstable_by(|a, b| b.cmp(a));
    earlier.dedup();
    let (svg, narrow_svg) =
        pictures(analysis, setting, pen)?.map(|(broad, narrow)| (Value::from_safe_string(broad), Value::from_safe_string(narrow))).unzip();
    Ok(Some(Causes {
        setting,
        headline: headline(analysis, setting, pen).map(|prose| prose.html()),
        svg,
        narrow_svg,
        rows: own.iter().filter_map(|(place, cause)| cause_row(*place, cause, pen)).collect(),
        sentences: in_order(&own).into_iter().filter_map(|(place, cause)| sentence(place, cause, pen)).collect(),
        not_applicable: own
            .iter()
            .filter(|(_, cause)| cause.verdict == Verdict::NotApplicable)
            .map(|(_, cause)| NotApplicable { name: words::sentence_case(words::cause_name(cause.cause)), reason: pen.told(&cause.reason) })
            .collect(),
        groups: groups_of(analysis, setting)
            .into_iter()
            .map(|(place, group)| {
                let names: Vec<&str> = group.causes.iter().map(|cause| words::cause_name(*cause)).collect();
                let lead = words::sentence_case(&words::listed(&names, "and"));
                together(Prose::default().strong(lead).text(" together "), place, group, pen).text("; this log cannot split them.").html()
            })
            .collect(),
        balance: balance(analysis, setting, pen),
        contradicted: analysis.contradictions.iter().any(|each| each.setting == setting),
        vertical: vertical(analysis, pen),
        next: next_tests(analysis, pen),
        earlier: earlier.into_iter().map(|number| earlier_setting(analysis, number, pen)).collect(),
        fine_unit: pen.units.fine().symbol,
    }))
}

/// Present causes first, then those not settled, then those too small; each by size.
fn in_order<'a>(causes: &[(usize, &'a CauseEstimate)]) -> Vec<(usize, &'a CauseEstimate)> {
    let rank = |cause: &CauseEstimate| match cause.verdict {
        Verdict::Present => 0,
        Verdict::NotSettled => 1,
        Verdict::Absent => 2,
        Verdict::NotApplicable => 3,
    };
    let size = |cause: &CauseEstimate| cause.peak_um.map_or(0.0, |peak| peak.estimate);
    let mut sorted = causes.to_vec();
    sorted.sort_by(|a, b| rank(a.1).cmp(&rank(b.1)).then(size(b.1).total_cmp(&size(a.1))));
    sorted
}

fn sentence(place: usize, cause: &CauseEstimate, pen: Pen) -> Option<Sentence> {
    let (change, peak) = (cause.contribution_um?, cause.peak_um?);
    let key = |name: &str| in_result(format!("causes.{place}.{name}"));
    let half = change.interval95.half_width();
    let prose = Prose::new("Between the ends ")
        .number(pen.signed_um(change.estimate, half, key("contribution_um.estimate")))
        .text(" (95 % interval ")
        .number(pen.signed_end_um(change.interval95.low, change.interval95, key("contribution_um.interval95.0")))
        .text(" to ")
        .number(pen.signed_end_um(change.interval95.high, change.interval95, key("contribution_um.interval95.1")))
        .text("); largest difference along the bar ")
        .number(pen.size_um(peak.estimate, peak.interval95.half_width(), key("peak_um.estimate")))
        .text(".");
    Some(Sentence {
        name: words::sentence_case(words::cause_name(cause.cause)),
        sign: words::verdict_sign(cause.verdict),
        verdict: words::verdict(cause.verdict),
        change: prose.html(),
        reason: closed(&words::sentence_case(&pen.told(&cause.reason))),
    })
}

/// A sentence with a full stop.
pub(super) fn closed(text: &str) -> String {
    if text.is_empty() || text.ends_with(['.', '!', '?']) { text.to_owned() } else { format!("{text}.") }
}

fn fraction(value: Option<f64>, key: crate::report::quantity::Key, pen: Pen) -> Value {
    value.map_or_else(|| Value::from("–"), |value| pen.probability_as_percent(value, key).cell())
}

fn cause_row(place: usize, cause: &CauseEstimate, pen: Pen) -> Option<CauseRow> {
    let (change, peak) = (cause.contribution_um?, cause.peak_um?);
    let key = |name: &str| in_result(format!("causes.{place}.{name}"));
    let fine = |value: f64, name: &str| pen.micrometres(value, key(name)).cell();
    let ends = |each: &ContributionUm, name: &str| {
        (fine(each.interval95.low, &format!("{name}.interval95.0")), fine(each.interval95.high, &format!("{name}.interval95.1")))
    };
    let ((change_low, change_high), (peak_low, peak_high)) = (ends(&change, "contribution_um"), ends(&peak, "peak_um"));
    Some(CauseRow {
        name: words::cause_name(cause.cause),
        verdict: words::verdict(cause.verdict),
        change: fine(change.estimate, "contribution_um.estimate"),
        change_u: fine(change.standard_uncertainty, "contribution_um.standard_uncertainty"),
        change_low,
        change_high,
        peak: fine(peak.estimate, "peak_um.estimate"),
        peak_low,
        peak_high,
        material: fraction(cause.material_probability, key("material_probability"), pen),
        threshold: cause.material_threshold_um.map_or_else(|| Value::from("–"), |value| fine(value, "material_threshold_um")),
        parameter: parameter(place, cause, pen),
    })
}

fn parameter(place: usize, cause: &CauseEstimate, pen: Pen) -> Option<Parameter> {
    let key = |name: &str| in_result(format!("causes.{place}.{name}"));
    let (value, u, interval) = (cause.estimate?, cause.standard_uncertainty?, cause.interval95?);
    let decimals = decimals_for_uncertainty(u);
    let shown = |value: f64, name: &str| pen.with_unit(value, decimals, "", key(name)).cell();
    Some(Parameter {
        name: parameter_name(cause.cause),
        estimate: shown(value, "estimate"),
        u: shown(u, "standard_uncertainty"),
        low: shown(interval.low, "interval95.0"),
        high: shown(interval.high, "interval95.1"),
        presence: fraction(cause.presence_probability, key("presence_probability"), pen),
        removed: fraction(cause.variance_removed, key("variance_removed"), pen),
    })
}

fn parameter_name(cause: CauseKind) -> &'static str {
    match cause {
        CauseKind::HeadstockYaw => "yaw, mm/m, + = free end to the rear",
        CauseKind::BedTwist => "twist, (mm/m)/m, + = rear way rises towards the tailstock",
        CauseKind::ToolWear => "wear of the radius, µm per metre of bar cut along",
        CauseKind::Deflection => "force, times Kienzle’s",
        CauseKind::WayWear => "at the worst place, µm of diameter",
        CauseKind::TailstockOffset => "offset, mm, + = to the rear",
        CauseKind::ThermalDrift => "drift of the radius, µm per minute",
    }
}

fn earlier_setting(analysis: &Analysis, setting: u32, pen: Pen) -> Earlier {
    let causes = causes_of(analysis, setting)
        .into_iter()
        .filter_map(|(place, cause)| {
            let change = cause.contribution_um?;
            let key = |name: &str| in_result(format!("causes.{place}.{name}"));
            Some(EarlierCause {
                name: words::cause_name(cause.cause),
                verdict: words::verdict(cause.verdict),
                change: pen.micrometres(change.estimate, key("contribution_um.estimate")).cell(),
                low: pen.micrometres(change.interval95.low, key("contribution_um.interval95.0")).cell(),
                high: pen.micrometres(change.interval95.high, key("contribution_um.interval95.1")).cell(),
                material: fraction(cause.material_probability, key("material_probability"), pen),
            })
        })
        .collect();
    Earlier { setting, headline: headline(analysis, setting, pen).map(|prose| prose.html()), causes }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_reason_ends_with_one_full_stop() {
        assert_eq!((closed("a"), closed("a."), closed("")), ("a.".into(), "a.".into(), String::new()));
    }
}
