//! Reading logs and settings: every spelling, and one bad log for every finding.

mod bench;
mod discovery;
mod ends;
