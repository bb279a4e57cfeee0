//! The joint estimate of the causes.

#[path = "causes/calibration.rs"]
mod calibration;
#[path = "causes/designs.rs"]
mod designs;
#[path = "causes/forecast.rs"]
mod forecast;
#[path = "causes/levels.rs"]
mod levels;
#[path = "causes/stories.rs"]
mod stories;
#[path = "causes/vertical.rs"]
mod vertical;
#[path = "causes/samples.rs"]
mod samples;
