//! The page, the result file and the terminal summary.

mod frozen;
mod accessibility;
mod escaping;
mod numbers;
mod result_file;
mod snapshots;
