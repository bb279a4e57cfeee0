//! The probability that a normal vector has no negative component, and draws from it.
//!
//! Wear and the extra wear of a fresh edge cannot be negative; given everything else they are jointly normal, so a subset's weight needs
//! the probability of the positive quadrant. Two dimensions: A. Genz, "Numerical computation of rectangular bivariate and
//! trivariate normal and t probabilities", Statistics and Computing 14 (2004) 251–260. More (several edges): the sequential
//! simulator of J. Geweke (1991), M. Keane (1994), V. Hajivassiliou & D. McFadden (1998), which is unbiased, so the sum over
//! points of an importance sample stays exact in expectation.

use super::normal::{distribution, log_distribution, quantile_above};
use std::f64::consts::PI;
use std::sync::OnceLock;

#[cfg(test)]
mod against_reference;
mod far;

use far::log_far_quadrant;

/// Nodes and weights of Gauss–Legendre on [−1, 1] with 6, 12 or 24 points.
struct Rules {
    few: Vec<(f64, f64)>,
    some: Vec<(f64, f64)>,
    many: Vec<(f64, f64)>,
}

fn rules() -> &'static Rules {
    static RULES: OnceLock<Rules> = OnceLock::new();
    RULES.get_or_init(|| Rules { few: gauss_legendre(6), some: gauss_legendre(12), many: gauss_legendre(24) })
}

/// Gauss–Legendre by Newton's method on the recurrence (Abramowitz & Stegun 25.4.29).
fn gauss_legendre(points: usize) -> Vec<(f64, f64)> {
    let n = points as f64;
    (0..points)
        .map(|i| {
            let mut x = (PI * (i as f64 + 0.75) / (n + 0.5)).cos();
            let mut slope = 1.0;
            for _ in 0..100 {
                let (mut p0, mut p1) = (1.0, x);
                for k in 2..=points {
                    let k = k as f64;
                    (p0, p1) = (p1, ((2.0 * k - 1.0) * x * p1 - (k - 1.0) * p0) / k);
                }
                slope = n * (x * p1 - p0) / (x * x - 1.0);
                let step = p1 / slope;
                x -= step;
                if step.abs() < 1e-16 {
                    break;
                }
            }
            (x, 2.0 / ((1.0 - x * x) * slope * slope))
        })
        .collect()
}

/// Correlations below this one go by the series.
const SMALL: f64 = 0.05;

/// `Σ rⁿ⁺¹/(n + 1)!·Heₙ(h)·Heₙ(k)`: what a small correlation adds to the product of the tails, over the density of the uncorrelated pair
/// (Abramowitz & Stegun 26.3.29), until the terms no longer matter.
fn series(h: f64, k: f64, r: f64) -> f64 {
    let (mut at_h, mut at_k) = ((0.0, 1.0), (0.0, 1.0));
    let (mut sum, mut power, mut before) = (0.0, r, f64::INFINITY);
    for n in 0..24 {
        let n = f64::from(n);
        let term: f64 = power * at_h.1 * at_k.1;
        sum += term;
        // Two in turn, since every second one is zero in the middle.
        if term.abs() + before <= 1e-15 * sum.abs() {
            break;
        }
        before = term.abs();
        at_h = (at_h.1, h * at_h.1 - n * at_h.0);
        at_k = (at_k.1, k * at_k.1 - n * at_k.0);
        power *= r / (n + 2.0);
    }
    sum
}

/// `P(X > h, Y > k)` of a standard bivariate normal with correlation `r`, below 1 in size (Genz 2004, section 2.4).
fn upper_quadrant(h: f64, k: f64, r: f64) -> f64 {
    let rules = rules();
    if r.abs() < 0.925 {
        let half_squares = 0.5 * (h * h + k * k);
        if r.abs() < SMALL {
            return distribution(-h) * distribution(-k) + (-half_squares).exp() / (2.0 * PI) * series(h, k, r);
        }
        // The number of points that Genz found enough (6, 12, 20) for each size of correlation.
        let rule = if r.abs() < 0.3 {
            &rules.few
        } else if r.abs() < 0.75 {
            &rules.some
        } else {
            &rules.many
        };
        let half_angle = 0.5 * r.asin();
        let (middle_sine, middle_cosine) = half_angle.sin_cos();
        let term = |sine: f64| ((sine * h * k - half_squares) / (1.0 - sine * sine)).exp();
        // Nodes stand in pairs about the middle of the angle.
        let integral: f64 = rule
            .iter()
            .take(rule.len() / 2)
            .map(|(x, w)| {
                let (sine, cosine) = (half_angle * x).sin_cos();
                let (even, odd) = (middle_sine * cosine, middle_cosine * sine);
                w * (term(even + odd) + term(even - odd))
            })
            .sum();
        return integral * half_angle / (2.0 * PI) + distribution(-h) * distribution(-k);
    }
    let (k, hk) = if r < 0.0 { (-k, -h * k) } else { (k, h * k) };
    let mut integral = 0.0;
    let variance = 1.0 - r * r;
    let mut a = variance.sqrt();
    let gap = (h - k) * (h - k);
    let c = (4.0 - hk) / 8.0;
    let d = (12.0 - hk) / 16.0;
    let exponent = -0.5 * (gap / variance + hk);
    if exponent > -100.0 {
        integral = a * exponent.exp() * (1.0 - c * (gap - variance) * (1.0 - d * gap / 5.0) / 3.0 + c * d * variance * variance / 5.0);
    }
    if -hk < 100.0 {
        let b = gap.sqrt();
        let tail = (2.0 * PI).sqrt() * distribution(-b / a);
        integral -= (-0.5 * hk).exp() * tail * b * (1.0 - c * gap * (1.0 - d * gap / 5.0) / 3.0);
    }
    a *= 0.5;
    for (x, w) in &rules.many {
        let square = (a * (x + 1.0)) * (a * (x + 1.0));
        let root = (1.0 - square).sqrt();
        let exponent = -0.5 * (gap / square + hk);
        if exponent > -100.0 {
            integral += a
                * w
                * exponent.exp()
                * ((-hk * square / (2.0 * (1.0 + root) * (1.0 + root))).exp() / root - (1.0 + c * square * (1.0 + d * square)));
        }
    }
    integral /= -2.0 * PI;
    if r > 0.0 {
        integral + distribution(-h.max(k))
    } else if k > h {
        -integral + distribution(k) - distribution(h)
    } else {
        -integral
    }
}

/// Below this the plain probability, right to some 10⁻¹⁵, has lost digits that its logarithm needs.
const PLAIN: f64 = 1e-7;

/// `ln P(θ₁ > 0, θ₂ > 0)` for means in their own standard deviations `a`, `b` and correlation `r`, right to 10⁻⁷.
///
/// Below [`PLAIN`] by [`log_far_quadrant`], so that subsets keep their ratio.
pub(super) fn log_quadrant(a: f64, b: f64, r: f64) -> f64 {
    let r = r.clamp(-0.999_999_999_999, 0.999_999_999_999);
    let probability = upper_quadrant(-a, -b, r);
    if probability > PLAIN { probability.ln() } else { log_far_quadrant(-a, -b, r) }
}

/// Draws the positive part of `N(mean, factor·factorᵀ)`, component by component, from the given uniforms.
///
/// `factor` is lower triangular, row-major, `n` by `n`. Returns the logarithm of the draw's weight: the product of the conditional
/// probabilities, whose expectation over uniforms is the probability of the positive orthant (Geweke–Hajivassiliou–Keane).
pub(super) fn sequential_draw(mean: &[f64], factor: &[f64], uniforms: &[f64], normals: &mut [f64], draw: &mut [f64]) -> f64 {
    let n = mean.len();
    let mut log_weight = 0.0;
    for i in 0..n {
        let centre = mean[i] + (0..i).map(|j| factor[i * n + j] * normals[j]).sum::<f64>();
        let scale = factor[i * n + i];
        let bound = -centre / scale;
        log_weight += log_distribution(-bound);
        normals[i] = quantile_above(bound, uniforms[i]);
        draw[i] = (centre + scale * normals[i]).max(0.0);
    }
    log_weight
}
