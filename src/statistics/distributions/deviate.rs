//! Normal deviates by inversion.

use super::normal_quantile;
use rand::Rng;

/// The standard normal quantile of a uniform; one at the very ends is taken just inside.
#[must_use]
pub fn normal_of_uniform(uniform: f64) -> f64 {
    normal_quantile(uniform.clamp(1e-300, 1.0 - 1e-16)).unwrap_or(0.0)
}

/// A standard normal deviate, by inversion: one uniform a deviate, so that streams stay aligned.
pub fn standard_normal(rng: &mut impl Rng) -> f64 {
    normal_of_uniform(rng.random::<f64>().max(1e-300))
}
