//! `verify`: makes a report again from what it carries and says whether every figure agrees. Writes nothing.

use super::console::Console;
use super::status::Status;
use super::together::in_order;
use crate::ingest::read_at_most;
use crate::verify::{Compared, FileState, FileVerdict, MEANING, Refusal, Verdict, verify};
use serde_json::json;
use std::path::{Path, PathBuf};

/// Pages above this are not read, bytes.
const LARGEST_PAGE: u64 = 256 << 20;
/// Logs above this are not read, bytes.
const LARGEST_LOG: u64 = 2 << 30;
/// Differences that are told; all are counted.
const TOLD: usize = 20;

/// What `verify` was asked for.
#[derive(Debug, Clone, PartialEq)]
pub struct VerifyTask {
    /// Pages, without doubles.
    pub pages: Vec<PathBuf>,
    /// Where logs lie that a page is too small to carry.
    pub logs: Option<PathBuf>,
    /// Pages worked on at once, at least 1.
    pub jobs: usize,
    /// Whether results go out as JSON.
    pub json: bool,
}

/// Runs the task.
pub fn verify_pages(task: &VerifyTask, console: &mut Console) -> Status {
    let mut status = Status::default();
    let mut done = 0;
    in_order(
        &task.pages,
        task.jobs,
        |page| one(page, task),
        |page, outcome| {
            done += 1;
            match outcome {
                Some(Ok(verdict)) => tell(page, &verdict, task, console, &mut status),
                Some(Err(refusal)) => {
                    match refusal {
                        Refusal::Failed(_) => status.failed = true,
                        Refusal::NotAReport(_) | Refusal::LogsNeeded(_) => status.rejected = true,
                    }
                    console.error(&format!("{}: {}", page.display(), one_line(&refusal.to_string())));
                    if task.json {
                        let line = json!({ "page": page.display().to_string(), "verified": false, "why": refusal.to_string() });
                        console.result(&format!("{line}\n"));
                    }
                }
                None => {
                    status.failed = true;
                    console.error(&format!("{}: the program failed; please report it with this page", page.display()));
                }
            }
            console.progress(done, task.pages.len());
        },
    );
    status.failed |= console.failed();
    status
}

fn one(page: &Path, task: &VerifyTask) -> Result<Verdict, Refusal> {
    let bytes = read_at_most(page, LARGEST_PAGE).map_err(|error| Refusal::NotAReport(format!("it cannot be read: {error}")))?;
    verify(&bytes, &|file| {
        // only the last part of the name is taken: a page cannot ask for a file outside the folder
        let name = Path::new(file).file_name()?;
        read_at_most(&task.logs.as_ref()?.join(name), LARGEST_LOG).ok()
    })
}

fn tell(page: &Path, verdict: &Verdict, task: &VerifyTask, console: &mut Console, status: &mut Status) {
    status.answer_is_no |= !verdict.agrees;
    if task.json {
        let mut told = verdict.clone();
        told.differences.truncate(TOLD);
        let line = json!({
            "page": page.display().to_string(),
            "verified": true,
            "verdict": told,
            "differences_in_all": verdict.differences.len(),
            "meaning": MEANING,
        });
        console.result(&format!("{line}\n"));
    } else if !console.quiet() || !verdict.agrees {
        console.result(&in_words(page, verdict));
    }
}

/// The verdict as lines of text.
fn in_words(page: &Path, verdict: &Verdict) -> String {
    let page = page.display();
    let files = listed(&verdict.files);
    let mut lines = Vec::new();
    let count = verdict.differences.len();
    let places = if count == 1 { "1 place".to_owned() } else { format!("{count} places") };
    let by = format!("made by taperwright {}", one_line(&verdict.made_by));
    match (&verdict.cannot_vouch, verdict.compared) {
        (Some(why), Compared::Nothing) => lines.push(format!("{page}: {}. It cannot be made again from what it carries.", one_line(why))),
        (Some(why), _) => lines.push(format!(
            "{page}: {}. Of its printed numbers {} were compared with what {files} give: {}.",
            one_line(why),
            verdict.numbers,
            if count == 0 { "none differs".to_owned() } else { format!("it differs in {places}") }
        )),
        (None, Compared::Nothing) => lines.push(format!("{page}: differs, and cannot be made again from what it carries; {by}.")),
        (None, _) if verdict.agrees => lines.push(format!(
            "{page}: agrees. Made again from {files} it is the same page, byte for byte: words, tables, drawings and {} numbers with a key; {by}.",
            verdict.numbers
        )),
        (None, _) => lines.push(format!("{page}: differs in {places} from what {files} give; {by}.")),
    }
    lines.extend(verdict.differences.iter().take(TOLD).map(|each| format!("  {}", one_line(&each.in_words()))));
    if count > TOLD {
        lines.push(format!("  and {} more", count - TOLD));
    }
    lines.push(format!("  {MEANING}"));
    lines.push(String::new());
    lines.join("\n")
}

fn listed(files: &[FileVerdict]) -> String {
    let supplied = |file: &FileVerdict| if file.state == FileState::Supplied { " (supplied)" } else { "" };
    let names: Vec<String> = files.iter().map(|file| format!("{}{}", one_line(&file.file), supplied(file))).collect();
    match names.as_slice() {
        [] => "no file".to_owned(),
        [one] => one.clone(),
        [first @ .., last] => format!("{} and {last}", first.join(", ")),
    }
}

/// Text from a page without line ends and control characters, which could steer a terminal.
fn one_line(text: &str) -> String {
    text.chars().map(|letter| if letter.is_control() { ' ' } else { letter }).collect()
}
