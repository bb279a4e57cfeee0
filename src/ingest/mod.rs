//! Bytes in, a trial and findings out: the only place that reads logs, settings and criteria files.
//!
//! A file goes through these hands: `encoding` makes text of its bytes (`spreadsheet` of a sheet's cells), `lines` makes cells of its lines, `header` and what
//! stands below it find which column is what and in which unit, `cells` reads one cell and says what is wrong with it, one file a kind of log
//! makes readings, `defaults` fills in what nobody stated, `checks` and what stands below it look at the whole. `blank` turns the same tables into settings
//! and logs to start from, `schema` into JSON Schemas for editors.

mod blank;
mod blocks;
mod bounds;
mod cells;
mod checks;
mod clamp;
mod clock;
mod collector;
mod commas;
mod comments;
mod criteria;
mod decimal;
mod defaults;
mod diameter_rows;
mod diameters;
mod discovery;
mod encoding;
mod faulty_cell;
mod files;
mod header;
mod indicator;
mod levels;
mod lines;
mod log;
mod log_kind;
mod long_columns;
mod long_file;
mod moments;
mod moves;
mod names;
mod near_names;
mod numbers;
mod packing;
mod passes;
mod photographs;
mod read;
mod read_log;
mod schema;
mod settings;
mod spreadsheet;
mod wide;
mod words;

pub use crate::trial::{LogUnits, TrialSource};
pub use blank::{blank_log, blank_settings, explained_header};
pub use bounds::read_at_most;
pub use collector::Rejected;
pub use criteria::{BUILT_IN, BuiltIn, CriteriaChoice, advice_on_sets, read_built_in};
pub use discovery::{Discovery, FoundTrial, find_trials};
pub use files::TrialFiles;
pub use log_kind::LogKind;
pub use names::file_name_for;
pub use packing::{MOST_UNPACKED, pack, sha256_hex, unpack};
pub use photographs::{MOST_PHOTOGRAPH, MOST_PHOTOGRAPHS, is_photograph};
pub use read::{ReadOptions, read_files, read_settings, read_trial};
pub use schema::{criteria_schema, settings_schema};
pub use settings::{CRITERIA_KEYS, KEYS, Key, KeyKind, Sign};
