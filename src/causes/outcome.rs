//! Readings that a test might bring, drawn from the model.

use super::bending::Bending;
use super::block::{Column, Rows};
use super::draws::standard_normal;
use super::hyper::Values;
use nalgebra::{DMatrix, DVector};
use rand_chacha::ChaCha20Rng;

/// The rows with only the readings at the places `keep`.
pub(super) fn only(rows: &Rows, keep: &[usize]) -> Rows {
    let pick = |v: &[f64]| keep.iter().map(|i| v[*i]).collect::<Vec<f64>>();
    Rows {
        readings: pick(&rows.readings),
        noise: keep.iter().map(|i| rows.noise[*i]).collect(),
        variance: pick(&rows.variance),
        random: rows.random.iter().map(|(s, v)| (*s, pick(v))).collect(),
        columns: rows.columns.iter().map(|c| Column { values: pick(&c.values), ..c.clone() }).collect(),
        repeats: rows.repeats.clone(),
        bent: rows.bent.as_ref().map(|(first, count, at)| (*first, *count, keep.iter().map(|i| at[*i]).collect())),
    }
}

/// What the model says of each reading, without constant, random terms and noise.
pub(super) fn expected(rows: &Rows, values: &Values, unknowns: &[f64], bending: &Bending) -> Vec<f64> {
    let mut sum = match &rows.bent {
        Some((first, count, at)) => {
            let curve = bending.curve(*first, *count);
            at.iter().map(|s| curve.get(*s).copied().unwrap_or(0.0)).collect()
        }
        None => vec![0.0; rows.readings.len()],
    };
    for column in &rows.columns {
        let own: f64 = column.targets.iter().map(|(t, f)| f * unknowns[*t]).sum();
        let coefficient = values.scale(column.scale) * (own + values.known(column.known));
        sum.iter_mut().zip(&column.values).for_each(|(s, v)| *s += coefficient * v);
    }
    sum
}

/// Mean of constant and random terms given the readings at `old`, and the factor of their precision.
///
/// The constant has a flat prior, fixed at 0 where there is no old reading.
pub(super) fn random_part(
    rows: &Rows,
    old: &[usize],
    residual: &[f64],
    values: &Values,
) -> Option<(DVector<f64>, nalgebra::Cholesky<f64, nalgebra::Dyn>)> {
    let terms = rows.random.len() + 1;
    let at = |t: usize, i: usize| if t == 0 { 1.0 } else { rows.random[t - 1].1[i] };
    let mut precision = DMatrix::zeros(terms, terms);
    let mut right = DVector::zeros(terms);
    for i in old {
        let weight = 1.0 / (values.noise_variance(rows.noise[*i]) * rows.variance[*i]);
        for a in 0..terms {
            right[a] += weight * at(a, *i) * residual[*i];
            for b in 0..terms {
                precision[(a, b)] += weight * at(a, *i) * at(b, *i);
            }
        }
    }
    if old.is_empty() {
        precision[(0, 0)] = 1e30;
    }
    for (t, (spread, _)) in rows.random.iter().enumerate() {
        precision[(t + 1, t + 1)] += 1.0 / spread.variance(values).max(1e-30);
    }
    let factor = precision.cholesky()?;
    Some((factor.solve(&right), factor))
}

/// The readings with those that are `new` drawn, given those that are not; `None` where these leave the random terms undetermined.
pub(super) fn filled_in(
    rows: &Rows,
    new: &[bool],
    values: &Values,
    unknowns: &[f64],
    bending: &Bending,
    rng: &mut ChaCha20Rng,
) -> Option<Vec<f64>> {
    let says = expected(rows, values, unknowns, bending);
    let old: Vec<usize> = (0..new.len()).filter(|i| !new[*i]).collect();
    let residual: Vec<f64> = rows.readings.iter().zip(&says).map(|(y, s)| y - s).collect();
    let mut readings = rows.readings.clone();
    let (mean, factor) = random_part(rows, &old, &residual, values)?;
    let normals = DVector::from_fn(mean.len(), |_, _| standard_normal(rng));
    let drawn = mean + factor.l_dirty().tr_solve_lower_triangular(&normals).unwrap_or_else(|| DVector::zeros(normals.len()));
    for i in (0..new.len()).filter(|i| new[*i]) {
        let random: f64 = rows.random.iter().enumerate().map(|(t, (_, v))| drawn[t + 1] * v[i]).sum();
        let noise = (values.noise_variance(rows.noise[i]) * rows.variance[i]).sqrt() * standard_normal(rng);
        readings[i] = says[i] + drawn[0] + random + noise;
    }
    Some(readings)
}
