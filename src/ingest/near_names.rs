//! Names that are nearly those of a trial's files: what bears one is not read, and that is said.

use super::discovery::{has_log_ending, is_spreadsheet, kind_by_name};
use super::log_kind::LogKind;
use super::read::Reading;
use super::words::nearest;
use crate::findings::{Finding, Severity};
use std::path::Path;

impl Reading<'_> {
    /// Says of a file that its name is no log's: in a warning, where the name is nearly one.
    pub(super) fn left_unread(&mut self, file: String, has_settings: bool) {
        let path = Path::new(&file);
        if near_log(&file).is_some() {
            let help = "logs of a trial are called diameters, levels, indicator, clamp or moves, with -anything after it: diameters-2.csv";
            self.not_read(file, Severity::Warning, "a file that is not read: its name is nearly a log's", help);
        } else if near_settings(&file) && !has_settings {
            let help = "call it trial.toml, in small letters and without another ending, to have it read";
            self.not_read(file, Severity::Warning, "a file that is not read: its name is nearly trial.toml", help);
        } else if (has_log_ending(path) || is_spreadsheet(path)) && !file.to_lowercase().ends_with("txt") && !file.starts_with('.') {
            let help = "logs of a trial are called diameters, levels, indicator, clamp or moves, with -anything after it";
            self.not_read(file, Severity::Note, "a file whose name is no log's", help);
        }
    }

    /// Says of a file why it is not read.
    pub(super) fn not_read(&mut self, file: String, severity: Severity, found: &str, help: &str) {
        self.collector.add(Finding::new("file-not-read", severity, found, help).in_file(file.clone()));
        self.not_read.push(file);
    }
}

/// The log whose name a file nearly bears: `diameters (2).csv`, `Diameter.csv`, `levels_1.txt`. `None` for a log's name and for any other.
pub(super) fn near_log(file: &str) -> Option<LogKind> {
    let path = Path::new(file);
    if file.starts_with('.') || kind_by_name(path).is_some() || !(has_log_ending(path) || is_spreadsheet(path)) {
        return None;
    }
    let lower = file.to_lowercase();
    let word = lower.split(|c: char| !c.is_alphabetic()).next().filter(|word| word.len() > 3)?;
    let near = nearest(word, LogKind::ALL.map(LogKind::name))?;
    LogKind::ALL.into_iter().find(|kind| kind.name() == near)
}

/// Whether a file is nearly called `trial.toml`: `Trial.toml`, `trial.toml.txt`.
pub(super) fn near_settings(file: &str) -> bool {
    let lower = file.to_lowercase();
    file != "trial.toml"
        && (lower.starts_with("trial.toml") || matches!(lower.as_str(), "trial.txt" | "trials.toml" | "trail.toml" | "trial.tml"))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn names_that_are_nearly_a_logs() {
        for file in ["diameters (2).csv", "diameters 2.csv", "diameters - Kopie.csv", "Diameter.csv", "diamters.xlsx", "diameters_2.txt"] {
            assert_eq!(near_log(file), Some(LogKind::Diameters), "{file}");
        }
        assert_eq!(near_log("levels_1.txt"), Some(LogKind::Levels));
        for file in
            ["diameters.csv", "diameters-2.csv", "notes.csv", "summary.csv", "readme.txt", "diameters.pdf", ".diameters_2.csv", "märz.csv"]
        {
            assert_eq!(near_log(file), None, "{file}");
        }
        assert!(["Trial.toml", "trial.toml.txt", "TRIAL.TOML"].into_iter().all(near_settings));
        assert!(!["trial.toml", "limits.toml", "trial.csv"].into_iter().any(near_settings));
    }
}
