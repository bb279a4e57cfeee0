//! The tapers that the acceptance limits allow, over the tested length.

use crate::conformity::Allowed;
use crate::trial::{Limit, Quantity, Trial};

/// What is aimed at where no limit is stated: 0.02 mm in 300 mm, either way (common practice, no source).
pub const USUAL_LIMIT: (f64, f64) = (0.02, 300.0);

/// Lowest and highest taper that conforms, mm over the tested length.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Window {
    /// Lowest: larger at the headstock end.
    pub low_mm: f64,
    /// Highest: larger at the tailstock end.
    pub high_mm: f64,
    /// Whether nobody stated a limit and [`USUAL_LIMIT`] was taken.
    pub assumed: bool,
}

impl Window {
    /// The window of all taper limits of `trial` together, scaled to `tested_length_mm`.
    ///
    /// Each allows what [`Allowed`] says. Limits for other swings than the machine's are left out. Contradictory limits leave the point nearest to
    /// parallel.
    ///
    /// Example: 0.02 mm over 300 mm either way on 198 mm allows ±0.0132 mm.
    #[must_use]
    pub fn of(trial: &Trial, tested_length_mm: f64) -> Self {
        let mut window = Self { low_mm: f64::NEG_INFINITY, high_mm: f64::INFINITY, assumed: false };
        let applies = |limit: &&Limit| limit.quantity == Quantity::Taper && limit.applies_to(trial.machine.swing_mm);
        for limit in trial.acceptance.limit.iter().filter(applies) {
            let allowed = Allowed::of(limit, Some(tested_length_mm));
            window.low_mm = window.low_mm.max(allowed.low);
            window.high_mm = window.high_mm.min(allowed.high);
        }
        if !(window.low_mm.is_finite() && window.high_mm.is_finite()) {
            let size = USUAL_LIMIT.0 * tested_length_mm / USUAL_LIMIT.1;
            return Self { low_mm: -size, high_mm: size, assumed: true };
        }
        if window.low_mm > window.high_mm {
            let nearest = 0.0_f64.clamp(window.high_mm, window.low_mm);
            (window.low_mm, window.high_mm) = (nearest, nearest);
        }
        window
    }

    /// The middle, mm.
    #[must_use]
    pub fn middle_mm(&self) -> f64 {
        0.5 * (self.low_mm + self.high_mm)
    }
}
