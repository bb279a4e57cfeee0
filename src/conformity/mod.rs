//! Limits applied: what is known of each quantity, the probability that it keeps its limit, and the decision.

mod alignment;
mod allowed;
mod bands;
mod decision;
mod heights;
mod judge;
mod knowledge;
mod levels;
mod measured;
mod profile;
mod roundness;
mod scatter;
mod settle;
mod tally;
mod values;

pub use alignment::NOT_CARRIED;
pub use allowed::Allowed;
pub use decision::{ASKED, Decision, Rule};
pub use judge::{Joint, judge, shows_conformity};
pub use knowledge::Knowledge;
pub use settle::uncertainty_needed;
pub use tally::Tally;
pub use values::Judgement;
