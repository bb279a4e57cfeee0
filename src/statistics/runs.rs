//! Runs of like signs in a series.

use super::distributions::{ln_gamma, normal_two_sided_p};

/// Wald–Wolfowitz test of the number of runs.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Runs {
    /// Runs found.
    pub runs: usize,
    /// Values above the centre.
    pub above: usize,
    /// Values below the centre.
    pub below: usize,
    /// Runs expected in random order, `2n₁n₂/(n₁ + n₂) + 1`.
    pub expected: f64,
    /// Their standard deviation.
    pub sd: f64,
    /// `(runs − expected)/sd`.
    pub z: f64,
    /// Two-sided tail probability of `z` under the normal approximation.
    pub p_normal: f64,
    /// Two-sided exact tail probability: twice the smaller tail, at most 1.
    pub p_exact: f64,
}

/// Runs above and below `centre` in the order given; values equal to it are left out (Wald & Wolfowitz 1940; e-Handbook 1.3.5.13).
///
/// `None` when one side is empty. Assumes exchangeable values; residuals of a fit are not: see [`super::sign_changes`].
#[must_use]
pub fn runs_test(values: &[f64], centre: f64) -> Option<Runs> {
    let mut runs = 0;
    let (mut above, mut below) = (0_usize, 0_usize);
    let mut last = None;
    for value in values.iter().filter(|v| !v.is_nan() && **v != centre) {
        let up = *value > centre;
        if up {
            above += 1;
        } else {
            below += 1;
        }
        if last != Some(up) {
            runs += 1;
        }
        last = Some(up);
    }
    if above == 0 || below == 0 {
        return None;
    }
    let (a, b) = (above as f64, below as f64);
    let n = a + b;
    let expected = 2.0 * a * b / n + 1.0;
    let variance = 2.0 * a * b * (2.0 * a * b - n) / (n * n * (n - 1.0));
    let sd = variance.max(0.0).sqrt();
    let z = if sd > 0.0 { (runs as f64 - expected) / sd } else { 0.0 };
    Some(Runs { runs, above, below, expected, sd, z, p_normal: normal_two_sided_p(z)?, p_exact: exact_p(runs, above, below)? })
}

/// Twice the smaller tail of the exact distribution of runs (Wald & Wolfowitz 1940, equations 3 and 4).
fn exact_p(runs: usize, above: usize, below: usize) -> Option<f64> {
    let total = ln_choose(above + below, above)?;
    let probability = |r: usize| -> Option<f64> {
        let k = r / 2;
        let pair = |i: usize, j: usize| Some((ln_choose(above - 1, i)? + ln_choose(below - 1, j)? - total).exp());
        if r.is_multiple_of(2) { Some(2.0 * pair(k - 1, k - 1)?) } else { Some(pair(k, k - 1)? + pair(k - 1, k)?) }
    };
    let most = 2 * above.min(below) + 1;
    let mut lower = 0.0;
    let mut upper = 0.0;
    for r in 2..=most {
        let p = probability(r)?;
        if r <= runs {
            lower += p;
        }
        if r >= runs {
            upper += p;
        }
    }
    Some((2.0 * lower.min(upper)).min(1.0))
}

/// Logarithm of the binomial coefficient; minus infinity where `k > n`.
fn ln_choose(n: usize, k: usize) -> Option<f64> {
    if k > n {
        return Some(f64::NEG_INFINITY);
    }
    Some(ln_gamma(n as f64 + 1.0)? - ln_gamma(k as f64 + 1.0)? - ln_gamma((n - k) as f64 + 1.0)?)
}
