//! How far a bar may stand out of a chuck: one rule for reading, planning, next tests and the cautions.

use super::{Bar, Holding};

/// Overhang in diameters up to which a chuck holds a bar well without a centre; beyond it only light finishing cuts are taken (common practice, no source).
pub const GOOD_OVERHANG: f64 = 4.0;
/// Overhang in diameters beyond which a bar is not cut without a centre: it bends with the cube of its length, chatters, and may be thrown out
/// of the jaws (common practice, no source).
pub const MOST_OVERHANG: f64 = 6.0;

impl Bar {
    /// Free length over diameter of a bar in a chuck, to a millionth, so that lengths in inches give the same; `None` where a centre carries its end,
    /// or it has no diameter yet.
    #[must_use]
    pub fn overhang(&self) -> Option<f64> {
        (self.holding == Holding::Chuck && self.diameter_mm > 0.0).then(|| (1e6 * self.length_mm / self.diameter_mm).round() / 1e6)
    }

    /// Whether it stands out of the chuck by more than [`MOST_OVERHANG`] diameters without a centre.
    #[must_use]
    pub fn hangs_out_too_far(&self) -> bool {
        self.overhang().is_some_and(|diameters| diameters > MOST_OVERHANG)
    }
}
