//! Several analyses of one machine: how taper, barrel and causes went over the years, whether the machine drifts, and what a repair or a move of the feet did.
//!
//! A trial stands for the machine with its **latest setting**: that is how the machine was left. Where feet were moved during a trial, its first setting is
//! how the machine was found; drift is looked for between how it was left and how it was found again, never across a move or a repair.

mod change;
mod decided;
mod gather;
mod state;
mod stretch;
mod values;

pub use decided::{Judged, LimitOverTime, limits_over_time};
pub use gather::{history, year_of};
pub use values::{
    CauseState, Change, Cutover, DecisionChange, Difference, Drift, EwmaValue, Figure, History, LeftOut, Machine, MovedFoot, State,
    StateOf, Stretch, StretchPoint, Verdict, Visit,
};
