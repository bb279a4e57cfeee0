//! Least squares with a free level per pass: what the residual checks and the choice of order stand on.

use super::cut::Cut;
use super::slopes::Slopes;
use crate::statistics::legendre_values;
use nalgebra::{DMatrix, DVector};

/// A pooled fit: free level per pass, slope per direction or pass, higher terms common to all.
#[derive(Debug, Clone)]
pub(super) struct PooledFit {
    /// Order of the polynomial.
    pub order: usize,
    /// Coefficients: the slopes, then the common higher terms.
    pub coefficients: DVector<f64>,
    /// Their covariance divided by the residual variance.
    pub unscaled_covariance: DMatrix<f64>,
    /// Weighted residual sum of squares.
    pub residual_square: f64,
    /// Residual degrees of freedom.
    pub dof: f64,
    /// One row a reading, passes in cutting order.
    pub rows: Vec<PooledRow>,
    /// Level of each finishing pass at `x = 0` of the mean curve, mm.
    pub levels_mm: Vec<f64>,
    /// Number of slopes.
    pub slots: usize,
}

/// A reading in a pooled fit.
#[derive(Debug, Clone, Copy)]
pub(super) struct PooledRow {
    /// Weight.
    pub weight: f64,
    /// Diameter minus fitted, mm.
    pub residual_mm: f64,
    /// Leverage, 0 to 1.
    pub leverage: f64,
}

impl PooledFit {
    /// Residual standard deviation of a reading of weight 1, mm; `None` without degrees of freedom.
    pub fn residual_sd(&self) -> Option<f64> {
        (self.dof > 0.0).then(|| (self.residual_square / self.dof).sqrt())
    }
}

/// Fits by normal equations on centred Legendre columns, which are well conditioned on any set of stations met here.
///
/// Returns `None` when a term cannot be told from the others.
pub(super) fn pooled_fit(cut: &Cut<'_>, order: usize, slopes: Slopes) -> Option<PooledFit> {
    let slots = slopes.count(cut);
    let count = slots + order - 1;
    let origin = cut.finishing.first()?.readings.first()?.diameter_mm;
    let mut design: Vec<(DVector<f64>, f64, f64, usize)> = Vec::new();
    let mut information = DMatrix::zeros(count, count);
    let mut right = DVector::zeros(count);
    let mut means = Vec::with_capacity(cut.finishing.len());
    for (index, pass) in cut.finishing.iter().enumerate() {
        let slot = slopes.slot(cut, index, pass);
        let columns = |x: f64| {
            let values = legendre_values(order, x);
            let mut row = DVector::zeros(count);
            for degree in 1..=order {
                let place = if degree == 1 { slot } else { slots + degree - 2 };
                row[place] = values.get(degree).copied().unwrap_or(0.0);
            }
            row
        };
        let weights: f64 = pass.readings.iter().map(|r| r.weight).sum();
        let mut mean = DVector::zeros(count);
        let mut y_mean = 0.0;
        for r in &pass.readings {
            mean += columns(r.x) * (r.weight / weights);
            y_mean += (r.diameter_mm - origin) * r.weight / weights;
        }
        for r in &pass.readings {
            let row = columns(r.x) - &mean;
            let y = r.diameter_mm - origin - y_mean;
            information += &row * row.transpose() * r.weight;
            right += &row * (y * r.weight);
            design.push((row, y, r.weight, index));
        }
        means.push((mean, y_mean, weights));
    }
    let diagonal = information.diagonal();
    if diagonal.iter().any(|&d| d <= 1e-12) {
        return None;
    }
    let scale = diagonal.map(|d| d.sqrt().recip());
    let scaled = DMatrix::from_fn(count, count, |i, j| information[(i, j)] * scale[i] * scale[j]);
    let factor = scaled.cholesky()?;
    if factor.l_dirty().diagonal().iter().any(|&l| l < 1e-6) {
        return None;
    }
    let inverse = factor.inverse();
    let unscaled_covariance = DMatrix::from_fn(count, count, |i, j| inverse[(i, j)] * scale[i] * scale[j]);
    let mut coefficients = &unscaled_covariance * &right;
    let mut correction = DVector::zeros(count);
    for (row, y, weight, _) in &design {
        correction += row * ((y - row.dot(&coefficients)) * *weight);
    }
    coefficients += &unscaled_covariance * correction;
    let mut residual_square = 0.0;
    let rows: Vec<PooledRow> = design
        .iter()
        .map(|(row, y, weight, pass)| {
            let residual_mm = y - row.dot(&coefficients);
            residual_square += weight * residual_mm * residual_mm;
            let pass_weight = means.get(*pass).map_or(1.0, |m| m.2);
            let leverage = (weight / pass_weight + weight * row.dot(&(&unscaled_covariance * row))).clamp(0.0, 1.0);
            PooledRow { weight: *weight, residual_mm, leverage }
        })
        .collect();
    let levels_mm = means.iter().map(|(mean, y_mean, _)| origin + y_mean - mean.dot(&coefficients)).collect();
    Some(PooledFit {
        order,
        dof: rows.len() as f64 - cut.finishing.len() as f64 - count as f64,
        coefficients,
        unscaled_covariance,
        residual_square,
        rows,
        levels_mm,
        slots,
    })
}
