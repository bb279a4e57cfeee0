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
/// `P(−1) = max(0, Q(h) − Q(−k))` and `P(1) = Q(max(h, k))`. Taken is the one over which `E` only grows away from `asin r`: nothing cancels but half of `P(1)` at most.
/// `E` reaches `c` where `sin θ = (hk ± √((2c − h²)(2c − k²)))/2c`; between, 24 Gauss–Legendre points. Right to 10⁻⁸ in the logarithm (tested).
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
    let (middle, half) = (0.5 * (at + end), 0.5 * (at - end).abs());
    let sum: f64 = rules().many.iter().map(|(x, w)| w * (largest - exponent(middle + half * x)).exp()).sum();
    let integral = (half * sum / TAU).ln() - largest;
    let log_tail = |z: f64| log_distribution(-z);
    if !below {
        let all = log_tail(h.max(k));
        return all + (-(integral - all).exp()).ln_1p();
    }
    if h + k >= 0.0 {
        return integral;
    }
    let tail = log_tail(h);
    let before = tail + (-(log_tail(-k) - tail).exp_m1()).ln();
    let (more, less) = (before.max(integral), before.min(integral));
    more + (less - more).exp().ln_1p()
}
