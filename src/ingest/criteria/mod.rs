//! Sets of limits: built in or in a file, and which of their limits apply to a machine.

mod built_in;
mod posing;

pub use built_in::{BUILT_IN, BuiltIn, read_built_in};

use super::bounds::{self, MOST_SETTINGS};
use super::collector::Collector;
use super::encoding::decode;
use super::settings::{CRITERIA_KEYS, Document, StatedCriteria, criteria};
use super::words::nearest;
use crate::findings::{Finding, Severity};
use crate::trial::{Acceptance, CriteriaFile, Limit};
use std::io;
use std::path::Path;

/// A set of limits, found.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum CriteriaChoice {
    /// Built in.
    BuiltIn(&'static BuiltIn),
    /// In a file.
    File {
        /// Its name, as the inputs list it.
        name: String,
        /// Its bytes.
        bytes: Vec<u8>,
    },
}

impl CriteriaChoice {
    /// Finds the set that the user asked for: a built-in one by name, else a file where the program runs, listed by its name alone.
    ///
    /// # Errors
    /// A finding without a place that names the nearest built-in set.
    pub fn asked(name: &str) -> Result<Self, Box<Finding>> {
        let found = Self::find(name, |file| bounds::read_at_most(Path::new(file), MOST_SETTINGS))?;
        Ok(match found {
            Self::File { name, bytes } => {
                let alone = Path::new(&name).file_name().map_or_else(String::new, |file| file.to_string_lossy().into_owned());
                Self::File { name: alone, bytes }
            }
            built_in @ Self::BuiltIn(_) => built_in,
        })
    }

    /// The set that was chosen when a report was made, by its name: built in, or the file whose bytes are given.
    #[must_use]
    pub fn again(name: &str, bytes: Option<Vec<u8>>) -> Option<Self> {
        built_in::named(name).map(Self::BuiltIn).or_else(|| Some(Self::File { name: name.to_owned(), bytes: bytes? }))
    }

    /// Finds the set called `name`: a built-in one, else the file of that name or with `.toml` after it, as `read` gives it.
    pub(super) fn find(name: &str, read: impl Fn(&str) -> io::Result<Vec<u8>>) -> Result<Self, Box<Finding>> {
        if let Some(set) = built_in::named(name) {
            return Ok(Self::BuiltIn(set));
        }
        let mut why = None::<io::Error>;
        for file in [name.to_owned(), format!("{name}.toml")] {
            match read(&file) {
                Ok(bytes) => return Ok(Self::File { name: file.replace('\\', "/"), bytes }),
                Err(error) if matches!(error.kind(), io::ErrorKind::NotFound | io::ErrorKind::IsADirectory) => {}
                Err(error) if error.kind() == io::ErrorKind::InvalidInput => {
                    let help = "keep the file in the trial's folder, or name it on the command line with --criteria";
                    return Err(Box::new(Finding::new("criteria-outside", Severity::Error, format!("`{name}`: {error}"), help)));
                }
                Err(error) => why = Some(error),
            }
        }
        Err(Box::new(match why {
            Some(why) => {
                let (code, help) = bounds::unreadable(&why);
                Finding::new(code, Severity::Error, format!("`{name}`: {why}"), help)
            }
            None => {
                let found = format!("criteria `{name}`: no set of that name and no such file");
                Finding::new(
                    "no-such-criteria",
                    Severity::Error,
                    found,
                    format!("{}; a file is looked for beside trial.toml", advice_on_sets(name)),
                )
            }
        }))
    }

    /// Its name: of the built-in set, or of the file.
    #[must_use]
    pub fn name(&self) -> &str {
        match self {
            Self::BuiltIn(set) => set.name,
            Self::File { name, .. } => name,
        }
    }
}

/// The built-in sets, the nearest to `name` first where there is one.
#[must_use]
pub fn advice_on_sets(name: &str) -> String {
    let names: Vec<&str> = BUILT_IN.iter().map(|set| set.name).collect();
    let nearest = nearest(name, names.iter().copied()).map_or_else(String::new, |near| format!("perhaps {near}; "));
    format!("{nearest}built in are {}", names.join(", "))
}

/// Reads the text of a criteria file; every fault goes to `collector`.
pub(super) fn read(text: &str, file: &str, collector: &mut Collector) -> StatedCriteria {
    let document = Document::read(text, file, CRITERIA_KEYS, collector);
    let stem = Path::new(file).file_stem().map_or_else(|| file.to_owned(), |stem| stem.to_string_lossy().into_owned());
    criteria(&document, &stem, collector)
}

/// Reads the bytes of a criteria file.
pub(super) fn read_bytes(bytes: &[u8], file: &str, collector: &mut Collector) -> StatedCriteria {
    match decode(bytes) {
        Ok(text) => read(&text, file, collector),
        Err(finding) => {
            collector.add(finding.in_file(file));
            StatedCriteria::default()
        }
    }
}

/// Puts the set before the limits that `trial.toml` states and leaves out those for other swings than `swing_mm`.
///
/// What `trial.toml` says of rule and probability comes before what the set says. An unknown swing leaves no limit out: a machine that
/// conforms to all conforms to its own; a warning asks for the swing.
///
/// `file` is the file of the set, where it is none of the built-in ones. One that calls itself as a built-in set goes by its file's name from here on.
pub(super) fn add(
    acceptance: &mut Acceptance,
    mut stated: StatedCriteria,
    file: Option<CriteriaFile>,
    swing_mm: Option<f64>,
    collector: &mut Collector,
) {
    acceptance.file = file.map(|file| posing::compared(file, &mut stated, swing_mm));
    let bound = stated.limits.iter().any(|limit| limit.swing_from_mm.is_some() || limit.swing_to_mm.is_some());
    if bound && swing_mm.is_none() {
        let found = "limits that depend on the swing, and no swing";
        let help = "state swing_mm or centre_height_mm in [machine]; until then the limits for every swing are judged";
        collector.add(Finding::new("swing-not-stated", Severity::Warning, found, help).in_file("trial.toml"));
    }
    let all = stated.limits.len();
    let mut limits: Vec<Limit> = stated.limits.into_iter().filter(|limit| limit.applies_to(swing_mm)).collect();
    if all > 0 && limits.is_empty() {
        let found = "criteria without a limit for the machine's swing";
        let help = "mend swing_mm in [machine], or choose another set";
        collector.add(Finding::new("no-limit-for-swing", Severity::Warning, found, help).in_file("trial.toml"));
    }
    acceptance.left_out = all - limits.len();
    limits.append(&mut acceptance.limit);
    acceptance.limit = limits;
    acceptance.criteria = stated.name.or(acceptance.criteria.take());
    acceptance.title = stated.title;
    acceptance.source = stated.source;
    acceptance.decision_rule = acceptance.decision_rule.or(stated.decision_rule);
    acceptance.probability = acceptance.probability.or(stated.probability);
}
