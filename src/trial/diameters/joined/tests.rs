//! Joined readings against sums by hand and against the readings that they stand for.

use super::*;
use crate::trial::{Direction, Place};
use std::sync::Arc;

/// Four standard errors of the slope of a pass of [`mixed`], 40 nm a millimetre: 1.15 µm over the root of the 133,000 mm² of two collars by themselves.
const SLOPE_WITHIN: f64 = 1.3e-5;

fn reading(row: u64, pass: u32, station_mm: f64, diameter_mm: f64) -> DiameterReading {
    DiameterReading { pass, ..DiameterReading::bare(Place { file: 0, row }, station_mm, diameter_mm) }
}

fn near(found: f64, expected: f64, within: f64) -> bool {
    (found - expected).abs() <= within
}

/// Numbers from 0 to 1 that look drawn, the same each time.
fn drawn(seed: u64) -> impl FnMut() -> f64 {
    let mut state = seed;
    move || {
        state = state.wrapping_mul(6_364_136_223_846_793_005).wrapping_add(1_442_695_040_888_963_407);
        (state >> 11) as f64 / (1_u64 << 53) as f64
    }
}

/// Three passes in two settings: two gauges, two edges in one pass, collars, stations that are unlike from pass to pass, times in one pass, excluded rows.
fn mixed() -> Vec<DiameterReading> {
    let mut draw = drawn(7);
    let mut readings = Vec::new();
    for row in 0..3000_u64 {
        let (pass, place) = (u32::try_from(row % 3).unwrap() + 1, row / 3);
        let station_mm =
            if place < 500 { 10.0 } else { 170.0 } + 40.0 * (place % 500) as f64 / 499.0 + 0.003 * f64::from(pass - 1) * draw();
        let text = |text: &str, wanted: bool| wanted.then(|| Arc::<str>::from(text));
        readings.push(DiameterReading {
            setting: u32::from(pass == 3),
            direction: if pass == 2 { Direction::ToTailstock } else { Direction::ToHeadstock },
            edge: text("b", pass == 1 && place >= 500),
            gauge: text("thin", pass == 2 && place.is_multiple_of(2)),
            time_min: (pass == 3).then_some(0.01 * place as f64),
            excluded: text("chip", place.is_multiple_of(50)),
            ..reading(row + 2, pass, station_mm, 38.0 + 4e-5 * station_mm + 0.004 * (draw() - 0.5))
        });
    }
    readings
}

/// Seven readings in four places: stations 10, 11, 12 and 60, 61 are joined, the ends stay.
#[test]
fn sums_by_hand() {
    let rows = [(0.0, 38.0), (10.0, 38.001), (11.0, 38.002), (12.0, 38.006), (60.0, 38.013), (61.0, 38.011), (100.0, 38.020)];
    let log: Diameters = rows.iter().zip(2..).map(|((z, d), row)| reading(row, 1, *z, *d)).collect();
    let joined = log.joined(4, 1).unwrap();
    let width = joined.stretch_mm.unwrap();
    assert!(width > 1.0 && width < 10.0, "{width}");
    let found = joined.diameters;
    // Σz = 254, Σd − 7·38 = 0.053; Σz² = 17 686, Σz(d − 38) = 3.555
    let slope = (3.555 - 254.0 * 0.053 / 7.0) / (17_686.0 - 254.0 * 254.0 / 7.0);
    let by_hand = [
        (0.0, 38.0, 1.0, 0.0),
        // deviations −1, 0, 1 mm and −2, −1, 3 µm: Szz = 2, Szd = 0.005, Sdd = 14e-6
        (11.0, 38.003, 3.0, 14e-6 - 2.0 * slope * 0.005 + slope * slope * 2.0),
        // −0.5, 0.5 mm and 1, −1 µm
        (60.5, 38.012, 2.0, 2e-6 + 2.0 * slope * 0.001 + slope * slope * 0.5),
        (100.0, 38.020, 1.0, 0.0),
    ];
    assert_eq!(found.len(), 4);
    for (row, (station, diameter, count, square)) in by_hand.into_iter().enumerate() {
        assert!(near(found.station_mm(row), station, 1e-12) && near(found.diameter_mm(row), diameter, 1e-12), "{:?}", found.get(row));
        let (n, squares) = found.stands_for(row);
        assert!(n == count && near(squares, square, 1e-12) && !near(squares + 1e-9, square, 1e-12), "{row}: {n} {squares} {square}");
    }
    assert!(log.joined(2, 1).is_none(), "both ends are places already");
    assert!(log.joined(6, 7).is_none(), "one run would have six places");
}

/// On straight lines, each pass with its own slope and stations, every place is on its line and nothing is left to scatter.
#[test]
fn taper_inside_a_stretch_is_no_scatter() {
    let slopes = [5e-5, -2e-5, 9e-5];
    let mut draw = drawn(3);
    let log: Diameters = (0..1800_u32)
        .map(|row| {
            let (pass, station) = (row % 3, if row < 3 { 20.0 } else { 20.0 + 180.0 * draw() });
            reading(u64::from(row), pass + 1, station, 38.0 + slopes[pass as usize] * station)
        })
        .collect();
    let joined = log.joined(90, 20).unwrap();
    let (width, found) = (joined.stretch_mm.unwrap(), joined.diameters);
    assert!(found.len() <= 90 && width > 6.0);
    let mut moved: f64 = 0.0;
    for row in 0..found.len() {
        let slope = slopes[found.cut(row).pass as usize - 1];
        assert!(near(found.diameter_mm(row), 38.0 + slope * found.station_mm(row), 1e-11), "{:?}", found.get(row));
        assert!(
            found.stands_for(row).1 < 1e-12,
            "{:?}: the taper in a stretch alone makes {}",
            found.stands_for(row),
            slope * slope * width * width
        );
        moved = moved.max(found.stands_for(row).0);
    }
    let stations = found.stations().len();
    assert!(moved > 5.0 && stations <= 1 + found.len() / 3 + 1, "passes share their stations: {stations} of {}", found.len());
}

/// Each place against the readings that it stands for, put together again by what may be joined.
#[test]
fn only_what_is_alike_is_joined() {
    let readings = mixed();
    let log: Diameters = readings.iter().cloned().collect();
    let joined = log.joined(300, 20).unwrap();
    let (width, found) = (joined.stretch_mm.unwrap(), joined.diameters);
    let used = || readings.iter().filter(|r| r.excluded.is_none());
    let ends = |setting: u32| {
        let own = || used().filter(move |r| r.setting == setting).map(|r| r.station_mm);
        (own().fold(f64::INFINITY, f64::min), own().fold(f64::NEG_INFINITY, f64::max))
    };
    let stretch = |r: &DiameterReading| {
        let (from, to) = ends(r.setting);
        if r.station_mm == from || r.station_mm == to { -1.0 } else { ((r.station_mm - from) / width).floor() }
    };
    let alike = |a: &DiameterReading, b: &DiameterReading| {
        (a.setting, a.pass, a.direction, &a.edge, &a.gauge, a.time_min.is_some())
            == (b.setting, b.pass, b.direction, &b.edge, &b.gauge, b.time_min.is_some())
            && stretch(a) == stretch(b)
            && (stretch(a) >= 0.0 || a.station_mm == b.station_mm)
    };
    let mut counted = 0.0;
    for row in (0..found.len()).filter(|row| found.is_used(*row)) {
        let own = found.get(row).unwrap();
        let first = readings.iter().find(|r| r.place == own.place).unwrap();
        let members: Vec<&DiameterReading> = used().filter(|r| alike(r, first)).collect();
        let n = members.len() as f64;
        let mean = |of: &dyn Fn(&DiameterReading) -> f64| members.iter().map(|r| of(r)).sum::<f64>() / n;
        assert_eq!((found.stands_for(row).0, &own.edge, &own.gauge, own.direction), (n, &first.edge, &first.gauge, first.direction));
        let beside = own.station_mm - mean(&|r| r.station_mm);
        assert!(near(own.diameter_mm - mean(&|r| r.diameter_mm), 4e-5 * beside, SLOPE_WITHIN * beside.abs() + 1e-12), "{own:?}");
        assert_eq!(own.time_min.is_some(), first.time_min.is_some());
        assert!(own.time_min.is_none_or(|time| near(time, mean(&|r| r.time_min.unwrap()), 1e-12)));
        let (least, most) = members.iter().fold((f64::INFINITY, 0.0_f64), |(a, b), r| (a.min(r.station_mm), b.max(r.station_mm)));
        assert!(most - least < width && (least > 100.0) == (most > 100.0), "{least} to {most}: over the relief");
        counted += n;
    }
    assert_eq!(counted as usize, used().count());
    // 60 excluded rows, of four cuts
    let excluded: Vec<DiameterReading> = found.iter().filter(|r| r.excluded.is_some()).collect();
    assert_eq!(excluded.len(), 4);
    assert!(excluded.iter().all(|r| r.station_mm == ends(r.setting).0));
    assert_eq!(found.get(0).unwrap().excluded.as_deref(), Some("chip"), "the first reading of a pass says how it was cut");
}

#[test]
fn neither_count_nor_mean_nor_order_of_rows_matters() {
    let mut readings = mixed();
    let log: Diameters = readings.iter().cloned().collect();
    let sorted = |joined: &Joined| {
        let mut rows: Vec<(u32, u32, String, f64, f64, f64, f64)> = (0..joined.diameters.len())
            .filter(|row| joined.diameters.is_used(*row))
            .map(|row| {
                let (own, (count, square)) = (joined.diameters.get(row).unwrap(), joined.diameters.stands_for(row));
                (own.setting, own.pass, format!("{:?} {:?}", own.gauge, own.edge), own.station_mm, own.diameter_mm, count, square)
            })
            .collect();
        rows.sort_by(|a, b| (a.0, a.1, &a.2).cmp(&(b.0, b.1, &b.2)).then(a.3.total_cmp(&b.3)));
        rows
    };
    for most in [200, 300, 777, 2500] {
        let joined = log.joined(most, 20).unwrap();
        let found = &joined.diameters;
        assert!((0..found.len()).filter(|row| found.is_used(*row)).count() <= most);
        for pass in 1..=3 {
            // of a pass: number of readings, mean of what is left when its line is taken off
            let sum = |list: &Diameters, slope: f64| {
                let own = (0..list.len()).filter(|row| list.is_used(*row) && list.cut(*row).pass == pass);
                own.fold((0.0, 0.0, 0.0), |sum, row| {
                    let n = list.stands_for(row).0;
                    (sum.0 + n, sum.1 + n * (list.diameter_mm(row) - slope * list.station_mm(row)), sum.2 + n * list.station_mm(row))
                })
            };
            let (before, after) = (sum(&log, 0.0), sum(found, 0.0));
            assert_eq!(before.0, after.0);
            let beside = (after.2 - before.2) / before.0;
            assert!(near(after.1 / after.0 - before.1 / before.0, 4e-5 * beside, SLOPE_WITHIN * beside.abs() + 1e-12), "{most} {pass}");
            assert!(!near(after.1 / (after.0 + 1.0) - before.1 / before.0, 4e-5 * beside, SLOPE_WITHIN * beside.abs() + 1e-12));
        }
        let one = sorted(&joined);
        let mut draw = drawn(most as u64);
        let mut keyed: Vec<(f64, DiameterReading)> = readings.drain(..).map(|reading| (draw(), reading)).collect();
        keyed.sort_by(|a, b| a.0.total_cmp(&b.0));
        readings = keyed.into_iter().map(|(_, reading)| reading).collect();
        let shuffled: Diameters = readings.iter().cloned().collect();
        let other = shuffled.joined(most, 20).unwrap();
        assert_eq!(joined.stretch_mm, other.stretch_mm);
        let other = sorted(&other);
        assert_eq!(one.len(), other.len());
        for (a, b) in one.iter().zip(&other) {
            assert!((a.0, a.1, &a.2, a.5) == (b.0, b.1, &b.2, b.5), "{a:?} {b:?}");
            assert!(near(a.3, b.3, 1e-10) && near(a.4, b.4, 1e-12) && near(a.6, b.6, 1e-12), "{a:?} {b:?}");
            assert!(!near(a.4, b.4 + 1e-9, 1e-12));
        }
    }
}

/// A pass that was read at one place alone has a slope of its own that means nothing: its place is not moved by it.
#[test]
fn a_pass_of_one_place_has_no_slope() {
    let mut draw = drawn(5);
    let mut readings: Vec<DiameterReading> =
        (0..4000).map(|row| reading(row, 1, 10.0 + 0.05 * row as f64, 38.0 + 0.004 * (draw() - 0.5))).collect();
    readings.extend((4000..4400).map(|row| reading(row, 2, 50.0 + 2e-5 * draw(), 38.0 + 0.004 * (draw() - 0.5))));
    let joined = readings.iter().cloned().collect::<Diameters>().joined(400, 100).unwrap();
    let found: Vec<DiameterReading> = joined.diameters.iter().filter(|r| r.pass == 2).collect();
    assert_eq!(found.len(), 1);
    let mean = readings.iter().filter(|r| r.pass == 2).map(|r| r.diameter_mm).sum::<f64>() / 400.0;
    assert!(near(found[0].diameter_mm, mean, 1e-12), "{} {mean}", found[0].diameter_mm);
    assert!(joined.stretch_mm.is_some_and(|width| width > 1.0));
}

/// Readings of one station with times of their own are one place, and no station is said to be taken together with another.
#[test]
fn one_station_s_times_are_averaged() {
    let log: Diameters = (0..400)
        .map(|row| DiameterReading {
            time_min: Some(row as f64),
            ..reading(row, 1, 10.0 * (row % 4) as f64, 38.0 + 1e-3 * (row / 200) as f64)
        })
        .collect();
    let joined = log.joined(100, 4).unwrap();
    assert_eq!((joined.stretch_mm, joined.diameters.len()), (None, 4));
    let found = joined.diameters.get(2).unwrap();
    assert!(near(found.time_min.unwrap(), 200.0, 1e-12) && near(found.diameter_mm, 38.0005, 1e-12), "{found:?}");
    assert!(near(joined.diameters.stands_for(2).1, 100.0 * 0.25e-6, 1e-12));
}
