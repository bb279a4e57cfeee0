//! The radial force of a cut, after Kienzle.

use crate::trial::Bar;

/// Angle of the cutting edge to the feed that is taken where nobody states it, degrees.
pub const APPROACH_DEG: f64 = 90.0;
/// Radial to main force where the depth is at least the nose radius: middle of 0.3 to 0.5 (texts on cutting; from memory).
pub const RADIAL_RATIO_DEEP: f64 = 0.4;
/// Radial to main force where only the nose cuts: 0.7, range 0.5 to 1.0 (texts on cutting; from memory).
pub const RADIAL_RATIO_NOSE: f64 = 0.7;

/// Main cutting force, N: `F_c = k_c1·b·h^(1−m)`, `b = a/sin κ`, `h = f·sin κ` (Kienzle 1952; values of `k_c1` and `m` scatter by 10 to 20 %).
///
/// `k_c1_mpa` in N/mm², `exponent` = m, `depth_mm` = a (radial), `feed_mm_per_rev` = f, `approach_deg` = κ. Returns 0 where
/// nothing is cut (depth or feed not above 0). Example: S235 (1780, 0.17), 0.25 mm deep, 0.1 mm/rev, 93°: 65.84 N.
///
/// ```
/// # use taperwright::physics::cutting_force::main_force_n;
/// assert!((main_force_n(1780.0, 0.17, 0.25, 0.1, 93.0) - 65.84).abs() < 0.005);
/// ```
#[must_use]
pub fn main_force_n(k_c1_mpa: f64, exponent: f64, depth_mm: f64, feed_mm_per_rev: f64, approach_deg: f64) -> f64 {
    let sine = approach_deg.to_radians().sin();
    if depth_mm <= 0.0 || feed_mm_per_rev <= 0.0 || sine <= 0.0 {
        return 0.0;
    }
    k_c1_mpa * (depth_mm / sine) * (feed_mm_per_rev * sine).powf(1.0 - exponent)
}

/// Radial force over main force: [`RADIAL_RATIO_DEEP`] when the depth is at least the nose radius, else [`RADIAL_RATIO_NOSE`].
#[must_use]
pub fn radial_ratio(depth_mm: f64, nose_radius_mm: f64) -> f64 {
    if depth_mm >= nose_radius_mm { RADIAL_RATIO_DEEP } else { RADIAL_RATIO_NOSE }
}

/// Radial force, N: `F = r·F_c` at force factor `q` = 1; the cause deflection multiplies it by `q`.
///
/// Example: mild steel (1780, 0.17), 0.05 mm deep with a 0.4 mm nose, 0.1 mm/rev: `0.7 · 1780 · 0.05 · 0.1^0.83` = 9.215 N.
#[must_use]
pub fn radial_force_n(bar: &Bar, depth_mm: f64, feed_mm_per_rev: f64, nose_radius_mm: f64) -> f64 {
    depth_mm.max(0.0) * radial_stiffness_n_per_mm(bar, depth_mm, feed_mm_per_rev, nose_radius_mm)
}

/// Growth of radial force with depth `K = dF/d(depth)` at force factor 1, N/mm.
///
/// Kienzle's force is proportional to depth, so `K = F/depth`; it stays finite for a spring pass (depth 0).
#[must_use]
pub fn radial_stiffness_n_per_mm(bar: &Bar, depth_mm: f64, feed_mm_per_rev: f64, nose_radius_mm: f64) -> f64 {
    radial_ratio(depth_mm, nose_radius_mm) * main_force_n(bar.k_c1_mpa, bar.kienzle_exponent, 1.0, feed_mm_per_rev, APPROACH_DEG)
}
