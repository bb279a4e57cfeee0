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

#[cfg(test)]
#[allow(clippy::unwrap_used, reason = "a test fails by panicking")]
mod tests {
    use super::Knowledge;

    fn spread(value: f64, standard_uncertainty: f64, dof: Option<f64>) -> Knowledge {
        Knowledge::Spread { value, standard_uncertainty, dof }
    }

    fn draws(list: &[f64]) -> Knowledge {
        Knowledge::of_draws(list.to_vec()).unwrap()
    }

    #[test]
    fn the_expanded_uncertainty_is_students_or_that_of_the_ranked_draws() {
        // 97.5 % points of t: Abramowitz & Stegun (1964), Table 26.10, from memory
        for (dof, t) in [(Some(3.0), 3.182), (Some(10.0), 2.228), (None, 1.960)] {
            assert!((spread(5.0, 0.5, dof).expanded_uncertainty() - 0.5 * t).abs() < 3e-4, "{dof:?}");
        }
        // ranks 0.1 and 3.9 of five draws: 0.1 and 9.3
        assert!((draws(&[10.0, 0.0, 3.0, 1.0, 2.0]).expanded_uncertainty() - 4.6).abs() < 1e-12);
        let many: Vec<f64> = (0..=1000).map(f64::from).collect();
        assert!((draws(&many).expanded_uncertainty() - 475.0).abs() < 1e-9);
    }

    #[test]
    fn draws_are_counted_ends_included() {
        let four = draws(&[1.0, 3.0, 2.0, 2.0]);
        for (low, high, share) in [(2.0, 2.0, 0.5), (1.0, 2.0, 0.75), (2.0, 3.0, 0.75), (2.5, 2.6, 0.0), (4.0, 0.0, 0.0), (0.0, 9.0, 1.0)] {
            assert!((four.probability_within(low, high) - share).abs() < 1e-12, "{low} to {high}");
        }
        assert_eq!((Knowledge::of_draws(Vec::new()), Knowledge::of_draws(vec![1.0, f64::NAN])), (None, None));
    }

    #[test]
    fn an_exact_value_lies_inside_or_outside_ends_included() {
        let exact = spread(2.0, 0.0, None);
        for (low, high, inside) in [(2.0, 3.0, 1.0), (1.0, 2.0, 1.0), (2.1, 3.0, 0.0), (1.0, 1.9, 0.0)] {
            assert!((exact.probability_within(low, high) - inside).abs() < 1e-12, "{low} to {high}");
        }
    }

    #[test]
    fn tails_far_out_do_not_cancel() {
        // Φ(−8) − Φ(−9) = 6.2209605e-16 − 1.1e-19, by the asymptotic series φ(z)/z·(1 − 1/z² + 3/z⁴ − 15/z⁶ + …)
        for (low, high) in [(8.0, 9.0), (-9.0, -8.0)] {
            let found = spread(0.0, 1.0, None).probability_within(low, high);
            assert!((found / 6.2198e-16 - 1.0).abs() < 1e-3, "{found:e}");
        }
        // one-sided tables: Φ(−1) = 0.15866; t with one degree of freedom beyond 1: a quarter
        let beyond = |dof| spread(0.0, 1.0, dof).probability_within(1.0, f64::INFINITY);
        assert!((spread(0.0, 1.0, None).probability_within(1.0, 2.0) - (0.158_66 - 0.022_75)).abs() < 1e-5);
        assert!((beyond(None) - 0.158_66).abs() < 5e-6 && (beyond(Some(1.0)) - 0.25).abs() < 1e-9);
        assert!((spread(0.0, 1.0, Some(1.0)).probability_within(f64::NEG_INFINITY, -1.0) - 0.25).abs() < 1e-9);
    }

    #[test]
    fn draws_are_drawn_together_about_their_mean() {
        let narrow = draws(&[0.0, 2.0, 4.0]).with_standard_uncertainty(0.5);
        assert!((narrow.value() - 2.0).abs() < 1e-12 && (narrow.standard_uncertainty() - 0.5).abs() < 1e-12);
        assert!((narrow.probability_within(1.9, 9.0) - 2.0 / 3.0).abs() < 1e-12, "their order stays");
        assert_eq!(draws(&[1.0, 1.0]).with_standard_uncertainty(0.5), draws(&[1.0, 1.0]), "what does not scatter cannot be scaled");
        assert_eq!(spread(1.0, 2.0, Some(4.0)).with_standard_uncertainty(0.5), spread(1.0, 0.5, Some(4.0)));
    }
}
