//! The tailstock centre beside the line through the headstock centre parallel to the tool's path.

use super::cut_point::CutPoint;

/// Diameter in mm per mm of offset: `2·w(z)`; in a chuck 0, between centres `2ζ`, in chuck and centre
/// `2[λ(3ζ²−ζ³)/2 + (1−λ)ζ]` (the shape of a cantilever pushed at its end).
///
/// Offset `e` is positive to the rear: the bar is larger at the tailstock. It belongs to one state of the feet.
/// Example: 0.01 mm between centres makes 0.020 mm over the whole bar.
#[must_use]
pub fn per_unit_mm(point: &CutPoint) -> f64 {
    2.0 * point.centre_share
}
