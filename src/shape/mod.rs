//! Taper and barrel of one setting: what is fitted, how sure it is, and every check on it.

mod budget;
mod checks;
mod combined;
mod curve;
mod cut;
mod estimator;
mod finishing;
mod fit;
mod layout;
mod lightest_cut;
mod model;
mod monte_carlo;
mod open_pass;
mod order;
mod page_values;
mod pass_tapers;
mod pooled;
mod robust;
mod row_numbers;
mod runs;
mod slopes;
mod straight;
mod taper_fit;
mod unlike_passes;
mod values;
mod words;
mod zeros;

pub(crate) use budget::THERMOMETER_HALF_WIDTH_K;
pub use fit::{ShapeOutcome, TaperUncertainty, fit_setting, fit_shapes, station_readings, taper_uncertainty};
pub(crate) use lightest_cut::LightestCut;
pub use page_values::{AddedTerms, CurvePoint, FittedReading, OrderCandidate, PassSummary, Spread, SpreadSource};
pub use straight::StraightErrors;
pub(crate) use taper_fit::{ENOUGH_PASSES, ENOUGH_WITHIN_DOF, SPREAD_PRIOR};
pub use taper_fit::{FittedContrast, NoiseSource, TaperFit};
pub use values::{
    Barrel, BudgetRow, DirectionTaper, Expanded, LackOfFit, MonteCarlo, Outlier, Robust, SAYS_NOTHING_MM, Shape, ShapeTest,
    StationReadings, Taper, TestedLength,
};
pub use words::component_words;
pub use zeros::{GaugeZero, gauge_zeros};
