//! Statistics against published values and reference libraries.

mod distributions;
mod fixture;
mod least_squares;
mod strd_regression;
mod tolerances;
