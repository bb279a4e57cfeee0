//! Exponentially weighted moving average of values whose uncertainties are known (Roberts 1959; NIST/SEMATECH e-Handbook, 6.3.2.4).

/// What an EWMA chart is centred on.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Target {
    /// A value known beforehand, without uncertainty.
    Known(f64),
    /// The mean of the charted values, weighted by `1/u²`: what they share with it is taken out of the limits.
    WeightedMean,
}

/// One point of an EWMA chart.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct EwmaPoint {
    /// The average `z_i = λ y_i + (1 − λ) z_{i−1}`, in the unit of the values.
    pub average: f64,
    /// Lower limit.
    pub low: f64,
    /// Upper limit.
    pub high: f64,
}

impl EwmaPoint {
    /// Whether the average lies outside its limits.
    #[must_use]
    pub fn is_outside(&self) -> bool {
        self.average < self.low || self.average > self.high
    }
}

/// An EWMA chart.
#[derive(Debug, Clone, PartialEq)]
pub struct EwmaChart {
    /// The centre line, which is also the average before the first value.
    pub target: f64,
    /// One point a value, in their order.
    pub points: Vec<EwmaPoint>,
}

/// The chart of `values`, each `(value, standard uncertainty)` in their order, with weight `λ` and limits `k` standard deviations wide.
///
/// Limits are exact for unequal uncertainties: `z_i − T` is a sum `Σ g_ij y_j`, so its standard deviation is `√Σ g_ij² u_j²`. With equal uncertainties and a known
/// target this is `u √(λ/(2 − λ) · (1 − (1 − λ)^{2i}))`, whose limit is the e-Handbook's constant band. Assumes independent values.
///
/// `None` without values, with one that is not finite, an uncertainty not above 0, or `λ` outside (0, 1].
///
/// ```
/// # use taperwright::statistics::{Target, ewma_chart};
/// let chart = ewma_chart(&[(52.0, 2.0), (47.0, 2.0)], 0.3, 3.0, Target::Known(50.0)).unwrap();
/// assert!((chart.points[1].average - (0.3 * 47.0 + 0.7 * 50.6)).abs() < 1e-12);
/// assert!((chart.points[0].high - (50.0 + 3.0 * 0.3 * 2.0)).abs() < 1e-12);
/// ```
#[must_use]
pub fn ewma_chart(values: &[(f64, f64)], weight: f64, width: f64, target: Target) -> Option<EwmaChart> {
    let sensible = values.iter().all(|(y, u)| y.is_finite() && u.is_finite() && *u > 0.0);
    if values.is_empty() || !sensible || !(weight > 0.0 && weight <= 1.0) {
        return None;
    }
    let total: f64 = values.iter().map(|(_, u)| 1.0 / (u * u)).sum();
    let share = |u: f64| match target {
        Target::Known(_) => 0.0,
        Target::WeightedMean => 1.0 / (u * u) / total,
    };
    let centre = match target {
        Target::Known(value) => value,
        Target::WeightedMean => values.iter().map(|(y, u)| share(*u) * y).sum(),
    };
    let mut average = centre;
    let mut points = Vec::with_capacity(values.len());
    for (last, (value, _)) in values.iter().enumerate() {
        average = weight * value + (1.0 - weight) * average;
        let begun = 1.0 - (1.0 - weight).powi(power(last + 1));
        let variance: f64 = values
            .iter()
            .enumerate()
            .map(|(place, (_, u))| {
                let own = if place <= last { weight * (1.0 - weight).powi(power(last - place)) } else { 0.0 };
                ((own - begun * share(*u)) * u).powi(2)
            })
            .sum();
        let half = width * variance.sqrt();
        points.push(EwmaPoint { average, low: centre - half, high: centre + half });
    }
    Some(EwmaChart { target: centre, points })
}

fn power(exponent: usize) -> i32 {
    i32::try_from(exponent).unwrap_or(i32::MAX)
}
