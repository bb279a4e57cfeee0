//! The standard normal distribution.

use super::incomplete_gamma;
use super::valid_probability;
use statrs::function::erf::erfc_inv;

/// Density `exp(−z²/2)/√(2π)`.
#[must_use]
pub fn normal_density(z: f64) -> f64 {
    (-0.5 * z * z).exp() * 0.398_942_280_401_432_7
}

/// `(smaller, larger)` tail of `|z|`.
fn tails(z: f64) -> Option<(f64, f64)> {
    let (_, upper) = incomplete_gamma::lower_and_upper(0.5, 0.5 * z * z)?;
    Some((0.5 * upper, 1.0 - 0.5 * upper))
}

/// Upper tail `P(Z > z)`; `None` for NaN.
///
/// By the incomplete gamma function: `½ Q(½, z²/2)` (Abramowitz & Stegun 6.5.17, 26.2.30). About 0.0249979 at 1.96.
#[must_use]
pub fn normal_sf(z: f64) -> Option<f64> {
    let (small, large) = tails(z)?;
    Some(if z >= 0.0 { small } else { large })
}

/// `P(Z ≤ z)`; `None` for NaN.
#[must_use]
pub fn normal_cdf(z: f64) -> Option<f64> {
    normal_sf(-z)
}

/// `P(|Z| > |z|)`; `None` for NaN.
#[must_use]
pub fn normal_two_sided_p(z: f64) -> Option<f64> {
    Some(2.0 * tails(z)?.0)
}

/// The `z` with `P(Z ≤ z) = p`; `None` unless `0 < p < 1`.
///
/// `−√2 erfc⁻¹(2p)` (Abramowitz & Stegun 26.2.29 inverted; statrs' rational approximations). About 1.959964 at 0.975.
#[must_use]
pub fn normal_quantile(p: f64) -> Option<f64> {
    valid_probability(p).then(|| -std::f64::consts::SQRT_2 * erfc_inv(2.0 * p))
}
