//! A straight line in time through values of known uncertainty that may also wander.

use super::distributions::chi_square_sf;
use super::normal_mixture::{NormalPart, mixture_moments, mixture_quantile};

/// Points of the quadrature over the standard deviation of the wandering.
const POINTS: usize = 200;

/// A value at a time.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Dated {
    /// Time, in any unit.
    pub time: f64,
    /// Value.
    pub value: f64,
    /// Its standard uncertainty, above 0.
    pub standard_uncertainty: f64,
}

/// The line.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Trend {
    /// Number of values.
    pub count: usize,
    /// Change a unit of time: posterior mean.
    pub slope: f64,
    /// Its posterior standard deviation.
    pub standard_uncertainty: f64,
    /// Central 95 % interval.
    pub low: f64,
    /// Its upper end.
    pub high: f64,
    /// Mean of the times, weighted by `1/u²`.
    pub centre_time: f64,
    /// Value of the line there.
    pub centre_value: f64,
    /// Slope and standard uncertainty by the stated uncertainties alone, without wandering: `1/√Σw(t − t̄)²`.
    pub stated: (f64, f64),
    /// Sum of squares about that line, in units of the stated uncertainties, and its tail probability with n − 2 degrees of freedom; `None` with two values.
    pub scatter: Option<(f64, f64)>,
    /// Scale of the prior of the wandering.
    pub prior_scale: f64,
}

struct Line {
    slope: f64,
    slope_variance: f64,
    centre_time: f64,
    centre_value: f64,
    log_likelihood: f64,
    squares: f64,
}

/// Weighted line `y = a + b(t − t̄)` with weights `1/(u² + τ²)`; the likelihood is the restricted one.
fn line(values: &[Dated], tau: f64) -> Line {
    let weight = |v: &Dated| 1.0 / (v.standard_uncertainty.powi(2) + tau * tau);
    let total: f64 = values.iter().map(weight).sum();
    let centre_time = values.iter().map(|v| weight(v) * v.time).sum::<f64>() / total;
    let centre_value = values.iter().map(|v| weight(v) * v.value).sum::<f64>() / total;
    let spread: f64 = values.iter().map(|v| weight(v) * (v.time - centre_time).powi(2)).sum();
    let slope = values.iter().map(|v| weight(v) * (v.time - centre_time) * v.value).sum::<f64>() / spread;
    let squares: f64 = values.iter().map(|v| weight(v) * (v.value - centre_value - slope * (v.time - centre_time)).powi(2)).sum();
    let log_weights: f64 = values.iter().map(|v| weight(v).ln()).sum();
    let log_likelihood = 0.5 * (log_weights - total.ln() - spread.ln() - squares);
    Line { slope, slope_variance: 1.0 / spread, centre_time, centre_value, log_likelihood, squares }
}

/// The trend of `values`: `y_i = a + b t_i + wandering_i + error_i`, errors with the stated uncertainties, wandering with standard deviation `τ`.
///
/// `τ` has a half-t(3) prior (Gelman 2006) whose scale is the median stated uncertainty, flat priors on `a` and `b`; `τ` is integrated out by quadrature on
/// `τ = s v/(1 − v)`, so the slope's posterior is a mixture of normals. With few values the prior decides how wide it is, with many the values do.
///
/// `None` with fewer than two values, with times that do not differ, or with anything not finite or an uncertainty not above 0.
#[must_use]
pub fn trend(values: &[Dated]) -> Option<Trend> {
    let first = values.first()?;
    // what is not finite leaves the slope no moments
    if values.len() < 2 || !values.iter().all(|v| v.standard_uncertainty > 0.0) || values.iter().all(|v| v.time == first.time) {
        return None;
    }
    let mut uncertainties: Vec<f64> = values.iter().map(|v| v.standard_uncertainty).collect();
    uncertainties.sort_by(f64::total_cmp);
    let middle = |place: usize| uncertainties.get(place).copied().unwrap_or(first.standard_uncertainty);
    let prior_scale = 0.5 * (middle((values.len() - 1) / 2) + middle(values.len() / 2));
    let stated = line(values, 0.0);
    let parts: Vec<(f64, Line)> = (0..POINTS)
        .map(|point| {
            let v = (point as f64 + 0.5) / POINTS as f64;
            let ratio = v / (1.0 - v);
            // density of half-t(3) at ratio·scale, times dτ/dv, both without constants
            let log_prior = -2.0 * (1.0 + ratio * ratio / 3.0).ln() - 2.0 * (1.0 - v).ln();
            let line = line(values, ratio * prior_scale);
            (log_prior + line.log_likelihood, line)
        })
        .collect();
    let top = parts.iter().map(|(log, _)| *log).fold(f64::NEG_INFINITY, f64::max);
    let weights: Vec<f64> = parts.iter().map(|(log, _)| (log - top).exp()).collect();
    let total: f64 = weights.iter().sum();
    let mean = |of: &dyn Fn(&Line) -> f64| weights.iter().zip(&parts).map(|(w, (_, line))| w * of(line)).sum::<f64>() / total;
    let slopes: Vec<NormalPart> = weights
        .iter()
        .zip(&parts)
        .map(|(weight, (_, line))| NormalPart { weight: *weight, mean: line.slope, sd: line.slope_variance.sqrt() })
        .collect();
    let (slope, standard_uncertainty) = mixture_moments(&slopes)?;
    Some(Trend {
        count: values.len(),
        slope,
        standard_uncertainty,
        low: mixture_quantile(&slopes, 0.025)?,
        high: mixture_quantile(&slopes, 0.975)?,
        centre_time: stated.centre_time,
        centre_value: mean(&|line| line.centre_value + line.slope * (stated.centre_time - line.centre_time)),
        stated: (stated.slope, stated.slope_variance.sqrt()),
        scatter: (values.len() > 2).then(|| (stated.squares, chi_square_sf(stated.squares, (values.len() - 2) as f64).unwrap_or(f64::NAN))),
        prior_scale,
    })
}
