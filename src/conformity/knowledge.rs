use crate::statistics::distributions::{normal_cdf, normal_quantile, normal_sf, t_cdf, t_quantile, t_sf};

/// What is known of a quantity: a value with its standard uncertainty, or draws of its posterior. In the quantity's unit.
#[derive(Debug, Clone, PartialEq)]
pub enum Knowledge {
    /// A scaled and shifted t distribution (normal without finite degrees of freedom).
    Spread {
        /// Best estimate.
        value: f64,
        /// Standard uncertainty.
        standard_uncertainty: f64,
        /// Effective degrees of freedom; `None` = no finite number.
        dof: Option<f64>,
    },
    /// Equally likely draws, rising.
    Draws(Vec<f64>),
}

impl Knowledge {
    /// From draws in any order; `None` when there are none or one is not finite.
    #[must_use]
    pub fn of_draws(mut draws: Vec<f64>) -> Option<Self> {
        if draws.is_empty() || draws.iter().any(|d| !d.is_finite()) {
            return None;
        }
        draws.sort_by(f64::total_cmp);
        Some(Self::Draws(draws))
    }

    /// Best estimate: the value, or the mean of the draws.
    #[must_use]
    pub fn value(&self) -> f64 {
        match self {
            Self::Spread { value, .. } => *value,
            Self::Draws(draws) => draws.iter().sum::<f64>() / draws.len() as f64,
        }
    }

    /// Standard uncertainty: as stated, or the standard deviation of the draws.
    #[must_use]
    pub fn standard_uncertainty(&self) -> f64 {
        match self {
            Self::Spread { standard_uncertainty, .. } => *standard_uncertainty,
            Self::Draws(draws) => {
                let mean = self.value();
                (draws.iter().map(|d| (d - mean).powi(2)).sum::<f64>() / draws.len() as f64).sqrt()
            }
        }
    }

    /// Half of the central 95 % interval.
    #[must_use]
    pub fn expanded_uncertainty(&self) -> f64 {
        match self {
            Self::Spread { standard_uncertainty, dof, .. } => quantile(0.975, *dof) * standard_uncertainty,
            Self::Draws(draws) => 0.5 * (ranked(draws, 0.975) - ranked(draws, 0.025)),
        }
    }

    /// Probability that the quantity lies between `low` and `high`, ends included: `F(high) − F(low)` (JCGM 106:2012, clause 7).
    ///
    /// For one limit `T` and a normal distribution this is `Φ((T − y)/u)`. A standard uncertainty of 0 gives 0 or 1.
    ///
    /// ```
    /// # use taperwright::conformity::Knowledge;
    /// let burst_pressure = Knowledge::Spread { value: 509.7, standard_uncertainty: 8.6, dof: None };
    /// assert!((burst_pressure.probability_within(490.0, f64::INFINITY) - 0.989).abs() < 5e-4);
    /// ```
    #[must_use]
    pub fn probability_within(&self, low: f64, high: f64) -> f64 {
        match self {
            Self::Spread { value, standard_uncertainty, dof } => {
                if *standard_uncertainty <= 0.0 {
                    return f64::from(u8::from(low <= *value && *value <= high));
                }
                let at = |bound: f64| (bound - value) / standard_uncertainty;
                let (from, to) = (at(low), at(high));
                // the smaller tails are subtracted, so that nothing cancels
                let inside = if from > 0.0 { above(from, *dof) - above(to, *dof) } else { below(to, *dof) - below(from, *dof) };
                inside.clamp(0.0, 1.0)
            }
            Self::Draws(draws) => {
                let inside =
                    draws.partition_point(|d| *d <= high) - draws.partition_point(|d| *d < low).min(draws.partition_point(|d| *d <= high));
                inside as f64 / draws.len() as f64
            }
        }
    }

    /// The same knowledge with another standard uncertainty: draws are drawn together about their mean.
    #[must_use]
    pub fn with_standard_uncertainty(&self, u: f64) -> Self {
        match self {
            Self::Spread { value, dof, .. } => Self::Spread { value: *value, standard_uncertainty: u, dof: *dof },
            Self::Draws(draws) => {
                let (mean, own) = (self.value(), self.standard_uncertainty());
                let factor = if own > 0.0 { u / own } else { 1.0 };
                Self::Draws(draws.iter().map(|d| mean + factor * (d - mean)).collect())
            }
        }
    }
}

fn quantile(p: f64, dof: Option<f64>) -> f64 {
    dof.and_then(|d| t_quantile(p, d)).or_else(|| normal_quantile(p)).unwrap_or(f64::INFINITY)
}

fn below(z: f64, dof: Option<f64>) -> f64 {
    if z.is_infinite() {
        return f64::from(u8::from(z > 0.0));
    }
    dof.and_then(|d| t_cdf(z, d)).or_else(|| normal_cdf(z)).unwrap_or(0.0)
}

fn above(z: f64, dof: Option<f64>) -> f64 {
    if z.is_infinite() {
        return f64::from(u8::from(z < 0.0));
    }
    dof.and_then(|d| t_sf(z, d)).or_else(|| normal_sf(z)).unwrap_or(0.0)
}

/// The draw of rank `p` among rising draws, between neighbours in proportion.
fn ranked(draws: &[f64], p: f64) -> f64 {
    let at = p * draws.len().saturating_sub(1) as f64;
    let (low, high) = (draws.get(at.floor() as usize), draws.get(at.ceil() as usize));
    match (low, high) {
        (Some(low), Some(high)) => low + (at - at.floor()) * (high - low),
        _ => 0.0,
    }
}
