//! The steps of the iteration where they go too far, or where a parameter says nothing.
#![allow(clippy::unwrap_used, reason = "a test fails by panicking")]

use super::*;
use crate::statistics::mixed::Row;

const SLOPES: Matrix2<f64> = Matrix2::new(1.0, 0.0, 0.0, 0.0);
const BENDS: Matrix2<f64> = Matrix2::new(0.0, 0.0, 0.0, 1.0);

fn near(found: f64, expected: f64) -> bool {
    (found - expected).abs() <= 1e-8 * expected.abs()
}

/// Slopes on four places, one a group, each group with a level of its own.
fn groups(slopes: &[f64]) -> Vec<Group> {
    let mut terms = super::super::Terms::zeros();
    terms[(0, 0)] = 1.0;
    let row = |group: usize, slope: f64| {
        move |place: usize| -> Row {
            let x = place as f64 / 1.5 - 1.0;
            ([x, 0.0], slope * x + [0.01, -0.02, 0.015, -0.005][(place * 3 + group) % 4], 1.0)
        }
    };
    slopes.iter().enumerate().map(|(group, slope)| Group::centred(&(0..4).map(row(group, *slope)).collect::<Vec<_>>(), terms)).collect()
}

/// `4a + 2b = 2`, `2a + b = 1`: of all answers the one that is shortest in the scaled unknowns, `2a = b = ½`, as nearly as the damping of a thousand-millionth lets.
#[test]
fn a_flat_direction_is_damped() {
    let flat = DMatrix::from_row_slice(2, 2, &[4.0, 2.0, 2.0, 1.0]);
    let solved = solve_scaled(&flat, &DVector::from_row_slice(&[2.0, 1.0])).unwrap();
    assert!(near(solved[0], 0.25) && near(solved[1], 0.5) && !near(solved[0], 0.25 * (1.0 + 3e-8)), "{solved}");
    // a parameter that changes nothing has no step
    let empty = DMatrix::from_row_slice(2, 2, &[4.0, 0.0, 0.0, 0.0]);
    assert_eq!(solve_scaled(&empty, &DVector::from_row_slice(&[2.0, 0.0])), None);
    assert_eq!(solve_scaled(&DMatrix::from_element(1, 1, f64::INFINITY), &DVector::from_row_slice(&[1.0])), None);
}

/// Two structures that are one share its variance between them.
#[test]
fn a_structure_told_twice_is_that_structure() {
    let groups = groups(&[1.0, 1.6, 0.7, 2.1, 1.3]);
    let one = fit_reml(&groups, 1, &[SLOPES], None, &[1e-3, 0.1]).unwrap();
    let twice = fit_reml(&groups, 1, &[SLOPES, SLOPES], None, &[1e-3, 0.05, 0.05]).unwrap();
    assert!(one.converged && twice.converged);
    assert!(near(twice.sigma_square, one.sigma_square) && near(twice.random_covariance[(0, 0)], one.random_covariance[(0, 0)]));
    assert!(!near(twice.random_covariance[(0, 0)], 1.000_001 * one.random_covariance[(0, 0)]));
}

/// A structure of a column that no group has: its row of the information is empty, so that nothing is said of degrees of freedom; nor is it of no contrast.
#[test]
fn what_the_information_does_not_hold_is_not_told() {
    let groups = groups(&[1.0, 1.6, 0.7]);
    let slope = Coefficients::from_row_slice(&[1.0, 0.0, 0.0, 0.0]);
    let fit = fit_reml(&groups, 1, &[SLOPES], None, &[1e-3, 0.1]).unwrap();
    assert!(fit.degrees_of_freedom(&slope).is_some());
    assert_eq!(fit.degrees_of_freedom(&Coefficients::zeros()), None);
    let empty = fit_reml(&groups, 1, &[SLOPES, BENDS], None, &[1e-3, 0.1, 0.1]).unwrap();
    assert_eq!((empty.degrees_of_freedom(&slope), empty.converged), (None, false));
}

/// Beside a tight data sheet one group's contrasts say nothing. From `σ² = m²e^{0.9}` the whole step in `σ²` leads to a tenth of that, `ln(σ²/m²) = −1.4`, which is
/// worse; half of it is better, and the iteration ends where the penalised likelihood is lowest.
#[test]
fn a_step_that_goes_too_far_is_halved() {
    let groups = groups(&[1.0]);
    let sheet = NoisePrior { median: 0.02, log_deviation: 0.01 };
    let fit = fit_reml(&groups, 1, &[], Some(sheet), &[sheet.median * sheet.median * 0.9_f64.exp()]).unwrap();
    let evaluation = evaluate(&groups, 1, &Matrix2::zeros()).unwrap();
    let objective = |noise: f64| evaluation.deviance(noise) + sheet.penalty(noise.sqrt());
    // golden section over a tenth to ten times the data sheet's
    let (mut low, mut high) = (0.1_f64.ln(), 10.0_f64.ln());
    let square = sheet.median * sheet.median;
    for _ in 0..80 {
        let (left, right) = (high - 0.618_034 * (high - low), low + 0.618_034 * (high - low));
        if objective(square * left.exp()) < objective(square * right.exp()) { high = right } else { low = left }
    }
    let best = square * low.exp();
    assert!(fit.converged && (fit.sigma_square / best - 1.0).abs() < 1e-6, "{} {best}", fit.sigma_square);
    assert!((fit.sigma_square / (best * 1.000_01) - 1.0).abs() > 1e-6, "the comparison sees a hundred-thousandth");
}

/// What is no covariance is no start, however small it is; nor is noise that is none; a random variance of nothing is one.
#[test]
fn a_start_must_be_possible() {
    let groups = groups(&[1.0, 1.6, 0.7]);
    let off = Matrix2::new(0.0, 1.0, 1.0, 0.0);
    let from = |start: [f64; 4]| fit_reml(&groups, 1, &[SLOPES, BENDS, off], None, &start);
    assert!(from([1e-3, -1e-9, -1e-9, 0.0]).is_none() && from([1e-3, 1e-9, 1e-9, 1e-8]).is_none());
    assert!(from([1e-3, 1e-9, 1e-9, 0.0]).is_some() && from([1e-3, 0.0, 0.0, 0.0]).is_some());
    for noise in [0.0, -1e-3, f64::NAN, f64::INFINITY] {
        assert!(from([noise, 1e-9, 1e-9, 0.0]).is_none() && fit_reml(&groups, 1, &[], None, &[noise]).is_none(), "{noise}");
    }
}

/// One contrast for one slope: nothing is left that could tell the noise, unless a data sheet does. Weights make the sum of squares 1, so that nothing is rounded.
#[test]
fn without_contrasts_for_the_noise_there_is_no_fit() {
    let mut terms = super::super::Terms::zeros();
    terms[(0, 0)] = 1.0;
    let two = [Group::centred(&[([-1.0, 0.0], 3.0, 0.5), ([1.0, 0.0], 4.0, 0.5)], terms)];
    assert!(fit_reml(&two, 1, &[SLOPES], None, &[0.05, 0.0]).is_none());
    let sheet = NoisePrior { median: 0.02, log_deviation: 0.4 };
    assert!(fit_reml(&two, 1, &[SLOPES], Some(sheet), &[0.05, 0.0]).is_some());
}
