//! All integration tests in one binary: each more would link the data-frame library again.
#![allow(clippy::unwrap_used, clippy::expect_used, clippy::panic, reason = "a test fails by panicking, in its helpers too")]

mod at_home;
mod causes;
mod command_line;
mod conformity;
mod correction;
#[cfg(unix)]
mod disk;
mod fuzz;
mod guide;
mod history;
mod house;
mod made;
mod many;
mod new_trial;
mod page;
mod plan;
mod physics;
mod reading;
mod samples;
mod shape;
mod simulation;
mod statistics;
mod verify;
