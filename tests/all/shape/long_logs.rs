//! Which readings a long log shows, and their ranks among all.

use super::bench_log::{Normals, reading, trial};
use std::collections::BTreeSet;
use taperwright::shape::{Shape, fit_shapes};
use taperwright::trial::Direction;

/// One pass over 20 stations with readings that scatter by 1 µm; the last stations have one reading less where the number asks for it.
fn log(count: usize) -> (Vec<(f64, f64)>, Shape) {
    let mut normals = Normals::new(99, 1);
    let each = count.div_ceil(20);
    let rows: Vec<(f64, f64)> =
        (0..count).map(|i| (10.0 * (i / each) as f64, 40.0 + 0.0005 * (i / each) as f64 + 0.001 * normals.draw())).collect();
    let readings = rows.iter().zip(2..).map(|(r, row)| reading(row, 1, Direction::ToTailstock, r.0, r.1)).collect();
    (rows, fit_shapes(&trial(readings, 1e-6), 1, 0).shapes.remove(0))
}

#[test]
fn up_to_three_thousand_are_shown_and_of_more_those_that_bound_all_others() {
    assert_eq!(log(3_000).1.points.len(), 3_000);
    let (rows, shape) = log(3_001);
    let shown: BTreeSet<usize> = shape.points.iter().map(|point| point.cutting_order - 1).collect();
    assert_eq!(shown.len(), shape.points.len());
    // every station is shown, with the diameter fitted there
    let fitted: Vec<f64> = (0..20).map(|i| shape.points.iter().find(|p| p.station_mm == 10.0 * f64::from(i)).unwrap().fitted_mm).collect();
    let residuals: Vec<f64> = rows.iter().map(|r| r.1 - fitted[(r.0 / 10.0) as usize]).collect();
    let mut wanted: BTreeSet<usize> = (0..300).map(|k| k * 3_000 / 299).collect();
    wanted.extend(shape.points.iter().filter(|p| p.outlier).map(|p| p.cutting_order - 1));
    for stretch in 0..600 {
        let places = stretch * 3_001 / 600..(stretch + 1) * 3_001 / 600;
        let least = places.clone().min_by(|a, b| residuals[*a].total_cmp(&residuals[*b])).unwrap();
        let most = places.max_by(|a, b| residuals[*a].total_cmp(&residuals[*b])).unwrap();
        wanted.extend([least, most]);
    }
    assert_eq!(shown, wanted);
    assert!(shown.len() < 1_700);
    for point in &shape.points {
        let own = residuals[point.cutting_order - 1];
        assert!((point.residual_mm - own).abs() < 1e-12 && point.diameter_mm == rows[point.cutting_order - 1].1);
        let below = residuals.iter().filter(|other| **other < own - 1e-13).count();
        assert_eq!(point.rank, below + 1, "{point:?}");
    }
}
