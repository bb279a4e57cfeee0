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

#[cfg(test)]
mod tests {
    use super::*;
    use crate::causes::fixture;
    use nalgebra::{DMatrix, DVector};

    /// Likelihood, coefficients and squares left of three contrasts of six readings with two random terms that are not orthogonal, beside the covariance of all readings written out.
    #[test]
    fn contrasts_are_normal_with_the_covariance_of_a_pass() {
        let variance = DVector::from_row_slice(&[1.0, 0.5, 2.0, 1.0, 4.0, 0.8]);
        let terms = DMatrix::from_row_slice(6, 2, &[-1.0, 0.6, -0.5, -0.2, 0.1, -0.5, 0.3, -0.4, 0.6, 0.1, 1.0, 0.9]);
        let contrasts = DMatrix::from_row_slice(
            6,
            3,
            &[0.4, -1.1, 0.3, 0.9, 0.2, -0.7, -0.6, 0.8, 1.5, 0.1, -0.3, 0.2, -1.2, 0.5, 0.4, 0.7, 1.3, -0.9],
        );
        let weight = DMatrix::from_diagonal(&variance.map(f64::recip));
        let mut values = fixture::without_readings(Vec::new(), Vec::new()).hypers.values(&[]);
        (values.noise, values.slope_spread) = (vec![0.7], 0.9);
        let spreads = vec![Spread::Known(1.3), Spread::Slope { factor: 0.8, noise: 0 }];
        let spread = DMatrix::from_diagonal(&DVector::from_row_slice(&[1.69, 0.7 * (0.8_f64 * 0.9).powi(2)]));
        let pairs = |m: &DMatrix<f64>| std::array::from_fn(|a| std::array::from_fn(|b| m[(a, b)]));
        let on_terms = terms.transpose() * &weight * &contrasts;
        let told = Contrasts {
            noise: 0,
            spreads,
            passes: 3.0,
            dof: 18.0,
            gram: pairs(&(terms.transpose() * &weight * &terms)),
            products: pairs(&(&on_terms * on_terms.transpose())),
            square: (contrasts.transpose() * &weight * &contrasts).trace(),
        };
        let covariance = &terms * &spread * terms.transpose() + DMatrix::from_diagonal(&(0.7 * &variance));
        let inverse = covariance.clone().try_inverse().unwrap();
        let log = -1.5 * (covariance.determinant().ln() - variance.map(f64::ln).sum())
            - 0.5 * (contrasts.transpose() * &inverse * &contrasts).trace();
        let near = |a: f64, b: f64| (a - b).abs() < 1e-11 * b.abs().max(1.0);
        let found = told.log_likelihood(&values);
        assert!(near(found, log) && !near(found, log + 1e-9), "{found} {log}");
        let coefficients = &spread * terms.transpose() * &inverse * &contrasts;
        let shrinkage = told.shrinkage(&values);
        let matrix = DMatrix::from_fn(2, 2, |a, b| shrinkage[a][b]);
        let apart = (&matrix * &on_terms - &coefficients).amax();
        assert!(apart < 1e-12 && coefficients.amin().abs() > 1e-3, "{apart}");
        let rest = &contrasts - &terms * &coefficients;
        let left = (rest.transpose() * &weight * &rest).trace();
        assert!(near(told.left(&shrinkage), left) && !near(told.left(&[[0.0; 2]; 2]), left), "{} {left}", told.left(&shrinkage));
    }
}
