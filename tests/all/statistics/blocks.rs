//! Blocks in thousands, without readings and without weight, and columns that hardly differ, by plain sums.

use super::tolerances::{Tolerance, assert_near};
use nalgebra::DMatrix;
use std::ops::Range;
use taperwright::statistics::{Dense, RunBasis, RunFit, RunRows, RunSums, weighted_least_squares};

const NEAR: Tolerance = Tolerance::Relative(1e-10);

/// One reading a run; each block with a level, perhaps a coefficient of the first column.
struct Blocks {
    columns: Vec<Vec<f64>>,
    weights: Vec<f64>,
    /// First run of each block, and the end.
    starts: Vec<usize>,
    own_slope: bool,
}

impl Blocks {
    /// Blocks of these sizes with one column, scattered over −1 … 1.
    fn scattered(sizes: &[usize]) -> Self {
        let starts: Vec<usize> = std::iter::once(0)
            .chain(sizes.iter().scan(0, |end, size| {
                *end += size;
                Some(*end)
            }))
            .collect();
        let runs = sizes.iter().sum();
        let columns = (0..runs).map(|run| vec![2.0 * (run as f64 * 0.618_033_988_749_895).fract() - 1.0]).collect();
        Self { columns, weights: vec![1.0; runs], starts, own_slope: false }
    }

    /// One block of a column.
    fn of_column(column: &[f64], weight: f64, own_slope: bool) -> Self {
        let columns = column.iter().map(|x| vec![*x]).collect();
        Self { columns, weights: vec![weight; column.len()], starts: vec![0, column.len()], own_slope }
    }

    /// A slope, a level of each block and scatter.
    fn values(&self) -> Vec<f64> {
        let noise = |run: usize| ((run * run * 37 + run * 7919 + 13) % 101) as f64 / 101.0;
        let of_block = |block: usize| (self.starts[block]..self.starts[block + 1]).map(move |run| (block, run));
        (0..self.blocks())
            .flat_map(of_block)
            .map(|(block, run)| 0.3 * self.columns[run][0] + 5.0 * (block % 7) as f64 + noise(run))
            .collect()
    }
}

impl RunRows for Blocks {
    fn runs(&self) -> usize {
        self.columns.len()
    }
    fn readings(&self, run: usize) -> Range<usize> {
        run..run + 1
    }
    fn weight(&self, run: usize) -> f64 {
        self.weights[run]
    }
    fn blocks(&self) -> usize {
        self.starts.len() - 1
    }
    fn block(&self, block: usize) -> Range<usize> {
        self.starts[block]..self.starts[block + 1]
    }
    fn own_level(&self) -> bool {
        true
    }
    fn own_slope(&self) -> bool {
        self.own_slope
    }
    fn columns(&self) -> usize {
        self.columns[0].len()
    }
    fn row(&self, _block: usize, run: usize, into: &mut [f64]) {
        into.copy_from_slice(&self.columns[run]);
    }
}

/// Thousands of short blocks, gone over side by side; one that is gone over in parts beside one that has no reading: the common slope is `Σ(x − x̄)(y − ȳ)/Σ(x − x̄)²`
/// over all blocks, the level of each its mean.
#[test]
fn short_long_and_empty_blocks_have_a_common_slope() {
    for sizes in [vec![3; 2000], vec![5000, 0], vec![0, 4500, 0, 2, 9000], vec![7, 0, 5]] {
        let rows = Blocks::scattered(&sizes);
        let values = rows.values();
        let fit = RunFit::of(&rows, &RunSums::of_rows(&rows, &values));
        let (mut xy, mut xx, mut yy) = (0.0, 0.0, 0.0);
        for block in (0..rows.blocks()).filter(|block| !rows.block(*block).is_empty()) {
            let runs = rows.block(block);
            let mean = |of: &dyn Fn(usize) -> f64| runs.clone().map(of).sum::<f64>() / runs.len() as f64;
            let (x, y) = (mean(&|run| rows.columns[run][0]), mean(&|run| values[run]));
            for run in runs.clone() {
                let (dx, dy) = (rows.columns[run][0] - x, values[run] - y);
                (xy, xx, yy) = (xy + dx * dy, xx + dx * dx, yy + dy * dy);
            }
            assert_near("level", fit.level(block), y, NEAR);
        }
        assert_near("slope", fit.shared[0], xy / xx, NEAR);
        assert_near("its variance", fit.basis.covariance(0, 0), 1.0 / xx, NEAR);
        assert_near("residual square", fit.residual_square, yy - xy * xy / xx, Tolerance::Relative(1e-9));
        assert!(!NEAR.accepts(fit.shared[0] * (1.0 + 1e-9), xy / xx));
        let filled = sizes.iter().filter(|size| **size > 0).count();
        assert_eq!((fit.readings, fit.basis.rank()), (values.len(), filled + 1), "{}", sizes.len());
    }
}

/// A block whose readings have no weight has no level, slope or leverage, and the others are fitted as if it were not there.
#[test]
fn a_block_without_weight_says_nothing() {
    for own_slope in [false, true] {
        let mut rows = Blocks::scattered(&[6, 5, 7]);
        rows.own_slope = own_slope;
        rows.columns.iter_mut().for_each(|row| row.push(row[0] * row[0]));
        rows.weights[..6].fill(0.0);
        let values = rows.values();
        let fit = RunFit::of(&rows, &RunSums::of_rows(&rows, &values));
        let block = |run: usize| usize::from(run >= 11);
        let slopes = if own_slope { 2 } else { 1 };
        let design = DMatrix::from_fn(12, 3 + slopes, |i, j| {
            let (run, x) = (i + 6, rows.columns[i + 6][0]);
            match j {
                0 | 1 => f64::from(u8::from(block(run) == j)),
                _ if j == 2 + slopes => x * x,
                _ => x * f64::from(u8::from(!own_slope || block(run) == j - 2)),
            }
        });
        let dense = weighted_least_squares(&design, &values[6..], &[1.0; 12]).unwrap();
        assert_near("square", *fit.shared.last().unwrap(), dense.coefficient(2 + slopes).unwrap(), NEAR);
        assert_near("residual square", fit.residual_square, dense.residual_sum_of_squares(), NEAR);
        assert_eq!((fit.basis.rank(), fit.basis.own_rank_of(0), fit.level(0)), (3 + slopes, 0, 0.0));
        let (mut room, mut at) = (fit.basis.scratch(), vec![1.0; fit.basis.width()]);
        fit.basis.at(&rows, 0, 2, &mut room, &mut at);
        assert!(at[..2] == [0.0, 0.0] && at.iter().all(|value| value.is_finite()), "{at:?}");
        assert_eq!(fit.leverage(&rows, 0, 2, &mut room), 0.0);
        for (run, value) in values.iter().enumerate().skip(6) {
            let fitted = fit.fitted(&rows, 1 + block(run), run, &mut room);
            assert_near("fitted", fitted, value - dense.residuals()[run - 6], NEAR);
        }
    }
}

/// A column counts where more than 10⁻¹² of its own square is left beside the level: a change of 10⁻⁴ about 1,000 is 10⁻¹⁴ of it, one of 10⁻² is 10⁻¹⁰. A block's own
/// slope is told where the mean square of the column about its mean is above 10⁻¹², whatever the readings weigh.
#[test]
fn columns_that_hardly_differ_from_the_level_do_not_count() {
    let sign = |run: i32| if run % 2 == 0 { 1.0 } else { -1.0 };
    for (stray, weight, counts) in [(1e-4, 1.0, false), (1e-2, 1.0, true), (1e-4, 1e-9, false), (1e-2, 1e-9, true), (1e-4, 1e9, false)] {
        let column: Vec<f64> = (0..8).map(|run| 1000.0 + stray * sign(run)).collect();
        let basis = RunBasis::of(&Blocks::of_column(&column, weight, false), |_| weight);
        assert_eq!((basis.is_full(), basis.rank()), (counts, 1 + usize::from(counts)), "{stray} {weight}");
    }
    for (stray, counts) in [(1e-8, false), (1e-5, true)] {
        for weight in [1e-6, 1.0, 1e6] {
            let column: Vec<f64> = (0..8).map(|run| stray * sign(run)).collect();
            let basis = RunBasis::of(&Blocks::of_column(&column, weight, true), |_| weight);
            assert_eq!((basis.own_rank_of(0), basis.has_all_slopes()), (1 + usize::from(counts), counts), "{stray} {weight}");
        }
    }
}

/// A break at the first row or beyond the last one begins no block.
#[test]
fn breaks_outside_the_rows_are_none() {
    let design = DMatrix::from_element(6, 1, 1.0);
    let dense = Dense::new(&design, &[0, 4, 2, 6, 99]);
    assert_eq!((0..dense.blocks()).map(|block| dense.block(block)).collect::<Vec<_>>(), vec![0..2, 2..4, 4..6]);
}

/// Readings on a line fit exactly in any unit, those that stray by 10⁻¹³ of their size do not.
#[test]
fn an_exact_fit_is_one_in_every_unit() {
    let rows = Blocks::scattered(&[9]);
    for unit in [1e-9, 1.0, 1e9] {
        let fit = |stray: f64| {
            let value = |(run, row): (usize, &Vec<f64>)| unit * (1.0 + 0.7 * row[0] + if run == 3 { stray } else { 0.0 });
            let values: Vec<f64> = rows.columns.iter().enumerate().map(value).collect();
            RunFit::of(&rows, &RunSums::of_rows(&rows, &values)).fits_exactly()
        };
        assert!(fit(0.0) && !fit(1e-13), "{unit}");
    }
}
