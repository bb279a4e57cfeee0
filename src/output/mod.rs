//! The only place that writes files: whole or not at all.

mod unfinished;
mod whole;

pub use unfinished::{clear_left_behind, clear_when_interrupted};
pub use whole::{NotWritten, write_set, write_whole};
