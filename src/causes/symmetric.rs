//! A small symmetric matrix in row-major storage of which the upper triangle is kept, so that what an elimination takes from each row
//! stands side by side.

use super::lanes::Number;

/// Symmetric matrix; entries with row ≤ column are kept.
#[derive(Debug, Clone, PartialEq, Default)]
pub(super) struct Symmetric<T = f64> {
    size: usize,
    entries: Vec<T>,
}

impl<T: Number> Symmetric<T> {
    /// `size` by `size` zeros.
    pub(super) fn zeros(size: usize) -> Self {
        Self { size, entries: vec![T::ZERO; size * size] }
    }

    /// What one lane holds.
    pub(super) fn lane(&self, lane: usize) -> Symmetric {
        Symmetric { size: self.size, entries: self.entries.iter().map(|entry| entry.lane(lane)).collect() }
    }

    /// Number of rows.
    pub(super) fn size(&self) -> usize {
        self.size
    }

    /// Makes it zeros of another size, keeping its memory.
    pub(super) fn reset(&mut self, size: usize) {
        self.size = size;
        self.entries.clear();
        self.entries.resize(size * size, T::ZERO);
    }

    fn at(&self, a: usize, b: usize) -> usize {
        place(self.size)(a, b)
    }

    /// The entry at a [`place`] of this size, for inner loops.
    pub(super) fn at_place(&self, place: usize) -> T {
        self.entries[place]
    }

    /// The entry in row `a` and column `b`.
    pub(super) fn get(&self, a: usize, b: usize) -> T {
        self.entries[self.at(a, b)]
    }

    /// The entries of row `a` after the diagonal.
    pub(super) fn row_after(&self, a: usize) -> &[T] {
        &self.entries[a * self.size + a + 1..(a + 1) * self.size]
    }

    /// Adds to the entry in row `a` and column `b ≤ a`, for inner loops.
    pub(super) fn add_below(&mut self, a: usize, b: usize, value: T) {
        debug_assert!(b <= a);
        self.entries[b * self.size + a] += value;
    }

    /// Sets an entry and its mirror image.
    pub(super) fn set(&mut self, a: usize, b: usize, value: T) {
        let at = self.at(a, b);
        self.entries[at] = value;
    }

    /// Adds to an entry and its mirror image.
    pub(super) fn add(&mut self, a: usize, b: usize, value: T) {
        let at = self.at(a, b);
        self.entries[at] += value;
    }

    /// Makes it `factor·other`, keeping its memory; what stands below the diagonal is left as it was.
    pub(super) fn set_scaled(&mut self, other: &Symmetric, factor: T) {
        let n = other.size;
        if self.size != n {
            self.reset(n);
        }
        for (a, (own, other)) in self.entries.chunks_exact_mut(n.max(1)).zip(other.entries.chunks_exact(n.max(1))).enumerate() {
            own[a..].iter_mut().zip(&other[a..]).for_each(|(entry, other)| *entry = factor * T::splat(*other));
        }
    }

    /// `self + factor·other`, of equal size.
    pub(super) fn add_scaled(&mut self, other: &Symmetric, factor: T) {
        let n = self.size.max(1);
        for (a, (own, more)) in self.entries.chunks_exact_mut(n).zip(other.entries.chunks_exact(n)).enumerate() {
            for (entry, more) in own[a..].iter_mut().zip(&more[a..]) {
                *entry += factor * T::splat(*more);
            }
        }
    }

    /// Row `a`, both sides of the diagonal.
    pub(super) fn whole_row(&self, a: usize) -> Vec<T> {
        (0..self.size).map(|b| self.get(a, b)).collect()
    }

    /// `self − factor·r rᵀ` where `r` is row `j` as it stands, in the rows after `j`.
    pub(super) fn subtract_outer(&mut self, j: usize, factor: T) {
        let n = self.size;
        let (done, rest) = self.entries.split_at_mut((j + 1) * n);
        let pivot_row = &done[j * n..];
        for (a, row) in rest.chunks_exact_mut(n.max(1)).enumerate().map(|(i, row)| (i + j + 1, row)) {
            let scaled = factor * pivot_row[a];
            if scaled != T::ZERO {
                row[a..].iter_mut().zip(&pivot_row[a..]).for_each(|(entry, other)| *entry -= scaled * *other);
            }
        }
    }

    /// Replaces the vector behind row `a` by itself minus `factor` times that behind row `b`: a congruence on sums of products.
    pub(super) fn subtract_row(&mut self, a: usize, b: usize, factor: T) {
        let corner = self.get(a, a) - factor * (T::splat(2.0) * self.get(a, b) - factor * self.get(b, b));
        for c in 0..self.size {
            if c != a {
                let value = self.get(a, c) - factor * self.get(b, c);
                self.set(a, c, value);
            }
        }
        self.set(a, a, corner);
    }

    /// Multiplies the vector behind row `a` by `factor`.
    pub(super) fn scale_row(&mut self, a: usize, factor: T) {
        let n = self.size;
        for b in 0..=a {
            self.entries[b * n + a] = self.entries[b * n + a] * factor;
        }
        self.entries[a * n + a..(a + 1) * n].iter_mut().for_each(|entry| *entry = *entry * factor);
    }

    /// Copies the rows and columns from `from` on of `other` into this one, in the same places.
    pub(super) fn copy_tail(&mut self, other: &Self, from: usize) {
        let n = other.size;
        if self.size != n {
            self.reset(n);
        }
        for a in from..n {
            self.entries[a * n + a..(a + 1) * n].copy_from_slice(&other.entries[a * n + a..(a + 1) * n]);
        }
    }

    /// Eliminates row `j` (symmetric Gauss step) from the rows after it and returns its pivot.
    pub(super) fn eliminate(&mut self, j: usize) -> T {
        let pivot = self.entries[j * self.size + j];
        self.subtract_outer(j, T::splat(1.0) / pivot);
        pivot
    }
}

/// Where the entry in a row and a column stands in a matrix of `size` rows.
pub(super) fn place(size: usize) -> impl Fn(usize, usize) -> usize {
    move |a, b| if a <= b { a * size + b } else { b * size + a }
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
        let alike = |m: &Symmetric, vectors: &[[f64; 2]; 3]| {
            let expected = sums(vectors);
            (0..3).all(|a| (0..=a).all(|b| (m.get(a, b) - expected.get(a, b)).abs() < 1e-12))
        };
        let mut m = sums(&vectors);
        m.subtract_row(0, 1, 2.0);
        assert!(alike(&m, &[[-5.0, 4.0], [3.0, -1.0], [0.5, 4.0]]));
        assert!(!alike(&m, &vectors));
        // Three times the second.
        m.scale_row(1, 3.0);
        assert!(alike(&m, &[[-5.0, 4.0], [9.0, -3.0], [0.5, 4.0]]));
    }

    /// `[[1, 2], [2, 5]] + 3·[[4, −1], [−1, 2]]`.
    #[test]
    fn scaled_matrices_are_added_entry_by_entry() {
        let of = |corner: f64, side: f64, end: f64| {
            let mut m = Symmetric::zeros(2);
            [(0, 0, corner), (1, 0, side), (1, 1, end)].into_iter().for_each(|(a, b, v)| m.set(a, b, v));
            m
        };
        let mut m = of(1.0, 2.0, 5.0);
        m.add_scaled(&of(4.0, -1.0, 2.0), 3.0);
        assert_eq!(m, of(13.0, -1.0, 11.0));
        assert_ne!(m, of(1.0, 2.0, 5.0));
    }

    /// A tail is copied into a matrix of any size; in one of the same size what stands before it is kept.
    #[test]
    fn tails_are_copied_to_their_places() {
        let mut source = Symmetric::zeros(3);
        for (a, b, v) in [(0, 0, 4.0), (1, 0, 2.0), (1, 1, 3.0), (2, 0, 1.0), (2, 1, 7.0), (2, 2, 5.0)] {
            source.set(a, b, v);
        }
        let mut same = Symmetric::zeros(3);
        same.set(0, 0, 9.0);
        let mut other = Symmetric::zeros(2);
        for m in [&mut same, &mut other] {
            m.copy_tail(&source, 1);
            assert_eq!((m.size(), m.get(1, 1), m.get(2, 1), m.get(2, 2), m.get(1, 0)), (3, 3.0, 7.0, 5.0, 0.0));
        }
        assert_eq!((same.get(0, 0), other.get(0, 0)), (9.0, 0.0));
    }
}
