//! The page, the result file and the terminal summary.

pub mod frozen;
mod frozen_causes;
mod frozen_correction;
mod causes;
mod correction;
mod accessibility;
mod escaping;
mod numbers;
mod result_file;
mod sheet;
mod snapshots;
