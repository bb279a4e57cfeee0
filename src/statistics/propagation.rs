//! Propagation of distributions by Monte Carlo.

use super::distributions::{normal_quantile, t_quantile};
use super::summary::Summary;
use rand::{RngCore, SeedableRng};
use rand_chacha::ChaCha20Rng;

/// Draws to one stream of the generator, so that the draws of a block do not depend on those before it.
const BLOCK: usize = 4096;

/// What is known of an input quantity (JCGM 101:2008, clause 6.4).
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Input {
    /// Normal about `value` with standard uncertainty `u`.
    Normal {
        /// Best estimate.
        value: f64,
        /// Standard uncertainty.
        u: f64,
    },
    /// Rectangular about `value`, half-width `half`.
    Rectangular {
        /// Best estimate.
        value: f64,
        /// Half-width.
        half: f64,
    },
    /// Scaled and shifted t: from `dof` degrees of freedom with standard error `u`.
    Student {
        /// Best estimate.
        value: f64,
        /// Standard error.
        u: f64,
        /// Degrees of freedom.
        dof: f64,
    },
}

impl Input {
    /// The value below which a part `p` of the distribution lies.
    fn at(self, p: f64) -> Option<f64> {
        match self {
            Self::Normal { value, u } => Some(value + u * normal_quantile(p)?),
            Self::Rectangular { value, half } => Some(value + half * (2.0 * p - 1.0)),
            Self::Student { value, u, dof } => Some(value + u * t_quantile(p, dof)?),
        }
    }
}

/// Distribution of a result, by its draws.
#[derive(Debug, Clone, PartialEq)]
pub struct Propagated {
    /// Mean of the draws.
    pub mean: f64,
    /// Their standard deviation.
    pub standard_uncertainty: f64,
    sorted: Vec<f64>,
}

impl Propagated {
    /// Probabilistically symmetric interval of coverage `probability` (JCGM 101:2008, 7.7); `None` unless between 0 and 1.
    #[must_use]
    pub fn symmetric_interval(&self, probability: f64) -> Option<(f64, f64)> {
        let (low, high) = symmetric_ranks(self.sorted.len(), probability)?;
        Some((*self.sorted.get(low)?, *self.sorted.get(high)?))
    }

    /// Shortest interval of coverage `probability` (JCGM 101:2008, 5.3.4, 7.7.4); `None` unless between 0 and 1.
    #[must_use]
    pub fn shortest_interval(&self, probability: f64) -> Option<(f64, f64)> {
        let covered = covered(self.sorted.len(), probability)?;
        let mut best: Option<(f64, f64)> = None;
        for (low, high) in self.sorted.iter().zip(self.sorted.iter().skip(covered)) {
            if best.is_none_or(|(a, b)| high - low < b - a) {
                best = Some((*low, *high));
            }
        }
        best
    }
}

/// Draws inside an interval of coverage `probability` but one.
fn covered(draws: usize, probability: f64) -> Option<usize> {
    let inside = probability > 0.0 && probability < 1.0;
    inside.then(|| (probability * draws as f64 + 0.5).floor() as usize).filter(|c| *c < draws)
}

/// Places from 0, among sorted draws, of the ends of the probabilistically symmetric interval of coverage `probability` (JCGM 101:2008, 7.7.2).
///
/// Counted from 1 the lower end is number `(M − q)/2`, or the integer part of `(M − q + 1)/2`, with `q` the integer part of `pM + ½`. `None` unless the probability
/// lies between 0 and 1 and leaves a draw outside. Of 1,000 draws and 95 %: 24 and 974.
#[must_use]
pub fn symmetric_ranks(draws: usize, probability: f64) -> Option<(usize, usize)> {
    let covered = covered(draws, probability)?;
    let low = (draws - covered - 1) / 2;
    Some((low, low + covered))
}

/// Propagates `inputs` through `model` with `draws` random draws (JCGM 101:2008, clause 7), inputs independent.
///
/// ChaCha20 from `seed`, one stream for every 4,096 draws: same seed, same draws. `None` with fewer than two draws, an input that makes no sense, or a
/// model value that is not finite.
#[must_use]
pub fn propagate(inputs: &[Input], draws: usize, seed: u64, model: impl Fn(&[f64]) -> f64) -> Option<Propagated> {
    let mut values = Vec::with_capacity(draws);
    let mut drawn = vec![0.0; inputs.len()];
    let mut generator = ChaCha20Rng::seed_from_u64(seed);
    for index in 0..draws {
        if index.is_multiple_of(BLOCK) {
            generator.set_stream((index / BLOCK) as u64);
            generator.set_word_pos(0);
        }
        for (slot, input) in drawn.iter_mut().zip(inputs) {
            *slot = input.at(open_unit(generator.next_u64()))?;
        }
        let value = model(&drawn);
        if !value.is_finite() {
            return None;
        }
        values.push(value);
    }
    let summary = Summary::of(&values)?;
    values.sort_by(f64::total_cmp);
    Some(Propagated { mean: summary.mean, standard_uncertainty: summary.sd?, sorted: values })
}

/// A number strictly between 0 and 1 from 52 random bits.
fn open_unit(bits: u64) -> f64 {
    ((bits >> 12) as f64 + 0.5) / 4_503_599_627_370_496.0
}
