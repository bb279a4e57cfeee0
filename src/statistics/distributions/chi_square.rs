//! The chi-square distribution.

use super::normal::{normal_quantile, normal_sf};
use super::{incomplete_gamma, inversion, valid_dof, valid_probability};

/// Above this many degrees of freedom the cube root is normal to 1e-12 (Wilson & Hilferty 1931).
const CUBE_ROOT_ABOVE: f64 = 1e12;

/// `(lower, upper)` tail.
pub(super) fn tails(x: f64, dof: f64) -> Option<(f64, f64)> {
    if x.is_nan() || !valid_dof(dof) || dof.is_infinite() {
        return None;
    }
    if x <= 0.0 {
        return Some((0.0, 1.0));
    }
    if dof > CUBE_ROOT_ABOVE {
        let spread = 2.0 / (9.0 * dof);
        let z = ((x / dof).cbrt() - (1.0 - spread)) / spread.sqrt();
        return Some((normal_sf(-z)?, normal_sf(z)?));
    }
    incomplete_gamma::lower_and_upper(0.5 * dof, 0.5 * x)
}

/// Upper tail `P(X > x)`; `None` unless `dof` is above zero and finite and `x` is a number.
///
/// `Q(dof/2, x/2)` (Abramowitz & Stegun 26.4.19). About 0.05 at 3.841459 with 1 degree of freedom.
#[must_use]
pub fn chi_square_sf(x: f64, dof: f64) -> Option<f64> {
    Some(tails(x, dof)?.1)
}

/// `P(X ≤ x)`; limits as for [`chi_square_sf`].
#[must_use]
pub fn chi_square_cdf(x: f64, dof: f64) -> Option<f64> {
    Some(tails(x, dof)?.0)
}

/// The `x` with `P(X ≤ x) = p`; `None` unless `0 < p < 1` and `dof` is above zero and finite.
#[must_use]
pub fn chi_square_quantile(p: f64, dof: f64) -> Option<f64> {
    if !valid_probability(p) {
        return None;
    }
    if p > 0.5 { root(1.0 - p, dof, false) } else { root(p, dof, true) }
}

/// The `x` with `P(X > x) = q`, with all digits for small `q`; limits as for [`chi_square_quantile`].
#[must_use]
pub fn chi_square_upper_quantile(q: f64, dof: f64) -> Option<f64> {
    if !valid_probability(q) {
        return None;
    }
    if q > 0.5 { root(1.0 - q, dof, true) } else { root(q, dof, false) }
}

/// Root of the lower tail (`lower`) or the upper tail, started at the cube-root approximation (Abramowitz & Stegun 26.4.17).
fn root(tail: f64, dof: f64, lower: bool) -> Option<f64> {
    let z = if lower { normal_quantile(tail)? } else { -normal_quantile(tail)? };
    let spread = 2.0 / (9.0 * dof);
    let cube = 1.0 - spread + z * spread.sqrt();
    let start = if cube > 0.05 { dof * cube * cube * cube } else { dof * 1e-3 };
    inversion::positive_root(start, tail, lower, |x| {
        let (below, above) = tails(x, dof)?;
        let slope = incomplete_gamma::power_over_gamma(0.5 * dof, 0.5 * x);
        Some(if lower { (below, slope) } else { (above, -slope) })
    })
}
