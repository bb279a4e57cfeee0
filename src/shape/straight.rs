//! Errors that make a straight line of the diameters of every pass alike, which no scatter of readings shows.

use super::budget::{GAUGE_EXPANSION_UM_PER_M_K, GAUGE_WARMING_K, THERMOMETER_HALF_WIDTH_K, Vertical};
use crate::trial::{Holding, Trial};

/// Rows of the budget that are such errors, by the result file's name; the joint estimate of the causes has them as unknowns of its own.
pub(super) const STRAIGHT_ROWS: [&str; 3] = ["temperature-gradient", "hand-warmed-gauge", "vertical-misalignment"];

/// What makes the diameters of all passes of a setting rise or fall along a straight line, as standard uncertainties of the taper over the tested length.
///
/// The taper's budget and the joint estimate of the causes take them from here, so that the two cannot differ.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct StraightErrors {
    /// Half-width of how unlike the bar's ends may be, K.
    pub(super) half_k: f64,
    /// The bar's ends at unlike temperatures, mm.
    pub gradient_mm: f64,
    /// A gauge that the hand warms from the first station to the last, mm.
    pub warming_mm: f64,
    /// The bar out of line with the ways vertically.
    pub(super) vertical: Vertical,
}

impl StraightErrors {
    /// Of a bar of `diameter_mm` tested between the stations `from_mm` and `to_mm`; `logged` where every reading has a temperature of the bar.
    ///
    /// Gradient: expansion·diameter·half-width/√3. Warming: the same of a steel gauge and 1 K. Vertical: `(4h₀y + 2y²)/D` with `y = v·z`, the
    /// bar's pitch `v` given the yaw's prior, held in the chuck or not, from the chuck's face; between centres from the first station.
    #[must_use]
    pub fn of(trial: &Trial, (from_mm, to_mm): (f64, f64), diameter_mm: f64, logged: bool) -> Self {
        let spread_k = trial.conditions.temperature_spread_c.abs();
        let half_k = if logged { spread_k.min(THERMOMETER_HALF_WIDTH_K) } else { spread_k };
        let (from, to) = match trial.bar.holding {
            Holding::Chuck => (from_mm / 1000.0, to_mm / 1000.0),
            Holding::Centres | Holding::ChuckAndCentre => (0.0, (to_mm - from_mm) / 1000.0),
        };
        let (height, height_u) = match trial.cutting.tool_height_mm {
            Some(height) => (height, 0.0),
            None => (0.0, trial.cutting.tool_height_u_mm),
        };
        Self {
            half_k,
            gradient_mm: trial.bar.expansion_um_per_m_k * 1e-6 * diameter_mm * half_k / 3.0_f64.sqrt(),
            warming_mm: GAUGE_EXPANSION_UM_PER_M_K * 1e-6 * diameter_mm * GAUGE_WARMING_K / 3.0_f64.sqrt(),
            vertical: Vertical {
                slope: 4.0 * (to - from) / diameter_mm,
                bend: 2.0 * (to * to - from * from) / diameter_mm,
                pitch_u: trial.prior.yaw_mm_per_m,
                height,
                height_u,
            },
        }
    }

    /// Vertical misalignment, mm: root of the mean square of its effect on the taper.
    #[must_use]
    pub fn vertical_mm(&self) -> f64 {
        self.vertical.standard_uncertainty()
    }
}

impl super::Shape {
    /// Standard uncertainty of the taper that neither the scatter of readings nor the joint estimate's draws carry, mm: what is left of the budget without its
    /// first two rows and those of [`StraightErrors`] (rounding beyond the scatter, zeros of gauges, stations).
    #[must_use]
    pub fn beyond_draws_mm(&self) -> f64 {
        let left = self.budget.iter().skip(2).filter(|row| !STRAIGHT_ROWS.contains(&row.component.as_str()));
        left.map(|row| row.standard_uncertainty.powi(2)).sum::<f64>().sqrt()
    }
}
