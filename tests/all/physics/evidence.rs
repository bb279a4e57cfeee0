//! What levels, indicator, clamps and moves say in the same unknowns.

use super::published::{close, rounds_to};
use crate::made::{feet, reading, trial};
use taperwright::physics::{
    Compliances, ForceFactors, Support, bed_twist, clamp, cut_points, headstock_yaw, indicator, level, moves, tailstock_offset,
};
use taperwright::quantities::SlopeUnit;
use taperwright::trial::{Feet, Foot, Holding, Move, Place};

/// Two collars 100 mm apart, the free end larger by 0.127 mm: the rear foot at the tailstock end is lowered.
/// Common practice, no source.
#[test]
fn a_bar_larger_at_the_free_end_is_cured_by_lowering_the_rear_foot_at_the_tailstock() {
    let mut trial = trial(Holding::Chuck);
    trial.diameters = [10.0, 110.0].map(reading).to_vec().into();
    let points = cut_points(&trial, &Support::of_bar(&trial.bar, Compliances::RIGID), ForceFactors::default());
    let per_twist = bed_twist::per_unit_mm(&points[1]) - bed_twist::per_unit_mm(&points[0]);
    let twist = 0.127 / per_twist;
    assert!(rounds_to(twist, "4.417"), "{twist}");
    let lower = moves::twist_per_gain(Foot::TailstockRear, -0.1, &feet()).expect("feet");
    assert!(lower * per_twist < 0.0, "lowering the rear foot makes the free end smaller");
    assert!(moves::twist_per_gain(Foot::TailstockRear, 0.1, &feet()).expect("feet") * per_twist > 0.0);
    // The front foot there works the other way, and so does the rear foot under the headstock.
    assert!(moves::twist_per_gain(Foot::TailstockFront, -0.1, &feet()).expect("feet") * per_twist > 0.0);
    assert!(moves::twist_per_gain(Foot::HeadstockRear, -0.1, &feet()).expect("feet") * per_twist > 0.0);
    assert!(moves::twist_per_gain(Foot::HeadstockFront, -0.1, &feet()).expect("feet") * per_twist < 0.0);
}

#[test]
fn turns_follow_pitch_and_sense() {
    let logged = |raise_mm, turns| Move {
        place: Place { file: 0, row: 1 },
        from_setting: 0,
        to_setting: 1,
        foot: Foot::TailstockRear,
        raise_mm,
        turns,
        note: None,
    };
    let feet = feet();
    assert_eq!(moves::raise_mm(&logged(Some(0.2), None), None), Some(0.2));
    assert_eq!(moves::raise_mm(&logged(None, Some(0.5)), Some(&feet)), Some(-0.625));
    assert_eq!(moves::raise_mm(&logged(None, Some(0.5)), None), None);
    assert_eq!(moves::turns_for(-0.625, &feet), Some(0.5));
}

/// Level sensitivities in seconds of arc: 0.02 mm/m is 4.125", 0.0005 in per 10 in is 10.31", 0.0005 in/ft is 8.59".
#[test]
fn level_units_and_functional() {
    let arcsec =
        |unit: SlopeUnit, value: f64| value * unit.mm_per_m(None).expect("a unit") / SlopeUnit::Arcsec.mm_per_m(None).expect("a unit");
    assert!(rounds_to(arcsec(SlopeUnit::MmPerM, 0.02), "4.125"));
    assert!(rounds_to(arcsec(SlopeUnit::InPer10In, 0.0005), "10.313"));
    assert!(rounds_to(arcsec(SlopeUnit::InPerFt, 0.0005), "8.594"));
    assert!(rounds_to(arcsec(SlopeUnit::InPerFt, 0.0002), "3.438"));
    let reading = level::functional(500.0, false);
    assert!(close(0.4 * reading.twist, 0.2, 1e-12));
    assert_eq!(reading.zero + level::functional(500.0, true).zero, 0.0);
}

/// The indicator sees the same lean as the tool: the reading falls by half of what the diameter grows.
#[test]
fn the_indicator_falls_by_half_the_taper_that_the_tool_makes() {
    for holding in [Holding::Chuck, Holding::Centres, Holding::ChuckAndCentre] {
        let mut trial = trial(holding);
        trial.diameters = [0.0, 70.0, 220.0].map(reading).to_vec().into();
        let support = Support::of_bar(&trial.bar, Compliances::RIGID).with_firmness(0.6);
        for point in cut_points(&trial, &support, ForceFactors::default()) {
            let seen = indicator::side(point.station_mm, 0.0, &support);
            assert!((seen.yaw + 0.5 * headstock_yaw::per_unit_mm(&point)).abs() < 1e-15);
            assert!((seen.arm_twist * 143.75 + 0.5 * bed_twist::per_unit_mm(&point)).abs() < 1e-15);
            assert!((seen.offset + 0.5 * tailstock_offset::per_unit_mm(&point)).abs() < 1e-15);
            assert_eq!(seen.way_wear, -0.5);
        }
    }
}

/// Readings half a turn apart, averaged: run-out is gone, the bar's own taper is not (ISO 230-1, test mandrel).
#[test]
fn half_a_turn_removes_run_out() {
    let support = Support::of_bar(&trial(Holding::Chuck).bar, Compliances::RIGID);
    let (a, b) = (indicator::side(150.0, 35.0, &support), indicator::side(150.0, 215.0, &support));
    for i in 0..4 {
        assert!((a.run_out[i] + b.run_out[i]).abs() < 1e-12 && a.run_out[i].abs() > 0.1);
    }
    assert!(close(a.bar_taper * 0.002 / 200.0, 0.000_75, 1e-12));
    let top = indicator::top(150.0, 0.0);
    assert!(top.yaw == 0.0 && top.arm_twist == 0.0 && close(top.vertical, 0.15, 1e-12));
}

#[test]
fn a_clamp_that_adds_twist_moves_the_carriage_away() {
    let coefficient = clamp::arm_twist_coefficient(380.0, Some(&feet()));
    assert!(close(coefficient * 150.0 * 0.2, -0.015, 1e-12));
    assert_eq!(clamp::headstock_feet_mm(None), 0.0);
}

/// At 60° and 200 mm: cos, sin, and both times the length.
#[test]
fn run_out_turns_with_the_spindle_and_grows_along_the_bar() {
    let expected = [0.5, 0.75f64.sqrt(), 100.0, 200.0 * 0.75f64.sqrt()];
    let found = indicator::top(200.0, 60.0).run_out;
    assert!(found.iter().zip(expected).all(|(found, expected)| close(*found, expected, 1e-12)), "{found:?}");
}

#[test]
fn feet_without_size_and_screws_without_pitch_say_nothing() {
    let flat = Feet { spacing_along_mm: 0.0, ..feet() };
    assert_eq!(moves::twist_per_gain(Foot::TailstockRear, 0.1, &flat), None);
    let bare = Feet { screw_pitch_mm: Some(0.0), ..feet() };
    assert_eq!(moves::turns_for(0.1, &bare), None);
}
