//! Least squares, mixed models, robust fits, tests and tail probabilities. Knows no lathe.

pub mod distributions;
mod doubled;
pub mod least_squares;
mod legendre;
pub mod mixed;

pub use doubled::{Doubled, doubled_sum};
pub use least_squares::{Fit, FitError, least_squares, weighted_least_squares};
pub use legendre::{LegendreRange, legendre_values};
