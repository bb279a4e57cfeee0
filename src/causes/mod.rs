//! The joint estimate of the causes: verdicts, confounded groups, what adds up to what, and the next test.

mod balance;
mod bending;
mod block;
mod chain;
mod design;
mod draws;
mod estimate;
#[cfg(test)]
mod fixture;
mod hyper;
mod information;
mod integrate;
mod logs;
mod model;
mod normal;
mod orthant;
mod pareto;
mod posterior;
mod proposal;
mod reference;
mod rows;
mod symmetric;
mod unknowns;
mod values;
mod verdict;
mod worn_ways;

pub use estimate::{CausesOutcome, estimate_causes};
pub use posterior::{DrawnContribution, POSTERIOR_DRAWS, Posterior, summary};
pub use values::{Balance, CauseEstimate, CauseKind, Confounded, ContributionUm, NextTest, NextTestKind, Verdict};
pub use verdict::{ABSENT, PRESENT, material_threshold_um};
