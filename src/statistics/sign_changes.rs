//! Changes of sign between neighbouring residuals of a fit: the runs test for residuals.

use super::distributions::normal_two_sided_p;
use super::least_squares::Fit;
use nalgebra::{DMatrix, DVector};

/// Pairs above which the count is taken as normal rather than by its exact distribution.
const EXACT_UP_TO: usize = 2_000;

/// Changes of sign between neighbours, against what uncorrelated noise leaves in residuals.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct SignChanges {
    /// Pairs of neighbours looked at.
    pub pairs: usize,
    /// Changes of sign among them; runs are one more in each unbroken series.
    pub changes: usize,
    /// Changes expected.
    pub expected: f64,
    /// `(changes − expected)/sd`; negative where residuals keep to one side.
    pub z: f64,
    /// Two-sided tail probability: twice the smaller tail, at most 1.
    pub p: f64,
}

/// Counts changes of sign between neighbouring residuals and compares the count with uncorrelated normal noise.
///
/// Residuals of a fit are correlated even where the noise is not: `ρ = −hᵢⱼ/√((1 − hᵢ)(1 − hⱼ))`, so a pair changes sign with
/// probability `arccos(ρ)/π` (Sheppard 1899, the normal orthant) and not one half; with a few readings a pass and a level and slope
/// for each, the plain runs test finds something far too often. The pairs' changes are summed as independent (the sum of unequal binary trials,
/// exact up to 2,000 pairs, normal above). `breaks` lists rows that start afresh; a pair with a residual of 0 or a leverage of 1 is
/// left out. `None` below six pairs or where the design does not fit `fit`.
#[must_use]
pub fn sign_changes(design: &DMatrix<f64>, fit: &Fit, breaks: &[usize]) -> Option<SignChanges> {
    let residuals = fit.residuals();
    let leverage = fit.leverage();
    let terms = design.ncols();
    if residuals.len() != design.nrows() {
        return None;
    }
    let covariance = DMatrix::from_fn(terms, terms, |i, j| fit.unscaled_covariance(i, j).unwrap_or(0.0));
    let mut probabilities = Vec::with_capacity(residuals.len());
    let mut changes = 0;
    let mut before: Option<DVector<f64>> = None;
    for (index, pair) in residuals.windows(2).enumerate() {
        let (&[first, second], Some(&[one, other])) =
            (pair, leverage.get(index..index + 2).map(<&[f64; 2]>::try_from).and_then(Result::ok))
        else {
            continue;
        };
        let next = design.row(index + 1).transpose();
        let projected = &covariance * &next;
        let previous = before.take().unwrap_or_else(|| design.row(index).transpose());
        let hat = previous.dot(&projected);
        before = Some(next);
        let room = (1.0 - one) * (1.0 - other);
        if breaks.contains(&(index + 1)) || first == 0.0 || second == 0.0 || room < 1e-12 {
            continue;
        }
        let correlation = (-hat / room.sqrt()).clamp(-1.0, 1.0);
        probabilities.push(correlation.acos() / std::f64::consts::PI);
        changes += usize::from((first > 0.0) != (second > 0.0));
    }
    if probabilities.len() < 6 {
        return None;
    }
    let expected: f64 = probabilities.iter().sum();
    let variance: f64 = probabilities.iter().map(|p| p * (1.0 - p)).sum();
    let z = if variance > 0.0 { (changes as f64 - expected) / variance.sqrt() } else { 0.0 };
    let p = if probabilities.len() <= EXACT_UP_TO { exact(&probabilities, changes) } else { normal_two_sided_p(z)? };
    Some(SignChanges { pairs: probabilities.len(), changes, expected, z, p })
}

/// Twice the smaller tail of a sum of independent binary trials with unequal probabilities, at most 1.
fn exact(probabilities: &[f64], count: usize) -> f64 {
    let mut weights = vec![0.0; probabilities.len() + 1];
    weights[0] = 1.0;
    for (done, p) in probabilities.iter().enumerate() {
        for k in (0..=done + 1).rev() {
            let from_below = if k > 0 { weights[k - 1] * p } else { 0.0 };
            weights[k] = weights[k] * (1.0 - p) + from_below;
        }
    }
    let lower: f64 = weights.iter().take(count + 1).sum();
    let upper: f64 = weights.iter().skip(count).sum();
    (2.0 * lower.min(upper)).min(1.0)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::statistics::least_squares;

    /// Equal probabilities make it the binomial distribution: of 10 fair trials 2 or fewer have probability 56/1024.
    #[test]
    fn equal_trials_are_binomial() {
        assert!((exact(&[0.5; 10], 2) - 2.0 * 56.0 / 1024.0).abs() < 1e-15);
        assert!((exact(&[0.5; 10], 8) - 2.0 * 56.0 / 1024.0).abs() < 1e-15);
    }

    /// Deviations of three values from their mean have correlation −1/2, so neighbours change sign with probability arccos(−1/2)/π = 2/3.
    #[test]
    fn correlation_of_deviations_from_a_mean() {
        let design = DMatrix::from_fn(9, 3, |row, column| f64::from(u8::from(row / 3 == column)));
        let response = [1.0, -1.0, 0.5, 2.0, -3.0, 1.5, 0.1, 0.7, -0.4];
        let fit = least_squares(&design, &response).unwrap();
        let found = sign_changes(&design, &fit, &[3, 6]).unwrap();
        assert_eq!(found.pairs, 6);
        assert!((found.expected - 6.0 * 2.0 / 3.0).abs() < 1e-12);
    }
}
