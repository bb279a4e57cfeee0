//! `report`: every trial read, analysed and written, several at once, told in their order.

use super::console::Console;
use super::picture::all_drawn;
use super::search::{Search, read};
use super::settings::Input;
use super::status::Status;
use super::together::in_order;
use crate::analysis::{Analysis, Options, analyse};
use crate::conformity::shows_conformity;
use crate::findings::{Finding, Severity};
use crate::ingest::{FoundTrial, Rejected};
use crate::output::{write_set, write_whole};
use crate::report::{BatchEntry, BatchOutcome, PageOptions, SettingLine};
use crate::report::{index_html, page_html, result_json, result_json_line, summary, summary_csv, summary_parquet, terminal_summary};
use std::path::{Path, PathBuf};

/// What `report` was asked for.
#[derive(Debug, Clone, PartialEq)]
pub struct ReportTask {
    /// Where trials are.
    pub input: Input,
    /// Folder for pages and result files.
    pub out: PathBuf,
    /// What pages and summaries show.
    pub page: PageOptions,
    /// Whether anything but proven conformity is a no.
    pub require_conformity: bool,
    /// Seed of every random draw.
    pub seed: u64,
}

/// What became of one trial: kept until its turn to be told. Its files are written then, so that no worker waits for the disk.
enum Told {
    Reported { entry: BatchEntry, result: String, findings: Vec<Finding>, files: [(PathBuf, Vec<u8>); 2], conforms: Result<(), String> },
    Rejected { entry: BatchEntry, rejected: Rejected },
    NotWritten { trial: String, why: String },
}

/// Runs the task.
pub fn report(task: &ReportTask, console: &mut Console) -> Status {
    let mut status = Status::default();
    let Some(search) = search_or_tell(&task.input, Some(&task.out), console, &mut status) else {
        return status;
    };
    let mut entries = Vec::new();
    let of = search.trials.len();
    in_order(
        &search.trials,
        task.input.jobs,
        |found| report_one(found, task),
        |found, told| {
            match told {
                Some(told) => entries.push(tell(found, told, task, console, &mut status)),
                None => {
                    tell_failure(found, console, &mut status);
                    let why = "the program failed; please report it with this input".to_owned();
                    entries.push(BatchEntry { trial: found.name.clone(), outcome: BatchOutcome::Failed { why } });
                }
            }
            console.progress(entries.len(), of);
        },
    );
    if entries.len() > 1 {
        write_overview(&entries, task, console, &mut status);
    }
    status.failed |= console.failed();
    status
}

/// Finds the trials and tells what is wrong with the paths; `None` when the command line makes no sense with them.
pub fn search_or_tell(input: &Input, out: Option<&Path>, console: &mut Console, status: &mut Status) -> Option<Search> {
    match Search::new(input, out) {
        Ok(search) => {
            let faulty = search.findings.iter().any(Finding::is_error);
            let pictures = all_drawn(None, &search.findings, console.colour());
            if faulty {
                status.rejected = true;
                console.message(&pictures);
            } else if !pictures.is_empty() {
                console.remark(&pictures);
            }
            Some(search)
        }
        Err(why) => {
            console.error(&why);
            *status = Status::usage();
            None
        }
    }
}

/// A trial on which the program itself failed.
pub fn tell_failure(found: &FoundTrial, console: &mut Console, status: &mut Status) {
    status.failed = true;
    console.error(&format!("{}: the program failed; please report it with this input", found.path.display()));
}

/// Reads and analyses one trial and makes its files.
fn report_one(found: &FoundTrial, task: &ReportTask) -> Told {
    let trial = match read(found, &task.input) {
        Ok(trial) => trial,
        Err(rejected) => {
            let first = rejected.findings.iter().find(|finding| finding.is_error()).map(in_words).unwrap_or_default();
            let outcome = BatchOutcome::Rejected { errors: rejected.errors, first };
            return Told::Rejected { entry: BatchEntry { trial: found.name.clone(), outcome }, rejected };
        }
    };
    let analysis = analyse(trial, Options { seed: task.seed, ..Options::default() });
    let outcome = BatchOutcome::Reported {
        file: found.name.clone(),
        date: analysis.trial.identity.date.clone(),
        machine: analysis.trial.machine.name.clone(),
        serial: analysis.trial.machine.serial.clone(),
        settings: SettingLine::all_of(&analysis),
        warnings: analysis.warnings.len() + analysis.findings.iter().filter(|finding| finding.severity == Severity::Warning).count(),
    };
    let entry = BatchEntry { trial: analysis.trial.identity.name.clone(), outcome };
    match report_files(&analysis, &found.name, task) {
        Ok(files) => {
            let result = if task.input.json { result_json_line(&analysis) + "\n" } else { terminal_summary(&analysis, task.page.units) };
            Told::Reported { entry, result, findings: analysis.findings.clone(), files, conforms: shows_conformity(&analysis.conformity) }
        }
        Err(why) => Told::NotWritten { trial: entry.trial, why },
    }
}

/// Both files of a trial, the result file first, with their paths.
fn report_files(analysis: &Analysis, name: &str, task: &ReportTask) -> Result<[(PathBuf, Vec<u8>); 2], String> {
    let page = page_html(analysis, &task.page).map_err(|why| format!("{name}: the page cannot be made: {why}"))?;
    let file = |ending: &str, text: String| (task.out.join(format!("{name}.{ending}")), text.into_bytes());
    Ok([file("json", result_json(analysis)), file("html", page)])
}

/// Writes the files of one trial and prints what became of it.
fn tell(found: &FoundTrial, told: Told, task: &ReportTask, console: &mut Console, status: &mut Status) -> BatchEntry {
    match told {
        Told::Reported { entry, result, findings, files, conforms } => {
            if let Err(why) = write_set(&files, true) {
                return not_written(entry.trial, why.to_string(), console, status);
            }
            let pictures = all_drawn(Some(&found.path), &findings, console.colour());
            if !pictures.is_empty() {
                console.remark(&pictures);
            }
            if task.input.json {
                console.result(&result);
            } else if !console.quiet() {
                let paths: String = files.iter().map(|(path, _)| format!("  {}\n", path.display())).collect();
                let end = if result.ends_with('\n') { "" } else { "\n" };
                console.result(&format!("{result}{end}{paths}"));
            }
            if let (true, Err(why)) = (task.require_conformity, conforms) {
                status.answer_is_no = true;
                console.error(&format!("{}: {why}", entry.trial));
            }
            entry
        }
        Told::Rejected { entry, rejected } => {
            status.rejected = true;
            console.message(&all_drawn(Some(&found.path), &rejected.findings, console.colour()));
            console.message(&format!("{}: rejected, {}", found.path.display(), counted(rejected.errors)));
            entry
        }
        Told::NotWritten { trial, why } => not_written(trial, why, console, status),
    }
}

/// A trial without files.
fn not_written(trial: String, why: String, console: &mut Console, status: &mut Status) -> BatchEntry {
    status.failed = true;
    console.error(&why);
    BatchEntry { trial, outcome: BatchOutcome::Failed { why } }
}

/// `1 fault`, `2 faults`.
pub fn counted(errors: usize) -> String {
    format!("{errors} {}", if errors == 1 { "fault" } else { "faults" })
}

/// A finding as one sentence without its folder, for the index.
fn in_words(finding: &Finding) -> String {
    let mut words = String::new();
    if let Some(file) = &finding.file {
        words.push_str(file);
    }
    if let Some(row) = finding.row {
        words.push_str(&format!(" row {row}"));
    }
    if let Some(column) = &finding.column {
        words.push_str(&format!(" column {column}"));
    }
    let between = if words.is_empty() { "" } else { ": " };
    format!("{}{between}{}", words.trim_start(), finding.found)
}

/// The tables of a batch, then its index page.
fn write_overview(entries: &[BatchEntry], task: &ReportTask, console: &mut Console, status: &mut Status) {
    let table = summary(entries);
    let csv = summary_csv(&table).map_err(|error| error.to_string());
    let parquet = summary_parquet(&table).map_err(|error| error.to_string());
    let index = index_html(entries, &task.page).map(String::into_bytes).map_err(|error| error.to_string());
    for (name, bytes) in [("summary.csv", csv), ("summary.parquet", parquet), ("index.html", index)] {
        let path = task.out.join(name);
        match bytes.and_then(|bytes| write_whole(&path, &bytes).map_err(|why| why.to_string())) {
            Ok(()) if !task.input.json && !console.quiet() => console.result(&format!("  {}\n", path.display())),
            Ok(()) => {}
            Err(why) => {
                status.failed = true;
                console.error(&why);
            }
        }
    }
}
