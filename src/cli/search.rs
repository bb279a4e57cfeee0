//! The trials that a run works on.

use super::settings::Input;
use crate::findings::Finding;
use crate::ingest::{FoundTrial, ReadOptions, Rejected, find_trials, read_trial};
use crate::trial::Trial;
use std::path::{Path, PathBuf};

/// Trials found, remarks on the way, and what was wrong with the paths.
#[derive(Debug, Clone)]
pub struct Search {
    /// Trials, in the order in which they are told.
    pub trials: Vec<FoundTrial>,
    /// Faults and remarks about paths.
    pub findings: Vec<Finding>,
}

impl Search {
    /// Finds the trials of `input`, leaving `out` alone.
    ///
    /// # Errors
    /// A sentence when `out` is in the way of an input: it would be passed over in silence, or replaced.
    pub fn new(input: &Input, out: Option<&Path>) -> Result<Self, String> {
        if let Some(out) = out {
            nothing_is_passed_over(&input.paths, out)?;
        }
        let found = find_trials(&input.paths, out);
        if let Some(out) = out {
            nothing_is_replaced(&found.trials, out)?;
        }
        Ok(Self { trials: found.trials, findings: found.findings })
    }
}

/// Reads one trial as `input` asks.
///
/// # Errors
/// As [`read_trial`].
pub fn read(found: &FoundTrial, input: &Input) -> Result<Trial, Rejected> {
    read_trial(&found.path, &ReadOptions { log_units: input.log_units, criteria: input.criteria.clone() })
}

/// The search leaves the out folder alone; a trial in it would be passed over in silence.
fn nothing_is_passed_over(paths: &[PathBuf], out: &Path) -> Result<(), String> {
    let Ok(full) = out.canonicalize() else {
        return Ok(()); // not there yet: it holds nothing
    };
    let below_an_input = paths.iter().filter_map(|path| path.canonicalize().ok()).any(|path| path.is_dir() && full.starts_with(path));
    match find_trials(&[out.to_owned()], None).trials.first() {
        Some(trial) if below_an_input => Err(format!(
            "the out folder `{}` holds the trial `{}`, which would be passed over: choose another folder with `--out`",
            out.display(),
            trial.path.display()
        )),
        _ => Ok(()),
    }
}

/// No file that will be written may be one that is read.
fn nothing_is_replaced(trials: &[FoundTrial], out: &Path) -> Result<(), String> {
    let Ok(full) = out.canonicalize() else {
        return Ok(());
    };
    let endings = |trial: &FoundTrial| ["html", "json"].map(|ending| full.join(format!("{}.{ending}", trial.name)));
    let mut targets: Vec<PathBuf> = trials.iter().flat_map(endings).collect();
    targets.extend(["index.html", "summary.csv"].map(|name| full.join(name)));
    match trials.iter().find(|trial| trial.path.canonicalize().is_ok_and(|path| targets.contains(&path))) {
        Some(trial) => Err(format!("the report would replace the log {}: choose another folder with `--out`", trial.path.display())),
        None => Ok(()),
    }
}
