use super::basis::RunBasis;
use super::rows::RunRows;
use rayon::iter::{IndexedParallelIterator as _, IntoParallelIterator as _, ParallelIterator as _};
use std::ops::Range;

/// Mean of the readings of each run, and the sum of their squared deviations from it.
#[derive(Debug, Clone, Default)]
pub struct RunSums {
    sums: Vec<[f64; 2]>,
}

impl RunSums {
    /// The sums of `values` in `runs` runs, of which each has the readings that `readings` says.
    #[must_use]
    pub fn of(runs: usize, readings: impl Fn(usize) -> Range<usize> + Sync, values: &[f64]) -> Self {
        let sums = |run: usize| sums_of(values.get(readings(run)).unwrap_or(&[]));
        Self { sums: (0..runs).into_par_iter().with_min_len(64).map(sums).collect() }
    }

    /// The sums of `values`, one a reading in the order of `rows`.
    #[must_use]
    pub fn of_rows(rows: &impl RunRows, values: &[f64]) -> Self {
        Self::of(rows.runs(), |run| rows.readings(run), values)
    }

    /// Mean of a run.
    #[inline]
    #[must_use]
    pub fn mean(&self, run: usize) -> f64 {
        self.sums.get(run).map_or(0.0, |sums| sums[0])
    }

    /// Squared deviations of a run from its mean.
    #[inline]
    #[must_use]
    pub fn square(&self, run: usize) -> f64 {
        self.sums.get(run).map_or(0.0, |sums| sums[1])
    }

    pub(in crate::statistics) fn set(&mut self, run: usize, sums: [f64; 2]) {
        if let Some(slot) = self.sums.get_mut(run) {
            *slot = sums;
        }
    }
}

/// Mean and squared deviations of a few values, about their first one so that no digits are lost.
pub(in crate::statistics) fn sums_of(values: &[f64]) -> [f64; 2] {
    let Some(first) = values.first() else { return [0.0, 0.0] };
    if values.len() == 1 {
        return [*first, 0.0];
    }
    let count = values.len() as f64;
    let mean = first + values.iter().map(|value| value - first).sum::<f64>() / count;
    [mean, values.iter().map(|value| (value - mean) * (value - mean)).sum()]
}

/// A least-squares fit on runs.
#[derive(Debug, Clone)]
pub struct RunFit {
    /// The basis that it stands on.
    pub basis: RunBasis,
    /// Level of each block at the mean of its rows, and its slope on the first column.
    own: Vec<[f64; 2]>,
    /// Shared coefficients.
    pub shared: Vec<f64>,
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
    pub fn of(rows: &impl RunRows, sums: &RunSums) -> Self {
        let total = |run: usize| rows.weight(run) * rows.count(run) as f64;
        Self::counted(rows, total, sums, &|run| rows.count(run))
    }

    /// As [`Self::of`], with `count` readings in each run instead of its own number.
    #[must_use]
    pub fn counted(rows: &impl RunRows, total: impl Fn(usize) -> f64, sums: &RunSums, count: &dyn Fn(usize) -> usize) -> Self {
        let mut fit = Self::of_means(rows, &total, |run| sums.mean(run));
        let (mut square, mut readings, mut size) = (0.0, 0, 0.0_f64);
        let mut row = fit.basis.scratch();
        for block in 0..rows.blocks() {
            for run in rows.block(block) {
                let residual = sums.mean(run) - fit.fitted(rows, block, run, &mut row);
                square += rows.weight(run) * sums.square(run) + total(run) * residual * residual;
                readings += count(run);
                size = size.max(rows.weight(run).sqrt() * sums.mean(run).abs());
            }
        }
        fit.residual_square = square;
        fit.readings = readings;
        fit.size = size;
        fit
    }

    /// Least squares of one value a run with its total weight; sum of squares and number of readings stay 0.
    #[must_use]
    pub fn of_means(rows: &impl RunRows, total: impl Fn(usize) -> f64, mean: impl Fn(usize) -> f64) -> Self {
        let basis = RunBasis::of(rows, &total);
        let mut fit = Self {
            own: vec![[0.0, 0.0]; rows.blocks()],
            shared: vec![0.0; basis.shared()],
            basis,
            residual_square: 0.0,
            readings: 0,
            size: 0.0,
        };
        fit.improve(rows, &total, &mean);
        fit.improve(rows, &total, &mean);
        fit
    }

    /// Adds the fit of what is left over.
    fn improve(&mut self, rows: &impl RunRows, total: &impl Fn(usize) -> f64, mean: &impl Fn(usize) -> f64) {
        let shared = self.basis.shared();
        let mut row = self.basis.scratch();
        let mut left = vec![0.0; shared];
        let mut right = vec![0.0; shared];
        let mut own = Vec::with_capacity(self.own.len());
        for (block, taken) in self.basis.own.iter().enumerate() {
            let (mut sum, mut product) = (0.0, 0.0);
            for run in rows.block(block) {
                let w = total(run);
                let residual = mean(run) - self.fitted(rows, block, run, &mut row);
                sum += w * residual;
                product += w * residual * (row.first().copied().unwrap_or(0.0) - taken.mean);
                if shared > 0 {
                    self.basis.left_over(rows, block, run, &mut row, &mut left);
                    right.iter_mut().zip(&left).for_each(|(slot, value)| *slot += w * residual * value);
                }
            }
            let level = if rows.own_level() && taken.weight > 0.0 { sum / taken.weight } else { 0.0 };
            own.push([level, if taken.square > 0.0 { product / taken.square } else { 0.0 }]);
        }
        let step: Vec<f64> =
            (0..shared).map(|a| right.iter().enumerate().map(|(b, value)| self.basis.covariance(a, b) * value).sum()).collect();
        self.shared.iter_mut().zip(&step).for_each(|(slot, value)| *slot += value);
        self.own.iter_mut().zip(own).for_each(|(slot, more)| {
            slot[0] += more[0];
            slot[1] += more[1];
        });
    }

    /// Fitted value of a run. `row` is scratch space; it holds the run's columns afterwards.
    #[inline]
    pub fn fitted(&self, rows: &impl RunRows, block: usize, run: usize, row: &mut [f64]) -> f64 {
        let (columns, left) = row.split_at_mut(rows.columns());
        let left = left.get_mut(..self.shared.len()).unwrap_or_default();
        self.basis.left_over(rows, block, run, columns, left);
        let [level, slope] = self.own.get(block).copied().unwrap_or([0.0, 0.0]);
        let mean = self.basis.own.get(block).map_or(0.0, |own| own.mean);
        let mut fitted = level;
        if slope != 0.0 {
            fitted += slope * (columns.first().copied().unwrap_or(0.0) - mean);
        }
        for (coefficient, value) in self.shared.iter().zip(left.iter()) {
            fitted += coefficient * value;
        }
        fitted
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
        let [level, slope] = self.own.get(block).copied().unwrap_or([0.0, 0.0]);
        let Some(own) = self.basis.own.get(block) else { return level };
        let first = usize::from(self.basis.has_own_slope());
        let x = columns.first().copied().unwrap_or(0.0);
        let mut value = level + if first > 0 { slope * (x - own.mean) } else { 0.0 };
        let taken = self.basis.taken.get(block * self.shared.len()..).unwrap_or(&[]);
        for ((coefficient, [mean, on_x]), column) in self.shared.iter().zip(taken).zip(columns.iter().skip(first)) {
            value += coefficient * (column - mean - if first > 0 { on_x * (x - own.mean) } else { 0.0 });
        }
        value
    }

    /// Slope of a block's own on the first column, with what the shared columns add to it taken off; `None` where the model has none.
    #[must_use]
    pub fn own_slope(&self, block: usize) -> Option<f64> {
        let [_, slope] = self.own.get(block)?;
        let taken = self.basis.taken.get(block * self.shared.len()..).unwrap_or(&[]);
        Some(slope - self.shared.iter().zip(taken).map(|(coefficient, [_, on_x])| coefficient * on_x).sum::<f64>())
    }
}
