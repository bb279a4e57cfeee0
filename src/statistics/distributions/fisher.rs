//! The F distribution.

use super::{chi_square, incomplete_beta, inversion, valid_dof, valid_probability};

/// Above this many degrees of freedom a mean square counts as exactly known (the error is below 1e-11).
const KNOWN_ABOVE: f64 = 1e12;

/// `(lower, upper)` tail.
fn tails(f: f64, dof1: f64, dof2: f64) -> Option<(f64, f64)> {
    if f.is_nan() || !valid_dof(dof1) || !valid_dof(dof2) {
        return None;
    }
    if f <= 0.0 {
        return Some((0.0, 1.0));
    }
    if f.is_infinite() {
        return Some((1.0, 0.0));
    }
    match (dof1 > KNOWN_ABOVE, dof2 > KNOWN_ABOVE) {
        (true, true) => None,
        (false, true) => chi_square::tails(dof1 * f, dof1),
        (true, false) => chi_square::tails(dof2 / f, dof2).map(|(lower, upper)| (upper, lower)),
        (false, false) => {
            let (x, y) = shares(dof1 / dof2 * f);
            incomplete_beta::lower_and_upper(0.5 * dof1, 0.5 * dof2, x, y)
        }
    }
}

/// `x = ratio/(1 + ratio)` and `1 − x`, rounded alike so that `a y − b x` keeps its digits.
fn shares(ratio: f64) -> (f64, f64) {
    if ratio > 1.0 {
        (1.0 / (1.0 + 1.0 / ratio), (1.0 / ratio) / (1.0 + 1.0 / ratio))
    } else {
        (ratio / (1.0 + ratio), 1.0 / (1.0 + ratio))
    }
}

/// Upper tail `P(F > f)` with `dof1` degrees of freedom above and `dof2` below.
///
/// `I_y(dof2/2, dof1/2)`, `y = dof2/(dof2 + dof1 f)` (Abramowitz & Stegun 26.6.2). One of the two may be infinite. `None` when `f` is not a
/// number, a number of degrees of freedom is not above zero, or both are infinite. About 0.05 at f = 4.964603 (1, 10).
#[must_use]
pub fn f_sf(f: f64, dof1: f64, dof2: f64) -> Option<f64> {
    Some(tails(f, dof1, dof2)?.1)
}

/// `P(F ≤ f)`; limits as for [`f_sf`].
#[must_use]
pub fn f_cdf(f: f64, dof1: f64, dof2: f64) -> Option<f64> {
    Some(tails(f, dof1, dof2)?.0)
}

/// The `f` with `P(F ≤ f) = p`; `None` unless `0 < p < 1` and the degrees of freedom are as for [`f_sf`], or when it lies outside `f64`.
#[must_use]
pub fn f_quantile(p: f64, dof1: f64, dof2: f64) -> Option<f64> {
    if !valid_probability(p) {
        return None;
    }
    if p > 0.5 { root(1.0 - p, dof1, dof2, false) } else { root(p, dof1, dof2, true) }
}

/// The `f` with `P(F > f) = q`, with all digits for small `q`; limits as for [`f_quantile`].
#[must_use]
pub fn f_upper_quantile(q: f64, dof1: f64, dof2: f64) -> Option<f64> {
    if !valid_probability(q) {
        return None;
    }
    if q > 0.5 { root(1.0 - q, dof1, dof2, true) } else { root(q, dof1, dof2, false) }
}

fn root(tail: f64, dof1: f64, dof2: f64, lower: bool) -> Option<f64> {
    match (dof1 > KNOWN_ABOVE, dof2 > KNOWN_ABOVE) {
        (true, true) => return None,
        (false, true) => {
            let x = if lower { chi_square::chi_square_quantile(tail, dof1)? } else { chi_square::chi_square_upper_quantile(tail, dof1)? };
            return Some(x / dof1);
        }
        (true, false) => {
            let x = if lower { chi_square::chi_square_upper_quantile(tail, dof2)? } else { chi_square::chi_square_quantile(tail, dof2)? };
            return Some(dof2 / x).filter(|f| f.is_finite());
        }
        (false, false) => {}
    }
    let found = inversion::positive_root(1.0, tail, lower, |f| {
        let (below, above) = tails(f, dof1, dof2)?;
        let (x, y) = shares(dof1 / dof2 * f);
        // dI_x/d ln f = x^a y^b / B, since dx/d ln f = xy.
        let slope = incomplete_beta::density_times_xy(0.5 * dof1, 0.5 * dof2, x, y);
        Some(if lower { (below, slope) } else { (above, -slope) })
    });
    found.filter(|f| *f > 1e-300 && *f < 1e300)
}
