//! Warm bars are larger.

/// Change of a diameter, mm: `ΔD = α·D·ΔT`, `α` in 10⁻⁶/K, `D` in mm, `ΔT` in K (definition of the expansion coefficient).
///
/// Example: 5 K on 50 mm of steel at 11.5·10⁻⁶/K makes 2.9 µm.
#[must_use]
pub fn diameter_change_mm(expansion_um_per_m_k: f64, diameter_mm: f64, difference_k: f64) -> f64 {
    expansion_um_per_m_k * 1e-6 * diameter_mm * difference_k
}
