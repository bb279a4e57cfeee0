//! Tests that the user could still make, each with the uncertainty that it would leave.
//!
//! The root of the **expected** posterior variance over outcomes drawn from the present posterior. Support points are draws of the present
//! posterior (what is integrated numerically, subset, unknowns that cannot be negative); given one of them everything else is normal, so the
//! posterior after an outcome is the support weighed by the outcome's predictive density, each point with its exact normal mean and variance.

use super::candidates::{Candidate, candidates};
use super::design::{Design, design_of};
use super::posterior::{Posterior, summary};
use super::values::{CauseEstimate, CauseKind, NextTest, Verdict};
use crate::quantities::Interval;
use crate::trial::Trial;
use rayon::prelude::*;

mod after;
#[cfg(test)]
mod against_dense;
#[cfg(test)]
mod dense;
mod expected;
mod factor;
#[cfg(test)]
mod ranked;
mod support;

use expected::expected_variances;

/// How finely a test is foreseen.
#[derive(Debug, Clone, Copy, PartialEq)]
struct Fineness {
    /// Support points.
    support: usize,
    /// Outcomes.
    outcomes: usize,
    /// Sets its draws apart from others'.
    stream: u64,
}

/// For choosing what a test would settle.
const CHOICE: Fineness = Fineness { support: 96, outcomes: 16, stream: u64::MAX - 2 };
/// For the promise that is shown. Its draws are others than those of the choice: whatever is chosen for a low figure is chosen partly for its
/// luck, and that figure would promise too much.
const PROMISE: Fineness = Fineness { support: 192, outcomes: 24, stream: u64::MAX - 3 };
/// A test settles a cause when its standard uncertainty shrinks to at most this share.
const SETTLES: f64 = 0.75;

/// Ranks the tests of a trial by what they settle per minute, best first; for the last setting with diameters.
pub(super) fn next_tests(trial: &Trial, present: &Design, posterior: &Posterior, causes: &[CauseEstimate], seed: u64) -> Vec<NextTest> {
    let Some(setting) = present.references.iter().filter(|r| r.main).map(|r| r.setting).max() else { return Vec::new() };
    let open: Vec<CauseKind> = causes
        .iter()
        .filter(|c| c.setting == setting && c.verdict == Verdict::NotSettled && c.peak_um.is_some())
        .map(|c| c.cause)
        .collect();
    if open.is_empty() {
        return Vec::new();
    }
    let mut tests: Vec<NextTest> = candidates(trial, present, setting)
        .into_par_iter()
        .filter_map(|candidate| forecast(&candidate, present, posterior, setting, &open, seed))
        .collect();
    tests.sort_by(|a, b| worth(b).total_cmp(&worth(a)));
    tests
}

/// What a test takes from the uncertainty of what it settles, µm a minute; no test counts as less than a minute.
fn worth(test: &NextTest) -> f64 {
    (test.uncertainty_before_um - test.uncertainty_after_um) / test.minutes.max(1.0)
}

/// What one test would leave; `None` when it would settle nothing.
fn forecast(
    candidate: &Candidate,
    present: &Design,
    posterior: &Posterior,
    setting: u32,
    open: &[CauseKind],
    seed: u64,
) -> Option<NextTest> {
    let then = design_of(&candidate.trial, present.together)?;
    let foreseen = |fineness| expected_variances(&then, present, posterior, setting, open, seed, fineness);
    let first = foreseen(CHOICE)?;
    let settled: Vec<usize> = (0..open.len()).filter(|k| first.after[*k] < SETTLES * SETTLES * first.before[*k]).collect();
    if settled.is_empty() {
        return None;
    }
    let variances = foreseen(PROMISE)?;
    // The support points foresee what share of the variance is left; the variance itself is known from all draws, and is that of the page.
    let present_um2: Vec<f64> = open
        .iter()
        .map(|cause| posterior.contributions.get(&(setting, *cause)).and_then(|c| summary(&c.end_difference_um)))
        .map(|contribution| contribution.map_or(0.0, |c| c.standard_uncertainty.powi(2)))
        .collect();
    let root =
        |v: &[f64]| settled.iter().map(|k| present_um2[*k] * v[*k] / variances.before[*k].max(f64::MIN_POSITIVE)).sum::<f64>().sqrt();
    let mut range: Vec<f64> = variances.outcomes.iter().map(|v| root(v)).collect();
    range.sort_by(f64::total_cmp);
    let at = |p: f64| range[((range.len() - 1) as f64 * p).round() as usize];
    Some(NextTest {
        test: candidate.kind,
        settles: settled.iter().map(|k| open[*k]).collect(),
        uncertainty_before_um: root(&variances.before),
        uncertainty_after_um: root(&variances.after),
        uncertainty_after_range_um: Some(Interval { low: at(0.1), high: at(0.9) }),
        minutes: candidate.minutes,
        why: candidate.why.clone(),
    })
}

#[cfg(test)]
mod tests {
    use super::super::design::design;
    use super::super::integrate::integrate;
    use super::super::posterior::posterior;
    use super::*;
    use crate::causes::fixture;
    use crate::causes::values::NextTestKind;
    use crate::trial::{Direction, Holding, SimulationRequest, Truth};

    /// A pass along a longer bar leaves the present uncertainties of wear and bending alone, and narrows the lean.
    #[test]
    fn a_longer_bar_is_foreseen_on_the_present_bar() {
        let mut trial = fixture::bar(Holding::Chuck);
        (trial.bar.diameter_mm, trial.bar.length_mm) = (40.0, 80.0);
        let request = SimulationRequest {
            logs: vec!["diameters".to_string()],
            settings: 1,
            passes: 2,
            directions: vec![Direction::ToHeadstock],
            stations_mm: vec![5.0, 25.0, 45.0, 65.0, 75.0],
            truth: Truth { yaw_mm_per_m: Some(0.05), force_factor: Some(1.0), ..Truth::default() },
            ..SimulationRequest::default()
        };
        let trial = fixture::read(&trial, &request, 3);
        let present = design(&trial).expect("a design");
        let posterior = posterior(&present, &integrate(&present.model, 1), 1);
        let open = [CauseKind::HeadstockYaw, CauseKind::BedTwist, CauseKind::ToolWear, CauseKind::Deflection];
        let forecast = |kind: NextTestKind| {
            let candidate = candidates(&trial, &present, 0).into_iter().find(|c| c.kind == kind).expect("the candidate");
            expected_variances(&design(&candidate.trial).expect("a design"), &present, &posterior, 0, &open, 1, PROMISE)
                .expect("a forecast")
        };
        let (longer, again) = (forecast(NextTestKind::LongerBar), forecast(NextTestKind::MoreRepeats));
        // Wear and bending of the present bar are what they are, whatever is tried next: the longer bar's cut does not reach back into them.
        // (Yaw and twist depend on the scale of the spread between passes, which the further stations move.)
        for place in [2, 3] {
            let (a, b) = (longer.before[place], again.before[place]);
            assert!((a / b - 1.0).abs() < 0.01, "{longer:?} {again:?}");
        }
        // It teaches more of the lean than it takes away: less is left than there was.
        assert!(longer.after[0] < 0.95 * longer.before[0], "{longer:?}");
    }
}
