//! In which units a page shows what it says. The result file is always in millimetres.

use crate::quantities::{MM_PER_INCH, MM_PER_THOU};
use serde::{Deserialize, Serialize};

/// Units of a page.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default, Serialize, Deserialize)]
pub enum Units {
    /// Millimetres; small differences in tables and figures in micrometres.
    #[default]
    #[serde(rename = "mm")]
    Millimetre,
    /// Inches; differences of diameter in thousandths of an inch.
    #[serde(rename = "in")]
    Inch,
}

/// What the reader chooses about a page.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub struct PageOptions {
    /// Units shown.
    pub units: Units,
}

/// A unit as it is printed, and how many millimetres one of it is.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct ShownUnit {
    /// Symbol.
    pub symbol: &'static str,
    /// Millimetres in one.
    pub mm: f64,
}

impl Units {
    /// Unit of stations, lengths and whole diameters: mm or in.
    #[must_use]
    pub fn length(self) -> ShownUnit {
        match self {
            Self::Millimetre => ShownUnit { symbol: "mm", mm: 1.0 },
            Self::Inch => ShownUnit { symbol: "in", mm: MM_PER_INCH },
        }
    }

    /// Unit of taper and barrel in sentences: mm or thou.
    #[must_use]
    pub fn difference(self) -> ShownUnit {
        match self {
            Self::Millimetre => ShownUnit { symbol: "mm", mm: 1.0 },
            Self::Inch => ShownUnit { symbol: "thou", mm: MM_PER_THOU },
        }
    }

    /// Unit of residuals and of the parts of an uncertainty: µm or thou.
    #[must_use]
    pub fn fine(self) -> ShownUnit {
        match self {
            Self::Millimetre => ShownUnit { symbol: "µm", mm: 1e-3 },
            Self::Inch => ShownUnit { symbol: "thou", mm: MM_PER_THOU },
        }
    }
}
