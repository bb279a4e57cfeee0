//! Rows of a budget put together: combined and expanded uncertainty, effective degrees of freedom.

use super::budget::Draw;
use super::taper_fit::FittedContrast;
use super::{BudgetRow, Expanded};
use crate::quantities::Interval;
use crate::statistics::distributions::{coverage_factor95, t_quantile};
use crate::statistics::welch_satterthwaite;

/// Name of the budget's row for the zeros of unlike gauges.
pub(super) const CALIBRATION: &str = "calibration";

/// A budget with its combined uncertainty.
#[derive(Debug, Clone)]
pub(super) struct Budget {
    pub rows: Vec<BudgetRow>,
    pub draws: Vec<Draw>,
    pub standard_uncertainty: f64,
    pub effective_dof: Option<f64>,
    pub interval95: Interval,
    pub expanded: Expanded,
}

/// Combines rows: quadrature sum, Welch–Satterthwaite degrees of freedom, expanded uncertainty at 95 %.
pub(super) fn combine(mut rows: Vec<BudgetRow>, draws: Vec<Draw>, contrast: &FittedContrast) -> Budget {
    let variance: f64 = rows.iter().map(|r| r.standard_uncertainty.powi(2)).sum();
    let standard_uncertainty = variance.sqrt();
    if variance > 0.0 {
        rows.iter_mut().for_each(|r| r.share = r.standard_uncertainty.powi(2) / variance);
    }
    let components: Vec<(f64, Option<f64>)> = rows.iter().map(|r| (r.standard_uncertainty, r.dof)).collect();
    let satterthwaite = welch_satterthwaite(&components).and_then(|(_, dof)| dof);
    let (effective_dof, coverage_factor) = coverage(satterthwaite, standard_uncertainty, contrast.half_width95);
    Budget {
        rows,
        draws,
        standard_uncertainty,
        effective_dof,
        interval95: Interval::about(contrast.value, coverage_factor * standard_uncertainty),
        expanded: Expanded { value: coverage_factor * standard_uncertainty, coverage_factor, coverage_probability: 0.95 },
    }
}

/// Combined uncertainty of another contrast of the same readings: its own fit and `other` (the budget's rows beside the fit).
pub(super) fn combined(contrast: &FittedContrast, other: f64) -> (f64, Option<f64>, Interval) {
    let u = contrast.standard_error.hypot(other);
    let satterthwaite = welch_satterthwaite(&[(contrast.standard_error, contrast.dof), (other, None)]).and_then(|(_, dof)| dof);
    let (dof, factor) = coverage(satterthwaite, u, contrast.half_width95);
    (u, dof, Interval::about(contrast.value, factor * u))
}

/// Effective degrees of freedom and coverage factor at 95 %: Welch–Satterthwaite (JCGM 100:2008, G.4).
///
/// With few degrees of freedom that formula can make a sum *narrower* than one of its parts. The degrees of freedom are then
/// lowered to where the expanded uncertainty is the fit's own half-width.
fn coverage(satterthwaite: Option<f64>, u: f64, least: f64) -> (Option<f64>, f64) {
    let factor = coverage_factor95(satterthwaite);
    if factor * u >= least {
        return (satterthwaite, factor);
    }
    let wanted = least / u;
    let (mut low, mut high) = (0.1_f64.ln(), satterthwaite.unwrap_or(1e9).max(0.2).ln());
    for _ in 0..60 {
        let middle = 0.5 * (low + high);
        if t_quantile(0.975, middle.exp()).is_some_and(|t| t > wanted) {
            low = middle;
        } else {
            high = middle;
        }
    }
    (Some((0.5 * (low + high)).exp()), wanted)
}

/// Quadrature sum of the rows that are not the fit's and not the calibration's, which no other contrast of the readings has in common with the taper.
pub(super) fn beside_the_fit(rows: &[BudgetRow]) -> f64 {
    rows.iter().skip(2).filter(|r| r.component != CALIBRATION).map(|r| r.standard_uncertainty.powi(2)).sum::<f64>().sqrt()
}

#[cfg(test)]
mod tests {
    use super::*;

    /// A factor 1.959964 of the normal that is just the fit's own is taken as it is; beyond it degrees of freedom follow: t of 4 has 2.776445, of 10 2.228139.
    #[test]
    fn a_sum_is_as_wide_as_the_fit_in_it() {
        let normal = coverage_factor95(None);
        assert_eq!(coverage(None, 2.0, 2.0 * normal), (None, normal));
        assert_eq!(coverage(Some(4.0), 3.0, 1.0), (Some(4.0), coverage_factor95(Some(4.0))));
        assert_eq!(coverage(None, 0.0, 0.0), (None, normal), "nothing is not lowered");
        let near = |found: f64, wanted: f64| (found / wanted - 1.0).abs() < 1e-5;
        assert!(!near(4.001, 4.0));
        for satterthwaite in [None, Some(50.0)] {
            let (dof, factor) = coverage(satterthwaite, 0.5, 0.5 * 2.776_445);
            assert!(near(dof.unwrap(), 4.0) && factor == 2.776_445, "{dof:?} {factor}");
            let (dof, factor) = coverage(satterthwaite, 2.0, 2.0 * 2.228_139);
            assert!(near(dof.unwrap(), 10.0) && near(factor, 2.228_139), "{dof:?} {factor}");
        }
    }

    /// Rows of 3 and 4 of which the first has 4 degrees of freedom: 5, shares 9/25 and 16/25, 625/(81/4) degrees; rows of nothing have no shares.
    #[test]
    fn rows_by_hand() {
        let row = |standard_uncertainty: f64, dof: Option<f64>| BudgetRow {
            component: String::new(),
            standard_uncertainty,
            dof,
            share: 0.0,
            how: String::new(),
        };
        let contrast = FittedContrast { value: 7.0, standard_error: 3.0, dof: Some(4.0), half_width95: 8.329_335, within_share: 1.0 };
        let both = combine(vec![row(3.0, Some(4.0)), row(4.0, None)], Vec::new(), &contrast);
        let near = |found: f64, wanted: f64| (found - wanted).abs() < 1e-9;
        assert!(near(both.standard_uncertainty, 5.0) && near(both.effective_dof.unwrap(), 2500.0 / 81.0) && !near(5.1, 5.0));
        assert!(near(both.rows[0].share, 0.36) && near(both.rows[1].share, 0.64));
        assert!(near(both.interval95.half_width(), both.expanded.value) && near(both.interval95.low + both.interval95.high, 14.0));
        let nothing = combine(vec![row(0.0, None), row(0.0, None)], Vec::new(), &FittedContrast { half_width95: 0.0, ..contrast });
        assert!(nothing.rows.iter().all(|row| row.share == 0.0) && nothing.standard_uncertainty == 0.0);
    }
}
