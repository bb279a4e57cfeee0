use serde::{Deserialize, Serialize};

/// Where a trial comes from.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum TrialSource {
    /// A folder with `trial.toml` or a log of a known name.
    #[default]
    Folder,
    /// One log.
    LoneLog,
    /// One log from standard input.
    StandardInput,
}

/// The unit of columns whose header names none.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
pub enum LogUnits {
    /// Millimetres.
    #[serde(rename = "mm")]
    Millimetre,
    /// Inches.
    #[serde(rename = "in")]
    Inch,
}

/// How the files of a trial were come by, as far as anything said of the trial depends on it: with this and the files' bytes it is read again.
#[derive(Debug, Clone, PartialEq, Eq, Default, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Origin {
    /// What it is.
    pub source: TrialSource,
    /// What the trial is called where its settings do not say: the folder's name or the log's stem.
    pub name: String,
    /// The unit of columns that state none, if the user said one.
    pub log_units: Option<LogUnits>,
    /// The set of limits that the user chose in place of the trial's own: a built-in one by its name, or a file, which is among the inputs.
    pub criteria: Option<String>,
    /// Name of the folder whose `trial.toml` lies beside a lone log.
    pub settings_beside: Option<String>,
    /// Files of the folder that are none of its logs, by name: they are remarked on.
    pub not_read: Vec<String>,
    /// Photographs of the folder that the page leaves out, by name.
    pub left_out: Vec<LeftOut>,
}

/// A photograph that is left out.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct LeftOut {
    /// Its file's name.
    pub file: String,
    /// Why.
    pub why: WhyLeftOut,
}

/// Why a photograph is left out.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum WhyLeftOut {
    /// It is a link, which could lead out of the folder.
    Link,
    /// There are more than a page carries.
    TooMany,
    /// It is larger than a page carries: its size in bytes.
    TooLarge(u64),
    /// It has more points than a page shows: how many.
    TooManyPoints(u64),
    /// It is neither JPEG nor PNG.
    NotAPhotograph,
    /// It cannot be read: the system's words.
    Unreadable(String),
}
