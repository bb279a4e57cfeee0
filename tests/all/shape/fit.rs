//! The shape fit of whole logs.

use super::bench_log::{Normals, Truth, drawn, reading, trial};
use taperwright::shape::fit_shapes;
use taperwright::trial::Direction;

#[test]
fn all_readings_equal_is_a_result() {
    for passes in [1, 2, 6] {
        let readings = (0..passes)
            .flat_map(|p| (0..5).map(move |s| (p, s)))
            .enumerate()
            .map(|(row, (p, s))| reading(row as u64 + 2, p + 1, Direction::ToHeadstock, 10.0 + 50.0 * f64::from(s), 38.0))
            .collect();
        let outcome = fit_shapes(&trial(readings, 0.001), 1, 1_000);
        let shape = &outcome.shapes[0];
        assert_eq!(shape.taper.value, 0.0);
        // By hand: five stations, P1 = -1, -0.5, 0, 0.5, 1, so that u(2a1) = 2·0.002/√2.5 from one pass's readings.
        let within = shape.budget[0].standard_uncertainty;
        assert!((within / (2.0 * 0.002 / (2.5 * f64::from(passes)).sqrt()) - 1.0).abs() < 0.02, "{passes}: {within}");
        assert!(shape.taper.interval95.half_width() > 0.0);
    }
}

#[test]
fn checks_come_in_order_and_find_a_period() {
    let amplitude = 0.004;
    let wave = |amplitude: f64, length_mm: f64| {
        let mut rng = Normals::new(23, 1);
        let truth = Truth { taper: 0.01, barrel: 0.0, sigma: 0.001, between: 0.0 };
        let mut readings = drawn(&mut rng, truth, 2, 0, 40, 1, 195.0);
        readings.iter_mut().for_each(|r| r.diameter_mm += amplitude * (std::f64::consts::TAU * r.station_mm / length_mm).sin());
        fit_shapes(&trial(readings, 1e-5), 1, 0).shapes.remove(0)
    };
    let log = |amplitude: f64| wave(amplitude, 24.0);
    let with = log(amplitude);
    let names: Vec<&str> = with.tests.iter().map(|t| t.name).collect();
    let contract = [
        "lack-of-fit",
        "order",
        "direction",
        "durbin-watson",
        "runs",
        "normality",
        "equal-spread-passes",
        "equal-spread-stations",
        "influence",
        "period",
    ];
    assert_eq!(names, contract);
    let p = |shape: &taperwright::shape::Shape| shape.tests[9].p.unwrap();
    assert!(p(&with) < 1e-6, "{:?}", with.tests[9]);
    assert!(with.tests[9].interpretation.contains("A period of 24") || with.tests[9].interpretation.contains("A period of 23.9"));
    assert!(with.tests[9].interpretation.contains("lead screw, rack or gears may make it"));
    assert!(p(&log(0.0)) > 0.05);
    assert!(log(0.0).tests[9].interpretation.starts_with("No period from"), "{:?}", log(0.0).tests[9]);
    // less than twice in 195 mm: no screw or gear, but a curve of the bar
    let long = wave(amplitude, 120.0);
    let said = &long.tests[9].interpretation;
    assert!(p(&long) < 0.05 && said.starts_with("A wave of ") && said.contains("no sign of lead screw"), "{said}");
}
