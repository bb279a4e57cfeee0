//! What is wrong with an input: where it is, what was found there, what would be right.

use crate::quantities::Sentence;
use schemars::JsonSchema;
use serde::Serialize;

/// Code of the finding that numbers of passes are not in the log.
pub const PASSES_MISSING: &str = "passes-missing";

/// Code of the finding that a `trial.toml` beside a lone log is not read.
pub const SETTINGS_NOT_READ: &str = "settings-not-read";

/// How much a finding matters.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Serialize, JsonSchema)]
#[serde(rename_all = "lowercase")]
pub enum Severity {
    /// Worth knowing; nothing is changed by it.
    Note,
    /// The reader should look; the input is used.
    Warning,
    /// The input is rejected.
    Error,
}

/// One fault or remark about an input: a value, rendered by several renderers.
#[derive(Debug, Clone, PartialEq, Serialize, JsonSchema)]
pub struct Finding {
    /// Stable code in kebab case, such as `unknown-key` or `not-a-number`.
    pub code: &'static str,
    /// How much it matters.
    pub severity: Severity,
    /// File, relative to the trial, with `/`; `None` when it concerns the trial as a whole.
    pub file: Option<String>,
    /// Line as an editor shows it, from 1.
    pub row: Option<u64>,
    /// Column by its header's name, or its number from 1 where it has no name.
    pub column: Option<String>,
    /// What was found, with the text that was found.
    pub found: Sentence,
    /// What would be right.
    pub help: String,
}

impl Finding {
    /// A finding without a place; add one with [`Finding::in_file`], [`Finding::at_row`], [`Finding::in_column`].
    #[must_use]
    pub fn new(code: &'static str, severity: Severity, found: impl Into<Sentence>, help: impl Into<String>) -> Self {
        Self { code, severity, file: None, row: None, column: None, found: found.into(), help: help.into() }
    }

    /// The same finding, placed in `file`.
    #[must_use]
    pub fn in_file(mut self, file: impl Into<String>) -> Self {
        self.file = Some(file.into());
        self
    }

    /// The same finding, placed at line `row`.
    #[must_use]
    pub fn at_row(mut self, row: u64) -> Self {
        self.row = Some(row);
        self
    }

    /// The same finding, placed in `column`.
    #[must_use]
    pub fn in_column(mut self, column: impl Into<String>) -> Self {
        self.column = Some(column.into());
        self
    }

    /// Whether it rejects its input.
    #[must_use]
    pub fn is_error(&self) -> bool {
        self.severity == Severity::Error
    }
}
