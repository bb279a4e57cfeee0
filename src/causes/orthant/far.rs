//! The quadrant far out, where the plain probability has lost its digits.

use super::{log_distribution, rules};
use std::f64::consts::TAU;

/// Exponents beyond the largest at which the integral ends: 2·10⁻¹⁶ of the integrand.
const REACH: f64 = 36.0;
/// Thresholds farther out are taken as this: no double holds the square of much larger ones.
const FARTHEST: f64 = 1e8;

/// `ln P(X > h, Y > k)` of a standard bivariate normal with correlation `r`, −1 < `r` < 1.
///
/// The density at `(h, k)` is the derivative of the probability by the correlation (R. L. Plackett, Biometrika 41 (1954) 351–360; from memory), so with `ρ = sin θ`
/// and `E(θ) = (h² − 2hk sin θ + k²)/(2cos²θ)` it is `P(−1) + ∫e^{−E}dθ/2π` from `−π/2` to `asin r`, or `P(1)` less the integral from there to `π/2`, where
/// `P(−1) = max(0, Q(h) − Q(−k))` (of `h ≥ k`, without loss of digits) and `P(1) = Q(max(h, k))`. Taken is the one over which `E` only grows away from `asin r`: of `P(1)` a
/// half is left at least, or with limits of opposite sign some `h√(1 − r²)/4`, nothing else cancels. `E` reaches `c` where `sin θ = (hk ± √((2c − h²)(2c − k²)))/2c`;
/// between, twice 24 Gauss–Legendre points. Right to 10⁻⁸ in the logarithm up to `|r| = 0.9999`, to
/// 10⁻⁶ up to 0.999999 (tested).
pub(super) fn log_far_quadrant(h: f64, k: f64, r: f64) -> f64 {
    let (h, k) = (h.clamp(-FARTHEST, FARTHEST), k.clamp(-FARTHEST, FARTHEST));
    let (at, product) = (r.asin(), h * k);
    let exponent = |theta: f64| {
        let (sine, cosine) = theta.sin_cos();
        // As written above, without loss of digits towards either end.
        let (difference, over) = if sine > 0.0 { (h - k, product / (1.0 + sine)) } else { (h + k, -product / (1.0 - sine)) };
        0.5 * (difference / cosine).powi(2) + over
    };
    let largest = exponent(at);
    let twice = 2.0 * (largest + REACH);
    let root = ((twice - h * h) * (twice - k * k)).max(0.0).sqrt();
    let turn = h.abs().max(k.abs()).powi(2);
    let below = turn == 0.0 || r <= product / turn;
    let end = if below { ((product - root) / twice).max(-1.0).asin() } else { ((product + root) / twice).min(1.0).asin() };
    // Where |h| is nearly |k| the density starts with all derivatives 0, which one part does not follow.
    let half = 0.25 * (at - end).abs();
    let sum_about = |middle: f64| rules().many.iter().map(|(x, w)| w * (largest - exponent(middle + half * x)).exp()).sum::<f64>();
    let sum = sum_about(at.min(end) + half) + sum_about(at.max(end) - half);
    let integral = (half * sum / TAU).ln() - largest;
    let log_tail = |z: f64| log_distribution(-z);
    if !below {
        let all = log_tail(h.max(k));
        return all + (-(integral - all).exp()).ln_1p();
    }
    if h + k >= 0.0 {
        return integral;
    }
    // both tails small: by the larger threshold's own and the mirror image of the other's nothing is taken from 1
    let tail = log_tail(h.max(k));
    let before = tail + (-(log_tail(-h.min(k)) - tail).exp_m1()).ln();
    let (more, less) = (before.max(integral), before.min(integral));
    more + (less - more).exp().ln_1p()
}
