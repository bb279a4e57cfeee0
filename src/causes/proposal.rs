//! Heavy-tailed proposals and the quasi-random points drawn from them.

use super::draws::normal_of_uniform;
use nalgebra::{DMatrix, DVector};

/// Degrees of freedom of the proposals: even, so that chi-square is a sum of exponentials.
const DOF: f64 = 6.0;
/// Square roots of the first primes, whose fractional parts make the sequence.
const PRIMES: [f64; 32] = [
    2.0, 3.0, 5.0, 7.0, 11.0, 13.0, 17.0, 19.0, 23.0, 29.0, 31.0, 37.0, 41.0, 43.0, 47.0, 53.0, 59.0, 61.0, 67.0, 71.0, 73.0, 79.0, 83.0,
    89.0, 97.0, 101.0, 103.0, 107.0, 109.0, 113.0, 127.0, 131.0,
];

/// The `index`-th point of Richtmyer's sequence (fractional parts of multiples of square roots of primes; R. D. Richtmyer, 1951),
/// shifted; coordinate by coordinate in (0, 1).
fn quasi_random(index: u64, coordinate: usize, shift: f64) -> f64 {
    let root = PRIMES[coordinate % PRIMES.len()].sqrt() * (1.0 + (coordinate / PRIMES.len()) as f64);
    (shift + (index as f64 + 1.0) * root.fract()).fract().clamp(1e-12, 1.0 - 1e-12)
}

/// A multivariate t with 6 degrees of freedom.
#[derive(Debug, Clone)]
pub(super) struct Proposal {
    /// Centre.
    pub(super) centre: DVector<f64>,
    /// Lower factor of the scale matrix.
    factor: DMatrix<f64>,
    /// The same row by row, for the density.
    rows: Vec<f64>,
    /// `1/√det` of the scale matrix.
    constant: f64,
}

impl Proposal {
    /// Around `centre` with this scale matrix; `None` when it is not positive definite.
    pub(super) fn new(centre: DVector<f64>, scale: DMatrix<f64>) -> Option<Self> {
        let factor = scale.cholesky()?.l();
        // Constants common to all components cancel in the weights.
        let constant = 1.0 / factor.diagonal().product();
        let rows = factor.transpose().iter().copied().collect();
        Some(Self { centre, factor, rows, constant })
    }

    /// Number of coordinates.
    pub(super) fn len(&self) -> usize {
        self.centre.len()
    }

    /// The density, up to a factor that depends only on the dimension; `white` is scratch space.
    pub(super) fn density(&self, x: &DVector<f64>, white: &mut Vec<f64>) -> f64 {
        let n = self.len();
        white.clear();
        let mut square = 0.0;
        for ((x, centre), row) in x.iter().zip(&self.centre).zip(self.rows.chunks_exact(n.max(1))) {
            let i = white.len();
            let value = row.iter().zip(white.iter()).fold(x - centre, |value, (factor, w)| value - factor * w);
            let own = value / row[i];
            white.push(own);
            square += own * own;
        }
        let growth = 1.0 + square / DOF;
        // growth^(−(DOF + n)/2): a whole power, and a root where n is odd.
        let whole = growth.powi((DOF as i32 + n as i32) / 2);
        self.constant / if n.is_multiple_of(2) { whole } else { whole * growth.sqrt() }
    }

    /// The `index`-th point, with one random shift a coordinate (three more than [`Proposal::len`]).
    pub(super) fn point(&self, index: u64, shifts: &[f64]) -> DVector<f64> {
        let n = self.len();
        let chi_square: f64 = (n..n + 3).map(|c| -2.0 * quasi_random(index, c, shifts[c]).ln()).sum();
        let stretch = (DOF / chi_square).sqrt();
        let white = DVector::from_fn(n, |c, _| stretch * normal_of_uniform(quasi_random(index, c, shifts[c])));
        &self.centre + &self.factor * white
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// The density is that of the points: the mean of 1/density over points, times the density of a normal, is one everywhere.
    #[test]
    fn points_follow_the_density() {
        let scale = DMatrix::from_row_slice(2, 2, &[1.0, 0.6, 0.6, 0.8]);
        let proposal = Proposal::new(DVector::from_vec(vec![1.0, -0.5]), scale).unwrap();
        // Constant of the bivariate t with 6 degrees of freedom: 1/(2π).
        let constant = 1.0 / (2.0 * std::f64::consts::PI);
        let shifts = [0.1, 0.7, 0.3, 0.9, 0.5];
        let normal = |x: &DVector<f64>| (-0.5 * x.norm_squared()).exp() / (2.0 * std::f64::consts::PI);
        let n = 20_000;
        let mean = |shifted: f64| {
            (0..n)
                .map(|i| {
                    let x = proposal.point(i, &shifts);
                    normal(&x) / (proposal.density(&x, &mut Vec::new()) * constant * (1.0 + shifted))
                })
                .sum::<f64>()
                / n as f64
        };
        assert!((mean(0.0) - 1.0).abs() < 0.01, "{}", mean(0.0));
        assert!((mean(0.05) - 1.0).abs() > 0.01, "the comparison must see a wrong constant");
    }

    /// In one dimension and in three the density falls as Student's t does: `(1 + x²/6)^(−7/2)` and `(1 + x²/6)^(−9/2)`.
    #[test]
    fn odd_dimensions_have_their_half_power() {
        for (n, power) in [(1, 3.5), (3, 4.5)] {
            let proposal = Proposal::new(DVector::zeros(n), DMatrix::identity(n, n) * 4.0).unwrap();
            let mut x = DVector::zeros(n);
            x[n - 1] = 3.0;
            let expected = 0.5_f64.powi(n as i32) * (1.0 + 2.25 / 6.0_f64).powf(-power);
            let agrees = |expected: f64| (proposal.density(&x, &mut Vec::new()) / expected - 1.0).abs() < 1e-14;
            assert!(agrees(expected) && !agrees(expected * 1.375_f64.sqrt()), "another half power is told apart");
        }
    }

    /// Every coordinate, those beyond the primes too, puts a tenth of a thousand points into each tenth of its range, and no two run together.
    #[test]
    fn points_are_spread_evenly_in_every_coordinate() {
        let of = |c: usize| (0..1000).map(|i| quasi_random(i, c, 0.3)).collect::<Vec<f64>>();
        let even = |points: &[f64]| {
            (0..10).all(|tenth| {
                let own = points.iter().filter(|p| (10.0 * **p) as usize == tenth).count();
                (80..=120).contains(&own)
            })
        };
        for c in 0..70 {
            assert!(even(&of(c)), "{c}");
            assert!(c < 32 || of(c) != of(c - 32), "{c}");
        }
        assert!(!even(&[0.3; 1000]), "the comparison must see a coordinate that stands still");
    }

    /// No coordinate is 0 or 1, where a deviate would have no end.
    #[test]
    fn points_keep_away_from_the_ends() {
        let step = 2.0_f64.sqrt().fract();
        assert_eq!((quasi_random(0, 0, 1.0 - step), quasi_random(0, 0, 1.0 - step - 1e-14)), (1e-12, 1.0 - 1e-12));
    }
}
