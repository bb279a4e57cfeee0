//! `check`: reads and judges logs, writes nothing.

use super::console::Console;
use super::picture::all_drawn;
use super::report_command::{counted, search_or_tell, tell_failure};
use super::search::read;
use super::settings::Input;
use super::status::Status;
use super::together::in_order;
use crate::trial::Trial;
use serde_json::json;

/// Runs the check.
pub fn check(input: &Input, console: &mut Console) -> Status {
    let mut status = Status::default();
    let Some(search) = search_or_tell(input, None, console, &mut status) else {
        return status;
    };
    let of = search.trials.len();
    let mut done = 0;
    in_order(
        &search.trials,
        input.jobs,
        |found| read(found, input),
        |found, judged| {
            done += 1;
            let Some(judged) = judged else {
                return tell_failure(found, console, &mut status);
            };
            let (findings, errors) = match &judged {
                Ok(trial) => (trial.findings.as_slice(), 0),
                Err(rejected) => (rejected.findings.as_slice(), rejected.errors),
            };
            let pictures = all_drawn(Some(&found.path), findings, console.colour());
            if errors > 0 {
                status.rejected = true;
                console.message(&pictures);
            } else if !pictures.is_empty() {
                console.remark(&pictures);
            }
            if input.json {
                let line = json!({
                    "path": found.path.display().to_string(),
                    "trial": judged.as_ref().ok().map(|trial| &trial.identity.name),
                    "accepted": errors == 0,
                    "errors": errors,
                    "inputs": judged.as_ref().map_or(&[][..], |trial| trial.inputs.as_slice()),
                    "findings": findings,
                });
                console.result(&format!("{line}\n"));
            } else if !console.quiet() {
                let verdict = judged.as_ref().map_or_else(|_| format!("rejected, {}", counted(errors)), accepted);
                console.result(&format!("{}: {verdict}\n", found.path.display()));
            }
            console.progress(done, of);
        },
    );
    status.failed |= console.failed();
    status
}

/// What was read of an accepted trial, in words.
fn accepted(trial: &Trial) -> String {
    let files: Vec<String> = trial
        .inputs
        .iter()
        .filter(|input| input.rows > 0)
        .map(|input| {
            let excluded = if input.excluded > 0 { format!(", {} excluded", input.excluded) } else { String::new() };
            format!("{} ({} of {} rows used{excluded})", input.file, input.used, input.rows)
        })
        .collect();
    format!("accepted: {}", files.join(", "))
}
