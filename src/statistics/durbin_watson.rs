//! Serial correlation of residuals.

use super::distributions::f_sf;
use super::least_squares::{complete_basis, rank_of_basis};
use nalgebra::DMatrix;

/// Above this many residual degrees of freedom the tail comes from a fitted beta distribution instead of the exact law.
const EXACT_UP_TO: usize = 100;

/// Durbin–Watson test.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct DurbinWatson {
    /// `Σ(eᵢ − eᵢ₋₁)²/Σe²`; near 2 for independent errors, below for neighbours that are alike.
    pub statistic: f64,
    /// `P(D ≤ d)` for independent normal errors: small when neighbours are alike.
    pub p_alike: f64,
    /// `P(D ≥ d)`: small when neighbours alternate.
    pub p_alternating: f64,
    /// Whether the tails are exact (else a beta distribution with the exact mean and variance).
    pub exact: bool,
}

impl DurbinWatson {
    /// Twice the smaller tail.
    #[must_use]
    pub fn p_two_sided(&self) -> f64 {
        (2.0 * self.p_alike.min(self.p_alternating)).min(1.0)
    }
}

/// Durbin–Watson test of `residuals` (n) of the fit on `design` (n × p), rows in the order in which neighbours may be alike (Durbin & Watson 1950,
/// 1951).
///
/// `breaks` lists the rows that start afresh (a new pass): no difference is taken across them. Up to 100 residual degrees of freedom the tails are
/// exact, by Imhof's (1961) inversion with the eigenvalues of the differencing form among residuals; above that a beta distribution with the exact
/// mean and variance (Durbin & Watson 1951, section 4). `None` with fewer than three degrees of freedom, an exact fit, or no neighbours.
#[must_use]
pub fn durbin_watson(design: &DMatrix<f64>, residuals: &[f64], breaks: &[usize]) -> Option<DurbinWatson> {
    let n = design.nrows();
    let total: f64 = residuals.iter().map(|e| e * e).sum();
    if residuals.len() != n || n < 4 || !(total > 0.0 && total.is_finite()) {
        return None;
    }
    let joined: Vec<bool> = (0..n).map(|i| i > 0 && !breaks.contains(&i)).collect();
    let statistic = differences(residuals, &joined).map(|d| d * d).sum::<f64>() / total;
    let rank = rank_of_basis(design);
    let dof = n.checked_sub(rank).filter(|m| *m >= 3)?;
    let pairs = joined.iter().filter(|j| **j).count();
    if pairs == 0 {
        return None;
    }
    if dof <= EXACT_UP_TO {
        let basis = complete_basis(design);
        let free: Vec<&[f64]> = basis.chunks_exact(n).skip(rank).collect();
        let differenced: Vec<f64> = free.iter().flat_map(|q| differences(q, &joined)).collect();
        let tall = DMatrix::from_vec(pairs, free.len(), differenced);
        let eigenvalues = (tall.transpose() * &tall).symmetric_eigenvalues();
        let shifted: Vec<f64> = eigenvalues.iter().map(|v| v - statistic).collect();
        let p_alike = imhof_below_zero(&shifted)?;
        return Some(DurbinWatson { statistic, p_alike, p_alternating: 1.0 - p_alike, exact: true });
    }
    let (mean, variance) = moments(design, rank, &joined)?;
    // D/4 on (0, 1) as beta(a, b).
    let (m, v) = (mean / 4.0, variance / 16.0);
    let size = m * (1.0 - m) / v - 1.0;
    let (a, b) = (m * size, (1.0 - m) * size);
    let x = statistic / 4.0;
    // A beta variable by its F ratio.
    let p_alternating = if x >= 1.0 { 0.0 } else { f_sf(x / (1.0 - x) * b / a, 2.0 * a, 2.0 * b)? };
    let p_alike = if x >= 1.0 { 1.0 } else { f_sf((1.0 - x) / x * a / b, 2.0 * b, 2.0 * a)? };
    Some(DurbinWatson { statistic, p_alike, p_alternating, exact: false })
}

fn differences<'a>(values: &'a [f64], joined: &'a [bool]) -> impl Iterator<Item = f64> + 'a {
    values.iter().zip(values.iter().skip(1)).zip(joined.iter().skip(1)).filter(|(_, joined)| **joined).map(|((a, b), _)| b - a)
}

/// `Av` for the differencing form `A = DᵀD`.
fn differencing(values: &[f64], joined: &[bool]) -> Vec<f64> {
    let mut result = vec![0.0; values.len()];
    let mut before: Option<f64> = None;
    for (i, (value, joined)) in values.iter().zip(joined).enumerate() {
        if let (true, Some(previous)) = (*joined, before) {
            let step = value - previous;
            if let Some(slot) = result.get_mut(i) {
                *slot += step;
            }
            if let Some(slot) = i.checked_sub(1).and_then(|j| result.get_mut(j)) {
                *slot -= step;
            }
        }
        before = Some(*value);
    }
    result
}

/// Exact mean and variance of the statistic (Durbin & Watson 1950, section 3): traces of `MA` and `(MA)²`.
fn moments(design: &DMatrix<f64>, rank: usize, joined: &[bool]) -> Option<(f64, f64)> {
    let n = joined.len();
    let basis = super::least_squares::thin_basis(design);
    let columns: Vec<&[f64]> = basis.chunks_exact(n).collect();
    let images: Vec<Vec<f64>> = columns.iter().map(|q| differencing(q, joined)).collect();
    let dot = |a: &[f64], b: &[f64]| a.iter().zip(b).map(|(x, y)| x * y).sum::<f64>();
    let mut trace_a = 0.0;
    let mut trace_a2 = 0.0;
    for i in 0..n {
        let before = f64::from(u8::from(joined.get(i).copied().unwrap_or(false)));
        let after = f64::from(u8::from(joined.get(i + 1).copied().unwrap_or(false)));
        let diagonal = before + after;
        trace_a += diagonal;
        trace_a2 += diagonal * diagonal + before + after;
    }
    let mut first = 0.0;
    let mut second = 0.0;
    let mut cross = 0.0;
    for (q, image) in columns.iter().zip(&images) {
        first += dot(q, image);
        second += dot(image, image);
        for other in &columns {
            let entry = dot(other, image);
            cross += entry * entry;
        }
    }
    let p = trace_a - first;
    let q = trace_a2 - 2.0 * second + cross;
    let m = (n - rank) as f64;
    let variance = 2.0 * (m * q - p * p) / (m * m * (m + 2.0));
    (variance > 0.0).then_some((p / m, variance))
}

/// `P(Σ λᵢ χ²₁ < 0)` by Imhof's (1961) integral, as the midpoint sum of Davies (1973), whose step makes the error of discretisation negligible.
fn imhof_below_zero(eigenvalues: &[f64]) -> Option<f64> {
    let largest = eigenvalues.iter().fold(0.0_f64, |m, v| m.max(v.abs()));
    if largest == 0.0 {
        return None;
    }
    let scaled: Vec<f64> = eigenvalues.iter().map(|v| v / largest).filter(|v| v.abs() > 1e-12).collect();
    let mean: f64 = scaled.iter().sum();
    let sd = (2.0 * scaled.iter().map(|v| v * v).sum::<f64>()).sqrt();
    // The sum is off by the chance of |Q| beyond 2π/step.
    let reach = mean.abs() + 12.0 * sd + 60.0;
    let step = 2.0 * std::f64::consts::PI / reach;
    let mut sum = 0.0;
    for k in 0..200_000_u32 {
        let u = (f64::from(k) + 0.5) * step;
        let mut angle = 0.0;
        let mut ln_size = 0.0;
        for value in &scaled {
            let x = 2.0 * value * u;
            angle += 0.5 * x.atan();
            ln_size += 0.25 * (x * x).ln_1p();
        }
        let size = (-ln_size).exp() / (f64::from(k) + 0.5);
        sum += angle.sin() * size;
        if size < 1e-12 {
            break;
        }
    }
    Some((0.5 - sum / std::f64::consts::PI).clamp(0.0, 1.0))
}
