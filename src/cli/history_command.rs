//! `history`: trials of one machine over time, on one page.

use super::console::Console;
use super::picture::all_drawn;
use super::report_command::{counted, search_or_tell, tell_failure};
use super::search::read;
use super::settings::Input;
use super::status::Status;
use super::together::in_order;
use crate::analysis::{Analysis, Options, analyse};
use crate::history::history;
use crate::output::write_whole;
use crate::report::{PageOptions, history_html, history_json, history_summary};
use std::path::PathBuf;

/// The page's name.
const PAGE: &str = "history.html";

/// What `history` was asked for.
#[derive(Debug, Clone, PartialEq)]
pub struct HistoryTask {
    /// Where trials are.
    pub input: Input,
    /// Folder for the page.
    pub out: PathBuf,
    /// What page and lines show.
    pub page: PageOptions,
    /// Seed of every random draw.
    pub seed: u64,
}

/// Runs the task.
pub fn tell_history(task: &HistoryTask, console: &mut Console) -> Status {
    let mut status = Status::default();
    let Some(search) = search_or_tell(&task.input, Some(&task.out), console, &mut status) else {
        return status;
    };
    let mut analyses: Vec<Analysis> = Vec::new();
    let (of, mut done) = (search.trials.len(), 0);
    in_order(
        &search.trials,
        task.input.jobs,
        |found| read(found, &task.input).map(|trial| analyse(trial, Options { seed: task.seed, ..Options::default() })),
        |found, outcome| {
            done += 1;
            match outcome {
                Some(Ok(analysis)) => {
                    let pictures = all_drawn(Some(&found.path), &analysis.trial.findings, console.colour());
                    if !pictures.is_empty() {
                        console.remark(&pictures);
                    }
                    analyses.push(analysis);
                }
                Some(Err(rejected)) => {
                    status.rejected = true;
                    console.message(&all_drawn(Some(&found.path), &rejected.findings, console.colour()));
                    console.message(&format!("{}: rejected, {}", found.path.display(), counted(rejected.errors)));
                }
                None => tell_failure(found, console, &mut status),
            }
            console.progress(done, of);
        },
    );
    let told = history(&analyses);
    for each in &told.left_out {
        status.rejected = true;
        console.error(&format!("{} is left out: {}", one_line(&each.trial), each.reason));
    }
    if told.machines.is_empty() {
        if !status.failed {
            status.rejected = true;
            console.error("no trial can be placed in time: nothing is written");
        }
        return status;
    }
    let path = task.out.join(PAGE);
    let written = history_html(&told, &task.page)
        .map_err(|why| format!("the page cannot be made: {why}"))
        .and_then(|page| write_whole(&path, page.as_bytes()).map_err(|why| why.to_string()));
    match written {
        Ok(()) if task.input.json => console.result(&format!("{}\n", history_json(&told))),
        Ok(()) if console.quiet() => {}
        Ok(()) => console.result(&format!("{}  {}\n", history_summary(&told, task.page.units), path.display())),
        Err(why) => {
            status.failed = true;
            console.error(&why);
        }
    }
    status.failed |= console.failed();
    status
}

fn one_line(text: &str) -> String {
    text.chars().map(|letter| if letter.is_control() { ' ' } else { letter }).collect()
}
