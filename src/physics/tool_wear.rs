//! The edge wears as it cuts, the tool grows shorter and the bar larger.

use super::cut_point::CutPoint;

/// Diameter in mm per µm/m of wear: `2·s·(f_ref/f)/10⁶`, `s` = length of metal cut since the pass began, mm.
///
/// Wear `w ≥ 0` is a loss of radius in µm per metre of metal cut at the trial's feed `f_ref`; at a finer feed `f` the same length
/// takes a longer cutting path, hence `f_ref/f` (wear in proportion to the path: the steady part of the curve in ISO 3685).
/// Example: 12 µm/m after 200 mm at `f_ref` makes 4.8 µm of diameter.
#[must_use]
pub fn per_unit_mm(point: &CutPoint) -> f64 {
    2.0 * point.metal_mm * point.feed_ratio / 1e6
}

/// Diameter in mm per µm of fresh-edge wear `w₀`: `2(1 − e^(−S/s₀))/1000`, `S` = cutting path since the edge was fresh.
///
/// `path_m` and `settles_m` = `s₀` in m. A fresh edge wears faster at first (ISO 3685). At `S = s₀` it is 63 % of `2w₀`.
#[must_use]
pub fn fresh_edge_per_unit_mm(path_m: f64, settles_m: f64) -> f64 {
    if settles_m > 0.0 { -2.0 * (-path_m / settles_m).exp_m1() / 1000.0 } else { 2.0 / 1000.0 }
}

/// Radial recession that a flank land of width `VB` makes, mm: `VB·tan α`, `α` the clearance angle, degrees.
///
/// From the geometry of the edge; a nose recedes less, so a rate is fitted and never assumed. `VB` 0.1 mm at 6°: 0.0105 mm.
#[must_use]
pub fn recession_mm(flank_land_mm: f64, clearance_deg: f64) -> f64 {
    flank_land_mm * clearance_deg.to_radians().tan()
}
