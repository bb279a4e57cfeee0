use super::products::{means, products, projections};
use super::rows::RunRows;

/// Share of a column's own square that must be left after the columns before it are taken out, for it to count.
const LEFT_OVER: f64 = 1e-12;

/// What is taken out of a block.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Own {
    /// Sum of weights.
    pub weight: f64,
    /// Weighted sum of squares of the first column about its mean (about 0 without a level); 0 where the block has no slope of its own or cannot tell it.
    pub square: f64,
}

/// An orthonormal basis of the column space, run by run: the block's level, the block's slope, then the shared columns with both taken out.
///
/// For the reading `i` of run `r` with weight `w` the vectors are `√(w/W)`, `√w(x − x̄)/√S` and `√w·U(r)R⁻¹`, where `U` are the shared columns less
/// their projection on the block's own and `R'R = ΣwUU'` (Cholesky). A shared column that the others give is left out.
#[derive(Debug, Clone)]
pub struct RunBasis {
    level: bool,
    slope: bool,
    columns: usize,
    pub(super) own: Vec<Own>,
    /// Block-major: weighted mean of each column, 0 without a level.
    pub(super) means: Vec<f64>,
    /// Block-major: slope of each shared column on the first one.
    slopes: Vec<f64>,
    /// Row-major shared × shared: the shared basis is `U` times this.
    inverse: Vec<f64>,
    /// Shared columns that count.
    pub(super) rank_shared: usize,
    own_rank: usize,
}

/// What values bring to a basis.
#[derive(Debug, Clone)]
pub(super) struct Projections {
    /// By block: weighted mean of the values, 0 without a level, and their slope on the first column.
    pub own: Vec<[f64; 2]>,
    /// Weighted sums of products with the shared columns, the block's own taken out.
    pub shared: Vec<f64>,
}

impl RunBasis {
    /// The basis of `rows`, each run with the total weight `weights[run]`.
    #[must_use]
    pub fn of(rows: &impl RunRows, weight: impl Fn(usize) -> f64 + Sync) -> Self {
        Self::with_values(rows, &|run| [weight(run), 0.0]).0
    }

    /// The basis, and what values bring to it: `weighed` tells total weight and value of a run.
    ///
    /// Means of the columns first, then sums of products about them, from which the block's own slope is taken out.
    pub(super) fn with_values(rows: &impl RunRows, weighed: &(impl Fn(usize) -> [f64; 2] + Sync)) -> (Self, Projections) {
        let (level, slope, columns) = (rows.own_level(), rows.own_slope(), rows.columns());
        let shared = rows.shared();
        let first = usize::from(slope);
        let (weights, means) = means(rows, weighed);
        let width = columns + 1;
        let products = products(rows, weighed, &means);
        let mut basis = Self {
            level,
            slope,
            columns,
            own: Vec::with_capacity(rows.blocks()),
            means: Vec::with_capacity(rows.blocks() * columns),
            slopes: Vec::with_capacity(rows.blocks() * shared),
            inverse: Vec::new(),
            rank_shared: 0,
            own_rank: 0,
        };
        let mut brought = Projections { own: Vec::with_capacity(rows.blocks()), shared: vec![0.0; shared] };
        let mut gram = vec![0.0; shared * shared];
        let mut before = vec![0.0; shared];
        for (block, weight) in weights.into_iter().enumerate() {
            let means = means.get(block * width..(block + 1) * width).unwrap_or(&[]);
            let products = products.get(block * columns * width..(block + 1) * columns * width).unwrap_or(&[]);
            let product = |a: usize, b: usize| value(products, a * width + b);
            let square = if slope && product(0, 0) > LEFT_OVER * weight { product(0, 0) } else { 0.0 };
            basis.own_rank += usize::from(level && weight > 0.0) + usize::from(square > 0.0);
            basis.own.push(Own { weight, square });
            basis.means.extend(means.iter().take(columns));
            let on_first = |column: usize| if square > 0.0 { product(0, column) / square } else { 0.0 };
            let of_values = on_first(columns);
            brought.own.push([value(means, columns), of_values]);
            for a in 0..shared {
                let own = on_first(a + first);
                basis.slopes.push(own);
                let mean = value(means, a + first);
                if let Some(slot) = before.get_mut(a) {
                    *slot += product(a + first, a + first) + weight * mean * mean;
                }
                if let Some(slot) = brought.shared.get_mut(a) {
                    *slot += product(a + first, columns) - own * product(0, columns);
                }
                for b in 0..=a {
                    if let Some(slot) = gram.get_mut(a * shared + b) {
                        *slot += product(a + first, b + first) - own * product(0, b + first);
                    }
                }
            }
        }
        (basis.inverse, basis.rank_shared) = inverse_factor(&gram, &before, shared);
        (basis, brought)
    }

    /// What values bring to this basis; `weighed` tells total weight and value of a run from block, run and the run's columns.
    pub(super) fn projections(&self, rows: &impl RunRows, weighed: &(impl Fn(usize, usize, &[f64]) -> [f64; 2] + Sync)) -> Projections {
        let width = self.columns + 1;
        let sums = projections(rows, weighed);
        let first = usize::from(self.slope);
        let mut brought = Projections { own: Vec::with_capacity(self.own.len()), shared: vec![0.0; self.shared()] };
        for (block, own) in self.own.iter().enumerate() {
            let sums = sums.get(block * width..(block + 1) * width).unwrap_or(&[]);
            let sum = value(sums, self.columns);
            let about = |column: usize| value(sums, column) - self.mean(block, column) * sum;
            brought.own.push([
                if self.level && own.weight > 0.0 { sum / own.weight } else { 0.0 },
                if own.square > 0.0 { about(0) / own.square } else { 0.0 },
            ]);
            for (column, slot) in brought.shared.iter_mut().enumerate() {
                *slot += about(column + first) - self.slope_of(block, column) * about(0);
            }
        }
        brought
    }

    /// Mean of a column over a block; 0 where the block has no level.
    pub(super) fn mean(&self, block: usize, column: usize) -> f64 {
        value(&self.means, block * self.columns + column)
    }

    /// Slope of a shared column on the first one in a block.
    pub(super) fn slope_of(&self, block: usize, column: usize) -> f64 {
        value(&self.slopes, block * self.shared() + column)
    }

    /// Whether each block has a coefficient of the first column of its own.
    #[must_use]
    pub fn has_own_slope(&self) -> bool {
        self.slope
    }

    /// Dimension of the column space.
    #[must_use]
    pub fn rank(&self) -> usize {
        self.own_rank + self.rank_shared
    }

    /// Mean of the first column over a block; 0 where the block has no level.
    #[must_use]
    pub fn first_mean(&self, block: usize) -> f64 {
        if self.columns > 0 { self.mean(block, 0) } else { 0.0 }
    }

    /// Sum of squares of the first column about its mean over a block; 0 where the block has no slope of its own.
    #[must_use]
    pub fn first_square(&self, block: usize) -> f64 {
        self.own.get(block).map_or(0.0, |own| own.square)
    }

    /// Columns of a block's own that it can tell.
    #[must_use]
    pub fn own_rank_of(&self, block: usize) -> usize {
        self.own.get(block).map_or(0, |own| usize::from(self.level && own.weight > 0.0) + usize::from(own.square > 0.0))
    }

    /// Whether every block that has readings can tell its own slope, where it has one.
    #[must_use]
    pub fn has_all_slopes(&self) -> bool {
        !self.slope || self.own.iter().all(|own| own.square > 0.0)
    }

    /// Whether every shared column counts.
    #[must_use]
    pub fn is_full(&self) -> bool {
        self.rank_shared == self.shared()
    }

    pub(super) fn shared(&self) -> usize {
        self.columns - usize::from(self.slope)
    }

    /// Room for the columns of a run.
    #[must_use]
    pub fn scratch(&self) -> Vec<f64> {
        vec![0.0; self.columns + self.shared() + 2]
    }

    /// Number of vectors that [`Self::at`] writes: level, slope, then one for each shared column.
    #[must_use]
    pub fn width(&self) -> usize {
        2 + self.shared()
    }

    /// Writes the basis vectors at one reading of weight 1 of a run: level, slope, shared; what the model has not got, or cannot tell, is 0.
    ///
    /// `row` is scratch space for the columns.
    pub fn at(&self, rows: &impl RunRows, block: usize, run: usize, row: &mut [f64], into: &mut [f64]) {
        let row = row.get_mut(..self.columns).unwrap_or_default();
        rows.row(block, run, row);
        let Some(own) = self.own.get(block) else { return };
        let shared = self.shared();
        let first = usize::from(self.slope);
        into.fill(0.0);
        if let [level, slope, rest @ ..] = into {
            if self.level && own.weight > 0.0 {
                *level = own.weight.sqrt().recip();
            }
            let x = value(row, 0) - if own.square > 0.0 { self.mean(block, 0) } else { 0.0 };
            if own.square > 0.0 {
                *slope = x / own.square.sqrt();
            }
            for a in 0..shared {
                let mut left = value(row, a + first) - self.mean(block, a + first);
                let own = self.slope_of(block, a);
                if own != 0.0 {
                    left -= own * x;
                }
                for (slot, factor) in rest.iter_mut().zip(self.inverse.get(a * shared..(a + 1) * shared).unwrap_or(&[])) {
                    *slot += left * factor;
                }
            }
        }
    }

    /// Covariance of two shared coefficients divided by the residual variance: `(R⁻¹R⁻ᵀ)`.
    #[must_use]
    pub fn covariance(&self, a: usize, b: usize) -> f64 {
        let shared = self.shared();
        (0..shared).map(|k| value(&self.inverse, a * shared + k) * value(&self.inverse, b * shared + k)).sum()
    }
}

#[inline]
pub(super) fn value(list: &[f64], place: usize) -> f64 {
    list.get(place).copied().unwrap_or(0.0)
}

/// `R⁻¹` of the Cholesky factor of a Gram matrix (lower triangle given), and its rank; columns that those before give are 0.
fn inverse_factor(gram: &[f64], plain: &[f64], size: usize) -> (Vec<f64>, usize) {
    let mut inverse = vec![0.0; size * size];
    let entry = |a: usize, b: usize| value(gram, a.max(b) * size + a.min(b));
    let mut rank = 0;
    for column in 0..size {
        // Gram–Schmidt on coefficient vectors, twice
        let mut vector = vec![0.0; size];
        if let Some(slot) = vector.get_mut(column) {
            *slot = 1.0;
        }
        for _ in 0..2 {
            for before in 0..column {
                let product: f64 = (0..size)
                    .map(|a| value(&inverse, a * size + before) * (0..size).map(|b| entry(a, b) * value(&vector, b)).sum::<f64>())
                    .sum();
                for (a, slot) in vector.iter_mut().enumerate() {
                    *slot -= product * value(&inverse, a * size + before);
                }
            }
        }
        let square: f64 = (0..size).map(|a| value(&vector, a) * (0..size).map(|b| entry(a, b) * value(&vector, b)).sum::<f64>()).sum();
        if square > LEFT_OVER * value(plain, column) && square > 0.0 {
            rank += 1;
            let root = square.sqrt();
            for (a, component) in vector.iter().enumerate() {
                if let Some(slot) = inverse.get_mut(a * size + column) {
                    *slot = component / root;
                }
            }
        }
    }
    (inverse, rank)
}
