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

#[test]
fn stations_are_scaled_to_the_tested_length() {
    let at = [20.0, 65.0, 110.0, 200.0, 245.0].map(|z| scaled(z, (20.0, 200.0)));
    assert_eq!(at, [-1.0, -0.5, 0.0, 1.0, 1.5]);
    assert_eq!(scaled(50.0, (50.0, 50.0)), 0.0);
}
