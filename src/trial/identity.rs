use schemars::JsonSchema;
use serde::Serialize;

/// The `[trial]` table: what the trial is called, when, why and by whom.
#[derive(Debug, Clone, Default, PartialEq, Serialize, JsonSchema)]
pub struct Identity {
    /// Name of the trial, as it appears in file names.
    pub name: String,
    /// Date as `YYYY-MM-DD`; `None` prints "not stated".
    pub date: Option<String>,
    /// Free text; `sale` implies `paper = "acceptance"`.
    pub purpose: Option<String>,
    /// `acceptance` for a page fit for signing.
    pub paper: Option<String>,
    /// What was done to the machine since the trial before.
    pub repair: Option<String>,
    /// Who measured.
    pub measured_by: Option<String>,
    /// Who looked on.
    pub witness: Option<String>,
    /// Free notes.
    pub notes: Option<String>,
}
