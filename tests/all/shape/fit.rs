//! The shape fit of whole logs.

use super::bench_log::{reading, trial};
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
