//! Arguments, batch, progress, exit status.

mod argument_words;
mod arguments;
mod check_command;
mod console;
mod criteria_command;
mod excerpt;
mod help;
mod history_command;
mod new_command;
mod picture;
mod plan_command;
mod print_command;
mod report_command;
mod search;
mod settings;
mod simulate_command;
mod status;
mod together;
mod verify_command;

pub use criteria_command::CriteriaTask;
pub use history_command::HistoryTask;
pub use new_command::NewTask;
pub use plan_command::PlanTask;
pub use print_command::PrintTask;
pub use report_command::ReportTask;
pub use settings::{Input, Settings, Surroundings, Task};
pub use simulate_command::SimulateTask;
pub use status::Status;
pub use verify_command::VerifyTask;

use crate::output::{clear_left_behind, clear_when_interrupted};
use arguments::Arguments;
use clap::{ColorChoice, CommandFactory, FromArgMatches, ValueEnum};
use console::Console;
use std::ffi::OsString;
use std::io::{IsTerminal, Write as _};
use std::process::ExitCode;

/// Runs the program with `arguments`, the first of which is its own name, and returns its exit status.
pub fn run(arguments: impl IntoIterator<Item = OsString>) -> ExitCode {
    let around = Surroundings {
        no_color: std::env::var_os("NO_COLOR").is_some_and(|value| !value.is_empty()),
        terminal: std::io::stderr().is_terminal(),
        cores: std::thread::available_parallelism().map_or(1, usize::from),
    };
    let typed: Vec<OsString> = arguments.into_iter().collect();
    let parsed = Arguments::command().color(asked_colour(&typed)).try_get_matches_from(typed);
    let arguments = match parsed.and_then(|matches| Arguments::from_arg_matches(&matches)) {
        Ok(arguments) => arguments,
        Err(told) => {
            // Help and version go to standard output, wrong usage to standard error.
            return match told.print().and_then(|()| std::io::stdout().flush()) {
                _ if told.use_stderr() => Status::usage().into(),
                Ok(()) => ExitCode::SUCCESS,
                Err(error) => {
                    let mut console = Console::new(false, false);
                    console.not_written(&error);
                    Status { failed: console.failed(), ..Status::default() }.into()
                }
            };
        }
    };
    match settings::resolve(arguments, around) {
        Ok(settings) => carry_out(&settings).into(),
        Err(why) => {
            Console::new(false, false).error(&why);
            Status::usage().into()
        }
    }
}

/// What `--color` says, found before anything is parsed: wrong usage and help are coloured too.
fn asked_colour(typed: &[OsString]) -> ColorChoice {
    let words: Vec<&str> = typed.iter().map_while(|word| word.to_str()).take_while(|word| *word != "--").collect();
    let after = words.windows(2).find(|pair| pair.first() == Some(&"--color")).and_then(|pair| pair.get(1).copied());
    let said = after.or_else(|| words.iter().find_map(|word| word.strip_prefix("--color=")));
    said.and_then(|word| ColorChoice::from_str(word, true).ok()).unwrap_or(ColorChoice::Auto)
}

fn carry_out(settings: &Settings) -> Status {
    let mut console = Console::new(settings.quiet, settings.colour);
    // Where signals cannot be had, an interrupt ends the program as ever and the next run clears the folder.
    let _ = clear_when_interrupted();
    settings.task.folders().into_iter().for_each(clear_left_behind);
    match &settings.task {
        Task::Report(task) => report_command::report(task, &mut console),
        Task::Check(input) => check_command::check(input, &mut console),
        Task::Criteria(task) => criteria_command::criteria(task, &mut console),
        Task::New(task) => new_command::begin(task, &mut console),
        Task::Plan(task) => plan_command::plan(task, &mut console),
        Task::Simulate(task) => simulate_command::simulate_logs(task, &mut console),
        Task::History(task) => history_command::tell_history(task, &mut console),
        Task::Print(task) => print_command::print(*task, &mut console),
        Task::Verify(task) => verify_command::verify_pages(task, &mut console),
    }
}
