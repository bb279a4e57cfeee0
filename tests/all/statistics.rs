//! Statistics against published values and reference libraries.

mod distributions;
mod fit_checks;
mod fixture;
mod least_squares;
mod outliers;
mod strd_regression;
mod tolerances;
mod variance_analysis;
