//! Shapes of logs whose taper, curve and order can be worked out by hand.

use super::bench_log::{reading, trial};
use taperwright::shape::{Shape, fit_shapes};
use taperwright::trial::{DiameterReading, Direction};

/// A pass with the diameter `curve(x)`, `x` from −1 to 1 over the stations, read twice a nanometre apart.
fn pass(number: u32, stations: &[f64], curve: impl Fn(f64) -> f64) -> Vec<DiameterReading> {
    let (first, last) = (stations[0], stations[stations.len() - 1]);
    let twice = |station: &f64| {
        let x = (2.0 * station - first - last) / (last - first);
        [-1e-6, 1e-6].map(|error| reading(u64::from(number), number, Direction::ToHeadstock, *station, 38.0 + curve(x) + error))
    };
    stations.iter().flat_map(twice).collect()
}

fn shape(readings: Vec<DiameterReading>) -> Shape {
    let mut trial = trial(readings, 1e-7);
    trial.gauge.diameter.u_mm = 1e-6;
    fit_shapes(&trial, 1, 0).shapes.remove(0)
}

fn close(found: f64, expected: f64, tolerance: f64) -> bool {
    (found - expected).abs() <= tolerance
}

#[test]
fn each_pass_has_its_own_taper_and_the_robust_one_agrees_where_all_agree() {
    let stations = [10.0, 60.0, 110.0, 210.0];
    let tapers = [0.010, 0.020, 0.060];
    let cut = |tapers: [f64; 3]| {
        let passes =
            tapers.iter().zip(1..).flat_map(|(taper, number)| pass(number, &stations, move |x| 0.5 * taper * x - 0.1 * f64::from(number)));
        shape(passes.collect())
    };
    let found = cut(tapers);
    assert!(close(found.taper.value, 0.030, 1e-6), "{}", found.taper.value);
    for (own, (taper, number)) in found.pass_summaries.iter().zip(tapers.iter().zip(1..)) {
        assert!(
            own.pass == number && close(own.taper_mm.unwrap(), *taper, 1e-5) && close(own.level_mm, 38.0 - 0.1 * f64::from(number), 1e-5),
            "{own:?}"
        );
    }
    let alike = cut([0.020; 3]);
    assert!(close(alike.taper.robust.value, 0.020, 1e-5) && close(alike.taper.value, 0.020, 1e-6), "{}", alike.taper.robust.value);
    assert!(!close(alike.taper.robust.value, 0.021, 1e-5), "a micrometre more must be seen");
}

/// The drawn curve goes through exact diameters: a line, a parabola and a cubic, relative to the middle, from the first station to the last.
#[test]
fn the_curve_goes_through_exact_diameters() {
    let stations: Vec<f64> = (0..7).map(|i| 30.0 + 20.0 * f64::from(i)).collect();
    let line = |x: f64| 0.015 * x;
    let parabola = |x: f64| 0.015 * x + 0.008 * x * x;
    let cubic = |x: f64| 0.015 * x + 0.008 * x * x - 0.012 * (2.5 * x * x * x - 1.5 * x);
    let curves: [(usize, &dyn Fn(f64) -> f64); 3] = [(1, &line), (2, &parabola), (3, &cubic)];
    for (order, curve) in curves {
        let readings = (1..=3).flat_map(|number| pass(number, &stations, |x| curve(x) - 0.1 * f64::from(number)));
        let found = shape(readings.collect());
        if order > 1 {
            assert_eq!(found.order, order, "{:?}", found.orders);
        }
        let (first, last) = (found.curve[0], found.curve[60]);
        assert!(found.curve.len() == 61 && close(first.station_mm, 30.0, 1e-9) && close(last.station_mm, 150.0, 1e-9));
        for (place, station) in stations.iter().enumerate() {
            let point = found.curve[10 * place];
            let expected = curve((station - 90.0) / 60.0) - curve(0.0);
            assert!(close(point.station_mm, *station, 1e-9) && close(point.deviation_mm, expected, 2e-5), "{order}: {point:?} {expected}");
            assert!(point.band.low <= point.deviation_mm && point.deviation_mm <= point.band.high);
        }
    }
}

#[test]
fn passes_are_in_the_order_of_their_times_where_all_have_one() {
    let stations = [0.0, 100.0, 200.0];
    let mut readings: Vec<DiameterReading> = Vec::new();
    for (number, minute) in [(1, 50.0), (2, 10.0), (3, 30.0)] {
        readings.extend(pass(number, &stations, |x| 0.01 * x).into_iter().map(|r| DiameterReading { time_min: Some(minute), ..r }));
    }
    let order = |readings: Vec<DiameterReading>| -> Vec<u32> {
        let mut passes: Vec<u32> = shape(readings).points.iter().map(|point| point.pass).collect();
        passes.dedup();
        passes
    };
    assert_eq!(order(readings.clone()), [2, 3, 1]);
    readings.iter_mut().filter(|r| r.pass == 1).for_each(|r| r.time_min = None);
    assert_eq!(order(readings.into_iter().rev().collect()), [1, 2, 3], "by number where one has no time, whatever the order of the rows");
}

/// The lightest depth above 0, and of those the finest feed, make the shape; others are told and left out.
#[test]
fn the_lightest_and_finest_passes_make_the_shape() {
    let stations = [0.0, 100.0, 200.0];
    let mut readings = Vec::new();
    for (number, depth_mm, feed_mm_per_rev, taper) in
        [(1, 0.5, 0.1, 0.2), (2, 0.1, 0.3, 0.3), (3, 0.1, 0.05, 0.01), (4, 0.1, 0.05, 0.03), (5, 0.0, 0.05, 0.4)]
    {
        readings.extend(pass(number, &stations, |x| 0.5 * taper * x).into_iter().map(|r| DiameterReading {
            depth_mm,
            feed_mm_per_rev,
            ..r
        }));
    }
    let found = shape(readings);
    let inside: Vec<u32> = found.pass_summaries.iter().filter(|own| own.in_shape).map(|own| own.pass).collect();
    assert_eq!((inside, found.passes, found.passes_in_shape), (vec![3, 4], 5, 2));
    assert!(close(found.taper.value, 0.02, 1e-6), "{}", found.taper.value);
}

/// Residuals are what the diameters leave beside the fit, and ranks put them in order.
#[test]
fn residuals_are_ranked_from_the_least() {
    let error = [3.0, -1.0, 2.0, -4.0, 0.5, 1.5, -2.5, 0.25, -0.75];
    let mut next = error.iter().cycle();
    let readings = (1..=3).flat_map(|number| pass(number, &[0.0, 50.0, 100.0, 150.0, 200.0], |x| 0.01 * x)).map(|mut r| {
        r.diameter_mm += 0.001 * next.next().unwrap();
        r
    });
    let found = shape(readings.collect());
    let mut ranked = found.points.clone();
    ranked.sort_by_key(|point| point.rank);
    assert!(ranked.iter().zip(1..).all(|(point, rank)| point.rank == rank) && ranked.len() == 30);
    assert!(ranked.windows(2).all(|pair| pair[0].residual_mm <= pair[1].residual_mm), "from the least to the largest");
    assert!(found.points.iter().all(|point| close(point.fitted_mm + point.residual_mm, point.diameter_mm, 1e-12)));
    assert!(found.points.iter().zip(1..).all(|(point, place)| point.cutting_order == place));
    // a studentised residual has its residual's sign, and is the larger the larger that is among readings of one leverage
    let signs = found.points.iter().filter_map(|point| Some(point.studentised? * point.residual_mm));
    assert!(signs.clone().count() == 30 && signs.into_iter().all(|product| product >= 0.0));
}

/// Of a log with more readings than are shown, those shown have their rank among all readings, equal residuals the lowest that they share.
#[test]
fn the_ranks_of_a_long_log_are_those_among_all_readings() {
    let stations = [0.0, 50.0, 100.0, 150.0, 200.0];
    let mut state = 5_u64;
    let mut step = || {
        state = state.wrapping_mul(6_364_136_223_846_793_005).wrapping_add(1_442_695_040_888_963_407);
        (state >> 61) as f64 + (state >> 40 & 7) as f64 - 7.0
    };
    let mut readings = Vec::new();
    for (number, station) in (1..=6_u32).flat_map(|number| stations.map(|station| (number, station))) {
        for _ in 0..150 {
            let row = 2 + readings.len() as u64;
            readings.push(reading(row, number, Direction::ToHeadstock, station, 38.0 + 1e-5 * station + 0.001 * step()));
        }
    }
    let found = shape(readings.clone());
    assert!(found.points.len() > 1_000 && found.points.len() < readings.len() && readings.len() == 4_500);
    let of = |r: &DiameterReading| {
        let shown = found.points.iter().find(|point| point.pass == r.pass && point.station_mm == r.station_mm).unwrap();
        r.diameter_mm - shown.fitted_mm
    };
    // equal readings differ by rounding once the fit is taken from them: nothing lies between two steps of the gauge at one place
    let residuals: Vec<f64> = readings.iter().map(of).collect();
    let below = |residual: f64| residuals.iter().filter(|other| **other < residual - 1e-9).count();
    let wrong = |shift: usize| found.points.iter().filter(|point| point.rank != below(point.residual_mm) + 1 + shift).count();
    assert_eq!(wrong(0), 0);
    assert_eq!(wrong(1), found.points.len(), "the comparison sees a rank too many");
    let mut order: Vec<(usize, f64)> = found.points.iter().map(|point| (point.rank, point.residual_mm)).collect();
    order.sort_by_key(|shown| shown.0);
    assert!(order.windows(2).all(|pair| pair[0].1 <= pair[1].1 + 1e-9), "rising");
}
