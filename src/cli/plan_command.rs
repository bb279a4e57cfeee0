//! `plan`: a printable sheet and blank logs, before cutting.

use super::console::Console;
use super::new_command::write_and_tell;
use super::picture::all_drawn;
use super::simulate_command::copied_settings;
use super::status::Status;
use crate::ingest::{ReadOptions, file_name_for, read_settings};
use crate::plan::{blank_logs, plan_trial};
use crate::report::{PageOptions, log_units, plan_refusal, plan_sheet_html};
use std::path::PathBuf;

/// What `plan` was asked for.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct PlanTask {
    /// The trial's settings.
    pub trial: PathBuf,
    /// Folder of the sheet.
    pub sheet_folder: PathBuf,
    /// Folder of the blank logs.
    pub log_folder: PathBuf,
    /// What the sheet shows.
    pub page: PageOptions,
    /// Seed of the forecasts.
    pub seed: u64,
    /// Whether files that exist are replaced.
    pub force: bool,
}

/// Runs the task: writes the sheet, the logs, and a copy of the settings where the folder of the logs has none.
///
/// Where the bar must not be cut as planned that is said first, the sheet says it, and no log is written.
pub fn plan(task: &PlanTask, console: &mut Console) -> Status {
    let mut status = Status::default();
    let trial = match read_settings(&task.trial, &ReadOptions::default()) {
        Ok(trial) => trial,
        Err(rejected) => {
            status.rejected = true;
            console.message(&all_drawn(Some(&task.trial), &rejected.findings, console.colour()));
            return status;
        }
    };
    let name = file_name_for(&trial.identity.name);
    let page_path = task.sheet_folder.join(format!("{name}-plan.html"));
    if !task.force && page_path.symlink_metadata().is_ok() {
        // said before the forecasts are made, which take a while
        status.failed = true;
        console.error(&format!("{} exists already: choose another folder with `--out`, or replace with `--force`", page_path.display()));
        return status;
    }
    let Some(plan) = plan_trial(&trial, task.seed) else {
        status.rejected = true;
        console.error(
            "the bar is too short for two stations, the first of them clear of the chuck's jaws: mend length_mm or collars_mm in [bar]",
        );
        return status;
    };
    let sheet = match plan_sheet_html(&plan, &task.page) {
        Ok(sheet) => sheet,
        Err(why) => {
            status.failed = true;
            console.error(&format!("the sheet cannot be made: {why}"));
            return status;
        }
    };
    let mut files = vec![(page_path, sheet.into_bytes())];
    if let Some(refusal) = plan_refusal(&plan, &task.page) {
        console.message(&refusal);
        write_and_tell(&files, task.force, console, &mut status);
        status.failed |= console.failed();
        return status;
    }
    match copied_settings(&task.trial, &task.log_folder) {
        Ok(copy) => files.extend(copy),
        Err(why) => {
            status.rejected = true;
            console.error(&why);
            return status;
        }
    }
    files.extend(
        blank_logs(&plan.planned, log_units(task.page.units))
            .into_iter()
            .map(|log| (task.log_folder.join(log.name), log.text.into_bytes())),
    );
    write_and_tell(&files, task.force, console, &mut status);
    status.failed |= console.failed();
    status
}
