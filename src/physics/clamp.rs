//! What an indicator on the carriage says while a foot's nut is tightened.

use crate::trial::Feet;

/// Coefficient of the twist that tightening one foot adds, times the roll arm: `Δy = c − hΔτ(Z + Z₀)/10⁶`, mm.
///
/// `bed_mm` = `Z` from the chuck face, `Z₀` from the headstock feet to the chuck face, both mm; multiply by `h` (mm) and `Δτ`
/// ((mm/m)/m). The constant `c` is free for each foot, so one station alone says little. `τ = ΣΔτ + free twist`.
/// Example: 0.2 (mm/m)/m, `h` = 150, at 380 + 120 mm: −15 µm.
#[must_use]
pub fn arm_twist_coefficient(bed_mm: f64, feet: Option<&Feet>) -> f64 {
    -(bed_mm + headstock_feet_mm(feet)) / 1e6
}

/// `Z₀`, mm: distance from the headstock feet to the chuck face; 0 where it is not stated (the free constant takes up the rest).
#[must_use]
pub fn headstock_feet_mm(feet: Option<&Feet>) -> f64 {
    feet.and_then(|feet| feet.headstock_feet_to_chuck_face_mm).unwrap_or(0.0)
}
