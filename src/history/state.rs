//! The machine in one setting, from the analysis of its trial.

use super::values::{CauseState, Figure, State};
use crate::analysis::Analysis;
use crate::causes::{CauseEstimate, Verdict};
use crate::quantities::Interval;
use crate::shape::Shape;
use crate::trial::Direction;

/// Share of its prior variance that a log must remove before the history shows a cause as told by the log.
const TOLD: f64 = 0.5;

/// The state of `shape`, taper and contributions scaled in proportion to `length_mm`.
pub(super) fn state_of(analysis: &Analysis, shape: &Shape, length_mm: f64) -> State {
    let tested = shape.tested_length.length;
    let scale = if tested > 0.0 { length_mm / tested } else { 1.0 };
    let to_headstock = shape.by_direction.iter().find(|each| each.direction == Direction::ToHeadstock);
    let taper = match to_headstock {
        Some(each) => figure(each.value, each.standard_uncertainty, each.effective_dof, each.interval95, scale),
        None => figure(shape.taper.value, shape.taper.standard_uncertainty, shape.taper.effective_dof, shape.taper.interval95, scale),
    };
    let direction = match (to_headstock, shape.by_direction.as_slice()) {
        (Some(_), _) => Some(Direction::ToHeadstock),
        (None, [only]) => Some(only.direction),
        _ => None,
    };
    let barrel = shape.barrel.as_ref().map(|each| figure(each.value, each.standard_uncertainty, each.effective_dof, each.interval95, 1.0));
    let contributions = analysis.tested_length.map_or(tested, |common| common.length);
    let cause_scale = if contributions > 0.0 { length_mm / contributions } else { 1.0 };
    State {
        setting: shape.setting,
        readings: shape.readings,
        passes: shape.passes_in_shape,
        tested_length_mm: tested,
        taper,
        direction,
        barrel,
        causes: analysis
            .causes
            .iter()
            .filter(|each| each.setting == shape.setting)
            .filter_map(|each| cause_of(each, cause_scale))
            .collect(),
        conformity: analysis.conformity.iter().filter(|judged| judged.setting == shape.setting).cloned().collect(),
        parts: shape.budget.iter().map(|row| (row.component.clone(), row.standard_uncertainty * scale)).collect(),
    }
}

fn figure(value: f64, u: f64, dof: Option<f64>, interval: Interval, scale: f64) -> Figure {
    Figure {
        value: value * scale,
        standard_uncertainty: u * scale,
        dof,
        interval95: Interval { low: interval.low * scale, high: interval.high * scale },
    }
}

fn cause_of(estimate: &CauseEstimate, scale: f64) -> Option<CauseState> {
    let contribution = estimate.contribution_um.filter(|_| estimate.verdict != Verdict::NotApplicable)?;
    Some(CauseState {
        cause: estimate.cause,
        contribution_um: figure(contribution.estimate, contribution.standard_uncertainty, None, contribution.interval95, scale),
        verdict: estimate.verdict,
        told_by_log: estimate.variance_removed.is_some_and(|removed| removed >= TOLD),
    })
}
