//! A small symmetric matrix in row-major storage of which the lower triangle is read.

/// Symmetric matrix; entries with row ≥ column are kept.
#[derive(Debug, Clone, PartialEq, Default)]
pub(super) struct Symmetric {
    size: usize,
    entries: Vec<f64>,
}

impl Symmetric {
    /// `size` by `size` zeros.
    pub(super) fn zeros(size: usize) -> Self {
        Self { size, entries: vec![0.0; size * size] }
    }

    /// Number of rows.
    pub(super) fn size(&self) -> usize {
        self.size
    }

    /// Makes it zeros of another size, keeping its memory.
    pub(super) fn reset(&mut self, size: usize) {
        self.size = size;
        self.entries.clear();
        self.entries.resize(size * size, 0.0);
    }

    fn at(&self, a: usize, b: usize) -> usize {
        if a >= b { a * self.size + b } else { b * self.size + a }
    }

    /// The entry in row `a` and column `b`.
    pub(super) fn get(&self, a: usize, b: usize) -> f64 {
        self.entries[self.at(a, b)]
    }

    /// The entry in row `a` and column `b ≤ a`, for inner loops.
    pub(super) fn below(&self, a: usize, b: usize) -> f64 {
        debug_assert!(b <= a);
        self.entries[a * self.size + b]
    }

    /// Adds to the entry in row `a` and column `b ≤ a`, for inner loops.
    pub(super) fn add_below(&mut self, a: usize, b: usize, value: f64) {
        debug_assert!(b <= a);
        self.entries[a * self.size + b] += value;
    }

    /// Sets an entry and its mirror image.
    pub(super) fn set(&mut self, a: usize, b: usize, value: f64) {
        let at = self.at(a, b);
        self.entries[at] = value;
    }

    /// Adds to an entry and its mirror image.
    pub(super) fn add(&mut self, a: usize, b: usize, value: f64) {
        let at = self.at(a, b);
        self.entries[at] += value;
    }

    /// `self + factor·other`, of equal size.
    pub(super) fn add_scaled(&mut self, other: &Self, factor: f64) {
        let n = self.size.max(1);
        for (a, (own, more)) in self.entries.chunks_exact_mut(n).zip(other.entries.chunks_exact(n)).enumerate() {
            for (entry, more) in own[..=a].iter_mut().zip(&more[..=a]) {
                *entry += factor * more;
            }
        }
    }

    /// Adds `factor` times row `a` (both sides of the diagonal) to `row`.
    pub(super) fn add_row_to(&self, a: usize, factor: f64, row: &mut [f64]) {
        for (b, entry) in row.iter_mut().enumerate() {
            *entry += factor * self.get(a, b);
        }
    }

    /// `self − factor·r rᵀ` where `r` is row `j` as it stands, in the rows after `j`.
    pub(super) fn subtract_outer(&mut self, j: usize, factor: f64) {
        let n = self.size;
        // The column side by side: entries far apart would make the inner loop wait for memory.
        with_scratch(n, |column| {
            for (a, row) in self.entries.chunks_exact_mut(n.max(1)).enumerate().skip(j + 1) {
                column[a] = row[j];
                let scaled = factor * row[j];
                if scaled != 0.0 {
                    row[j + 1..=a].iter_mut().zip(&column[j + 1..=a]).for_each(|(entry, other)| *entry -= scaled * other);
                }
            }
        });
    }

    /// Replaces the vector behind row `a` by itself minus `factor` times that behind row `b`: a congruence on sums of products.
    pub(super) fn subtract_row(&mut self, a: usize, b: usize, factor: f64) {
        let corner = self.get(a, a) - factor * (2.0 * self.get(a, b) - factor * self.get(b, b));
        for c in 0..self.size {
            if c != a {
                let value = self.get(a, c) - factor * self.get(b, c);
                self.set(a, c, value);
            }
        }
        self.set(a, a, corner);
    }

    /// Copies the rows and columns from `from` on of `other` into this one, in the same places.
    pub(super) fn copy_tail(&mut self, other: &Self, from: usize) {
        let n = other.size;
        if self.size != n {
            self.reset(n);
        }
        for a in from..n {
            self.entries[a * n + from..=a * n + a].copy_from_slice(&other.entries[a * n + from..=a * n + a]);
        }
    }

    /// Copies the last row of `other`, of equal size.
    pub(super) fn copy_last_row(&mut self, other: &Self) {
        let from = self.entries.len() - self.size;
        self.entries[from..].copy_from_slice(&other.entries[from..]);
    }

    /// Eliminates row `j` (symmetric Gauss step) from the rows after it and returns its pivot.
    pub(super) fn eliminate(&mut self, j: usize) -> f64 {
        let pivot = self.entries[j * self.size + j];
        self.subtract_outer(j, 1.0 / pivot);
        pivot
    }
}

/// Lends `n` zeros: from the stack where they are few, which costs nothing.
pub(super) fn with_scratch<R>(n: usize, work: impl FnOnce(&mut [f64]) -> R) -> R {
    let mut short = [0.0; 48];
    match short.get_mut(..n) {
        Some(scratch) => work(scratch),
        None => work(&mut vec![0.0; n]),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn elimination_gives_determinant_and_quadratic_form() {
        // [[4, 2, 1], [2, 3, 0], [1, 0, 5]]: determinant 4·15 − 2·10 + 1·(−3) = 37; corner after two steps = 37/8.
        let mut m = Symmetric::zeros(3);
        for (a, b, v) in [(0, 0, 4.0), (1, 0, 2.0), (1, 1, 3.0), (2, 0, 1.0), (2, 1, 0.0), (2, 2, 5.0)] {
            m.set(a, b, v);
        }
        let product = m.eliminate(0) * m.eliminate(1);
        assert!((product - 8.0).abs() < 1e-12);
        assert!((m.get(2, 2) - 37.0 / 8.0).abs() < 1e-12);
    }

    #[test]
    fn row_subtraction_is_a_congruence() {
        // Vectors u = (1, 2), v = (3, −1), w = (0.5, 4): replacing u by u − 2v = (−5, 4).
        let vectors: [[f64; 2]; 3] = [[1.0, 2.0], [3.0, -1.0], [0.5, 4.0]];
        let sums = |v: &[[f64; 2]; 3]| {
            let mut m = Symmetric::zeros(3);
            for a in 0..3 {
                for b in 0..=a {
                    m.set(a, b, v[a][0] * v[b][0] + v[a][1] * v[b][1]);
                }
            }
            m
        };
        let mut m = sums(&vectors);
        m.subtract_row(0, 1, 2.0);
        let expected = sums(&[[-5.0, 4.0], [3.0, -1.0], [0.5, 4.0]]);
        for a in 0..3 {
            for b in 0..=a {
                assert!((m.get(a, b) - expected.get(a, b)).abs() < 1e-12);
            }
        }
    }
}
