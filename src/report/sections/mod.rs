//! The sections of the page: each turns a part of the analysis into ready strings for its template.

pub mod acceptance;
mod adding_up;
pub mod budget;
mod cause_bars;
pub mod causes;
pub mod checks;
pub mod contributions;
pub mod correction;
pub mod criteria_file;
pub mod diameters;
pub mod evidence;
pub mod found;
pub mod headline;
pub mod history;
mod limit_words;
pub mod limits;
mod next_tests;
pub mod notebook;
pub mod priors;
pub mod records;
pub mod residuals;
pub mod unknown;
mod untested;
