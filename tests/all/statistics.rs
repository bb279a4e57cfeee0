//! Statistics against published values and reference libraries.

mod distributions;
mod fit_checks;
pub mod fixture;
mod least_squares;
mod outliers;
mod over_time;
mod period;
mod strd_regression;
mod tolerances;
mod uncertainty;
mod variance_analysis;
