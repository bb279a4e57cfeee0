//! `criteria`: lists the built-in sets of limits, or prints one with its sources.

use super::console::Console;
use super::status::Status;
use crate::ingest::{BUILT_IN, advice_on_sets, read_built_in};
use crate::trial::{Acceptance, Limit, Provenance};
use serde_json::json;

/// What `criteria` was asked for.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct CriteriaTask {
    /// The set to print; `None`: list all.
    pub name: Option<String>,
    /// Whether results go out as JSON.
    pub json: bool,
}

/// Runs the task.
pub fn criteria(task: &CriteriaTask, console: &mut Console) -> Status {
    let mut status = Status::default();
    let wanted: Vec<&str> = match &task.name {
        Some(name) => vec![name.as_str()],
        None => BUILT_IN.iter().map(|set| set.name).collect(),
    };
    for name in wanted {
        let Some(read) = read_built_in(name) else {
            console.error(&format!("no built-in set is called `{name}`: {}", advice_on_sets(name)));
            return Status::usage();
        };
        let Ok(set) = read else {
            status.failed = true;
            console.error(&format!("the built-in set `{name}` cannot be read, which is a fault of the program"));
            continue;
        };
        if task.json {
            console.result(&format!("{}\n", as_json(&set)));
        } else if task.name.is_some() {
            let text = BUILT_IN.iter().find(|set| set.name.eq_ignore_ascii_case(name.trim())).map_or("", |set| set.text);
            console.result(&format!("{}\n{text}", in_words(&set)));
        } else {
            console.result(&format!("{}\n", in_words(&set)));
        }
    }
    status.failed |= console.failed();
    status
}

/// Name, title, source and how many values nobody compared with their source.
fn in_words(set: &Acceptance) -> String {
    let memory = set.limit.iter().filter(|limit| limit.provenance == Some(Provenance::FromMemory)).count();
    let how = match (memory, set.limit.len()) {
        (0, _) => "values read there".to_owned(),
        (some, all) if some == all => {
            "values not compared with their source: written down from memory or at second hand; compare them before anything hangs on them"
                .to_owned()
        }
        (some, all) => format!("{some} of {all} values not compared with their source"),
    };
    format!(
        "# {}\n#   {}\n#   source: {}\n#   {} limits, {how}",
        set.criteria.as_deref().unwrap_or_default(),
        set.title.as_deref().unwrap_or_default(),
        set.source.as_deref().unwrap_or("not stated"),
        set.limit.len()
    )
}

fn as_json(set: &Acceptance) -> serde_json::Value {
    let limits: Vec<&Limit> = set.limit.iter().collect();
    json!({
        "name": set.criteria,
        "title": set.title,
        "source": set.source,
        "decision_rule": set.decision_rule,
        "probability": set.probability,
        "limit": limits,
    })
}
