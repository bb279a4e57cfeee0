//! What raising a foot does to the twist of the bed.

use crate::trial::{Feet, Foot, Move, ScrewSense};

/// Change of twist per unit of gain, (mm/m)/m: `±Δy·10⁶/(b·L_f)`; multiply by the gain `G`.
///
/// `raise_mm` = `Δy` (negative = lowered); `b` across and `L_f` along the feet, mm. Plus for tailstock rear and headstock front,
/// minus for the other two: a raised rear foot at the tailstock lifts the rear way there, which is positive twist. Rigid geometry of
/// four feet; `G` says how much of it reaches the bed. `None` when the feet have no size.
///
/// Example: tailstock rear up 0.1 mm, feet 150 by 700 mm: 0.1·10⁶/(150·700) = 0.952 (mm/m)/m.
///
/// ```
/// # use taperwright::physics::moves::twist_per_gain;
/// # use taperwright::trial::{Feet, Foot};
/// let feet = Feet { spacing_along_mm: 700.0, spacing_across_mm: 150.0, headstock_feet_to_chuck_face_mm: None,
///     screw_pitch_mm: None, clockwise: None, finest_turn_deg: 5.0 };
/// assert!((twist_per_gain(Foot::TailstockRear, 0.1, &feet).unwrap() - 0.952).abs() < 5e-4);
/// ```
#[must_use]
pub fn twist_per_gain(foot: Foot, raise_mm: f64, feet: &Feet) -> Option<f64> {
    let area_mm2 = feet.spacing_across_mm * feet.spacing_along_mm;
    (area_mm2 > 0.0).then(|| foot.twist_sign() * raise_mm * 1e6 / area_mm2)
}

/// How far a logged move raised its foot, mm: the raise as logged, else turns times pitch, up where a clockwise turn raises.
///
/// `None` when only turns are logged and pitch or sense of the screw is unknown.
#[must_use]
pub fn raise_mm(logged: &Move, feet: Option<&Feet>) -> Option<f64> {
    logged.raise_mm.or_else(|| {
        let feet = feet?;
        let sign = match feet.clockwise? {
            ScrewSense::Raises => 1.0,
            ScrewSense::Lowers => -1.0,
        };
        Some(sign * logged.turns? * feet.screw_pitch_mm?)
    })
}

/// Turns that raise a foot by `raise_mm`, positive = clockwise seen from above; `None` when pitch or sense is unknown.
#[must_use]
pub fn turns_for(raise_mm: f64, feet: &Feet) -> Option<f64> {
    let pitch_mm = feet.screw_pitch_mm.filter(|pitch| *pitch > 0.0)?;
    let sign = match feet.clockwise? {
        ScrewSense::Raises => 1.0,
        ScrewSense::Lowers => -1.0,
    };
    Some(sign * raise_mm / pitch_mm)
}
