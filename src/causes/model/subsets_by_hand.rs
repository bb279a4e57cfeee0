//! Weights of every subset from chosen normal equations, against dense algebra and sums over grids.

use super::*;
use crate::causes::fixture::without_readings;
use crate::causes::normal::distribution;
use crate::causes::unknowns::Meaning;
use nalgebra::{DMatrix, DVector};
use std::f64::consts::{LN_2, PI};

/// Unknowns of these scales and flags; the last `positive` cannot be negative.
fn unknowns(of: &[(f64, usize)], positive: usize) -> Vec<Unknown> {
    let meaning = |i: usize| if i + positive >= of.len() { Meaning::Wear { edge: None } } else { Meaning::Yaw };
    of.iter().enumerate().map(|(i, (sd, flag))| Unknown { meaning: meaning(i), sd: *sd, flag: Some(*flag) }).collect()
}

/// What readings of these sums of products say: `XᵀX` of a chosen `X`, the readings as its last column.
fn sums(size: usize) -> Symmetric {
    let x = DMatrix::from_fn(size + 3, size, |i, j| (1.7 * (i + 1) as f64 * (j as f64 + 0.6)).sin() + if i == j { 0.8 } else { 0.0 });
    let products = x.transpose() * &x;
    let mut joint = Symmetric::zeros(size);
    (0..size).for_each(|a| (0..=a).for_each(|b| joint.set(a, b, products[(a, b)])));
    joint
}

/// `P(θ > 0)` of a normal with this mean and covariance: one and two by the conditional normal over a fine grid, three over a grid.
fn orthant(mean: &[f64], covariance: &DMatrix<f64>) -> f64 {
    let n = mean.len();
    if n == 0 {
        return 1.0;
    }
    if n == 1 {
        return distribution(mean[0] / covariance[(0, 0)].sqrt());
    }
    // by the midpoints of equal shares of the first, the others given it
    let first = covariance[(0, 0)].sqrt();
    let rest = |x: f64| -> f64 {
        let given = |i: usize| mean[i] + covariance[(i, 0)] / covariance[(0, 0)] * (x - mean[0]);
        let left = |i: usize, j: usize| covariance[(i, j)] - covariance[(i, 0)] * covariance[(j, 0)] / covariance[(0, 0)];
        let means: Vec<f64> = (1..n).map(given).collect();
        orthant(&means, &DMatrix::from_fn(n - 1, n - 1, |a, b| left(a + 1, b + 1)))
    };
    let (steps, reach) = if n == 2 { (400, 8.0) } else { (80, 6.0) };
    let positive_from = (-mean[0] / first).max(-reach);
    let width = (reach - positive_from).max(0.0) / steps as f64;
    let at = |i: usize| positive_from + (i as f64 + 0.5) * width;
    (0..steps).map(|i| (-0.5 * at(i) * at(i)).exp() / (2.0 * PI).sqrt() * width * rest(mean[0] + first * at(i))).sum()
}

/// The weight of a subset from the dense precision with all priors.
fn dense(model: &Model, joint: &Symmetric, subset: usize, positive: usize) -> f64 {
    let n = model.unknowns.len();
    let sd: Vec<f64> = model.unknowns.iter().map(|u| if subset >> u.flag.unwrap() & 1 == 1 { u.sd } else { 0.05 * u.sd }).collect();
    let precision = DMatrix::from_fn(n, n, |a, b| joint.get(a, b) + if a == b { sd[a].powi(-2) } else { 0.0 });
    let right = DVector::from_fn(n, |a, _| joint.get(n, a));
    let covariance = precision.clone().try_inverse().unwrap();
    let mean = &covariance * &right;
    let bounded = covariance.view((n - positive, n - positive), (positive, positive)).clone_owned();
    let chance: f64 = (0..model.flags).map(|flag| if subset >> flag & 1 == 1 { 0.3_f64 } else { 0.7 }.ln()).sum();
    chance - 0.5 * precision.determinant().ln() - sd.iter().map(|sd| sd.ln()).sum::<f64>() + 0.5 * right.dot(&mean) - 0.5 * joint.get(n, n)
        + positive as f64 * LN_2
        + orthant(&mean.as_slice()[n - positive..], &bounded).ln()
}

/// Weights of all subsets, the mean over `lattice` uniforms where three or more cannot be negative.
fn weights(model: &Model, joint: &Symmetric, lattice: usize) -> Vec<f64> {
    let reduced = Reduced { values: model.hypers.values(&[]), joint: joint.clone(), log: 0.37 };
    let mut workspace = model.workspace::<f64>();
    let mut sum = vec![0.0; model.subsets()];
    for i in 0..lattice {
        // Fractional parts of multiples of square roots of primes.
        let uniforms = [2.0_f64, 3.0, 5.0].map(|p| ((i as f64 + 0.5) * p.sqrt()).fract());
        let mut out = vec![0.0; model.subsets()];
        model.log_weights(None, &reduced, &[&uniforms], &mut workspace, &mut out);
        sum.iter_mut().zip(&out).for_each(|(sum, own)| *sum += own.exp() / lattice as f64);
    }
    sum.iter().map(|sum| sum.ln()).collect()
}

fn agree(of: &[(f64, usize)], positive: usize, lattice: usize, tolerance: f64) {
    let model = without_readings(Vec::new(), unknowns(of, positive));
    let joint = sums(of.len() + 1);
    for (subset, found) in weights(&model, &joint, lattice).iter().enumerate() {
        let expected = 0.37 + dense(&model, &joint, subset, positive);
        assert!((found - expected).abs() < tolerance, "{of:?} {positive} {subset}: {found} {expected}");
        let wrong = 0.37 + dense(&model, &joint, subset ^ 1, positive);
        assert!((found - wrong).abs() > tolerance, "the comparison must tell subsets apart");
    }
}

#[test]
fn one_unknown_at_the_end() {
    agree(&[(0.5, 0), (1.1, 0), (0.8, 1), (1.4, 2)], 0, 1, 1e-11);
    agree(&[(0.5, 0), (1.1, 0), (0.8, 1), (1.4, 2)], 1, 1, 1e-11);
}

#[test]
fn two_unknowns_at_the_end() {
    agree(&[(0.5, 0), (1.1, 0), (0.8, 1), (1.4, 2), (0.7, 2)], 0, 1, 1e-11);
    agree(&[(0.5, 0), (1.1, 0), (0.8, 1), (1.4, 2), (0.7, 2)], 2, 1, 1e-4);
}

#[test]
fn three_unknowns_at_the_end_that_cannot_be_negative() {
    agree(&[(0.5, 0), (0.8, 1), (1.4, 2), (0.7, 2), (1.2, 2)], 3, 2000, 3e-3);
}

/// One subset alone has the weight that it has among all; the others are left as they were.
#[test]
fn one_subset_alone() {
    for positive in 0..=3 {
        let model =
            without_readings(Vec::new(), unknowns(&[(0.5, 0), (0.8, 1), (1.4, 2), (0.7, 2), (1.2, 2)][..2 + positive.max(1)], positive));
        let joint = sums(model.unknowns.len() + 1);
        let reduced = Reduced { values: model.hypers.values(&[]), joint, log: 0.0 };
        let mut workspace = model.workspace::<f64>();
        let mut all = vec![0.0; 8];
        model.log_weights(None, &reduced, &[&[0.5; 3]], &mut workspace, &mut all);
        for only in 0..8 {
            let mut out = vec![99.0; 8];
            model.log_weights(Some(only), &reduced, &[&[0.5; 3]], &mut workspace, &mut out);
            let expected: Vec<f64> = (0..8).map(|subset| if subset == only { all[subset] } else { 99.0 }).collect();
            assert_eq!(out, expected, "{positive}");
        }
    }
}

/// Grids against the distribution itself: independent components multiply.
#[test]
fn grids_find_what_is_known() {
    let apart = orthant(&[0.3, -0.5, 0.2], &DMatrix::from_diagonal(&DVector::from_vec(vec![1.0, 4.0, 0.25])));
    let product = distribution(0.3) * distribution(-0.25) * distribution(0.4);
    assert!((apart / product - 1.0).abs() < 1e-4 && (apart / product - 1.001).abs() > 1e-4, "{apart} {product}");
    // Means of nothing with correlation ½: a third (1/4 + asin(½)/2π).
    let third = orthant(&[0.0, 0.0], &DMatrix::from_row_slice(2, 2, &[1.0, 0.5, 0.5, 1.0]));
    assert!((third - 1.0 / 3.0).abs() < 1e-5 && (third - 0.3334).abs() > 1e-5, "{third}");
}
