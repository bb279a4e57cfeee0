//! The Cholesky factor of a small precision, one a lane.

use super::super::lanes::Number;
use super::super::symmetric::Symmetric;

/// Lower factor `L` of `A = LLᵀ`.
#[derive(Debug, Clone)]
pub(super) struct Factor<T> {
    size: usize,
    /// Row by row, whole rows; reciprocals on the diagonal.
    rows: Vec<T>,
}

impl<T: Number> Factor<T> {
    /// Of the precision of the unknowns that may be negative, their priors added: the first ones of `joint`, all but `positive` and the
    /// reading's row. Also `−½ ln det − Σ ln sd`.
    ///
    /// A lane whose precision has no factor holds no numbers ([`Factor::is_sound`]).
    pub(super) fn of(joint: &Symmetric<T>, sd: &[T], positive: usize) -> (Self, T) {
        let size = sd.len() - positive;
        let one = T::splat(1.0);
        let mut rows = vec![T::ZERO; size * size];
        let mut log = T::ZERO;
        for (i, sd) in sd.iter().enumerate().take(size) {
            let (done, rest) = rows.split_at_mut(i * size);
            let own = &mut rest[..size];
            let mut pivot = joint.get(i, i) + one / (*sd * *sd);
            for j in 0..i {
                let above = &done[j * size..(j + 1) * size];
                let mut entry = joint.get(i, j);
                for (left, right) in own[..j].iter().zip(above) {
                    entry -= *left * *right;
                }
                let entry = entry * above[j];
                own[j] = entry;
                pivot -= entry * entry;
            }
            let root = pivot.map(f64::sqrt);
            own[i] = one / root;
            log -= (root * *sd).map(f64::ln);
        }
        (Self { size, rows }, log)
    }

    /// Whether a lane's precision had a factor.
    pub(super) fn is_sound(&self, lane: usize) -> bool {
        (0..self.size).all(|i| self.rows[i * self.size + i].lane(lane).is_finite())
    }

    /// `b` becomes `L⁻¹b`; returns `bᵀA⁻¹b = |L⁻¹b|²`.
    pub(super) fn forward(&self, b: &mut [T]) -> T {
        let mut square = T::ZERO;
        for (i, row) in self.rows.chunks_exact(self.size.max(1)).enumerate() {
            let (done, rest) = b.split_at_mut(i);
            let mut own = rest[0];
            for (factor, done) in row.iter().zip(done.iter()) {
                own -= *factor * *done;
            }
            let own = own * row[i];
            rest[0] = own;
            square += own * own;
        }
        square
    }

    /// `b` becomes `L⁻ᵀb`.
    pub(super) fn backward(&self, b: &mut [T]) {
        for (i, row) in self.rows.chunks_exact(self.size.max(1)).enumerate().rev() {
            let (before, rest) = b.split_at_mut(i);
            let own = rest[0] * row[i];
            rest[0] = own;
            for (before, factor) in before.iter_mut().zip(row) {
                *before -= *factor * own;
            }
        }
    }
}

#[cfg(test)]
mod tests {
    use super::super::super::lanes::Lanes;
    use super::*;
    use nalgebra::{DMatrix, DVector};

    /// Determinant, squares and solutions as a matrix library has them; a precision without a factor spoils its own lane alone.
    #[test]
    fn solutions_are_those_of_a_matrix_library() {
        let (free, sd) = (4, [0.5, 2.0, 1.0, 3.0, 1.0]);
        let entry = |lane: usize, a: usize, b: usize| {
            let own = if a == b { 3.0 } else { 0.4 };
            if lane == 2 && a == b { -9.0 } else { own + ((lane + 1) * (a + b)) as f64 * 0.03 }
        };
        let mut joint = Symmetric::<Lanes>::zeros(6);
        for a in 0..6 {
            for b in 0..=a {
                joint.set(a, b, Lanes::from_lanes(|lane| entry(lane, a, b)));
            }
        }
        let (factor, log) = Factor::of(&joint, &sd.map(Lanes::splat), 1);
        assert_eq!([0, 1, 2, 3].map(|lane| factor.is_sound(lane)), [true, true, false, true]);
        let right = [1.0, -2.0, 0.5, 4.0];
        let mut solution = right.map(Lanes::splat).to_vec();
        let square = factor.forward(&mut solution);
        factor.backward(&mut solution);
        for lane in [0, 1, 3] {
            let precision = DMatrix::from_fn(free, free, |a, b| entry(lane, a, b) + if a == b { 1.0 / (sd[a] * sd[a]) } else { 0.0 });
            let expected = precision.clone().lu().solve(&DVector::from_row_slice(&right)).unwrap();
            for (found, expected) in solution.iter().zip(&expected) {
                assert!((found.lane(lane) - expected).abs() < 1e-13, "{lane}: {found:?} {expected}");
                let other = if lane == 3 { 0 } else { 3 };
                assert!((found.lane(other) - expected).abs() > 1e-13, "another lane's is told apart");
            }
            assert!((square.lane(lane) - expected.dot(&DVector::from_row_slice(&right))).abs() < 1e-12);
            let expected = -0.5 * precision.determinant().ln() - sd[..free].iter().map(|s| s.ln()).sum::<f64>();
            assert!((log.lane(lane) - expected).abs() < 1e-13, "{log:?} {expected}");
        }
        assert!((solution[0].lane(0) - solution[0].lane(1)).abs() > 1e-3, "lanes hold problems of their own");
    }

    /// A factor that ends at a later row is none either: 1·1 − 2·2 is negative.
    #[test]
    fn a_later_row_may_have_no_factor() {
        let factor = |corner: f64| {
            let mut joint = Symmetric::<f64>::zeros(3);
            for (a, b, value) in [(0, 0, 0.75), (1, 0, 2.0), (1, 1, corner)] {
                joint.set(a, b, value);
            }
            Factor::of(&joint, &[2.0, 2.0], 0).0
        };
        assert!(!factor(0.75).is_sound(0) && factor(4.0).is_sound(0));
    }
}
