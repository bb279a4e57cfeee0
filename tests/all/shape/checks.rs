//! The checks on the fit must not find the spread between passes again: each finds something in about one log in twenty.

use super::bench_log::{Normals, Truth, drawn, trial};
use rayon::prelude::*;
use std::collections::BTreeMap;
use taperwright::shape::fit_shapes;
use taperwright::trial::Direction;

const SEED: u64 = 20_261_125;

/// Share of `runs` logs, three passes each way over ten stations, in which each check has p below 0.05; and of those with an outlier.
fn found(between: f64, turned_over_mm: f64, runs: u64) -> BTreeMap<String, f64> {
    let each: Vec<Vec<String>> = (0..runs)
        .into_par_iter()
        .map(|run| {
            let mut rng = Normals::new(SEED, run);
            let truth = Truth { taper: 0.02, barrel: 0.0, sigma: 0.002, between };
            let mut readings = drawn(&mut rng, truth, 3, 3, 10, 1, 200.0);
            for reading in readings.iter_mut().filter(|r| r.direction == Direction::ToTailstock) {
                reading.diameter_mm += turned_over_mm * reading.station_mm / 200.0;
            }
            let outcome = fit_shapes(&trial(readings, 1e-5), 1, 0);
            let shape = &outcome.shapes[0];
            let mut names: Vec<String> = shape.tests.iter().filter(|t| t.p.is_some_and(|p| p < 0.05)).map(|t| t.name.to_owned()).collect();
            if !shape.outliers.is_empty() {
                names.push("outlier".to_owned());
            }
            names
        })
        .collect();
    let mut counts = BTreeMap::new();
    for name in each.iter().flatten() {
        *counts.entry(name.clone()).or_insert(0.0) += 1.0 / runs as f64;
    }
    counts
}

#[test]
fn spread_between_passes_is_not_found_again() {
    // Six passes with slopes that differ by 5 µm: three standard errors of one pass's taper and more.
    let shares = found(0.005, 0.0, 200);
    for name in ["direction", "durbin-watson", "runs", "normality", "equal-spread-passes", "equal-spread-stations", "outlier"] {
        let share = shares.get(name).copied().unwrap_or(0.0);
        assert!(share < 0.10, "{name} is found in {share:.3} of logs in which nothing of the kind is");
    }
}

#[test]
fn what_turns_over_with_the_cut_is_found() {
    let share = found(0.0, 0.012, 40).get("direction").copied().unwrap_or(0.0);
    assert!(share > 0.9, "a taper that turns over by 12 µm is found in {share:.2} of logs only");
}
