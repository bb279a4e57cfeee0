//! What an indicator on the carriage says, run along a ground test bar.

use super::support::Support;

/// Coefficients of one reading in the unknowns, mm.
///
/// Side plane: `y = c − (ψ/1000 + hτ/10⁶)z − g(Z)/2 + (bar's taper)/2·z + (A + Bz)cos(θ − α) + noise`, held in a
/// chuck; between centres `−eζ` in place of yaw and twist. The reading rises as the plunger is pushed in, at axis height on the
/// operator's side, so whatever leans the bar away from the tool lowers it.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct IndicatorFunctional {
    /// Of the free constant.
    pub constant: f64,
    /// Of yaw `ψ`, mm/m.
    pub yaw: f64,
    /// Of twist `τ` times the roll arm `h`, (mm/m)/m · mm.
    pub arm_twist: f64,
    /// Of the tailstock offset `e`, mm.
    pub offset: f64,
    /// Of the way wear's diameter at this place on the bed, mm.
    pub way_wear: f64,
    /// Of the vertical misalignment `v`, mm/m (top plane only).
    pub vertical: f64,
    /// Of the bar's taper as a slope, mm of diameter per mm of length.
    pub bar_taper: f64,
    /// Of run-out, for `[A cos α, A sin α, B cos α', B sin α']`: `[cos θ, sin θ, z cos θ, z sin θ]`.
    pub run_out: [f64; 4],
}

/// The functional of a side reading at `z` (mm), spindle angle `θ` (degrees), the test bar held as `support` says.
///
/// Example: yaw 0.05 mm/m lowers the reading by 10 µm over 200 mm in a chuck.
#[must_use]
pub fn side(z_mm: f64, spindle_deg: f64, support: &Support) -> IndicatorFunctional {
    let arm = support.slope_arm_mm(z_mm);
    IndicatorFunctional {
        constant: 1.0,
        yaw: -arm / 1000.0,
        arm_twist: -arm / 1e6,
        offset: -support.centre_share(z_mm),
        way_wear: -0.5,
        vertical: 0.0,
        bar_taper: 0.5 * z_mm,
        run_out: run_out(z_mm, spindle_deg),
    }
}

/// The functional of a reading on top: `y = c + vz/1000 − sag(z) + (bar's taper)/2·z + run-out + noise`, `v` positive = free end up.
///
/// The sag is known and taken off beforehand ([`super::vertical_misalignment::sag_mm`]); run-out has a phase of its own.
#[must_use]
pub fn top(z_mm: f64, spindle_deg: f64) -> IndicatorFunctional {
    IndicatorFunctional {
        constant: 1.0,
        yaw: 0.0,
        arm_twist: 0.0,
        offset: 0.0,
        way_wear: 0.0,
        vertical: z_mm / 1000.0,
        bar_taper: 0.5 * z_mm,
        run_out: run_out(z_mm, spindle_deg),
    }
}

fn run_out(z_mm: f64, spindle_deg: f64) -> [f64; 4] {
    let theta = spindle_deg.to_radians();
    [theta.cos(), theta.sin(), z_mm * theta.cos(), z_mm * theta.sin()]
}
