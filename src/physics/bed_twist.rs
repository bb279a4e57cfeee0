//! The bed twisted between its feet: the carriage rolls as it travels and carries the tool sideways.

use super::cut_point::CutPoint;

/// Diameter in mm per (mm/m)/m of twist: `2h·(z − L·w)/10⁶`; in a chuck `2hz/10⁶`, between centres 0, in chuck and
/// centre `2h[z − L(λ(3ζ²−ζ³)/2 + (1−λ)ζ)]/10⁶`.
///
/// The roll arm `h` (mm) is an Abbe offset: roll times `h` is how far the tool moves (ISO 230-1, angular error about Z). Twist
/// τ is positive when the rear way rises towards the tailstock, the tool leans out and the bar is larger there. Between centres
/// the tailstock stands on the same bed and swings with the tool: no effect.
/// Example: 0.4 (mm/m)/m with `h` = 150 mm at 200 mm: 0.024 mm.
#[must_use]
pub fn per_unit_mm(point: &CutPoint) -> f64 {
    2.0 * point.roll_arm_mm * point.slope_arm_mm / 1e6
}

/// Diameter in mm that a roll of the carriage makes: `2·h·φ/1000`, `φ` in mm/m, rear way high positive.
///
/// Example: 0.04 mm/m at a height of 200 mm: 0.016 mm.
#[must_use]
pub fn diameter_of_roll_mm(roll_mm_per_m: f64, roll_arm_mm: f64) -> f64 {
    2.0 * roll_arm_mm * roll_mm_per_m / 1000.0
}
