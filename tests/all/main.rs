//! All integration tests in one binary: each more would link the data-frame library again.

mod causes;
mod command_line;
mod house;
mod page;
mod physics;
mod reading;
mod samples;
mod shape;
mod simulation;
mod statistics;
