//! Weighted sums of products of columns and values, block by block.

use super::basis::value;
use super::parts::{Row, sums_by_block, with_row};
use super::rows::RunRows;
use std::ops::Range;

/// Total weight of each block, and its weighted means of the columns and of the values, block after block; means are 0 without a level.
pub(super) fn means(rows: &impl RunRows, weighed: &(impl Fn(usize) -> [f64; 2] + Sync)) -> (Vec<f64>, Vec<f64>) {
    let (level, columns) = (rows.own_level(), rows.columns());
    let width = columns + 2;
    let sums = sums_by_block(rows, width, |block, runs, sums| with_row!(columns, row => add_means(rows, weighed, block, runs, row, sums)));
    let mut weights = Vec::with_capacity(rows.blocks());
    let mut means = Vec::with_capacity(rows.blocks() * (columns + 1));
    for sums in sums.chunks_exact(width) {
        let weight = value(sums, columns + 1);
        weights.push(weight);
        means.extend(sums.iter().take(columns + 1).map(|sum| if level && weight > 0.0 { sum / weight } else { 0.0 }));
    }
    (weights, means)
}

/// Weighted sums of products of the columns with the columns and with the values, all about their `means`: block after block, row by row.
pub(super) fn products(rows: &impl RunRows, weighed: &(impl Fn(usize) -> [f64; 2] + Sync), means: &[f64]) -> Vec<f64> {
    let columns = rows.columns();
    let width = columns + 1;
    sums_by_block(rows, columns * width, |block, runs, sums| {
        let means = means.get(block * width..(block + 1) * width).unwrap_or(&[]);
        with_row!(columns, row => add_products(rows, weighed, means, block, runs, row, sums));
    })
}

/// Weighted sums of products of values with the columns, then of the values alone, block after block; `weighed` tells total weight and value from block, run and
/// the run's columns.
pub(super) fn projections(rows: &impl RunRows, weighed: &(impl Fn(usize, usize, &[f64]) -> [f64; 2] + Sync)) -> Vec<f64> {
    let columns = rows.columns();
    sums_by_block(rows, columns + 1, |block, runs, sums| with_row!(columns, row => add_projections(rows, weighed, block, runs, row, sums)))
}

/// Adds to `sums` those of some runs of a block: weight times each column, weight times value, weight. `row` are zeros.
fn add_means(
    rows: &impl RunRows,
    weighed: &impl Fn(usize) -> [f64; 2],
    block: usize,
    runs: Range<usize>,
    mut row: impl Row,
    sums: &mut [f64],
) {
    let mut own = row.clone();
    let (mut weight, mut sum) = (0.0, 0.0);
    for run in runs {
        let [w, y] = weighed(run);
        rows.row(block, run, row.as_mut());
        weight += w;
        sum += w * y;
        own.as_mut().iter_mut().zip(row.as_ref()).for_each(|(slot, x)| *slot += w * x);
    }
    sums.iter_mut().zip(own.as_ref().iter().chain([&sum, &weight])).for_each(|(slot, value)| *slot += value);
}

/// Adds to `sums` those of [`products`] that some runs of a block bring. `row` are zeros.
fn add_products(
    rows: &impl RunRows,
    weighed: &impl Fn(usize) -> [f64; 2],
    means: &[f64],
    block: usize,
    runs: Range<usize>,
    mut row: impl Row,
    sums: &mut [f64],
) {
    let columns = row.as_ref().len();
    let mean = value(means, columns);
    let mut on_values = row.clone();
    let mut square = vec![row.clone(); columns];
    let mut centre = row.clone();
    centre.as_mut().iter_mut().zip(means).for_each(|(slot, mean)| *slot = *mean);
    for run in runs {
        let [w, y] = weighed(run);
        rows.row(block, run, row.as_mut());
        row.as_mut().iter_mut().zip(centre.as_ref()).for_each(|(x, mean)| *x -= mean);
        let product = w * (y - mean);
        on_values.as_mut().iter_mut().zip(row.as_ref()).for_each(|(slot, x)| *slot += product * x);
        for (line, x) in square.iter_mut().zip(row.as_ref()) {
            let product = w * x;
            line.as_mut().iter_mut().zip(row.as_ref()).for_each(|(slot, x)| *slot += product * x);
        }
    }
    for ((slots, line), on_values) in sums.chunks_exact_mut(columns + 1).zip(&square).zip(on_values.as_ref()) {
        slots.iter_mut().zip(line.as_ref().iter().chain([on_values])).for_each(|(slot, value)| *slot += value);
    }
}

/// Adds to `sums` weight times value times each column, and weight times value, of some runs of a block. `row` are zeros.
fn add_projections(
    rows: &impl RunRows,
    weighed: &impl Fn(usize, usize, &[f64]) -> [f64; 2],
    block: usize,
    runs: Range<usize>,
    mut row: impl Row,
    sums: &mut [f64],
) {
    let mut own = row.clone();
    let mut sum = 0.0;
    for run in runs {
        rows.row(block, run, row.as_mut());
        let [w, y] = weighed(block, run, row.as_ref());
        let product = w * y;
        sum += product;
        own.as_mut().iter_mut().zip(row.as_ref()).for_each(|(slot, x)| *slot += product * x);
    }
    sums.iter_mut().zip(own.as_ref().iter().chain([&sum])).for_each(|(slot, value)| *slot += value);
}
