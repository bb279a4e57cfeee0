use crate::findings::{Finding, Severity};
use std::fmt;

/// How many errors are kept to be shown; all are counted.
pub(super) const SHOWN: usize = 20;

/// An input that cannot be used, and everything that is wrong with it.
#[derive(Debug, Clone, PartialEq)]
pub struct Rejected {
    /// The first twenty errors, and any warnings, in the order of the files.
    pub findings: Vec<Finding>,
    /// How many errors there are in all, those beyond the first twenty included.
    pub errors: usize,
}

impl Rejected {
    /// A rejection for one reason.
    #[must_use]
    pub fn because(finding: Finding) -> Self {
        Self { findings: vec![finding], errors: 1 }
    }
}

impl fmt::Display for Rejected {
    fn fmt(&self, formatter: &mut fmt::Formatter<'_>) -> fmt::Result {
        let plural = if self.errors == 1 { "fault" } else { "faults" };
        write!(formatter, "the input was rejected: {} {plural}", self.errors)
    }
}

impl std::error::Error for Rejected {}

/// Gathers findings while an input is read: keeps the first twenty errors and the first twenty remarks, counts all.
#[derive(Debug, Default)]
pub(super) struct Collector {
    kept: Vec<Finding>,
    errors: usize,
    remarks: usize,
}

impl Collector {
    /// Adds a finding.
    pub(super) fn add(&mut self, mut finding: Finding) {
        let count = if finding.severity == Severity::Error { &mut self.errors } else { &mut self.remarks };
        *count += 1;
        if *count <= SHOWN {
            finding.found = showable(&finding.found).into();
            finding.help = showable(&finding.help);
            finding.column = finding.column.as_deref().map(showable);
            self.kept.push(finding);
        }
    }

    /// Adds an error whose text is only made when it will be shown.
    pub(super) fn error(&mut self, make: impl FnOnce() -> Finding) {
        if self.errors < SHOWN {
            self.add(make());
        } else {
            self.errors += 1;
        }
    }

    /// Adds a remark whose text is only made when it will be shown.
    pub(super) fn remark(&mut self, make: impl FnOnce() -> Finding) {
        if self.remarks < SHOWN {
            self.add(make());
        } else {
            self.remarks += 1;
        }
    }

    /// Rows of the findings with this code that were kept, with their files.
    pub(super) fn rows_of(&self, code: &str) -> Vec<(String, u64)> {
        self.kept.iter().filter(|f| f.code == code).filter_map(|f| Some((f.file.clone()?, f.row?))).collect()
    }

    /// How many findings there are so far.
    pub(super) fn findings(&self) -> usize {
        self.errors + self.remarks
    }

    /// How many errors there are so far.
    pub(super) fn errors(&self) -> usize {
        self.errors
    }

    /// The findings kept, when none is an error; otherwise the rejection.
    pub(super) fn finish(self) -> Result<Vec<Finding>, Rejected> {
        if self.errors == 0 { Ok(self.kept) } else { Err(Rejected { findings: self.kept, errors: self.errors }) }
    }

    /// The rejection, whatever was gathered.
    pub(super) fn reject(self) -> Rejected {
        Rejected { findings: self.kept, errors: self.errors }
    }
}

/// Text from an input as a message may show it: tabs between cells as ` | `, no control characters, invisible ones by their number, at most 400 letters.
fn showable(text: &str) -> String {
    let mut shown = String::with_capacity(text.len());
    for c in text.chars().take(400) {
        if c == '\t' {
            shown.push_str(" | ");
        } else if c.is_control() {
            shown.push('\u{fffd}');
        } else if is_invisible(c) {
            shown.push_str(&format!("<U+{:04X}>", u32::from(c)));
        } else {
            shown.push(c);
        }
    }
    if text.chars().nth(400).is_some() {
        shown.push('…');
    }
    shown
}

/// Whether a character takes no room and can hide in a cell: blanks of no width, marks of the byte order and of the direction of writing.
pub(super) fn is_invisible(c: char) -> bool {
    matches!(c, '\u{ad}' | '\u{200b}'..='\u{200f}' | '\u{202a}'..='\u{202e}' | '\u{2060}'..='\u{2069}' | '\u{feff}')
}
