//! The physics against handbook formulas.
