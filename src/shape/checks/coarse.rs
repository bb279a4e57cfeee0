//! Which tests the step of the gauge breaks, and from where.

use super::super::ShapeTest;
use super::super::cut::Cut;
use super::super::pooled::PooledFit;
use super::not_made;

/// Largest step of the gauge, in standard deviations of a reading about the curve, at which tests hold their level.
///
/// By simulation (`tests/all/shape/steps.rs`, figures in `tests/proofs/checks.md`): where nothing is wrong, each test then finds something in 6.5 % of the logs at
/// most. Rounding counts in that standard deviation, so that it stays below `√12` steps by itself; this is a step of some 2.2 of the scatter without it.
const MOST_STEP: f64 = 1.9;
/// Largest loss of changes of sign, in standard deviations of their number, at which the test of runs holds its level, by the same simulation.
const MOST_CHANGES_LOST: f64 = 0.5;
/// Largest `√n(step/s)²` of `n` readings at which Shapiro and Wilk's test holds its level on readings as they were rounded, by the same simulation.
const MOST_LATTICE: f64 = 1.2;
/// The same for what compares scatters, and for the test of normality on readings spread over their steps: many readings show what the steps make of both.
const MOST_LATTICE_OF_SPREAD: f64 = 20.0;

/// Why a test is not made.
pub(super) const WHY: &str = "Not made: the gauge's step is coarse beside the scatter, so that rounding alone would make this test find something too often; a gauge that reads finer would allow it.";

/// The step of the gauge that read most beside the scatter of the readings.
#[derive(Debug, Clone, Copy)]
pub(super) struct Step {
    /// Step over the standard deviation of a reading about the curve, rounding included.
    ratio: f64,
    readings: f64,
}

impl Step {
    /// Of readings without scatter the ratio is infinite; tests say of these by themselves why they are not made.
    pub fn of(cut: &Cut<'_>, drawn: &PooledFit<'_>) -> Self {
        let scatter = (drawn.residual_square / drawn.dof).sqrt();
        let ratio = if scatter > 0.0 { cut.resolution_mm / scatter } else { f64::INFINITY };
        Self { ratio, readings: cut.readings() as f64 }
    }

    /// Whether tests in general do not hold their level.
    pub fn is_coarse(self) -> bool {
        self.ratio > MOST_STEP
    }

    /// Whether rounding takes enough changes of sign away for the test of runs to see it.
    ///
    /// Where the fitted diameter lies `δ` off the middle of a step `h`, a residual is positive with probability `½ ± φ(0)δ/σ`, so that readings rounded alike change sides
    /// less often by `2(φ(0)δ/σ)²`. With `δ` uniform within `±h/2` the mean of that is `h²/(12πσ²)`, and the number of changes of `n` readings has a standard deviation of
    /// `½√n`: together `√n h²/(6πσ²)`, with `σ²` the variance less `h²/12` of rounding. Own derivation; the most that can be lost, where all neighbours are rounded alike.
    pub fn hides_changes(self) -> bool {
        let unrounded = 1.0 - self.ratio.powi(2) / 12.0;
        let lost = self.readings.sqrt() * self.ratio.powi(2) / (6.0 * std::f64::consts::PI * unrounded);
        unrounded <= 0.0 || lost > MOST_CHANGES_LOST
    }

    /// Whether a test of normality sees the steps.
    pub fn shows_in_distribution(self) -> bool {
        self.lattice() > MOST_LATTICE
    }

    /// Whether comparisons of scatter do not hold their level, nor a test of normality on readings spread over their steps.
    pub fn shows_in_scatter(self) -> bool {
        self.is_coarse() || self.lattice() > MOST_LATTICE_OF_SPREAD
    }

    fn lattice(self) -> f64 {
        self.readings.sqrt() * self.ratio.powi(2)
    }
}

/// A test that was made, unless the step breaks it.
pub(super) fn unless_broken(step: Step, test: ShapeTest) -> ShapeTest {
    let broken = match test.name {
        "lack-of-fit" | "order" | "durbin-watson" | "period" => step.is_coarse(),
        "equal-spread-passes" | "equal-spread-stations" => step.shows_in_scatter(),
        "runs" => step.hides_changes(),
        // the directions are compared by the mixed model, and normality sees to the step itself
        _ => false,
    };
    if broken && test.p.is_some() { not_made(test.name, WHY) } else { test }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn step(ratio: f64, readings: f64) -> Step {
        Step { ratio, readings }
    }

    /// `√n h²/(6π(1 − h²/12))` of 100 readings is 0.5 at h² = 0.5·6π/(10 + 0.25π): h = 0.93480.
    #[test]
    fn changes_of_sign_are_hidden_from_half_a_standard_deviation_on() {
        let bound = (3.0 * std::f64::consts::PI / (10.0 + 0.25 * std::f64::consts::PI)).sqrt();
        assert!((bound - 0.93480).abs() < 1e-5);
        assert!(!step(0.9999 * bound, 100.0).hides_changes() && step(1.0001 * bound, 100.0).hides_changes());
        assert!(step(1.0001 * 12_f64.sqrt(), 100.0).hides_changes() && step(f64::INFINITY, 4.0).hides_changes());
        assert!(!step(0.0, 1e6).hides_changes());
    }

    #[test]
    fn many_readings_show_the_steps_where_few_do_not() {
        // √n·h² = 20 at 400 readings of h = 1
        assert!(!step(1.0, 399.0).shows_in_scatter() && step(1.0, 401.0).shows_in_scatter());
        assert!(step(1.91, 4.0).shows_in_scatter() && !step(1.89, 4.0).shows_in_scatter());
        assert!(step(1.91, 4.0).is_coarse() && !step(1.89, 4.0).is_coarse());
        // √n·h² = 1.2 at 36 readings of h² = 0.2
        assert!(!step(0.2_f64.sqrt(), 35.9).shows_in_distribution() && step(0.2_f64.sqrt(), 36.1).shows_in_distribution());
    }
}
