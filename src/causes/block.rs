//! Readings that share one free constant, reduced once to the sums that the joint estimate needs.
//!
//! A block is one pass of diameters, one setting's levels, one run of the indicator, or one foot of a clamp log. With its constant
//! projected out (flat prior) everything that the readings say is the matrix of centred sums of products of their columns; readings
//! of unlike noise are kept in separate pieces, so that a noise level can change without touching the readings again.

use super::bending::Bending;
use super::hyper::Values;
use super::lanes::{At, Number};
use super::symmetric::{Symmetric, place};
use super::values::CauseKind;

#[cfg(test)]
mod against_dense;
mod contrasts;
mod readings;

pub(super) use contrasts::Contrasts;
pub(super) use readings::ReadingSums;

/// A term of a block with its own random coefficient, integrated out.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) enum Spread {
    /// Known standard deviation.
    Known(f64),
    /// Standard deviation `factor · slope spread · σ` of the noise with the given index.
    Slope { factor: f64, noise: usize },
    /// The same with the barrel's spread.
    Barrel { factor: f64, noise: usize },
}

impl Spread {
    /// Its variance at `values`.
    pub(super) fn variance(self, values: &Values) -> f64 {
        match self {
            Self::Known(sd) => sd * sd,
            Self::Slope { factor, noise } => (factor * values.slope_spread).powi(2) * values.noise_variance(noise),
            Self::Barrel { factor, noise } => (factor * values.barrel_spread).powi(2) * values.noise_variance(noise),
        }
    }
}

/// What multiplies a column besides its unknown.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) enum Scale {
    /// 1.
    One,
    /// Roll arm `h`, mm.
    RollArm,
    /// How firmly the chuck holds, `λ`.
    Grip,
    /// `1 − λ`.
    Slack,
    /// `h·λ`.
    RollArmGrip,
    /// `1/h`, per mm: the roll that goes with a way's wear.
    InverseRollArm,
}

/// A known coefficient added to a column's unknown.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) enum Known {
    /// Nothing.
    None,
    /// A number.
    Constant(f64),
    /// `number · G`: what logged moves did.
    Gain(f64),
}

/// One column of a block: `scale · (Σ factor·unknown + known)` times its values.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Column {
    /// The cause whose curve it is part of; `None` for nuisances.
    pub(super) cause: Option<CauseKind>,
    /// What multiplies it.
    pub(super) scale: Scale,
    /// Unknowns by index, with fixed factors.
    pub(super) targets: Vec<(usize, f64)>,
    /// Known coefficient.
    pub(super) known: Known,
    /// One value a reading.
    pub(super) values: Vec<f64>,
}

/// Centred sums of products of the readings with one noise level.
#[derive(Debug, Clone, PartialEq)]
struct Piece {
    noise: usize,
    dof: f64,
    sums: Symmetric,
    /// Sum of weights at each station of the bending table, and at each station the sum of every vector's centred values (station-major).
    station_weight: Vec<f64>,
    station_sums: Vec<f64>,
}

/// A column without its values.
#[derive(Debug, Clone, PartialEq)]
struct Entry {
    scale: Scale,
    targets: Vec<(usize, f64)>,
    known: Known,
}

/// Scratch space for one block's sums of products, of any size.
#[derive(Debug, Clone)]
pub(super) struct Local<T = f64> {
    sums: Symmetric<T>,
    products: Vec<T>,
}

impl<T: Number> Local<T> {
    /// Empty.
    pub(super) fn new() -> Self {
        Self { sums: Symmetric::zeros(0), products: Vec::new() }
    }
}

/// What one pair of columns adds to the normal equations of two unknowns.
#[derive(Debug, Clone, Copy, PartialEq)]
struct Link {
    /// Where the pair's sum of products stands in the block's local sums ([`place`]).
    product: usize,
    /// The unknowns, the second not after the first.
    unknowns: (usize, usize),
    /// Product of their factors, doubled where both orders of the pair fall on the same entry.
    factor: f64,
}

/// A reduced block. Local order: random terms, the reading, then the columns.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Block {
    spreads: Vec<Spread>,
    columns: Vec<Entry>,
    /// Each pair of columns once.
    links: Vec<Link>,
    pieces: Vec<Piece>,
    /// First entry of this pass in the bending table, and how many stations it has there; `None` outside diameters.
    bent: Option<(usize, usize)>,
    /// Of passes taken together: what they say beyond their mean.
    contrasts: Option<Contrasts>,
}

/// A block before reduction. All vectors have one entry a reading.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Rows {
    /// The readings, in the log's unit.
    pub(super) readings: Vec<f64>,
    /// Index of each reading's noise level.
    pub(super) noise: Vec<usize>,
    /// Variance of each reading in units of its noise level's (1 but for differences of two levels).
    pub(super) variance: Vec<f64>,
    /// Random terms and their values.
    pub(super) random: Vec<(Spread, Vec<f64>)>,
    /// Columns.
    pub(super) columns: Vec<Column>,
    /// What readings that stand for several say beyond their mean: noise level, number less one, squared deviations.
    pub(super) repeats: Vec<(usize, f64, f64)>,
    /// Of a pass: its first entry in the bending table, the number of stations there, and each reading's station.
    pub(super) bent: Option<(usize, usize, Vec<usize>)>,
}

/// The rows with one noise level, each vector with its weighted mean taken out.
#[derive(Debug, Clone)]
pub(super) struct Centred {
    noise: usize,
    rows: Vec<usize>,
    /// Roots of the weights.
    roots: Vec<f64>,
    /// In a block's local order: centred values times the roots.
    vectors: Vec<Vec<f64>>,
}

impl Rows {
    /// The rows of each noise level; the constant is free for each (unlike gauges need not agree in their zero).
    pub(super) fn centred(&self) -> Vec<Centred> {
        let mut levels: Vec<usize> = self.noise.clone();
        levels.sort_unstable();
        levels.dedup();
        let of = |level: usize| {
            let rows: Vec<usize> = (0..self.readings.len()).filter(|i| self.noise[*i] == level).collect();
            let roots = rows.iter().map(|i| 1.0 / self.variance[*i].sqrt()).collect();
            let mut own = Centred { noise: level, rows, roots, vectors: Vec::new() };
            let random = self.random.iter().map(|(_, v)| v.as_slice());
            let vectors = random.chain(std::iter::once(self.readings.as_slice())).chain(self.columns.iter().map(|c| c.values.as_slice()));
            own.vectors = vectors.map(|vector| own.centre(vector, &self.variance)).collect();
            own
        };
        levels.into_iter().map(of).collect()
    }

    /// Reduces the rows.
    pub(super) fn reduce(&self) -> Block {
        let reading = self.random.len();
        let pieces = self.centred().into_iter().map(|centred| {
            let width = centred.vectors.len();
            let mut sums = Symmetric::zeros(width);
            for (a, vector) in centred.vectors.iter().enumerate() {
                for (b, other) in centred.vectors.iter().enumerate().take(a + 1) {
                    sums.set(a, b, vector.iter().zip(other).map(|(x, y)| x * y).sum());
                }
            }
            let stations = self.bent.as_ref().map_or(0, |(_, count, _)| *count);
            let mut station_weight = vec![0.0; stations];
            let mut station_sums = vec![0.0; stations * width];
            if let Some((_, _, at)) = &self.bent {
                for (k, (i, root)) in centred.rows.iter().zip(&centred.roots).enumerate() {
                    station_weight[at[*i]] += root * root;
                    for (a, vector) in centred.vectors.iter().enumerate() {
                        station_sums[at[*i] * width + a] += vector[k] * root;
                    }
                }
            }
            let mut dof = centred.rows.len() as f64 - 1.0;
            for (_, more, square) in self.repeats.iter().filter(|(noise, _, _)| *noise == centred.noise) {
                dof += more;
                sums.add(reading, reading, *square);
            }
            Piece { noise: centred.noise, dof, sums, station_weight, station_sums }
        });
        let pieces = pieces.collect();
        let columns: Vec<Entry> =
            self.columns.iter().map(|c| Entry { scale: c.scale, targets: c.targets.clone(), known: c.known }).collect();
        Block {
            links: links(&columns, self.random.len() + 1),
            spreads: self.random.iter().map(|(s, _)| *s).collect(),
            columns,
            pieces,
            bent: self.bent.as_ref().map(|(first, count, _)| (*first, *count)),
            contrasts: None,
        }
    }
}

impl Centred {
    /// A vector of all rows at these, its weighted mean taken out, times the roots of the weights.
    fn centre(&self, vector: &[f64], variance: &[f64]) -> Vec<f64> {
        let weight: f64 = self.rows.iter().map(|i| 1.0 / variance[*i]).sum();
        // A first shift keeps digits when readings are large against their differences.
        let shift = self.rows.first().map_or(0.0, |i| vector[*i]);
        let mean = self.rows.iter().map(|i| (vector[*i] - shift) / variance[*i]).sum::<f64>() / weight;
        self.rows.iter().map(|i| (vector[*i] - shift - mean) / variance[*i].sqrt()).collect()
    }
}

impl Block {
    /// The same with what passes say beyond their mean, whose rows these are.
    pub(super) fn with(self, contrasts: Contrasts) -> Self {
        Self { contrasts: Some(contrasts), ..self }
    }

    /// What passes say beyond their mean; `None` of one pass.
    pub(super) fn contrasts(&self) -> Option<&Contrasts> {
        self.contrasts.as_ref()
    }

    /// Sums of products in `local` at `values`: noise weighed in, bending taken from the reading, random terms integrated out, the known taken
    /// from the reading. Returns the log likelihood that does not depend on the unknowns, up to a constant.
    ///
    /// `before` sees each random term's index, its factor `s²/(1 + s²S_jj)` and the sums before it is integrated out.
    fn sums_at<T: Number>(
        &self,
        at: &impl At<T>,
        bending: &Bending<T>,
        local: &mut Local<T>,
        mut before: impl FnMut(usize, T, &Symmetric<T>),
    ) -> T {
        let random = self.spreads.len();
        let Local { sums: local, products } = local;
        let (one, half) = (T::splat(1.0), T::splat(0.5));
        let mut log_likelihood = T::ZERO;
        if self.pieces.is_empty() {
            local.reset(random + 1 + self.columns.len());
        }
        for (p, piece) in self.pieces.iter().enumerate() {
            let variance = at.each(|values| values.noise_variance(piece.noise));
            if p == 0 {
                local.set_scaled(&piece.sums, one / variance);
            } else {
                local.add_scaled(&piece.sums, one / variance);
            }
            if let Some((first, count)) = self.bent {
                subtract_curve(piece, bending.curve(first, count), one / variance, random, local, products);
            }
            log_likelihood -= T::splat(0.5 * piece.dof) * variance.map(f64::ln);
        }
        // Integrating a coefficient of variance s²: S ← S − s²/(1 + s²S_jj)·S_j S_jᵀ, and −½ ln(1 + s²S_jj).
        for (j, spread) in self.spreads.iter().enumerate() {
            let variance = at.each(|values| spread.variance(values));
            let growth = one + variance * local.get(j, j);
            before(j, variance / growth, local);
            local.subtract_outer(j, variance / growth);
            log_likelihood -= half * growth.map(f64::ln);
        }
        // reading − Σ known·column.
        for (c, column) in self.columns.iter().enumerate() {
            let coefficient = at.each(|values| values.scale(column.scale) * values.known(column.known));
            if coefficient != T::ZERO {
                local.subtract_row(random, random + 1 + c, coefficient);
            }
        }
        if let Some(contrasts) = &self.contrasts {
            log_likelihood += contrasts.log_likelihood(at);
        }
        log_likelihood
    }

    /// Adds what the block says at `values` to the normal equations `joint` (unknowns, then the reading as last row) and returns
    /// its part of the log likelihood that does not depend on the unknowns, up to a constant.
    ///
    /// `local` is scratch space of any size.
    pub(super) fn add_to<T: Number>(&self, at: &impl At<T>, bending: &Bending<T>, joint: &mut Symmetric<T>, local: &mut Local<T>) -> T {
        let log_likelihood = self.sums_at(at, bending, local, |_, _, _| {});
        self.spread_out(at, joint, &mut local.sums);
        log_likelihood
    }

    /// Adds the sums of products in `local` to the normal equations of the unknowns; the columns in `local` are scaled.
    fn spread_out<T: Number>(&self, at: &impl At<T>, joint: &mut Symmetric<T>, local: &mut Symmetric<T>) {
        let random = self.spreads.len();
        let last = joint.size() - 1;
        joint.add(last, last, local.get(random, random));
        for (c, column) in self.columns.iter().enumerate() {
            let scale = at.each(|values| values.scale(column.scale));
            if scale != T::splat(1.0) {
                local.scale_row(random + 1 + c, scale);
            }
            let product = local.get(random + 1 + c, random);
            column.targets.iter().for_each(|(target, own)| joint.add(last, *target, T::splat(*own) * product));
        }
        for Link { product, unknowns: (a, b), factor } in &self.links {
            joint.add_below(*a, *b, T::splat(*factor) * local.at_place(*product));
        }
    }
}

/// The pairs of columns that meet in the normal equations; the columns' local sums begin at `from`.
fn links(columns: &[Entry], from: usize) -> Vec<Link> {
    let place = place(from + columns.len());
    let mut links = Vec::new();
    for (c, column) in columns.iter().enumerate() {
        for (target, own) in &column.targets {
            // Both orders of a pair fall on the same entry, twice where the unknown is the same.
            for (d, other_column) in columns[..=c].iter().enumerate() {
                for (other, other_own) in &other_column.targets {
                    if d == c && other > target {
                        continue;
                    }
                    let twice = if d < c && other == target { 2.0 } else { 1.0 };
                    let factor = twice * own * other_own;
                    if factor != 0.0 {
                        links.push(Link { product: place(from + c, from + d), unknowns: (*target.max(other), *target.min(other)), factor });
                    }
                }
            }
        }
    }
    links
}

/// Takes a known curve (one value a station) from the reading's row of the sums of products; `products` is scratch space.
fn subtract_curve<T: Number>(piece: &Piece, curve: &[T], weight: T, reading: usize, local: &mut Symmetric<T>, products: &mut Vec<T>) {
    products.resize(local.size(), T::ZERO);
    let own = curve_products(piece, curve, products);
    for (a, product) in products.iter().enumerate() {
        if a == reading {
            local.add(reading, reading, weight * (own - T::splat(2.0) * *product));
        } else {
            local.add(reading, a, T::ZERO - weight * *product);
        }
    }
}

/// Sums of products of a known curve with every vector of a piece, in `products`, and its own centred sum of squares.
fn curve_products<T: Number>(piece: &Piece, curve: &[T], products: &mut [T]) -> T {
    let mut total = 0.0;
    let (mut sum, mut squares) = (T::ZERO, T::ZERO);
    products.fill(T::ZERO);
    // All vectors side by side, so that the inner loop runs over neighbours.
    for ((d, w), sums) in curve.iter().zip(&piece.station_weight).zip(piece.station_sums.chunks_exact(products.len().max(1))) {
        total += w;
        let weighed = T::splat(*w) * *d;
        sum += weighed;
        squares += weighed * *d;
        products.iter_mut().zip(sums).for_each(|(product, s)| *product += *d * T::splat(*s));
    }
    squares - sum * sum / T::splat(total)
}
