//! Words that options of the command line take.

use clap::ValueEnum;

/// A unit of length as typed.
#[derive(Debug, Clone, Copy, PartialEq, Eq, ValueEnum)]
pub enum UnitArgument {
    /// Millimetres
    Mm,
    /// Inches
    #[value(alias = "inch")]
    In,
}

/// A format as typed.
#[derive(Debug, Clone, Copy, PartialEq, Eq, ValueEnum)]
pub enum FormatArgument {
    /// A few lines to read
    Text,
    /// One compact JSON object a line
    Json,
}

/// A file with a schema, as typed.
#[derive(Debug, Clone, Copy, PartialEq, Eq, ValueEnum)]
pub enum SchemaArgument {
    /// trial.toml
    #[value(alias = "settings")]
    Trial,
    /// A result file
    Result,
    /// A criteria file
    Criteria,
}
