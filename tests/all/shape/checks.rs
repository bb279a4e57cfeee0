//! The checks on the fit must not find the spread between passes again: each finds something in about one log in twenty.

use super::bench_log::{Normals, Truth, drawn, reading, trial};
use rayon::prelude::*;
use std::collections::BTreeMap;
use taperwright::shape::{Shape, fit_shapes};
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

/// The shape of one pass with readings (station mm, diameter mm).
fn shape_of(readings: &[(f64, f64)]) -> Shape {
    shape_in_steps(readings, 0.001)
}

/// The same, of a gauge that reads in steps of `step_mm`.
fn shape_in_steps(readings: &[(f64, f64)], step_mm: f64) -> Shape {
    let log = readings.iter().enumerate().map(|(row, r)| reading(row as u64 + 2, 1, Direction::ToHeadstock, r.0, r.1)).collect();
    fit_shapes(&trial(log, step_mm), 1, 0).shapes.remove(0)
}

fn lack_sentence(shape: &Shape) -> &str {
    &shape.tests.iter().find(|t| t.name == "lack-of-fit").unwrap().interpretation
}

#[test]
fn two_collars_say_that_outliers_cannot_be_tested() {
    let two = shape_of(&[(0.0, 50.0), (200.0, 50.011)]);
    assert!(two.outliers.is_empty() && two.outliers_untested.unwrap().contains("three readings more"));
    let line: Vec<(f64, f64)> = (0..12).map(|i| (20.0 * f64::from(i), 50.0 + 0.001 * f64::from(i * 7 % 4))).collect();
    assert_eq!(shape_of(&line).outliers_untested, None, "twelve stations can");
    let exact: Vec<(f64, f64)> = (0..12).map(|i| (20.0 * f64::from(i), 50.0)).collect();
    assert!(shape_of(&exact).outliers_untested.unwrap().contains("without scatter"));
    let mut slip = exact;
    slip[6].1 += 0.02;
    let flagged = shape_of(&slip).outliers;
    assert_eq!(flagged.iter().map(|o| o.row).collect::<Vec<_>>(), [8], "all others agree exactly");
    slip[6].1 = 50.001;
    assert!(shape_of(&slip).outliers.is_empty(), "one step of the gauge is rounding");
}

#[test]
fn lack_of_fit_says_what_it_lacks() {
    let stations = [0.0, 50.0, 100.0, 150.0, 200.0];
    let once: Vec<(f64, f64)> = stations.iter().map(|z| (*z, 50.0 + z * z * 1e-7)).collect();
    let single = shape_of(&once);
    assert!(lack_sentence(&single).contains("two readings at each station"));
    let equal: Vec<(f64, f64)> = once.iter().flat_map(|r| [*r, *r]).collect();
    let repeated = shape_of(&equal);
    assert!(repeated.lack_of_fit.is_none() && lack_sentence(&repeated).contains("agree exactly"), "{}", lack_sentence(&repeated));
    let ends = shape_of(&[(0.0, 50.0), (0.0, 50.001), (200.0, 50.01), (200.0, 50.012)]);
    assert!(lack_sentence(&ends).contains("more stations"), "{}", lack_sentence(&ends));
    let unlike: Vec<(f64, f64)> = once.iter().flat_map(|r| [*r, (r.0, r.1 + 0.001)]).collect();
    assert!(shape_of(&unlike).lack_of_fit.is_some() && !lack_sentence(&shape_of(&unlike)).starts_with("Not made"));
}

#[test]
fn signs_that_the_step_of_the_gauge_keeps_to_one_side_are_told() {
    // 40 stations with 60 readings each that scatter by 1 µm, read in steps of 1 µm: by itself the step lowers the statistic by some
    // √2400/(6π) = 2.6. In steps of 0.01 µm it does not.
    let sentence = |step_mm: f64, wave_mm: f64| {
        let mut normals = Normals::new(20_261_126, 0);
        let mut readings = Vec::new();
        for station in 0..40_u32 {
            let place = 10.0 + 5.0 * f64::from(station);
            for _ in 0..60 {
                let value = 40.0 + 3.1e-5 * place + wave_mm * (0.9 * f64::from(station)).sin() + 0.001 * normals.draw();
                readings.push((place, (value / step_mm).round() * step_mm));
            }
        }
        let shape = shape_in_steps(&readings, step_mm);
        let runs = shape.tests.iter().find(|test| test.name == "runs").expect("a test of runs");
        (runs.statistic.expect("a statistic"), runs.interpretation.clone())
    };
    let (coarse, told) = sentence(0.001, 0.0);
    assert!(coarse < -1.0, "{coarse}: {told}");
    assert!(coarse > -1.9 || told.contains("the step of the gauge is enough to explain it"), "{coarse}: {told}");
    let (wavy, told) = sentence(0.001, 0.001);
    assert!(wavy < -6.0 && told.contains("explains a part of it"), "{wavy}: {told}");
    let (fine, told) = sentence(0.000_01, 0.0);
    assert!(fine > -2.0 && !told.contains("step"), "{fine}: {told}");
    let (wavy, told) = sentence(0.000_01, 0.001);
    assert!(wavy < -6.0 && told.ends_with("or the curve misses shape."), "{wavy}: {told}");
}
