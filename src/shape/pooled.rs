//! Least squares with a free level per pass: what the residual checks and the choice of order stand on.

use super::cut::Cut;
use super::model::Model;
use super::slopes::Slopes;
use crate::statistics::{RunFit, RunRows};

/// A pooled fit: free level per pass, slope per direction or pass, higher terms common to all.
#[derive(Debug, Clone)]
pub(super) struct PooledFit<'c> {
    /// Order of the polynomial.
    pub order: usize,
    /// The model.
    pub model: Model<'c>,
    /// Its fit to diameters less the cut's origin, mm.
    pub fit: RunFit,
    /// Weighted residual sum of squares.
    pub residual_square: f64,
    /// Residual degrees of freedom.
    pub dof: f64,
    /// Level of each finishing pass where all Legendre terms are 0, mm.
    pub levels_mm: Vec<f64>,
    /// Number of slopes.
    pub slots: usize,
}

impl PooledFit<'_> {
    /// Residual standard deviation of a reading of weight 1, mm; no number without degrees of freedom.
    pub fn residual_sd(&self) -> f64 {
        (self.residual_square / self.dof).sqrt()
    }

    /// Number of readings.
    pub fn readings(&self) -> usize {
        self.fit.readings
    }

    /// Mean of the slopes.
    pub fn mean_slope(&self) -> f64 {
        let sum: f64 = if self.model.own_slope() {
            (0..self.model.blocks()).filter_map(|block| self.fit.own_slope(block)).sum()
        } else {
            self.fit.shared.iter().take(self.slots).sum()
        };
        sum / self.slots.max(1) as f64
    }

    /// Coefficient of the Legendre term of `degree` 2 or 3, and its variance divided by that of a reading; 0 where the order is lower.
    pub fn higher(&self, degree: usize) -> (f64, f64) {
        let first = if self.model.own_slope() { 0 } else { self.slots };
        let Some(place) = degree.checked_sub(2).filter(|_| degree <= self.order).map(|above| first + above) else { return (0.0, 0.0) };
        (self.fit.shared.get(place).copied().unwrap_or(0.0), self.fit.basis.covariance(place, place))
    }

    /// Sum of squares of the fitted values about the passes' own levels: what the slopes of an order-1 fit explain.
    pub fn explained_square(&self) -> f64 {
        let mut row = self.fit.basis.scratch();
        let mut square = 0.0;
        for block in 0..self.model.blocks() {
            for run in self.model.block(block) {
                let about = self.fit.fitted(&self.model, block, run, &mut row) - self.fit.level(block);
                square += self.model.weight(run) * self.model.count(run) as f64 * about * about;
            }
        }
        square
    }
}

/// Fits by least squares on Legendre columns, each pass's own terms taken out pass by pass.
///
/// Returns `None` when a term cannot be told from the others.
pub(super) fn pooled_fit<'c>(cut: &'c Cut<'c>, order: usize, slopes: Slopes) -> Option<PooledFit<'c>> {
    let model = Model::new(cut, order, slopes, false);
    let fit = RunFit::of(&model, &cut.sums());
    if !fit.basis.is_full() || !fit.basis.has_all_slopes() {
        return None;
    }
    let zero = vec![0.0; model.columns()];
    let levels_mm = (0..model.blocks()).map(|block| cut.origin_mm + fit.level_at(block, &zero)).collect();
    let slots = slopes.count(cut);
    Some(PooledFit { order, residual_square: fit.residual_square, dof: fit.dof(), levels_mm, slots, model, fit })
}
