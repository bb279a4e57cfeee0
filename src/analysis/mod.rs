//! Composes shape, causes and decisions: trial + options + seed → a plain value. No IO, clock, environment or printing.

mod analyse;
mod steep_taper;

pub use analyse::analyse;
pub use steep_taper::allow_steep_taper;

use crate::causes::{Balance, CauseEstimate, Confounded, LogEvidence, NextTest, Posterior, Prediction, VerticalMisalignment};
use crate::conformity::Judgement;
use crate::correction::{Contradiction, Correction};
use crate::findings::Finding;
use crate::shape::{Shape, TestedLength};
use crate::trial::Trial;

/// What the user chooses for an analysis.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Options {
    /// Seed of every random draw.
    pub seed: u64,
    /// Draws of the Monte Carlo budget.
    pub monte_carlo_draws: usize,
}

impl Default for Options {
    fn default() -> Self {
        Self { seed: 1, monte_carlo_draws: 100_000 }
    }
}

/// Everything that the program says about one trial, as a plain value.
#[derive(Debug, Clone, PartialEq)]
pub struct Analysis {
    /// The trial, with its readings.
    pub trial: Trial,
    /// The seed that was used.
    pub seed: u64,
    /// Draws of the Monte Carlo budget.
    pub monte_carlo_draws: usize,
    /// Tested length common to all settings; `None` when they share none.
    pub tested_length: Option<TestedLength>,
    /// One entry a setting.
    pub shape: Vec<Shape>,
    /// One entry a setting and cause.
    pub causes: Vec<CauseEstimate>,
    /// Groups that are known only together.
    pub confounded: Vec<Confounded>,
    /// What adds up to what.
    pub balance: Vec<Balance>,
    /// How the axis of spindle or centres rises towards the free end, a setting with readings on top of a test bar.
    pub vertical_misalignment: Vec<VerticalMisalignment>,
    /// Tests that would settle more.
    pub next_tests: Vec<NextTest>,
    /// Whether the joint model reproduces each log (page only).
    pub predictions: Vec<Prediction>,
    /// What each log brought to the causes (page only).
    pub evidence: Vec<LogEvidence>,
    /// The joint posterior, for correction and conformity; `None` when no cause could be estimated.
    pub posterior: Option<Posterior>,
    /// Where the joint estimate contradicts the taper that the diameters show (page only; the result file has findings).
    pub contradictions: Vec<Contradiction>,
    /// What to adjust, for the latest setting; `None` where nothing could be estimated.
    pub correction: Option<Correction>,
    /// Every limit judged in every setting.
    pub conformity: Vec<Judgement>,
    /// Findings of the inputs and of the analysis.
    pub findings: Vec<Finding>,
    /// Sentences for the top of the page.
    pub warnings: Vec<String>,
}
