//! The only place that writes files: whole or not at all.

mod whole;

pub use whole::{NotWritten, write_new, write_set, write_whole};
