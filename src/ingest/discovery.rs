use super::bounds::{self, MOST_SETTINGS, MOST_WHOLE, read_at_most};
use super::encoding::decode;
use super::files::read_within;
use super::log::Log;
use super::log_kind::LogKind;
use super::names::file_name_for;
use super::settings::peek_name;
use super::spreadsheet::{sheet, split_sheet};
use crate::findings::{Finding, Severity};
use crate::trial::TrialSource;
use std::collections::{BTreeMap, BTreeSet};
use std::io::Read as _;
use std::path::{Path, PathBuf};

/// A trial that was found.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct FoundTrial {
    /// Folder or log; `-` for standard input.
    pub path: PathBuf,
    /// What it is.
    pub source: TrialSource,
    /// The name under which its files are written; no two trials of a batch share one, case ignored.
    pub name: String,
}

/// The trials below some paths, in their order, and what is wrong with the paths.
#[derive(Debug, Clone, Default, PartialEq)]
pub struct Discovery {
    /// Trials to read.
    pub trials: Vec<FoundTrial>,
    /// Paths that hold no trial, trials whose names cannot be told apart, files left out.
    pub findings: Vec<Finding>,
}

/// Finds the trials of `paths`: trial folders, lone logs, folders of those at any depth.
///
/// Hidden folders, links and `out_dir` are not searched. Trials come in the order of the paths, within a folder by name.
#[must_use]
pub fn find_trials(paths: &[PathBuf], out_dir: Option<&Path>) -> Discovery {
    let out = out_dir.and_then(|dir| dir.canonicalize().ok());
    let mut search =
        Search { out, found: Vec::new(), seen: BTreeSet::new(), met: 0, reports: Vec::new(), links: Vec::new(), findings: Vec::new() };
    for path in paths {
        search.path(path);
    }
    search.only_reports();
    name_trials(search.found, search.findings)
}

struct Search {
    out: Option<PathBuf>,
    found: Vec<(PathBuf, TrialSource, String)>,
    seen: BTreeSet<PathBuf>,
    /// Trials met so far, those taken before included.
    met: usize,
    /// Paths given that are the folder of reports.
    reports: Vec<PathBuf>,
    /// Links that have the name of a log or of settings, which are not followed.
    links: Vec<PathBuf>,
    findings: Vec<Finding>,
}

impl Search {
    fn fault(&mut self, code: &'static str, path: &Path, found: &str, help: &str) {
        self.findings.push(Finding::new(code, Severity::Error, found, help).in_file(slashed(path)));
    }

    fn path(&mut self, path: &Path) {
        if path == Path::new("-") {
            self.add(path, TrialSource::StandardInput, "standard-input".to_owned());
        } else if path.is_dir() && self.is_out(path) {
            self.reports.push(path.to_owned());
        } else if path.is_dir() {
            let before = self.met;
            self.links.clear();
            self.folder(path);
            if self.met > before {
                return;
            }
            if let Some(link) = self.links.first().cloned() {
                let found = format!("a folder without a trial; `{}` is a link, which a search does not follow", slashed(&link));
                self.fault(
                    "no-trial",
                    path,
                    &found,
                    "put the log itself into the folder, or give the path of the log that the link leads to",
                );
            } else {
                let help = "give a trial folder (with trial.toml or diameters.csv), a log, or a folder of those";
                self.fault("no-trial", path, "a folder without a trial", help);
            }
        } else if path.is_file() && path.file_name().is_some_and(|name| name == "trial.toml") {
            self.trial_folder(path.parent().filter(|parent| !parent.as_os_str().is_empty()).unwrap_or(Path::new(".")));
        } else if path.is_file() {
            self.lone_log(path);
        } else if let Some((file, sheet)) = split_sheet(&path.to_string_lossy()).filter(|(file, _)| Path::new(file).is_file()) {
            self.add(path, TrialSource::LoneLog, format!("{}-{sheet}", stem_of(Path::new(file))));
        } else if path.exists() {
            self.fault("not-a-file", path, "neither a file nor a folder", "give a file, or - for standard input");
        } else {
            self.fault("missing-file", path, "no such file or folder", "mend the path");
        }
    }

    fn add(&mut self, path: &Path, source: TrialSource, name: String) {
        self.met += 1;
        if self.seen.insert(one_spelling(path)) {
            self.found.push((path.to_owned(), source, name));
        }
    }

    fn lone_log(&mut self, path: &Path) {
        self.add(path, TrialSource::LoneLog, stem_of(path));
    }

    fn trial_folder(&mut self, path: &Path) {
        let stated = read_within(path, "trial.toml", MOST_SETTINGS).ok().and_then(|bytes| peek_name(&decode(&bytes).ok()?));
        self.add(path, TrialSource::Folder, stated.unwrap_or_else(|| folder_name(path)));
    }

    fn is_out(&self, path: &Path) -> bool {
        self.out.is_some() && path.canonicalize().ok() == self.out
    }

    /// The folder of reports among other paths is quiet, as a pattern for all folders names it too; alone it is a fault.
    fn only_reports(&mut self) {
        if self.met == 0 {
            for path in std::mem::take(&mut self.reports) {
                self.fault("no-trial", &path, "the folder of reports, which is not searched", "give the path of a trial");
            }
        }
    }

    fn folder(&mut self, path: &Path) {
        if self.is_out(path) {
            return;
        }
        let entries = match std::fs::read_dir(path) {
            Ok(entries) => entries,
            Err(error) => {
                self.fault("unreadable", path, &error.to_string(), "make the folder readable");
                return;
            }
        };
        let mut inside: Vec<PathBuf> = entries.filter_map(Result::ok).map(|entry| entry.path()).collect();
        inside.sort();
        inside.retain(|path| !is_hidden(path));
        let is_known = |path: &&PathBuf| path.file_name().is_some_and(|name| name == "trial.toml") || kind_by_name(path).is_some();
        self.links.extend(inside.iter().filter(|path| path.is_symlink()).filter(is_known).cloned());
        inside.retain(|path| !path.is_symlink());
        if is_trial_folder(&inside) {
            self.trial_folder(path);
            return;
        }
        for path in inside {
            if path.is_dir() {
                self.folder(&path);
            } else if is_spreadsheet(&path) || has_log_ending(&path) {
                self.log_in_folder(&path);
            }
        }
    }

    /// A log in a searched folder is a trial when its header is a log's; anything else is left out, with a note.
    fn log_in_folder(&mut self, path: &Path) {
        let kind = if is_spreadsheet(path) {
            read_at_most(path, MOST_WHOLE).map(|bytes| sheet(&bytes, None, Some(LogKind::Diameters)).ok().map(|_| LogKind::Diameters))
        } else {
            head_of(path).map(|bytes| {
                let text = decode(&bytes).ok()?;
                LogKind::of_header(&Log::open(&text, "").ok()?.header)
            })
        };
        match kind {
            Ok(Some(LogKind::Diameters)) => self.lone_log(path),
            Ok(_) => {
                let help = "it is left out: a lone log has columns station and diameter";
                self.findings.push(Finding::new("file-left-out", Severity::Note, "not a log of diameters", help).in_file(slashed(path)));
            }
            Err(error) => self.unreadable(path, &error),
        }
    }

    fn unreadable(&mut self, path: &Path, error: &std::io::Error) {
        let (code, help) = bounds::unreadable(error);
        self.fault(code, path, &error.to_string(), help);
    }
}

/// The one spelling of a path by which trials are compared: absolute, links followed; of a sheet's, that of its file with the sheet behind it.
fn one_spelling(path: &Path) -> PathBuf {
    let whole = |path: &Path| path.canonicalize().ok();
    let of_sheet = || {
        let name = path.to_string_lossy();
        let (file, sheet) = split_sheet(&name)?;
        Some(whole(Path::new(file))?.join(sheet))
    };
    whole(path).or_else(of_sheet).unwrap_or_else(|| path.to_owned())
}

/// A file's name without its ending.
fn stem_of(path: &Path) -> String {
    path.file_stem().map_or_else(String::new, |stem| stem.to_string_lossy().into_owned())
}

/// The first 64 KiB of a file: enough for a header.
fn head_of(path: &Path) -> std::io::Result<Vec<u8>> {
    if !path.is_file() {
        return Err(std::io::Error::new(std::io::ErrorKind::Unsupported, "neither a file nor a folder"));
    }
    let mut bytes = Vec::new();
    std::fs::File::open(path)?.take(65_536).read_to_end(&mut bytes)?;
    Ok(bytes)
}

/// Gives every trial a name of its own: names that agree, case ignored, become `<parent>-<name>`; of those, what agrees with any other is rejected. A name that no other
/// trial had at first stays its trial's.
fn name_trials(found: Vec<(PathBuf, TrialSource, String)>, mut findings: Vec<Finding>) -> Discovery {
    let first: Vec<String> = found.iter().map(|(_, _, name)| file_name_for(name)).collect();
    let counts = count_names(&first);
    let second: Vec<String> = found
        .iter()
        .zip(&first)
        .map(|((path, _, name), plain)| match counts.get(&plain.to_lowercase()) {
            Some(1) | None => plain.clone(),
            Some(_) => file_name_for(&format!("{}-{name}", parent_name(path))),
        })
        .collect();
    let renamed: Vec<bool> = first.iter().map(|plain| counts.get(&plain.to_lowercase()).is_some_and(|count| *count > 1)).collect();
    let counts = count_names(&second);
    let mut trials = Vec::new();
    for (((path, source, _), name), renamed) in found.into_iter().zip(second).zip(renamed) {
        if renamed && counts.get(&name.to_lowercase()).is_some_and(|count| *count > 1) {
            let help =
                "give each trial another `name` in [trial], rename a folder or file, or report them one at a time with another --out";
            let found = format!("more than one trial would be written as `{name}`");
            findings.push(Finding::new("same-name", Severity::Error, found, help).in_file(slashed(&path)));
        } else {
            trials.push(FoundTrial { path, source, name });
        }
    }
    Discovery { trials, findings }
}

fn count_names(names: &[String]) -> BTreeMap<String, usize> {
    let mut counts = BTreeMap::new();
    for name in names {
        *counts.entry(name.to_lowercase()).or_insert(0) += 1;
    }
    counts
}

/// The name of a folder, also of `.` and `..`.
pub(super) fn folder_name(path: &Path) -> String {
    let named = path.file_name().map(ToOwned::to_owned).or_else(|| path.canonicalize().ok()?.file_name().map(ToOwned::to_owned));
    named.map_or_else(|| "trial".to_owned(), |name| name.to_string_lossy().into_owned())
}

fn parent_name(path: &Path) -> String {
    let whole = path.canonicalize().unwrap_or_else(|_| path.to_owned());
    whole.parent().and_then(Path::file_name).map_or_else(String::new, |name| name.to_string_lossy().into_owned())
}

fn is_hidden(path: &Path) -> bool {
    path.file_name().is_some_and(|name| name.to_string_lossy().starts_with('.'))
}

pub(super) fn has_log_ending(path: &Path) -> bool {
    path.extension().is_some_and(|ending| matches!(ending.to_string_lossy().to_lowercase().as_str(), "csv" | "tsv" | "txt"))
}

/// Whether a file's name ends as a spreadsheet's, also with the name of a sheet behind it.
pub(super) fn is_spreadsheet(path: &Path) -> bool {
    let name = path.to_string_lossy();
    let path = split_sheet(&name).map_or(path, |(file, _)| Path::new(file));
    path.extension().is_some_and(|ending| matches!(ending.to_string_lossy().to_lowercase().as_str(), "xlsx" | "ods" | "xls"))
}

/// The kind of log that a file's name tells, if it is a log or a sheet of a known name.
pub(super) fn kind_by_name(path: &Path) -> Option<LogKind> {
    let kind = LogKind::of_stem(&path.file_stem()?.to_string_lossy())?;
    (has_log_ending(path) || is_spreadsheet(path)).then_some(kind)
}

fn is_trial_folder(inside: &[PathBuf]) -> bool {
    inside.iter().any(|path| path.is_file() && (path.file_name().is_some_and(|name| name == "trial.toml") || kind_by_name(path).is_some()))
}

pub(super) fn slashed(path: &Path) -> String {
    path.to_string_lossy().replace('\\', "/")
}
