//! Standard errors of a pass's slope and bend, by a matrix library.

use super::super::rows::{scaled, standard_errors};
use nalgebra::DMatrix;

/// Diagonal of `(XᵀX)⁻¹` of constant, line and bend, by a matrix library: a pass over a tenth of the tested length counts too.
#[test]
fn standard_errors_of_short_passes() {
    let passes = [vec![(0.9, 1.0), (0.95, 1.0), (1.0, 1.0)], vec![(-1.0, 2.0), (-0.2, 1.0), (0.3, 3.0), (1.0, 1.0)]];
    let inverse = |pass: &[(f64, f64)]| {
        let x = DMatrix::from_fn(pass.len(), 3, |i, k| {
            let (x, count) = pass[i];
            count.sqrt() * [1.0, x, 1.5 * x * x - 0.5][k]
        });
        (x.transpose() * x).cholesky().unwrap().inverse()
    };
    let expected = |k: usize| (passes.iter().map(|pass| inverse(pass)[(k, k)]).sum::<f64>() / 2.0).sqrt();
    let (slope, barrel) = standard_errors(&passes);
    assert!((slope / expected(1) - 1.0).abs() < 1e-7 && (barrel.unwrap() / expected(2) - 1.0).abs() < 1e-7, "{slope} {barrel:?}");
    let (alone, _) = standard_errors(&passes[1..]);
    assert!((alone / expected(1) - 1.0).abs() > 0.5, "the short pass counts");
}

/// Two stations at the ends show no bend, though rounding makes their second coefficients differ: the slope is that of a straight line, √(1/Σx²).
#[test]
fn two_stations_show_no_bend_whatever_rounding_did() {
    let short = 1.0 - f64::EPSILON / 2.0;
    for high in [1.0, short, short - f64::EPSILON, 1.0 + f64::EPSILON] {
        let (slope, barrel) = standard_errors(&[vec![(-1.0, 2.0), (high, 2.0)], vec![(-short, 1.0), (high, 1.0), (-1.0, 1.0), (1.0, 1.0)]]);
        assert!(barrel.is_none() && (slope - (0.5 * (0.25 + 0.25_f64)).sqrt()).abs() < 1e-9, "{high}: {slope} {barrel:?}");
    }
    let (slope, barrel) = standard_errors(&[vec![(-1.0, 2.0), (0.9, 1.0), (1.0, 2.0)]]);
    assert!(barrel.is_some() && slope.is_finite(), "a third station shows one");
}

#[test]
fn stations_are_scaled_to_the_tested_length() {
    let at = [20.0, 65.0, 110.0, 200.0, 245.0].map(|z| scaled(z, (20.0, 200.0)));
    assert_eq!(at, [-1.0, -0.5, 0.0, 1.0, 1.5]);
    assert_eq!(scaled(50.0, (50.0, 50.0)), 0.0);
}
