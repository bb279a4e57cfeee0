//! Taper and barrel of one setting: what is fitted, how sure it is, and every check on it.

mod budget;
mod checks;
mod curve;
mod cut;
mod fit;
mod model;
mod monte_carlo;
mod open_pass;
mod order;
mod pooled;
mod robust;
mod row_numbers;
mod runs;
mod slopes;
mod taper_fit;
mod values;
mod words;

pub use fit::{ShapeOutcome, TaperUncertainty, fit_setting, fit_shapes, station_readings, taper_uncertainty};
pub(crate) use taper_fit::{ENOUGH_PASSES, ENOUGH_WITHIN_DOF, SPREAD_PRIOR};
pub use taper_fit::{FittedContrast, NoiseSource, TaperFit};
pub use values::{
    Barrel, BudgetRow, CurvePoint, DirectionTaper, Expanded, FittedReading, LackOfFit, MonteCarlo, OrderCandidate, Outlier, PassSummary,
    Robust, Shape, ShapeTest, Spread, SpreadSource, StationReadings, Taper, TestedLength,
};
