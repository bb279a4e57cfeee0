//! Tests that the user could still make, each with the uncertainty that it would leave.
//!
//! The root of the **expected** posterior variance over outcomes drawn from the present posterior. Support points are draws of the present
//! posterior (what is integrated numerically, subset, unknowns that cannot be negative); given one of them everything else is normal, so the
//! posterior after an outcome is the support weighed by the outcome's predictive density, each point with its exact normal mean and variance.

use super::bending::Bending;
use super::block::Block;
use super::candidates::{Candidate, candidates};
use super::design::{Design, LoggedRows, design};
use super::draws::{standard_normal, systematic};
use super::hyper::{Hyper, Values};
use super::posterior::{Draw, Posterior};
use super::symmetric::Symmetric;
use super::unknowns::{Meaning, NEGLIGIBLE};
use super::values::{CauseEstimate, CauseKind, NextTest, Verdict};
use crate::quantities::Interval;
use crate::trial::Trial;
use nalgebra::{Cholesky, DMatrix, DVector, Dyn};
use rand::{Rng, SeedableRng};
use rand_chacha::ChaCha20Rng;
use rayon::prelude::*;

/// Support points.
const SUPPORT: usize = 192;
/// Outcomes.
const OUTCOMES: usize = 16;
/// A test settles a cause when its standard uncertainty shrinks to at most this share.
const SETTLES: f64 = 0.75;

/// One support point in the model of the trial with the test added.
struct Supported {
    values: Values,
    /// Prior standard deviations of the unknowns in its subset.
    sd: Vec<f64>,
    /// Unknowns that cannot be negative, at their places at the end.
    positive: Vec<f64>,
    /// Normal equations of all blocks that the test leaves alone.
    base: Symmetric,
    base_log: f64,
    /// Log evidence of the present readings.
    log_now: f64,
    /// Posterior of the other unknowns by the present readings: mean and factor of the precision.
    now: (DVector<f64>, Cholesky<f64, Dyn>),
}

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
    let variances = expected_variances(&candidate.trial, present, posterior, setting, open, seed)?;
    let settled: Vec<usize> = (0..open.len()).filter(|k| variances.after[*k] < SETTLES * SETTLES * variances.before[*k]).collect();
    if settled.is_empty() {
        return None;
    }
    let root = |v: &[f64]| settled.iter().map(|k| v[*k]).sum::<f64>().sqrt();
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

/// Present and expected variances of contributions, µm², and the variance after each outcome.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Variances {
    pub(super) before: Vec<f64>,
    pub(super) after: Vec<f64>,
    pub(super) outcomes: Vec<Vec<f64>>,
}

/// Expected posterior variances of the contributions of `open` causes in `setting` when the readings added in `augmented` come in.
pub(super) fn expected_variances(
    augmented: &Trial,
    present: &Design,
    posterior: &Posterior,
    setting: u32,
    open: &[CauseKind],
    seed: u64,
) -> Option<Variances> {
    let then = design(augmented)?;
    let model = &then.model;
    let mut reference = then.references.iter().find(|r| r.main && r.setting == setting)?.clone();
    // Contributions stay those between the present ends, whatever stations the test adds.
    let asked = present.references.iter().find(|r| r.main && r.setting == setting)?;
    reference.ends = asked.ends_in(&reference.stations)?;
    let is_new = |l: &LoggedRows| l.places.iter().any(|p| p.file == usize::MAX);
    let affected: Vec<usize> = (0..then.logged.len()).filter(|b| is_new(&then.logged[*b])).collect();
    let mut rng = ChaCha20Rng::seed_from_u64(seed);
    rng.set_stream(u64::MAX - 2);
    let picked = systematic(std::iter::repeat_n(1.0, posterior.len()), SUPPORT.min(posterior.len()), rng.random());
    let old = OldBlocks::new(&then, &affected);
    let support: Vec<Supported> =
        picked.iter().filter_map(|i| supported(&posterior.draws[*i], present, &then, &affected, &old, &mut rng)).collect();
    if support.len() < SUPPORT / 2 {
        return None;
    }
    let free = model.unknowns.len() - model.non_negative();
    // Contribution of each open cause: what a support point fixes, and a functional of the other unknowns.
    let functionals: Vec<Vec<(f64, DVector<f64>)>> = support
        .iter()
        .map(|s| {
            open.iter()
                .map(|cause| {
                    let mut unknowns = vec![0.0; model.unknowns.len()];
                    unknowns[free..].copy_from_slice(&s.positive);
                    let fixed = 1000.0 * reference.end_difference(&reference.curve(*cause, &s.values, &unknowns));
                    let slope = DVector::from_fn(free, |u, _| {
                        if model.unknowns[u].meaning.cause() != Some(*cause) {
                            return 0.0;
                        }
                        let mut unit = vec![0.0; model.unknowns.len()];
                        unit[free..].copy_from_slice(&s.positive);
                        unit[u] = 1.0;
                        1000.0 * reference.end_difference(&reference.curve(*cause, &s.values, &unit)) - fixed
                    });
                    (fixed, slope)
                })
                .collect()
        })
        .collect();
    let moments = |weights: &[f64], mean: &[Vec<f64>], variance: &[Vec<f64>]| -> Vec<f64> {
        (0..open.len())
            .map(|k| {
                let first: f64 = weights.iter().zip(mean).map(|(w, m)| w * m[k]).sum();
                weights.iter().zip(mean).zip(variance).map(|((w, m), v)| w * (v[k] + (m[k] - first).powi(2))).sum()
            })
            .collect()
    };
    let equal = vec![1.0 / support.len() as f64; support.len()];
    let now_mean: Vec<Vec<f64>> =
        support.iter().zip(&functionals).map(|(s, f)| f.iter().map(|(c, g)| c + g.dot(&s.now.0)).collect()).collect();
    let now_variance: Vec<Vec<f64>> =
        support.iter().zip(&functionals).map(|(s, f)| f.iter().map(|(_, g)| g.dot(&s.now.1.solve(g))).collect()).collect();
    let before = moments(&equal, &now_mean, &now_variance);

    let mut bending = model.bending.clone();
    let outcome_blocks: Vec<Vec<Block>> = (0..OUTCOMES)
        .map(|j| {
            let from = &support[(2 * j + 1) * support.len() / (2 * OUTCOMES)];
            let theta = draw_now(from, &mut rng);
            bending.fill(&from.values);
            affected
                .iter()
                .map(|b| {
                    let mut rows = then.logged[*b].rows.clone();
                    let new: Vec<bool> = then.logged[*b].places.iter().map(|p| p.file == usize::MAX).collect();
                    super::outcome::fill_in(&mut rows, &new, &from.values, &theta, &bending, &mut rng);
                    rows.reduce()
                })
                .collect()
        })
        .collect();
    let after: Vec<Option<After>> =
        support.iter().zip(&functionals).map(|(s, f)| After::new(s, f, &outcome_blocks, &mut bending)).collect();
    let mut outcomes = Vec::with_capacity(OUTCOMES);
    for j in 0..OUTCOMES {
        let logs: Vec<f64> = after.iter().map(|a| a.as_ref().map_or(f64::NEG_INFINITY, |a| a.logs[j])).collect();
        let mean: Vec<Vec<f64>> = after.iter().map(|a| a.as_ref().map_or_else(|| vec![0.0; open.len()], |a| a.means[j].clone())).collect();
        let variance: Vec<Vec<f64>> =
            after.iter().map(|a| a.as_ref().map_or_else(|| vec![0.0; open.len()], |a| a.variance.clone())).collect();
        let largest = logs.iter().copied().fold(f64::NEG_INFINITY, f64::max);
        let weights: Vec<f64> = logs.iter().map(|l| (l - largest).exp()).collect();
        let total: f64 = weights.iter().sum();
        if total > 0.0 && total.is_finite() {
            let weights: Vec<f64> = weights.iter().map(|w| w / total).collect();
            // A weighted variance of n_eff points is too small by the factor 1 − 1/n_eff.
            let crowd: f64 = 1.0 - weights.iter().map(|w| w * w).sum::<f64>();
            let within: Vec<f64> = (0..open.len()).map(|k| weights.iter().zip(&variance).map(|(w, v)| w * v[k]).sum()).collect();
            let whole = moments(&weights, &mean, &variance);
            outcomes.push((0..open.len()).map(|k| within[k] + (whole[k] - within[k]) / crowd.max(0.2)).collect::<Vec<f64>>());
        }
    }
    if outcomes.is_empty() {
        return None;
    }
    let expected = (0..open.len()).map(|k| outcomes.iter().map(|v| v[k]).sum::<f64>() / outcomes.len() as f64).collect();
    Some(Variances { before, after: expected, outcomes })
}

/// The present blocks in the unknowns of the augmented model that are replaced by affected ones.
struct OldBlocks {
    replaced: Vec<(usize, Block)>,
}

impl OldBlocks {
    /// An affected block without its new readings, where it had any before.
    fn new(then: &Design, affected: &[usize]) -> Self {
        let replaced = affected
            .iter()
            .filter_map(|b| {
                let logged = &then.logged[*b];
                let keep: Vec<usize> = (0..logged.places.len()).filter(|i| logged.places[*i].file != usize::MAX).collect();
                (!keep.is_empty()).then(|| (*b, super::outcome::only(&logged.rows, &keep).reduce()))
            })
            .collect();
        Self { replaced }
    }
}

/// Carries a draw over to the augmented model.
fn supported(
    draw: &Draw,
    present: &Design,
    then: &Design,
    affected: &[usize],
    old: &OldBlocks,
    rng: &mut ChaCha20Rng,
) -> Option<Supported> {
    let model = &then.model;
    let values = carried_values(draw, present, then, rng);
    let mut sd = Vec::with_capacity(model.unknowns.len());
    let mut fresh: Vec<(usize, bool)> = Vec::new();
    for unknown in &model.unknowns {
        let Some(flag) = unknown.flag else {
            sd.push(unknown.sd);
            continue;
        };
        let before = present.model.unknowns.iter().find(|u| same(&u.meaning, &unknown.meaning)).and_then(|u| u.flag);
        let full = match before {
            Some(before) => draw.subset >> before & 1 == 1,
            None => match fresh.iter().find(|(f, _)| *f == flag) {
                Some((_, full)) => *full,
                None => {
                    let full = rng.random::<f64>() < model.presence;
                    fresh.push((flag, full));
                    full
                }
            },
        };
        sd.push(if full { unknown.sd } else { unknown.sd * NEGLIGIBLE });
    }
    let free = model.unknowns.len() - model.non_negative();
    let positive: Vec<f64> = (free..model.unknowns.len())
        .map(|u| {
            let carried = present.model.unknowns.iter().position(|p| p.meaning == model.unknowns[u].meaning);
            carried.map_or_else(|| (sd[u] * standard_normal(rng)).abs(), |p| draw.unknowns[p])
        })
        .collect();
    let mut bending = model.bending.clone();
    bending.fill(&values);
    let mut local = Symmetric::zeros(0);
    let mut base = Symmetric::zeros(model.unknowns.len() + 1);
    let mut base_log = 0.0;
    for (b, block) in model.blocks.iter().enumerate() {
        if !affected.contains(&b) {
            base_log += block.add_to(&values, &bending, &mut base, &mut local);
        }
    }
    let mut whole = base.clone();
    let mut log = base_log;
    for (_, block) in &old.replaced {
        log += block.add_to(&values, &bending, &mut whole, &mut local);
    }
    let (factor, determinant) = factor_of(&whole, &sd, positive.len())?;
    let (right, rest) = right_side(&whole, sd.len(), &positive);
    let mean = factor.solve(&right);
    let log_now = log + determinant - 0.5 * (rest - right.dot(&mean));
    Some(Supported { log_now, now: (mean, factor), values, sd, positive, base, base_log })
}

/// Whether two unknowns share a presence; curves of worn ways differ between designs but share theirs.
fn same(a: &Meaning, b: &Meaning) -> bool {
    matches!((a, b), (Meaning::WayWear { .. }, Meaning::WayWear { .. })) || a == b
}

/// The quantities of a draw in the augmented design; those that are new come from their priors.
fn carried_values(draw: &Draw, present: &Design, then: &Design, rng: &mut ChaCha20Rng) -> Values {
    let name = |design: &Design, kind: &Hyper| match kind {
        Hyper::Noise { index, .. } => design.noise_names.get(*index).cloned().unwrap_or_default(),
        Hyper::RollArm { .. } => "roll arm".to_string(),
        Hyper::MoveGain { .. } => "gain".to_string(),
        Hyper::Force { .. } => "force".to_string(),
        Hyper::ForceToTailstock => "force to tailstock".to_string(),
        Hyper::ChuckTilt { .. } => "tilt".to_string(),
        Hyper::HeadstockCentre { .. } => "headstock".to_string(),
        Hyper::TailstockCentre { .. } => "tailstock".to_string(),
        Hyper::SlopeSpread => "slope".to_string(),
        Hyper::BarrelSpread => "barrel".to_string(),
    };
    let known: Vec<String> = present.model.hypers.kinds.iter().map(|k| name(present, k)).collect();
    let x: Vec<f64> = then
        .model
        .hypers
        .kinds
        .iter()
        .map(|kind| {
            let own = name(then, kind);
            let place = known.iter().position(|k| *k == own);
            place.and_then(|p| draw.deviates.get(p)).copied().unwrap_or_else(|| standard_normal(rng))
        })
        .collect();
    then.model.hypers.values(&x)
}

/// A support point after the test, for every outcome.
struct After {
    /// Variance of each open cause's contribution: the same whatever comes out.
    variance: Vec<f64>,
    /// By outcome: log of its predictive density, up to a constant common to all support points.
    logs: Vec<f64>,
    /// By outcome: mean of each open cause's contribution.
    means: Vec<Vec<f64>>,
}

impl After {
    /// The precision depends on the support point alone: it is factored once, and outcomes change the right side only.
    fn new(s: &Supported, functionals: &[(f64, DVector<f64>)], outcomes: &[Vec<Block>], bending: &mut Bending) -> Option<Self> {
        let mut joint = s.base.clone();
        let mut local = Symmetric::zeros(0);
        bending.fill(&s.values);
        let mut log = s.base_log;
        for block in outcomes.first()? {
            log += block.add_to(&s.values, bending, &mut joint, &mut local);
        }
        let (factor, determinant) = factor_of(&joint, &s.sd, s.positive.len())?;
        let variance = functionals.iter().map(|(_, g)| if g.amax() == 0.0 { 0.0 } else { g.dot(&factor.solve(g)) }).collect();
        let (mut logs, mut means) = (Vec::with_capacity(outcomes.len()), Vec::with_capacity(outcomes.len()));
        for (j, blocks) in outcomes.iter().enumerate() {
            if j > 0 {
                joint.copy_last_row(&s.base);
                for block in blocks {
                    block.add_readings_to(&s.values, bending, &mut joint, &mut local);
                }
            }
            let (right, rest) = right_side(&joint, s.sd.len(), &s.positive);
            let solved = factor.solve(&right);
            logs.push(log + determinant - 0.5 * (rest - right.dot(&solved)) - s.log_now);
            means.push(functionals.iter().map(|(fixed, g)| fixed + g.dot(&solved)).collect());
        }
        Some(Self { variance, logs, means })
    }
}

/// Factor of the precision of the unknowns that may be negative, priors added, and `−½ ln det − Σ ln sd`.
fn factor_of(joint: &Symmetric, sd: &[f64], positive: usize) -> Option<(Cholesky<f64, Dyn>, f64)> {
    let free = sd.len() - positive;
    let precision = DMatrix::from_fn(free, free, |a, b| joint.get(a, b) + if a == b { sd[a].powi(-2) } else { 0.0 });
    let factor = precision.cholesky()?;
    let log = factor.l_dirty().diagonal().iter().zip(sd).map(|(d, s)| -(d * s).ln()).sum();
    Some((factor, log))
}

/// Right side and rest of the joint equations (`last` unknowns) given those that cannot be negative.
fn right_side(joint: &Symmetric, last: usize, positive: &[f64]) -> (DVector<f64>, f64) {
    let free = last - positive.len();
    let right = DVector::from_fn(free, |a, _| {
        joint.get(last, a) - positive.iter().enumerate().map(|(p, v)| joint.get(a, free + p) * v).sum::<f64>()
    });
    let mut rest = joint.get(last, last);
    for (p, v) in positive.iter().enumerate() {
        rest -= 2.0 * v * joint.get(last, free + p);
        for (q, w) in positive.iter().enumerate() {
            rest += v * w * joint.get(free + p, free + q);
        }
    }
    (right, rest)
}

/// A draw of all unknowns by the present readings at a support point.
fn draw_now(s: &Supported, rng: &mut ChaCha20Rng) -> Vec<f64> {
    let (mean, factor) = &s.now;
    let normals = DVector::from_fn(mean.len(), |_, _| standard_normal(rng));
    let step = factor.l_dirty().tr_solve_lower_triangular(&normals).unwrap_or_else(|| DVector::zeros(mean.len()));
    (mean + step).iter().copied().chain(s.positive.iter().copied()).collect()
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
            expected_variances(&candidate.trial, &present, &posterior, 0, &open, 1).expect("a forecast")
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
