//! The checks on the fit must not find the spread between passes again: each finds something in about one log in twenty.

use super::bench_log::{Normals, Truth, drawn, reading, trial};
use rayon::prelude::*;
use std::collections::BTreeMap;
use taperwright::shape::{Shape, fit_shapes};
use taperwright::trial::{DiameterReading, Direction};

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
    // four passes over two stations leave three degrees of freedom beside levels and one slope: that slopes differ is no lack of fit
    let many: Vec<DiameterReading> = (0..16_u32)
        .map(|i| {
            reading(u64::from(i) + 2, i / 4 + 1, Direction::ToHeadstock, 200.0 * f64::from(i / 2 % 2), 50.0 + 1e-3 * f64::from(i * 7 % 5))
        })
        .collect();
    let several = fit_shapes(&trial(many, 1e-6), 1, 0).shapes.remove(0);
    assert!(
        several.lack_of_fit.is_none() && lack_sentence(&several).contains("two stations show a straight line"),
        "{}",
        lack_sentence(&several)
    );
    let ends = shape_of(&[(0.0, 50.0), (0.0, 50.001), (200.0, 50.01), (200.0, 50.012)]);
    assert!(lack_sentence(&ends).contains("more stations"), "{}", lack_sentence(&ends));
    let unlike: Vec<(f64, f64)> = once.iter().flat_map(|r| [*r, (r.0, r.1 + 0.001)]).collect();
    assert!(shape_of(&unlike).lack_of_fit.is_some() && !lack_sentence(&shape_of(&unlike)).starts_with("Not made"));
}

#[test]
fn runs_are_not_counted_where_the_step_of_the_gauge_takes_them_away() {
    // 40 stations with 60 readings each that scatter by 1 µm, read in steps of 1 µm: by itself the step lowers the statistic by some
    // √2400/(6π) = 2.6. In steps of 0.01 µm it does not.
    let test = |step_mm: f64, wave_mm: f64| {
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
        shape.tests.into_iter().filter(|test| ["runs", "durbin-watson"].contains(&test.name)).map(|test| (test.p, test.interpretation))
    };
    let found: Vec<_> =
        [(0.001, 0.0), (0.001, 0.001), (0.000_01, 0.0), (0.000_01, 0.001)].map(|(step, wave)| test(step, wave)).into_iter().collect();
    let all: Vec<Vec<_>> = found.into_iter().map(Iterator::collect).collect();
    for coarse in &all[..2] {
        assert!(coarse[1].0.is_none() && coarse[1].1.contains("gauge's step is coarse"), "{coarse:?}");
    }
    // the wave itself is still found, by the test that the step does not break
    assert!(all[0][0].0.unwrap() > 0.001 && all[1][0].0.unwrap() < 1e-6, "{all:?}");
    assert!(all[2][1].0.unwrap() > 0.01 && all[3][1].0.unwrap() < 1e-6 && all[3][1].1.ends_with("or the curve misses shape."), "{all:?}");
}

/// Forty readings that scatter by 1 µm as rounded to `step_mm`, the gauge stated to read so.
fn forty(step_mm: f64) -> Shape {
    let mut normals = Normals::new(20_261_128, 3);
    let readings: Vec<(f64, f64)> = (0..40)
        .map(|i| (5.0 * f64::from(i / 2), 40.0 + 2.7e-5 * f64::from(i / 2) + 0.001 * normals.draw()))
        .map(|(place, value)| (place, (value / step_mm).round() * step_mm))
        .collect();
    shape_in_steps(&readings, step_mm)
}

#[test]
fn a_coarse_step_is_told_and_raises_no_alarm() {
    let broken = ["lack-of-fit", "order", "durbin-watson", "runs", "normality", "equal-spread-stations", "period"];
    let of = |step_mm: f64| {
        let shape = forty(step_mm);
        let coarse: Vec<&str> = shape.tests.iter().filter(|t| t.interpretation.contains("step is coarse")).map(|t| t.name).collect();
        assert!(shape.tests.iter().all(|t| !coarse.contains(&t.name) || t.p.is_none() && t.statistic.is_none()));
        assert_eq!(shape.lack_of_fit.is_none(), coarse.contains(&"lack-of-fit"));
        let spread = shape.tests[5].interpretation.contains("spread over the step");
        (coarse, spread)
    };
    assert_eq!(of(1e-5), (vec![], false));
    // √40·0.7² is 3.1 beside 1.2; of changes of sign 0.17 of their standard deviation is lost
    assert_eq!(of(7e-4), (vec![], true));
    assert_eq!(of(1.5e-3), (vec!["runs"], true));
    assert_eq!(of(3e-3), (broken.to_vec(), false));
}
