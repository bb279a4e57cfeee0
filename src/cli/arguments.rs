//! The command line as typed. [`super::settings`] checks it once; nothing else looks at it.

pub use super::argument_words::{FormatArgument, SchemaArgument, UnitArgument};
use super::help::{
    CHECK_HELP, COMPLETIONS_HELP, CRITERIA_HELP, EXAMPLES, HISTORY_HELP, MAN_HELP, NEW_HELP, PLAN_HELP, REPORT_HELP, SCHEMA_HELP,
    SIMULATE_HELP, VERIFY_HELP,
};
use clap::{Args, ColorChoice, Parser, Subcommand};
use std::path::PathBuf;

/// From diameters measured along a turned bar: does the lathe turn parallel, and how sure is that?
#[derive(Debug, Parser)]
#[command(name = "taperwright", version, about, after_help = EXAMPLES, arg_required_else_help = true)]
pub struct Arguments {
    /// What to do.
    #[command(subcommand)]
    pub command: Command,

    /// Print errors only
    #[arg(long, short, global = true)]
    pub quiet: bool,

    /// Colour in messages; NO_COLOR is heeded too
    #[arg(long, global = true, value_name = "WHEN", default_value = "auto")]
    pub color: ColorChoice,
}

/// The commands.
#[derive(Debug, Subcommand)]
pub enum Command {
    /// Write a page and a result file for each trial: taper and barrel, how sure, and what the log cannot tell
    #[command(after_help = REPORT_HELP)]
    Report(ReportArguments),
    /// Read and judge logs; write nothing
    #[command(after_help = CHECK_HELP)]
    Check(CheckArguments),
    /// List the built-in sets of limits, or print one with its sources
    #[command(after_help = CRITERIA_HELP)]
    Criteria(CriteriaArguments),
    /// Begin a trial: a folder with commented settings and blank logs
    #[command(after_help = NEW_HELP)]
    New(NewArguments),
    /// Before cutting: is the bar stiff enough, what to measure, how sure that will be; a sheet to print and blank logs
    #[command(after_help = PLAN_HELP)]
    Plan(PlanArguments),
    /// Make logs from stated causes, noise and seed, with the truth beside them
    #[command(after_help = SIMULATE_HELP)]
    Simulate(SimulateArguments),
    /// Trials of a machine over time: does it drift, what did a repair do; writes history.html
    #[command(after_help = HISTORY_HELP)]
    History(HistoryArguments),
    /// Make a report again from the logs that it carries, and name every figure that differs
    #[command(after_help = VERIFY_HELP)]
    Verify(VerifyArguments),
    /// Print the JSON Schema of trial.toml, of a result file or of a criteria file
    #[command(after_help = SCHEMA_HELP)]
    Schema(SchemaArguments),
    /// Print what lets a shell complete commands and options
    #[command(after_help = COMPLETIONS_HELP)]
    Completions(CompletionsArguments),
    /// Print the manual page
    #[command(after_help = MAN_HELP, alias = "manual")]
    Man,
}

/// Arguments of `schema`.
#[derive(Debug, Args)]
pub struct SchemaArguments {
    /// What the schema is of
    #[arg(value_name = "FILE")]
    pub of: SchemaArgument,
}

/// Arguments of `completions`.
#[derive(Debug, Args)]
pub struct CompletionsArguments {
    /// The shell
    #[arg(value_name = "SHELL")]
    pub shell: clap_complete::Shell,
}

/// Where trials are and how their logs are read.
#[derive(Debug, Args)]
pub struct InputArguments {
    /// Trial folders, logs, folders of those (searched to any depth), or - for one log on standard input
    #[arg(required = true, value_name = "PATH")]
    pub paths: Vec<PathBuf>,

    /// Unit of length columns that state none; without it such a column is an error
    #[arg(long, value_name = "UNIT")]
    pub log_units: Option<UnitArgument>,

    /// Trials worked on at the same time [default: the number of cores]; results do not depend on it
    #[arg(long, short, value_name = "N")]
    pub jobs: Option<u16>,

    /// Limits to judge by: a built-in set (see `taperwright criteria`) or a criteria file, in place of the one that trial.toml names
    #[arg(long, value_name = "NAME|FILE")]
    pub criteria: Option<String>,

    /// What goes to standard output: text, or one compact JSON object a line
    #[arg(long, value_name = "FORMAT", default_value = "text")]
    pub format: FormatArgument,
}

/// Arguments of `report`.
#[derive(Debug, Args)]
pub struct ReportArguments {
    #[allow(missing_docs)]
    #[command(flatten)]
    pub input: InputArguments,

    /// Folder for pages and result files; made if need be
    #[arg(long, short, value_name = "DIR", default_value = "reports")]
    pub out: PathBuf,

    /// Unit that pages and summaries show; result files are always in millimetres
    #[arg(long, value_name = "UNIT", default_value = "mm")]
    pub units: UnitArgument,

    /// Exit with status 1 unless every trial has limits and conforms, in its latest setting, to all of them that can be applied
    #[arg(long)]
    pub require_conformity: bool,

    /// Seed of every random draw
    #[arg(long, value_name = "N", default_value_t = 1)]
    pub seed: u64,
}

/// Arguments of `check`.
#[derive(Debug, Args)]
pub struct CheckArguments {
    #[allow(missing_docs)]
    #[command(flatten)]
    pub input: InputArguments,
}

/// Arguments of `criteria`.
#[derive(Debug, Args)]
pub struct CriteriaArguments {
    /// The set to print; all are listed without it
    #[arg(value_name = "NAME")]
    pub name: Option<String>,

    /// What goes to standard output: text, or one compact JSON object a line
    #[arg(long, value_name = "FORMAT", default_value = "text")]
    pub format: FormatArgument,
}

/// Arguments of `new`.
#[derive(Debug, Args)]
pub struct NewArguments {
    /// Folder of the trial; made if need be
    #[arg(value_name = "FOLDER")]
    pub folder: PathBuf,

    /// Replace files that exist
    #[arg(long)]
    pub force: bool,
}

/// Arguments of `plan`.
#[derive(Debug, Args)]
pub struct PlanArguments {
    /// The trial.toml of the trial to come, or its folder
    #[arg(value_name = "TRIAL.toml")]
    pub trial: PathBuf,

    /// Folder for the sheet and the blank logs [default: the sheet in reports, the logs beside TRIAL.toml]
    #[arg(long, short, value_name = "DIR")]
    pub out: Option<PathBuf>,

    /// Unit of the sheet and of the blank logs
    #[arg(long, value_name = "UNIT", default_value = "mm")]
    pub units: UnitArgument,

    /// Seed of the forecasts
    #[arg(long, value_name = "N", default_value_t = 1)]
    pub seed: u64,

    /// Replace files that exist
    #[arg(long)]
    pub force: bool,
}

/// Arguments of `simulate`.
#[derive(Debug, Args)]
pub struct SimulateArguments {
    /// A trial.toml with a [simulate] table
    #[arg(value_name = "TRIAL.toml")]
    pub trial: PathBuf,

    /// Folder for the logs [default: the folder of TRIAL.toml]
    #[arg(long, short, value_name = "DIR")]
    pub out: Option<PathBuf>,

    /// Seed of the noise
    #[arg(long, value_name = "N", default_value_t = 1)]
    pub seed: u64,

    /// Replace files that exist
    #[arg(long)]
    pub force: bool,
}

/// Arguments of `history`.
#[derive(Debug, Args)]
pub struct HistoryArguments {
    #[allow(missing_docs)]
    #[command(flatten)]
    pub input: InputArguments,

    /// Folder for the page; made if need be
    #[arg(long, short, value_name = "DIR", default_value = "reports")]
    pub out: PathBuf,

    /// Unit that the page shows
    #[arg(long, value_name = "UNIT", default_value = "mm")]
    pub units: UnitArgument,

    /// Seed of every random draw
    #[arg(long, value_name = "N", default_value_t = 1)]
    pub seed: u64,
}

/// Arguments of `verify`.
#[derive(Debug, Args)]
pub struct VerifyArguments {
    /// Pages that `report` made
    #[arg(required = true, value_name = "REPORT.html")]
    pub pages: Vec<PathBuf>,

    /// Folder with the logs that a page is too small to carry
    #[arg(long, value_name = "FOLDER")]
    pub logs: Option<PathBuf>,

    /// Pages worked on at the same time [default: the number of cores]
    #[arg(long, short, value_name = "N")]
    pub jobs: Option<u16>,

    /// What goes to standard output: text, or one compact JSON object a line
    #[arg(long, value_name = "FORMAT", default_value = "text")]
    pub format: FormatArgument,
}
