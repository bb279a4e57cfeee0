//! Readings of a run reduced to mean and scatter.

use super::rows::{RunRows, places_of};
use rayon::iter::{IndexedParallelIterator as _, IntoParallelIterator as _, ParallelIterator as _};
use std::borrow::Cow;
use std::ops::Range;

/// Readings a run from which on average their sums are kept: of fewer they are made again when asked for.
pub(super) const WORTH_KEEPING: usize = 2;

/// Mean of the readings of each run, and the sum of their squared deviations from it.
#[derive(Debug, Clone)]
pub struct RunSums<'v> {
    /// Empty where they are made when asked for.
    sums: Cow<'v, [[f64; 2]]>,
    values: &'v [f64],
    /// End of the readings of each run; empty where every run is one reading.
    ends: &'v [u32],
    /// Runs that have other sums than these.
    changed: Vec<(usize, [f64; 2])>,
}

impl<'v> RunSums<'v> {
    /// The sums of `values`, one a reading in the order of `rows`.
    #[must_use]
    pub fn of_rows(rows: &'v impl RunRows, values: &'v [f64]) -> Self {
        let alone = rows.runs() == values.len();
        let short = !rows.ends().is_empty() && values.len() < WORTH_KEEPING * rows.runs();
        let kept = if alone || short { Vec::new() } else { all_sums(rows.runs(), |run| rows.readings(run), values) };
        Self { sums: Cow::Owned(kept), values, ends: if alone { &[] } else { rows.ends() }, changed: Vec::new() }
    }

    /// What is worth keeping of the sums of `values` in `runs` runs, of which each has the readings that `readings` says: nothing where runs are short.
    #[must_use]
    pub fn to_keep(runs: usize, readings: impl Fn(usize) -> Range<usize> + Sync, values: &[f64]) -> Vec<[f64; 2]> {
        if values.len() < WORTH_KEEPING * runs { Vec::new() } else { all_sums(runs, readings, values) }
    }

    /// The sums again from what was kept of them ([`Self::to_keep`]), the values and the ends of the runs.
    #[must_use]
    pub fn kept(sums: &'v [[f64; 2]], values: &'v [f64], ends: &'v [u32]) -> Self {
        Self { sums: Cow::Borrowed(sums), values, ends, changed: Vec::new() }
    }

    #[inline]
    fn get(&self, run: usize) -> [f64; 2] {
        if !self.changed.is_empty()
            && let Some((_, sums)) = self.changed.iter().find(|(changed, _)| *changed == run)
        {
            return *sums;
        }
        match self.sums.get(run) {
            Some(sums) => *sums,
            None => sums_of(self.values.get(places_of(self.ends, run)).unwrap_or(&[])),
        }
    }

    /// Mean of a run.
    #[inline]
    #[must_use]
    pub fn mean(&self, run: usize) -> f64 {
        self.get(run)[0]
    }

    /// Squared deviations of a run from its mean.
    #[inline]
    #[must_use]
    pub fn square(&self, run: usize) -> f64 {
        self.get(run)[1]
    }

    pub(in crate::statistics) fn set(&mut self, run: usize, sums: [f64; 2]) {
        self.changed.retain(|(changed, _)| *changed != run);
        self.changed.push((run, sums));
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

fn all_sums(runs: usize, readings: impl Fn(usize) -> Range<usize> + Sync, values: &[f64]) -> Vec<[f64; 2]> {
    let sums = |run: usize| sums_of(values.get(readings(run)).unwrap_or(&[]));
    (0..runs).into_par_iter().with_min_len(64).map(sums).collect()
}
