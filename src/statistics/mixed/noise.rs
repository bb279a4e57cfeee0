/// What is known of the noise `σ` of one reading before the readings: log-normal about a data sheet's value.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct NoisePrior {
    /// Median of `σ`, in the unit of the readings.
    pub median: f64,
    /// Standard deviation of `ln σ`.
    pub log_deviation: f64,
}

impl NoisePrior {
    /// From a data sheet's `u` and a multiplicative standard deviation such as 1.5.
    #[must_use]
    pub fn from_factor(u: f64, factor: f64) -> Self {
        Self { median: u, log_deviation: factor.max(1.0 + 1e-6).ln() }
    }

    /// Degrees of freedom of a scatter that would say as much: `1/(2·log_deviation²)`, 3.0 for a factor 1.5.
    #[must_use]
    pub fn equivalent_dof(&self) -> f64 {
        0.5 / (self.log_deviation * self.log_deviation)
    }

    /// `−2 ln` of the density of `ln σ`, up to a constant.
    #[must_use]
    pub fn penalty(&self, sigma: f64) -> f64 {
        let standardised = (sigma / self.median).ln() / self.log_deviation;
        standardised * standardised
    }
}
