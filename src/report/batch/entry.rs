use crate::analysis::Analysis;
use crate::causes::CauseEstimate;
use crate::conformity::Tally;
use crate::shape::Shape;

/// What became of one trial of a batch.
#[derive(Debug, Clone, PartialEq)]
pub struct BatchEntry {
    /// Name of the trial: of its settings where it was read, else of its folder or log.
    pub trial: String,
    /// Its page and results, or why there are none.
    pub outcome: BatchOutcome,
}

/// Whether a trial of a batch was reported.
#[derive(Debug, Clone, PartialEq)]
pub enum BatchOutcome {
    /// It has a page.
    Reported {
        /// Name of its files without ending.
        file: String,
        /// Date, name and serial number of the machine, as stated.
        date: Option<String>,
        /// Name of the machine.
        machine: Option<String>,
        /// Serial number of the machine.
        serial: Option<String>,
        /// One line a setting.
        settings: Vec<SettingLine>,
        /// Sentences at the top of its page.
        warnings: usize,
    },
    /// It was rejected.
    Rejected {
        /// Number of faults.
        errors: usize,
        /// The first of them, in words.
        first: String,
    },
    /// The program failed on it or could not write its files.
    Failed {
        /// Why, in words.
        why: String,
    },
}

impl BatchOutcome {
    /// The word for it in the table.
    #[must_use]
    pub fn state(&self) -> &'static str {
        match self {
            Self::Reported { .. } => "reported",
            Self::Rejected { .. } => "rejected",
            Self::Failed { .. } => "failed",
        }
    }
}

/// The main results of one setting, lengths in mm.
#[derive(Debug, Clone, PartialEq)]
#[allow(missing_docs, reason = "named as in the result file")]
pub struct SettingLine {
    pub setting: u32,
    pub readings: usize,
    pub passes: usize,
    pub from_mm: f64,
    pub to_mm: f64,
    pub taper_mm: f64,
    pub standard_uncertainty_mm: f64,
    pub low_mm: f64,
    pub high_mm: f64,
    pub barrel: Option<(f64, f64)>,
    /// Half of the 95 % interval of the barrel; 0 without one.
    pub barrel_half_mm: f64,
    /// Whether the bar was cut both ways, so that its taper is a mean.
    pub both_ways: bool,
    pub outliers: usize,
    /// How its limits were decided.
    pub limits: Tally,
    /// Its causes, in the contract's order.
    pub causes: Vec<CauseEstimate>,
}

impl SettingLine {
    /// One line a setting of `analysis`, in its order.
    #[must_use]
    pub fn all_of(analysis: &Analysis) -> Vec<Self> {
        let line = |shape: &Shape| Self {
            setting: shape.setting,
            readings: shape.readings,
            passes: shape.passes,
            from_mm: shape.tested_length.from,
            to_mm: shape.tested_length.to,
            taper_mm: shape.taper.value,
            standard_uncertainty_mm: shape.taper.standard_uncertainty,
            low_mm: shape.taper.interval95.low,
            high_mm: shape.taper.interval95.high,
            barrel: shape.barrel.as_ref().map(|barrel| (barrel.value, barrel.standard_uncertainty)),
            barrel_half_mm: shape.barrel.as_ref().map_or(0.0, |barrel| barrel.interval95.half_width()),
            both_ways: shape.by_direction.len() > 1,
            outliers: shape.outliers.len(),
            limits: Tally::of(&analysis.conformity, shape.setting),
            causes: analysis.causes.iter().filter(|cause| cause.setting == shape.setting).cloned().collect(),
        };
        analysis.shape.iter().map(line).collect()
    }
}
