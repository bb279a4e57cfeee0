//! The search for a mode and its curvature by hand.

use super::*;
use crate::causes::block::{Column, Known, Rows, Scale};
use crate::causes::fixture::without_readings;
use crate::causes::hyper::Hyper;
use crate::causes::unknowns::{Meaning, Unknown};

/// Two deviates that readings say nothing of.
const TWO: [Hyper; 2] = [Hyper::SlopeSpread, Hyper::BarrelSpread];

fn vector(x: &[f64]) -> DVector<f64> {
    DVector::from_column_slice(x)
}

fn alike(a: &DVector<f64>, b: &[f64], tolerance: f64) -> bool {
    (a - vector(b)).amax() < tolerance
}

/// Without readings the weight of a subset is its prior probability, so the log target is that of the prior: `−½|x|²`, and the logarithm of the
/// probability for one subset.
#[test]
fn without_readings_the_target_is_the_prior() {
    let unknown = |meaning, flag| Unknown { meaning, sd: 0.3, flag: Some(flag) };
    let model = without_readings(TWO.to_vec(), vec![unknown(Meaning::Yaw, 0), unknown(Meaning::Drift, 1)]);
    let points = [[0.5, -1.0], [3.0, 2.0], [0.0, 0.0], [-2.0, 0.1], [12.0, 0.5]];
    for (only, log) in [(None, 0.0), (Some(2), (0.3_f64 * 0.7).ln()), (Some(3), 0.09_f64.ln())] {
        let mut target = Target::new(&model, only);
        let found = target.at_each(&points.map(|x| vector(&x)));
        for (x, found) in points.iter().zip(found) {
            let expected = log - 0.5 * (x[0] * x[0] + x[1] * x[1]);
            assert!((found - expected).abs() < 1e-12, "{only:?} {x:?}: {found}");
            assert_eq!(target.at(&vector(x)), found);
            assert!(alike(&target.gradient(&vector(&[0.5, -1.0]), 1e-3), &[-0.5, 1.0], 1e-9));
            assert!(!alike(&target.gradient(&vector(&[0.5, -1.001]), 1e-3), &[-0.5, 1.0], 1e-9));
        }
        assert_eq!(target.at(&vector(&[12.000_001, 0.5])), f64::NEG_INFINITY);
    }
}

/// Steps of a known parabola: three at most at a time, shortened by 0.4 until it rises, and to the top at once with the right curvature.
#[test]
fn steps_by_hand() {
    let model = without_readings(TWO.to_vec(), vec![]);
    let climbed = |x: &[f64], scale: f64, steps| climb(&mut Target::new(&model, None), vector(x), DMatrix::identity(2, 2) * scale, steps);
    assert!(alike(&climbed(&[6.0, 8.0], 1.0, 1), &[4.2, 5.6], 1e-8));
    assert!(alike(&climbed(&[6.0, 8.0], 1.0, 2), &[2.4, 3.2], 1e-7));
    assert!(alike(&climbed(&[1.2, -1.6], 1.0, 1), &[0.0, 0.0], 1e-8));
    assert!(!alike(&climbed(&[1.2, -1.6], 1.0, 0), &[0.0, 0.0], 1e-8));
    // Ten times too long: 3 of 0.5 would end at −2.5, 1.2 at −0.7, 0.48 at 0.02.
    assert!(alike(&climbed(&[0.5, 0.0], 10.0, 1), &[0.02, 0.0], 1e-8));
    // A gain of less than a hundredth is the end, the better point taken.
    assert!(alike(&climbed(&[0.1, 0.0], 0.5, 9), &[0.05, 0.0], 1e-8));
}

/// The second step by the product form `(I − ρ s yᵀ) H (I − ρ y sᵀ) + ρ s sᵀ` (J. Nocedal & S. Wright, 2006, eq. 6.17).
#[test]
fn second_step_by_the_product_form() {
    let model = without_readings(TWO.to_vec(), vec![]);
    let inverse = DMatrix::from_row_slice(2, 2, &[0.5, 0.1, 0.1, 0.9]);
    let start = vector(&[2.0, -1.0]);
    // The slope of the parabola is −x.
    let s = &inverse * -&start;
    let first = &start + &s;
    let y = s.clone();
    let rho = 1.0 / s.dot(&y);
    let left = DMatrix::identity(2, 2) - &s * y.transpose() * rho;
    let updated = &left * &inverse * left.transpose() + &s * s.transpose() * rho;
    let second = &first - updated * &first;
    let found = climb(&mut Target::new(&model, None), start, inverse, 2);
    assert!((&found - &second).amax() < 1e-8 && (&found - &first).amax() > 0.1, "{found} {second}");
    assert!((&found - second * 1.001).amax() > 1e-8, "the comparison must see a small change");
}

/// One column whose known coefficient is `h·G`: with `S` its centred sum of squares and readings of `k` times the column, the log target is
/// `−½ S (k − h(x₀)·G(x₂))² − ½|x|²`, where `h = 1 + x₀/50` and `ln G = x₂/50`.
#[test]
fn curvature_is_that_of_the_derivatives() {
    let (a, k) = (0.02, |r: f64| 1.0 + r);
    let kinds = vec![Hyper::RollArm { mean: 1.0, sd: a }, Hyper::BarrelSpread, Hyper::MoveGain { median: 1.0, factor: a.exp() }];
    // Squares of 50 and −50 beside 0: S = 5,000 about their mean.
    let values = vec![50.0, 0.0, -50.0];
    let model = |k: f64| {
        let column = Column { cause: None, scale: Scale::RollArm, targets: vec![], known: Known::Gain(1.0), values: values.clone() };
        let readings = values.iter().map(|v| k * v).collect();
        let mut model = without_readings(kinds.clone(), vec![]);
        let (noise, variance) = (vec![0; 3], vec![1.0; 3]);
        model.blocks =
            vec![Rows { readings, noise, variance, random: vec![], columns: vec![column], repeats: vec![], bent: None }.reduce()];
        model
    };
    let curvature = |k: f64, x: &[f64; 3]| {
        let (s, h, g) = (5000.0, 1.0 + a * x[0], (a * x[2]).exp());
        let r = k - h * g;
        let (d0, d2, d02, d22) = (a * g, a * h * g, a * a * g, a * a * h * g);
        let (c00, c02, c22) = (1.0 + s * d0 * d0, s * (d0 * d2 - r * d02), 1.0 + s * (d2 * d2 - r * d22));
        DMatrix::from_row_slice(3, 3, &[c00, 0.0, c02, 0.0, 1.0, 0.0, c02, 0.0, c22])
    };
    let near = |a: &DMatrix<f64>, b: &DMatrix<f64>| (a - b).amax() < 1e-4;
    let x = [0.4, -0.3, 0.2];
    let found = inverse_curvature(&mut Target::new(&model(k(0.1)), None), &vector(&x));
    let expected = curvature(k(0.1), &x).try_inverse().unwrap();
    assert!(near(&found, &expected), "{found} {expected}");
    assert!(!near(&found, &curvature(k(0.11), &x).try_inverse().unwrap()), "the comparison must see a small change");
    // A direction that bends upwards gets the bound, a half; the others keep their own.
    let x = [0.0, 0.5, 0.0];
    let eigen = curvature(k(3.0), &x).symmetric_eigen();
    assert!(eigen.eigenvalues.min() < 0.0);
    let bounded = DMatrix::from_diagonal(&eigen.eigenvalues.map(|v| 1.0 / v.max(0.5)));
    let expected = &eigen.eigenvectors * bounded * eigen.eigenvectors.transpose();
    let found = inverse_curvature(&mut Target::new(&model(k(3.0)), None), &vector(&x));
    assert!(near(&found, &expected), "{found} {expected}");
    // Where a neighbour lies out of reach there is no curvature.
    assert_eq!(inverse_curvature(&mut Target::new(&model(k(0.1)), None), &vector(&[11.9, 0.0, 0.0])), DMatrix::identity(3, 3));
}
