//! `new`: settings and blank logs from which a newcomer starts.

use super::console::Console;
use super::status::Status;
use crate::ingest::{LogKind, blank_log, blank_settings};
use crate::output::{NotWritten, write_set};
use std::path::PathBuf;

/// What `new` was asked for.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct NewTask {
    /// Folder of the trial; made if need be.
    pub folder: PathBuf,
    /// Whether files that exist are replaced.
    pub force: bool,
}

/// Runs the task: writes `trial.toml` and a blank log of every kind.
pub fn begin(task: &NewTask, console: &mut Console) -> Status {
    let mut status = Status::default();
    let whole = std::path::absolute(&task.folder).unwrap_or_else(|_| task.folder.clone());
    let name = whole.file_name().map_or_else(|| "trial".to_owned(), |name| name.to_string_lossy().into_owned());
    let mut files = vec![(task.folder.join("trial.toml"), blank_settings(&name).into_bytes())];
    files.extend(LogKind::ALL.map(|kind| (task.folder.join(format!("{}.csv", kind.name())), blank_log(kind).into_bytes())));
    if write_and_tell(&files, task.force, console, &mut status) {
        let folder = task.folder.display();
        console.remark(&format!(
            "next: state the bar in {folder}/trial.toml, write your readings into {folder}/diameters.csv, \
             then `taperwright report {folder}`"
        ));
    }
    status.failed |= console.failed();
    status
}

/// Writes all files or, unless `force`, none when one exists; prints their paths. Whether they were written.
pub fn write_and_tell(files: &[(PathBuf, Vec<u8>)], force: bool, console: &mut Console, status: &mut Status) -> bool {
    if let Err(why) = write_set(files, force) {
        status.failed = true;
        console.error(&match why {
            NotWritten::Exists { .. } => {
                format!("{why}; nothing was written: choose another folder, or replace with `--force`")
            }
            _ => why.to_string(),
        });
        return false;
    }
    if !console.quiet() {
        let paths: String = files.iter().map(|(path, _)| format!("{}\n", path.display())).collect();
        console.result(&paths);
    }
    true
}
