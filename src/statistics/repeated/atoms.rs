use super::rows::RunRows;
use rayon::iter::{IntoParallelIterator as _, ParallelIterator as _};

/// Runs that are put in order at a time.
const TOGETHER: usize = 256;

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
        let parts: Vec<Self> = (0..rows.runs().div_ceil(TOGETHER))
            .into_par_iter()
            .map(|part| {
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
            })
            .collect();
        let size = parts.iter().map(|part| part.values.len()).sum();
        let repeated = size < rows.total();
        let mut atoms = Self {
            values: Vec::with_capacity(size),
            counts: Vec::with_capacity(if repeated { size } else { 0 }),
            ends: Vec::with_capacity(rows.runs()),
        };
        for part in parts {
            let before = u32::try_from(atoms.values.len()).unwrap_or(u32::MAX);
            atoms.values.extend_from_slice(&part.values);
            if repeated {
                atoms.counts.extend_from_slice(&part.counts);
            }
            atoms.ends.extend(part.ends.iter().map(|end| before + end));
        }
        atoms
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

/// Median of values each of which came as often as is said; `None` when there is none. The list is put in another order.
#[must_use]
pub fn counted_median(values: &mut [(f64, f64)]) -> Option<f64> {
    let total: f64 = values.iter().map(|value| value.1).sum();
    let (upper, before) = counted_rank(values, (total / 2.0).floor())?;
    if total % 2.0 != 0.0 || before < total / 2.0 {
        return Some(upper);
    }
    let lower = values.iter().map(|value| value.0).filter(|value| *value < upper).fold(f64::NEG_INFINITY, f64::max);
    Some(0.5 * lower + 0.5 * upper)
}

/// The value at a rank from 0, and how many lie below it.
fn counted_rank(values: &mut [(f64, f64)], rank: f64) -> Option<(f64, f64)> {
    let mut rest = values;
    let mut below = 0.0;
    loop {
        if rest.len() <= 16 {
            rest.sort_unstable_by(|a, b| a.0.total_cmp(&b.0));
            let mut passed = below;
            for same in rest.chunk_by(|a, b| a.0 == b.0) {
                let here: f64 = same.iter().map(|value| value.1).sum();
                if passed + here > rank {
                    return same.first().map(|value| (value.0, passed));
                }
                passed += here;
            }
            return None;
        }
        let middle = rest.len() / 2;
        rest.select_nth_unstable_by(middle, |a, b| a.0.total_cmp(&b.0));
        let pivot = rest.get(middle)?.0;
        let smaller = rest.iter().filter(|value| value.0 < pivot).map(|value| value.1).sum::<f64>();
        let equal = rest.iter().filter(|value| value.0 == pivot).map(|value| value.1).sum::<f64>();
        if rank < below + smaller {
            rest = rest.get_mut(..middle)?;
            continue;
        }
        if rank < below + smaller + equal {
            return Some((pivot, below + smaller));
        }
        // what equals the pivot and lies beyond it is passed over in its turn
        below += rest.get(..=middle)?.iter().map(|value| value.1).sum::<f64>();
        rest = rest.get_mut(middle + 1..)?;
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::statistics::median;

    #[test]
    fn the_median_of_counted_values_is_that_of_all_of_them() {
        let mut state = 7_u64;
        let mut next = |below: u64| {
            state = state.wrapping_mul(6_364_136_223_846_793_005).wrapping_add(1_442_695_040_888_963_407);
            (state >> 33) % below
        };
        for size in [1, 2, 3, 5, 17, 40, 200] {
            for kinds in [2, 7, 1000] {
                let mut counted: Vec<(f64, f64)> = (0..size).map(|_| (next(kinds) as f64 / 8.0, (1 + next(4)) as f64)).collect();
                let all: Vec<f64> = counted.iter().flat_map(|(value, count)| vec![*value; *count as usize]).collect();
                assert_eq!(counted_median(&mut counted), median(&all), "{size} values of {kinds} kinds");
            }
        }
        assert_eq!(counted_median(&mut []), None);
    }
}
