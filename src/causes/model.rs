//! The joint model of a trial and its exact algebra given what is integrated numerically.
//!
//! Given roll arm, gain, force, compliances, noise and spreads the unknowns `θ` have a normal likelihood with precision `A` and right side
//! `b`. Each cause's prior is a mixture of a negligible and a full normal (half-normal where it cannot be negative), so the posterior is a
//! mixture over the `2^k` subsets of full causes; the weight of each is
//! `Π presence · Π(sd_j √pivot_j)⁻¹ · exp(−½ rest) · 2ⁿ P(θ⁺ > 0)`, where pivots and rest come from eliminating `θ` in order. Causes are
//! eliminated in a tree, so all subsets together cost little more than one.

use super::bending::Bending;
use super::block::{Block, Local};
use super::hyper::Hypers;
use super::lanes::{At, Number};
use super::normal::log_distribution;
use super::orthant::{log_quadrant, sequential_draw};
use super::symmetric::Symmetric;
use super::unknowns::{NEGLIGIBLE, Unknown};

#[cfg(test)]
mod against_dense;
mod drawn;
#[cfg(test)]
mod subsets_by_hand;
#[cfg(test)]
mod together;

pub(super) use drawn::Source;
use drawn::mean_and_factor;

/// Everything that the estimate needs of a trial.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Model {
    /// Nuisances, then causes by presence, those that cannot be negative last.
    pub(super) unknowns: Vec<Unknown>,
    /// Number of presences `k`.
    pub(super) flags: usize,
    /// Prior probability of each presence.
    pub(super) presence: f64,
    /// What is integrated numerically.
    pub(super) hypers: Hypers,
    /// The readings.
    pub(super) blocks: Vec<Block>,
    /// Table of what bending leaves.
    pub(super) bending: Bending,
}

/// Scratch space of one thread.
#[derive(Debug, Clone)]
pub(super) struct Workspace<T = f64> {
    bending: Bending<T>,
    local: Local<T>,
    stack: Vec<Symmetric<T>>,
}

/// What the readings say at one point of the deviates, or at as many as there are lanes.
#[derive(Debug, Clone)]
pub(super) struct Reduced<T: Number = f64> {
    /// The quantities there.
    pub(super) values: T::Point,
    /// Normal equations, nuisances eliminated: their rows stay as they were when each was.
    joint: Symmetric<T>,
    /// The part of all subsets' log weights that is known so far.
    log: T,
}

impl<T: Number> Reduced<T> {
    /// What the readings say at the point of one lane.
    pub(super) fn lane(&self, lane: usize) -> Reduced {
        Reduced { values: self.values.lane(lane).clone(), joint: self.joint.lane(lane), log: self.log.lane(lane) }
    }
}

/// Uniform deviates for the sequential simulator, one for each unknown that cannot be negative.
pub(super) type Uniforms<'a> = &'a [f64];

/// What stays the same in a descent through the tree of subsets.
struct Descent<'a> {
    /// One subset instead of all.
    only: Option<usize>,
    /// By lane.
    uniforms: &'a [Uniforms<'a>],
    /// Log prior probability of being negligible and of being full.
    log_chances: [f64; 2],
}

impl Model {
    /// Scratch space for [`Model::log_weights`].
    pub(super) fn workspace<T: Number>(&self) -> Workspace<T> {
        Workspace { bending: self.bending.like(), local: Local::new(), stack: vec![Symmetric::zeros(self.unknowns.len() + 1); self.flags] }
    }

    /// Number of subsets, `2^k`.
    pub(super) fn subsets(&self) -> usize {
        1 << self.flags
    }

    /// How many unknowns cannot be negative.
    pub(super) fn non_negative(&self) -> usize {
        self.unknowns.iter().filter(|u| u.meaning.non_negative()).count()
    }

    /// Standard deviation of an unknown's prior in a subset.
    pub(super) fn prior_sd(&self, unknown: usize, subset: usize) -> f64 {
        let own = &self.unknowns[unknown];
        match own.flag {
            Some(flag) if subset >> flag & 1 == 0 => own.sd * NEGLIGIBLE,
            _ => own.sd,
        }
    }

    /// Normal equations of all readings (no priors); returns the rest of the log likelihood.
    pub(super) fn normal_equations<T: Number>(
        &self,
        values: &T::Point,
        bending: &mut Bending<T>,
        local: &mut Local<T>,
        joint: &mut Symmetric<T>,
    ) -> T {
        bending.fill(values);
        joint.reset(self.unknowns.len() + 1);
        let mut log = T::ZERO;
        self.blocks.iter().for_each(|block| log += block.add_to(values, bending, joint, local));
        log
    }

    /// How many unknowns belong to no cause.
    fn nuisances(&self) -> usize {
        self.unknowns.iter().take_while(|u| u.flag.is_none()).count()
    }

    /// What the readings say at these quantities.
    pub(super) fn reduced<T: Number>(&self, values: T::Point, workspace: &mut Workspace<T>) -> Reduced<T> {
        let Workspace { bending, local, .. } = workspace;
        let mut joint = Symmetric::zeros(0);
        let mut log = self.normal_equations(&values, bending, local, &mut joint);
        for (j, nuisance) in self.unknowns.iter().enumerate().take(self.nuisances()) {
            log += eliminate(&mut joint, j, nuisance.sd);
        }
        Reduced { values, joint, log }
    }

    /// Logarithm of each subset's weight (the deviates' own prior left out), or of one subset only (the others keep what is in `out`).
    /// `uniforms` has an entry a lane.
    pub(super) fn log_weights<T: Number>(
        &self,
        only: Option<usize>,
        reduced: &Reduced<T>,
        uniforms: &[Uniforms],
        workspace: &mut Workspace<T>,
        out: &mut [T],
    ) {
        let descent = Descent { only, uniforms, log_chances: [(1.0 - self.presence).ln(), self.presence.ln()] };
        self.descend(&descent, &reduced.joint, &mut workspace.stack, self.nuisances(), 0, 0, reduced.log, out);
    }

    #[allow(clippy::too_many_arguments, reason = "the state of a recursion")]
    fn descend<T: Number>(
        &self,
        descent: &Descent,
        at: &Symmetric<T>,
        stack: &mut [Symmetric<T>],
        from: usize,
        flag: usize,
        subset: usize,
        log: T,
        out: &mut [T],
    ) {
        let half = T::splat(0.5);
        let Some((next, deeper)) = stack.split_first_mut().filter(|_| flag < self.flags) else {
            let last = self.unknowns.len();
            out[subset] = log - half * at.get(last, last);
            return;
        };
        let to = from + self.unknowns[from..].iter().take_while(|u| u.flag == Some(flag)).count();
        let positive = self.unknowns[from..to].iter().any(|u| u.meaning.non_negative());
        let branches = [(0, NEGLIGIBLE, descent.log_chances[0]), (1, 1.0, descent.log_chances[1])]
            .into_iter()
            .filter(|(bit, _, _)| descent.only.is_none_or(|only| only >> flag & 1 == *bit));
        if to == from + 1 && to == self.unknowns.len() {
            // The last unknown: both weights from the three entries that are left, nothing copied.
            let (own, cross, rest) = (at.get(from, from), at.get(to, from), at.get(to, to));
            for (bit, factor, log_chance) in branches {
                let sd = factor * self.unknowns[from].sd;
                let pivot = own + T::splat(1.0 / (sd * sd));
                let gained = T::from_lanes(|lane| {
                    let pivot = pivot.lane(lane);
                    let half = if positive { std::f64::consts::LN_2 + log_distribution(cross.lane(lane) / pivot.sqrt()) } else { 0.0 };
                    log_chance + half - 0.5 * (pivot * sd * sd).ln()
                });
                out[subset | bit << flag] = log + gained - half * (rest - cross * cross / pivot);
            }
            return;
        }
        if positive && to == from + 2 {
            // Two that cannot be negative, always the last: from the six entries that are left.
            let (p, q, c, rest) = (at.get(from, from), at.get(from + 1, from + 1), at.get(from + 1, from), at.get(to, to));
            let (u, v) = (at.get(to, from), at.get(to, from + 1));
            for (bit, factor, log_chance) in branches {
                let (s, t) = ((factor * self.unknowns[from].sd).powi(2), (factor * self.unknowns[from + 1].sd).powi(2));
                let (p, q) = (p + T::splat(1.0 / s), q + T::splat(1.0 / t));
                let determinant = p * q - c * c;
                let gained = T::from_lanes(|lane| {
                    let quadrant = log_quadrant_of(p.lane(lane), q.lane(lane), c.lane(lane), u.lane(lane), v.lane(lane));
                    2.0 * std::f64::consts::LN_2 + quadrant - 0.5 * (determinant.lane(lane) * s * t).ln()
                });
                let left = v - c * u / p;
                out[subset | bit << flag] = log + T::splat(log_chance) + gained - half * (rest - u * u / p - left * left * p / determinant);
            }
            return;
        }
        for (bit, factor, log_chance) in branches {
            next.copy_tail(at, from);
            let mut gained = T::splat(log_chance);
            if positive {
                for j in from..to {
                    next.add(j, j, T::splat((factor * self.unknowns[j].sd).powi(-2)));
                }
                gained += T::splat((to - from) as f64 * std::f64::consts::LN_2) + log_orthant(next, from, to, descent.uniforms);
                for j in from..to {
                    let sd = T::splat(factor * self.unknowns[j].sd);
                    gained -= half * (next.eliminate(j) * sd * sd).map(f64::ln);
                }
            } else {
                for j in from..to {
                    gained += eliminate(next, j, factor * self.unknowns[j].sd);
                }
            }
            self.descend(descent, next, deeper, to, flag + 1, subset | bit << flag, log + gained, out);
        }
    }
}

/// Adds the prior of unknown `j` and eliminates it; returns `−½ ln(pivot·sd²)`.
fn eliminate<T: Number>(joint: &mut Symmetric<T>, j: usize, sd: f64) -> T {
    joint.add(j, j, T::splat(1.0 / (sd * sd)));
    let sd = T::splat(sd);
    T::splat(-0.5) * (joint.eliminate(j) * sd * sd).map(f64::ln)
}

/// `ln P(θ₁ > 0, θ₂ > 0)` for the precision `[[p, c], [c, q]]` and the right side `(u, v)`.
fn log_quadrant_of(p: f64, q: f64, c: f64, u: f64, v: f64) -> f64 {
    let determinant = p * q - c * c;
    // Covariance [[q, −c], [−c, p]]/determinant.
    let (first, second) = ((q * u - c * v) / (q * determinant).sqrt(), (p * v - c * u) / (p * determinant).sqrt());
    log_quadrant(first, second, -c / (p * q).sqrt())
}

/// `ln P(θ > 0)` of the unknowns from `from` on, the last before the reading's row, their prior precision added.
fn log_orthant<T: Number>(joint: &Symmetric<T>, from: usize, to: usize, uniforms: &[Uniforms]) -> T {
    T::from_lanes(|lane| {
        let (mean, factor) = mean_and_factor(&joint.lane(lane), from, to);
        let (mut normals, mut draw) = (vec![0.0; mean.len()], vec![0.0; mean.len()]);
        sequential_draw(&mean, &factor, uniforms[lane], &mut normals, &mut draw)
    })
}
