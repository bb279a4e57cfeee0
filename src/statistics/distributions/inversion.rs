//! Quantiles of positive variables as bracketed roots of a tail probability.

const MOST_STEPS: usize = 300;

/// Finds `x > 0` with `tail(x) = target`, for a monotone tail given with its derivative by `ln x`.
///
/// Newton's method on `ln tail` against `ln x`, where tails of t, F and chi-square are nearly straight, kept inside a bracket and
/// replaced by bisection of `ln x` whenever it leaves it. `tail` returns `(tail, d tail / d ln x)`; `rising` says which way it goes.
/// `None` when the tail itself cannot be had or no root is bracketed within the range of `f64`.
pub(super) fn positive_root(start: f64, target: f64, rising: bool, tail: impl Fn(f64) -> Option<(f64, f64)>) -> Option<f64> {
    let ln_target = target.ln();
    let (mut low, mut high) = (f64::MIN_POSITIVE, f64::MAX);
    let mut x = if start > 0.0 && start.is_finite() { start } else { 1.0 };
    for _ in 0..MOST_STEPS {
        let (value, slope) = tail(x)?;
        if value == target {
            return Some(x);
        }
        if (value < target) == rising {
            low = x;
        } else {
            high = x;
        }
        let step = (ln_target - value.ln()) * value / slope;
        let mut next = if step.is_finite() { x * step.clamp(-40.0, 40.0).exp() } else { f64::NAN };
        if !(next > low && next < high) {
            if step.abs() < 4e-16 {
                return Some(x);
            }
            next = (0.5 * (low.ln() + high.ln())).exp();
        }
        if (next - x).abs() <= 1.2e-16 * x || !(next > low && next < high) {
            return Some(next);
        }
        if step.abs() < 1e-9 {
            // Newton's error is squared: the step after this one would be below the resolution of a double.
            return Some(next);
        }
        x = next;
    }
    Some(x)
}
