//! Taper and barrel of one setting: what is fitted, how sure it is, and every check on it.

mod values;

pub use values::{
    Barrel, BudgetRow, CurvePoint, DirectionTaper, Expanded, FittedReading, LackOfFit, MonteCarlo, OrderCandidate, Outlier, PassSummary,
    Robust, Shape, ShapeTest, Spread, SpreadSource, Taper, TestedLength,
};
