//! What must not change a shape, and what must change it in a known way: seeded draws of uneven logs.

use super::bench_log::{Normals, reading, trial};
use taperwright::shape::{Shape, fit_shapes};
use taperwright::trial::{DiameterReading, Direction};

/// An uneven log: passes with unlike stations, repeats, two directions.
fn uneven(case: u64) -> Vec<DiameterReading> {
    let mut rng = Normals::new(41, case);
    let passes = 1 + (case % 7) as u32;
    let mut readings = Vec::new();
    for pass in 1..=passes {
        let direction = if case % 3 == 2 && pass.is_multiple_of(2) { Direction::ToTailstock } else { Direction::ToHeadstock };
        let taper = 0.015 + 0.002 * rng.draw();
        for station in 0..7 {
            if (station + pass as usize + case as usize).is_multiple_of(6) {
                continue;
            }
            let z = 12.0 + 30.0 * station as f64 + 3.0 * f64::from(pass % 2);
            for _ in 0..1 + (station + case as usize) % 2 {
                let x = (z - 110.0) / 100.0;
                let d = 42.0 - 0.1 * f64::from(pass) + 0.5 * taper * x - 0.003 * (1.0 - x * x) + 0.0015 * rng.draw();
                readings.push(reading(readings.len() as u64 + 2, pass, direction, z, d));
            }
        }
    }
    readings
}

fn shape(readings: Vec<DiameterReading>) -> Shape {
    fit_shapes(&trial(readings, 1e-6), 1, 0).shapes.remove(0)
}

/// Taper and barrel with their standard errors and half-widths.
fn numbers(s: &Shape) -> [f64; 6] {
    let b = s.barrel.as_ref().unwrap();
    [s.taper.value, s.taper.standard_error, s.taper.fit_interval95.half_width(), b.value, b.standard_error, s.between_pass.unwrap_or(0.0)]
}

fn same(a: &[f64], b: &[f64], relative: f64) -> bool {
    let scale = a.iter().fold(0.0_f64, |most, v| most.max(v.abs()));
    a.iter().zip(b).all(|(a, b)| (a - b).abs() <= relative * a.abs().max(1e-3 * scale))
}

#[track_caller]
fn assert_same(what: &str, a: [f64; 6], b: [f64; 6], relative: f64) {
    assert!(same(&a, &b, relative), "{what}:\n{a:?}\n{b:?}");
    for i in 0..5 {
        let mut wrong = b;
        wrong[i] += 1e-3 * a[0].abs();
        assert!(!same(&a, &wrong, relative), "{what}: the comparison accepts anything");
    }
}

#[test]
fn order_of_rows_does_not_matter() {
    for case in 0..14 {
        let plain = uneven(case);
        let mut turned = plain.clone();
        turned.reverse();
        let third = turned.len() / 3;
        turned.rotate_left(third);
        assert_same("rows", numbers(&shape(plain)), numbers(&shape(turned)), 1e-8);
    }
}

#[test]
fn origin_of_stations_and_diameters_does_not_matter() {
    for case in 0..14 {
        let plain = numbers(&shape(uneven(case)));
        let mut far = uneven(case);
        far.iter_mut().for_each(|r| {
            r.station_mm += 3.0e6;
            r.diameter_mm += 16.0;
        });
        // Three kilometres of station: a station is then a double to 5e-10 mm, and diameters of 58 mm to 7e-15 mm.
        assert_same("origin", plain, numbers(&shape(far)), 1e-6);
    }
}

#[test]
fn unit_of_length_does_not_matter() {
    for case in 0..14 {
        let plain = numbers(&shape(uneven(case)));
        let mut log = trial(uneven(case), 1e-6 / 25.4);
        log.diameters.change(|_, r| {
            r.station_mm /= 25.4;
            r.diameter_mm /= 25.4;
        });
        log.gauge.diameter.u_mm /= 25.4;
        let inches = numbers(&fit_shapes(&log, 1, 0).shapes[0]);
        assert_same("unit", plain, inches.map(|v| v * 25.4), 1e-7);
    }
}

#[test]
fn bar_reversed_turns_the_taper_and_keeps_the_barrel() {
    for case in 0..14 {
        let plain = numbers(&shape(uneven(case)));
        let mut turned = uneven(case);
        turned.iter_mut().for_each(|r| r.station_mm = 230.0 - r.station_mm);
        let mut reversed = numbers(&shape(turned));
        reversed[0] = -reversed[0];
        assert_same("reversed", plain, reversed, 1e-7);
    }
}

/// With every reading doubled the estimate stays and the scatter's standard error falls; noise known from many readings.
#[test]
fn readings_doubled_keep_the_estimate() {
    for passes in [1, 6] {
        let readings: Vec<DiameterReading> =
            uneven(3).into_iter().flat_map(|r| (1..=passes).map(move |p| DiameterReading { pass: p + 10 * r.pass, ..r.clone() })).collect();
        let doubled = readings.iter().flat_map(|r| [r.clone(), r.clone()]).collect();
        let (one, two) = (shape(readings), shape(doubled));
        if passes > 1 {
            assert!((one.taper.value - two.taper.value).abs() < 0.05 * one.taper.standard_error);
        }
        let (one, two) = (one.budget[0].standard_uncertainty, two.budget[0].standard_uncertainty);
        assert!(two < one, "{one} {two}");
        assert!(two > 0.6 * one, "{one} {two}");
    }
}

#[test]
fn order_of_the_drawn_curve_does_not_move_the_taper() {
    // A strong cubic makes the drawn order 3; taper and barrel stay those of the order-2 fit, by hand on a balanced pass.
    let stations: Vec<f64> = (0..9).map(|k| -1.0 + 0.25 * f64::from(k)).collect();
    let mut rng = Normals::new(5, 5);
    let d: Vec<f64> = stations.iter().map(|x| 40.0 + 0.01 * x + 0.03 * x * x * x + 0.0005 * rng.draw()).collect();
    let readings = (0..9).map(|k| reading(k as u64 + 2, 1, Direction::ToHeadstock, 20.0 + 100.0 * (stations[k] + 1.0), d[k])).collect();
    let s = shape(readings);
    assert_eq!(s.order, 3);
    // P1 and P2 are orthogonal on evenly spaced stations: 2a₁ = 2Σxd/Σx².
    let by_hand = 2.0 * stations.iter().zip(&d).map(|(x, d)| x * (d - 40.0)).sum::<f64>() / stations.iter().map(|x| x * x).sum::<f64>();
    assert!((s.taper.value - by_hand).abs() < 1e-12, "{} {by_hand}", s.taper.value);
}
