//! Outliers: generalised extreme studentised deviates, and Grubbs' test.

use super::distributions::{t_two_sided_p, t_upper_quantile};
use super::influence::influence;
use super::least_squares::{FitError, least_squares};
use super::summary::Summary;
use nalgebra::DMatrix;

/// One step of the generalised ESD procedure: the most extreme reading of those left.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct EsdStep {
    /// Row of the reading.
    pub index: usize,
    /// Its externally studentised residual among the readings left; infinite where all others fit exactly and it does not.
    pub studentised: f64,
    /// What its size must exceed.
    pub critical: f64,
    /// Two-sided tail probability times the number of readings left, at most 1.
    pub p: f64,
}

/// Outcome of the generalised ESD procedure.
#[derive(Debug, Clone, PartialEq)]
pub struct Esd {
    /// Every step made, in order.
    pub steps: Vec<EsdStep>,
    /// How many of the first steps are outliers.
    pub outliers: usize,
}

impl Esd {
    /// The flagged steps.
    #[must_use]
    pub fn flagged(&self) -> &[EsdStep] {
        self.steps.get(..self.outliers).unwrap_or(&[])
    }
}

/// Generalised ESD on the externally studentised residuals of a regression (`design` n × p, `response` n).
///
/// Rosner (1983): remove the most extreme reading `most` times, refitting each time; the outliers are all up to the **last** step whose statistic
/// exceeds its critical value, so that one outlier cannot hide behind another. Rosner's `Rᵢ > λᵢ` on a sample is, exactly,
/// `|t| > t(1 − α/(2m), m − 2)` with `t` externally studentised and `m` readings left; with p terms the degrees of freedom are `m − p − 1`.
/// Stops early where no reading left can be judged (leverage 1, or all fit exactly).
///
/// # Errors
/// As [`least_squares`].
pub fn generalised_esd(design: &DMatrix<f64>, response: &[f64], most: usize, alpha: f64) -> Result<Esd, FitError> {
    let mut left: Vec<usize> = (0..response.len()).collect();
    let mut esd = Esd { steps: Vec::new(), outliers: 0 };
    let mut fit = least_squares(design, response)?;
    while esd.steps.len() < most {
        let count = left.len() as f64;
        let dof = fit.dof() as f64 - 1.0;
        let pull = influence(&fit);
        let mut extreme: Option<(usize, f64)> = None;
        for (place, (outer, inner)) in pull.externally_studentised.iter().zip(&pull.internally_studentised).enumerate() {
            // Without an external one the others fit exactly: this reading alone strays, by more than any scatter.
            let t = outer.or(inner.filter(|_| dof > 0.0).map(|inner| inner.signum() * f64::INFINITY));
            if let Some(t) = t
                && extreme.is_none_or(|(_, best)| t.abs() > best.abs())
            {
                extreme = Some((place, t));
            }
        }
        let (Some((place, t)), Some(critical)) = (extreme, t_upper_quantile(alpha / (2.0 * count), dof)) else { break };
        let p = if t.is_infinite() { 0.0 } else { t_two_sided_p(t, dof).map_or(1.0, |p| (p * count).min(1.0)) };
        let index = left.remove(place);
        esd.steps.push(EsdStep { index, studentised: t, critical, p });
        if t.abs() > critical {
            esd.outliers = esd.steps.len();
        }
        if esd.steps.len() < most {
            let rows = design.select_rows(&left);
            let values: Vec<f64> = left.iter().filter_map(|i| response.get(*i)).copied().collect();
            fit = least_squares(&rows, &values)?;
        }
    }
    Ok(esd)
}

/// Rosner's statistic `R = |x − x̄|/s` of a sample of `m` from the externally studentised deviate `t`.
///
/// `R = (m − 1)|t|/√(m(m − 2 + t²))`; the same map takes Rosner's `λ` from the critical value of `t`.
#[must_use]
pub fn rosner_from_studentised(t: f64, m: usize) -> f64 {
    let m = m as f64;
    (m - 1.0) * t.abs() / (m * (m - 2.0 + t * t)).sqrt()
}

/// Grubbs' test for one outlier.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Grubbs {
    /// Row of the most extreme value.
    pub index: usize,
    /// `G = max|x − x̄|/s`.
    pub statistic: f64,
    /// Critical value of the two-sided test at `alpha`.
    pub critical_two_sided: f64,
    /// Critical value of the one-sided test at `alpha`.
    pub critical_one_sided: f64,
}

/// Grubbs' test (Grubbs 1969) on a sample of normal values; `None` with fewer than three, with values all equal, or a bad `alpha`.
#[must_use]
pub fn grubbs(values: &[f64], alpha: f64) -> Option<Grubbs> {
    let summary = Summary::of(values)?;
    let sd = summary.sd.filter(|sd| *sd > 0.0)?;
    let n = values.len();
    let (index, deviation) =
        values.iter().map(|v| (v - summary.mean).abs()).enumerate().fold((0, -1.0), |best, now| if now.1 > best.1 { now } else { best });
    let dof = n as f64 - 2.0;
    let critical = |sides: f64| Some(rosner_from_studentised(t_upper_quantile(alpha / (sides * n as f64), dof)?, n));
    Some(Grubbs { index, statistic: deviation / sd, critical_two_sided: critical(2.0)?, critical_one_sided: critical(1.0)? })
}
