//! Yaw, twist, offset, worn ways, height: signs, identities and derived numbers.

use super::published::{close, rounds_to};
use crate::made::{reading, trial};
use taperwright::physics::bed_twist::{self, diameter_of_roll_mm};
use taperwright::physics::vertical_misalignment::{diameter_change_mm, rise_mm};
use taperwright::physics::{
    Compliances, CutPoint, ForceFactors, Support, cut_points, headstock_yaw, lead_screw, tailstock_offset, way_wear,
};
use taperwright::quantities::{included_angle_arcsec, taper_per_foot_in};
use taperwright::trial::Holding;

const TAPERS: &str = include_str!("../../published/tapers-per-foot/taper_per_foot.csv");

fn points(holding: Holding, firmness: f64) -> Vec<CutPoint> {
    let mut trial = trial(holding);
    trial.diameters = (0..=11).map(|i| reading(20.0 * f64::from(i))).collect();
    let support = Support::of_bar(&trial.bar, Compliances::RIGID).with_firmness(firmness);
    cut_points(&trial, &support, ForceFactors::default())
}

#[test]
fn in_a_chuck_yaw_and_twist_are_straight_and_offset_is_nothing() {
    for point in points(Holding::Chuck, 1.0) {
        assert!(close(headstock_yaw::per_unit_mm(&point), 2.0 * point.station_mm / 1000.0, 1e-12));
        assert!(close(bed_twist::per_unit_mm(&point), 2.0 * 143.75 * point.station_mm / 1e6, 1e-12));
        assert_eq!(tailstock_offset::per_unit_mm(&point), 0.0);
    }
}

#[test]
fn between_centres_twist_and_yaw_are_nothing_and_offset_is_straight() {
    for point in points(Holding::Centres, 1.0) {
        assert_eq!(headstock_yaw::per_unit_mm(&point), 0.0);
        assert_eq!(bed_twist::per_unit_mm(&point), 0.0);
        assert!(close(tailstock_offset::per_unit_mm(&point), 2.0 * point.station_mm / 220.0, 1e-12));
    }
}

#[test]
fn in_chuck_and_centre_the_curves_are_those_of_a_bent_bar() {
    for firmness in [1.0, 0.4] {
        for point in points(Holding::ChuckAndCentre, firmness) {
            let zeta = point.station_mm / 220.0;
            let yaw = 2.0 * firmness * 220.0 * (zeta - 1.5 * zeta * zeta + 0.5 * zeta.powi(3)) / 1000.0;
            let share = firmness * (3.0 * zeta * zeta - zeta.powi(3)) / 2.0 + (1.0 - firmness) * zeta;
            let twist = 2.0 * 143.75 * (point.station_mm - 220.0 * share) / 1e6;
            assert!((headstock_yaw::per_unit_mm(&point) - yaw).abs() < 1e-12);
            assert!((bed_twist::per_unit_mm(&point) - twist).abs() < 1e-12);
            assert!((tailstock_offset::per_unit_mm(&point) - 2.0 * share).abs() < 1e-12);
        }
    }
    let last = points(Holding::ChuckAndCentre, 1.0).pop().expect("a point");
    assert!(headstock_yaw::per_unit_mm(&last).abs() < 1e-12, "the centre holds the end");
}

/// Signs in words: a free end that leans away from the tool, a rear way that rises, a tailstock set to the rear: larger at the tailstock.
#[test]
fn positive_causes_make_the_bar_larger_at_the_tailstock() {
    let (chuck, centres) = (points(Holding::Chuck, 1.0), points(Holding::Centres, 1.0));
    assert!(headstock_yaw::per_unit_mm(&chuck[11]) > headstock_yaw::per_unit_mm(&chuck[0]));
    assert!(bed_twist::per_unit_mm(&chuck[11]) > bed_twist::per_unit_mm(&chuck[0]));
    assert!(tailstock_offset::per_unit_mm(&centres[11]) > tailstock_offset::per_unit_mm(&centres[0]));
    assert!(way_wear::exponential_mm(0.0, 20.0, 80.0) > way_wear::exponential_mm(200.0, 20.0, 80.0));
}

/// Angular error about Z times the height above the ways (ISO 230-1): 0.04 mm/m at 200 mm is 0.016 mm of diameter.
#[test]
fn roll_at_a_height_moves_the_tool() {
    assert!(rounds_to(diameter_of_roll_mm(0.04, 200.0), "0.016"));
    // A spindle 0.015 mm over 300 mm out of line: 0.030 mm of diameter.
    assert!(rounds_to(
        headstock_yaw::per_unit_mm(&CutPoint { slope_arm_mm: 300.0, ..points(Holding::Chuck, 1.0)[0].clone() }) * 0.05,
        "0.030"
    ));
}

/// Of 20 µm·e^(−z/80) over eight stations along 220 mm, 17.5 µm of end difference is straight.
#[test]
fn most_of_worn_ways_looks_like_a_straight_taper() {
    let stations: Vec<f64> = (0..8).map(|i| 220.0 * f64::from(i) / 7.0).collect();
    let curve: Vec<f64> = stations.iter().map(|z| 1000.0 * way_wear::exponential_mm(*z, 20.0, 80.0)).collect();
    let straight = way_wear::straight_end_difference(&stations, &curve).expect("stations");
    assert!(rounds_to(-straight, "17.5"), "{straight}");
    let whole = curve[0] - curve[7];
    assert!(rounds_to(whole, "18.72"), "{whole}");
    assert_eq!(way_wear::straight_end_difference(&[1.0], &[1.0]), None);
    assert_eq!(way_wear::straight_end_difference(&[1.0, 1.0], &[1.0, 2.0]), None);
    // The roll that makes it is the same as twist's lever.
    assert!(close(diameter_of_roll_mm(way_wear::roll_mm_per_m(0.02, 143.75), 143.75), 0.02, 1e-12));
}

#[test]
fn a_tool_off_centre_height_turns_rise_into_taper() {
    assert!(rounds_to(1000.0 * diameter_change_mm(0.02, 0.5, 12.0), "3.4"));
    // Exact circle through the tool, second order: 2(√(R² + y²) − R).
    for (radius, expected) in [(12.5, 3.199_997_951_952_582e-5), (25.0, 1.599_999_743_717_717e-5), (50.0, 7.999_999_681_373_993e-6)] {
        assert!(close(diameter_change_mm(0.02, 0.0, 2.0 * radius), expected, 1e-5));
    }
    // First order in h₀ against the exact chord, 0.5 mm off on 50 mm: 0.8 µm.
    let exact = |y: f64| 2.0 * (25.0f64.powi(2) - 0.25 + (0.5 + y).powi(2)).sqrt();
    assert!(close(diameter_change_mm(0.02, 0.5, 50.0), exact(0.02) - exact(0.0), 1e-3));
    assert!(rounds_to(diameter_change_mm(0.02, 0.5, 50.0), "0.0008"));
    assert!(close(rise_mm(0.1, 200.0, 0.002), 0.018, 1e-12));
}

#[test]
fn lead_screw_wave() {
    let [sine, cosine] = lead_screw::columns(1.5, 6.0);
    assert!((sine - 1.0).abs() < 1e-12 && cosine.abs() < 1e-12);
    assert!(lead_screw::is_resolved(40.0, 20.0) && !lead_screw::is_resolved(39.0, 20.0));
}

/// Tapers per foot as handbooks tabulate them, `2·atan(t/24)`.
#[test]
fn tapers_per_foot() {
    let mut rows = 0;
    for line in TAPERS.lines().skip(1) {
        let cells: Vec<&str> = line.split(',').collect();
        let per_foot: f64 = cells[0].parse().expect("a number");
        // A taper of `per_foot` inches over twelve inches, in millimetres.
        let degrees = included_angle_arcsec(per_foot * 25.4, 304.8) / 3600.0;
        assert!(rounds_to(degrees, cells[2]), "{per_foot}: {degrees}");
        assert!(close(taper_per_foot_in(per_foot * 25.4 / 3.0, 101.6), per_foot, 1e-12));
        rows += 1;
    }
    assert_eq!(rows, 34);
    assert!(rounds_to(included_angle_arcsec(0.550 * 25.4, 304.8) / 3600.0, "2.626"));
    assert!(rounds_to(taper_per_foot_in(0.04, 300.0), "0.0016"));
    assert!(rounds_to(included_angle_arcsec(0.04, 300.0), "27.5"));
}

/// Least squares by hand: stations 5, 15, 45 (mean 65/3), values 1, 5, 2 (mean 8/3); Σ(z−z̄)² = 2600/3, Σ(z−z̄)(g−ḡ) = −10/3; slope −1/260 over 40 mm.
#[test]
fn the_straight_part_is_the_least_squares_slope_times_the_span() {
    let found = way_wear::straight_end_difference(&[5.0, 15.0, 45.0], &[1.0, 5.0, 2.0]).expect("stations");
    assert!(close(found, -40.0 / 260.0, 1e-12), "{found}");
    assert_eq!(way_wear::straight_end_difference(&[0.0, 10.0], &[1.0]), None);
    assert_eq!(way_wear::straight_end_difference(&[0.0, 10.0], &[1.0, 2.0, 3.0]), None);
    assert_eq!(way_wear::straight_end_difference(&[], &[]), None);
    assert_eq!((way_wear::exponential_mm(0.0, 20.0, 0.0), way_wear::roll_mm_per_m(0.02, 0.0)), (0.0, 0.0));
}
