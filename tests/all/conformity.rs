//! Limits applied: published examples, what a limit allows, what the logs know, and how often a decision is wrong.

#[path = "conformity/alignment.rs"]
mod alignment;
#[path = "conformity/by_hand.rs"]
mod by_hand;
#[path = "conformity/criteria.rs"]
mod criteria;
#[path = "conformity/proof.rs"]
mod proof;
#[path = "conformity/published.rs"]
mod published;
#[path = "conformity/quantities.rs"]
pub mod quantities;
