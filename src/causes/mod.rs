//! The joint estimate of the causes: verdicts, confounded groups, what adds up to what, and the next test.

mod alike;
mod balance;
mod bending;
mod block;
#[cfg(test)]
mod by_hand;
mod candidates;
mod carried;
mod chain;
mod deepest_cut;
mod design;
mod draws;
mod estimate;
mod evidence;
mod extent;
#[cfg(test)]
mod fixture;
mod foresight;
mod hyper;
mod information;
mod integrate;
mod lanes;
mod level_bend;
mod logs;
mod model;
mod next_test;
mod normal;
mod orthant;
mod outcome;
mod pareto;
mod posterior;
mod predictive;
mod proposal;
mod reference;
#[cfg(test)]
mod published;
mod rows;
mod sprung;
mod steep;
mod symmetric;
mod unknowns;
mod values;
mod verdict;
mod vertical;
mod worn_ways;

pub use carried::Carried;
pub use deepest_cut::{HEAVY_TIMES, LIGHT_DEPTH_MM, MOST_PUSH_MM, deepest_cut_mm, heavy_times};
pub use estimate::{CausesOutcome, estimate_causes};
pub use extent::{A_PASS_COUNTS, FEWEST_PLACES, MOST_PLACES};
pub use foresight::{Foreseen, foresee};
pub use level_bend::{LevelBend, level_bend};
pub use posterior::{DrawnContribution, POSTERIOR_DRAWS, Posterior, summary};
pub use steep::{Steep, out_of_line};
pub use values::{
    Balance, CauseEstimate, CauseKind, Confounded, ContributionUm, Learned, LogEvidence, NextTest, NextTestKind, PredictedReading,
    Prediction, Verdict,
};
pub use verdict::{ABSENT, PRESENT, material_threshold_um};
pub use vertical::{Vertical, VerticalMisalignment, vertical_misalignment};
