//! The page, the result file and the terminal summary.

mod frozen;
mod frozen_causes;
mod causes;
mod accessibility;
mod escaping;
mod numbers;
mod result_file;
mod snapshots;
