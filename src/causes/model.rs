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

mod drawn;
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
        if positive && to == from + 2 && to == self.unknowns.len() {
            // The last two, neither of which can be negative: from the six entries that are left.
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

/// `ln P(θ > 0)` of the unknowns `from..to`, their prior precision added.
fn log_orthant<T: Number>(joint: &Symmetric<T>, from: usize, to: usize, uniforms: &[Uniforms]) -> T {
    match to - from {
        0 => T::ZERO,
        1 => {
            let (own, cross) = (joint.get(from, from), joint.get(to, from));
            T::from_lanes(|lane| log_distribution(cross.lane(lane) / own.lane(lane).sqrt()))
        }
        2 => {
            let (p, q, c) = (joint.get(from, from), joint.get(from + 1, from + 1), joint.get(from + 1, from));
            let (u, v) = (joint.get(to, from), joint.get(to, from + 1));
            T::from_lanes(|lane| log_quadrant_of(p.lane(lane), q.lane(lane), c.lane(lane), u.lane(lane), v.lane(lane)))
        }
        n => T::from_lanes(|lane| {
            let (mean, factor) = mean_and_factor(&joint.lane(lane), from, to);
            let (mut normals, mut draw) = (vec![0.0; n], vec![0.0; n]);
            sequential_draw(&mean, &factor, uniforms[lane], &mut normals, &mut draw)
        }),
    }
}

#[cfg(test)]
mod tests {
    use super::super::design::{Design, design};
    use super::super::fixture;
    use super::super::hyper::Values;
    use super::*;
    use crate::trial::Holding;
    use nalgebra::{DMatrix, DVector};

    /// The same subset weight from the dense covariance of all readings: no blocks, no elimination, no tree. Unknowns that cannot be
    /// negative are summed over a grid.
    fn dense_log_weight(design: &Design, values: &Values, subset: usize) -> f64 {
        dense(design, values, subset, 400).0
    }

    /// The same with the conditional means of the unknowns that may be negative (where one cannot be), by a grid of `steps`.
    fn dense(design: &Design, values: &Values, subset: usize, steps: usize) -> (f64, Vec<f64>) {
        let model = &design.model;
        let mut bending = model.bending.clone();
        bending.fill(values);
        let n: usize = design.logged.iter().map(|l| l.rows.readings.len()).sum();
        let positive: Vec<usize> = (0..model.unknowns.len()).filter(|u| model.unknowns[*u].meaning.non_negative()).collect();
        let mut mean = DVector::zeros(n);
        let mut covariance = DMatrix::zeros(n, n);
        let mut design_matrix = DMatrix::zeros(n, model.unknowns.len());
        let mut contrasts: Vec<DVector<f64>> = Vec::new();
        let mut start = 0;
        for logged in &design.logged {
            let rows = &logged.rows;
            let m = rows.readings.len();
            for i in 0..m {
                mean[start + i] = rows.readings[i];
                covariance[(start + i, start + i)] += values.noise_variance(rows.noise[i]) * rows.variance[i];
                if let Some((first, count, at)) = &rows.bent {
                    mean[start + i] -= bending.curve(*first, *count)[at[i]];
                }
                for (spread, terms) in &rows.random {
                    for j in 0..m {
                        covariance[(start + i, start + j)] += spread.variance(values) * terms[i] * terms[j];
                    }
                }
                for column in &rows.columns {
                    let factor = values.scale(column.scale);
                    mean[start + i] -= factor * values.known(column.known) * column.values[i];
                    for (u, own) in &column.targets {
                        design_matrix[(start + i, *u)] += factor * own * column.values[i];
                    }
                }
            }
            // Orthonormal contrasts (Helmert) against the free constant; all readings of a block have one gauge here.
            for k in 1..m {
                let mut contrast = DVector::zeros(n);
                let size = ((k * (k + 1)) as f64).sqrt();
                (0..k).for_each(|i| contrast[start + i] = 1.0 / size);
                contrast[start + k] = -(k as f64) / size;
                contrasts.push(contrast);
            }
            start += m;
        }
        for u in 0..model.unknowns.len() {
            if !positive.contains(&u) {
                let column = design_matrix.column(u).clone_owned();
                covariance += &column * column.transpose() * model.prior_sd(u, subset).powi(2);
            }
        }
        let k = DMatrix::from_columns(&contrasts);
        let factor = (k.transpose() * &covariance * &k).cholesky().unwrap();
        let log_determinant: f64 = 2.0 * factor.l().diagonal().iter().map(|d| d.ln()).sum::<f64>();
        // A step of the grid at the scale that the data leave, well inside the prior's.
        let projected: Vec<DVector<f64>> = positive.iter().map(|u| k.transpose() * design_matrix.column(*u)).collect();
        let reading = k.transpose() * mean;
        let dot = |a: &DVector<f64>, b: &DVector<f64>| a.dot(&factor.solve(b));
        let grids: Vec<Vec<(f64, f64)>> = positive
            .iter()
            .map(|u| {
                let sd = model.prior_sd(*u, subset);
                let n = steps;
                (0..n)
                    .map(|i| {
                        let z = 8.0 * (i as f64 + 0.5) / n as f64;
                        (z * sd, (8.0 / n as f64) * 2.0 * (-0.5 * z * z).exp() / (2.0 * std::f64::consts::PI).sqrt())
                    })
                    .collect()
            })
            .collect();
        let rest = dot(&reading, &reading);
        let mut total = 0.0;
        let mut first_moment = 0.0;
        let cross: Vec<f64> = projected.iter().map(|p| dot(p, &reading)).collect();
        let own = |a: usize, b: usize| dot(&projected[a], &projected[b]);
        match positive.len() {
            1 => {
                let square = own(0, 0);
                for (w, p) in &grids[0] {
                    let weight = p * (w * cross[0] - 0.5 * w * w * square).exp();
                    total += weight;
                    first_moment += weight * w;
                }
            }
            2 => {
                let (a, b, c) = (own(0, 0), own(1, 1), own(0, 1));
                for (v, p) in &grids[0] {
                    for (w, q) in &grids[1] {
                        total += p * q * (v * cross[0] + w * cross[1] - 0.5 * (v * v * a + w * w * b) - v * w * c).exp();
                    }
                }
            }
            _ => panic!("a grid for two at most"),
        }
        let chance: f64 =
            (0..model.flags).map(|f| if subset >> f & 1 == 1 { model.presence } else { 1.0 - model.presence }).map(f64::ln).sum();
        let solved = factor.solve(&(&reading - &projected[0] * (first_moment / total)));
        let means = (0..model.unknowns.len() - positive.len())
            .map(|u| model.prior_sd(u, subset).powi(2) * (k.transpose() * design_matrix.column(u)).dot(&solved))
            .collect();
        (chance - 0.5 * (log_determinant + rest) + total.ln(), means)
    }

    fn agree(holding: Holding) {
        let trial = fixture::everything(holding);
        let design = design(&trial).unwrap();
        let model = &design.model;
        let mut workspace = model.workspace();
        let mut first: Option<f64> = None;
        for deviate in [0.0, 0.7, -0.9] {
            let x: Vec<f64> = (0..model.hypers.len()).map(|i| if i % 2 == 0 { deviate } else { -0.5 * deviate }).collect();
            let mut weights = vec![0.0; model.subsets()];
            model.log_weights(None, &model.reduced::<f64>(model.hypers.values(&x), &mut workspace), &[&[]], &mut workspace, &mut weights);
            for subset in [0, 1, model.subsets() / 2 + 1, model.subsets() - 1] {
                let dense = dense_log_weight(&design, &model.hypers.values(&x), subset);
                // One constant belongs to the trial (normalisation of the contrasts); it is the same for all deviates and subsets.
                let difference = weights[subset] - dense;
                let constant = *first.get_or_insert(difference);
                assert!((difference - constant).abs() < 2e-4, "{holding:?} {deviate} {subset}: {}", difference - constant);
                let wrong = weights[subset] - dense_log_weight(&design, &model.hypers.values(&x), subset ^ 1);
                assert!((wrong - constant).abs() > 2e-4, "the comparison must tell subsets apart");
            }
        }
    }

    /// What the readings add to the last row is the same by the short way and by the whole one, in every block of every kind of log; the
    /// short way is prepared on other readings.
    #[test]
    fn readings_alone_make_the_last_row_of_the_whole() {
        for holding in [Holding::Chuck, Holding::Centres, Holding::ChuckAndCentre] {
            let design = design(&fixture::everything(holding)).unwrap();
            let model = &design.model;
            let values = model.hypers.values(&(0..model.hypers.len()).map(|i| 0.3 - 0.1 * i as f64).collect::<Vec<f64>>());
            let mut bending = model.bending.clone();
            bending.fill(&values);
            let last = model.unknowns.len();
            let (mut compared, mut local, mut scratch) = (0, Local::new(), Vec::new());
            for (logged, block) in design.logged.iter().zip(&model.blocks) {
                let mut other = logged.rows.clone();
                other.readings.iter_mut().enumerate().for_each(|(i, r)| *r = 0.7 * *r + 1e-3 * (i % 3) as f64);
                let (mut whole, mut short) = (Symmetric::zeros(last + 1), vec![0.0; last + 1]);
                block.add_to(&values, &bending, &mut whole, &mut local);
                let (_, kept) = other.reduce().add_and_keep(&values, &bending, &mut Symmetric::zeros(last + 1), &mut local);
                kept.add(&other.reading_sums(&other.centred(), &logged.rows.readings), &bending, &mut short, &mut scratch);
                let whole = whole.whole_row(last);
                let size = whole.iter().fold(1e-300, |size: f64, v| size.max(v.abs()));
                let alike = |a: &[f64], b: &[f64]| a.iter().zip(b).all(|(a, b)| (a - b).abs() <= 1e-9 * size);
                assert!(alike(&whole, &short), "{holding:?}: {whole:?} {short:?}");
                let mut wrong = short.clone();
                wrong[last] *= 1.0 + 1e-6;
                compared += usize::from(!alike(&whole, &wrong));
            }
            assert!(compared > 2, "the comparison must see a small change");
        }
    }

    #[test]
    fn weights_in_a_chuck_are_those_of_the_dense_covariance() {
        agree(Holding::Chuck);
    }

    #[test]
    fn weights_between_centres_are_those_of_the_dense_covariance() {
        agree(Holding::Centres);
    }

    #[test]
    fn weights_in_chuck_and_centre_are_those_of_the_dense_covariance() {
        agree(Holding::ChuckAndCentre);
    }

    /// (e) of the proof: yaw and twist by the estimate and by brute force on small trials drawn from the prior.
    ///
    /// Brute force: points of the deviates drawn from their prior, every subset weighed at each by the dense covariance, wear summed over a grid.
    #[test]
    #[ignore = "the full proof: minutes in release"]
    fn yaw_and_twist_are_those_of_brute_force() {
        use super::super::draws::standard_normal;
        use super::super::estimate::estimate_causes;
        use super::super::unknowns::Meaning;
        use crate::simulate::{Chance, Nature, laid_out, read_off};
        use crate::trial::{Direction, SimulationRequest};
        use rand::SeedableRng;
        use rayon::prelude::*;
        let (trials, points): (u64, usize) = (100, 2000);
        let request = SimulationRequest {
            logs: vec!["diameters".into(), "levels".into()],
            passes: 1,
            directions: vec![Direction::ToHeadstock, Direction::ToTailstock],
            stations_mm: vec![20.0, 110.0, 200.0],
            level_stations_mm: vec![0.0, 250.0, 500.0],
            ..SimulationRequest::default()
        };
        let laid = laid_out(&fixture::bar(Holding::Chuck), &request);
        let errors: Vec<[f64; 4]> = (0..trials)
            .into_par_iter()
            .map(|i| {
                let seed = 20_260_501 + i;
                let nature = Nature::drawn(&laid, &mut Chance::new(seed, 0));
                let mut trial = read_off(&laid, &nature, seed);
                trial.diameters.change(|_, r| r.edge = None);
                let posterior = estimate_causes(&trial, seed).posterior.unwrap();
                let mean = |v: &[f64]| v.iter().sum::<f64>() / v.len() as f64;
                let ours = [mean(&posterior.yaw_mm_per_m), mean(&posterior.twist_mm_per_m_per_m[&0])];
                let design = design(&trial).unwrap();
                let at = |m: Meaning| design.model.unknowns.iter().position(|u| u.meaning == m).unwrap();
                let (yaw, twist) = (at(Meaning::Yaw), at(Meaning::Twist { root: 0 }));
                let mut rng = rand_chacha::ChaCha20Rng::seed_from_u64(seed);
                let mut rows = Vec::new();
                for _ in 0..points {
                    let x: Vec<f64> = (0..design.model.hypers.len()).map(|_| standard_normal(&mut rng)).collect();
                    let values = design.model.hypers.values(&x);
                    for subset in 0..design.model.subsets() {
                        let (log, means) = dense(&design, &values, subset, 60);
                        rows.push((log, means[yaw], means[twist]));
                    }
                }
                let largest = rows.iter().map(|r| r.0).fold(f64::NEG_INFINITY, f64::max);
                let total: f64 = rows.iter().map(|r| (r.0 - largest).exp()).sum();
                let exact = |f: &dyn Fn(&(f64, f64, f64)) -> f64| rows.iter().map(|r| (r.0 - largest).exp() / total * f(r)).sum::<f64>();
                let truth = (nature.yaw_mm_per_m, nature.twist(0));
                [ours[0] - truth.0, exact(&|r| r.1) - truth.0, ours[1] - truth.1, exact(&|r| r.2) - truth.1]
            })
            .collect();
        let rms = |k: usize| (errors.iter().map(|e| e[k] * e[k]).sum::<f64>() / errors.len() as f64).sqrt();
        println!("root mean square error over {trials} trials: yaw {:.5} by brute force {:.5} mm/m", rms(0), rms(1));
        println!("twist {:.5} by brute force {:.5} (mm/m)/m", rms(2), rms(3));
        assert!((rms(0) / rms(1) - 1.0).abs() < 0.05, "yaw {} against {}", rms(0), rms(1));
        assert!((rms(2) / rms(3) - 1.0).abs() < 0.05, "twist {} against {}", rms(2), rms(3));
    }
}
