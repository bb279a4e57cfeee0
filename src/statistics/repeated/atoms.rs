use super::rows::RunRows;
use rayon::iter::{IntoParallelIterator as _, ParallelIterator as _};

/// Runs that are put in order at a time.
const TOGETHER: usize = 256;
/// Parts of so many runs that are made side by side before they are put together.
const BESIDE: usize = 64;

/// The different values of each run, rising, each with how often it came: a gauge reads in steps, so that these are few.
#[derive(Debug, Clone, Default)]
pub struct Atoms {
    values: Vec<f64>,
    /// How often each value came; empty where none came twice.
    counts: Vec<u32>,
    /// End of each run in the lists.
    ends: Vec<u32>,
}

impl Atoms {
    /// The atoms of `values`, one a reading in the order of `rows`.
    #[must_use]
    pub fn of(rows: &impl RunRows, values: &[f64]) -> Self {
        let parts = rows.runs().div_ceil(TOGETHER);
        let mut atoms = Self { values: Vec::new(), counts: Vec::new(), ends: Vec::with_capacity(rows.runs()) };
        // a few parts at a time, so that the list is not there twice
        for first in (0..parts).step_by(BESIDE) {
            let own: Vec<Self> =
                (first..(first + BESIDE).min(parts)).into_par_iter().map(|part| Self::of_part(rows, values, part)).collect();
            own.iter().for_each(|part| atoms.append(part));
        }
        if atoms.values.len() == rows.total() {
            atoms.counts = Vec::new();
        }
        atoms.values.shrink_to_fit();
        atoms.counts.shrink_to_fit();
        atoms
    }

    /// Those of [`TOGETHER`] runs.
    fn of_part(rows: &impl RunRows, values: &[f64], part: usize) -> Self {
        let mut own = Self::default();
        let mut sorted: Vec<f64> = Vec::new();
        for run in part * TOGETHER..((part + 1) * TOGETHER).min(rows.runs()) {
            sorted.clear();
            sorted.extend_from_slice(values.get(rows.readings(run)).unwrap_or(&[]));
            sorted.sort_unstable_by(f64::total_cmp);
            for same in sorted.chunk_by(|a, b| a == b) {
                own.values.extend(same.first());
                own.counts.push(u32::try_from(same.len()).unwrap_or(u32::MAX));
            }
            own.ends.push(u32::try_from(own.values.len()).unwrap_or(u32::MAX));
        }
        own
    }

    fn append(&mut self, part: &Self) {
        let before = u32::try_from(self.values.len()).unwrap_or(u32::MAX);
        self.values.extend_from_slice(&part.values);
        self.counts.extend_from_slice(&part.counts);
        self.ends.extend(part.ends.iter().map(|end| before.saturating_add(*end)));
    }

    /// Number of different values, run by run.
    #[must_use]
    pub fn len(&self) -> usize {
        self.values.len()
    }

    /// Whether there is none.
    #[must_use]
    pub fn is_empty(&self) -> bool {
        self.values.is_empty()
    }

    /// Whether no value came twice in a run.
    #[must_use]
    pub fn are_single(&self) -> bool {
        self.counts.is_empty()
    }

    /// The values of a run with how often each came.
    pub fn run(&self, run: usize) -> impl DoubleEndedIterator<Item = (f64, f64)> + '_ {
        let from = run.checked_sub(1).and_then(|before| self.ends.get(before)).map_or(0, |end| *end as usize);
        let to = self.ends.get(run).map_or(from, |end| *end as usize);
        (from..to).filter_map(|place| Some((*self.values.get(place)?, self.counts.get(place).map_or(1.0, |count| f64::from(*count)))))
    }
}
