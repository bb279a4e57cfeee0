use super::basis::{Projections, RunBasis};
use super::parts::{over_parts, with_row};
use super::rows::RunRows;
use super::sums::RunSums;
use std::ops::Range;

/// A least-squares fit on runs.
#[derive(Debug, Clone)]
pub struct RunFit {
    /// The basis that it stands on.
    pub basis: RunBasis,
    /// Level of each block at the mean of its rows, and its slope on the first column.
    own: Vec<[f64; 2]>,
    /// Shared coefficients.
    pub shared: Vec<f64>,
    /// Block-major: what multiplies each column about its mean.
    factors: Vec<f64>,
    /// Weighted residual sum of squares.
    pub residual_square: f64,
    /// Readings.
    pub readings: usize,
    /// Largest size of what was fitted, `√weight·|y|`.
    pub size: f64,
}

impl RunFit {
    /// Least squares of readings with equal weights within each run; one step of refinement is made.
    #[must_use]
    pub fn of(rows: &impl RunRows, sums: &RunSums<'_>) -> Self {
        let total = |run: usize| rows.weight(run) * rows.count(run) as f64;
        Self::counted(rows, total, sums, &|run| rows.count(run))
    }

    /// As [`Self::of`], with `count` readings in each run instead of its own number.
    #[must_use]
    pub fn counted(
        rows: &impl RunRows,
        total: impl Fn(usize) -> f64 + Sync,
        sums: &RunSums<'_>,
        count: &(impl Fn(usize) -> usize + Sync),
    ) -> Self {
        let mut fit = Self::of_means(rows, |run| [total(run), sums.mean(run)]);
        let of = |block: usize, runs: Range<usize>| {
            with_row!(rows.columns(), row => {
                let (mut square, mut readings, mut size) = (0.0, 0, 0.0_f64);
                for run in runs {
                    let (mean, weight) = (sums.mean(run), rows.weight(run));
                    let residual = mean - fit.fitted(rows, block, run, row.as_mut());
                    square += weight * sums.square(run) + total(run) * residual * residual;
                    readings += count(run);
                    size = size.max(weight.sqrt() * mean.abs());
                }
                (square, readings, size)
            })
        };
        let joined = over_parts(rows, of, |a, b| (a.0 + b.0, a.1 + b.1, a.2.max(b.2)));
        (fit.residual_square, fit.readings, fit.size) = joined.unwrap_or((0.0, 0, 0.0));
        fit
    }

    /// Least squares of one value a run: `weighed` tells total weight and value. Sum of squares and number of readings stay 0.
    #[must_use]
    pub fn of_means(rows: &impl RunRows, weighed: impl Fn(usize) -> [f64; 2] + Sync) -> Self {
        let mut fit = Self::once(rows, &weighed);
        fit.refine(rows, &weighed);
        fit
    }

    /// Adds what this fit's basis makes of what is left over of one value a run: least squares where the weights are those of the basis, else a step towards it.
    pub(in crate::statistics) fn refine(&mut self, rows: &impl RunRows, weighed: &(impl Fn(usize) -> [f64; 2] + Sync)) {
        let left = |block: usize, run: usize, row: &[f64]| {
            let [weight, value] = weighed(run);
            [weight, value - self.at(block, row)]
        };
        let more = self.basis.projections(rows, &left);
        self.add(&more);
    }

    /// The same basis with all coefficients 0.
    pub(in crate::statistics) fn clear(&mut self) {
        self.own.fill([0.0, 0.0]);
        self.shared.fill(0.0);
        self.factors.fill(0.0);
    }

    /// [`Self::of_means`] without its step of refinement.
    pub(in crate::statistics) fn once(rows: &impl RunRows, weighed: &(impl Fn(usize) -> [f64; 2] + Sync)) -> Self {
        let (basis, brought) = RunBasis::with_values(rows, weighed);
        let mut fit = Self {
            own: vec![[0.0, 0.0]; rows.blocks()],
            shared: vec![0.0; basis.shared()],
            factors: vec![0.0; rows.blocks() * rows.columns()],
            basis,
            residual_square: 0.0,
            readings: 0,
            size: 0.0,
        };
        fit.add(&brought);
        fit
    }

    /// Adds the fit of what is left over.
    fn add(&mut self, brought: &Projections) {
        let shared = self.basis.shared();
        let step =
            (0..shared).map(|a| brought.shared.iter().enumerate().map(|(b, value)| self.basis.covariance(a, b) * value).sum::<f64>());
        let step: Vec<f64> = step.collect();
        self.shared.iter_mut().zip(&step).for_each(|(slot, value)| *slot += value);
        for (slot, more) in self.own.iter_mut().zip(&brought.own) {
            slot[0] += more[0];
            slot[1] += more[1];
        }
        let first = usize::from(self.basis.has_own_slope());
        for (block, factors) in self.factors.chunks_exact_mut((shared + first).max(1)).enumerate() {
            let (own, others) = factors.split_at_mut(first);
            others.copy_from_slice(&self.shared);
            let through_first = self.shared.iter().enumerate().map(|(a, coefficient)| coefficient * self.basis.slope_of(block, a));
            let slope = self.own.get(block).map_or(0.0, |own| own[1]);
            own.iter_mut().for_each(|slot| *slot = slope - through_first.clone().sum::<f64>());
        }
    }

    /// Fitted value of a run. `row` is scratch space; it holds the run's columns afterwards.
    #[inline]
    pub fn fitted(&self, rows: &impl RunRows, block: usize, run: usize, row: &mut [f64]) -> f64 {
        let row = row.get_mut(..rows.columns()).unwrap_or_default();
        rows.row(block, run, row);
        self.at(block, row)
    }

    /// Fitted value of a block where its columns are `row`.
    #[inline(always)]
    fn at(&self, block: usize, row: &[f64]) -> f64 {
        let places = block * row.len()..(block + 1) * row.len();
        let factors = self.factors.get(places.clone()).unwrap_or(&[]);
        let means = self.basis.means.get(places).unwrap_or(&[]);
        let level = self.own.get(block).map_or(0.0, |own| own[0]);
        row.iter().zip(means).zip(factors).fold(level, |sum, ((x, mean), factor)| sum + factor * (x - mean))
    }

    /// Leverage of one reading of a run of which each has the weight `weight`, 0 to 1.
    pub fn leverage(&self, rows: &impl RunRows, block: usize, run: usize, room: &mut [f64]) -> f64 {
        let (row, vectors) = room.split_at_mut(rows.columns());
        let vectors = vectors.get_mut(..self.basis.width()).unwrap_or_default();
        self.basis.at(rows, block, run, row, vectors);
        (rows.weight(run) * vectors.iter().map(|v| v * v).sum::<f64>()).clamp(0.0, 1.0)
    }

    /// Whether the residuals are nothing but rounding: `RSS ≤ n (8 ε max|y|)²` with ε the resolution of a double. Ratios to them mean nothing then.
    #[must_use]
    pub fn fits_exactly(&self) -> bool {
        let rounding = 8.0 * f64::EPSILON * self.size;
        self.residual_square <= self.readings as f64 * rounding * rounding
    }

    /// Residuals `√weight·(y − fitted)` of `values`, one a reading in the order of `rows`.
    pub fn residuals<'f>(&'f self, rows: &'f impl RunRows, values: &'f [f64]) -> impl Iterator<Item = f64> + 'f {
        let mut row = self.basis.scratch();
        (0..rows.blocks())
            .flat_map(|block| rows.block(block).map(move |run| (block, run)))
            .map(move |(block, run)| (run, self.fitted(rows, block, run, &mut row)))
            .flat_map(|(run, fitted)| {
                let root = rows.weight(run).sqrt();
                values.get(rows.readings(run)).unwrap_or(&[]).iter().map(move |value| root * (value - fitted))
            })
    }

    /// Residual degrees of freedom.
    #[must_use]
    pub fn dof(&self) -> f64 {
        self.readings as f64 - self.basis.rank() as f64
    }

    /// Mean of the fitted values of a block.
    #[must_use]
    pub fn level(&self, block: usize) -> f64 {
        self.own.get(block).map_or(0.0, |own| own[0])
    }

    /// Level of a block where all columns are 0 less `middle`, the shared columns' values there: `y` at the point `x = 0` of the block's curve.
    #[must_use]
    pub fn level_at(&self, block: usize, columns: &[f64]) -> f64 {
        let level = self.own.get(block).map_or(0.0, |own| own[0]);
        let width = columns.len();
        let factors = self.factors.get(block * width..(block + 1) * width).unwrap_or(&[]);
        let terms =
            columns.iter().zip(factors).enumerate().map(|(place, (column, factor))| factor * (column - self.basis.mean(block, place)));
        level + terms.sum::<f64>()
    }

    /// Slope of a block's own on the first column, with what the shared columns add to it taken off; `None` where the model has none.
    #[must_use]
    pub fn own_slope(&self, block: usize) -> Option<f64> {
        let own = self.basis.has_own_slope().then(|| self.factors.get(block * (self.shared.len() + 1)))?;
        own.copied()
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::statistics::{Dense, least_squares};
    use nalgebra::DMatrix;

    /// A parabola in a column far from its origin: sums of products lose digits of it, by the square of the condition, and the step of refinement brings them
    /// back, as Householder's reflections show, which lose them by the condition itself.
    #[test]
    fn what_sums_of_products_lose_is_brought_back() {
        let x = |row: usize| 30.0 + row as f64 / 8.0;
        let design = DMatrix::from_fn(40, 3, |row, column| x(row).powi(column as i32));
        let response: Vec<f64> = (0..40).map(|row| 3.0 - 0.25 * x(row) + 0.01 * x(row).powi(2) + 0.001 * (7.0 * x(row)).sin()).collect();
        let rows = Dense::new(&design, &[]);
        let weighed = |row: usize| [1.0, response[row]];
        let plain = least_squares(&design, &response).unwrap();
        let apart = |fit: &RunFit| {
            let of = |column: usize| (fit.shared[column] / plain.coefficient(column).unwrap() - 1.0).abs();
            (0..3).map(of).fold(0.0, f64::max)
        };
        let (once, twice) = (apart(&RunFit::once(&rows, &weighed)), apart(&RunFit::of_means(&rows, weighed)));
        assert!(twice < 1e-10, "{twice}");
        assert!(once > 100.0 * twice, "{once} {twice}");
    }
}
