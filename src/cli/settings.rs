//! What was typed, checked once: nothing after this looks at raw arguments.

use super::arguments::{Arguments, Command, FormatArgument, InputArguments, UnitArgument};
use super::criteria_command::CriteriaTask;
use super::history_command::HistoryTask;
use super::new_command::NewTask;
use super::plan_command::PlanTask;
use super::print_command::PrintTask;
use super::report_command::ReportTask;
use super::simulate_command::SimulateTask;
use super::verify_command::VerifyTask;
use crate::ingest::{CriteriaChoice, LogUnits};
use crate::report::{PageOptions, Units};
use clap::ColorChoice;
use std::path::{Path, PathBuf};

/// The stand-in for standard input.
pub const STANDARD_INPUT: &str = "-";
/// Where pages go when nobody says.
pub const DEFAULT_OUT: &str = "reports";

/// What the program finds around it, passed in so that nothing else asks the system.
#[derive(Debug, Clone, Copy)]
pub struct Surroundings {
    /// Whether `NO_COLOR` is set and not empty.
    pub no_color: bool,
    /// Whether standard error is a terminal.
    pub terminal: bool,
    /// Number of cores.
    pub cores: usize,
}

/// A checked command line.
#[derive(Debug, Clone, PartialEq)]
pub struct Settings {
    /// Whether only errors are printed.
    pub quiet: bool,
    /// Whether messages are coloured.
    pub colour: bool,
    /// What to do.
    pub task: Task,
}

/// What to do.
#[derive(Debug, Clone, PartialEq)]
pub enum Task {
    /// Write reports.
    Report(ReportTask),
    /// Judge logs.
    Check(Input),
    /// Show built-in limits.
    Criteria(CriteriaTask),
    /// Begin a trial.
    New(NewTask),
    /// Plan a trial.
    Plan(PlanTask),
    /// Make logs.
    Simulate(SimulateTask),
    /// Tell how machines went over time.
    History(HistoryTask),
    /// Make reports again from what they carry.
    Verify(VerifyTask),
    /// Tell of the program itself.
    Print(PrintTask),
}

impl Task {
    /// The folders that it writes into.
    #[must_use]
    pub fn folders(&self) -> Vec<&Path> {
        match self {
            Self::Report(task) => vec![&task.out],
            Self::Check(_) | Self::Criteria(_) => Vec::new(),
            Self::New(task) => vec![&task.folder],
            Self::Plan(task) => vec![&task.sheet_folder, &task.log_folder],
            Self::Simulate(task) => vec![&task.out],
            Self::History(task) => vec![&task.out],
            Self::Verify(_) | Self::Print(_) => Vec::new(), // they write nothing
        }
    }
}

/// Where trials are and how to read them.
#[derive(Debug, Clone, PartialEq)]
pub struct Input {
    /// Paths as typed, without doubles.
    pub paths: Vec<PathBuf>,
    /// Unit of length columns that state none.
    pub log_units: Option<LogUnits>,
    /// Trials worked on at once, at least 1.
    pub jobs: usize,
    /// Whether results go out as JSON.
    pub json: bool,
    /// A built-in set of limits or a criteria file, in place of the trial's own.
    pub criteria: Option<CriteriaChoice>,
}

/// Checks what was typed.
///
/// # Errors
/// A sentence saying what makes no sense.
pub fn resolve(arguments: Arguments, around: Surroundings) -> Result<Settings, String> {
    let colour = match arguments.color {
        ColorChoice::Always => true,
        ColorChoice::Never => false,
        ColorChoice::Auto => around.terminal && !around.no_color,
    };
    let task = match arguments.command {
        Command::Report(report) => {
            let input = resolve_input(report.input, around)?;
            let page = PageOptions { units: shown_units(report.units) };
            Task::Report(ReportTask { input, out: report.out, page, require_conformity: report.require_conformity, seed: report.seed })
        }
        Command::Check(check) => Task::Check(resolve_input(check.input, around)?),
        Command::Criteria(criteria) => Task::Criteria(CriteriaTask { name: criteria.name, json: criteria.format == FormatArgument::Json }),
        Command::Schema(schema) => Task::Print(PrintTask::Schema(schema.of)),
        Command::Completions(completions) => Task::Print(PrintTask::Completions(completions.shell)),
        Command::Man => Task::Print(PrintTask::Man),
        Command::New(new) => Task::New(NewTask { folder: new.folder, force: new.force }),
        Command::Plan(plan) => Task::Plan(PlanTask {
            sheet_folder: plan.out.clone().unwrap_or_else(|| PathBuf::from(DEFAULT_OUT)),
            log_folder: plan.out.unwrap_or_else(|| beside(&plan.trial)),
            trial: plan.trial,
            page: PageOptions { units: shown_units(plan.units) },
            seed: plan.seed,
            force: plan.force,
        }),
        Command::Simulate(simulate) => Task::Simulate(SimulateTask {
            out: simulate.out.unwrap_or_else(|| beside(&simulate.trial)),
            trial: simulate.trial,
            seed: simulate.seed,
            force: simulate.force,
        }),
        Command::History(history) => Task::History(HistoryTask {
            input: resolve_input(history.input, around)?,
            out: history.out,
            page: PageOptions { units: shown_units(history.units) },
            seed: history.seed,
        }),
        Command::Verify(verify) => Task::Verify(VerifyTask {
            pages: without_doubles(verify.pages),
            logs: verify.logs,
            jobs: resolve_jobs(verify.jobs, around)?,
            json: verify.format == FormatArgument::Json,
        }),
    };
    Ok(Settings { quiet: arguments.quiet, colour, task })
}

/// The folder of a settings file, or the folder itself.
fn beside(trial: &Path) -> PathBuf {
    if trial.is_dir() { trial.to_owned() } else { trial.parent().unwrap_or(Path::new("")).to_owned() }
}

fn shown_units(unit: UnitArgument) -> Units {
    match unit {
        UnitArgument::Mm => Units::Millimetre,
        UnitArgument::In => Units::Inch,
    }
}

fn without_doubles(typed: Vec<PathBuf>) -> Vec<PathBuf> {
    let mut paths: Vec<PathBuf> = Vec::new();
    for path in typed {
        if !paths.contains(&path) {
            paths.push(path);
        }
    }
    paths
}

fn resolve_jobs(jobs: Option<u16>, around: Surroundings) -> Result<usize, String> {
    match jobs {
        Some(0) => Err("`--jobs 0` would never finish: give 1 or more".to_owned()),
        Some(jobs) => Ok(usize::from(jobs)),
        None => Ok(around.cores.max(1)),
    }
}

fn resolve_input(input: InputArguments, around: Surroundings) -> Result<Input, String> {
    let paths = without_doubles(input.paths);
    if paths.len() > 1 && paths.iter().any(|path| path.as_os_str() == STANDARD_INPUT) {
        return Err("`-` reads one log from standard input and stands alone: give no other PATH with it".to_owned());
    }
    let jobs = resolve_jobs(input.jobs, around)?;
    let criteria = match input.criteria.as_deref().map(CriteriaChoice::asked) {
        Some(Err(finding)) => return Err(format!("--criteria: {}; {}", finding.found, finding.help)),
        Some(Ok(choice)) => Some(choice),
        None => None,
    };
    let log_units = input.log_units.map(|unit| match unit {
        UnitArgument::Mm => LogUnits::Millimetre,
        UnitArgument::In => LogUnits::Inch,
    });
    Ok(Input { paths, log_units, jobs, json: input.format == FormatArgument::Json, criteria })
}

#[cfg(test)]
mod tests {
    use super::*;
    use clap::Parser;

    const PLAIN: Surroundings = Surroundings { no_color: false, terminal: true, cores: 3 };

    fn settings(line: &str, around: Surroundings) -> Result<Settings, String> {
        resolve(Arguments::try_parse_from(line.split(' ')).unwrap(), around)
    }

    #[test]
    fn colour_follows_the_option_then_no_color_then_the_terminal() {
        let colour = |line: &str, around| settings(line, around).unwrap().colour;
        assert!(colour("taperwright check a", PLAIN));
        assert!(!colour("taperwright check a", Surroundings { no_color: true, ..PLAIN }));
        assert!(!colour("taperwright check a", Surroundings { terminal: false, ..PLAIN }));
        assert!(colour("taperwright check a --color always", Surroundings { no_color: true, ..PLAIN }));
        assert!(!colour("taperwright --color never check a", PLAIN));
    }

    #[test]
    fn nonsense_is_refused() {
        assert!(settings("taperwright report - b", PLAIN).is_err());
        assert!(settings("taperwright check a --jobs 0", PLAIN).is_err());
    }

    #[test]
    fn both_names_of_the_inch_are_known() {
        for unit in ["in", "inch"] {
            let Task::Report(task) = settings(&format!("taperwright report a a --units {unit} --log-units {unit}"), PLAIN).unwrap().task
            else {
                panic!("another task");
            };
            assert_eq!((task.page.units, task.input.log_units), (Units::Inch, Some(LogUnits::Inch)));
            assert_eq!((task.input.jobs, task.input.paths.len()), (3, 1));
        }
    }
}
