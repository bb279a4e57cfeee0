//! `trial.toml`: its keys, what a document states, and the tables of a trial built from that.

mod build;
mod builder;
mod calibrated;
mod convert;
mod document;
mod gauges;
mod keys;
mod limits;
mod reader;
mod requests;
mod sensible;
mod slips;
mod syntax;

pub(super) use build::{Stated, build};
pub(super) use document::{Document, peek_name};
pub use keys::{CRITERIA_KEYS, KEYS, Key, KeyKind, Sign};
pub(super) use limits::{Stated as StatedCriteria, criteria};
pub(super) use slips::{StatedIn, depth_asked, feed_asked, other_unit, raise_asked, shown, slopes_asked, turns_asked};
