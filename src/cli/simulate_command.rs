//! `simulate`: logs from stated causes, with the truth beside them.

use super::console::Console;
use super::new_command::write_and_tell;
use super::picture::all_drawn;
use super::status::Status;
use crate::findings::Finding;
use crate::ingest::{ReadOptions, read_settings};
use crate::simulate::simulate;
use std::fs;
use std::path::{Path, PathBuf};

/// Name of the settings in a trial folder.
const SETTINGS: &str = "trial.toml";

/// What `simulate` was asked for.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct SimulateTask {
    /// The trial's settings, with a `[simulate]` table.
    pub trial: PathBuf,
    /// Folder for the logs.
    pub out: PathBuf,
    /// Seed of the noise.
    pub seed: u64,
    /// Whether files that exist are replaced.
    pub force: bool,
}

/// Runs the task: writes the logs, the truth, and a copy of the settings where the folder has none of its own.
pub fn simulate_logs(task: &SimulateTask, console: &mut Console) -> Status {
    let mut status = Status::default();
    let made = read_settings(&task.trial, &ReadOptions::default())
        .map_err(|rejected| rejected.findings)
        .and_then(|trial| simulate(&trial, task.seed));
    let logs = match made {
        Ok(logs) => logs,
        Err(findings) => {
            status.rejected = true;
            tell_faults(&task.trial, &findings, console);
            return status;
        }
    };
    let mut files: Vec<(PathBuf, Vec<u8>)> =
        logs.files.into_iter().map(|file| (task.out.join(file.name), file.text.into_bytes())).collect();
    match copied_settings(&task.trial, &task.out) {
        Ok(copy) => files.splice(0..0, copy).for_each(drop),
        Err(why) => {
            status.rejected = true;
            console.error(&why);
            return status;
        }
    }
    write_and_tell(&files, task.force, console, &mut status);
    status.failed |= console.failed();
    status
}

/// The settings of a trial (its folder or their file) as they are copied into `folder`; `None` where they lie there already.
///
/// # Errors
/// What is told where they cannot be read.
pub(super) fn copied_settings(trial: &Path, folder: &Path) -> Result<Option<(PathBuf, Vec<u8>)>, String> {
    let settings = if trial.is_dir() { trial.join(SETTINGS) } else { trial.to_owned() };
    let copy = folder.join(SETTINGS);
    if matches!((settings.canonicalize(), copy.canonicalize()), (Ok(one), Ok(other)) if one == other) {
        return Ok(None);
    }
    let bytes = fs::read(&settings).map_err(|error| format!("{} cannot be read: {error}", settings.display()))?;
    Ok(Some((copy, bytes)))
}

fn tell_faults(trial: &Path, findings: &[Finding], console: &mut Console) {
    console.message(&all_drawn(Some(trial), findings, console.colour()));
}
