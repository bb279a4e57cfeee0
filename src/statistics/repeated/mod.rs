//! Linear models whose rows come again and again: readings repeated at one place are reduced to their number, mean and scatter, exactly.
//!
//! A *run* is a row of the design with the readings that follow one another and share it. Runs are grouped in *blocks*, of which each may have a level, and
//! a slope on the first column, of its own; these are taken out block by block, so that neither memory nor work grows with the number of blocks beyond
//! one pass over the runs. Every statistic of the shape fit stands on this, whatever the size of the log.

mod atoms;
mod basis;
#[cfg(test)]
mod both_ways;
mod counted;
mod fit;
mod parts;
mod products;
mod rows;
mod sums;

pub use atoms::Atoms;
pub use basis::RunBasis;
pub use counted::{counted_median, median_of_sizes};
pub use fit::RunFit;
pub(super) use parts::{change_each, over_parts};
pub use rows::{Dense, RunRows, places_of};
pub use sums::RunSums;
pub(super) use sums::sums_of;
