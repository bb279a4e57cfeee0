//! The command line as typed. [`super::settings`] checks it once; nothing else looks at it.

use clap::{Args, ColorChoice, Parser, Subcommand, ValueEnum};
use std::path::PathBuf;

const EXAMPLES: &str = "\
Examples:
  taperwright report sample-data/chuck-both-ways    one trial: reports/<trial>.html and .json
  taperwright report monday.csv --units in          one log on its own; the page in inches
  taperwright report trials --out pages --jobs 4    every trial below a folder, with an index
  taperwright check trials                          what is wrong with the logs; writes nothing
  taperwright new quay-spring                       settings and blank logs to start from
  taperwright plan quay-spring/trial.toml           before cutting: a sheet with boxes, blank logs
  taperwright simulate quay.toml --out demo         logs from stated causes, to learn from
  taperwright history quay-lathe-2                  its trials over time: drift, before and after a repair
  taperwright verify reports/quay-spring.html       is this page what its logs give?
  taperwright help report                           the options of one command, with examples

Caution: isolate the machine before touching its feet or its drive. Measure only with the
spindle stopped. Keep the overhang within what the chuck can hold. Never loosen hold-downs under
an unsupported machine. Local codes, the machine's own manual and licensed practice come before
anything said here.

The program never uses the network and never changes an input.
Exit status: 0 done; 1 the answer is no; 2 wrong usage; 3 an input was rejected or is missing;
4 the program failed or could not write.";

const REPORT_HELP: &str = "\
Examples:
  taperwright report quay-spring                    a trial folder (trial.toml and logs)
  taperwright report spring.csv                     one log; what it does not say is assumed
  taperwright report trials --out pages --quiet     a folder of trials; only errors are printed
  taperwright report - --log-units mm < spring.csv  a log from standard input
  taperwright report quay-spring --format json      the result on standard output, one line

A log needs at least a column for the station (place along the bar) and one for the diameter,
each with its unit:

  station_mm,diameter_mm,pass
  10,38.021,1
  190,38.034,1

Caution: read diameters only with the spindle stopped, and isolate the machine before touching
its feet or its drive.";

const CHECK_HELP: &str = "\
Example:
  taperwright check trials     every log below the folder: file, row, column, what was found
                               there, what would be right

All problems of a log are shown at once. Nothing is written.";

const NEW_HELP: &str = "\
Example:
  taperwright new quay-spring          trial.toml with every setting, and blank logs
  taperwright report quay-spring       once diameters.csv has readings

Every setting in trial.toml is commented out and shows the value that is taken when nothing is
stated. Each log begins with comments on its columns, with unit and sign. Logs that you do not
need may stay blank or be thrown away. Files that exist are kept unless --force is given.";

const PLAN_HELP: &str = "\
Example:
  taperwright new quay-spring               settings; state the bar, and a limit
  taperwright plan quay-spring/trial.toml   a sheet to print, and blank logs
  taperwright report quay-spring            once the blank logs are filled

trial.toml must state diameter_mm and length_mm in [bar]. The plan is made for the limit on taper
in [[acceptance.limit]] (or for target_expanded_mm in [plan]) and for the causes that [plan] settle
names; minutes_per_pass, minutes_per_reading and minutes_per_setup say what time costs. The sheet
goes to reports, the blank logs beside TRIAL.toml; with --out both go there. Files that exist are
kept unless --force is given.

Caution: keep the overhang within what the chuck can hold; measure only with the spindle stopped.";

const CRITERIA_HELP: &str = "\
Examples:
  taperwright criteria                           what is built in
  taperwright criteria iso-1708-general          one set, as a file to begin your own from
  taperwright report quay --criteria workshop.toml --require-conformity

A value that nobody could read in its source says from-memory, here and on every page.";

const SIMULATE_HELP: &str = "\
Example:
  taperwright simulate quay.toml --out demo
  taperwright report demo

quay.toml is a trial.toml with a [simulate] table, which says what logs to make, and
[simulate.truth], which says what is wrong with the machine. The logs go to --out, or beside the
TOML file, with the truth beside them. Files that exist are kept unless --force is given.
Simulated logs are for learning; they say nothing about a machine.";

const HISTORY_HELP: &str = "\
Example:
  taperwright history quay-lathe-2-years     every dated trial below the folder, on one page

Each trial states its date ([trial] date); a trial without one is left out, with the reason. One
section a machine and way of holding the bar. A trial in which feet were moved stands with its
latest setting. State what was done to the machine since the trial before in [trial] repair: taper,
barrel and causes are then compared before and after, and drift is looked for on either side.

Writes history.html into the --out folder.";

const SCHEMA_HELP: &str = "\
Examples:
  taperwright schema trial > trial.schema.json      keys of trial.toml, for an editor to complete
  taperwright schema result > result.schema.json    for a program that reads result files
  taperwright schema criteria                       keys of a criteria file

An editor that knows TOML takes the schema from the first line of trial.toml:

  #:schema ./trial.schema.json

The schemas are of JSON Schema draft 2020-12. `taperwright check` tells more: what one key says of
another is in no schema.";

const COMPLETIONS_HELP: &str = "\
Examples:
  taperwright completions bash > ~/.local/share/bash-completion/completions/taperwright
  taperwright completions fish > ~/.config/fish/completions/taperwright.fish
  taperwright completions zsh > ~/.zfunc/_taperwright       with ~/.zfunc in fpath
  taperwright completions powershell >> $PROFILE";

const MAN_HELP: &str = "\
Examples:
  taperwright man | man -l -                        read it
  taperwright man > ~/.local/share/man/man1/taperwright.1";

const VERIFY_HELP: &str = "\
Example:
  taperwright verify reports/quay-spring.html     makes the page again from the logs that it carries

Every byte is compared, and each figure that differs is named, in words, tables, attributes and
drawings, with any log that was altered. Of a page that another version made, the printed numbers
are compared. Logs too large to be carried (above 1 MiB when packed) are looked for in the folder
that --logs names; their hashes say whether they are the same. Nothing is written.

A page that agrees shows that page and logs belong together, not that the logs are true.
Exit status: 0 agrees; 1 differs; 3 not such a report, or its logs are missing.";

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

    /// Exit with status 1 unless every trial has limits and conforms to all of them
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

    /// Unit that the sheet shows; blank logs are in millimetres
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

/// A unit of length as typed.
#[derive(Debug, Clone, Copy, PartialEq, Eq, ValueEnum)]
pub enum UnitArgument {
    /// Millimetres
    Mm,
    /// Inches
    #[value(alias = "inch")]
    In,
}

/// A format as typed.
#[derive(Debug, Clone, Copy, PartialEq, Eq, ValueEnum)]
pub enum FormatArgument {
    /// A few lines to read
    Text,
    /// One compact JSON object a line
    Json,
}

/// A file with a schema, as typed.
#[derive(Debug, Clone, Copy, PartialEq, Eq, ValueEnum)]
pub enum SchemaArgument {
    /// trial.toml
    #[value(alias = "settings")]
    Trial,
    /// A result file
    Result,
    /// A criteria file
    Criteria,
}
