//! Identities of the fit, rank deficiency, weights and bad input.

use super::tolerances::{IDENTITY, Tolerance, assert_near};
use nalgebra::DMatrix;
use rand::{Rng, SeedableRng};
use rand_chacha::ChaCha20Rng;
use taperwright::statistics::{FitError, LegendreRange, least_squares, legendre_values, weighted_least_squares};

fn random_problem(seed: u64, n: usize, p: usize) -> (DMatrix<f64>, Vec<f64>) {
    let mut random = ChaCha20Rng::seed_from_u64(seed);
    let design = DMatrix::from_fn(n, p, |_, j| if j == 0 { 1.0 } else { random.random_range(-1.0..1.0) });
    let response = (0..n).map(|_| random.random_range(-1.0..1.0)).collect();
    (design, response)
}

#[test]
fn residuals_are_orthogonal_and_leverages_add_up_to_the_rank() {
    for seed in 0..20 {
        let (design, response) = random_problem(seed, 30, 4);
        let fit = least_squares(&design, &response).unwrap();
        for j in 0..4 {
            let product: f64 = (0..30).map(|i| design[(i, j)] * fit.residuals()[i]).sum();
            assert_near("column times residuals", product, 0.0, Tolerance::Absolute(1e-13));
        }
        assert_near("sum of leverages", fit.leverage().iter().sum(), 4.0, IDENTITY);
        // Against the normal equations, which are harmless here.
        let inverse = (design.transpose() * &design).try_inverse().unwrap();
        for i in 0..4 {
            for j in 0..4 {
                assert_near("covariance", fit.unscaled_covariance(i, j).unwrap(), inverse[(i, j)], Tolerance::Absolute(1e-14));
            }
        }
        let (_, variance) = fit.combination(design.row(7).transpose().as_slice()).unwrap();
        assert_near("variance of the fitted mean is the leverage", variance, fit.leverage()[7], IDENTITY);
    }
}

#[test]
fn a_dependent_column_is_missing_and_the_rest_is_what_it_would_be_without() {
    let (three, response) = random_problem(5, 25, 3);
    let with_copy = DMatrix::from_fn(25, 4, |i, j| match j {
        0 | 1 => three[(i, j)],
        2 => 3.0 * three[(i, 0)] - 0.7 * three[(i, 1)],
        _ => three[(i, 2)],
    });
    let full = least_squares(&three, &response).unwrap();
    let fit = least_squares(&with_copy, &response).unwrap();
    assert_eq!((fit.rank(), fit.missing(), fit.coefficient(2)), (3, vec![2], None));
    assert_eq!((fit.standard_error(2), fit.unscaled_covariance(2, 0)), (None, None));
    assert_eq!(fit.combination(&[0.0, 0.0, 1.0, 0.0]), None, "what needs a missing term is missing");
    for (term, same) in [(0, 0), (1, 1), (3, 2)] {
        assert_near("kept term", fit.coefficient(term).unwrap(), full.coefficient(same).unwrap(), IDENTITY);
        assert_near("its standard error", fit.standard_error(term).unwrap(), full.standard_error(same).unwrap(), IDENTITY);
    }
    assert_eq!(fit.dof(), full.dof());
}

#[test]
fn more_columns_than_rows_and_columns_of_zeros_are_missing_not_zero() {
    let fit = least_squares(&DMatrix::from_row_slice(2, 3, &[1.0, 0.0, 0.0, 1.0, 1.0, 0.0]), &[1.0, 3.0]).unwrap();
    assert_eq!(fit.coefficients(), &[Some(1.0), Some(2.0), None]);
    assert_eq!((fit.dof(), fit.residual_sd(), fit.standard_error(0)), (0, None, None));
    assert_near("unscaled variance of the slope of two readings", fit.unscaled_covariance(1, 1).unwrap(), 2.0, IDENTITY);
}

#[test]
fn weights_are_inverse_variances_and_weight_two_is_the_reading_twice() {
    let (design, response) = random_problem(9, 12, 3);
    let mut weights = vec![1.0; 12];
    weights[4] = 2.0;
    let twice = DMatrix::from_fn(13, 3, |i, j| design[(if i == 12 { 4 } else { i }, j)]);
    let mut doubled = response.clone();
    doubled.push(response[4]);
    let weighted = weighted_least_squares(&design, &response, &weights).unwrap();
    let repeated = least_squares(&twice, &doubled).unwrap();
    for k in 0..3 {
        assert_near("coefficient", weighted.coefficient(k).unwrap(), repeated.coefficient(k).unwrap(), IDENTITY);
        assert_near("variance", weighted.unscaled_covariance(k, k).unwrap(), repeated.unscaled_covariance(k, k).unwrap(), IDENTITY);
    }
    assert_near("residual sum of squares", weighted.residual_sum_of_squares(), repeated.residual_sum_of_squares(), IDENTITY);
    weights[4] = 0.0;
    let without = weighted_least_squares(&design, &response, &weights).unwrap();
    assert_eq!((without.readings(), without.dof(), without.leverage()[4]), (11, 8, 0.0));
    assert_eq!(weighted_least_squares(&design, &response, &[-1.0; 12]), Err(FitError::Weight));
}

#[test]
fn what_cannot_be_fitted_is_an_error() {
    let one = DMatrix::from_element(3, 1, 1.0);
    assert_eq!(least_squares(&one, &[1.0, 2.0]), Err(FitError::Lengths { rows: 3, found: 2 }));
    assert_eq!(least_squares(&one, &[1.0, f64::NAN, 2.0]), Err(FitError::NotFinite));
    assert_eq!(least_squares(&DMatrix::from_element(3, 1, f64::INFINITY), &[1.0, 2.0, 3.0]), Err(FitError::NotFinite));
    assert_eq!(least_squares(&DMatrix::zeros(0, 1), &[]), Err(FitError::Empty));
    assert_eq!(least_squares(&DMatrix::zeros(3, 0), &[1.0, 2.0, 3.0]), Err(FitError::Empty));
    assert!(
        least_squares(&one, &[1e300, -1e300, 1e300]).is_ok_and(|f| f.residual_sum_of_squares().is_finite())
            || least_squares(&one, &[1e300, -1e300, 1e300]) == Err(FitError::NotFinite)
    );
}

#[test]
fn units_and_origin_far_away_do_not_change_a_legendre_fit() {
    let stations: Vec<f64> = (0..40).map(|i| 5.0 * f64::from(i)).collect();
    let mut random = ChaCha20Rng::seed_from_u64(3);
    let diameters: Vec<f64> = stations.iter().map(|z| 30.0 + 1e-4 * z + random.random_range(-0.002..0.002)).collect();
    let fit_at = |shift: f64, unit: f64| {
        let moved: Vec<f64> = stations.iter().map(|z| (z + shift) * unit).collect();
        let range = LegendreRange::spanning(&moved).unwrap();
        least_squares(&range.design(&moved, 3), &diameters).unwrap()
    };
    let here = fit_at(0.0, 1.0);
    for (shift, unit) in [(3e6, 1.0), (-800.0, 1.0 / 25.4), (1e6, 1e-3)] {
        let there = fit_at(shift, unit);
        for k in 0..4 {
            assert_near("Legendre coefficient", there.coefficient(k).unwrap(), here.coefficient(k).unwrap(), Tolerance::Absolute(1e-12));
        }
    }
}

#[test]
fn legendre_polynomials_have_their_textbook_values() {
    // Abramowitz & Stegun table 22.9: P4(x) = (35x⁴ − 30x² + 3)/8.
    assert_near("P4(0.3)", legendre_values(4, 0.3)[4], (35.0 * 0.0081 - 30.0 * 0.09 + 3.0) / 8.0, IDENTITY);
    assert_eq!(legendre_values(3, 1.0), vec![1.0; 4]);
    let range = LegendreRange::new(2.0, 6.0).unwrap();
    assert_eq!((range.scaled(2.0), range.scaled(6.0), range.scaled(4.0)), (-1.0, 1.0, 0.0));
    // 1·P0 + 2·P1 + 4·P2 on u = (z − 4)/2: 1 + (z − 4) + 2(3u² − 1) = 19 − 11z + 1.5z².
    let raw = range.monomial_coefficients(&[1.0, 2.0, 4.0]);
    for (found, expected) in raw.iter().zip([19.0, -11.0, 1.5]) {
        assert_near("monomial", *found, expected, IDENTITY);
    }
    assert!(LegendreRange::new(1.0, 1.0).is_none() && LegendreRange::spanning(&[1.0, f64::NAN]).is_none());
}
