//! Many trials at once: the index page, and the table of all results as text and as Parquet.

mod entry;
mod index;
mod parquet_file;
mod summary;
mod table;

pub use entry::{BatchEntry, BatchOutcome, SettingLine};
pub use index::index_html;
pub use parquet_file::CannotPack;
pub use summary::{summary, summary_csv, summary_parquet};
pub use table::{Table, formula_safe};
