//! The regularised incomplete beta function.

use super::saddle_point::{HALF_LN_TWO_PI, deviance, stirling_error};

const MOST_TERMS: usize = 10_000_000;

/// `(I_x(a, b), 1 − I_x(a, b))` for finite `a, b > 0`, with `x` and `y = 1 − x` both given so that neither loses digits.
///
/// Continued fraction (the even part of Abramowitz & Stegun 26.5.8, as Didonato & Morris 1992 write it) by Lentz's method, on whichever side
/// converges. `None` when the fraction does not settle.
pub(super) fn lower_and_upper(a: f64, b: f64, x: f64, y: f64) -> Option<(f64, f64)> {
    if x == 0.0 {
        return Some((0.0, 1.0));
    }
    if y == 0.0 {
        return Some((1.0, 0.0));
    }
    let prefactor = density_times_xy(a, b, x, y);
    if b * x <= a * y {
        let lower = (prefactor * continued_fraction(a, b, x, y)?).min(1.0);
        Some((lower, 1.0 - lower))
    } else {
        let upper = (prefactor * continued_fraction(b, a, y, x)?).min(1.0);
        Some((1.0 - upper, upper))
    }
}

/// `xᵃ yᵇ / B(a, b)` in saddle-point form.
pub(super) fn density_times_xy(a: f64, b: f64, x: f64, y: f64) -> f64 {
    let n = a + b;
    let logarithm = 0.5 * (a.ln() + (b / n).ln()) - HALF_LN_TWO_PI + stirling_error(n)
        - stirling_error(a)
        - stirling_error(b)
        - deviance(a, n * x)
        - deviance(b, n * y);
    logarithm.exp()
}

/// `I_x(a, b) = xᵃ yᵇ / B(a, b) · fraction`, for `x` at most `a/(a + b)`.
///
/// The even part of the fraction, written with `a y − b x` so that nothing cancels where `a` is huge and `x` near 1.
fn continued_fraction(a: f64, b: f64, x: f64, y: f64) -> Option<f64> {
    let lambda = a * y - b * x;
    let mut fraction = away_from_zero(a * (lambda + 1.0) / (a + 1.0));
    let mut c = fraction;
    let mut d = 0.0;
    for i in 1..MOST_TERMS {
        let n = i as f64;
        let middle = a + 2.0 * n - 1.0;
        let alpha = ((a + n - 1.0) / middle) * ((a + b + n - 1.0) / middle) * n * (b - n) * x * x;
        let beta = n + n * (b - n) * x / middle + (a + n) / (middle + 2.0) * (lambda + 1.0 + n * (1.0 + y));
        d = 1.0 / away_from_zero(beta + alpha * d);
        c = away_from_zero(beta + alpha / c);
        let step = d * c;
        fraction *= step;
        if (step - 1.0).abs() < 2e-16 {
            return Some(1.0 / fraction);
        }
        if !fraction.is_finite() {
            return None;
        }
    }
    None
}

fn away_from_zero(value: f64) -> f64 {
    if value.abs() < 1e-300 { 1e-300 } else { value }
}
