//! Tool, axis and tailstock centre placed in space by plain rigid-body geometry; the formulas must agree to first order.
//!
//! Nothing of the program's formulas is used here: positions only. x to the operator, y upwards, z to the tailstock, axis at the origin of x and y.

use super::published::close;
use crate::made::{reading, trial};
use taperwright::physics::vertical_misalignment::diameter_change_mm;
use taperwright::physics::{Compliances, ForceFactors, Support, bed_twist, cut_points, headstock_yaw, indicator, tailstock_offset};
use taperwright::trial::Holding;

/// A lathe whose bed is twisted and whose headstock and tailstock are out of line.
struct Lathe {
    /// Height of the axis above the centre of torsion, mm.
    arm: f64,
    /// Twist, radians per mm.
    twist: f64,
    /// Yaw, radians: the free end leans to the rear.
    yaw: f64,
    /// Tailstock centre to the rear, mm.
    offset: f64,
    /// Tool below the axis at the headstock, mm.
    tool_below: f64,
    /// Rise of the axis, radians.
    pitch: f64,
    /// Length between centres, mm.
    length: f64,
}

const RADIUS: f64 = 19.0;

impl Lathe {
    /// A point fixed to the carriage (or to the tailstock) at `z`, after the bed there has rolled: the top leans to the operator.
    fn rolled(&self, x: f64, y: f64, z: f64) -> (f64, f64) {
        let roll = self.twist * z;
        let (from_centre_x, from_centre_y) = (x, y + self.arm);
        (from_centre_x * roll.cos() + from_centre_y * roll.sin(), -from_centre_x * roll.sin() + from_centre_y * roll.cos() - self.arm)
    }

    fn tool(&self, z: f64) -> (f64, f64) {
        let at_headstock = (RADIUS * RADIUS - self.tool_below * self.tool_below).sqrt();
        self.rolled(at_headstock, -self.tool_below, z)
    }

    fn axis_in_chuck(&self, z: f64) -> (f64, f64) {
        (-self.yaw.tan() * z, self.pitch.tan() * z)
    }

    /// Between centres the axis runs straight to the tailstock centre, which stands on the bed and rolls with it.
    fn axis_between_centres(&self, z: f64) -> (f64, f64) {
        let (x, y) = self.rolled(-self.offset, 0.0, self.length);
        (x * z / self.length, y * z / self.length)
    }

    fn diameter(&self, z: f64, axis: (f64, f64)) -> f64 {
        let tool = self.tool(z);
        2.0 * (tool.0 - axis.0).hypot(tool.1 - axis.1)
    }
}

fn lathe() -> Lathe {
    Lathe { arm: 143.75, twist: 0.3e-6, yaw: 0.04e-3, offset: 0.012, tool_below: 0.0, pitch: 0.0, length: 220.0 }
}

#[test]
fn a_chucked_bar_grows_as_the_formulas_say() {
    let lathe = lathe();
    let mut trial = trial(Holding::Chuck);
    trial.diameters = [0.0, 60.0, 140.0, 220.0].map(reading).to_vec().into();
    for point in cut_points(&trial, &Support::of_bar(&trial.bar, Compliances::RIGID), ForceFactors::default()) {
        let z = point.station_mm;
        let grown = lathe.diameter(z, lathe.axis_in_chuck(z)) - 2.0 * RADIUS;
        let formula = 0.04 * headstock_yaw::per_unit_mm(&point) + 0.3 * bed_twist::per_unit_mm(&point);
        assert!((grown - formula).abs() <= 1e-3 * formula, "{z}: {grown} {formula}");
    }
}

#[test]
fn between_centres_only_the_offset_is_left() {
    let lathe = lathe();
    let mut trial = trial(Holding::Centres);
    trial.diameters = [0.0, 60.0, 140.0, 220.0].map(reading).to_vec().into();
    for point in cut_points(&trial, &Support::of_bar(&trial.bar, Compliances::RIGID), ForceFactors::default()) {
        let z = point.station_mm;
        let grown = lathe.diameter(z, lathe.axis_between_centres(z)) - 2.0 * RADIUS;
        let formula = 0.012 * tailstock_offset::per_unit_mm(&point);
        assert!((grown - formula).abs() <= 1e-3 * formula + 1e-8, "{z}: {grown} {formula}");
    }
    // The same twist in a chuck would have made 2·143.75·0.3e-6·220 = 19 µm.
}

#[test]
fn an_indicator_on_the_carriage_falls_as_the_bar_leans_away() {
    let lathe = lathe();
    let support = Support::of_bar(&trial(Holding::Chuck).bar, Compliances::RIGID);
    for z in [0.0, 100.0, 200.0] {
        // The plunger points to the rear at axis height: it is pushed in by the bar's front less the carriage's own movement.
        let pushed = |z: f64| (lathe.axis_in_chuck(z).0 + RADIUS) - lathe.tool(z).0;
        let seen = indicator::side(z, 0.0, &support);
        let formula = seen.yaw * 0.04 + seen.arm_twist * 143.75 * 0.3;
        assert!((pushed(z) - pushed(0.0) - formula).abs() < 1e-6, "{z}");
    }
}

#[test]
fn a_rising_axis_and_a_low_tool_make_taper() {
    let lathe = Lathe { twist: 0.0, yaw: 0.0, tool_below: 0.4, pitch: 0.1e-3, ..lathe() };
    for z in [50.0, 220.0] {
        let grown = lathe.diameter(z, lathe.axis_in_chuck(z)) - lathe.diameter(0.0, lathe.axis_in_chuck(0.0));
        let formula = diameter_change_mm(0.1e-3 * z, 0.4, 2.0 * RADIUS);
        assert!(close(grown, formula, 1e-3), "{z}: {grown} {formula}");
    }
}
