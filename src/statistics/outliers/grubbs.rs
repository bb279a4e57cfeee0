//! Grubbs' test, and Rosner's statistic in its terms.

use crate::statistics::distributions::t_upper_quantile;
use crate::statistics::summary::Summary;

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
