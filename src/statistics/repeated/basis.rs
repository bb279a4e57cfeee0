use super::rows::RunRows;

/// Share of a column's own square that must be left after the columns before it are taken out, for it to count.
const LEFT_OVER: f64 = 1e-12;

/// What is taken out of a block.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Own {
    /// Sum of weights.
    pub weight: f64,
    /// Weighted mean of the first column.
    pub mean: f64,
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
    /// Block-major: mean and slope on the first column of each shared column.
    pub(super) taken: Vec<[f64; 2]>,
    /// Row-major shared × shared: the shared basis is `U` times this.
    inverse: Vec<f64>,
    /// Shared columns that count.
    pub(super) rank_shared: usize,
    own_rank: usize,
}

impl RunBasis {
    /// The basis of `rows`, each run with the total weight `weights[run]`.
    #[must_use]
    pub fn of(rows: &impl RunRows, weight: impl Fn(usize) -> f64) -> Self {
        let (level, slope, columns) = (rows.own_level(), rows.own_slope(), rows.columns());
        let shared = rows.shared();
        let first = usize::from(slope);
        let mut own = Vec::with_capacity(rows.blocks());
        let mut taken = Vec::with_capacity(rows.blocks() * shared);
        let mut gram = vec![0.0; shared * shared];
        let mut row = vec![0.0; columns];
        let mut before = vec![0.0; shared];
        let mut own_rank = 0;
        let (mut means, mut products) = (vec![0.0; columns], vec![0.0; shared]);
        for block in 0..rows.blocks() {
            let mut total = 0.0;
            means.fill(0.0);
            for run in rows.block(block) {
                let w = weight(run);
                rows.row(block, run, &mut row);
                total += w;
                means.iter_mut().zip(&row).for_each(|(sum, value)| *sum += w * value);
            }
            means.iter_mut().for_each(|sum| *sum = if level && total > 0.0 { *sum / total } else { 0.0 });
            let mut square = 0.0;
            products.fill(0.0);
            if slope {
                for run in rows.block(block) {
                    let w = weight(run);
                    rows.row(block, run, &mut row);
                    let x = value(&row, 0) - value(&means, 0);
                    square += w * x * x;
                    for (column, product) in products.iter_mut().enumerate() {
                        *product += w * x * (value(&row, column + first) - value(&means, column + first));
                    }
                }
                if square <= LEFT_OVER * total {
                    square = 0.0;
                }
            }
            own_rank += usize::from(level && total > 0.0) + usize::from(square > 0.0);
            own.push(Own { weight: total, mean: value(&means, 0), square });
            for (column, product) in products.iter().enumerate() {
                taken.push([value(&means, column + first), if square > 0.0 { product / square } else { 0.0 }]);
            }
            let here = Residual { taken: taken.get(block * shared..).unwrap_or(&[]), mean: value(&means, 0), first };
            for run in rows.block(block) {
                let w = weight(run);
                rows.row(block, run, &mut row);
                for a in 0..shared {
                    let left = here.of(&row, a);
                    let plain = value(&row, a + first);
                    if let Some(slot) = before.get_mut(a) {
                        *slot += w * plain * plain;
                    }
                    for b in 0..=a {
                        if let Some(slot) = gram.get_mut(a * shared + b) {
                            *slot += w * left * here.of(&row, b);
                        }
                    }
                }
            }
        }
        let (inverse, rank_shared) = inverse_factor(&gram, &before, shared);
        Self { level, slope, columns, own, taken, inverse, rank_shared, own_rank }
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
        self.own.get(block).map_or(0.0, |own| own.mean)
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
            if own.square > 0.0 {
                *slope = (value(row, 0) - own.mean) / own.square.sqrt();
            }
            let here = Residual { taken: self.taken.get(block * shared..).unwrap_or(&[]), mean: own.mean, first };
            for a in 0..shared {
                let left = here.of(row, a);
                for (b, slot) in rest.iter_mut().enumerate() {
                    *slot += left * value(&self.inverse, a * shared + b);
                }
            }
        }
    }

    /// Shared columns of a run less what the block's own columns give of them.
    pub(super) fn left_over(&self, rows: &impl RunRows, block: usize, run: usize, row: &mut [f64], into: &mut [f64]) {
        let row = row.get_mut(..self.columns).unwrap_or_default();
        rows.row(block, run, row);
        let mean = self.own.get(block).map_or(0.0, |own| own.mean);
        let here = Residual { taken: self.taken.get(block * self.shared()..).unwrap_or(&[]), mean, first: usize::from(self.slope) };
        into.iter_mut().enumerate().for_each(|(column, slot)| *slot = here.of(row, column));
    }

    /// Covariance of two shared coefficients divided by the residual variance: `(R⁻¹R⁻ᵀ)`.
    #[must_use]
    pub fn covariance(&self, a: usize, b: usize) -> f64 {
        let shared = self.shared();
        (0..shared).map(|k| value(&self.inverse, a * shared + k) * value(&self.inverse, b * shared + k)).sum()
    }
}

/// The shared columns of one block, less their projection on its own.
struct Residual<'b> {
    taken: &'b [[f64; 2]],
    mean: f64,
    first: usize,
}

impl Residual<'_> {
    #[inline]
    fn of(&self, row: &[f64], column: usize) -> f64 {
        let [mean, slope] = self.taken.get(column).copied().unwrap_or([0.0, 0.0]);
        let plain = value(row, column + self.first) - mean;
        if slope == 0.0 { plain } else { plain - slope * (value(row, 0) - self.mean) }
    }
}

#[inline]
fn value(list: &[f64], place: usize) -> f64 {
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
