//! Balances and predictions of posteriors of a few draws.

use super::super::balance::balances;
use super::super::hyper::Values;
use super::super::predictive::predictions;
use super::super::unknowns::Meaning;
use super::super::values::{CauseKind, Prediction};
use super::{Design, close, designed, fixture, medians, posterior_of, reading};
use crate::trial::*;

const H: Direction = Direction::ToHeadstock;
const T: Direction = Direction::ToTailstock;
const STATIONS: [f64; 3] = [20.0, 110.0, 200.0];

/// Readings at −1, 0 and 1 of the tested length: number of a pass, direction, diameters above 38 mm in µm.
fn trial(passes: &[(u32, Direction, [f64; 3])]) -> Trial {
    let mut trial = fixture::bar(Holding::Chuck);
    trial.gauge.diameter.resolution_mm = 1e-9;
    let rows = passes.iter().flat_map(|(pass, direction, um)| STATIONS.iter().zip(um).map(move |(z, um)| (*pass, *direction, *z, *um)));
    trial.diameters = rows
        .zip(2..)
        .map(|((pass, direction, z, um), row)| reading(row, 0, pass, direction, z, 38.0 + 1e-3 * um))
        .collect::<Vec<_>>()
        .into();
    trial
}

/// Values with next to no force, this noise and these spreads; unknowns all 0 but the yaw.
pub(super) fn draw(design: &Design, noise_um: f64, spreads: [f64; 2], yaw: f64) -> (Values, Vec<f64>) {
    let mut values = Values { force: 1e-12, slope_spread: spreads[0], barrel_spread: spreads[1], ..medians(design) };
    values.noise.iter_mut().for_each(|v| *v = 1e-6 * noise_um * noise_um);
    let unknowns = design.model.unknowns.iter().map(|u| if u.meaning == Meaning::Yaw { yaw } else { 0.0 }).collect();
    (values, unknowns)
}

#[test]
fn balances_by_hand() {
    let mut trial = trial(&[(1, H, [0.0, 5.0, 10.0]), (2, H, [0.0, 50.0, 100.0]), (3, H, [2.0, 5.0, 16.0]), (4, T, [7.0, 3.0, 1.0])]);
    // the second pass is deeper, so no pass like it is the lightest
    trial.diameters.change(|_, r| r.depth_mm = if r.pass == 2 { 0.2 } else { 0.05 });
    let design = designed(&trial);
    // 2ψz over 180 mm: 0.05 mm/m makes 18 µm, 0.03 mm/m 10.8 µm
    let draws = vec![draw(&design, 2.0, [0.5, 0.7], 0.05), draw(&design, 4.0, [0.3, 0.2], 0.03)];
    let posterior = posterior_of(&design, draws);
    let list = balances(&trial, &design, &posterior);
    assert_eq!(list.iter().map(|b| (b.setting, b.direction)).collect::<Vec<_>>(), [(0, H), (0, T)]);
    // noise 10 µm² on the mean; a slope's standard error is σ/√2, its scale twice that, its variance (2/√2·s)²σ²; ends lie 2 apart, bends alike
    let slope = 0.5 * (2.0 * 0.25 * 4.0 + 2.0 * 0.09 * 16.0) * 4.0;
    for (own, (difference, passes)) in list.iter().zip([(12.0, 2.0), (-6.0, 1.0)]) {
        close(own.end_difference_um, difference, 1e-9);
        close(own.sum_um, 14.4, 1e-9);
        close(own.unexplained_um, difference - 14.4, 1e-9);
        let measured = (10.0 * 2.0 + slope) / passes;
        close(own.standard_uncertainty_um, (measured + 3.6_f64 * 3.6).sqrt(), 1e-9);
        // the 2.5 % quantile of two draws lies a fortieth of the way up
        close(own.sum_interval95_um.low, 10.8 + 0.025 * 7.2, 1e-9);
        close(own.sum_interval95_um.high, 18.0 - 0.025 * 7.2, 1e-9);
    }
}

/// Repeats count by their number; a pass that was not read at both ends, or cut in another way, does not.
#[test]
fn balances_of_repeats_and_of_passes_that_fall_short() {
    let mut trial = trial(&[(1, H, [0.0, 5.0, 10.0]), (2, H, [0.0, 50.0, 100.0]), (3, H, [9.0, 9.0, 90.0])]);
    let mut rows = trial.diameters.to_vec();
    rows.extend([(1, 20.0, 3.0), (1, 20.0, 6.0), (1, 200.0, 20.0)].map(|(pass, z, um)| reading(20, 0, pass, H, z, 38.0 + 1e-3 * um)));
    rows.retain(|r| !(r.pass == 2 && r.station_mm > 199.0));
    rows.iter_mut().filter(|r| r.pass == 3).for_each(|r| r.feed_mm_per_rev = 0.2);
    trial.diameters = rows.into();
    let reduced = trial.with_diameters(trial.diameters.reduced());
    let design = designed(&reduced);
    let posterior = posterior_of(&design, vec![draw(&design, 3.0, [0.0, 0.0], 0.0)]);
    let list = balances(&reduced, &design, &posterior);
    assert_eq!(list.len(), 1);
    // means 3 of three and 15 of two
    close(list[0].end_difference_um, 12.0, 1e-9);
    close(list[0].standard_uncertainty_um, 3.0 * (1.0_f64 / 3.0 + 0.5).sqrt(), 1e-9);
    let mut apart = reduced;
    apart.diameters.change(|_, r| r.feed_mm_per_rev = if r.pass == 1 { 0.15 } else { 0.1 });
    apart.diameters.change(|_, r| r.station_mm = if r.pass == 3 && r.station_mm > 100.0 { r.station_mm + 20.0 } else { r.station_mm });
    let design = designed(&apart);
    let posterior = posterior_of(&design, vec![draw(&design, 3.0, [0.0, 0.0], 0.0)]);
    assert!(balances(&apart, &design, &posterior).iter().all(|b| b.direction == H));
}

fn predicted(trial: &Trial, draws: impl Fn(&Design) -> Vec<(Values, Vec<f64>)>) -> Vec<Prediction> {
    let reduced = trial.with_diameters(trial.diameters.reduced());
    let design = designed(&reduced);
    predictions(Some(&trial.diameters), None, &design, &posterior_of(&design, draws(&design)))
}

#[test]
fn predictions_by_hand() {
    let um = [4.0, -3.0, 11.0];
    let log = trial(&[(1, H, um)]);
    // without spread: 2ψz of 0, 9 and 18 µm, and the constant that centres the residuals 4, −12 and −7
    let list = predicted(&log, |design| vec![draw(design, 2.0, [0.0, 0.0], 0.05)]);
    let told = &list[0];
    assert_eq!(
        (list.len(), told.log, told.gauge.as_str(), told.unit, told.total, told.means),
        (1, "diameters", "diameter", "mm", 3, false)
    );
    for (r, (z, (um, says))) in told.readings.iter().zip(STATIONS.iter().zip(um.iter().zip([-5.0, 4.0, 13.0]))) {
        assert_eq!((r.station_mm, r.setting, r.pass), (*z, 0, Some(1)));
        close(r.predicted - 38.0, 1e-3 * says, 1e-8);
        close(r.residual, 1e-3 * (um - says), 1e-8);
        close(r.reading, 38.0 + 1e-3 * um, 1e-12);
    }
    // residuals 9, −7 and −2
    close(told.rms_residual, 1e-3 * (134.0_f64 / 3.0).sqrt(), 1e-8);
    close(told.noise, 0.002, 1e-9);
    close(told.data_sheet, 0.002, 1e-9);
    // a slope of its own, variance (2/√2·½)²σ²: of 4, −12, −7 about their mean the slope −11/2 is drawn to −11/4
    let list = predicted(&log, |design| vec![draw(design, 2.0, [0.5, 0.0], 0.05)]);
    for (r, says) in list[0].readings.iter().zip([-5.0 + 2.75, 4.0, 13.0 - 2.75]) {
        close(r.predicted - 38.0, 1e-3 * says, 1e-7);
    }
    // the mean over two draws; of 96 every second one
    let of = |design: &Design, yaw: f64| draw(design, 2.0, [0.0, 0.0], yaw);
    let two = predicted(&log, |design| vec![of(design, 0.05), of(design, 0.0)]);
    let many = predicted(&log, |design| (0..96).map(|i| of(design, if i % 2 == 0 { 0.05 } else { 7.0 })).collect());
    // ½·9 µm more at the last station than at the middle, and 9 µm
    close(two[0].readings[2].predicted - two[0].readings[1].predicted, 0.0045, 1e-7);
    close(many[0].readings[2].predicted - many[0].readings[1].predicted, 0.009, 1e-7);
}

/// Repeats: each reading beside the prediction of its station; all of them in the root mean square. A second gauge has a constant of its own.
#[test]
fn predictions_of_repeats_and_of_two_gauges() {
    let mut log = trial(&[(1, H, [0.0, 3.0, 0.0])]);
    let mut rows = log.diameters.to_vec();
    rows.extend([(20.0, 6.0), (20.0, 12.0)].map(|(z, um)| reading(9, 0, 1, H, z, 38.0 + 1e-3 * um)));
    rows.extend(
        [(20.0, 100.0), (200.0, 102.0)]
            .map(|(z, um)| DiameterReading { gauge: Some("other".into()), ..reading(12, 0, 1, H, z, 38.0 + 1e-3 * um) }),
    );
    log.diameters = rows.into();
    let other = DiameterGauge { u_mm: 0.004, resolution_mm: 0.012, ..log.gauge.diameter.clone() };
    log.gauge.diameter_named.insert("other".into(), other);
    let list = predicted(&log, |design| vec![draw(design, 2.0, [0.0, 0.0], 0.0)]);
    assert_eq!(list.iter().map(|p| (p.gauge.as_str(), p.total)).collect::<Vec<_>>(), [("diameter", 5), ("diameter.other", 2)]);
    let told = &list[0];
    // the mean of 0, 6, 12, 3 and 0 is 4.2
    let residuals: Vec<f64> = told.readings.iter().map(|r| (1e6 * r.residual).round() / 1e3).collect();
    assert_eq!(residuals, [-4.2, -1.2, -4.2, 1.8, 7.8]);
    close(told.rms_residual, 1e-3 * (100.8_f64 / 5.0).sqrt(), 1e-7);
    let second = &list[1];
    close(second.rms_residual, 0.001, 1e-6);
    // the data sheet with rounding: 4 µm and 12/√12
    close(second.data_sheet, 1e-3 * (16.0_f64 + 12.0).sqrt(), 1e-9);
}

/// 2.25 times the data sheet, two factors of 1.5, is the bound either way.
#[test]
fn scatter_beside_the_data_sheet() {
    let words = |noise_um: f64| {
        let list = predicted(&trial(&[(1, H, [0.0, 3.0, 0.0])]), |design| vec![draw(design, noise_um, [0.0, 0.0], 0.0)]);
        list[0].interpretation.clone()
    };
    assert!(words(4.51).starts_with("The readings scatter 2.3 times"));
    assert!(words(4.49).starts_with("The joint model reproduces") && words(4.49).contains("2.2"));
    assert!(words(0.89).starts_with("The joint model reproduces"));
    assert!(words(0.88).contains("scatter 0.44 times") && words(0.88).contains("better than its data sheet"));
}

/// Of 3,001 readings those with the least and the greatest residual in each stretch of eleven; of 3,000 all. Repeats of more than 3,000 readings as means.
#[test]
fn long_logs_show_what_bounds_them() {
    let size = |i: u32| f64::from(i * 7919 % 3001);
    let levels = |count: u32| {
        let mut log = trial(&[(1, H, [0.0, 3.0, 0.0])]);
        log.levels = (0..count)
            .map(|i| LevelReading {
                place: Place { file: 1, row: u64::from(i) + 2 },
                setting: 0,
                station_mm: f64::from(i % 7),
                roll_mm_per_m: 1e-4 * size(i),
                reversed: false,
                reference_roll_mm_per_m: None,
                note: None,
            })
            .collect();
        let list = predicted(&log, |design| vec![draw(design, 2.0, [0.0, 0.0], 0.0)]);
        assert_eq!((list[1].log, list[1].unit, list[1].total as u32, list[1].means), ("levels", "mm/m", count, false));
        list[1].readings.iter().map(|r| r.place.row as u32 - 2).collect::<Vec<u32>>()
    };
    assert_eq!(levels(3_000), (0..3_000).collect::<Vec<u32>>());
    let mut expected = Vec::new();
    for from in (0..3_001).step_by(11) {
        let places = from..(from + 11).min(3_001);
        let least = places.clone().min_by(|a, b| size(*a).total_cmp(&size(*b))).unwrap();
        let most = places.max_by(|a, b| size(*a).total_cmp(&size(*b))).unwrap();
        expected.extend([least.min(most), least.max(most)]);
    }
    expected.dedup();
    assert_eq!(levels(3_001), expected);
    let repeated = |count: u32| {
        let mut log = trial(&[]);
        let rows = (0..count).map(|i| reading(u64::from(i) + 2, 0, 1, T, STATIONS[i as usize % 3], 38.0 + 1e-3 * f64::from(i % 2)));
        log.diameters = rows.collect::<Vec<_>>().into();
        let list = predicted(&log, |design| vec![draw(design, 2.0, [0.0, 0.0], 0.0)]);
        (list[0].readings.len(), list[0].means, list[0].total as u32, list[0].rms_residual)
    };
    let (shown, means, total, rms) = repeated(3_000);
    assert_eq!((shown, means, total), (3_000, false, 3_000));
    close(rms, 0.0005, 1e-6);
    let (shown, means, total, rms) = repeated(3_001);
    assert_eq!((shown, means, total), (3, true, 3_001));
    close(rms, 0.0005, 1e-6);
}

/// The sum of the causes' curves draw by draw, and one cause's weighted sum.
#[test]
fn curves_of_draws() {
    let trial = trial(&[(1, H, [0.0, 3.0, 0.0]), (2, T, [0.0, 3.0, 0.0])]);
    let design = designed(&trial);
    let mut draws = vec![draw(&design, 2.0, [0.0, 0.0], 0.05), draw(&design, 2.0, [0.0, 0.0], 0.03)];
    for (values, unknowns) in &mut draws {
        let wear = design.model.unknowns.iter().position(|u| matches!(u.meaning, Meaning::Wear { .. })).unwrap();
        (values.roll_arm, unknowns[wear]) = (150.0, 10.0);
    }
    let posterior = posterior_of(&design, draws);
    // 2ws/10⁶ with w = 10 µm/m and s mm of metal cut, from one end or the other
    let worn = |direction: Direction, z: f64| {
        let along = if direction == H { 220.0 - z } else { z };
        2.0 * 10.0 * along / 1e6
    };
    for direction in [H, T] {
        for (i, yaw) in [0.05, 0.03].into_iter().enumerate() {
            let (stations, sum) = posterior.curve_mm(0, direction, i).unwrap();
            assert_eq!(stations, STATIONS);
            let (_, own) = posterior.cause_curve_mm(0, direction, CauseKind::ToolWear, i).unwrap();
            for (place, z) in STATIONS.iter().enumerate() {
                close(own[place] - own[0], worn(direction, *z) - worn(direction, 20.0), 1e-6);
                close(sum[place] - sum[0], own[place] - own[0] + 2.0 * yaw * (z - 20.0) / 1000.0, 1e-6);
            }
        }
        let weighted = posterior.weighted_cause_mm(0, direction, CauseKind::HeadstockYaw, &[-2.0, 0.5, 3.0]).unwrap();
        for (found, yaw) in weighted.iter().zip([0.05, 0.03]) {
            close(*found, 2.0 * yaw * (-2.0 * 20.0 + 0.5 * 110.0 + 3.0 * 200.0) / 1000.0, 1e-9);
        }
    }
    assert!(posterior.curve_mm(0, H, 2).is_none() && posterior.curve_mm(1, H, 0).is_none());
    assert!(
        posterior.cause_curve_mm(1, H, CauseKind::ToolWear, 0).is_none()
            && posterior.weighted_cause_mm(1, T, CauseKind::ToolWear, &[1.0; 3]).is_none()
    );
    assert!(posterior.len() == 2 && !posterior.is_empty());
}
