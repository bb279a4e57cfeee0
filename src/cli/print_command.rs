//! `schema`, `completions` and `man`: what the program tells of itself, printed and nothing else.

use super::arguments::{Arguments, SchemaArgument};
use super::console::Console;
use super::status::Status;
use crate::ingest::{criteria_schema, settings_schema};
use crate::report::result_schema;
use clap::{Command, CommandFactory};
use clap_complete::Shell;
use clap_mangen::Man;
use std::io;

/// What is to be printed.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum PrintTask {
    /// A JSON Schema.
    Schema(SchemaArgument),
    /// Completions for a shell.
    Completions(Shell),
    /// The manual page.
    Man,
}

/// Runs the task.
pub fn print(task: PrintTask, console: &mut Console) -> Status {
    let printed = match task {
        PrintTask::Schema(of) => Ok(schema(of)),
        PrintTask::Completions(shell) => Ok(completions(shell)),
        PrintTask::Man => manual(),
    };
    let mut status = Status::default();
    match printed {
        Ok(text) => console.result(&text),
        Err(why) => {
            status.failed = true;
            console.error(&format!("this cannot be made, which is a fault of the program: {why}"));
        }
    }
    status.failed |= console.failed();
    status
}

fn schema(of: SchemaArgument) -> String {
    let schema = match of {
        SchemaArgument::Trial => settings_schema(),
        SchemaArgument::Result => result_schema(),
        SchemaArgument::Criteria => criteria_schema(),
    };
    format!("{schema:#}\n")
}

fn completions(shell: Shell) -> String {
    let mut script = Vec::new();
    clap_complete::generate(shell, &mut Arguments::command(), env!("CARGO_PKG_NAME"), &mut script);
    String::from_utf8_lossy(&script).into_owned()
}

/// One page with every command: the program's name, what it is for and its cautions, then a section a command.
fn manual() -> io::Result<String> {
    let mut program = Arguments::command();
    program.build(); // gives every command its full name and the options that all share
    let mut page = Vec::new();
    let whole = Man::new(program.clone()).manual("User Commands").source(format!("{} {}", program.get_name(), env!("CARGO_PKG_VERSION")));
    whole.render_title(&mut page)?;
    whole.render_name_section(&mut page)?;
    whole.render_synopsis_section(&mut page)?;
    whole.render_options_section(&mut page)?;
    let mut text = with_one_preamble(&String::from_utf8_lossy(&page));
    text.push_str(&as_typed("EXAMPLES AND CAUTIONS", &program));
    for command in program.get_subcommands().filter(|command| command.get_name() != "help") {
        text.push_str(&section(command)?);
    }
    Ok(text)
}

/// A section of the page on one command.
fn section(command: &Command) -> io::Result<String> {
    let mut part = Vec::new();
    let man = Man::new(command.clone());
    man.render_description_section(&mut part)?;
    man.render_synopsis_section(&mut part)?;
    man.render_options_section(&mut part)?;
    let part = String::from_utf8_lossy(&part).replace(".SH DESCRIPTION\n", "").replace("\n.SH ", "\n.SS ");
    let part = without_preambles(&part);
    Ok(format!(".SH {}\n{part}{}", command.get_name().to_uppercase(), as_typed("Examples and remarks", command)))
}

/// Each part that is rendered begins with two lines that define a quotation mark; a page needs them once.
fn without_preambles(part: &str) -> String {
    part.lines().filter(|line| !line.starts_with(".ie ") && !line.starts_with(".el ")).flat_map(|line| [line, "\n"]).collect()
}

fn with_one_preamble(page: &str) -> String {
    let preamble: String = page.lines().take(2).flat_map(|line| [line, "\n"]).collect();
    // the day of the page is left out, as the same program prints the same page
    preamble + &without_preambles(page).replacen(".TH taperwright 1  ", ".TH taperwright 1 \"\" ", 1)
}

/// What stands below the help of a command, line for line.
fn as_typed(title: &str, command: &Command) -> String {
    let Some(text) = command.get_after_help() else { return String::new() };
    let level = if title.contains("CAUTIONS") { "SH" } else { "SS" };
    let mut lines = String::new();
    for line in text.to_string().lines() {
        let line = line.replace('\\', "\\e").replace('-', "\\-").replace('\'', "\\(aq").replace('~', "\\(ti").replace('`', "\\(ga");
        if line.starts_with('.') {
            lines.push_str("\\&"); // not a request to the formatter
        }
        lines.push_str(&line);
        lines.push('\n');
    }
    format!(".{level} \"{title}\"\n.nf\n{lines}.fi\n")
}
