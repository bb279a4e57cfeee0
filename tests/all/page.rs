//! The page, the result file and the terminal summary.
