//! Sums over the runs of every block, made side by side.

use super::rows::RunRows;
use rayon::iter::{IndexedParallelIterator as _, IntoParallelIterator as _, IntoParallelRefIterator as _, ParallelIterator as _};
use rayon::slice::ParallelSliceMut as _;
use std::ops::Range;

/// Runs of one block that are gone over together. Sums are rounded part by part, so that they do not depend on the number of threads.
const TOGETHER: usize = 4096;

/// The parts of all blocks, in order: block and runs.
fn parts(rows: &impl RunRows) -> Vec<(usize, Range<usize>)> {
    let of_block = |block: usize| {
        let Range { start, end } = rows.block(block);
        (start..end).step_by(TOGETHER).map(move |from| (block, from..end.min(from + TOGETHER)))
    };
    (0..rows.blocks()).flat_map(of_block).collect()
}

/// Whether so many runs are worth a second thread.
fn are_many(rows: &impl RunRows) -> bool {
    rows.runs() > TOGETHER
}

/// `width` sums of every block, block after block. `add` adds what some runs of a block bring to its sums.
pub(super) fn sums_by_block<R: RunRows>(rows: &R, width: usize, add: impl Fn(usize, Range<usize>, &mut [f64]) + Sync) -> Vec<f64> {
    let parts = parts(rows);
    let mut of_parts = vec![0.0; parts.len() * width];
    if width == 0 {
        return of_parts;
    }
    if are_many(rows) {
        let each = of_parts.par_chunks_mut(width).zip(parts.par_iter()).with_min_len(1 + TOGETHER * parts.len() / (8 * rows.runs()));
        each.for_each(|(sums, (block, runs))| add(*block, runs.clone(), sums));
    } else {
        of_parts.chunks_mut(width).zip(&parts).for_each(|(sums, (block, runs))| add(*block, runs.clone(), sums));
    }
    if parts.len() == rows.blocks() && parts.iter().enumerate().all(|(place, (block, _))| place == *block) {
        return of_parts;
    }
    let mut sums = vec![0.0; rows.blocks() * width];
    for ((block, _), own) in parts.iter().zip(of_parts.chunks(width)) {
        let slots = sums.get_mut(block * width..(block + 1) * width).unwrap_or_default();
        slots.iter_mut().zip(own).for_each(|(slot, value)| *slot += value);
    }
    sums
}

/// What `of` makes of the runs of every part, put together by `join` in the order of the parts; `None` without runs.
pub(in crate::statistics) fn over_parts<R: RunRows, T: Send>(
    rows: &R,
    of: impl Fn(usize, Range<usize>) -> T + Sync,
    join: impl Fn(T, T) -> T,
) -> Option<T> {
    let parts = parts(rows);
    let made: Vec<T> = if are_many(rows) {
        parts.par_iter().map(|(block, runs)| of(*block, runs.clone())).collect()
    } else {
        parts.iter().map(|(block, runs)| of(*block, runs.clone())).collect()
    };
    made.into_iter().reduce(join)
}

/// Changes one number a run, `numbers` in the order of the runs: `change` is given block, first run and the numbers of some runs. The largest of what it returns.
pub(in crate::statistics) fn change_each<R: RunRows>(
    rows: &R,
    numbers: &mut [f64],
    change: impl Fn(usize, usize, &mut [f64]) -> f64 + Sync,
) -> f64 {
    let parts = parts(rows);
    let mut rest = numbers;
    let mut slices = Vec::with_capacity(parts.len());
    for (block, runs) in &parts {
        let (own, others) = std::mem::take(&mut rest).split_at_mut_checked(runs.len()).unwrap_or_default();
        slices.push((*block, runs.start, own));
        rest = others;
    }
    let largest = |a: f64, b: f64| a.max(b);
    if are_many(rows) {
        slices.into_par_iter().map(|(block, first, own)| change(block, first, own)).reduce(|| 0.0, largest)
    } else {
        slices.into_iter().map(|(block, first, own)| change(block, first, own)).fold(0.0, largest)
    }
}

/// The columns of a run.
pub(super) trait Row: Clone + AsRef<[f64]> + AsMut<[f64]> {}

impl<R: Clone + AsRef<[f64]> + AsMut<[f64]>> Row for R {}

/// Evaluates `$body` with `$row` a row of `$columns` zeros: an array where they are few, so that loops over it are unrolled.
macro_rules! with_row {
    ($columns:expr, $row:ident => $body:expr) => {
        match $columns {
            0 => with_row!(@ [0.0; 0], $row => $body),
            1 => with_row!(@ [0.0; 1], $row => $body),
            2 => with_row!(@ [0.0; 2], $row => $body),
            3 => with_row!(@ [0.0; 3], $row => $body),
            4 => with_row!(@ [0.0; 4], $row => $body),
            columns => with_row!(@ vec![0.0; columns], $row => $body),
        }
    };
    (@ $zeros:expr, $row:ident => $body:expr) => {{
        #[allow(unused_mut)]
        let mut $row = $zeros;
        $body
    }};
}
pub(super) use with_row;
