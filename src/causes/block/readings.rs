//! Other readings in the place of a block's own: their part of the normal equations without the columns' part done again.

use super::super::bending::Bending;
use super::super::hyper::Values;
use super::super::symmetric::Symmetric;
use super::{Block, Known, curve_products};

/// What a block's columns do to its readings at given values: the same for every block that differs in its readings alone.
#[derive(Debug, Clone)]
pub(in super::super) struct Readings {
    /// Weight `1/σ²` of each piece.
    weights: Vec<f64>,
    /// What the curve of bending takes from each vector's sum of products with the reading; 0 outside diameters.
    taken: Vec<f64>,
    /// What the curve adds to the reading's own square.
    own: f64,
    /// By random term: `s²/(1 + s²S_jj)`, and its column as it stood before it was integrated out.
    steps: Vec<(f64, Vec<f64>)>,
    /// Known coefficients, by column.
    known: Vec<(usize, f64)>,
    /// Sums of products of the columns, random terms integrated out.
    columns: Symmetric,
    /// What multiplies each column.
    scales: Vec<f64>,
}

impl Block {
    /// Does [`Block::add_to`] and keeps what other readings of the same columns need.
    pub(in super::super) fn add_and_keep(
        &self,
        values: &Values,
        bending: &Bending,
        joint: &mut Symmetric,
        local: &mut Symmetric,
    ) -> (f64, Readings) {
        let random = self.spreads.len();
        let mut steps = Vec::with_capacity(random);
        let log_likelihood = self.sums_at(values, bending, local, |j, factor, local| {
            steps.push((factor, (0..local.size()).map(|a| local.get(a, j)).collect()));
        });
        self.spread_out(values, joint, local);
        let weights: Vec<f64> = self.pieces.iter().map(|p| 1.0 / values.noise_variance(p.noise)).collect();
        let (mut taken, mut own) = (vec![0.0; local.size()], 0.0);
        let mut products = vec![0.0; local.size()];
        if let Some((first, count)) = self.bent {
            for (piece, weight) in self.pieces.iter().zip(&weights) {
                if let Some(square) = curve_products(piece, bending.curve(first, count), &mut products) {
                    own += weight * square;
                    taken.iter_mut().zip(&products).for_each(|(taken, product)| *taken += weight * product);
                }
            }
        }
        let known = self.columns.iter().enumerate().filter(|(_, c)| c.known != Known::None);
        let known = known.map(|(c, column)| (random + 1 + c, values.scale(column.scale) * values.known(column.known))).collect();
        let scales = self.columns.iter().map(|c| values.scale(c.scale)).collect();
        (log_likelihood, Readings { weights, taken, own, steps, known, columns: local.clone(), scales })
    }
}

impl Readings {
    /// Adds the readings of `block` to the last row of `joint`, as [`Block::add_to`] does, and leaves the rest alone. `row` is scratch space.
    pub(in super::super) fn add(&self, block: &Block, bending: &Bending, joint: &mut Symmetric, row: &mut Vec<f64>) {
        let reading = block.spreads.len();
        row.clear();
        row.extend(self.taken.iter().map(|taken| -taken));
        let mut square = self.own;
        for (piece, weight) in block.pieces.iter().zip(&self.weights) {
            piece.sums.add_row_to(reading, *weight, row);
            square += weight * piece.sums.get(reading, reading);
            if let Some((first, count)) = block.bent {
                let width = piece.sums.size();
                let own = piece.station_sums.iter().skip(reading).step_by(width.max(1));
                square -= 2.0 * weight * bending.curve(first, count).iter().zip(own).map(|(d, s)| d * s).sum::<f64>();
            }
        }
        for (j, (factor, column)) in self.steps.iter().enumerate() {
            let scaled = factor * row[j];
            square -= scaled * row[j];
            row.iter_mut().zip(column).skip(j + 1).for_each(|(entry, other)| *entry -= scaled * other);
        }
        for (column, coefficient) in &self.known {
            if *coefficient != 0.0 {
                square -= coefficient * (2.0 * row[*column] - coefficient * self.columns.get(*column, *column));
                for (a, entry) in row.iter_mut().enumerate().filter(|(a, _)| *a != reading) {
                    *entry -= coefficient * self.columns.get(a, *column);
                }
            }
        }
        let last = joint.size() - 1;
        joint.add(last, last, square);
        for ((column, scale), entry) in block.columns.iter().zip(&self.scales).zip(&row[reading + 1..]) {
            for (target, own) in &column.targets {
                joint.add(last, *target, scale * own * entry);
            }
        }
    }
}
