//! Tests that the user could still make, each with the uncertainty that it would leave.
//!
//! The root of the **expected** posterior variance over outcomes drawn from the present posterior. Support points are draws of the present
//! posterior (what is integrated numerically, subset, unknowns that cannot be negative); given one of them everything else is normal, so the
//! posterior after an outcome is the support weighed by the outcome's predictive density, each point with its exact normal mean and variance.

use super::bending::Bending;
use super::block::{Block, Centred, ReadingSums};
use super::candidates::{Candidate, candidates};
use super::design::{Design, LoggedRows, design};
use super::draws::systematic;
use super::hyper::Values;
use super::lanes::{Lanes, Number, SIDE_BY_SIDE, sum_of};
use super::posterior::{Posterior, summary};
use super::values::{CauseEstimate, CauseKind, NextTest, Verdict};
use crate::quantities::Interval;
use crate::trial::Trial;
use rand::{Rng, SeedableRng};
use rand_chacha::ChaCha20Rng;
use rayon::prelude::*;

mod after;
mod factor;
mod support;

use after::{After, Functional};
use support::{Carried, Carry, OldBlocks, Supported, carried};

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
    let worth = |t: &NextTest| (t.uncertainty_before_um - t.uncertainty_after_um) / t.minutes.max(1.0);
    tests.sort_by(|a, b| worth(b).total_cmp(&worth(a)));
    tests
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
    let then = design(&candidate.trial)?;
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

/// A block that a test touches.
struct Touched<'d> {
    logged: &'d LoggedRows,
    block: &'d Block,
    new: Vec<bool>,
    centred: Vec<Centred>,
}

impl<'d> Touched<'d> {
    fn new(logged: &'d LoggedRows) -> Self {
        let new = logged.places.iter().map(|p| p.file == usize::MAX).collect();
        Self { logged, block: &logged.block, new, centred: logged.rows.centred() }
    }

    /// What its readings bring with new ones drawn at these quantities and unknowns.
    fn outcome(&self, values: &Values, unknowns: &[f64], bending: &Bending, rng: &mut ChaCha20Rng) -> ReadingSums {
        let readings = super::outcome::filled_in(&self.logged.rows, &self.new, values, unknowns, bending, rng);
        self.logged.rows.reading_sums(&self.centred, &readings)
    }
}

/// Present and expected variances of contributions, µm², and the variance after each outcome.
#[derive(Debug, Clone, PartialEq)]
struct Variances {
    before: Vec<f64>,
    after: Vec<f64>,
    outcomes: Vec<Vec<f64>>,
}

/// Expected posterior variances of the contributions of `open` causes in `setting` when the readings that `then` adds to the
/// present ones come in.
fn expected_variances(
    then: &Design,
    present: &Design,
    posterior: &Posterior,
    setting: u32,
    open: &[CauseKind],
    seed: u64,
    fineness: Fineness,
) -> Option<Variances> {
    let model = &then.model;
    let mut reference = then.references.iter().find(|r| r.main && r.setting == setting)?.clone();
    // Contributions stay those between the present ends, whatever stations the test adds.
    let asked = present.references.iter().find(|r| r.main && r.setting == setting)?;
    reference.ends = asked.ends_in(&reference.stations)?;
    let is_new = |l: &LoggedRows| l.places.iter().any(|p| p.file == usize::MAX);
    let affected: Vec<usize> = (0..then.logged.len()).filter(|b| is_new(&then.logged[*b])).collect();
    let mut rng = ChaCha20Rng::seed_from_u64(seed);
    rng.set_stream(fineness.stream);
    let picked = systematic(std::iter::repeat_n(1.0, posterior.len()), fineness.support.min(posterior.len()), rng.random());
    let old = OldBlocks::new(then, &affected);
    let carry = Carry::new(present, then);
    let drawn: Vec<Carried> = picked.iter().filter_map(|i| Some(carried(posterior.draws.get(*i)?, &carry, then, &mut rng))).collect();
    let mut together = model.bending.like::<Lanes>();
    let support: Vec<Supported> =
        drawn.chunks(SIDE_BY_SIDE).map(|draws| Supported::new(draws, then, &affected, &old, &mut together)).collect();
    let places: Vec<(usize, usize)> = (0..support.len())
        .flat_map(|g| (0..SIDE_BY_SIDE).map(move |lane| (g, lane)))
        .filter(|(g, lane)| support[*g].alive[*lane])
        .collect();
    if places.len() < fineness.support / 2 {
        return None;
    }
    let free = model.unknowns.len() - model.non_negative();
    // Contribution of each open cause.
    let functional = |s: &Supported, cause: CauseKind| {
        let of_lane = s.values.each_ref().map(|values| reference.end_functional(cause, values, model.unknowns.len()));
        let slope = |u: usize| Lanes::from_lanes(|lane| 1000.0 * of_lane[lane].1[u]);
        let positive = sum_of(s.positive.iter().enumerate().map(|(p, value)| slope(free + p) * *value));
        let fixed = Lanes::from_lanes(|lane| 1000.0 * of_lane[lane].0) + positive;
        Functional { fixed, slope: (0..free).map(slope).collect() }
    };
    let functionals: Vec<Vec<Functional>> = support.iter().map(|s| open.iter().map(|cause| functional(s, *cause)).collect()).collect();
    let now: Vec<Vec<(Lanes, Lanes)>> = support
        .iter()
        .zip(&functionals)
        .map(|(s, f)| f.iter().map(|f| (s.alive_or(f.at(&s.mean), 0.0), s.alive_or(s.factor.forward(&mut f.slope.clone()), 0.0))).collect())
        .collect();
    let share = Lanes::splat(1.0 / places.len() as f64);
    let equal: Vec<Lanes> = support.iter().map(|s| s.alive_or(share, 0.0)).collect();
    let before = (0..open.len())
        .map(|k| {
            let (within, between) = variance_of(&equal, now.iter().map(|n| n[k].0), now.iter().map(|n| n[k].1));
            within + between
        })
        .collect();

    let mut bending = model.bending.clone();
    let touched: Vec<Touched> = affected.iter().map(|b| Touched::new(&then.logged[*b])).collect();
    let brought: Vec<Vec<ReadingSums>> = (0..fineness.outcomes)
        .map(|j| {
            let (group, lane) = places[(2 * j + 1) * places.len() / (2 * fineness.outcomes)];
            let (from, values) = (&support[group], &support[group].values[lane]);
            let theta = from.draw_now(lane, &mut rng);
            bending.fill(values);
            touched.iter().map(|t| t.outcome(values, &theta, &bending, &mut rng)).collect()
        })
        .collect();
    let any: Vec<&Block> = touched.iter().map(|t| t.block).collect();
    let after: Vec<After> = support.iter().zip(&functionals).map(|(s, f)| After::new(s, f, &any, &brought, &mut together)).collect();
    let mut outcomes = Vec::with_capacity(fineness.outcomes);
    for j in 0..fineness.outcomes {
        let logs = || after.iter().map(|a| a.logs[j]);
        let largest = logs().flat_map(|log| (0..SIDE_BY_SIDE).map(move |lane| log.lane(lane))).fold(f64::NEG_INFINITY, f64::max);
        let weights: Vec<Lanes> = logs().map(|log| log.map(|log| (log - largest).exp())).collect();
        let total = sum_of(weights.iter().copied()).total();
        if total > 0.0 && total.is_finite() {
            let weights: Vec<Lanes> = weights.iter().map(|w| *w / Lanes::splat(total)).collect();
            // A weighted variance of n_eff points is too small by the factor 1 − 1/n_eff.
            let crowd = 1.0 - sum_of(weights.iter().map(|w| *w * *w)).total();
            let left = |k: usize| {
                let (within, between) = variance_of(&weights, after.iter().map(|a| a.mean(j, k)), after.iter().map(|a| a.variance[k]));
                within + between / crowd.max(0.2)
            };
            outcomes.push((0..open.len()).map(left).collect::<Vec<f64>>());
        }
    }
    if outcomes.is_empty() {
        return None;
    }
    let expected = (0..open.len()).map(|k| outcomes.iter().map(|v| v[k]).sum::<f64>() / outcomes.len() as f64).collect();
    Some(Variances { before, after: expected, outcomes })
}

/// Variance of a mixture, in its two parts: the mean of the components' variances, and the variance of their means.
fn variance_of(weights: &[Lanes], means: impl Iterator<Item = Lanes> + Clone, variances: impl Iterator<Item = Lanes>) -> (f64, f64) {
    let first = Lanes::splat(sum_of(weights.iter().zip(means.clone()).map(|(w, mean)| *w * mean)).total());
    let within = sum_of(weights.iter().zip(variances).map(|(w, variance)| *w * variance));
    let between = sum_of(weights.iter().zip(means).map(|(w, mean)| *w * (mean - first) * (mean - first)));
    (within.total(), between.total())
}

#[cfg(test)]
mod tests {
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
