//! Serial correlation of residuals.

use super::distributions::f_sf;
use super::least_squares::complete_basis;
use super::repeated::{RunBasis, RunRows};
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

/// Durbin–Watson test of the `residuals` (n, `√weight·(y − fitted)`) of a fit with the column space `basis`, readings in the order in which neighbours may
/// be alike. Source: Durbin & Watson (1950) and Durbin & Watson (1951).
///
/// No difference is taken from one block to the next. Up to 100 residual degrees of freedom the tails are
/// exact, by Imhof's (1961) inversion with the eigenvalues of the differencing form among residuals; above that a beta distribution with the exact
/// mean and variance (Durbin & Watson 1951, section 4). `None` with fewer than three degrees of freedom, an exact fit, or no neighbours.
#[must_use]
pub fn durbin_watson(rows: &impl RunRows, basis: &RunBasis, residuals: impl Iterator<Item = f64>) -> Option<DurbinWatson> {
    let n = rows.total();
    let mut total = 0.0;
    let mut differences = 0.0;
    let mut found = 0;
    {
        let mut ends = (0..rows.blocks()).map(|block| end_of_block(rows, block));
        let mut end = ends.next().unwrap_or(n);
        let mut before: Option<f64> = None;
        residuals.for_each(|e| {
            while found >= end {
                before = None;
                end = ends.next().unwrap_or(n + 1);
            }
            if let Some(before) = before {
                differences += (e - before) * (e - before);
            }
            before = Some(e);
            total += e * e;
            found += 1;
        });
    }
    if found != n || !total.is_normal() {
        return None;
    }
    let statistic = differences / total;
    let dof = n.checked_sub(basis.rank()).filter(|m| *m >= 3)?;
    let pairs: usize = (0..rows.blocks()).map(|block| size_of_block(rows, block).saturating_sub(1)).sum();
    if pairs == 0 {
        return None;
    }
    if dof <= EXACT_UP_TO {
        let eigenvalues = eigenvalues(rows, basis)?;
        let shifted: Vec<f64> = eigenvalues.iter().map(|v| v - statistic).collect();
        let p_alike = imhof_below_zero(&shifted)?;
        return Some(DurbinWatson { statistic, p_alike, p_alternating: 1.0 - p_alike, exact: true });
    }
    let (mean, variance) = moments(rows, basis, dof)?;
    // D/4 on (0, 1) as beta(a, b).
    let (m, v) = (mean / 4.0, variance / 16.0);
    let size = m * (1.0 - m) / v - 1.0;
    let (a, b) = (m * size, (1.0 - m) * size);
    let x = statistic / 4.0;
    // A beta variable by its F ratio; the statistic is below 4.
    let p_alternating = f_sf(x / (1.0 - x) * b / a, 2.0 * a, 2.0 * b)?;
    let p_alike = f_sf((1.0 - x) / x * a / b, 2.0 * b, 2.0 * a)?;
    Some(DurbinWatson { statistic, p_alike, p_alternating, exact: false })
}

fn end_of_block(rows: &impl RunRows, block: usize) -> usize {
    rows.block(block).next_back().map_or(0, |run| rows.readings(run).end)
}

fn size_of_block(rows: &impl RunRows, block: usize) -> usize {
    rows.block(block).next().map_or(0, |run| end_of_block(rows, block) - rows.readings(run).start)
}

/// Eigenvalues of the differencing form among residuals. A block that its own terms fit exactly has no residuals and is left out.
fn eigenvalues(rows: &impl RunRows, basis: &RunBasis) -> Option<Vec<f64>> {
    let mut vectors: Vec<Vec<f64>> = Vec::new();
    let mut joined: Vec<bool> = Vec::new();
    let (mut row, mut at) = (basis.scratch(), vec![0.0; basis.width()]);
    let shared = basis.width() - 2;
    let own_terms = |block: usize| basis.own_rank_of(block);
    let open: Vec<usize> = (0..rows.blocks()).filter(|block| size_of_block(rows, *block) > own_terms(*block)).collect();
    for (place, block) in open.iter().enumerate() {
        let mut first = true;
        for run in rows.block(*block) {
            basis.at(rows, *block, run, &mut row, &mut at);
            let root = rows.weight(run).sqrt();
            for _ in rows.readings(run) {
                let mut vector = vec![0.0; 2 * open.len() + shared];
                vector.iter_mut().skip(2 * place).take(2).zip(&at).for_each(|(slot, value)| *slot = root * value);
                vector.iter_mut().skip(2 * open.len()).zip(at.iter().skip(2)).for_each(|(slot, value)| *slot = root * value);
                vectors.push(vector);
                joined.push(!std::mem::take(&mut first));
            }
        }
    }
    let n = vectors.len();
    let columns = vectors.first()?.len();
    let used: Vec<usize> = (0..columns).filter(|c| vectors.iter().any(|v| v.get(*c).is_some_and(|v| *v != 0.0))).collect();
    let entry = |row: usize, column: usize| vectors.get(row).and_then(|v| v.get(*used.get(column)?)).copied().unwrap_or(0.0);
    let design = DMatrix::from_fn(n, used.len(), entry);
    let complete = complete_basis(&design);
    let free: Vec<&[f64]> = complete.chunks_exact(n).skip(used.len()).collect();
    let pairs = joined.iter().filter(|j| **j).count();
    let differenced: Vec<f64> = free.iter().flat_map(|q| differences(q, &joined)).collect();
    let tall = DMatrix::from_vec(pairs, free.len(), differenced);
    Some((tall.transpose() * &tall).symmetric_eigenvalues().iter().copied().collect())
}

fn differences<'a>(values: &'a [f64], joined: &'a [bool]) -> impl Iterator<Item = f64> + 'a {
    values.iter().zip(values.iter().skip(1)).zip(joined.iter().skip(1)).filter(|(_, joined)| **joined).map(|((a, b), _)| b - a)
}

/// Exact mean and variance of the statistic (Durbin & Watson 1950, section 3): traces of `MA` and `(MA)²`.
///
/// The differencing form `A` joins readings of one block only, and the values of a basis vector are equal within a run, so that all products are sums over
/// the borders of runs.
fn moments(rows: &impl RunRows, basis: &RunBasis, dof: usize) -> Option<(f64, f64)> {
    let width = basis.width();
    let mut trace_a = 0.0;
    let mut trace_a2 = 0.0;
    // QᵀAQ among shared vectors, whole; of the block's own ones, block by block
    let mut shared = vec![0.0; width * width];
    let (mut first, mut second, mut cross) = (0.0, 0.0, 0.0);
    let (mut row, mut here) = (basis.scratch(), vec![0.0; width]);
    let mut before = vec![0.0; width];
    let (mut step, mut now) = (vec![0.0; width], vec![0.0; width]);
    for block in 0..rows.blocks() {
        let size = size_of_block(rows, block) as f64;
        if size >= 2.0 {
            trace_a += 2.0 * (size - 1.0);
            trace_a2 += 2.0 + 4.0 * (size - 2.0) + 2.0 * (size - 1.0);
        }
        let mut own = vec![0.0; width * width];
        // step into the run at hand, where the run before has only one reading: its image joins both steps
        let mut stepped = false;
        let mut single = false;
        let mut any = false;
        for run in rows.block(block) {
            basis.at(rows, block, run, &mut row, &mut here);
            let root = rows.weight(run).sqrt();
            here.iter_mut().for_each(|value| *value *= root);
            if any {
                now.iter_mut().zip(here.iter().zip(&before)).for_each(|(slot, (a, b))| *slot = a - b);
                for (a, x) in now.iter().enumerate() {
                    for (b, y) in now.iter().enumerate() {
                        if let Some(slot) = own.get_mut(a * width + b) {
                            *slot += x * y;
                        }
                    }
                }
                // the reading before the border has the image (step into it) − (step out of it); that after it, the step
                for (component, out) in now.iter().enumerate() {
                    let into = if stepped && single { step.get(component).copied().unwrap_or(0.0) } else { 0.0 };
                    second += (into - out) * (into - out);
                }
                if !single && stepped {
                    second += step.iter().map(|step| step * step).sum::<f64>();
                }
                std::mem::swap(&mut step, &mut now);
                stepped = true;
            }
            single = rows.count(run) == 1;
            any = true;
            std::mem::swap(&mut before, &mut here);
        }
        if stepped {
            second += step.iter().map(|step| step * step).sum::<f64>();
        }
        for a in 0..width {
            first += own.get(a * width + a).copied().unwrap_or(0.0);
            for b in 0..width {
                let entry = own.get(a * width + b).copied().unwrap_or(0.0);
                if a < 2 || b < 2 {
                    cross += entry * entry;
                } else if let Some(slot) = shared.get_mut(a * width + b) {
                    *slot += entry;
                }
            }
        }
    }
    cross += shared.iter().map(|entry| entry * entry).sum::<f64>();
    let p = trace_a - first;
    let q = trace_a2 - 2.0 * second + cross;
    let m = dof as f64;
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
