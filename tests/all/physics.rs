//! The physics against handbook formulas, an independent calculation, and its own identities.

mod beams;
mod cutting;
mod evidence;
mod geometry;
mod kinematics;
pub mod published;
