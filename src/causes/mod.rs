//! The joint estimate of the causes: verdicts, confounded groups, what adds up to what, and the next test.

mod values;

pub use values::{Balance, CauseEstimate, CauseKind, Confounded, ContributionUm, NextTest, NextTestKind, Verdict};
