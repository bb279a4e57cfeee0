//! Expected variances over outcomes that a test might have.

use super::super::bending::Bending;
use super::super::block::{Block, Centred, ReadingSums};
use super::super::design::{Design, LoggedRows};
use super::super::draws::systematic;
use super::super::hyper::Values;
use super::super::lanes::{Lanes, Number, SIDE_BY_SIDE, sum_of};
use super::super::outcome::filled_in;
use super::super::posterior::Posterior;
use super::super::values::CauseKind;
use super::Fineness;
use super::after::{After, Functional};
use super::support::{Carried, Carry, OldBlocks, Supported, carried};
use rand::{Rng, SeedableRng};
use rand_chacha::ChaCha20Rng;

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
    fn outcome(&self, values: &Values, unknowns: &[f64], bending: &Bending, rng: &mut ChaCha20Rng) -> Option<ReadingSums> {
        let readings = filled_in(&self.logged.rows, &self.new, values, unknowns, bending, rng)?;
        Some(self.logged.rows.reading_sums(&self.centred, &readings))
    }
}

/// Present and expected variances of contributions, µm², and the variance after each outcome.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Variances {
    pub(super) before: Vec<f64>,
    pub(super) after: Vec<f64>,
    pub(super) outcomes: Vec<Vec<f64>>,
}

/// Expected posterior variances of the contributions of `open` causes in `setting` when the readings that `then` adds to the
/// present ones come in.
pub(super) fn expected_variances(
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
        .filter_map(|j| {
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
    for j in 0..brought.len() {
        let logs = || after.iter().map(|a| a.logs[j]);
        let largest = logs().flat_map(|log| (0..SIDE_BY_SIDE).map(move |lane| log.lane(lane))).fold(f64::NEG_INFINITY, f64::max);
        let weights: Vec<Lanes> = logs().map(|log| log.map(|log| (log - largest).exp())).collect();
        let total = sum_of(weights.iter().copied()).total();
        // The largest weight is 1; where no point has one at all, nothing is a number.
        if total.is_finite() {
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
