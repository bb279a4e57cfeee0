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

/// Stations that a gauge works out to more digits than anybody measures may be rounded to a thousandth of a millimetre: taper, its uncertainty and the barrel stay what they are, to
/// a thousandth of an uncertainty, which a tenth of a millimetre would not leave.
#[test]
fn rounded_stations_change_nothing_that_can_be_seen() {
    let mut normals = Normals::new(100, 1);
    let rows: Vec<(u32, f64, f64)> = (0..4_000)
        .map(|i| {
            let z = 10.0 + 0.05 * f64::from(i % 2_000) + 0.04 * (f64::from(i) * 0.618).fract();
            (i / 2_000 + 1, z, 40.0 + 0.0002 * z + 0.000_001 * z * z + 0.001 * normals.draw())
        })
        .collect();
    let fitted = |per_mm: Option<f64>| {
        let station = |z: f64| per_mm.map_or(z, |steps| (z * steps).round() / steps);
        let readings = rows.iter().zip(2..).map(|(r, row)| reading(row, r.0, Direction::ToTailstock, station(r.1), r.2));
        fit_shapes(&trial(readings.collect(), 1e-6), 1, 0).shapes.remove(0)
    };
    let (written, thousandths, tenths) = (fitted(None), fitted(Some(1000.0)), fitted(Some(10.0)));
    assert!(written.points.iter().zip(&thousandths.points).any(|(a, b)| a.station_mm != b.station_mm));
    let moved = |other: &Shape| {
        let unit = written.taper.standard_uncertainty;
        let barrel = |shape: &Shape| shape.barrel.as_ref().map_or(0.0, |barrel| barrel.value);
        let taper = (other.taper.value - written.taper.value).abs() / unit;
        taper.max((other.taper.standard_uncertainty / unit - 1.0).abs()).max((barrel(other) - barrel(&written)).abs() / unit)
    };
    assert!(moved(&thousandths) < 1e-3, "{}", moved(&thousandths));
    assert!(moved(&tenths) > 1e-3, "{}", moved(&tenths));
}
