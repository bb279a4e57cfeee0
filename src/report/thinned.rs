//! What a page shows of a long log: never an estimate from a part, only fewer marks and rows.

use super::words;
use crate::quantities::grouped;
use crate::shape::Shape;
use crate::trial::Diameters;
use std::collections::BTreeSet;

/// Readings up to which a page lists every one.
pub const MOST_ROWS: usize = 3_000;
/// Readings of a longer log that are listed, evenly spread.
const SPREAD_ROWS: usize = 400;
/// Excluded ones that are listed beside them.
const EXCLUDED_ROWS: usize = 100;
/// Passes up to which a page lists every one, and how many of more, evenly spread.
pub const MOST_PASSES: usize = 200;

/// What the pictures and the table of a long log leave out; `None` where they show every reading.
pub fn of_points(shape: &Shape) -> Option<String> {
    (shape.points.len() < shape.readings).then(|| {
        format!(
            "Of {} readings {} are drawn and listed: in each of 600 equal stretches of the cutting order the one with the smallest and the one with \
             the largest residual, so that all others lie between them, with 300 evenly spread ones and every flagged one. All estimates and checks use \
             every reading.",
            grouped(shape.readings),
            grouped(shape.points.len()),
        )
    })
}

/// Numbers of the readings that are listed, rising: all of a log of ordinary length.
pub fn rows(log: &Diameters, flagged: impl Fn(usize) -> bool) -> Vec<usize> {
    let total = log.len();
    if total <= MOST_ROWS {
        return (0..total).collect();
    }
    let mut rows: BTreeSet<usize> = (0..SPREAD_ROWS).map(|k| k * (total - 1) / (SPREAD_ROWS - 1)).collect();
    rows.extend((0..total).filter(|row| !log.is_used(*row)).take(EXCLUDED_ROWS));
    rows.extend((0..total).filter(|row| flagged(*row)));
    rows.into_iter().collect()
}

/// What the table of readings leaves out; `None` where it lists every one.
pub fn of_rows(listed: usize, total: usize) -> Option<String> {
    (listed < total).then(|| {
        format!(
            "Of {} diameters {} are listed: {SPREAD_ROWS} evenly spread over the log, the flagged ones, and the first {EXCLUDED_ROWS} that the log \
             excludes. The log itself holds all; its SHA-256 stands under “Inputs”.",
            grouped(total),
            grouped(listed),
        )
    })
}

/// Places of the passes that are listed, rising: all of an ordinary number.
pub fn passes(total: usize) -> Vec<usize> {
    if total <= MOST_PASSES { (0..total).collect() } else { (0..MOST_PASSES).map(|k| k * (total - 1) / (MOST_PASSES - 1)).collect() }
}

/// What the table of passes leaves out; `None` where it lists every one.
pub fn of_passes(total: usize) -> Option<String> {
    (total > MOST_PASSES).then(|| {
        format!("Of {} {MOST_PASSES} are listed, evenly spread; all estimates use every pass.", words::counted(total, "pass", "passes"))
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn ends_are_listed() {
        assert_eq!((passes(3), passes(200).len()), (vec![0, 1, 2], 200));
        let many = passes(100_000);
        assert_eq!((many.len(), many.first(), many.last()), (MOST_PASSES, Some(&0), Some(&99_999)));
        assert!(of_passes(200).is_none() && of_rows(5, 5).is_none() && of_rows(5, 6).is_some());
    }
}
