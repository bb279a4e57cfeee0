//! A wave along the bar with the pitch of the lead screw, the rack or a gear.

use std::f64::consts::TAU;

/// The two columns of `A·sin(2πz/p + α) = a·sin(2πz/p) + b·cos(2πz/p)`: `[sin, cos]`, with `a = A·cos α`, `b = A·sin α`.
///
/// `z` and the period `p` in mm. Example: a quarter of the period gives `[1, 0]`.
#[must_use]
pub fn columns(z_mm: f64, period_mm: f64) -> [f64; 2] {
    let phase = TAU * z_mm / period_mm;
    [phase.sin(), phase.cos()]
}

/// Whether stations this far apart can show a period: it must be at least twice the spacing (Nyquist), else it may be aliased.
#[must_use]
pub fn is_resolved(period_mm: f64, spacing_mm: f64) -> bool {
    period_mm >= 2.0 * spacing_mm
}
