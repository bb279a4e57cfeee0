//! Quadrants and sequential draws against general-purpose libraries and by hand.

use super::*;

/// scipy `multivariate_normal.cdf` with abseps 1e-13; script and version in tests/reference/orthant.
const REFERENCE: &str = include_str!("../../../tests/reference/orthant/quadrant.csv");

const SMALL_REFERENCE: &str = include_str!("../../../tests/reference/orthant/small.csv");

#[test]
fn quadrant_agrees_with_reference_library() {
    let mut rows = 0;
    for line in REFERENCE.lines().filter(|l| !l.starts_with('#')).skip(1) {
        let v: Vec<f64> = line.split(',').map(|f| f.parse().unwrap()).collect();
        let ours = log_quadrant(v[0], v[1], v[2]).exp();
        assert!((ours / v[3] - 1.0).abs() < 2e-6, "{v:?}: {ours}");
        let perturbed = log_quadrant(v[0] + 0.001, v[1] + 0.001, v[2]).exp();
        assert!((perturbed / v[3] - 1.0).abs() > 2e-6, "the comparison must see a small change: {v:?}");
        rows += 1;
    }
    assert!(rows > 50);
}

#[test]
fn independent_components_multiply() {
    let exact = log_distribution(-4.0) + log_distribution(-5.0);
    assert!((log_quadrant(-4.0, -5.0, 0.0) - exact).abs() < 1e-6);
}

#[test]
fn sequential_weights_average_to_the_quadrant() {
    // Correlation 0.6 by its lower factor; a lattice of uniforms stands for the expectation.
    let factor = [1.0, 0.0, 0.6, 0.8];
    let (mut sum, n) = (0.0, 200);
    for i in 0..n {
        let (mut z, mut d) = ([0.0; 2], [0.0; 2]);
        let u = [(i as f64 + 0.5) / n as f64, ((i * 89) % n) as f64 / n as f64];
        sum += sequential_draw(&[0.3, -0.5], &factor, &u, &mut z, &mut d).exp() / n as f64;
        assert!(d.iter().all(|x| *x >= 0.0));
    }
    assert!((sum.ln() - log_quadrant(0.3, -0.5, 0.6)).abs() < 2e-3);
}

/// Small correlations, on both sides of where the series ends, against mpmath (script and version in tests/reference/orthant).
#[test]
fn small_correlations_agree_with_reference_library() {
    let mut rows = 0;
    for line in SMALL_REFERENCE.lines().filter(|l| !l.starts_with('#')).skip(1) {
        let v: Vec<f64> = line.split(',').map(|f| f.parse().unwrap()).collect();
        let ours = upper_quadrant(v[0], v[1], v[2]);
        assert!((ours / v[3] - 1.0).abs() < 1e-11, "{v:?}: {ours}");
        let other = upper_quadrant(v[0], v[1], v[2] + 1e-5);
        assert!((other / v[3] - 1.0).abs() > 1e-11, "the comparison must see a small change: {v:?}");
        rows += 1;
    }
    assert!(rows > 100);
}

const LARGE_REFERENCE: &str = include_str!("../../../tests/reference/orthant/large.csv");

const CORNER_REFERENCE: &str = include_str!("../../../tests/reference/orthant/corner.csv");

/// The numbers of each line of a file.
fn lines(file: &str) -> Vec<Vec<f64>> {
    file.lines().filter(|l| !l.starts_with('#')).skip(1).map(|l| l.split(',').map(|f| f.parse().unwrap()).collect()).collect()
}

/// Large correlations against mpmath (script and version in tests/reference/orthant).
#[test]
fn large_correlations_agree_with_reference_library() {
    for v in lines(LARGE_REFERENCE) {
        let ours = upper_quadrant(v[0], v[1], v[2]);
        assert!((ours - v[3]).abs() < 1e-14, "{v:?}: {ours} {:e}", ours - v[3]);
        assert!(
            (upper_quadrant(v[0] + 1e-5, v[1] + 1e-5, v[2]) - v[3]).abs() > 1e-14 || v[3] < 1e-9,
            "the comparison must see a small change: {v:?}"
        );
    }
}

/// As [`log_quadrant`] was before: the conditional form `Φ(a)·E[Φ((b + r(X − a))/√(1 − r²)) | X > 0]` at 24 quantiles.
fn by_quantiles(a: f64, b: f64, r: f64) -> f64 {
    let (first, second) = if a < b { (a, b) } else { (b, a) };
    let at = |x: f64| log_distribution((second + r * quantile_above(-first, 0.5 * (1.0 + x))) / (1.0 - r * r).sqrt());
    let largest = rules().many.iter().map(|(x, _)| at(*x)).fold(f64::NEG_INFINITY, f64::max);
    log_distribution(first) + largest + rules().many.iter().map(|(x, w)| 0.5 * w * (at(*x) - largest).exp()).sum::<f64>().ln()
}

/// Far out, where the plain probability has no digits left, against mpmath (scripts and version in tests/reference/orthant).
#[test]
fn far_quadrants_agree_with_reference_library() {
    let (mut rows, mut worse) = (0, 0);
    for v in lines(CORNER_REFERENCE) {
        let agrees = |ours: f64| (ours - v[3]).abs() < 1e-8;
        let ours = log_quadrant(v[0], v[1], v[2]);
        assert!(agrees(ours) && agrees(log_quadrant(v[1], v[0], v[2])), "{v:?}: {ours}");
        assert!(!agrees(log_quadrant(v[0] + 1e-7, v[1] + 1e-7, v[2])), "the comparison must see a small change: {v:?}");
        worse += usize::from((by_quantiles(v[0], v[1], v[2]) - v[3]).abs() > 1e-6);
        rows += 1;
    }
    assert!(rows > 400 && worse > 100, "{rows} {worse}");
}

const NEARLY_EQUAL_REFERENCE: &str = include_str!("../../../tests/reference/orthant/nearly_equal.csv");

/// Limits of nearly the same size, of one sign and of both: with those of opposite sign what the tails leave of each other counts as much as what the correlation adds.
/// Against mpmath (script and version in tests/reference/orthant).
#[test]
fn far_quadrants_of_nearly_equal_limits_agree_with_reference_library() {
    let rows = lines(NEARLY_EQUAL_REFERENCE);
    for v in &rows {
        let (size, step) = if v[2].abs() < 0.99995 { (1e-8, 1e-7) } else { (1e-6, 1e-5) };
        let agrees = |ours: f64| (ours - v[3]).abs() < size;
        let ours = log_far_quadrant(-v[0], -v[1], v[2]);
        assert!(agrees(ours) && agrees(log_far_quadrant(-v[1], -v[0], v[2])), "{v:?}: {ours}");
        assert!(!agrees(log_far_quadrant(step - v[0], step - v[1], v[2])), "the comparison must see a small change: {v:?}");
    }
    assert_eq!(rows.len(), 75);
}

/// Where a probability passes from the plain form to that far out, both agree to what the plain one has of digits.
#[test]
fn far_and_plain_quadrants_meet() {
    for r in [-0.97, -0.6, -0.1, 0.0, 0.03, 0.4, 0.93, 0.999] {
        for (h, k) in [(5.2, 4.0), (5.2, -3.0), (2.0, 5.1), (1.0, 1.4), (4.9, 4.9)] {
            let plain = upper_quadrant(h, k, r);
            if plain > 1e-8 {
                let agrees = |ours: f64| (ours - plain.ln()).abs() < 1e-14 / plain;
                let far = log_far_quadrant(h, k, r);
                assert!(agrees(far) && !agrees(far + 3e-14 / plain), "{h} {k} {r}: {far} {}", plain.ln());
            }
        }
    }
    assert!(log_far_quadrant(f64::INFINITY, 0.0, 0.5) < -1e15 && log_far_quadrant(0.0, 0.0, -0.9).is_finite());
    assert!((log_far_quadrant(9.0, f64::NEG_INFINITY, 0.5) - log_distribution(-9.0)).abs() < 1e-12);
}

/// Limits far apart: the one that is always passed leaves the other's tail, the one that never is leaves nothing.
#[test]
fn far_limits_leave_one_tail_or_nothing() {
    for r in [0.95, -0.95] {
        for (h, k, expected) in
            [(1.0, -1500.0, distribution(-1.0)), (-1500.0, 1.0, distribution(-1.0)), (1.0, 1500.0, 0.0), (1500.0, -1.0, 0.0)]
        {
            let ours = upper_quadrant(h, k, r);
            assert!((ours - expected).abs() < 1e-15, "{h} {k} {r}: {ours}");
        }
    }
    assert!((upper_quadrant(1.01, -1500.0, 0.95) - distribution(-1.0)).abs() > 1e-15, "the comparison must see a small change");
}

/// Three components: the conditional means and probabilities of each after those before it, by hand.
#[test]
fn three_components_one_after_the_other() {
    let (mean, factor) = ([0.3, -0.4, 0.2], [2.0, 0.0, 0.0, 0.5, 1.5, 0.0, -0.7, 0.9, 0.8]);
    let uniforms = [0.2, 0.7, 0.4];
    let (mut z, mut d) = ([0.0; 3], [0.0; 3]);
    let log = sequential_draw(&mean, &factor, &uniforms, &mut z, &mut d);
    let above = |bound: f64, u: f64| quantile_above(bound, u);
    let z0 = above(-0.3 / 2.0, 0.2);
    let c1 = -0.4 + 0.5 * z0;
    let z1 = above(-c1 / 1.5, 0.7);
    let c2 = 0.2 - 0.7 * z0 + 0.9 * z1;
    let z2 = above(-c2 / 0.8, 0.4);
    let expected = (distribution(0.15) * distribution(c1 / 1.5) * distribution(c2 / 0.8)).ln();
    let agrees = |log: f64, draw: &[f64; 3]| {
        (log - expected).abs() < 1e-12
            && draw.iter().zip([0.3 + 2.0 * z0, c1 + 1.5 * z1, c2 + 0.8 * z2]).all(|(d, e)| (d - e).abs() < 1e-12)
    };
    assert!(agrees(log, &d) && !agrees(log + 1e-9, &d) && !agrees(log, &[d[0], d[1], d[2] + 1e-9]), "{log} {d:?}");
    assert!(d.iter().all(|d| *d > 0.0));
}
