//! A report, its own inputs, the same report again: whether every figure of the page is what the logs that it carries give.
//!
//! This shows that page and logs belong together, not that the logs are true: who rewrites the logs and reports again gets a page that agrees.
//! Nothing is read but the page and what the caller supplies, and nothing is written.

mod alignment;
mod difference;
mod numbers;
mod tokens;

pub use difference::{Difference, differences};
pub use numbers::{NumbersCompared, compare_numbers};

use crate::analysis::{Options, analyse};
use crate::findings::Finding;
use crate::ingest::{CriteriaChoice, MOST_UNPACKED, ReadOptions, TrialFiles, is_photograph, read_files, sha256_hex};
use crate::report::{Carried, CarriedFile, PageOptions, page_html, shown_photograph};
use serde::Serialize;
use std::collections::BTreeMap;

/// What is shown and what is not, in one sentence: said with every answer.
pub const MEANING: &str = "This shows whether page and logs belong together, not whether the logs are true.";

/// Files that a page may carry at most.
const MOST_FILES: usize = 1_000;
/// Draws that a page may ask for at most.
const MOST_DRAWS: usize = 1_000_000;
/// Bytes that all files of a page may hold at most.
const MOST_BYTES: u64 = 4 * MOST_UNPACKED as u64;

/// Why nothing can be said of a page.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
pub enum Refusal {
    /// It is no report of this program, or not whole.
    #[error("not a report of this program that can be verified: {0}")]
    NotAReport(String),
    /// Its logs are too large to be carried.
    #[error("the page does not carry {}: say with --logs in which folder they lie", .0.join(", "))]
    LogsNeeded(Vec<String>),
    /// The page cannot be made, which is a fault of the program.
    #[error("the page cannot be made again: {0}")]
    Failed(String),
}

/// Where the bytes of a file came from and whether they are those that were reported.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize)]
#[serde(rename_all = "kebab-case")]
pub enum FileState {
    /// Carried by the page; its hash agrees.
    Carried,
    /// Supplied; its hash agrees.
    Supplied,
    /// Carried by the page or supplied; its hash differs.
    Altered,
    /// What the page carries cannot be unpacked.
    Damaged,
}

/// One file of a report.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct FileVerdict {
    /// Path relative to the trial.
    pub file: String,
    /// SHA-256 that the page states.
    pub sha256: String,
    /// What became of it.
    pub state: FileState,
    /// SHA-256 of the bytes that were found, where it is another.
    pub found_sha256: Option<String>,
}

/// What was compared.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize)]
#[serde(rename_all = "lowercase")]
pub enum Compared {
    /// Every byte of the page.
    Bytes,
    /// Printed numbers by their keys: another version made the page.
    Numbers,
    /// Nothing: the page could not be made again from what it carries.
    Nothing,
}

/// What is said of a page.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct Verdict {
    /// Whether nothing differs, in any byte. Never so of a page that states another version: its words cannot be made again here.
    pub agrees: bool,
    /// Version that made the page, as it says.
    pub made_by: String,
    /// Version of this program.
    pub version: &'static str,
    /// Why this version cannot vouch for the page, where it states another; else `None`.
    pub cannot_vouch: Option<String>,
    /// What was compared.
    pub compared: Compared,
    /// Numbers with a key that were compared.
    pub numbers: usize,
    /// Keys that only one of the two pages has, where the page states another version; each of their numbers is a difference.
    pub numbers_on_one_page_only: usize,
    /// The files of the report.
    pub files: Vec<FileVerdict>,
    /// Altered files first, then the page from top to bottom.
    pub differences: Vec<Difference>,
}

/// Makes a report again from the files that it carries, or that `supplied` gives by name, and compares.
///
/// # Errors
/// [`Refusal`]: the page is no such report, or its files are neither carried nor supplied.
pub fn verify(page: &[u8], supplied: &dyn Fn(&str) -> Option<Vec<u8>>) -> Result<Verdict, Refusal> {
    let page = String::from_utf8_lossy(page);
    let record = Carried::on_page(&page).map_err(Refusal::NotAReport)?;
    let carried = record.files.iter().filter(|file| file.packed.is_some()).fold(0, |sum: u64, file| sum.saturating_add(file.bytes));
    if record.files.len() > MOST_FILES || record.draws > MOST_DRAWS || carried > MOST_BYTES {
        let why = format!("it asks for {} files of {carried} bytes and {} draws", record.files.len(), record.draws);
        return Err(Refusal::NotAReport(why));
    }
    let mut verdict = Verdict {
        agrees: false,
        made_by: record.version.clone(),
        version: env!("CARGO_PKG_VERSION"),
        cannot_vouch: cannot_vouch(&record.version),
        compared: Compared::Nothing,
        numbers: 0,
        numbers_on_one_page_only: 0,
        files: Vec::new(),
        differences: Vec::new(),
    };
    let mut files = gather(&record, &page, supplied, &mut verdict)?;
    // a file of limits that was chosen beside the trial is none of its logs
    let chosen = record.origin.criteria.as_ref().and_then(|name| CriteriaChoice::again(name, files.remove(name).flatten()));
    let options = ReadOptions { log_units: record.origin.log_units, criteria: chosen };
    let files = TrialFiles::in_memory(&record.origin, files);
    match read_files(&files, &options) {
        Ok(trial) => {
            let analysis = analyse(trial, Options { seed: record.seed, monte_carlo_draws: record.draws });
            let made = page_html(&analysis, &PageOptions { units: record.units }).map_err(|why| Refusal::Failed(why.to_string()))?;
            compare(&page, &made, &mut verdict);
        }
        Err(rejected) => {
            let first = rejected.findings.iter().find(|finding| finding.is_error()).map(told).unwrap_or_default();
            verdict.differences.push(Difference {
                place: "in what the page carries".to_owned(),
                key: None,
                page: None,
                logs: Some(format!("nothing: they are rejected, {first}")),
            });
        }
    }
    verdict.agrees = verdict.differences.is_empty() && verdict.compared == Compared::Bytes;
    Ok(verdict)
}

/// What is said of a page that states another version; `None` where it states this one.
fn cannot_vouch(made_by: &str) -> Option<String> {
    let this = env!("CARGO_PKG_VERSION");
    (made_by != this)
        .then(|| format!("made by version {}: this version, {this}, cannot vouch for its words; use that version", tokens::plain(made_by)))
}

fn told(finding: &Finding) -> String {
    let row = finding.row.map_or_else(String::new, |row| format!(" row {row}"));
    format!("{}{row}: {}", finding.file.as_deref().unwrap_or("the trial"), finding.found)
}

/// The bytes of each file, with what is wrong with them.
fn gather(
    record: &Carried,
    page: &str,
    supplied: &dyn Fn(&str) -> Option<Vec<u8>>,
    verdict: &mut Verdict,
) -> Result<BTreeMap<String, Option<Vec<u8>>>, Refusal> {
    let mut files: BTreeMap<String, Option<Vec<u8>>> = record.origin.not_read.iter().map(|name| (name.clone(), None)).collect();
    let mut missing = Vec::new();
    for file in &record.files {
        let shown = if is_photograph(&file.file) { shown_photograph(page, &file.file) } else { None };
        let carried = file.packed.is_some() || shown.is_some();
        let bytes = shown.or_else(|| if carried { file.unpacked() } else { supplied(&file.file) });
        if bytes.is_none() && !carried {
            missing.push(file.file.clone());
            continue;
        }
        let one = judge(file, carried, bytes.as_deref());
        verdict.differences.extend(altered(&one, carried));
        verdict.files.push(one);
        files.insert(file.file.clone(), bytes);
    }
    if missing.is_empty() { Ok(files) } else { Err(Refusal::LogsNeeded(missing)) }
}

fn judge(file: &CarriedFile, carried: bool, bytes: Option<&[u8]>) -> FileVerdict {
    let found = bytes.map(sha256_hex);
    let state = match &found {
        None => FileState::Damaged,
        Some(found) if *found != file.sha256 => FileState::Altered,
        Some(_) if carried => FileState::Carried,
        Some(_) => FileState::Supplied,
    };
    let found_sha256 = found.filter(|_| state == FileState::Altered);
    FileVerdict { file: file.file.clone(), sha256: file.sha256.clone(), state, found_sha256 }
}

/// The difference that an altered file makes.
fn altered(file: &FileVerdict, carried: bool) -> Option<Difference> {
    let whose = if carried { "that the page carries" } else { "that was supplied" };
    let place = format!("the file {} {whose}", file.file);
    match file.state {
        FileState::Carried | FileState::Supplied => None,
        FileState::Altered => Some(Difference {
            place: format!("{place} is not the one that was reported (SHA-256)"),
            key: None,
            page: Some(file.sha256.clone()),
            logs: file.found_sha256.clone(),
        }),
        FileState::Damaged => Some(Difference {
            place: format!("{place} cannot be unpacked"),
            key: None,
            page: Some(file.sha256.clone()),
            logs: Some("nothing".to_owned()),
        }),
    }
}

fn compare(page: &str, made: &str, verdict: &mut Verdict) {
    if verdict.made_by == verdict.version {
        verdict.compared = Compared::Bytes;
        verdict.numbers = numbers::count_numbers(page);
        let already = !verdict.differences.is_empty();
        // an altered file was named with its hash: the record that holds it need not be named again
        verdict
            .differences
            .extend(differences(page, made).into_iter().filter(|each| !(already && each.place == "in what the page carries")));
        return;
    }
    let outcome = compare_numbers(page, made);
    verdict.compared = Compared::Numbers;
    verdict.numbers = outcome.compared;
    verdict.numbers_on_one_page_only = outcome.only_on_page + outcome.only_from_logs;
    let stated = page.split_once("name=\"generator\" content=\"").and_then(|(_, rest)| rest.split_once('"')).map(|(stated, _)| stated);
    let expected = format!("{} {}", env!("CARGO_PKG_NAME"), verdict.made_by);
    if stated != Some(expected.as_str()) {
        // a page that calls itself another version's would escape the comparison of its bytes
        verdict.differences.push(Difference {
            place: "in the head of the page, the program's version".to_owned(),
            key: None,
            page: Some(tokens::plain(stated.unwrap_or("none"))),
            logs: Some(tokens::plain(&expected)),
        });
    }
    if outcome.compared == 0 {
        // nothing compared is nothing shown: a page stripped of its numbers must not pass for one that agrees
        verdict.differences.push(Difference {
            place: "in the numbers: none is on both pages, so nothing could be compared".to_owned(),
            key: None,
            page: Some(format!("{} keys", outcome.only_on_page)),
            logs: Some(format!("{} keys", outcome.only_from_logs)),
        });
    }
    verdict.differences.extend(outcome.differences);
}
