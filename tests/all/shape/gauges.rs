//! Readings of unlike gauges: what their zeros, known to the calibration only, leave in taper and barrel.

use super::bench_log::{Normals, Truth, drawn, trial};
use std::collections::BTreeMap;
use taperwright::shape::{Shape, fit_setting, fit_shapes, gauge_zeros, station_readings};
use taperwright::statistics::distributions::t_two_sided_p;
use taperwright::trial::{DiameterReading, Direction, Trial};

const CALIBRATION_MM: f64 = 0.004;

/// Three passes of five stations, read with gauge `second` where `second_reads` says so.
fn log(stream: u64, zero_mm: f64, second_reads: impl Fn(&DiameterReading) -> bool) -> Trial {
    let truth = Truth { taper: 0.002, barrel: 0.0, sigma: 0.001, between: 0.0 };
    let mut readings = drawn(&mut Normals::new(23, stream), truth, 3, 0, 5, 1, 200.0);
    for reading in &mut readings {
        let second = second_reads(reading);
        reading.gauge = Some(if second { "second" } else { "first" }.into());
        reading.diameter_mm += if second { zero_mm } else { 0.0 };
    }
    let mut trial = trial(readings, 1e-5);
    let mut gauge = trial.gauge.diameter.clone();
    (gauge.u_mm, gauge.calibration_u_mm) = (0.001, CALIBRATION_MM);
    trial.gauge.diameter = gauge.clone();
    trial.gauge.diameter_named = BTreeMap::from([("first".to_owned(), gauge.clone()), ("second".to_owned(), gauge)]);
    trial
}

fn shape(log: &Trial) -> (Shape, Vec<String>) {
    let mut outcome = fit_shapes(log, 1, 0);
    (outcome.shapes.remove(0), outcome.warnings)
}

/// What the page says of where the row comes from.
#[test]
fn the_budget_says_how_gauges_were_used() {
    let how = |second_reads: &dyn Fn(&DiameterReading) -> bool| {
        let found = shape(&log(1, 0.0, second_reads)).0;
        found.budget.iter().find(|row| row.component == "calibration").unwrap().how.clone()
    };
    assert!(how(&|_| false).starts_with("common to all readings"));
    assert!(how(&|reading| reading.pass > 1).starts_with("2 gauges that read alike"));
    assert!(how(&|reading| reading.station_mm > 120.0).starts_with("2 gauges at unlike stations"));
}

fn calibration_mm(shape: &Shape) -> f64 {
    shape.budget.iter().find(|row| row.component == "calibration").unwrap().standard_uncertainty
}

/// Stations at −1, −½, 0, ½, 1 of half the length, the last two by the second gauge: the slope of least squares is `Σxd/Σx²`, so each zero moves the taper by 2·1.5/2.5 of itself,
/// and both zeros have their own calibration.
#[test]
fn zeros_of_gauges_at_unlike_stations_by_hand() {
    let near = |found: f64, wanted: f64| (found - wanted).abs() < 1e-9;
    let by_hand = 2.0 * 1.5 / 2.5 * CALIBRATION_MM * 2.0_f64.sqrt();
    let (found, warnings) = shape(&log(1, 0.0, |reading| reading.station_mm > 120.0));
    assert!(near(calibration_mm(&found), by_hand) && !near(calibration_mm(&found), 1.001 * by_hand), "{}", calibration_mm(&found));
    assert!(warnings.iter().any(|said| said.contains("two gauges read unlike stations")), "{warnings:?}");
    // the bend −1.5·a₂ of readings that are 1 at ½ and 1: P₂ = −1/8 and 1 there, its mean 1/4·… by least squares over the five stations
    let p2: [f64; 5] = [1.0, -0.125, -0.5, -0.125, 1.0];
    let mean = p2.iter().sum::<f64>() / 5.0;
    let bend = ((p2[3] - mean) + (p2[4] - mean)) / p2.iter().map(|p| (p - mean).powi(2)).sum::<f64>();
    let barrel = found.barrel.unwrap();
    let zeros = 1.5 * bend.abs() * CALIBRATION_MM * 2.0_f64.sqrt();
    assert!(
        barrel.standard_uncertainty > zeros && near(barrel.standard_uncertainty, barrel.standard_error.hypot(zeros)),
        "{barrel:?} {zeros}"
    );
    // read with the first gauge alone, with the second in passes of its own, or with both everywhere
    let alike: [&dyn Fn(&DiameterReading) -> bool; 2] = [&|_| false, &|reading| reading.pass > 1];
    for second_reads in alike {
        let (found, warnings) = shape(&log(1, 0.0, second_reads));
        assert!(calibration_mm(&found) == 0.0 && warnings.is_empty(), "{} {warnings:?}", calibration_mm(&found));
    }
}

/// Gauges that change places between the directions: their zeros cancel in the mean of the tapers and stay in each, 2·1.5/2.5 of both, as normal parts of their sums.
#[test]
fn gauges_exchanged_between_the_directions_by_hand() {
    let crossed_log = |zero_mm: f64, calibration_mm: f64| {
        let truth = Truth { taper: 0.045, barrel: 0.0, sigma: 0.001, between: 0.0 };
        let mut log = log(1, 0.0, |_| false);
        let mut readings = drawn(&mut Normals::new(37, 2), truth, 3, 3, 5, 1, 200.0);
        for reading in &mut readings {
            let second = (reading.station_mm > 120.0) == (reading.direction == Direction::ToHeadstock);
            reading.gauge = Some(if second { "second" } else { "first" }.into());
            reading.diameter_mm += if second { zero_mm } else { 0.0 };
        }
        log.diameters = readings.into();
        log.gauge.diameter_named.values_mut().for_each(|gauge| gauge.calibration_u_mm = calibration_mm);
        log
    };
    let crossed_by = |zero_mm: f64, calibration_mm: f64| shape(&crossed_log(zero_mm, calibration_mm));
    // zeros that differ by a calibration look like directions that differ, unless they may: the difference carries both rows' parts, of opposite sign
    let direction = |calibration_mm: f64| {
        let found = crossed_by(CALIBRATION_MM, calibration_mm).0;
        found.tests.iter().find(|test| test.name == "direction").and_then(|test| test.p).unwrap()
    };
    assert!(direction(0.0) < 0.01 && direction(CALIBRATION_MM) > 0.3, "{} {}", direction(0.0), direction(CALIBRATION_MM));
    // each zero enters the difference twice, and has no end of degrees of freedom (Welch-Satterthwaite, JCGM 100:2008, G.4.1)
    let small_mm = 0.0002;
    let difference = fit_setting(&crossed_log(CALIBRATION_MM, small_mm), 0).unwrap().direction_difference.unwrap();
    let error = difference.standard_error.hypot(2.0 * 2.0 * 1.5 / 2.5 * small_mm * 2.0_f64.sqrt());
    let by_hand =
        |power| t_two_sided_p(difference.value / error, difference.dof.unwrap() * (error / difference.standard_error).powi(power));
    let said = |power| (direction(small_mm) / by_hand(power).unwrap() - 1.0).abs() < 1e-6;
    assert!(said(4) && !said(-4) && !said(0), "{} {:?} {:?}", direction(small_mm), by_hand(4), difference);
    let crossed = |calibration_mm: f64| crossed_by(0.0, calibration_mm);
    let ((found, warnings), (plain, silent)) = (crossed(CALIBRATION_MM), crossed(0.0));
    let near = |found: f64, wanted: f64| (found - wanted).abs() < 1e-9;
    let by_hand = 2.0 * 1.5 / 2.5 * CALIBRATION_MM * 2.0_f64.sqrt();
    assert!(calibration_mm(&found) == 0.0 && found.by_direction.len() == 2);
    for (row, without) in found.by_direction.iter().zip(&plain.by_direction) {
        let part = (row.standard_uncertainty.powi(2) - without.standard_uncertainty.powi(2)).sqrt();
        assert!(near(row.calibration, by_hand) && near(part, by_hand) && !near(1.001 * part, by_hand), "{part} {by_hand}");
        assert!(
            row.effective_dof.unwrap_or(f64::INFINITY) > without.effective_dof.unwrap(),
            "a calibration has no end of degrees of freedom"
        );
        assert!(
            row.interval95.half_width() > 1.9 * row.standard_uncertainty && row.interval95.half_width() > without.interval95.half_width()
        );
        assert_eq!(row.value, without.value);
    }
    let how = &found.budget.iter().find(|row| row.component == "calibration").unwrap().how;
    assert!(how.contains("cancel in the mean of the directions"), "{how}");
    let said = |warnings: &[String]| warnings.iter().any(|said| said.contains("the taper of each direction of cut"));
    assert!(said(&warnings) && !said(&silent), "{warnings:?} {silent:?}");
}

/// Two gauges alike at each station, one after the other in whatever order, change nothing; a name that is the default gauge's own is that gauge.
#[test]
fn gauges_that_both_read_every_station_change_nothing() {
    let twice = |name: &str| {
        let truth = Truth { taper: 0.002, barrel: 0.0, sigma: 0.001, between: 0.0 };
        let mut log = log(1, 0.0, |_| false);
        let mut readings = drawn(&mut Normals::new(41, 2), truth, 3, 0, 5, 2, 200.0);
        for (number, reading) in readings.iter_mut().enumerate() {
            // first, second; second, first; and so on
            reading.gauge = (number % 4 == 1 || number % 4 == 2).then(|| name.into());
        }
        log.diameters = readings.into();
        log.gauge.diameter.name = Some("bench".to_owned());
        shape(&log).0.budget.into_iter().find(|row| row.component == "calibration").unwrap()
    };
    let both = twice("second");
    assert!(both.standard_uncertainty == 0.0 && both.how.starts_with("2 gauges that read alike"), "{both:?}");
    assert!(twice("bench").how.starts_with("common to all readings"));
}

/// Passes of unlike stations and repeats, taper and barrel: what a zero moves is what the fit moves by when the readings of that gauge grow a little.
#[test]
fn zeros_move_taper_and_barrel_as_the_fit_says() {
    let truth = Truth { taper: 0.002, barrel: 0.0, sigma: 0.001, between: 0.004 };
    let with = |zero_mm: f64, calibration_mm: f64| {
        let mut readings = drawn(&mut Normals::new(31, 4), truth, 6, 0, 7, 3, 200.0);
        let mut row = 0_u32;
        readings.retain(|reading| {
            row += 1;
            // every station once, half of them thrice, and the first three passes short
            let repeated = reading.station_mm > 80.0;
            (repeated || row.is_multiple_of(3)) && (reading.pass > 3 || reading.station_mm < 150.0)
        });
        let mut log = log(1, 0.0, |_| false);
        for reading in &mut readings {
            let second = reading.pass < 3 && reading.station_mm > 60.0 || reading.pass == 5 && reading.station_mm < 40.0;
            reading.gauge = Some(if second { "second" } else { "first" }.into());
            reading.diameter_mm += if second { zero_mm } else { 0.0 };
        }
        log.diameters = readings.into();
        log.gauge.diameter_named.values_mut().for_each(|gauge| gauge.calibration_u_mm = calibration_mm);
        shape(&log).0
    };
    let step = 1e-6;
    let (before, after, told) = (with(0.0, 0.0), with(step, 0.0), with(0.0, CALIBRATION_MM));
    // the spread between passes, by which they are weighed, moves a little too
    let near = |found: f64, moved: f64| (found / (moved.abs() / step * CALIBRATION_MM * 2.0_f64.sqrt()) - 1.0).abs() < 0.05;
    let moved = after.taper.value - before.taper.value;
    assert!(near(calibration_mm(&told), moved) && !near(1.1 * calibration_mm(&told), moved), "{} {moved}", calibration_mm(&told));
    let (barrel, plain, grown) = (told.barrel.unwrap(), before.barrel.unwrap(), after.barrel.unwrap());
    let zeros = (barrel.standard_uncertainty.powi(2) - plain.standard_uncertainty.powi(2)).sqrt();
    assert!(
        near(zeros, grown.value - plain.value) && !near(1.1 * zeros, grown.value - plain.value),
        "{zeros} {}",
        grown.value - plain.value
    );
}

/// Zeros drawn from the calibration: the interval holds the taper, and would not if the gauges were taken for one.
#[test]
fn intervals_hold_the_taper_whatever_the_zeros() {
    let runs = 100;
    let (mut held, mut taken_for_one) = (0, 0);
    for stream in 0..runs {
        let zero = CALIBRATION_MM * 2.0_f64.sqrt() * Normals::new(29, stream).draw();
        let mut log = log(stream, zero, |reading| reading.station_mm > 120.0);
        let holds = |log: &Trial| {
            let interval = shape(log).0.taper.interval95;
            interval.low <= 0.002 && 0.002 <= interval.high
        };
        held += u32::from(holds(&log));
        log.gauge.diameter.calibration_u_mm = 0.0;
        log.gauge.diameter_named.values_mut().for_each(|gauge| gauge.calibration_u_mm = 0.0);
        taken_for_one += u32::from(holds(&log));
    }
    assert!(held >= 90 && taken_for_one < 70, "{held} and {taken_for_one} of {runs}");
}

/// A name without a table of its own, which is not the default gauge's either, is another gauge like the default one.
#[test]
fn a_gauge_of_which_the_settings_know_nothing_is_another_gauge() {
    let of = |name: &str, table: bool| {
        let mut log = log(1, 0.0, |reading| reading.station_mm > 120.0);
        let named = |mut reading: DiameterReading| {
            if reading.gauge.as_deref() == Some("second") {
                reading.gauge = Some(name.into());
            } else {
                reading.gauge = None;
            }
            reading
        };
        log.diameters = log.diameters.iter().map(named).collect::<Vec<_>>().into();
        log.gauge.diameter.name = Some("bench".to_owned());
        let mut gauge = log.gauge.diameter.clone();
        gauge.calibration_u_mm = 0.5 * CALIBRATION_MM;
        log.gauge.diameter_named = table.then(|| (name.to_owned(), gauge)).into_iter().collect();
        calibration_mm(&shape(&log).0)
    };
    let near = |found: f64, wanted: f64| (found - wanted).abs() < 1e-9;
    let one = 2.0 * 1.5 / 2.5 * CALIBRATION_MM;
    assert!(near(of("loan", false), one * 2.0_f64.sqrt()) && !near(of("loan", false), one));
    assert_eq!(of("bench", false), 0.0, "the default gauge by its name");
    // a table of that name is a gauge of its own
    assert!(near(of("bench", true), one * 1.25_f64.sqrt()), "{}", of("bench", true));
}

/// How a zero moves the readings less the levels of their passes is what the fit makes of readings of that gauge that grow.
#[test]
fn a_zero_moves_the_readings_and_their_levels() {
    // five stations, the two far ones with the second gauge; the first pass is short, so that its level lies where its stations are
    let second_reads = |reading: &DiameterReading| reading.station_mm > 120.0;
    let short = |zero_mm: f64| {
        let mut log = log(3, zero_mm, second_reads);
        log.diameters = log.diameters.iter().filter(|r| r.pass > 1 || r.station_mm > 60.0).collect::<Vec<_>>().into();
        log
    };
    let levelled = |zero_mm: f64| -> Vec<f64> {
        let log = short(zero_mm);
        let shape = shape(&log).0;
        let level = |pass: u32| shape.pass_summaries.iter().find(|own| own.pass == pass).unwrap().level_mm;
        station_readings(&log, 0).unwrap().iter().map(|cell| cell.mean_mm - level(cell.pass)).collect()
    };
    let (step, plain) = (1e-3, short(0.0));
    let zeros = gauge_zeros(&plain, &shape(&plain).0);
    assert_eq!(zeros.len(), 2);
    let moved: Vec<f64> = levelled(step).iter().zip(levelled(0.0)).map(|(after, before)| (after - before) / step).collect();
    let near =
        |found: &[f64], scale: f64| found.len() == moved.len() && found.iter().zip(&moved).all(|(f, m)| (f - scale * m).abs() < 1e-6);
    let second = zeros.iter().find(|zero| near(&zero.moves, 1.0)).expect("the second gauge's zero");
    assert!(!near(&second.moves, 1.001) && second.standard_uncertainty_mm == CALIBRATION_MM);
    assert!(zeros.iter().any(|zero| near(&zero.moves, -1.0)), "what one gauge adds the other takes from the difference");
}
