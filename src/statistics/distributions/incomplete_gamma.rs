//! The regularised incomplete gamma functions.

use super::saddle_point::{HALF_LN_TWO_PI, deviance, stirling_error};

const MOST_TERMS: usize = 20_000_000;

/// Lower and upper regularised incomplete gamma function `(P(a, x), Q(a, x))` for finite `a > 0` and `x ≥ 0`.
///
/// Series below `a + 1` (Abramowitz & Stegun 6.5.29), continued fraction above (6.5.31, by Lentz's method), so that the smaller of
/// the two always keeps its relative precision. `None` when the sum does not settle.
pub(super) fn lower_and_upper(a: f64, x: f64) -> Option<(f64, f64)> {
    if x == 0.0 {
        return Some((0.0, 1.0));
    }
    if x.is_infinite() {
        return Some((1.0, 0.0));
    }
    let prefactor = power_over_gamma(a, x);
    if x < a + 1.0 {
        let mut term = 1.0 / a;
        let mut sum = term;
        let mut divisor = a;
        for _ in 0..MOST_TERMS {
            divisor += 1.0;
            term *= x / divisor;
            sum += term;
            if term < sum * 1e-17 {
                let lower = (prefactor * sum).min(1.0);
                return Some((lower, 1.0 - lower));
            }
            if !sum.is_finite() {
                return None;
            }
        }
        return None;
    }
    let mut b = x + 1.0 - a;
    let mut c = 1.0 / f64::MIN_POSITIVE;
    let mut d = 1.0 / b;
    let mut fraction = d;
    for i in 1..MOST_TERMS {
        let count = i as f64;
        let numerator = -count * (count - a);
        b += 2.0;
        d = 1.0 / away_from_zero(numerator * d + b);
        c = away_from_zero(b + numerator / c);
        let step = d * c;
        fraction *= step;
        if (step - 1.0).abs() < 2e-16 {
            let upper = (prefactor * fraction).min(1.0);
            return Some((1.0 - upper, upper));
        }
        if !fraction.is_finite() {
            return None;
        }
    }
    None
}

/// `xᵃ e⁻ˣ / Γ(a)` in saddle-point form.
pub(super) fn power_over_gamma(a: f64, x: f64) -> f64 {
    (0.5 * a.ln() - HALF_LN_TWO_PI - stirling_error(a) - deviance(a, x)).exp()
}

fn away_from_zero(value: f64) -> f64 {
    if value.abs() < 1e-300 { 1e-300 } else { value }
}
