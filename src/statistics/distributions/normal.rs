//! The standard normal distribution.

use super::incomplete_gamma;
use super::normal_tables::{CENTRE_DENOMINATOR, CENTRE_NUMERATOR, FAR_DENOMINATOR, FAR_NUMERATOR, NEAR_DENOMINATOR, NEAR_NUMERATOR};
use super::valid_probability;

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
/// Algorithm AS 241, PPND16 (Wichura 1988): about 16 digits, tails included. About 1.959964 at 0.975.
#[must_use]
pub fn normal_quantile(p: f64) -> Option<f64> {
    if !valid_probability(p) {
        return None;
    }
    let q = p - 0.5;
    if q.abs() <= 0.425 {
        let r = 0.180_625 - q * q;
        return Some(q * polynomial(&CENTRE_NUMERATOR, r) / polynomial(&CENTRE_DENOMINATOR, r));
    }
    let tail = if q < 0.0 { p } else { 1.0 - p };
    let r = (-tail.ln()).sqrt();
    let z = if r <= 5.0 {
        polynomial(&NEAR_NUMERATOR, r - 1.6) / polynomial(&NEAR_DENOMINATOR, r - 1.6)
    } else {
        polynomial(&FAR_NUMERATOR, r - 5.0) / polynomial(&FAR_DENOMINATOR, r - 5.0)
    };
    Some(if q < 0.0 { -z } else { z })
}

fn polynomial(coefficients: &[f64; 8], x: f64) -> f64 {
    coefficients.iter().rev().fold(0.0, |sum, c| sum * x + c)
}
