//! The axis above or below the tool, changing along the bar; and the sag of a bar under its own weight.

use super::beam::second_moment_mm4;
use crate::trial::{Holding, TestBar};
use std::f64::consts::PI;

/// Standard acceleration of free fall, m/s² (third General Conference on Weights and Measures, 1901).
pub const FREE_FALL_M_PER_S2: f64 = 9.806_65;

/// Change of diameter, mm: `(4h₀y + 2y²)/D`, all in mm.
///
/// `rise_mm` = `y`, how much higher the axis is than at the headstock; `height_error_mm` = `h₀`, axis minus tool height at the
/// headstock; `diameter_mm` = `D`. From `D = 2√(x² + (h₀ + y)²)` with `x` held, `h₀` and `y` small. First order in `h₀`:
/// a tool 0.5 mm off centre on a 12 mm bar makes 3.4 µm from 0.02 mm.
///
/// ```
/// # use taperwright::physics::vertical_misalignment::diameter_change_mm;
/// assert!((diameter_change_mm(0.02, 0.5, 12.0) - 0.003_4).abs() < 5e-5);
/// ```
#[must_use]
pub fn diameter_change_mm(rise_mm: f64, height_error_mm: f64, diameter_mm: f64) -> f64 {
    (4.0 * height_error_mm * rise_mm + 2.0 * rise_mm * rise_mm) / diameter_mm
}

/// Rise of the axis at `z`, mm: `y = v·z/1000 − sag(z)`, `v` in mm/m, positive = free end up.
#[must_use]
pub fn rise_mm(vertical_mm_per_m: f64, z_mm: f64, sag_mm: f64) -> f64 {
    vertical_mm_per_m * z_mm / 1000.0 - sag_mm
}

/// Sag of a round cantilever under its own weight at `z`, mm, downwards positive: `w·z²(6L² − 4Lz + z²)/(24EI)`, `w = ρgA`.
///
/// Lengths in mm, Young's modulus in GPa, density in kg/m³. At the end `wL⁴/(8EI)` (beam tables of engineers' handbooks). Steel
/// (206 GPa, 7850 kg/m³), 25 mm × 200 mm: 1.913 µm at the end.
#[must_use]
pub fn sag_mm(z_mm: f64, length_mm: f64, diameter_mm: f64, youngs_modulus_gpa: f64, density_kg_per_m3: f64) -> f64 {
    let area_mm2 = PI * diameter_mm * diameter_mm / 4.0;
    let weight_n_per_mm = density_kg_per_m3 * 1e-9 * FREE_FALL_M_PER_S2 * area_mm2;
    let stiffness = youngs_modulus_gpa * 1000.0 * second_moment_mm4(diameter_mm);
    weight_n_per_mm * z_mm * z_mm * (6.0 * length_mm * length_mm - 4.0 * length_mm * z_mm + z_mm * z_mm) / (24.0 * stiffness)
}

/// Sag of a round bar between centres under its own weight at `z`, mm, downwards positive: `w·z(L³ − 2Lz² + z³)/(24EI)`, `w = ρgA`.
///
/// Units as [`sag_mm`]. In the middle `5wL⁴/(384EI)`, at both centres nothing (beam tables of engineers' handbooks).
#[must_use]
pub fn sag_between_centres_mm(z_mm: f64, length_mm: f64, diameter_mm: f64, youngs_modulus_gpa: f64, density_kg_per_m3: f64) -> f64 {
    let area_mm2 = PI * diameter_mm * diameter_mm / 4.0;
    let weight_n_per_mm = density_kg_per_m3 * 1e-9 * FREE_FALL_M_PER_S2 * area_mm2;
    let stiffness = youngs_modulus_gpa * 1000.0 * second_moment_mm4(diameter_mm);
    weight_n_per_mm * z_mm * (length_mm.powi(3) - 2.0 * length_mm * z_mm * z_mm + z_mm.powi(3)) / (24.0 * stiffness)
}

/// Sag at `z` (mm) of a test bar `diameter_mm` thick, mm: solid steel (206 GPa, 7850 kg/m³), its stated length free of the chuck or between centres.
#[must_use]
pub fn test_bar_sag_mm(z_mm: f64, bar: &TestBar, diameter_mm: f64) -> f64 {
    let sag = if bar.holding == Holding::Centres { sag_between_centres_mm } else { sag_mm };
    if diameter_mm > 0.0 { sag(z_mm, bar.length_mm, diameter_mm, 206.0, 7850.0) } else { 0.0 }
}
