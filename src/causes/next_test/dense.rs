//! Dense covariances of all readings at a point, to put beside what a test would leave: no blocks, no factor, no lanes.

use super::super::design::{Design, design};
use super::super::draws::standard_normal;
use super::super::hyper::Values;
use super::super::posterior::{Draw, DrawnContribution, Posterior};
use super::super::unknowns::{Meaning, NEGLIGIBLE, Unknown};
use super::super::values::{CauseKind, NextTestKind};
use super::super::{candidates::candidates, fixture};
use crate::trial::*;
use nalgebra::{DMatrix, DVector};
use rand::SeedableRng;
use rand_chacha::ChaCha20Rng;
use std::collections::BTreeMap;

/// Diameters of two settings cut both ways by one edge, and an indicator run; levels and clamp still open.
pub(super) fn trial() -> Trial {
    let mut trial = fixture::everything(Holding::Chuck);
    (trial.levels, trial.clamp) = (Vec::new(), Vec::new());
    trial.prior.way_wear_um = 4.0;
    trial.diameters.change(|_, r| r.edge = Some("a".into()));
    trial
}

/// Draws around the medians, each with a subset, unknowns and deviates of its own, and contributions that spread as stated.
pub(super) fn drawn(present: &Design, count: usize) -> Posterior {
    let mut rng = ChaCha20Rng::seed_from_u64(11);
    let model = &present.model;
    let draws: Vec<Draw> = (0..count)
        .map(|i| {
            let deviates: Vec<f64> = (0..model.hypers.len()).map(|_| 0.5 * standard_normal(&mut rng)).collect();
            let unknowns = model.unknowns.iter().map(|u| 0.4 * u.sd * standard_normal(&mut rng).abs()).collect();
            Draw { values: model.hypers.values(&deviates), deviates, subset: (5 * i + 3) % model.subsets(), unknowns }
        })
        .collect();
    let contribution = |k: usize| DrawnContribution {
        end_difference_um: (0..count).map(|i| (k + 2) as f64 * (i % 5) as f64).collect(),
        peak_um: vec![1.0; count],
    };
    let contributions: BTreeMap<(u32, CauseKind), _> =
        CauseKind::ALL.iter().enumerate().flat_map(|(k, cause)| [0, 1].map(|setting| ((setting, *cause), contribution(k)))).collect();
    fixture::posterior(present, draws, contributions)
}

/// The trial with a test made, by design.
pub(super) fn made(trial: &Trial, present: &Design, kind: NextTestKind, setting: u32) -> Design {
    let candidate = candidates(trial, present, setting).into_iter().find(|c| c.kind == kind).unwrap();
    design(&candidate.trial).unwrap()
}

/// Log density of readings up to a constant, and mean and covariance of the unknowns that may be negative, from the covariance of the readings
/// for which `keep` holds (`readings` by block), one constant free a block.
pub(super) fn dense(
    then: &Design,
    readings: &[Vec<f64>],
    keep: &dyn Fn(Place) -> bool,
    values: &Values,
    sd: &[f64],
    positive: &[f64],
) -> (f64, DVector<f64>, DMatrix<f64>) {
    let free = sd.len() - positive.len();
    let mut bending = then.model.bending.clone();
    bending.fill(values);
    let at: Vec<(usize, usize)> = (0..then.logged.len())
        .flat_map(|b| (0..readings[b].len()).map(move |i| (b, i)))
        .filter(|(b, i)| keep(then.logged[*b].places[*i]))
        .collect();
    let n = at.len();
    let (mut rest, mut curves) = (DVector::zeros(n), DMatrix::zeros(n, free));
    let mut covariance = DMatrix::zeros(n, n);
    for (row, (b, i)) in at.iter().enumerate() {
        let rows = &then.logged[*b].rows;
        rest[row] = readings[*b][*i];
        if let Some((first, count, stations)) = &rows.bent {
            rest[row] -= bending.curve(*first, *count)[stations[*i]];
        }
        for column in &rows.columns {
            let size = values.scale(column.scale) * column.values[*i];
            rest[row] -= size * values.known(column.known);
            for (unknown, factor) in &column.targets {
                if *unknown < free {
                    curves[(row, *unknown)] += factor * size;
                } else {
                    rest[row] -= factor * size * positive[unknown - free];
                }
            }
        }
        for (other, (c, j)) in at.iter().enumerate().filter(|(_, (c, _))| c == b) {
            let spread = rows.random.iter().map(|(spread, term)| spread.variance(values) * term[*i] * term[*j]).sum::<f64>();
            let noise = if (b, i) == (c, j) { values.noise[rows.noise[*i]] * rows.variance[*i] } else { 0.0 };
            covariance[(row, other)] = spread + noise;
        }
    }
    let mut contrasts: Vec<DVector<f64>> = Vec::new();
    for b in 0..then.logged.len() {
        let own: Vec<usize> = (0..n).filter(|row| at[*row].0 == b).collect();
        for k in 1..own.len() {
            let size = ((k * (k + 1)) as f64).sqrt();
            let mut contrast = DVector::zeros(n);
            own[..k].iter().for_each(|row| contrast[*row] = 1.0 / size);
            contrast[own[k]] = -(k as f64) / size;
            contrasts.push(contrast);
        }
    }
    let prior = DMatrix::from_diagonal(&DVector::from_iterator(free, sd[..free].iter().map(|sd| sd * sd)));
    let k = DMatrix::from_columns(&contrasts).transpose();
    let seen = &k * curves;
    let factor = (&k * covariance * k.transpose() + &seen * &prior * seen.transpose()).cholesky().unwrap();
    let rest = k * rest;
    let solved = factor.solve(&rest);
    let log = -factor.l().diagonal().iter().map(|d| d.ln()).sum::<f64>() - 0.5 * rest.dot(&solved);
    let across = seen * &prior;
    (log, across.transpose() * solved, &prior - across.transpose() * factor.solve(&across))
}

pub(super) fn old(place: Place) -> bool {
    place.file != usize::MAX
}

pub(super) fn everything(_: Place) -> bool {
    true
}

/// A draw carried over, by its parts: what is integrated by name, presences by what shares them, unknowns that cannot be negative by name.
pub(super) struct Point {
    pub(super) values: Values,
    pub(super) sd: Vec<f64>,
    pub(super) positive: Vec<f64>,
}

pub(super) fn point(draw: &Draw, present: &Design, then: &Design) -> Point {
    let before = |u: &Meaning| present.model.unknowns.iter().position(|p| p.meaning == *u);
    let noise = then.noise_names.iter().map(|name| draw.values.noise[present.noise_names.iter().position(|p| p == name).unwrap()]);
    let sd = |u: &Unknown| {
        let present_one = present
            .model
            .unknowns
            .iter()
            .find(|p| p.meaning == u.meaning || p.meaning.cause().is_some() && p.meaning.cause() == u.meaning.cause());
        let full = u.flag.is_none() || present_one.and_then(|p| p.flag).is_some_and(|flag| (draw.subset >> flag) % 2 == 1);
        if full { u.sd } else { NEGLIGIBLE * u.sd }
    };
    let unknowns = &then.model.unknowns;
    let positive = unknowns.iter().filter(|u| u.meaning.non_negative()).map(|u| draw.unknowns[before(&u.meaning).unwrap()]);
    Point {
        values: Values { noise: noise.collect(), ..draw.values.clone() },
        sd: unknowns.iter().map(sd).collect(),
        positive: positive.collect(),
    }
}

pub(super) fn logged(then: &Design) -> Vec<Vec<f64>> {
    then.logged.iter().map(|l| l.rows.readings.clone()).collect()
}

/// End difference of a cause in µm as a functional of the unknowns: what is fixed, and each unknown's factor.
pub(super) fn functional(present: &Design, then: &Design, cause: CauseKind, setting: u32, values: &Values) -> (f64, DVector<f64>) {
    let asked = present.references.iter().find(|r| r.main && r.setting == setting).unwrap();
    let own = then.references.iter().find(|r| r.main && r.setting == setting).unwrap();
    let ends = asked.ends_in(&own.stations).unwrap();
    let at = |unknowns: &[f64]| {
        let curve = own.curve(cause, values, unknowns);
        1000.0 * (curve[ends.1] - curve[ends.0])
    };
    let n = then.model.unknowns.len();
    let zero = at(&vec![0.0; n]);
    let unit = |u: usize| at(&(0..n).map(|k| f64::from(u8::from(k == u))).collect::<Vec<f64>>()) - zero;
    (zero, DVector::from_fn(n, |u, _| unit(u)))
}

pub(super) const OPEN: [CauseKind; 5] =
    [CauseKind::HeadstockYaw, CauseKind::BedTwist, CauseKind::ToolWear, CauseKind::Deflection, CauseKind::ThermalDrift];

/// Mean and variance of a cause's contribution given the readings at a point.
pub(super) fn contribution(f: &(f64, DVector<f64>), point: &Point, mean: &DVector<f64>, covariance: &DMatrix<f64>) -> (f64, f64) {
    let free = mean.len();
    let slope = f.1.rows(0, free);
    let positive: f64 = point.positive.iter().enumerate().map(|(p, v)| f.1[free + p] * v).sum();
    (f.0 + positive + slope.dot(mean), slope.dot(&(covariance * slope)))
}

#[track_caller]
pub(super) fn close(found: f64, expected: f64, relative: f64) {
    let near = |v: f64| (v - expected).abs() <= relative * expected.abs().max(1e-9);
    assert!(near(found), "{found} for {expected}");
    assert!(!near(found * (1.0 + 4.0 * relative)) || found.abs() < 1e-9, "the comparison accepts anything");
}
