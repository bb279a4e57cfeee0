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
    /// Place of the reading among the vectors.
    reading: usize,
    /// By random term: `s²/(1 + s²S_jj)`, and its column as it stood before it was integrated out.
    steps: Vec<(f64, Vec<f64>)>,
    /// Known coefficients that are not zero: the column, the coefficient, and the column's sums of products, random terms integrated out.
    known: Vec<(usize, f64, Vec<f64>)>,
    /// What each vector adds to an unknown: vector, unknown, factor.
    targets: Vec<(usize, usize, f64)>,
}

/// The sums that readings bring, by noise level.
#[derive(Debug, Clone)]
pub(in super::super) struct ReadingSums {
    pieces: Vec<PieceSums>,
    /// First entry of the pass in the bending table, and how many stations it has there.
    bent: Option<(usize, usize)>,
}

/// The sums of the readings with one noise level.
#[derive(Debug, Clone)]
struct PieceSums {
    /// Products of the reading with every vector.
    products: Vec<f64>,
    /// Sum of the centred readings at each station.
    stations: Vec<f64>,
}

impl Block {
    /// What its readings bring.
    pub(in super::super) fn reading_sums(&self) -> ReadingSums {
        let reading = self.spreads.len();
        let pieces = self.pieces.iter().map(|piece| {
            let width = piece.sums.size();
            PieceSums {
                products: (0..width).map(|a| piece.sums.get(reading, a)).collect(),
                stations: piece.station_sums.iter().skip(reading).step_by(width.max(1)).copied().collect(),
            }
        });
        ReadingSums { pieces: pieces.collect(), bent: self.bent }
    }

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
        let log_likelihood = self.sums_at(values, bending, local, |j, factor, local| steps.push((factor, local.whole_row(j))));
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
        let known = self.columns.iter().enumerate().filter(|(_, c)| c.known != Known::None).filter_map(|(c, column)| {
            let coefficient = values.scale(column.scale) * values.known(column.known);
            (coefficient != 0.0).then(|| (random + 1 + c, coefficient, local.whole_row(random + 1 + c)))
        });
        let known = known.collect();
        self.spread_out(values, joint, local);
        let targets = self.columns.iter().enumerate().flat_map(|(c, column)| {
            let scale = values.scale(column.scale);
            column.targets.iter().map(move |(target, own)| (random + 1 + c, *target, scale * own))
        });
        (log_likelihood, Readings { weights, taken, own, reading: random, steps, known, targets: targets.collect() })
    }
}

impl Readings {
    /// Adds what `sums` say to the right side `right` (unknowns, then the readings' own square), as [`Block::add_to`] does to the last row.
    /// `row` is scratch space.
    pub(in super::super) fn add(&self, sums: &ReadingSums, bending: &Bending, right: &mut [f64], row: &mut Vec<f64>) {
        row.clear();
        row.extend(self.taken.iter().map(|taken| -taken));
        let mut square = self.own;
        for (piece, weight) in sums.pieces.iter().zip(&self.weights) {
            row.iter_mut().zip(&piece.products).for_each(|(entry, product)| *entry += weight * product);
            square += weight * piece.products.get(self.reading).copied().unwrap_or(0.0);
            if let Some((first, count)) = sums.bent {
                square -= 2.0 * weight * bending.curve(first, count).iter().zip(&piece.stations).map(|(d, s)| d * s).sum::<f64>();
            }
        }
        for (j, (factor, column)) in self.steps.iter().enumerate() {
            let scaled = factor * row[j];
            square -= scaled * row[j];
            row.iter_mut().zip(column).skip(j + 1).for_each(|(entry, other)| *entry -= scaled * other);
        }
        for (column, coefficient, products) in &self.known {
            // The entry at the reading's own place is not used any more: its square is kept apart.
            square -= coefficient * (2.0 * row[*column] - coefficient * products[*column]);
            row.iter_mut().zip(products).for_each(|(entry, product)| *entry -= coefficient * product);
        }
        for (vector, target, factor) in &self.targets {
            right[*target] += factor * row[*vector];
        }
        if let Some(own) = right.last_mut() {
            *own += square;
        }
    }
}
