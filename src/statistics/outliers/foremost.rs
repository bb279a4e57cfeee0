//! The runs that stray most from a fit.

use crate::statistics::influence::FITS_ITSELF;
use crate::statistics::repeated::{RunFit, RunRows, over_parts};
use std::ops::Range;

/// Runs that are kept.
const KEPT: usize = 128;

/// The runs with the largest standardised residuals `√w·e/√(1 − h)` of a fit, and what is true of all others.
#[derive(Debug, Clone)]
pub(super) struct Foremost {
    /// Block and run of each, in the order of the rows.
    pub runs: Vec<(usize, usize)>,
    /// Largest size of a standardised residual of the others; 0 without any.
    pub elsewhere: f64,
    /// Largest leverage of any run that is not passed over.
    pub leverage: f64,
}

impl Foremost {
    /// Those of `fit`; `ends` tells the least and the largest reading of a run. Runs that fit themselves are passed over.
    pub fn of(rows: &impl RunRows, fit: &RunFit, ends: impl Fn(usize) -> [Option<f64>; 2] + Sync) -> Self {
        let of_part = |block: usize, runs: Range<usize>| {
            let mut room = fit.basis.scratch();
            let mut part = Part::default();
            for run in runs {
                let fitted = fit.fitted(rows, block, run, &mut room);
                let leverage = fit.leverage(rows, block, run, &mut room);
                if leverage >= FITS_ITSELF {
                    continue;
                }
                let largest = ends(run).into_iter().flatten().map(|value| (value - fitted).abs()).reduce(f64::max);
                if let Some(largest) = largest {
                    part.add((rows.weight(run) / (1.0 - leverage)).sqrt() * largest, leverage, (block, run));
                }
            }
            part
        };
        let mut all = over_parts(rows, of_part, Part::and).unwrap_or_default();
        all.keep_the_largest();
        let mut runs: Vec<(usize, usize)> = all.kept.into_iter().map(|(_, run)| run).collect();
        runs.sort_unstable_by_key(|(_, run)| *run);
        Self { runs, elsewhere: all.elsewhere, leverage: all.leverage }
    }
}

/// The foremost of some runs: at most twice those that are kept, earlier ones first among equals.
#[derive(Default)]
struct Part {
    kept: Vec<(f64, (usize, usize))>,
    /// What is smaller need not be looked at.
    least: f64,
    elsewhere: f64,
    leverage: f64,
}

impl Part {
    #[inline]
    fn add(&mut self, size: f64, leverage: f64, run: (usize, usize)) {
        self.leverage = self.leverage.max(leverage);
        if size <= self.least {
            self.elsewhere = self.elsewhere.max(size);
            return;
        }
        self.kept.push((size, run));
        if self.kept.len() >= 2 * KEPT {
            self.keep_the_largest();
        }
    }

    fn keep_the_largest(&mut self) {
        if self.kept.len() > KEPT {
            self.kept.sort_by(|a, b| b.0.total_cmp(&a.0));
            self.elsewhere = self.kept.iter().skip(KEPT).fold(self.elsewhere, |most, (size, _)| most.max(*size));
            self.kept.truncate(KEPT);
            self.least = self.kept.last().map_or(0.0, |(size, _)| *size);
        }
    }

    /// These and those of later runs.
    fn and(mut self, later: Self) -> Self {
        self.elsewhere = self.elsewhere.max(later.elsewhere);
        self.leverage = self.leverage.max(later.leverage);
        self.kept.extend(later.kept);
        self.keep_the_largest();
        self
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::statistics::{Dense, RunSums, least_squares};
    use nalgebra::DMatrix;

    /// Of sizes in any order, in one part or in many, the largest are kept, the earlier of equal ones, and the largest of the others is known.
    #[test]
    fn the_largest_are_kept() {
        let size = |run: usize| ((run * 7919) % 1009) as f64;
        let mut sorted: Vec<(f64, usize)> = (0..3000).map(|run| (size(run), run)).collect();
        sorted.sort_by(|a, b| b.0.total_cmp(&a.0).then(a.1.cmp(&b.1)));
        for together in [1, 50, 700, 3000] {
            let parts = (0..3000).step_by(together).map(|from| {
                let mut part = Part::default();
                (from..(from + together).min(3000)).for_each(|run| part.add(size(run), size(run) / 2000.0, (0, run)));
                part
            });
            let mut all = parts.reduce(Part::and).unwrap();
            all.keep_the_largest();
            let mut kept: Vec<usize> = all.kept.iter().map(|(_, (_, run))| *run).collect();
            let mut wanted: Vec<usize> = sorted[..KEPT].iter().map(|(_, run)| *run).collect();
            kept.sort_unstable();
            wanted.sort_unstable();
            assert_eq!(kept, wanted, "{together} together");
            assert_eq!((all.elsewhere, all.leverage), (sorted[KEPT].0, 1008.0 / 2000.0), "{together} together");
        }
    }

    /// Of four hundred rows those with the largest residual over the root of one less the leverage are kept, which near the ends of a curve are not those with the largest residual; a reading that fits
    /// itself is passed over.
    #[test]
    fn leverage_counts() {
        let x = |row: usize| -1.0 + 2.0 * row as f64 / 399.0;
        let design = DMatrix::from_fn(401, 12, |row, column| match (row, column) {
            (400, 11) => 1.0,
            (400, _) | (_, 11) => 0.0,
            _ => x(row).powi(column as i32),
        });
        let values: Vec<f64> = (0..401).map(|row| if row % 3 == 0 { 1.0 } else { -0.5 } + 0.2 * (1.7 * row as f64).sin()).collect();
        let dense = Dense::new(&design, &[400]);
        let fit = RunFit::of(&dense, &RunSums::of_rows(&dense, &values));
        let found = Foremost::of(&dense, &fit, |run| [Some(values[run]), Some(values[run])]);
        let plain = least_squares(&design, &values).unwrap();
        let sorted_by = |size: &dyn Fn(usize) -> f64| {
            let mut rows: Vec<(f64, usize)> = (0..400).map(|row| (size(row), row)).collect();
            rows.sort_by(|a, b| b.0.total_cmp(&a.0));
            rows
        };
        let (residuals, leverage) = (plain.residuals(), plain.leverage());
        let sorted = sorted_by(&|row| residuals[row].abs() / (1.0 - leverage[row]).sqrt());
        let kept = |sorted: &[(f64, usize)]| {
            let mut rows: Vec<usize> = sorted[..KEPT].iter().map(|(_, row)| *row).collect();
            rows.sort_unstable();
            rows
        };
        let runs: Vec<usize> = found.runs.iter().map(|(_, run)| *run).collect();
        assert_eq!(runs, kept(&sorted));
        assert_ne!(runs, kept(&sorted_by(&|row| residuals[row].abs())));
        assert!((found.elsewhere - sorted[KEPT].0).abs() < 1e-9 && sorted[KEPT - 1].0 > sorted[KEPT].0);
        let largest = (0..400).map(|row| leverage[row]).fold(0.0, f64::max);
        assert!((found.leverage - largest).abs() < 1e-9 && largest < FITS_ITSELF, "{}", found.leverage);
    }
}
