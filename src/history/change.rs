//! Before and after: the difference, with what both sides share taken out of its uncertainty.

use super::values::{Change, Cutover, Difference, Figure, State, Visit};
use crate::quantities::Interval;
use crate::statistics::distributions::coverage_factor95;
use crate::statistics::welch_satterthwaite;

/// Components of a taper's budget that two settings of one trial share: same gauge, same rule, same tool and bar.
const SHARED_WITHIN_A_TRIAL: [&str; 3] = ["calibration", "station-scale", "vertical-misalignment"];
/// What two trials with the same gauge share.
const SHARED_BETWEEN_TRIALS: [&str; 1] = ["calibration"];

/// What the moves of a trial did; `None` where none were made.
pub(super) fn by_moves(place: usize, visit: &Visit) -> Option<Change> {
    if visit.found.setting == visit.left.setting {
        return None;
    }
    let cancelled: Vec<String> = SHARED_WITHIN_A_TRIAL.map(str::to_owned).to_vec();
    Some(Change {
        kind: Cutover::Moves,
        before: place,
        after: place,
        what: None,
        differences: differences(&visit.found, &visit.left, &cancelled),
        cancelled,
    })
}

/// What the repair before trial `place` did; `None` where none is stated or no trial lies before it.
pub(super) fn by_repair(place: usize, visits: &[Visit], same_gauge: bool) -> Option<Change> {
    let after = visits.get(place)?;
    let before = visits.get(place.checked_sub(1)?)?;
    let what = after.repair.clone()?;
    let cancelled = if same_gauge { SHARED_BETWEEN_TRIALS.map(str::to_owned).to_vec() } else { Vec::new() };
    let differences = differences(&before.left, &after.found, &cancelled);
    Some(Change { kind: Cutover::Repair, before: place - 1, after: place, what: Some(what), differences, cancelled })
}

fn differences(before: &State, after: &State, shared: &[String]) -> Vec<Difference> {
    let mut found = vec![difference("taper", "mm", &before.taper, &after.taper, common(before, after, shared))];
    if let (Some(one), Some(other)) = (&before.barrel, &after.barrel) {
        found.push(difference("barrel", "mm", one, other, 0.0));
    }
    for cause in &after.causes {
        if let Some(earlier) = before.causes.iter().find(|each| each.cause == cause.cause && each.told_by_log && cause.told_by_log) {
            found.push(difference(cause.cause.name(), "um", &earlier.contribution_um, &cause.contribution_um, 0.0));
        }
    }
    found
}

/// Variance that is counted in both tapers and cancels in their difference: `2 c₁c₂` of each shared component, whose parts go with the taper's sign where they are
/// in proportion to it.
fn common(before: &State, after: &State, shared: &[String]) -> f64 {
    let part = |state: &State, name: &str| state.parts.iter().find(|(component, _)| component == name).map_or(0.0, |(_, u)| *u);
    shared
        .iter()
        .map(|name| {
            let sign = if name == "station-scale" { before.taper.value.signum() * after.taper.value.signum() } else { 1.0 };
            2.0 * sign * part(before, name) * part(after, name)
        })
        .sum()
}

/// `after − before` with `u² = u₁² + u₂² − common`, Welch–Satterthwaite degrees of freedom of the two (JCGM 100:2008, 5.2.2 and G.4).
fn difference(quantity: &'static str, unit: &'static str, before: &Figure, after: &Figure, common: f64) -> Difference {
    let value = after.value - before.value;
    let (one, other) = (before.standard_uncertainty, after.standard_uncertainty);
    let u = (one * one + other * other - common).max(0.0).sqrt();
    let dof = welch_satterthwaite(&[(one, before.dof), (other, after.dof)]).and_then(|(_, dof)| dof);
    let factor = coverage_factor95(dof);
    let interval95 = Interval::about(value, factor * u);
    Difference {
        quantity,
        unit,
        before: before.value,
        after: after.value,
        difference: Figure { value, standard_uncertainty: u, dof, interval95 },
        shown: !interval95.contains(0.0),
    }
}
