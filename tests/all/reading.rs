//! Reading logs and settings: every spelling, and one bad log for every finding.

mod bench;
mod bounds;
mod spellings;
mod discovery;
mod ends;
mod faults;
mod free_titles;
mod meanings;
mod other_slips;
mod properties;
mod sheets;
mod slips;
mod titles;
mod untidy;
mod workbooks;
