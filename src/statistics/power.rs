//! Power of a t test: how likely a true effect shows.

use super::distributions::{normal_cdf, t_quantile};

/// Least and most steps of the integral over the estimated standard deviation, and steps in one width of what is integrated.
const STEPS: [f64; 2] = [1200.0, 40_000.0];
const STEPS_A_WIDTH: f64 = 60.0;

/// Probability that a two-sided t test at level `alpha` finds an effect of `effect` standard errors, the standard error known with `dof` degrees of freedom.
///
/// `P(|T| > t_{1−α/2, ν})` with `T` noncentral t of noncentrality `δ = effect`: `∫ f(s)·[Φ(δ − ts) + Φ(−δ − ts)] ds` over `s = √(χ²_ν/ν)`, by
/// Simpson's rule (the definition of the noncentral t; Johnson, Kotz and Balakrishnan, *Continuous Univariate Distributions*, volume 2, 2nd
/// edition, 1995, chapter 31, from memory). For a slope over `n` readings `ν = n − 2` and `δ = β√Σ(x − x̄)²/σ`. `None` for `dof` (the effective
/// one; `None` is infinite) below 1, `alpha` outside (0, 1), an effect that is not finite.
///
/// ```
/// # use taperwright::statistics::t_test_power;
/// assert!((t_test_power(0.0, Some(10.0), 0.05).unwrap() - 0.05).abs() < 1e-9); // no effect: the level itself
/// ```
#[must_use]
pub fn t_test_power(effect: f64, dof: Option<f64>, alpha: f64) -> Option<f64> {
    if !(effect.is_finite() && alpha > 0.0 && alpha < 1.0) {
        return None;
    }
    let limit = t_quantile(1.0 - 0.5 * alpha, dof.unwrap_or(f64::INFINITY))?;
    let beyond = |s: f64| Some(normal_cdf(effect - limit * s)? + normal_cdf(-effect - limit * s)?);
    let Some(dof) = dof.filter(|dof| dof.is_finite()) else { return beyond(1.0) };
    if dof < 1.0 {
        return None;
    }
    // ln f(s) but for a constant, which the sum of the weights replaces
    let mode = ((dof - 1.0) / dof).sqrt();
    let log_density = |s: f64| if dof > 1.0 { (dof - 1.0) * (s / mode).ln() } else { 0.0 } - 0.5 * dof * (s * s - mode * mode);
    let reach = 12.0 / (2.0 * dof).sqrt();
    let (from, to) = ((mode - reach).max(0.0), mode + reach);
    // Φ(δ − ts) changes over a width of 1/t
    let steps = 2 * (0.5 * ((to - from) * limit * STEPS_A_WIDTH).clamp(STEPS[0], STEPS[1])).ceil() as usize;
    let (mut sum, mut weights) = (0.0, 0.0);
    for step in 0..=steps {
        let s = from + (to - from) * step as f64 / steps as f64;
        let simpson = if step == 0 || step == steps {
            1.0
        } else if step % 2 == 1 {
            4.0
        } else {
            2.0
        };
        let weight = if s > 0.0 || dof <= 1.0 { simpson * log_density(s).exp() } else { 0.0 };
        sum += weight * beyond(s)?;
        weights += weight;
    }
    (weights > 0.0).then(|| (sum / weights).min(1.0))
}

/// The effect, in standard errors, that a two-sided t test at level `alpha` finds with probability `power`; `None` as [`t_test_power`], and for a `power` not between `alpha` and 1.
///
/// By halving: power grows with the effect.
#[must_use]
pub fn detectable_effect(power: f64, dof: Option<f64>, alpha: f64) -> Option<f64> {
    if !(power > alpha && power < 1.0) {
        return None;
    }
    let (mut low, mut high) = (0.0, 1.0);
    while t_test_power(high, dof, alpha)? < power {
        high *= 2.0;
        if high > 1e9 {
            return None;
        }
    }
    for _ in 0..30 {
        let middle = 0.5 * (low + high);
        if t_test_power(middle, dof, alpha)? < power { low = middle } else { high = middle }
    }
    Some(0.5 * (low + high))
}
