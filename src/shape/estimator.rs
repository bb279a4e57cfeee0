//! Taper and barrel from the mixed model, whichever way the spread between passes is got.

use super::taper_fit::FittedContrast;
use crate::statistics::distributions::coverage_factor95;
use crate::statistics::mixed::{CentralInterval, Coefficients, FixedCovariance, RemlFit, SpreadPosterior};

/// Either way of getting at the spread between passes.
pub(super) enum Estimator {
    Reml(Box<RemlFit>),
    Prior(SpreadPosterior),
}

impl Estimator {
    pub fn contrast(&self, contrast: &Coefficients) -> FittedContrast {
        match self {
            Self::Reml(fit) => {
                let (variance, within) = fit.variance(contrast);
                let dof = fit.degrees_of_freedom(contrast);
                let standard_error = variance.max(0.0).sqrt();
                let factor = coverage_factor95(dof);
                FittedContrast {
                    value: contrast.dot(&fit.evaluation.coefficients),
                    standard_error,
                    dof,
                    half_width95: factor * standard_error,
                    within_share: within / variance,
                }
            }
            Self::Prior(fit) => {
                let CentralInterval { value, standard_error, dof, half_width95, within } = fit.interval(contrast);
                FittedContrast { value, standard_error, dof, half_width95, within_share: (within / standard_error).powi(2) }
            }
        }
    }

    pub fn sigma(&self) -> f64 {
        match self {
            Self::Reml(fit) => fit.sigma_square.sqrt(),
            Self::Prior(fit) => fit.sigma_median,
        }
    }

    pub fn covariance(&self) -> FixedCovariance {
        match self {
            Self::Reml(fit) => fit.covariance(),
            Self::Prior(fit) => fit.mean_unscaled_covariance(),
        }
    }

    pub fn coefficients(&self, contrast: &Coefficients) -> f64 {
        match self {
            Self::Reml(fit) => contrast.dot(&fit.evaluation.coefficients),
            Self::Prior(fit) => fit.mean(contrast),
        }
    }
}

/// Where the search for the variances begins: the noise `sigma_mm`, mm, and for slope and bend half of what that noise makes of one pass's own ones.
pub(super) fn first_guess(sigma_mm: f64, unit: [f64; 2]) -> [f64; 3] {
    let noise = sigma_mm * sigma_mm;
    [noise, 0.5 * noise * unit[0] * unit[0], 0.5 * noise * unit[1] * unit[1]]
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn half_of_a_pass_s_own_variances() {
        // 3² and half of (3·2)² and of (3·¼)²
        assert_eq!(first_guess(3.0, [2.0, 0.25]), [9.0, 18.0, 0.281_25]);
    }
}
