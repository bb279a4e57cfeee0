//! Rows of a budget put together: combined and expanded uncertainty, effective degrees of freedom.

use super::budget::Draw;
use super::taper_fit::FittedContrast;
use super::words::component_words;
use super::{BudgetRow, Expanded};
use crate::quantities::Interval;
use crate::statistics::distributions::{coverage_factor95, t_quantile};
use crate::statistics::welch_satterthwaite;

/// The first rows of a budget are the parts of the fit: scatter within passes and spread between them.
const FIT_ROWS: usize = 2;

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
///
/// The first two rows are the parts of `contrast`, whose standard error and degrees of freedom stand for both: they are estimated together, and the formula
/// takes independent parts.
pub(super) fn combine(mut rows: Vec<BudgetRow>, draws: Vec<Draw>, contrast: &FittedContrast) -> Budget {
    let variance: f64 = rows.iter().map(|r| r.standard_uncertainty.powi(2)).sum();
    let standard_uncertainty = variance.sqrt();
    if variance > 0.0 {
        rows.iter_mut().for_each(|r| r.share = r.standard_uncertainty.powi(2) / variance);
    }
    let other = rows.iter().skip(FIT_ROWS).map(|r| (r.standard_uncertainty, r.dof));
    let components: Vec<(f64, Option<f64>)> = std::iter::once((contrast.standard_error, contrast.dof)).chain(other).collect();
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
    rows.iter().skip(FIT_ROWS).filter(|r| r.component != CALIBRATION).map(|r| r.standard_uncertainty.powi(2)).sum::<f64>().sqrt()
}

/// The same rows in words, the largest first, until they make four fifths of their variance; the calibration's with `calibration_mm`.
pub(super) fn largest_beside_the_fit(rows: &[BudgetRow], calibration_mm: f64) -> Vec<&str> {
    let size = |row: &BudgetRow| if row.component == CALIBRATION { calibration_mm } else { row.standard_uncertainty };
    let mut sized: Vec<(f64, &str)> = rows
        .iter()
        .skip(FIT_ROWS)
        .map(|row| (size(row).powi(2), component_words(&row.component)))
        .filter(|(variance, _)| *variance > 0.0)
        .collect();
    sized.sort_by(|a, b| b.0.total_cmp(&a.0));
    let mut left = 0.8 * sized.iter().map(|(variance, _)| variance).sum::<f64>();
    let needed = |(variance, _): &(f64, &str)| {
        let more = left > 0.0;
        left -= variance;
        more
    };
    sized.into_iter().take_while(needed).map(|(_, name)| name).collect()
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

    /// A fit of 3 with 4 degrees of freedom, in parts of 1.8 and 2.4, beside a row of 4: 5, shares 9/25 and 16/25, 625/(81/4) degrees, whatever the parts'
    /// own are; rows of nothing have no shares.
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
        let both = combine(vec![row(1.8, Some(77.0)), row(2.4, None), row(4.0, None)], Vec::new(), &contrast);
        let near = |found: f64, wanted: f64| (found - wanted).abs() < 1e-9;
        assert!(near(both.standard_uncertainty, 5.0) && near(both.effective_dof.unwrap(), 2500.0 / 81.0) && !near(5.1, 5.0));
        assert!(near(both.rows[0].share + both.rows[1].share, 0.36) && near(both.rows[2].share, 0.64));
        assert!(near(both.rows[0].share, 0.1296), "{both:?}");
        assert!(near(both.interval95.half_width(), both.expanded.value) && near(both.interval95.low + both.interval95.high, 14.0));
        let nothing = FittedContrast { standard_error: 0.0, half_width95: 0.0, ..contrast };
        let nothing = combine(vec![row(0.0, None), row(0.0, None)], Vec::new(), &nothing);
        assert!(nothing.rows.iter().all(|row| row.share == 0.0) && nothing.standard_uncertainty == 0.0);
    }

    /// Squares 9, 4, 4 and 1 beside the fit make 18, four fifths are 14.4: the first three. The calibration counts as it is given.
    #[test]
    fn the_largest_rows_are_named() {
        let rows: Vec<BudgetRow> = [
            ("repeatability", 9.0),
            ("between-pass", 9.0),
            ("resolution", 1.0),
            ("calibration", 0.5),
            ("temperature-gradient", 2.0),
            ("vertical-misalignment", 3.0),
            ("station-scale", 0.0),
        ]
        .map(|(name, u)| BudgetRow { component: name.to_owned(), standard_uncertainty: u, dof: None, share: 0.0, how: String::new() })
        .into();
        let [vertical, gauge, ends] = ["vertical misalignment", "calibration of the gauge", "bar’s ends unlike in temperature"];
        assert_eq!(largest_beside_the_fit(&rows, 2.0), [vertical, gauge, ends]);
        assert_eq!(largest_beside_the_fit(&rows, 0.0), [vertical, ends], "9 of 14 are less than four fifths");
        assert_eq!(largest_beside_the_fit(&rows, 9.0), [gauge], "81 of 95 are more");
        assert!(largest_beside_the_fit(&rows[..2], 2.0).is_empty());
    }
}
