//! Which tests a user could still make: their readings, minutes and conditions.

use super::super::candidates::{Candidate, candidates};
use super::super::values::NextTestKind::{self, *};
use super::{designed, fixture, reading};
use crate::trial::*;

const H: Direction = Direction::ToHeadstock;
const T: Direction = Direction::ToTailstock;

/// A bar of 38 mm by 120 mm: two passes to the headstock in setting 0, the second the deeper, one reading excluded; setting 1 cut both ways.
fn trial() -> Trial {
    let mut trial = fixture::bar(Holding::Chuck);
    trial.bar.length_mm = 120.0;
    let mut rows = Vec::new();
    for (pass, depth_mm) in [(3, 0.05), (4, 0.1)] {
        for (i, z) in [60.0, 20.0, 100.0, 20.0].into_iter().enumerate() {
            let repeat = (i == 3).then_some(2);
            let row = rows.len() as u64 + 2;
            rows.push(DiameterReading { depth_mm, repeat, time_min: Some(f64::from(pass)), ..reading(row, 0, pass, H, z, 38.0) });
        }
    }
    rows.push(DiameterReading { excluded: Some("slip".into()), ..reading(11, 0, 9, T, 77.0, 38.0) });
    rows.push(DiameterReading { depth_mm: 0.0, ..reading(12, 0, 5, T, 20.0, 38.0) });
    for (i, direction) in [(0, H), (1, T)] {
        for z in [25.0, 90.0] {
            rows.push(DiameterReading { depth_mm: 0.9, ..reading(13, 1, 20 + i, direction, z, 38.0) });
        }
    }
    trial.diameters = rows.into();
    trial
}

fn all(trial: &Trial, setting: u32) -> Vec<Candidate> {
    candidates(trial, &designed(trial), setting)
}

fn kinds(trial: &Trial) -> Vec<NextTestKind> {
    all(trial, 0).into_iter().map(|c| c.kind).collect()
}

fn of(trial: &Trial, kind: NextTestKind) -> Candidate {
    all(trial, 0).into_iter().find(|c| c.kind == kind).unwrap()
}

fn added(before: &Trial, candidate: &Candidate) -> Vec<DiameterReading> {
    let all = candidate.trial.diameters.to_vec();
    assert_eq!(all[..before.diameters.len()], before.diameters.to_vec());
    all[before.diameters.len()..].to_vec()
}

/// Pass, direction, depth and station of each reading.
fn told(rows: &[DiameterReading]) -> Vec<(u32, Direction, f64, f64)> {
    assert!(rows.iter().all(|r| r.place.file == usize::MAX && r.setting == 0 && r.time_min.is_none()));
    rows.iter().map(|r| (r.pass, r.direction, r.depth_mm, r.station_mm)).collect()
}

#[test]
fn every_test_with_its_readings_and_minutes() {
    let before = trial();
    let list = all(&before, 0);
    let minutes: Vec<(NextTestKind, f64)> = list.iter().map(|c| (c.kind, (1e6 * c.minutes).round() / 1e6)).collect();
    // 5 minutes a pass, 0.3 a reading, 10 a set-up
    let expected = [
        (PassOtherWay, 5.9),
        (HeavyAndLightPass, 11.8),
        (LongerBar, 15.9),
        (Levels, 13.0),
        (Indicator, 13.0),
        (Clamp, 22.4),
        (MoreStations, 0.6),
        (MoreRepeats, 0.9),
    ];
    assert_eq!(minutes, expected);
    // the last pass that counts is number 5, the lightest with a depth number 3
    assert_eq!(told(&added(&before, &list[0])), [20.0, 60.0, 100.0].map(|z| (6, T, 0.05, z)));
    // the heavy one last: a light one after it would carry part of what it left
    let both = [20.0, 60.0, 100.0].map(|z| (6, H, 0.05, z)).into_iter().chain([20.0, 60.0, 100.0].map(|z| (7, H, 0.2, z)));
    assert_eq!(told(&added(&before, &list[1])), both.collect::<Vec<_>>());
    // four diameters of 38 mm are 152 mm, sawn to 150: stations move out by 150/120
    let longer = added(&before, &list[2]);
    for (r, z) in longer.iter().zip([20.0, 60.0, 100.0]) {
        assert!((r.station_mm - z * 150.0 / 120.0).abs() < 1e-9 && (r.pass, r.direction, r.depth_mm) == (6, H, 0.05), "{r:?}");
    }
    assert!(longer.len() == 3 && list[2].trial.bar.length_mm == 120.0 && list[2].why.contains("over 150 mm"));
    // on the last pass that was cut, the return stroke: stations between, and every station again
    assert_eq!(told(&added(&before, &list[6])), [40.0, 80.0].map(|z| (5, T, 0.0, z)));
    assert_eq!(told(&added(&before, &list[7])), [20.0, 60.0, 100.0].map(|z| (5, T, 0.0, z)));
    assert!(list.iter().all(|c| !c.why.is_empty()));
    // other minutes are asked of the plan
    let mut planned = before;
    planned.plan = Some(PlanRequest {
        minutes_per_pass: Some(1.0),
        minutes_per_reading: Some(100.0),
        minutes_per_setup: Some(10_000.0),
        ..PlanRequest::default()
    });
    let minutes: Vec<f64> = all(&planned, 0).iter().map(|c| c.minutes).collect();
    assert_eq!(minutes, [301.0, 602.0, 10_301.0, 11_000.0, 11_000.0, 20_800.0, 200.0, 300.0]);
    assert!(all(&planned, 7).is_empty(), "no such setting");
    // the other setting by its own pass to the headstock
    let other = all(&planned, 1);
    assert_eq!(other.iter().map(|c| c.kind).collect::<Vec<_>>()[..2], [HeavyAndLightPass, LongerBar]);
    // three times 0.9 mm would push a bar of 38 mm that stands out 120 mm aside by 0.053 mm: it bears twice as much
    let heavy = added(&planned, &other[0]);
    assert_eq!(
        heavy.iter().map(|r| (r.setting, r.station_mm, r.depth_mm)).collect::<Vec<_>>(),
        [(1, 25.0, 0.9), (1, 90.0, 0.9), (1, 25.0, 1.8), (1, 90.0, 1.8)]
    );
}

#[test]
fn readings_of_the_other_logs() {
    let before = trial();
    let levels = of(&before, Levels).trial.levels;
    let expected: Vec<(f64, bool)> = (0..5).flat_map(|i| [false, true].map(|turned| (175.0 * f64::from(i), turned))).collect();
    assert_eq!(levels.iter().map(|r| (r.station_mm, r.reversed)).collect::<Vec<_>>(), expected, "over the feet's 700 mm");
    assert!(levels.iter().all(|r| r.setting == 0 && r.reference_roll_mm_per_m.is_none()));
    let reach = |change: &dyn Fn(&mut Trial)| {
        let mut other = trial();
        change(&mut other);
        of(&other, Levels).trial.levels[8].station_mm
    };
    assert_eq!(reach(&|t| t.machine.between_centres_mm = Some(880.0)), 880.0);
    assert_eq!(reach(&|t| t.machine.feet = None), 500.0);
    let indicator = of(&before, Indicator).trial.indicator;
    let shares = [0.05, 0.275, 0.5, 0.725, 0.95];
    let expected: Vec<(f64, f64)> = [0.0, 180.0].iter().flat_map(|deg| shares.map(|share| (*deg, 200.0 * share))).collect();
    assert!(indicator.len() == 10 && indicator.iter().all(|r| r.plane == Plane::Side && r.setting == 0));
    for (r, (deg, z)) in indicator.iter().zip(expected) {
        assert!(r.spindle_deg == deg && (r.station_mm - z).abs() < 1e-9, "{r:?}");
    }
    let clamp = of(&before, Clamp).trial.clamp;
    let expected: Vec<(Foot, f64)> = Foot::ALL.iter().flat_map(|foot| [(*foot, 6.0), (*foot, 114.0)]).collect();
    assert_eq!(clamp.iter().map(|r| (r.foot, r.station_mm)).collect::<Vec<_>>(), expected);
}

/// The first test in which a change is seen, and whether each kind is offered after it.
fn offered(change: &dyn Fn(&mut Trial)) -> [bool; 8] {
    let mut other = trial();
    change(&mut other);
    let found = kinds(&other);
    [PassOtherWay, HeavyAndLightPass, LongerBar, Levels, Indicator, Clamp, MoreStations, MoreRepeats].map(|kind| found.contains(&kind))
}

fn set(trial: &mut Trial, change: impl Fn(&mut DiameterReading)) {
    trial.diameters.change(|_, r| change(r));
}

#[test]
fn tests_that_make_no_sense_are_not_offered() {
    assert_eq!(offered(&|_| ()), [true; 8]);
    let but = |places: &[usize]| std::array::from_fn(|i| !places.contains(&i));
    // cut both ways already; a return stroke without depth is no cut
    assert_eq!(offered(&|t| set(t, |r| r.depth_mm = r.depth_mm.max(0.01))), but(&[0]));
    // a pass three times as deep as the lightest has been made
    assert_eq!(offered(&|t| set(t, |r| r.depth_mm = if r.pass == 4 { 0.149 } else { r.depth_mm })), but(&[]));
    assert_eq!(offered(&|t| set(t, |r| r.depth_mm = if r.pass == 4 { 0.151 } else { r.depth_mm })), but(&[1]));
    assert_eq!(offered(&|t| set(t, |r| r.depth_mm = [0.25, 0.75, 0.0].get(r.pass as usize - 3).copied().unwrap_or(0.9))), but(&[1]));
    // return strokes alone: nothing is known of how deep a cut would be, and both ways are still to be cut
    assert_eq!(offered(&|t| set(t, |r| r.depth_mm = 0.0)), but(&[1, 2]));
    let mut strokes = trial();
    set(&mut strokes, |r| r.depth_mm = 0.0);
    assert_eq!(kinds(&strokes).iter().filter(|kind| **kind == PassOtherWay).count(), 2);
    let level = |setting: u32| LevelReading {
        place: Place { file: 0, row: 2 },
        setting,
        station_mm: 0.0,
        roll_mm_per_m: 0.0,
        reversed: false,
        reference_roll_mm_per_m: None,
        note: None,
    };
    assert_eq!(offered(&|t| t.levels = vec![level(0)]), but(&[3]));
    assert_eq!(offered(&|t| t.levels = vec![level(1)]), but(&[]), "those of another setting");
    let indicator = |setting: u32, plane: Plane| IndicatorReading {
        place: Place { file: 0, row: 2 },
        setting,
        station_mm: 0.0,
        reading_mm: 0.0,
        spindle_deg: 0.0,
        plane,
        note: None,
    };
    assert_eq!(offered(&|t| t.indicator = vec![indicator(0, Plane::Side)]), but(&[4]));
    assert_eq!(offered(&|t| t.indicator = vec![indicator(0, Plane::Top), indicator(1, Plane::Side)]), but(&[]));
    let bar = |holding: Holding, turned_here: bool| Some(TestBar { turned_here, ..TestBar::usual(holding) });
    assert_eq!(offered(&|t| t.testbar = bar(Holding::Chuck, true)), but(&[4]));
    assert_eq!(offered(&|t| t.testbar = bar(Holding::Centres, false)), but(&[4]));
    assert_eq!(offered(&|t| t.testbar = None), but(&[]), "a usual one will do");
    let clamp = |setting: u32| ClampReading {
        place: Place { file: 0, row: 2 },
        setting,
        foot: Foot::ALL[0],
        station_mm: 0.0,
        change_mm: 0.0,
        note: None,
    };
    assert_eq!(offered(&|t| t.clamp = vec![clamp(0)]), but(&[5]));
    assert_eq!(offered(&|t| t.clamp = vec![clamp(1)]), but(&[]));
    // between centres neither the bed's twist nor a longer bar is seen, and the test bar runs between centres
    assert_eq!(offered(&|t| (t.bar.holding, t.testbar) = (Holding::Centres, bar(Holding::Centres, false))), but(&[2, 3, 5]));
    assert_eq!(offered(&|t| t.bar.holding = Holding::Centres), but(&[2, 3, 4, 5]));
    assert_eq!(offered(&|t| t.bar.holding = Holding::ChuckAndCentre), but(&[2]));
    // collars: 40 and 80 mm must have metal, told from either end, their edges included
    assert_eq!(offered(&|t| t.bar.collars_mm = vec![[10.0, 40.0], [110.0, 80.0]]), but(&[2]));
    assert_eq!(offered(&|t| t.bar.collars_mm = vec![[10.0, 39.0], [110.0, 80.0]]), but(&[2, 6]));
    assert_eq!(offered(&|t| t.bar.collars_mm = vec![[40.0, 45.0], [110.0, 81.0]]), but(&[2, 6]));
}

/// Up to 39 stations are halved; logs above 5,000 readings get no further passes of their like.
#[test]
fn long_logs_are_not_made_longer() {
    let with = |stations: u32, repeats: u32| {
        let mut other = trial();
        let rows = (0..stations * repeats).map(|i| reading(u64::from(i) + 2, 0, 1, H, 20.0 + f64::from(i % stations), 38.0));
        other.diameters = rows.collect::<Vec<_>>().into();
        kinds(&other)
    };
    assert!(with(39, 1).contains(&MoreStations) && !with(40, 1).contains(&MoreStations));
    assert_eq!(with(20, 250), [PassOtherWay, HeavyAndLightPass, LongerBar, Levels, Indicator, Clamp, MoreStations, MoreRepeats]);
    assert_eq!(with(3, 1667), [PassOtherWay, Levels, Indicator, Clamp]);
}

/// 38 mm by 228 mm are six diameters, the most that is cut; a tenth of a millimetre more, and only what is read without a cut is named.
#[test]
fn a_bar_that_stands_out_too_far_is_not_cut_again() {
    let mut trial = trial();
    let cutting = |trial: &Trial| kinds(trial).into_iter().filter(|k| matches!(k, PassOtherWay | HeavyAndLightPass | LongerBar)).count();
    trial.bar.length_mm = 228.0;
    assert!(cutting(&trial) > 0);
    trial.bar.length_mm = 228.1;
    assert!(cutting(&trial) == 0 && kinds(&trial).contains(&Levels), "{:?}", kinds(&trial));
    trial.bar.holding = Holding::ChuckAndCentre;
    assert!(cutting(&trial) > 0, "a centre carries its end");
}
