//! A block's sums beside a dense covariance of its readings one by one: unlike gauges, repeats, unlike variances, factors that are no units.

use super::*;
use crate::causes::design::design;
use crate::causes::fixture;
use crate::trial::{Direction, Holding, SimulationRequest};
use nalgebra::{DMatrix, DVector};

/// Values of a trial, its table of bending filled, and rows on its second pass: two gauges, some readings standing for several.
fn made() -> (Values, Bending, Rows) {
    let request = SimulationRequest { passes: 2, stations_mm: vec![20.0, 80.0, 140.0, 200.0], ..SimulationRequest::default() };
    let request = SimulationRequest { directions: vec![Direction::ToHeadstock], ..request };
    let design = design(&fixture::read(&fixture::bar(Holding::Chuck), &request, 2)).unwrap();
    let mut values = design.model.hypers.values(&vec![0.2; design.model.hypers.len()]);
    (values.noise, values.slope_spread, values.gain) = (vec![4e-6, 9e-6], 0.7, 0.9);
    let mut bending = design.model.bending.clone();
    bending.fill(&values);
    let curve = |a: f64, b: f64, c: f64| [20.0, 80.0, 80.0, 140.0, 200.0, 20.0, 140.0, 200.0].map(|z: f64| a + b * z + c * z * z).to_vec();
    let column = |scale, targets, known, values| Column { cause: None, scale, targets, known, values };
    let rows = Rows {
        readings: [1.0, 4.0, -2.0, 3.0, 6.0, 11.0, 8.0, 15.0].map(|um| 38.0 + 1e-3 * um).to_vec(),
        noise: vec![0, 0, 0, 0, 0, 1, 1, 1],
        variance: vec![1.0, 1.0 / 3.0, 1.0, 0.5, 1.0, 1.0, 0.25, 1.0],
        random: vec![(Spread::Slope { factor: 1.3, noise: 0 }, curve(-1.2, 0.01, 0.0)), (Spread::Known(0.004), curve(0.3, -0.02, 1e-4))],
        columns: vec![
            column(Scale::One, vec![(0, 0.5)], Known::Gain(3.0), curve(0.0, 2e-3, 0.0)),
            column(Scale::RollArm, vec![(1, -2.0), (0, 3.0)], Known::None, curve(1e-5, 2e-6, -3e-8)),
            column(Scale::One, vec![(2, 1.5), (1, 0.25)], Known::Constant(0.7), curve(0.0, 0.0, 4e-6)),
        ],
        repeats: vec![(0, 2.0, 7e-6), (0, 1.0, 3e-6), (1, 3.0, 5e-6)],
        bent: Some((4, 4, vec![0, 1, 1, 2, 3, 0, 2, 3])),
    };
    (values, bending, rows)
}

/// Normal equations of the three unknowns with the reading as last row, and the log likelihood without unknowns up to a constant, from the
/// covariance of all readings: those that a mean stands for one by one, two more constants free.
fn dense(rows: &Rows, values: &Values, bending: &Bending) -> (DMatrix<f64>, f64) {
    let mut deviations = rows.repeats.iter();
    let (mut at, mut rest) = (Vec::new(), Vec::new());
    for (i, reading) in rows.readings.iter().enumerate() {
        let mut own = reading - bending.curve(4, 4)[rows.bent.as_ref().unwrap().2[i]];
        for column in &rows.columns {
            own -= values.scale(column.scale) * values.known(column.known) * column.values[i];
        }
        let count = (1.0 / rows.variance[i]).round() as usize;
        // two of them apart by what makes their squared deviations the stated sum
        let away = if count > 1 { (deviations.next().unwrap().2 / 2.0).sqrt() } else { 0.0 };
        for k in 0..count {
            at.push(i);
            rest.push(own + away * [1.0, -1.0, 0.0, 0.0][k]);
        }
    }
    let n = at.len();
    let mut covariance = DMatrix::from_fn(n, n, |i, j| if i == j { values.noise[rows.noise[at[i]]] } else { 0.0 });
    for (spread, term) in &rows.random {
        let variance = match spread {
            Spread::Known(sd) => sd * sd,
            Spread::Slope { factor, .. } => (factor * values.slope_spread).powi(2) * values.noise[0],
            Spread::Barrel { .. } => panic!("no such term"),
        };
        covariance += DMatrix::from_fn(n, n, |i, j| variance * term[at[i]] * term[at[j]]);
    }
    let mut contrasts: Vec<DVector<f64>> = Vec::new();
    for gauge in [0, 1] {
        let own: Vec<usize> = (0..n).filter(|i| rows.noise[at[*i]] == gauge).collect();
        for k in 1..own.len() {
            let size = ((k * (k + 1)) as f64).sqrt();
            let mut contrast = DVector::zeros(n);
            own[..k].iter().for_each(|i| contrast[*i] = 1.0 / size);
            contrast[own[k]] = -(k as f64) / size;
            contrasts.push(contrast);
        }
    }
    let k = DMatrix::from_columns(&contrasts).transpose();
    let mut vectors = DMatrix::zeros(n, 4);
    for (i, place) in at.iter().enumerate() {
        for column in &rows.columns {
            let size = values.scale(column.scale) * column.values[*place];
            column.targets.iter().for_each(|(unknown, factor)| vectors[(i, *unknown)] += factor * size);
        }
        vectors[(i, 3)] = rest[i];
    }
    let factor = (&k * covariance * k.transpose()).cholesky().unwrap();
    let seen = &k * vectors;
    (seen.transpose() * factor.solve(&seen), -factor.l().diagonal().iter().map(|d| d.ln()).sum::<f64>())
}

#[track_caller]
fn alike(found: impl Fn(usize, usize) -> f64, expected: &DMatrix<f64>) {
    for a in 0..4 {
        for b in 0..=a {
            let size = 1e-9 * (expected[(a, a)] * expected[(b, b)]).sqrt();
            assert!((found(a, b) - expected[(a, b)]).abs() < size, "{a} {b}: {} {}", found(a, b), expected[(a, b)]);
            assert!((found(a, b) * (1.0 + 1e-6) - expected[(a, b)]).abs() > size, "the comparison accepts anything");
        }
    }
}

#[test]
fn sums_are_those_of_the_dense_covariance() {
    let (values, bending, rows) = made();
    let block = rows.reduce();
    let (mut joint, mut local) = (Symmetric::zeros(4), Local::new());
    let log = block.add_to(&values, &bending, &mut joint, &mut local);
    let (expected, expected_log) = dense(&rows, &values, &bending);
    alike(|a, b| joint.get(a, b), &expected);
    // at other noise and spread the likelihood changes as the dense one does; what does not change is one constant
    let other = Values { noise: vec![1e-6, 2.5e-5], slope_spread: 2.0, ..values };
    let other_log = block.add_to(&other, &bending, &mut Symmetric::zeros(4), &mut local);
    let change = dense(&rows, &other, &bending).1 - expected_log;
    assert!((other_log - log - change).abs() < 1e-9 && change.abs() > 0.1, "{log} {other_log} {change}");
}

/// Other readings in the place of the block's own, their means of as many readings with the same deviations.
#[test]
fn other_readings_make_the_dense_last_row() {
    let (values, bending, rows) = made();
    let mut other = rows.clone();
    other.readings = [3.0, -5.0, 2.0, 9.0, -1.0, 0.0, 7.0, -6.0].map(|um| 38.0 + 1e-3 * um).to_vec();
    let (mut joint, mut local) = (Symmetric::zeros(4), Local::new());
    let (_, kept) = rows.reduce().add_and_keep(&values, &bending, &mut joint, &mut local);
    let mut right = vec![0.0; 4];
    kept.add(&rows.reading_sums(&rows.centred(), &other.readings), &bending, &mut right, &mut Vec::new());
    let (expected, _) = dense(&other, &values, &bending);
    alike(|a, b| if a == 3 { right[b] } else { joint.get(a, b) }, &expected);
}

/// Rows without readings say nothing, whatever the scratch space held.
#[test]
fn no_readings_add_nothing() {
    let (values, bending, mut rows) = made();
    let (mut joint, mut local) = (Symmetric::zeros(4), Local::new());
    rows.reduce().add_to(&values, &bending, &mut joint, &mut local);
    (rows.readings, rows.noise, rows.variance, rows.repeats, rows.bent) = (vec![], vec![], vec![], vec![], None);
    rows.random.iter_mut().for_each(|(_, term)| term.clear());
    rows.columns.iter_mut().for_each(|column| column.values.clear());
    let mut empty = Symmetric::zeros(4);
    assert_eq!(rows.reduce().add_to(&values, &bending, &mut empty, &mut local), 0.0);
    assert!((0..4).all(|a| (0..=a).all(|b| empty.get(a, b) == 0.0)) && joint.get(3, 3) > 0.0);
}
