//! Medians of values that came several times.

use rayon::iter::{IntoParallelRefIterator as _, ParallelIterator as _};
use std::ops::Range;

/// Leading bits by which sizes are told apart at first: sign, exponent, four bits of the fraction.
const LEADING: u32 = 16;

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

/// Runs whose sizes are counted together.
const TOGETHER: usize = 1 << 18;

/// Median of sizes, each of which came as often as is said; `None` when there is none or one is not a number.
///
/// `sizes` tells those of some of the `runs`. The sizes, none below 0, are gone over twice and not kept: how many have the same leading bits, then those that
/// share them with the middle ones. Parts of the runs are gone over side by side.
pub fn median_of_sizes<I: Iterator<Item = (f64, f64)>>(runs: Range<usize>, sizes: impl Fn(Range<usize>) -> I + Sync) -> Option<f64> {
    median_in_parts(runs, sizes, TOGETHER)
}

/// [`median_of_sizes`] with `together` runs in a part.
fn median_in_parts<I: Iterator<Item = (f64, f64)>>(
    runs: Range<usize>,
    sizes: impl Fn(Range<usize>) -> I + Sync,
    together: usize,
) -> Option<f64> {
    let leading = |size: f64| (size.to_bits() >> (u64::BITS - LEADING)) as usize;
    let Range { start, end } = runs;
    let parts: Vec<Range<usize>> = (start..end).step_by(together).map(|from| from..end.min(from + together)).collect();
    let count = |part: &Range<usize>| {
        let mut numbers = vec![0.0; 1 << LEADING];
        let mut valid = true;
        for (size, count) in sizes(part.clone()) {
            valid &= size >= 0.0;
            if let Some(slot) = numbers.get_mut(leading(size)) {
                *slot += count;
            }
        }
        (numbers, valid)
    };
    // whole numbers, so that the order of the sums makes no difference
    let join = |(mut sum, valid): (Vec<f64>, bool), (more, also): (Vec<f64>, bool)| {
        sum.iter_mut().zip(more).for_each(|(slot, number)| *slot += number);
        (sum, valid && also)
    };
    let (numbers, valid) = parts.par_iter().map(count).reduce_with(join)?;
    let total: f64 = numbers.iter().sum();
    if total <= 0.0 || !valid {
        return None;
    }
    // places of the two middle ones from 0, the same one where the number is odd
    let middle = [((total - 1.0) / 2.0).floor(), (total / 2.0).floor()];
    let mut below = 0.0;
    let mut bounds = [(0, 0.0); 2];
    for (bits, number) in numbers.iter().enumerate() {
        for (bound, place) in bounds.iter_mut().zip(middle) {
            if place >= below && place < below + number {
                *bound = (bits, below);
            }
        }
        below += number;
    }
    let [(first, before), (last, _)] = bounds;
    let of_part = |part: &Range<usize>| sizes(part.clone()).filter(|(size, _)| leading(*size) == first || leading(*size) == last).collect();
    let near: Vec<Vec<(f64, f64)>> = parts.par_iter().map(of_part).collect();
    let mut near = near.concat();
    near.sort_unstable_by(|a, b| a.0.total_cmp(&b.0));
    let at = |place: f64| {
        let mut passed = before;
        near.iter().find_map(|(size, count)| {
            passed += count;
            (place < passed).then_some(*size)
        })
    };
    let (lower, upper) = (at(middle[0])?, at(middle[1])?);
    Some(if lower == upper { upper } else { 0.5 * lower + 0.5 * upper })
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

    /// The same whether they are gone over together or in parts.
    fn median_of(counted: &[(f64, f64)]) -> Option<f64> {
        let sizes = |places: Range<usize>| counted[places].iter().copied();
        let whole = median_of_sizes(0..counted.len(), sizes);
        for together in [1, 3, 100] {
            assert_eq!(median_in_parts(0..counted.len(), sizes, together), whole, "{together} of {} together", counted.len());
        }
        whole
    }

    /// Coarse and fine steps, tiny and huge values, odd and even numbers; the same values with one more above the middle have another median.
    #[test]
    fn sizes_that_are_not_kept_have_the_same_median() {
        let mut state = 11_u64;
        let mut next = |below: u64| {
            state = state.wrapping_mul(6_364_136_223_846_793_005).wrapping_add(1_442_695_040_888_963_407);
            (state >> 33) % below
        };
        for size in [1, 2, 3, 5, 17, 40, 200, 5000] {
            for (kinds, scale) in [(2, 8.0), (7, 8.0), (1000, 8.0), (1000, 1e9), (1_000_000, 1e-300)] {
                let counted: Vec<(f64, f64)> = (0..size).map(|_| (next(kinds) as f64 / scale, (1 + next(4)) as f64)).collect();
                let mut all = counted.clone();
                assert_eq!(median_of(&counted), counted_median(&mut all), "{size} values of {kinds} kinds");
            }
        }
        assert_eq!(median_of(&[(1.0, 1.0), (3.0, 2.0), (2.0, 1.0)]), Some(2.5));
        assert_eq!(median_of(&[(1.0, 1.0), (3.0, 2.0), (2.0, 1.0), (9.0, 1.0)]), Some(3.0));
        assert_eq!(median_of(&[]), None);
        assert_eq!(median_of(&[(1.0, 1.0), (f64::NAN, 1.0)]), None);
        assert_eq!(median_of(&[(0.0, 3.0), (5.0, 2.0)]), Some(0.0));
        assert_eq!(median_of(&[(0.0, 2.0), (f64::INFINITY, 2.0)]), Some(f64::INFINITY));
    }
}
