//! `trial.toml`: its keys, what a document states, and the tables of a trial built from that.

mod build;
mod document;
mod keys;

pub(super) use build::{Stated, build};
pub(super) use document::{Document, peek_name};
pub use keys::{KEYS, Key, KeyKind, Sign};
