//! From the names of trials to the names of files.

use std::collections::BTreeMap;

/// Names that other files of the out folder have.
const TAKEN: [&str; 3] = ["index", "summary", "history"];
/// Names of devices, which cannot be files on some systems, whatever their ending.
const DEVICES: [&str; 4] = ["con", "prn", "aux", "nul"];
/// File systems take some 255 bytes; endings and a parent's name must still fit.
const LONGEST: usize = 100;

/// A trial's own name and that of the folder it lies in.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct NamedTrial {
    /// Name of the trial.
    pub name: String,
    /// Name of the folder above it.
    pub parent: String,
}

/// File names (without ending) for `trials`, in their order. Names that agree, case ignored, get their parent's name in front; `None`
/// where even those agree.
#[must_use]
pub fn file_names(trials: &[NamedTrial]) -> Vec<Option<String>> {
    let plain: Vec<String> = trials.iter().map(|trial| file_name(&trial.name)).collect();
    let counts = counted(&plain);
    let longer: Vec<String> = trials
        .iter()
        .zip(plain)
        .map(|(trial, plain)| match counts.get(&plain.to_lowercase()) {
            Some(1) | None => plain,
            Some(_) => file_name(&format!("{}-{}", trial.parent, trial.name)),
        })
        .collect();
    let counts = counted(&longer);
    longer.into_iter().map(|name| (counts.get(&name.to_lowercase()) == Some(&1)).then_some(name)).collect()
}

fn counted(names: &[String]) -> BTreeMap<String, usize> {
    let mut counts = BTreeMap::new();
    for name in names {
        *counts.entry(name.to_lowercase()).or_insert(0) += 1;
    }
    counts
}

/// `name` with everything but letters, digits, `.`, `_`, `-` replaced by `-`, and `-trial` behind what cannot be a report's name.
///
/// ```
/// # use taperwright::cli::file_name;
/// assert_eq!(file_name("Quay Lathe 2 / spring"), "Quay-Lathe-2---spring");
/// assert_eq!(file_name("Index"), "Index-trial");
/// assert_eq!(file_name("com1.old"), "com1-old-trial");
/// ```
#[must_use]
pub fn file_name(name: &str) -> String {
    let kept = |letter: char| letter.is_alphanumeric() || matches!(letter, '.' | '_' | '-');
    let mut plain: String = name.chars().take(LONGEST).map(|letter| if kept(letter) { letter } else { '-' }).collect();
    let lower = plain.to_lowercase();
    let stem = lower.split('.').next().unwrap_or_default();
    let numbered = ["com", "lpt"]
        .iter()
        .any(|port| stem.strip_prefix(port).is_some_and(|number| number.chars().count() == 1 && number.chars().all(char::is_numeric)));
    let device = DEVICES.contains(&stem) || numbered;
    if device {
        plain = plain.replace('.', "-"); // a device's name counts whatever its ending
    }
    if device || TAKEN.contains(&lower.as_str()) || plain.chars().all(|letter| letter == '.') {
        plain.push_str("-trial");
    }
    plain
}

#[cfg(test)]
mod tests {
    use super::*;

    fn named(name: &str, parent: &str) -> NamedTrial {
        NamedTrial { name: name.to_owned(), parent: parent.to_owned() }
    }

    #[test]
    fn names_that_agree_get_their_parents() {
        let names = file_names(&[named("spring", "a"), named("Spring", "b"), named("autumn", "b")]);
        assert_eq!(names, [Some("a-spring".to_owned()), Some("b-Spring".to_owned()), Some("autumn".to_owned())]);
    }

    #[test]
    fn names_that_still_agree_are_refused() {
        let names = file_names(&[named("spring", "a"), named("spring", "A"), named("autumn", "b")]);
        assert_eq!(names, [None, None, Some("autumn".to_owned())]);
    }

    #[test]
    fn no_report_takes_the_place_of_an_index_or_device() {
        for name in ["index", "SUMMARY", "history", "nul", "LPT9", "aux.csv", "", "..", "."] {
            assert!(file_name(name).ends_with("-trial"), "{name}");
        }
        assert_eq!(file_name("indexes"), "indexes");
        assert_eq!(file_name("Prüfung Süd"), "Prüfung-Süd");
    }
}
