//! What moving a foot does: hand-worked cases of the trade, and statics of a bed on four springs.

use nalgebra::{SMatrix, SVector};
use taperwright::physics::moves::{turns_for, twist_per_gain};
use taperwright::trial::{Feet, Foot, ScrewSense};

fn feet() -> Feet {
    Feet {
        spacing_along_mm: 700.0,
        spacing_across_mm: 150.0,
        headstock_feet_to_chuck_face_mm: None,
        screw_pitch_mm: Some(1.25),
        clockwise: Some(ScrewSense::Lowers),
        finest_turn_deg: 5.0,
    }
}

/// Twist of a bed, stiff in bending, with torsional stiffness `bed` N·mm/rad between its ends, on four springs of stiffness `foot` N/mm, when the
/// base under one foot rises by `rise` mm: equilibrium of heave, pitch and the roll of both ends. (rad/mm) as (mm/m)/m.
fn twist_by_statics(raised: Foot, rise: f64, bed: f64, foot: f64, feet: &Feet) -> f64 {
    let (b, length) = (feet.spacing_across_mm, feet.spacing_along_mm);
    let mut stiffness = SMatrix::<f64, 4, 4>::zeros();
    let mut load = SVector::<f64, 4>::zeros();
    for each in Foot::ALL {
        let (along, at_tailstock) = match each {
            Foot::HeadstockFront | Foot::HeadstockRear => (-0.5 * length, false),
            Foot::TailstockFront | Foot::TailstockRear => (0.5 * length, true),
        };
        // Positive roll lifts the rear way.
        let across = if matches!(each, Foot::HeadstockRear | Foot::TailstockRear) { 0.5 * b } else { -0.5 * b };
        // Height of the bed there: heave + pitch·along + roll of its end·across.
        let height = SVector::<f64, 4>::new(1.0, along, if at_tailstock { 0.0 } else { across }, if at_tailstock { across } else { 0.0 });
        stiffness += foot * height * height.transpose();
        load += foot * if each == raised { rise } else { 0.0 } * height;
    }
    let wound = SVector::<f64, 4>::new(0.0, 0.0, -1.0, 1.0);
    stiffness += bed * wound * wound.transpose();
    let place = stiffness.lu().solve(&load).unwrap();
    (place[3] - place[2]) / length * 1e6
}

/// Statics: on rigid feet the geometry is exact for every foot and sign; a bed stiff against its feet takes less, by `1/(1 + 4GJ/(L·k·b²))`.
#[test]
fn statics_of_a_bed_on_four_springs() {
    let feet = feet();
    for foot in Foot::ALL {
        let geometry = twist_per_gain(foot, 0.05, &feet).unwrap();
        let rigid = twist_by_statics(foot, 0.05, 1.0, 1e9, &feet);
        assert!((rigid / geometry - 1.0).abs() < 1e-6, "{foot:?}: {rigid} {geometry}");
        assert!((twist_by_statics(foot, 0.051, 1.0, 1e9, &feet) / geometry - 1.0).abs() > 1e-3, "the comparison must tell");
        let (bed, spring) = (4e9, 5e5);
        let gain = 1.0 / (1.0 + 4.0 * bed / (spring * feet.spacing_across_mm.powi(2)));
        let soft = twist_by_statics(foot, 0.05, bed, spring, &feet);
        assert!((soft / (gain * geometry) - 1.0).abs() < 1e-9, "{foot:?}");
        assert!(gain < 0.8, "feet that give way take part of the move");
    }
}

/// Hand-worked (common practice, no source): feet 150 mm across; the rear one at the tailstock end goes up by 0.15 mm, so that end leans
/// 0.15/150 = 1 mm/m towards the operator. With the headstock end held, and the feet 700 mm apart, the carriage leans 200/700 of that more after
/// 200 mm: 0.2857 mm/m. The tool, 115 mm above the ways, so stands 115 × 0.2857/1000 = 0.0329 mm nearer to the operator there, away from the bar: the
/// bar comes out 0.0657 mm larger at the tailstock end.
#[test]
fn the_carriage_leans_and_the_bar_grows() {
    let twist = twist_per_gain(Foot::TailstockRear, 0.15, &feet()).unwrap();
    let lean = twist * 200.0 / 1000.0;
    assert!((lean - 0.2857).abs() < 5e-5);
    let taper = 2.0 * 115.0 * lean / 1000.0;
    assert!((taper - 0.0657).abs() < 5e-5);
    assert!((2.0 * 110.0 * lean / 1000.0 - 0.0657).abs() > 5e-5);
}

/// Hand-worked (common practice, no source): a screw of 1.25 mm pitch that lowers when turned clockwise; up 0.125 mm is a tenth of a turn
/// anticlockwise, 36°.
#[test]
fn turns_of_a_screw() {
    assert!((turns_for(0.125, &feet()).unwrap() + 0.1).abs() < 1e-12);
    let raises = Feet { clockwise: Some(ScrewSense::Raises), ..feet() };
    assert!((turns_for(0.125, &raises).unwrap() - 0.1).abs() < 1e-12);
    assert!(turns_for(0.125, &Feet { screw_pitch_mm: None, ..feet() }).is_none());
}
