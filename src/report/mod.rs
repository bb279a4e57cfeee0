//! An analysis in, HTML, JSON and terminal text out. Computes no statistic.

mod batch;
mod carried;
mod drawing;
mod history_page;
mod number;
mod page;
mod plan_sheet;
mod prose;
mod inch_units;
mod quantity;
mod result;
mod sections;
mod sentence;
mod terminal;
mod thinned;
mod units;
mod words;

pub use batch::{
    BatchEntry, BatchOutcome, CannotPack, SettingLine, Table, formula_safe, index_html, summary, summary_csv, summary_parquet,
};
pub use carried::{Carried, CarriedFile, shown_photograph};
pub use drawing::CannotDraw;
pub use history_page::{HISTORY_SCHEMA, history_html, history_json, history_summary};
pub use number::{decimals_as_written, decimals_for_figures, decimals_for_uncertainty, fixed, probability};
pub use page::{CannotRender, page_html};
pub use plan_sheet::{log_units, plan_refusal, plan_sheet_html};
pub use result::{SCHEMA, result_json, result_json_line, result_schema};
pub use sentence::{in_inches, without_long_numbers};
pub use terminal::terminal_summary;
pub use units::{PageOptions, ShownUnit, Units};
