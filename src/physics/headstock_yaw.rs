//! The spindle axis out of line with the carriage's path, in the horizontal plane.

use super::cut_point::CutPoint;

/// Diameter in mm per mm/m of yaw: `2·(z − L·w)/1000`; in a chuck `2z/1000`, between centres 0, in chuck and centre
/// `2λL(ζ − 3ζ²/2 + ζ³/2)/1000` (geometry of a cone; a clamped bar pulled straight by the centre).
///
/// Yaw ψ is positive when the free end leans to the rear, away from the tool: the bar then is larger there.
/// Example: 0.05 mm/m at 200 mm in a chuck makes 0.020 mm.
#[must_use]
pub fn per_unit_mm(point: &CutPoint) -> f64 {
    2.0 * point.slope_arm_mm / 1000.0
}
