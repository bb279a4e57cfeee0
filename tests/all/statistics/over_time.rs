//! EWMA charts against the e-Handbook, and the trend against quadrature in a general-purpose library.

use super::fixture::Table;
use super::tolerances::{Tolerance, assert_near};
use rand::{Rng, SeedableRng};
use rand_chacha::ChaCha20Rng;
use taperwright::statistics::distributions::normal_quantile;
use taperwright::statistics::{Dated, Target, ewma_chart, trend};

/// NIST/SEMATECH e-Handbook 6.3.2.4: the averages as printed (from memory; the sixth is remembered as 49.12, which its own neighbours contradict, and is recomputed:
/// 0.3 · 47.0 + 0.7 · 50.16 = 49.21). λ = 0.3, s = 2.0539, EWMA₀ = 50.
const PRINTED: [f64; 20] = [
    50.60, 49.52, 50.56, 50.18, 50.16, 49.21, 49.75, 49.85, 50.26, 50.33, 50.11, 49.36, 49.52, 50.05, 49.38, 49.92, 50.73, 51.23, 51.94,
    51.99,
];
/// Limits as printed there (from memory): the constant band that the exact limits approach.
const LIMITS: (f64, f64) = (47.4115, 52.5884);

#[test]
fn the_handbooks_example_comes_out() {
    let y = Table::read("published/e-handbook/ewma.csv").column("y").to_vec();
    let values: Vec<(f64, f64)> = y.iter().map(|y| (*y, 2.0539)).collect();
    let chart = ewma_chart(&values, 0.3, 3.0, Target::Known(50.0)).unwrap();
    for (point, printed) in chart.points.iter().zip(PRINTED) {
        assert_near("EWMA", point.average, printed, Tolerance::Absolute(0.0051));
        assert!(!point.is_outside(), "none of them signals there");
    }
    let last = chart.points.last().unwrap();
    assert_near("lower limit", last.low, LIMITS.0, Tolerance::Absolute(1e-4));
    assert_near("upper limit", last.high, LIMITS.1, Tolerance::Absolute(1e-4));
    // shown another weight, both comparisons fail
    let other = ewma_chart(&values, 0.25, 3.0, Target::Known(50.0)).unwrap();
    assert!(other.points.iter().zip(PRINTED).any(|(point, printed)| (point.average - printed).abs() > 0.0051));
    assert!((other.points[19].high - LIMITS.1).abs() > 1e-4);
    // a step of two standard deviations is seen after a few values
    let stepped: Vec<(f64, f64)> = values.iter().enumerate().map(|(i, (y, u))| (if i < 10 { *y } else { y + 2.0 * u }, *u)).collect();
    assert!(ewma_chart(&stepped, 0.3, 3.0, Target::Known(50.0)).unwrap().points.iter().any(taperwright::statistics::EwmaPoint::is_outside));
}

fn normal(chance: &mut ChaCha20Rng) -> f64 {
    normal_quantile(chance.random_range(1e-12..1.0)).unwrap()
}

#[test]
fn limits_about_the_weighted_mean_are_three_standard_deviations_of_what_is_drawn() {
    let u = [1.0, 2.0, 0.5, 3.0, 1.0];
    let limits = ewma_chart(&u.map(|u| (0.0, u)), 0.3, 3.0, Target::WeightedMean).unwrap();
    let mut chance = ChaCha20Rng::seed_from_u64(7);
    let draws = 20_000;
    let mut squares = [0.0; 5];
    for _ in 0..draws {
        let values = u.map(|u| (u * normal(&mut chance), u));
        let chart = ewma_chart(&values, 0.3, 3.0, Target::WeightedMean).unwrap();
        for (sum, point) in squares.iter_mut().zip(&chart.points) {
            *sum += (point.average - chart.target).powi(2);
        }
    }
    for (sum, point) in squares.iter().zip(&limits.points) {
        let drawn = (sum / f64::from(draws)).sqrt();
        // the standard deviation of 20,000 draws is known to 0.5 %
        assert_near("standard deviation", drawn, point.high / 3.0, Tolerance::Relative(0.02));
    }
    assert_eq!(ewma_chart(&[], 0.3, 3.0, Target::WeightedMean), None);
    assert_eq!(ewma_chart(&[(1.0, 0.0)], 0.3, 3.0, Target::WeightedMean), None);
    assert_eq!(ewma_chart(&[(1.0, 1.0)], 1.5, 3.0, Target::WeightedMean), None);
}

fn dated(times: &[f64], values: &[f64], u: &[f64]) -> Vec<Dated> {
    times.iter().zip(values).zip(u).map(|((time, value), u)| Dated { time: *time, value: *value, standard_uncertainty: *u }).collect()
}

#[test]
fn the_slope_agrees_with_adaptive_quadrature() {
    // `tests/reference/trend.txt`, made by `trend.py` beside it: mean, standard deviation, ends of the 95 % interval
    let cases = [
        (
            dated(&[2023.3, 2024.3, 2025.3, 2026.3], &[11.5, 19.2, 26.0, 33.9], &[1.7, 1.6, 1.6, 1.8]),
            [7.39002185, 0.98580458, 5.475442, 9.30826261],
        ),
        (
            dated(&[0.0, 0.4, 1.1, 2.0, 3.5], &[4.0, -3.0, 5.0, -1.0, 9.0], &[1.0, 1.5, 0.8, 1.2, 2.0]),
            [1.62006161, 1.58313495, -1.45295425, 4.8482946],
        ),
        (dated(&[0.0, 2.0], &[3.0, 10.0], &[1.0, 1.4]), [3.5, 1.70293864, 0.449205439, 6.55079456]),
    ];
    for (values, expected) in cases {
        let found = trend(&values).unwrap();
        let close = |found: f64, expected: f64| (found - expected).abs() <= 2e-3 * expected.abs();
        let numbers = [found.slope, found.standard_uncertainty, found.low, found.high];
        for (number, expected) in numbers.into_iter().zip(expected) {
            assert!(close(number, expected), "{numbers:?} {expected}");
            assert!(!close(number * 1.005, expected), "half a per cent off must be seen");
        }
    }
}

#[test]
fn the_stated_slope_is_the_weighted_line() {
    // two values: (10 − 3)/2 with √(1 + 1.4²)/2
    let two = trend(&dated(&[0.0, 2.0], &[3.0, 10.0], &[1.0, 1.4])).unwrap();
    assert_near("slope", two.stated.0, 3.5, Tolerance::Relative(1e-12));
    assert_near("its uncertainty", two.stated.1, (1.0_f64 + 1.96).sqrt() / 2.0, Tolerance::Relative(1e-12));
    assert_eq!(two.scatter, None);
    assert!(two.high - two.low > 2.0 * 1.96 * two.stated.1, "what may wander makes the interval wider");
    assert_eq!(trend(&dated(&[1.0, 1.0], &[3.0, 10.0], &[1.0, 1.4])), None, "one time");
    assert_eq!(trend(&dated(&[1.0], &[3.0], &[1.0])), None);
    for wrong in [f64::NAN, f64::INFINITY, f64::NEG_INFINITY] {
        for place in 0..3 {
            let (times, values, u) = ([1.0, 2.0, 4.0], [3.0, 10.0, 4.0], [1.0, 1.4, 1.2]);
            let put = |mut of: [f64; 3], here: bool| {
                of[place] = if here { wrong } else { of[place] };
                of
            };
            for column in 0..3 {
                let values = dated(&put(times, column == 0), &put(values, column == 1), &put(u, column == 2));
                assert_eq!(trend(&values), None, "{values:?}");
            }
        }
    }
    for u in [0.0, -1.0] {
        assert_eq!(trend(&dated(&[1.0, 2.0, 4.0], &[3.0, 10.0, 4.0], &[1.0, u, 1.0])), None, "{u}");
    }
    assert!(trend(&dated(&[1.0, 2.0, 4.0], &[3.0, 10.0, 4.0], &[1.0, 1.4, 1.2])).is_some());
}

/// Values on a line: the line's value at the centre is that, whatever wanders. Off it, the scatter about the weighted line.
#[test]
fn the_centre_lies_on_the_line() {
    let (times, u) = ([2.0, 2.5, 3.25, 5.5], [1.0, 1.5, 0.75, 2.0]);
    let found = trend(&dated(&times, &times.map(|t| 200.0 + 3.0 * t), &u)).unwrap();
    // numpy 2.4.6: means weighted by 1/u² of the times, here and below
    assert_near("centre", found.centre_time, 2.956, Tolerance::Relative(1e-12));
    assert_near("value there", found.centre_value, 208.868, Tolerance::Relative(1e-12));
    assert!(!Tolerance::Relative(1e-12).accepts(found.centre_value + 1e-6, 208.868));
    assert_near("no scatter", found.scatter.unwrap().0, 0.0, Tolerance::Absolute(1e-20));
    let found = trend(&dated(&times, &[4.0, -3.0, 5.0, 9.0], &u)).unwrap();
    assert_near("slope", found.stated.0, 1.843_532_517_398_607_5, Tolerance::Relative(1e-12));
    // scipy 1.17.1, chi2.sf(q, 2)
    let (square, p) = found.scatter.unwrap();
    assert_near("scatter", square, 20.362_211_023_118_15, Tolerance::Relative(1e-12));
    assert_near("its tail", p, 3.787_930_976_023_653e-5, Tolerance::Relative(1e-11));
    // one time, which is no sum of powers of two, so that its weighted mean may be another number
    for time in [2023.7, 0.1, 1.3, 77.77] {
        let others = [0.3, 1.4, 0.7, 2.3, 1.9];
        assert_eq!(trend(&dated(&[time; 5], &[3.0, 10.0, 4.0, 8.0, 1.0], &others)), None, "{time}");
    }
}

#[test]
fn the_interval_covers_the_slope_with_and_without_wandering() {
    let mut chance = ChaCha20Rng::seed_from_u64(11);
    for wandering in [0.0, 1.0] {
        let runs = 100;
        let covered = (0..runs)
            .filter(|_| {
                let values: Vec<Dated> = [0.0, 1.0, 2.1, 3.0]
                    .iter()
                    .map(|time| Dated {
                        time: *time,
                        value: 0.7 * time + normal(&mut chance) + wandering * normal(&mut chance),
                        standard_uncertainty: 1.0,
                    })
                    .collect();
                let found = trend(&values).unwrap();
                found.low <= 0.7 && 0.7 <= found.high
            })
            .count();
        // 95 % of 100 is 95 ± 2
        assert!(covered >= 89, "{covered} of {runs} at wandering {wandering}");
    }
}
