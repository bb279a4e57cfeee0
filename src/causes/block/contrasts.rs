//! What passes taken together say beyond their mean.

use super::super::hyper::Values;
use super::super::lanes::{At, Number};
use super::Spread;

/// Differences between passes that the model says the same of: each a draw of noise and of the random terms alone.
#[derive(Debug, Clone, PartialEq)]
pub(in super::super) struct Contrasts {
    /// Index of the noise level.
    pub(in super::super) noise: usize,
    /// Random terms of one pass, two at most.
    pub(in super::super) spreads: Vec<Spread>,
    /// How many contrasts there are.
    pub(in super::super) passes: f64,
    /// Their degrees of freedom, and those of readings repeated at one station of one pass.
    pub(in super::super) dof: f64,
    /// Products of the random terms with one another, in one pass.
    pub(in super::super) gram: [[f64; 2]; 2],
    /// Products of each contrast with the random terms, times one another, summed over the contrasts.
    pub(in super::super) products: [[f64; 2]; 2],
    /// Squares of the contrasts and of the readings repeated at one station of one pass.
    pub(in super::super) square: f64,
}

impl Contrasts {
    /// Log likelihood: a random term of variance `s²` takes `s²/(1 + s²S_jj)·S_j S_jᵀ` from the sums and `½ ln(1 + s²S_jj)` for each contrast, as in a block.
    pub(in super::super) fn log_likelihood<T: Number>(&self, at: &impl At<T>) -> T {
        let variance = at.each(|values| values.noise_variance(self.noise));
        let (one, half) = (T::splat(1.0), T::splat(0.5));
        let weight = one / variance;
        let mut gram = self.gram.map(|row| row.map(|x| T::splat(x) * weight));
        let mut products = self.products.map(|row| row.map(|x| T::splat(x) * weight * weight));
        let mut square = T::splat(self.square) * weight;
        let mut log = T::ZERO - half * T::splat(self.dof) * variance.map(f64::ln);
        for (j, spread) in self.spreads.iter().enumerate().take(2) {
            let own = at.each(|values| spread.variance(values));
            let growth = one + own * gram[j][j];
            let factor = own / growth;
            log -= half * T::splat(self.passes) * growth.map(f64::ln);
            square -= factor * products[j][j];
            let (column, crossed, squared) = (gram[j], products[j], products[j][j]);
            for (a, (products, gram)) in products.iter_mut().zip(&mut gram).enumerate() {
                for (b, (product, own)) in products.iter_mut().zip(gram).enumerate() {
                    *product -=
                        factor * (crossed[a] * column[b] + column[a] * crossed[b]) - factor * factor * squared * column[a] * column[b];
                    *own -= factor * column[a] * column[b];
                }
            }
        }
        log - half * square
    }

    /// What makes a contrast's own coefficients of its products with the random terms: `D(σ²I + SD)⁻¹`, `S` for noise 1.
    pub(in super::super) fn shrinkage(&self, values: &Values) -> [[f64; 2]; 2] {
        let variance = |j: usize| self.spreads.get(j).map_or(0.0, |spread| spread.variance(values));
        let (noise, d) = (values.noise_variance(self.noise), [variance(0), variance(1)]);
        let [[a, b], [c, e]] = self.gram;
        let m = [[noise + a * d[0], b * d[1]], [c * d[0], noise + e * d[1]]];
        let determinant = m[0][0] * m[1][1] - m[0][1] * m[1][0];
        [[d[0] * m[1][1] / determinant, -d[0] * m[0][1] / determinant], [-d[1] * m[1][0] / determinant, d[1] * m[0][0] / determinant]]
    }

    /// Squares that are left when each contrast's coefficients, by this shrinkage, are taken out.
    pub(in super::super) fn left(&self, shrinkage: &[[f64; 2]; 2]) -> f64 {
        let sum = |f: &dyn Fn(usize, usize) -> f64| f(0, 0) + f(0, 1) + f(1, 0) + f(1, 1);
        let product = |a: usize, b: usize| self.products[a][b];
        let again = |a: usize, b: usize| sum(&|c, d| shrinkage[c][a] * self.gram[c][d] * shrinkage[d][b]);
        let left = self.square + sum(&|a, b| (again(a, b) - 2.0 * shrinkage[a][b]) * product(b, a));
        left.max(0.0)
    }
}
