//! Statistics against published values and reference libraries.

mod at_the_bound;
mod blocks;
mod distributions;
mod edges;
mod far_tails;
mod fit_checks;
pub mod fixture;
mod full_matrices;
mod in_runs;
mod layout;
mod least_squares;
mod mixed;
mod outliers;
mod over_time;
mod period;
mod period_bounds;
mod robust_steps;
mod serial;
mod spread;
mod strd_regression;
mod tolerances;
mod uncertainty;
mod variance_analysis;
