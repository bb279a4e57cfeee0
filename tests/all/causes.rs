//! The joint estimate of the causes.

#[path = "causes/samples.rs"]
mod samples;
