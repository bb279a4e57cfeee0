//! Lengths, angles, temperatures and estimates: the words that every other folder shares.
//!
//! Inside the program lengths are millimetres, angles of roll and yaw are millimetres per metre,
//! and temperatures are degrees Celsius. A bare `f64` carries its unit in its name.

mod estimate;
mod grouped;
mod length;
mod sentence;
mod slope;

pub use estimate::{Estimate, Interval};
pub use grouped::{counted, grouped};
pub use length::{LengthUnit, MM_PER_INCH, MM_PER_THOU};
pub use sentence::{Kind, Sentence, Told, decimals_as_written, sentence_case};
pub use slope::{ARCSEC_PER_RADIAN, SlopeUnit, included_angle_arcsec, taper_per_foot_in, taper_per_length_mm};

/// Reference temperature of dimensional measurement, °C (ISO 1:2022, 20 °C).
pub const REFERENCE_TEMPERATURE_C: f64 = 20.0;

/// Fahrenheit to Celsius: `(f − 32)·5/9`.
#[must_use]
pub fn celsius_from_fahrenheit(fahrenheit: f64) -> f64 {
    (fahrenheit - 32.0) * 5.0 / 9.0
}

/// A difference of temperature in Fahrenheit degrees to kelvin: `Δf·5/9`.
#[must_use]
pub fn kelvin_from_fahrenheit_difference(difference: f64) -> f64 {
    difference * 5.0 / 9.0
}
