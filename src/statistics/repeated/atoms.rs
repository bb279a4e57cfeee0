use super::rows::{RunRows, places_of};
use super::sums::WORTH_KEEPING;
use rayon::iter::{IntoParallelIterator as _, ParallelIterator as _};
use std::borrow::Cow;

/// Runs that are put in order at a time.
const TOGETHER: usize = 256;
/// Parts of so many runs that are made side by side before they are put together.
const BESIDE: usize = 64;

/// The values of each run with how often each came: a gauge reads in steps, so that of many readings few are different. Where readings are seldom repeated they
/// stand as they are, each once, and nothing is kept of them.
#[derive(Debug, Clone, Default)]
pub struct Atoms<'v> {
    /// Different values of a run rise; readings that stand as they are do not.
    values: Cow<'v, [f64]>,
    /// How often each value came; empty where each is taken once.
    counts: Vec<u32>,
    /// End of each run in the lists; empty where every run is one reading.
    ends: Cow<'v, [u32]>,
    rise: bool,
}

impl<'v> Atoms<'v> {
    /// The atoms of `values`, one a reading in the order of `rows`.
    #[must_use]
    pub fn of(rows: &'v impl RunRows, values: &'v [f64]) -> Self {
        let alone = rows.runs() == values.len();
        if alone || !rows.ends().is_empty() && values.len() < WORTH_KEEPING * rows.runs() {
            let ends = if alone { &[] } else { rows.ends() };
            return Self { values: Cow::Borrowed(values), counts: Vec::new(), ends: Cow::Borrowed(ends), rise: alone };
        }
        let parts = rows.runs().div_ceil(TOGETHER);
        let (mut all, mut counts, mut ends) = (Vec::new(), Vec::new(), Vec::with_capacity(rows.runs()));
        // a few parts at a time, so that the list is not there twice
        for first in (0..parts).step_by(BESIDE) {
            let own: Vec<Part> = (first..(first + BESIDE).min(parts)).into_par_iter().map(|part| Part::of(rows, values, part)).collect();
            for part in own {
                let before = u32::try_from(all.len()).unwrap_or(u32::MAX);
                all.extend(part.values);
                counts.extend(part.counts);
                ends.extend(part.ends.into_iter().map(|end| before.saturating_add(end)));
            }
        }
        if all.len() == rows.total() {
            counts = Vec::new();
        }
        all.shrink_to_fit();
        counts.shrink_to_fit();
        Self { values: Cow::Owned(all), counts, ends: Cow::Owned(ends), rise: true }
    }

    /// Number of values, run by run.
    #[must_use]
    pub fn len(&self) -> usize {
        self.values.len()
    }

    /// Whether there is none.
    #[must_use]
    pub fn is_empty(&self) -> bool {
        self.values.is_empty()
    }

    /// Whether each value is taken once.
    #[must_use]
    pub fn are_single(&self) -> bool {
        self.counts.is_empty()
    }

    /// The value of a run that has one only, taken once.
    #[inline]
    #[must_use]
    pub fn only(&self, run: usize) -> Option<f64> {
        let places = places_of(&self.ends, run);
        if self.counts.is_empty() && places.len() == 1 { self.values.get(places.start).copied() } else { None }
    }

    /// Whether runs are so short that what is made of them is not worth keeping.
    #[must_use]
    pub fn are_short(&self) -> bool {
        matches!(self.values, Cow::Borrowed(_))
    }

    /// Least and largest value of a run.
    #[must_use]
    pub fn ends_of(&self, run: usize) -> [Option<f64>; 2] {
        let own = self.values.get(places_of(&self.ends, run)).unwrap_or(&[]);
        if self.rise {
            return [own.first().copied(), own.last().copied()];
        }
        [own.iter().copied().reduce(f64::min), own.iter().copied().reduce(f64::max)]
    }

    /// The values of a run with how often each came.
    pub fn run(&self, run: usize) -> impl Iterator<Item = (f64, f64)> + '_ {
        let places = places_of(&self.ends, run);
        let counts = self.counts.get(places.clone()).unwrap_or(&[]);
        let own = self.values.get(places).unwrap_or(&[]).iter().enumerate();
        own.map(move |(place, value)| (*value, counts.get(place).map_or(1.0, |count| f64::from(*count))))
    }
}

/// The atoms of some runs, ends counted from the first of them.
#[derive(Default)]
struct Part {
    values: Vec<f64>,
    counts: Vec<u32>,
    ends: Vec<u32>,
}

impl Part {
    /// Those of [`TOGETHER`] runs.
    fn of(rows: &impl RunRows, values: &[f64], part: usize) -> Self {
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
}
