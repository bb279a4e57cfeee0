//! Draws of the true values along a line, from readings at places on it.

use crate::statistics::distributions::chi_square_quantile;
pub(super) use crate::statistics::distributions::standard_normal as normal;
use nalgebra::{DMatrix, DVector};
use rand::{Rng, SeedableRng};
use rand_chacha::ChaCha20Rng;

/// Draws of every profile.
pub(super) const DRAWS: usize = 8192;
/// Degrees of freedom of the half-t prior of the departures from the smooth curve.
const DEPARTURE_DOF: f64 = 3.0;
/// Quantiles kept of a chi-square distribution.
const QUANTILES: usize = 1024;

/// Mean readings at places along a line.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Means {
    /// Place, scaled to −1 … 1.
    pub(super) at: Vec<f64>,
    /// Mean of the readings there.
    pub(super) mean: Vec<f64>,
    /// How many readings made it, at least 1.
    pub(super) count: Vec<f64>,
}

/// Standard deviation of one reading and its degrees of freedom; `None` = known.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Noise {
    pub(super) sigma: f64,
    pub(super) dof: Option<f64>,
    /// Scale of the half-t prior of departures from the smooth curve, in `sigma`: 1 where a smooth curve is expected, more where it is not.
    pub(super) departures: f64,
}

/// What moves the whole curve and no reading shows: standard deviations of the coefficients of P₁ and P₂, as a t and as a normal part.
#[derive(Debug, Clone, Copy, Default, PartialEq)]
pub(super) struct Common {
    pub(super) slope_t: f64,
    pub(super) slope_normal: f64,
    pub(super) bend_t: f64,
    pub(super) dof: Option<f64>,
}

/// A generator of its own for each setting and quantity.
pub(super) fn generator(seed: u64, setting: u32, quantity: u64) -> ChaCha20Rng {
    let mut rng = ChaCha20Rng::seed_from_u64(seed ^ 0xc0_f0_12_34);
    rng.set_stream((u64::from(setting) << 8) | quantity);
    rng
}

/// Factors `√(dof/χ²)` by which a standard deviation is drawn; all 1 without finite degrees of freedom.
struct Factors(Vec<f64>);

impl Factors {
    fn of(dof: Option<f64>) -> Self {
        let Some(dof) = dof.filter(|d| *d > 0.0 && *d < 1e6) else { return Self(vec![1.0]) };
        let at = |i: usize| chi_square_quantile((i as f64 + 0.5) / QUANTILES as f64, dof).filter(|q| *q > 0.0).map(|q| (dof / q).sqrt());
        Self((0..QUANTILES).filter_map(at).collect())
    }

    fn draw(&self, rng: &mut impl Rng) -> f64 {
        if self.0.len() < 2 { 1.0 } else { self.0.get(rng.random_range(0..self.0.len())).copied().unwrap_or(1.0) }
    }
}

/// [`DRAWS`] equally likely true profiles, each with a value a place; `None` when the means do not carry the curve.
///
/// Model: true value = polynomial of `order` (flat priors) + a departure of its own at each place, `N(0, ω²)`; reading mean = true value + noise
/// `σ/√count`. `ω` has a half-t prior with 3 degrees of freedom and scale `departures·σ` (common practice, no source) and is integrated on a grid by
/// its restricted likelihood; `σ` has its scaled inverse chi-square. So scatter of the means is shared out between noise and true departures, and
/// noise alone does not make a crooked bar. With as many places as coefficients this is the readings' own normal distribution. `common` is added.
pub(super) fn draw_profiles(means: &Means, order: usize, noise: Noise, common: Common, rng: &mut ChaCha20Rng) -> Option<Vec<Vec<f64>>> {
    let places = means.at.len();
    if places < 2 || places < order + 1 || means.mean.len() != places || means.count.len() != places {
        return None;
    }
    if !(noise.sigma.is_finite() && noise.sigma > 0.0) || means.mean.iter().chain(&means.at).any(|v| !v.is_finite()) {
        return None;
    }
    let legendre = |x: f64| [1.0, x, 1.5 * x * x - 0.5];
    let design = DMatrix::from_fn(places, order + 1, |i, k| legendre(means.at[i])[k.min(2)]);
    let mean = DVector::from_column_slice(&means.mean);
    let grid: Vec<f64> = (0..56).map(|i| noise.sigma * 10f64.powf(-2.0 + 3.5 * f64::from(i) / 55.0)).collect();
    let weights = departure_weights(&grid, &design, &mean, &means.count, noise)?;
    let (noise_factors, common_factors) = (Factors::of(noise.dof), Factors::of(common.dof));
    let mut profiles = Vec::with_capacity(DRAWS);
    for _ in 0..DRAWS {
        let sigma = noise.sigma * noise_factors.draw(rng);
        let omega = picked(&grid, &weights, rng.random());
        let variance: Vec<f64> = means.count.iter().map(|n| omega * omega + sigma * sigma / n).collect();
        let (fit, factor) = weighted(&design, &mean, &variance)?;
        let deviates = DVector::from_fn(order + 1, |_, _| normal(rng));
        let coefficients = fit + factor.l().transpose().solve_upper_triangular(&deviates)?;
        let smooth = &design * coefficients;
        let shift = common_factors.draw(rng);
        let slope = common.slope_t * shift * normal(rng) + common.slope_normal * normal(rng);
        let bend = common.bend_t * shift * normal(rng);
        let profile = (0..places)
            .map(|i| {
                let share = omega * omega / variance[i];
                let departure = share * (mean[i] - smooth[i]) + (share * sigma * sigma / means.count[i]).sqrt() * normal(rng);
                let [_, p1, p2] = legendre(means.at[i]);
                smooth[i] + departure + slope * p1 + bend * p2
            })
            .collect();
        profiles.push(profile);
    }
    Some(profiles)
}

/// [`DRAWS`] equally likely true profiles of which nothing is expected, not even smoothness: `mean + σ/√count · N(0, 1)` at each place, with `σ` from its scaled
/// inverse chi-square and `common` added. What a curve through all places would draw inwards, a step, keeps its edge.
pub(super) fn draw_unsmoothed(means: &Means, noise: Noise, common: Common, rng: &mut ChaCha20Rng) -> Vec<Vec<f64>> {
    let (noise_factors, common_factors) = (Factors::of(noise.dof), Factors::of(common.dof));
    let mut draw = || {
        let sigma = noise.sigma * noise_factors.draw(rng);
        let shift = common_factors.draw(rng);
        let slope = common.slope_t * shift * normal(rng) + common.slope_normal * normal(rng);
        let bend = common.bend_t * shift * normal(rng);
        let places = means.at.iter().zip(&means.mean).zip(&means.count);
        places.map(|((x, mean), count)| mean + sigma / count.sqrt() * normal(rng) + slope * x + bend * (1.5 * x * x - 0.5)).collect()
    };
    (0..DRAWS).map(|_| draw()).collect()
}

/// Generalised least squares with independent variances: coefficients and the Cholesky factor of their precision.
pub(super) fn weighted(
    design: &DMatrix<f64>,
    mean: &DVector<f64>,
    variance: &[f64],
) -> Option<(DVector<f64>, nalgebra::Cholesky<f64, nalgebra::Dyn>)> {
    let scaled = DMatrix::from_fn(design.nrows(), design.ncols(), |i, k| design[(i, k)] / variance[i]);
    let factor = (scaled.transpose() * design).cholesky()?;
    Some((factor.solve(&(scaled.transpose() * mean)), factor))
}

/// Posterior weights of the departures' standard deviation on a logarithmic grid: prior times restricted likelihood (Patterson and Thompson, 1971).
fn departure_weights(grid: &[f64], design: &DMatrix<f64>, mean: &DVector<f64>, count: &[f64], noise: Noise) -> Option<Vec<f64>> {
    let sigma = noise.sigma;
    let mut logs = Vec::with_capacity(grid.len());
    for omega in grid {
        let variance: Vec<f64> = count.iter().map(|n| omega * omega + sigma * sigma / n).collect();
        let (fit, factor) = weighted(design, mean, &variance)?;
        let smooth = design * fit;
        let squares: f64 = (0..mean.len()).map(|i| (mean[i] - smooth[i]).powi(2) / variance[i]).sum();
        let determinants = variance.iter().map(|v| v.ln()).sum::<f64>() + 2.0 * factor.l().diagonal().iter().map(|d| d.ln()).sum::<f64>();
        let ratio = omega / (noise.departures * sigma);
        let prior = -0.5 * (DEPARTURE_DOF + 1.0) * (1.0 + ratio * ratio / DEPARTURE_DOF).ln() + omega.ln();
        logs.push(prior - 0.5 * (determinants + squares));
    }
    let largest = logs.iter().copied().fold(f64::NEG_INFINITY, f64::max);
    if !largest.is_finite() {
        return None;
    }
    let raw: Vec<f64> = logs.iter().map(|l| (l - largest).exp()).collect();
    let total: f64 = raw.iter().sum();
    Some(raw.iter().map(|w| w / total).collect())
}

/// The entry of `grid` at the cumulative weight `uniform`.
fn picked(grid: &[f64], weights: &[f64], uniform: f64) -> f64 {
    let mut passed = 0.0;
    for (value, weight) in grid.iter().zip(weights) {
        passed += weight;
        if uniform < passed {
            return *value;
        }
    }
    grid.last().copied().unwrap_or(0.0)
}

/// Largest minus smallest.
pub(super) fn range(values: &[f64]) -> f64 {
    let (low, high) = values.iter().fold((f64::INFINITY, f64::NEG_INFINITY), |(low, high), v| (low.min(*v), high.max(*v)));
    (high - low).max(0.0)
}

#[cfg(test)]
#[path = "profile/tests.rs"]
mod tests;
