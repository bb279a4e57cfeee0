//! Other readings in the place of a block's own: their part of the normal equations without the columns' part done again.

use super::super::bending::Bending;
use super::super::lanes::{At, Number};
use super::super::symmetric::Symmetric;
use super::{Block, Centred, Known, Local, Rows, curve_products};

/// What a block's columns do to its readings at given values: the same for every block that differs in its readings alone.
#[derive(Debug, Clone)]
pub(in super::super) struct Readings<T> {
    /// Weight `1/σ²` of each piece.
    weights: Vec<T>,
    /// What the curve of bending takes from each vector's sum of products with the reading; 0 outside diameters.
    taken: Vec<T>,
    /// What the curve adds to the reading's own square.
    own: T,
    /// Place of the reading among the vectors.
    reading: usize,
    /// By random term: `s²/(1 + s²S_jj)`, and its column as it stood before it was integrated out.
    steps: Vec<(T, Vec<T>)>,
    /// Known coefficients that are not zero: the column, the coefficient, and the column's sums of products, random terms integrated out.
    known: Vec<(usize, T, Vec<T>)>,
    /// What each vector adds to an unknown: vector, unknown, factor.
    targets: Vec<(usize, usize, T)>,
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
    /// Does [`Block::add_to`] and keeps what other readings of the same columns need.
    pub(in super::super) fn add_and_keep<T: Number>(
        &self,
        at: &impl At<T>,
        bending: &Bending<T>,
        joint: &mut Symmetric<T>,
        local: &mut Local<T>,
    ) -> (T, Readings<T>) {
        let random = self.spreads.len();
        let mut steps = Vec::with_capacity(random);
        let log_likelihood = self.sums_at(at, bending, local, |j, factor, local| steps.push((factor, local.whole_row(j))));
        let local = &mut local.sums;
        let weights: Vec<T> = self.pieces.iter().map(|p| T::splat(1.0) / at.each(|values| values.noise_variance(p.noise))).collect();
        let (mut taken, mut own) = (vec![T::ZERO; local.size()], T::ZERO);
        let mut products = vec![T::ZERO; local.size()];
        if let Some((first, count)) = self.bent {
            for (piece, weight) in self.pieces.iter().zip(&weights) {
                let square = curve_products(piece, bending.curve(first, count), &mut products);
                own += *weight * square;
                taken.iter_mut().zip(&products).for_each(|(taken, product)| *taken += *weight * *product);
            }
        }
        let known = self.columns.iter().enumerate().filter(|(_, c)| c.known != Known::None).filter_map(|(c, column)| {
            let coefficient = at.each(|values| values.scale(column.scale) * values.known(column.known));
            (coefficient != T::ZERO).then(|| (random + 1 + c, coefficient, local.whole_row(random + 1 + c)))
        });
        let known = known.collect();
        self.spread_out(at, joint, local);
        let targets = self.columns.iter().enumerate().flat_map(|(c, column)| {
            let scale = at.each(|values| values.scale(column.scale));
            column.targets.iter().map(move |(target, own)| (random + 1 + c, *target, scale * T::splat(*own)))
        });
        (log_likelihood, Readings { weights, taken, own, reading: random, steps, known, targets: targets.collect() })
    }
}

impl Rows {
    /// What other readings in the place of these rows' own bring; `centred` as [`Rows::centred`] has it.
    pub(in super::super) fn reading_sums(&self, centred: &[Centred], readings: &[f64]) -> ReadingSums {
        let reading = self.random.len();
        let pieces = centred.iter().map(|level| {
            let own = level.centre(readings, &self.variance);
            let product = |vector: &Vec<f64>| own.iter().zip(vector).map(|(x, y)| x * y).sum();
            let mut products: Vec<f64> = level.vectors.iter().map(product).collect();
            products[reading] = own.iter().map(|x| x * x).sum();
            products[reading] +=
                self.repeats.iter().filter(|(noise, _, _)| *noise == level.noise).map(|(_, _, square)| square).sum::<f64>();
            let mut stations = vec![0.0; self.bent.as_ref().map_or(0, |(_, count, _)| *count)];
            if let Some((_, _, at)) = &self.bent {
                level.rows.iter().zip(&level.roots).zip(&own).for_each(|((i, root), value)| stations[at[*i]] += value * root);
            }
            PieceSums { products, stations }
        });
        ReadingSums { pieces: pieces.collect(), bent: self.bent.as_ref().map(|(first, count, _)| (*first, *count)) }
    }
}

impl<T: Number> Readings<T> {
    /// Adds what `sums` say to the right side `right` (unknowns, then the readings' own square), as [`Block::add_to`] does to the last row.
    /// `row` is scratch space.
    pub(in super::super) fn add(&self, sums: &ReadingSums, bending: &Bending<T>, right: &mut [T], row: &mut Vec<T>) {
        row.clear();
        row.extend(self.taken.iter().map(|taken| T::ZERO - *taken));
        let (mut square, two) = (self.own, T::splat(2.0));
        for (piece, weight) in sums.pieces.iter().zip(&self.weights) {
            row.iter_mut().zip(&piece.products).for_each(|(entry, product)| *entry += *weight * T::splat(*product));
            square += *weight * T::splat(piece.products.get(self.reading).copied().unwrap_or(0.0));
            if let Some((first, count)) = sums.bent {
                let mut bent = T::ZERO;
                bending.curve(first, count).iter().zip(&piece.stations).for_each(|(d, s)| bent += *d * T::splat(*s));
                square -= two * *weight * bent;
            }
        }
        for (j, (factor, column)) in self.steps.iter().enumerate() {
            let scaled = *factor * row[j];
            square -= scaled * row[j];
            row.iter_mut().zip(column).skip(j + 1).for_each(|(entry, other)| *entry -= scaled * *other);
        }
        for (column, coefficient, products) in &self.known {
            // The entry at the reading's own place is not used any more: its square is kept apart.
            square -= *coefficient * (two * row[*column] - *coefficient * products[*column]);
            row.iter_mut().zip(products).for_each(|(entry, product)| *entry -= *coefficient * *product);
        }
        for (vector, target, factor) in &self.targets {
            right[*target] += *factor * row[*vector];
        }
        if let Some(own) = right.last_mut() {
            *own += square;
        }
    }
}
