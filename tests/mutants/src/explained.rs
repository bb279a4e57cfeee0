//! The mutants that no test kills, and why: `explained.md`. A paragraph says why; the list below it names the mutants it speaks of.

use crate::mutant::Mutant;
use crate::table::Fate;
use std::collections::{BTreeMap, BTreeSet};

/// Names in the list items of the text, with their number of times.
pub fn names(text: &str) -> BTreeSet<String> {
    text.lines().filter_map(|line| line.strip_prefix("- `").and_then(|rest| rest.strip_suffix('`'))).map(str::to_owned).collect()
}

/// The list item of a mutant.
pub fn item(mutant: &Mutant) -> String {
    format!("- `{}`", mutant.name)
}

/// Explanations that explain nothing: of a mutant that a test kills, or of none that was tried in one of the files tried. One sentence each.
pub fn stale(explained: &BTreeSet<String>, fates: &[(Mutant, Fate)], whole: bool) -> Vec<String> {
    let by_name: BTreeMap<&str, &Fate> = fates.iter().map(|(mutant, fate)| (mutant.name.as_str(), fate)).collect();
    let files: BTreeSet<&str> = fates.iter().map(|(mutant, _)| mutant.file.as_str()).collect();
    let judged = |name: &&String| name.split(' ').next().is_some_and(|file| files.contains(file));
    let told = |name: &String| match by_name.get(name.as_str()) {
        Some(Fate::Killed(test) | Fate::TooLong(test)) => Some(format!("explained, but `{test}` kills it: {name}")),
        Some(_) => None,
        None => whole.then(|| format!("explained, but there is no such mutant: {name}")),
    };
    explained.iter().filter(judged).filter_map(told).collect()
}
