//! Student's t distribution.

use super::normal::{normal_cdf, normal_quantile, normal_sf};
use super::{incomplete_beta, inversion, valid_dof, valid_probability};

/// Above this many degrees of freedom tails come from a transformed normal, exact to 1e-15.
const NORMAL_ABOVE: f64 = 1e9;
/// Above this many degrees of freedom the Cornish–Fisher quantile is exact to the last digits.
const EXPANSION_ABOVE: f64 = 1e5;

/// `(P(|T| ≤ |t|), P(|T| > |t|))`.
fn central_and_outer(t: f64, dof: f64) -> Option<(f64, f64)> {
    if t.is_nan() || !valid_dof(dof) {
        return None;
    }
    if dof > NORMAL_ABOVE {
        let z = if dof.is_finite() { t.abs() * (1.0 - 0.25 / dof) / (1.0 + 0.5 * (t / dof) * t).sqrt() } else { t.abs() };
        let outer = 2.0 * normal_sf(z)?;
        return Some((2.0 * (normal_cdf(z)? - 0.5), outer));
    }
    let ratio = (t / dof) * t;
    if ratio.is_infinite() {
        // Far beyond the scale the tail falls as a power of t.
        let edge = (1e300 * dof).sqrt();
        let outer = central_and_outer(edge, dof)?.1 * (edge / t.abs()).powf(dof);
        return Some((1.0 - outer, outer));
    }
    let (x, y) = (ratio / (1.0 + ratio), 1.0 / (1.0 + ratio));
    incomplete_beta::lower_and_upper(0.5, 0.5 * dof, x, y)
}

/// `P(|T| > |t|)`, the two-sided tail probability; `None` unless `dof > 0` and `t` is a number.
///
/// `I_y(dof/2, 1/2)` with `y = dof/(dof + t²)` (Abramowitz & Stegun 26.7.1). About 0.05 at t = 2.262157, dof = 9.
#[must_use]
pub fn t_two_sided_p(t: f64, dof: f64) -> Option<f64> {
    Some(central_and_outer(t, dof)?.1)
}

/// Upper tail `P(T > t)`; `None` unless `dof > 0` (infinite allowed) and `t` is a number.
#[must_use]
pub fn t_sf(t: f64, dof: f64) -> Option<f64> {
    let (central, outer) = central_and_outer(t, dof)?;
    Some(if t >= 0.0 { 0.5 * outer } else { 0.5 + 0.5 * central })
}

/// `P(T ≤ t)`; `None` unless `dof > 0` (infinite allowed) and `t` is a number.
#[must_use]
pub fn t_cdf(t: f64, dof: f64) -> Option<f64> {
    t_sf(-t, dof)
}

/// The `t` with `P(T ≤ t) = p`; `None` unless `0 < p < 1` and `dof > 0` (infinite allowed), or when it lies outside the range of `f64`.
///
/// From 10⁵ degrees of freedom by Cornish–Fisher to 1/dof⁴ (Abramowitz & Stegun 26.7.5), below that the root of the tail itself.
/// About 2.262157 at p = 0.975, dof = 9.
#[must_use]
pub fn t_quantile(p: f64, dof: f64) -> Option<f64> {
    if !valid_probability(p) {
        return None;
    }
    if p < 0.5 { Some(-t_upper_quantile(p, dof)?) } else { upper_half(1.0 - p, p - 0.5, dof) }
}

/// The `t` with `P(T > t) = q`, with all digits for small `q`; limits as for [`t_quantile`].
#[must_use]
pub fn t_upper_quantile(q: f64, dof: f64) -> Option<f64> {
    if !valid_probability(q) {
        return None;
    }
    if q > 0.5 { Some(-upper_half(1.0 - q, q - 0.5, dof)?) } else { upper_half(q, 0.5 - q, dof) }
}

/// The `t ≥ 0` with upper tail `tail` and `P(0 < T ≤ t) = half_central`.
fn upper_half(tail: f64, half_central: f64, dof: f64) -> Option<f64> {
    if !valid_dof(dof) {
        return None;
    }
    if half_central == 0.0 {
        return Some(0.0);
    }
    let z = -normal_quantile(tail)?;
    if dof.is_infinite() {
        return Some(z);
    }
    let start = if dof > 2.0 { cornish_fisher(z, dof) } else { z };
    if dof >= EXPANSION_ABOVE {
        return Some(start);
    }
    let half_density = |t: f64| {
        let ratio = (t / dof) * t;
        incomplete_beta::density_times_xy(0.5, 0.5 * dof, ratio / (1.0 + ratio), 1.0 / (1.0 + ratio))
    };
    // d P(0 < T ≤ t) / d ln t = x^½ y^(dof/2) / B, since dx/d ln t = 2xy and P is half of I_x.
    let root = if tail < 0.25 {
        inversion::positive_root(start, tail, false, |t| Some((0.5 * central_and_outer(t, dof)?.1, -half_density(t))))
    } else {
        inversion::positive_root(start, half_central, true, |t| Some((0.5 * central_and_outer(t, dof)?.0, half_density(t))))
    };
    root.filter(|t| *t < 1e300)
}

/// Abramowitz & Stegun 26.7.5.
fn cornish_fisher(z: f64, dof: f64) -> f64 {
    let s = z * z;
    let g1 = z * (s + 1.0) / 4.0;
    let g2 = z * ((5.0 * s + 16.0) * s + 3.0) / 96.0;
    let g3 = z * (((3.0 * s + 19.0) * s + 17.0) * s - 15.0) / 384.0;
    let g4 = z * ((((79.0 * s + 776.0) * s + 1482.0) * s - 1920.0) * s - 945.0) / 92_160.0;
    z + (g1 + (g2 + (g3 + g4 / dof) / dof) / dof) / dof
}

/// Coverage factor of a central 95 % interval: `t_{0.975}` with `dof` degrees of freedom, the normal's where there is no finite number of them.
/// About 2.776 with 4, 1.960 with `None` (JCGM 100:2008, Table G.2).
#[must_use]
pub fn coverage_factor95(dof: Option<f64>) -> f64 {
    dof.and_then(|dof| t_quantile(0.975, dof)).unwrap_or(super::NORMAL_975)
}
