//! Draws of the unknowns given the deviates and the subset.

use super::{Model, Reduced, Uniforms};
use crate::causes::draws::standard_normal;
use crate::causes::normal::log_distribution;
use crate::causes::orthant::sequential_draw;
use crate::causes::symmetric::Symmetric;
use rand::Rng;

/// The unknowns of one subset at one point of the deviates, ready to be drawn any number of times.
#[derive(Debug, Clone)]
pub(in super::super) struct Source {
    /// Normal equations with all priors, the unknowns that may be negative eliminated in order.
    joint: Symmetric,
    /// Those that cannot be negative begin here.
    positive_from: usize,
    /// Mean of those that cannot be negative, their bound left out.
    mean: Vec<f64>,
    /// Lower factor of their covariance, row-major.
    factor: Vec<f64>,
}

impl Source {
    /// From the normal equations of the readings at a point, nuisances eliminated.
    pub(in super::super) fn new(model: &Model, reduced: &Reduced, subset: usize) -> Self {
        let mut joint = reduced.joint.clone();
        let last = model.unknowns.len();
        let nuisances = model.nuisances();
        for j in nuisances..last {
            joint.add(j, j, model.prior_sd(j, subset).powi(-2));
        }
        let positive_from = last - model.non_negative();
        for j in nuisances..positive_from {
            joint.eliminate(j);
        }
        let (mean, factor) = mean_and_factor(&joint, positive_from, last);
        Self { joint, positive_from, mean, factor }
    }

    /// One draw of all unknowns.
    pub(in super::super) fn draw(&self, uniforms: Uniforms, rng: &mut impl Rng) -> Vec<f64> {
        let last = self.joint.size() - 1;
        let mut theta = vec![0.0; last];
        draw_positive(&self.mean, &self.factor, uniforms, rng, &mut theta[self.positive_from..]);
        for j in (0..self.positive_from).rev() {
            let pivot = self.joint.get(j, j);
            let rest: f64 = self.joint.row_after(j).iter().zip(&theta[j + 1..]).map(|(entry, value)| entry * value).sum();
            theta[j] = (self.joint.get(last, j) - rest) / pivot + standard_normal(rng) / pivot.sqrt();
        }
        theta
    }
}

/// Mean and lower factor of the covariance of the unknowns `from..to`, the last before the reading's row.
pub(super) fn mean_and_factor(joint: &Symmetric, from: usize, to: usize) -> (Vec<f64>, Vec<f64>) {
    let n = to - from;
    match n {
        0 => (Vec::new(), Vec::new()),
        1 => {
            let precision = joint.get(from, from);
            (vec![joint.get(to, from) / precision], vec![1.0 / precision.sqrt()])
        }
        2 => {
            // Covariance [[q, −c], [−c, p]]/determinant; what the first leaves of the second has precision q.
            let (p, q, c) = (joint.get(from, from), joint.get(from + 1, from + 1), joint.get(from + 1, from));
            let (u, v) = (joint.get(to, from), joint.get(to, from + 1));
            let determinant = p * q - c * c;
            let first = (q / determinant).sqrt();
            (vec![(q * u - c * v) / determinant, (p * v - c * u) / determinant], vec![first, 0.0, -c / q * first, 1.0 / q.sqrt()])
        }
        _ => {
            let precision = nalgebra::DMatrix::from_fn(n, n, |a, b| joint.get(from + a, from + b));
            let right = nalgebra::DVector::from_fn(n, |a, _| joint.get(to, from + a));
            // A precision with positive pivots has a factor; without one (numbers out of range) the draw stays at zero with a wide scale.
            let Some(factor) = precision.cholesky() else {
                return (vec![0.0; n], (0..n * n).map(|i| f64::from(u8::from(i % (n + 1) == 0))).collect());
            };
            let mean = factor.solve(&right);
            let lower = factor.inverse().cholesky().map(|c| c.l()).unwrap_or_else(|| nalgebra::DMatrix::identity(n, n));
            (mean.iter().copied().collect(), (0..n * n).map(|i| lower[(i / n, i % n)]).collect())
        }
    }
}

/// Draws the unknowns that cannot be negative from their joint distribution given all readings.
fn draw_positive(mean: &[f64], factor: &[f64], uniforms: Uniforms, rng: &mut impl Rng, draw: &mut [f64]) {
    let n = mean.len();
    let (mut short_normals, mut short_tried) = ([0.0; 2], [0.0; 2]);
    match n {
        0 => {}
        1 => {
            sequential_draw(mean, factor, &[rng.random::<f64>()], &mut short_normals[..1], draw);
        }
        2 => {
            // The first from its own bounded normal, kept with the probability that the second is positive; after 200 refusals the
            // sequential draws so far stand in by their weights.
            let first = log_distribution(mean[0] / factor[0]);
            let mut best = f64::NEG_INFINITY;
            for _ in 0..200 {
                let trial = [rng.random::<f64>(), rng.random::<f64>()];
                let keep = sequential_draw(mean, factor, &trial, &mut short_normals, &mut short_tried) - first;
                // Exponential race: the smallest −ln(u)/weight wins, which is a draw by weight among refused ones.
                let race = keep - (-rng.random::<f64>().max(1e-300).ln()).ln();
                if race > best {
                    best = race;
                    draw.copy_from_slice(&short_tried);
                }
                if rng.random::<f64>().ln() < keep {
                    draw.copy_from_slice(&short_tried);
                    break;
                }
            }
        }
        // The point's own uniforms, whose weight entered the point's weight.
        n => {
            sequential_draw(mean, factor, uniforms, &mut vec![0.0; n], draw);
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// One and two unknowns by their own formulas are as the factors of a matrix library have them.
    #[test]
    fn means_and_factors_of_few_are_those_of_many() {
        let mut joint = Symmetric::zeros(3);
        for (a, b, v) in [(0, 0, 4.0), (1, 0, -1.5), (1, 1, 3.0), (2, 0, 1.2), (2, 1, -0.7)] {
            joint.set(a, b, v);
        }
        let precision = nalgebra::DMatrix::from_row_slice(2, 2, &[4.0, -1.5, -1.5, 3.0]);
        let covariance = precision.try_inverse().unwrap();
        let lower = covariance.clone().cholesky().unwrap().l();
        let mean = &covariance * nalgebra::DVector::from_vec(vec![1.2, -0.7]);
        let (own_mean, own_lower) = mean_and_factor(&joint, 0, 2);
        for (own, other) in own_mean.iter().zip(&mean) {
            assert!((own - other).abs() < 1e-14);
        }
        for (i, own) in own_lower.iter().enumerate() {
            assert!((own - lower[(i / 2, i % 2)]).abs() < 1e-14, "{own_lower:?}");
        }
        let (mean, factor) = mean_and_factor(&joint, 1, 2);
        assert!((mean[0] + 0.7 / 3.0).abs() < 1e-15 && (factor[0] - 3.0_f64.powf(-0.5)).abs() < 1e-15);
    }

    /// Three of five unknowns: their own block of the precision and of the right side, as a matrix library solves them.
    #[test]
    fn means_and_factors_of_three_after_two_others() {
        let mut joint = Symmetric::zeros(6);
        for a in 0..6 {
            for b in 0..=a {
                joint.set(a, b, if a == b { 6.0 + a as f64 } else { ((3 * a + 5 * b) as f64).sin() });
            }
        }
        let block = nalgebra::DMatrix::from_fn(3, 3, |a, b| joint.get(a + 2, b + 2));
        let right = nalgebra::DVector::from_vec(vec![joint.get(5, 2), joint.get(5, 3), joint.get(5, 4)]);
        let covariance = block.try_inverse().unwrap();
        let expected = &covariance * right;
        let (mean, lower) = mean_and_factor(&joint, 2, 5);
        let alike = |mean: &[f64], lower: &[f64]| {
            let factor = nalgebra::DMatrix::from_row_slice(3, 3, lower);
            let below = factor[(0, 1)] == 0.0 && factor[(0, 2)] == 0.0 && factor[(1, 2)] == 0.0;
            below
                && (&factor * factor.transpose() - &covariance).amax() < 1e-14
                && mean.iter().zip(&expected).all(|(a, b)| (a - b).abs() < 1e-14)
        };
        assert!(lower.len() == 9 && alike(&mean, &lower));
        let mut wrong = lower.clone();
        wrong[6] += 1e-9;
        assert!(!alike(&mean, &wrong), "the comparison must see a small change");
        // Without a factor: means of nothing and a scale of one.
        joint.set(3, 3, -1.0);
        assert_eq!(mean_and_factor(&joint, 2, 5), (vec![0.0; 3], vec![1.0, 0.0, 0.0, 0.0, 1.0, 0.0, 0.0, 0.0, 1.0]));
    }

    /// Means of both components over many draws beside those of a sum over a grid: where most are kept, where one in a hundred is, and where none
    /// is and the draw by weight among two hundred stands in.
    #[test]
    fn draws_of_two_have_the_moments_of_the_quadrant() {
        use crate::causes::normal::distribution;
        use rand::SeedableRng;
        for (mean, factor, tolerance) in [
            ([-0.4, 0.5], [2.0, 0.0, -1.2, 0.7], 0.06),
            ([0.6, -1.0], [0.5, 0.0, 0.6, 0.8], 0.06),
            ([0.3, -4.5], [1.0, 0.0, 0.2, 1.0], 0.09),
        ] {
            // The first by its density times the chance of the second; the second's mean is that of a normal above a bound.
            let (mut total, mut first, mut second) = (0.0, 0.0, 0.0);
            let steps = 4000;
            for i in 0..steps {
                let x = (mean[0] + 9.0 * factor[0]) * (i as f64 + 0.5) / steps as f64;
                let z = (x - mean[0]) / factor[0];
                let centre = mean[1] + factor[2] * z;
                let ratio = centre / factor[3];
                let own = (-0.5 * z * z).exp();
                let chance = own * distribution(ratio);
                total += chance;
                first += chance * x;
                second += chance * centre + own * factor[3] * (-0.5 * ratio * ratio).exp() / (2.0 * std::f64::consts::PI).sqrt();
            }
            let expected = [first / total, second / total];
            let mut rng = rand_chacha::ChaCha8Rng::seed_from_u64(11);
            let mut found = [0.0; 2];
            let draws = 1500;
            for _ in 0..draws {
                let mut draw = [0.0; 2];
                draw_positive(&mean, &factor, &[], &mut rng, &mut draw);
                found[0] += draw[0] / f64::from(draws);
                found[1] += draw[1] / f64::from(draws);
            }
            let alike = |expected: [f64; 2]| found.iter().zip(expected).all(|(a, b)| (a / b - 1.0).abs() < tolerance);
            assert!(alike(expected), "{found:?} {expected:?}");
            assert!(
                !alike([expected[0] * 1.2, expected[1]]) && !alike([expected[0], expected[1] * 1.2]),
                "the comparison must tell means apart"
            );
        }
    }
}
