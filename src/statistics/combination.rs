//! One value from several independent estimates that may disagree by more than their uncertainties.

use super::distributions::{chi_square_sf, t_quantile};

/// How the variance between the estimates is got.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum BetweenVariance {
    /// None: inverse-variance weights.
    Common,
    /// DerSimonian & Laird (1986), moments.
    DerSimonianLaird,
    /// Paule & Mandel (1982): the weighted sum of squares equals k − 1.
    PauleMandel,
    /// Restricted maximum likelihood.
    Reml,
}

/// A combined value.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Combined {
    /// Number of estimates.
    pub count: usize,
    /// Combined value, in the unit of the estimates.
    pub value: f64,
    /// Standard error `1/√Σw`.
    pub standard_error: f64,
    /// Standard error of Hartung & Knapp (2001), for t with k − 1 degrees of freedom.
    pub hartung_knapp_error: f64,
    /// Variance between the estimates.
    pub between_variance: f64,
    /// Cochran's Q about the inverse-variance mean.
    pub q: f64,
    /// Its tail probability, chi-square with k − 1.
    pub q_p: f64,
    /// Birge ratio `√(Q/(k − 1))`.
    pub birge_ratio: f64,
}

impl Combined {
    /// Hartung–Knapp interval of coverage `probability`: t with k − 1 degrees of freedom.
    #[must_use]
    pub fn interval(&self, probability: f64) -> Option<(f64, f64)> {
        let t = t_quantile(0.5 + 0.5 * probability, self.count as f64 - 1.0)?;
        Some((self.value - t * self.hartung_knapp_error, self.value + t * self.hartung_knapp_error))
    }
}

/// Combines `estimates`, each `(value, standard uncertainty)`; `None` with fewer than two, or when a value is not finite or an uncertainty not above 0.
#[must_use]
pub fn combine(estimates: &[(f64, f64)], method: BetweenVariance) -> Option<Combined> {
    let sensible = estimates.len() > 1 && estimates.iter().all(|(y, u)| y.is_finite() && *u > 0.0 && u.is_finite());
    if !sensible {
        return None;
    }
    let k = estimates.len() as f64;
    let common = Weighted::at(estimates, 0.0);
    let q = common.q;
    let between_variance = match method {
        BetweenVariance::Common => 0.0,
        BetweenVariance::DerSimonianLaird => ((q - (k - 1.0)) / (common.sum - common.squares / common.sum)).max(0.0),
        BetweenVariance::PauleMandel => root_from_zero(estimates, |w, _| w.q - (k - 1.0)),
        // Twice the derivative of the restricted log-likelihood, which falls through 0: Viechtbauer (2005), equation 11.
        BetweenVariance::Reml => root_from_zero(estimates, |w, scatter| scatter - (w.sum - w.squares / w.sum)),
    };
    let at = Weighted::at(estimates, between_variance);
    let standard_error = 1.0 / at.sum.sqrt();
    let result = Combined {
        count: estimates.len(),
        value: at.mean,
        standard_error,
        hartung_knapp_error: standard_error * (at.q / (k - 1.0)).sqrt(),
        between_variance,
        q,
        q_p: chi_square_sf(q, k - 1.0)?,
        birge_ratio: (q / (k - 1.0)).sqrt(),
    };
    (result.value.is_finite() && result.hartung_knapp_error.is_finite()).then_some(result)
}

/// Weights `w = 1/(u² + τ²)` and what is made of them.
struct Weighted {
    sum: f64,
    squares: f64,
    mean: f64,
    q: f64,
}

impl Weighted {
    fn at(estimates: &[(f64, f64)], between: f64) -> Self {
        let weight = |u: f64| 1.0 / (u * u + between);
        let sum: f64 = estimates.iter().map(|(_, u)| weight(*u)).sum();
        let squares = estimates.iter().map(|(_, u)| weight(*u) * weight(*u)).sum();
        let first = estimates.first().map_or(0.0, |e| e.0);
        let mean = first + estimates.iter().map(|(y, u)| weight(*u) * (y - first)).sum::<f64>() / sum;
        let q = estimates.iter().map(|(y, u)| weight(*u) * (y - mean) * (y - mean)).sum();
        Self { sum, squares, mean, q }
    }
}

/// The variance above 0 where `score` (falling) passes 0, by bisection; 0 where it starts below. `score` is given the weights and `Σw²(y − mean)²`.
fn root_from_zero(estimates: &[(f64, f64)], score: impl Fn(&Weighted, f64) -> f64) -> f64 {
    let at = |variance: f64| {
        let weighted = Weighted::at(estimates, variance);
        let scatter = estimates.iter().map(|(y, u)| ((y - weighted.mean) / (u * u + variance)).powi(2)).sum();
        score(&weighted, scatter)
    };
    if at(0.0) <= 0.0 {
        return 0.0;
    }
    // With the range squared as variance the weighted scatter is at most half of what is asked.
    let range = estimates.iter().fold(f64::NEG_INFINITY, |m, e| m.max(e.0)) - estimates.iter().fold(f64::INFINITY, |m, e| m.min(e.0));
    let (mut low, mut high) = (0.0, range * range);
    for _ in 0..200 {
        let middle = 0.5 * (low + high);
        if middle <= low || middle >= high {
            break;
        }
        if at(middle) > 0.0 {
            low = middle;
        } else {
            high = middle;
        }
    }
    0.5 * (low + high)
}
