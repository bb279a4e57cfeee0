//! Integration over what the model is not linear in, by importance sampling with exact weights.
//!
//! The target is the sum over subsets of causes of prior, likelihood and the standard normal prior of the deviates. Points come from
//! heavy-tailed proposals (t, 6 degrees of freedom): first at the mode with the curvature there and as wide as the prior, then matched to the
//! moments of the sum and of each subset that lies elsewhere; all points are weighed by the mixture of all proposals (E. Veach & L. Guibas, 1995;
//! adaptive multiple importance sampling, J.-M. Cornuet et al., Scand. J. Stat. 39 (2012) 798–812). The prior's component bounds the weights where
//! the others do not reach (a defensive mixture: T. Hesterberg, Technometrics 37 (1995) 185–194). Every subset is weighed at every point.

use super::lanes::{Lanes, Number, SIDE_BY_SIDE};
use super::model::{Model, Reduced, Uniforms, Workspace};
use super::pareto::tail_shape;
use super::proposal::Proposal;
use nalgebra::{DMatrix, DVector};
use rand::{Rng, SeedableRng};
use rand_chacha::ChaCha20Rng;
use rayon::prelude::*;

#[cfg(test)]
mod by_hand;
mod mode;
#[cfg(test)]
mod stages;

use mode::{Target, climb, inverse_curvature};

/// Points at the mode, and as many as wide as the prior, in the first stage.
const FIRST_STAGE: usize = 320;
/// Points matched to moments in each later stage: few, since what the first of them say matches the next ones better.
const LATER_STAGE: usize = 600;
/// Stages that begin with points matched to moments.
const MATCHED_STAGES: usize = 5;
/// Factor of matched covariances: a proposal wider than its target costs few points, a narrower one makes heavy tails.
const WIDENED: f64 = 1.3;
/// Points at the mode of a subset whose own weights are heavy-tailed.
const SUBSET_STAGE: usize = 192;
/// Such subsets at most in one stage.
const MOST_SUBSETS: usize = 8;
/// Stages at most, where the tail of the weights stays heavy.
const MOST_STAGES: usize = 7;
/// Subsets below this share are left to the common proposals: they are weighed as all others, but get no proposal of their own.
const COUNTS: f64 = 0.005;
/// Above this share the tail of a subset's own weights is judged like that of the sum.
const JUDGED: f64 = 0.05;
/// Above this the tail of the weights is too heavy.
pub(super) const HEAVY_TAIL: f64 = 0.7;
/// Points keep what the readings say there for up to this many unknowns, some kilobytes each; beyond, draws work it out again.
const KEPT_UNKNOWNS: usize = 24;
/// Subsets with a larger share than this get a proposal of their own when they lie elsewhere.
const OWN_PROPOSAL: f64 = 0.01;

/// One weighted point.
#[derive(Debug, Clone)]
pub(super) struct Point {
    /// Deviates.
    pub(super) x: DVector<f64>,
    /// Uniforms of the sequential simulator.
    pub(super) uniforms: Vec<f64>,
    /// What the readings say there, for draws; `None` beyond [`KEPT_UNKNOWNS`].
    pub(super) reduced: Option<Reduced>,
    /// Log weight of all subsets together with the deviates' prior, before division by the proposal.
    log_target: f64,
    /// What part of it each subset has.
    part: Vec<f64>,
    /// Density of each proposal so far, up to a factor common to all.
    densities: Vec<f64>,
    /// Weight of the point; over all points they add up to 1.
    weight: f64,
}

impl Point {
    /// Posterior share of each subset at this point; over all points and subsets they add up to 1.
    pub(super) fn shares(&self) -> impl Iterator<Item = f64> + Clone + '_ {
        self.part.iter().map(|part| self.weight * part)
    }

    /// Posterior share of one subset.
    fn share(&self, subset: usize) -> f64 {
        self.part.get(subset).map_or(0.0, |part| self.weight * part)
    }

    /// Log weight of one subset.
    fn log_target_of(&self, subset: usize) -> f64 {
        self.log_target + self.part.get(subset).map_or(f64::NEG_INFINITY, |part| part.ln())
    }
}

/// The weighted points.
#[derive(Debug, Clone)]
pub(super) struct Integration {
    /// The points.
    pub(super) points: Vec<Point>,
    /// Posterior probability of each subset.
    pub(super) subset_probability: Vec<f64>,
    /// Largest Pareto shape over the sum and every subset with a share above 0.05 (all subsets are weighed, none is dropped).
    pub(super) pareto_k: Option<f64>,
    /// Effective number of points, `(Σw)²/Σw²`.
    pub(super) effective_points: f64,
}

fn log_sum(values: &[f64]) -> f64 {
    let largest = values.iter().copied().fold(f64::NEG_INFINITY, f64::max);
    if largest == f64::NEG_INFINITY { largest } else { largest + values.iter().map(|v| (v - largest).exp()).sum::<f64>().ln() }
}

/// The log target of one subset at the points `x` (one a lane), whose readings say `reduced`, or of all together and then their parts of it in
/// `out`.
fn log_target<T: Number>(
    model: &Model,
    only: Option<usize>,
    x: &[&[f64]],
    reduced: &Reduced<T>,
    uniforms: &[Uniforms],
    workspace: &mut Workspace<T>,
    out: &mut [T],
) -> T {
    model.log_weights(only, reduced, uniforms, workspace, out);
    let prior = T::from_lanes(|lane| -0.5 * x[lane].iter().map(|v| v * v).sum::<f64>());
    if let Some(only) = only {
        let value = out.get(only).copied().unwrap_or(T::splat(f64::NAN)) + prior;
        return value.map(|value| if value.is_nan() { f64::NEG_INFINITY } else { value });
    }
    // A number out of range counts for nothing.
    let largest = T::from_lanes(|lane| out.iter().map(|v| v.lane(lane)).filter(|v| !v.is_nan()).fold(f64::NEG_INFINITY, f64::max));
    let mut total = T::ZERO;
    for part in out.iter_mut() {
        *part = T::from_lanes(|lane| {
            let (part, largest) = (part.lane(lane), largest.lane(lane));
            if part.is_nan() || !largest.is_finite() { 0.0 } else { (part - largest).exp() }
        });
        total += *part;
    }
    T::from_lanes(|lane| {
        if !largest.lane(lane).is_finite() {
            return f64::NEG_INFINITY;
        }
        prior.lane(lane) + largest.lane(lane) + total.lane(lane).ln()
    })
}

/// Weighted points of the posterior; the same for the same model and seed, whatever the number of threads.
pub(super) fn integrate(model: &Model, seed: u64) -> Integration {
    let n = model.hypers.len();
    let mut target = Target::new(model, None);
    let centre = climb(&mut target, DVector::zeros(n), DMatrix::identity(n, n), 40);
    let scale = inverse_curvature(&mut target, &centre);
    let mut rng = ChaCha20Rng::seed_from_u64(seed);
    let shifts: Vec<f64> = (0..n + 3).map(|_| rng.random()).collect();
    let at_mode = Proposal::new(centre.clone(), scale.clone()).or_else(|| Proposal::new(centre, DMatrix::identity(n, n)));
    let as_prior = Proposal::new(DVector::zeros(n), DMatrix::identity(n, n));
    let mut proposals: Vec<(Proposal, usize)> = at_mode.into_iter().chain(as_prior).map(|p| (p, FIRST_STAGE)).collect();
    let mut points = Vec::new();
    let mut used = 0;
    add_points(model, seed, &proposals, &shifts, &mut used, &mut points);
    let mut result = weigh(points, &proposals);
    let mut done: Vec<usize> = Vec::new();
    for stage in 1..MOST_STAGES {
        let mut fresh = if stage <= MATCHED_STAGES { matched(&result, &scale, LATER_STAGE) } else { Vec::new() };
        // Points matched to moments reach most subsets; only what they leave in the tails gets its own.
        if stage > 1 {
            fresh.extend(at_subset_modes(model, &result, &scale, &mut done));
        }
        if fresh.is_empty() {
            break;
        }
        let mut points = result.points;
        add_points(model, seed, &fresh, &shifts, &mut used, &mut points);
        proposals.extend(fresh);
        result = weigh(points, &proposals);
        if result.pareto_k.is_none_or(|k| k < HEAVY_TAIL) && result.effective_points > 300.0 {
            break;
        }
    }
    result
}

/// Proposals at the modes of subsets that count and whose own weights have a heavy tail; `done` remembers them.
fn at_subset_modes(model: &Model, result: &Integration, scale: &DMatrix<f64>, done: &mut Vec<usize>) -> Vec<(Proposal, usize)> {
    let mut heavy: Vec<(usize, f64)> = result
        .subset_probability
        .par_iter()
        .copied()
        .enumerate()
        .filter(|(subset, share)| *share > COUNTS && !done.contains(subset))
        .filter(|(subset, _)| subset_tail(&result.points, *subset).is_some_and(|k| k >= HEAVY_TAIL))
        .collect();
    heavy.sort_by(|a, b| b.1.total_cmp(&a.1).then(a.0.cmp(&b.0)));
    heavy.truncate(MOST_SUBSETS);
    done.extend(heavy.iter().map(|(subset, _)| *subset));
    heavy
        .into_par_iter()
        .filter_map(|(subset, _)| {
            let best = result.points.iter().max_by(|a, b| a.log_target_of(subset).total_cmp(&b.log_target_of(subset)))?;
            let centre = climb(&mut Target::new(model, Some(subset)), best.x.clone(), scale.clone(), 12);
            Some((Proposal::new(centre, scale.clone())?, SUBSET_STAGE))
        })
        .collect()
}

/// Pareto shape of one subset's own weights.
fn subset_tail(points: &[Point], subset: usize) -> Option<f64> {
    tail_shape(&points.iter().map(|p| p.share(subset)).collect::<Vec<f64>>())
}

fn add_points(model: &Model, seed: u64, proposals: &[(Proposal, usize)], shifts: &[f64], used: &mut u64, points: &mut Vec<Point>) {
    for (proposal, count) in proposals {
        let start = *used;
        *used += *count as u64;
        let indices: Vec<u64> = (start..*used).collect();
        let together = indices.par_chunks(SIDE_BY_SIDE).with_min_len(64 / SIDE_BY_SIDE);
        points.par_extend(
            together
                .map_init(|| model.workspace::<Lanes>(), |workspace, some| points_at(model, seed, proposal, shifts, some, workspace))
                .flatten_iter(),
        );
    }
}

/// The points with the numbers `indices`, at most as many as lanes, not yet weighed.
fn points_at(
    model: &Model,
    seed: u64,
    proposal: &Proposal,
    shifts: &[f64],
    indices: &[u64],
    workspace: &mut Workspace<Lanes>,
) -> Vec<Point> {
    let positive = model.non_negative();
    let uniforms = |index: u64| -> Vec<f64> {
        if positive <= 2 {
            return Vec::new();
        }
        let mut rng = ChaCha20Rng::seed_from_u64(seed);
        rng.set_stream(index + 1);
        (0..positive).map(|_| rng.random()).collect()
    };
    let places: Vec<(DVector<f64>, Vec<f64>)> = indices.iter().map(|index| (proposal.point(*index, shifts), uniforms(*index))).collect();
    // Lanes beyond the last point do its work again.
    let of_lane: [&(DVector<f64>, Vec<f64>); SIDE_BY_SIDE] = std::array::from_fn(|lane| &places[lane.min(places.len() - 1)]);
    let mut part = vec![Lanes::ZERO; model.subsets()];
    let reduced = model.reduced(Lanes::at(|lane| model.hypers.values(of_lane[lane].0.as_slice())), workspace);
    let x = of_lane.map(|(x, _)| x.as_slice());
    let log_target = log_target(model, None, &x, &reduced, &of_lane.map(|(_, own)| own.as_slice()), workspace, &mut part);
    let keeps = model.unknowns.len() <= KEPT_UNKNOWNS;
    places
        .into_iter()
        .enumerate()
        .map(|(lane, (x, uniforms))| {
            let total: f64 = part.iter().map(|part| part.lane(lane)).sum();
            Point {
                x,
                uniforms,
                reduced: keeps.then(|| reduced.lane(lane)),
                log_target: log_target.lane(lane),
                part: part.iter().map(|part| if total > 0.0 { part.lane(lane) / total } else { 0.0 }).collect(),
                densities: Vec::new(),
                weight: 0.0,
            }
        })
        .collect()
}

/// Weighs all points by the mixture of all proposals.
fn weigh(mut points: Vec<Point>, proposals: &[(Proposal, usize)]) -> Integration {
    let total: usize = proposals.iter().map(|(_, n)| n).sum();
    let shares: Vec<f64> = proposals.iter().map(|(_, n)| *n as f64 / total as f64).collect();
    let log_weight: Vec<f64> = points
        .par_iter_mut()
        .with_min_len(64)
        .map_init(Vec::new, |white, point| {
            let Point { x, densities, .. } = point;
            densities.extend(proposals.iter().skip(densities.len()).map(|(q, _)| q.density(x, white)));
            point.log_target - densities.iter().zip(&shares).map(|(density, share)| share * density).sum::<f64>().ln()
        })
        .collect();
    let log_total = log_sum(&log_weight);
    let subsets = points.first().map_or(0, |p| p.part.len());
    let mut subset_probability = vec![0.0; subsets];
    let weights: Vec<f64> = log_weight.iter().map(|w| (w - log_total).exp()).collect();
    for (point, weight) in points.iter_mut().zip(&weights) {
        point.weight = *weight;
        subset_probability.iter_mut().zip(point.shares()).for_each(|(sum, share)| *sum += share);
    }
    let squares: f64 = weights.iter().map(|w| w * w).sum();
    let mut pareto_k = tail_shape(&weights);
    for (subset, probability) in subset_probability.iter().enumerate() {
        if *probability > JUDGED {
            pareto_k = match (pareto_k, subset_tail(&points, subset)) {
                (Some(a), Some(b)) => Some(a.max(b)),
                (a, b) => a.or(b),
            };
        }
    }
    Integration { points, subset_probability, pareto_k, effective_points: if squares > 0.0 { 1.0 / squares } else { 0.0 } }
}

/// Proposals matched to the moments of the weighted points, in all and of subsets that lie elsewhere.
fn matched(result: &Integration, fallback: &DMatrix<f64>, count: usize) -> Vec<(Proposal, usize)> {
    let all: Vec<f64> = result.points.iter().map(|p| p.shares().sum()).collect();
    let Some(main) = moments(&result.points, &all, fallback).and_then(|(mean, cov)| Proposal::new(mean, cov * WIDENED)) else {
        return Vec::new();
    };
    let mut order: Vec<usize> = (0..result.subset_probability.len()).filter(|s| result.subset_probability[*s] > OWN_PROPOSAL).collect();
    order.sort_by(|a, b| result.subset_probability[*b].total_cmp(&result.subset_probability[*a]).then(a.cmp(b)));
    let mut others: Vec<Proposal> = Vec::new();
    order.truncate(12);
    let own: Vec<_> = order
        .into_par_iter()
        .map(|subset| moments(&result.points, &result.points.iter().map(|p| p.share(subset)).collect::<Vec<f64>>(), fallback))
        .collect();
    for (mean, cov) in own.into_iter().flatten() {
        let near = |p: &Proposal| (&p.centre - &mean).component_div(&cov.diagonal().map(f64::sqrt)).amax() < 1.0;
        if !near(&main) && !others.iter().any(near) && others.len() < 5 {
            others.extend(Proposal::new(mean, cov * WIDENED));
        }
    }
    let own = if others.is_empty() { count } else { count / 2 };
    let each = (count - own) / others.len().max(1);
    std::iter::once((main, own)).chain(others.into_iter().map(|p| (p, each))).collect()
}

/// Weighted mean and covariance, the latter drawn towards `fallback` as if that were ten points.
fn moments(points: &[Point], weights: &[f64], fallback: &DMatrix<f64>) -> Option<(DVector<f64>, DMatrix<f64>)> {
    let total: f64 = weights.iter().sum();
    let squares: f64 = weights.iter().map(|w| w * w).sum();
    let n = points.first()?.x.len();
    if total <= 0.0 || total.is_nan() {
        return None;
    }
    let mut mean = DVector::zeros(n);
    for (point, w) in points.iter().zip(weights) {
        mean.axpy(w / total, &point.x, 1.0);
    }
    let mut cov = DMatrix::zeros(n, n);
    let mut d = DVector::zeros(n);
    for (point, w) in points.iter().zip(weights) {
        d.copy_from(&point.x);
        d -= &mean;
        cov.ger(w / total, &d, &d, 1.0);
    }
    let effective = total * total / squares;
    let trust = effective / (effective + 10.0);
    Some((mean, cov * trust + fallback * (1.0 - trust)))
}
