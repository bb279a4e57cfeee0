//! What the joint estimate says, as plain values. Serialise as the contract's `causes`, `confounded`, `balance`, `next_tests`.

use crate::quantities::{Interval, Sentence};
use crate::trial::{Direction, Place};
use schemars::JsonSchema;
use serde::Serialize;

/// A cause of taper or barrel.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, PartialOrd, Ord, Serialize, JsonSchema)]
#[serde(rename_all = "kebab-case")]
pub enum CauseKind {
    /// Spindle axis out of line with the carriage path, horizontally.
    HeadstockYaw,
    /// Bed twisted between its feet.
    BedTwist,
    /// Wear of the tool along the metal cut.
    ToolWear,
    /// Bar, chuck and centres yielding to the cut.
    Deflection,
    /// Worn ways.
    WayWear,
    /// Tailstock centre beside the axis.
    TailstockOffset,
    /// Tool and holder warming.
    ThermalDrift,
}

impl CauseKind {
    /// All seven, in the contract's order.
    pub const ALL: [Self; 7] =
        [Self::HeadstockYaw, Self::BedTwist, Self::ToolWear, Self::Deflection, Self::WayWear, Self::TailstockOffset, Self::ThermalDrift];

    /// Its name, as the contract writes it.
    #[must_use]
    pub fn name(self) -> &'static str {
        match self {
            Self::HeadstockYaw => "headstock-yaw",
            Self::BedTwist => "bed-twist",
            Self::ToolWear => "tool-wear",
            Self::Deflection => "deflection",
            Self::WayWear => "way-wear",
            Self::TailstockOffset => "tailstock-offset",
            Self::ThermalDrift => "thermal-drift",
        }
    }

    /// Unit of its parameter, as the contract writes it.
    #[must_use]
    pub fn unit(self) -> &'static str {
        match self {
            Self::HeadstockYaw => "mm/m",
            Self::BedTwist => "mm/m/m",
            Self::ToolWear => "um/m",
            Self::Deflection => "factor",
            Self::WayWear => "um",
            Self::TailstockOffset => "mm",
            Self::ThermalDrift => "um/min",
        }
    }
}

/// What the log says of a cause.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, JsonSchema)]
#[serde(rename_all = "kebab-case")]
pub enum Verdict {
    /// Material with probability 0.95 or more, on evidence of its own.
    Present,
    /// Material with probability 0.05 or less: too small to matter.
    Absent,
    /// The log does not settle it.
    NotSettled,
    /// The way of holding or the log rules it out.
    NotApplicable,
}

/// Estimate, standard uncertainty and interval in µm of diameter.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, JsonSchema)]
pub struct ContributionUm {
    /// Posterior mean.
    pub estimate: f64,
    /// Posterior standard deviation.
    pub standard_uncertainty: f64,
    /// Central 95 % interval.
    pub interval95: Interval,
}

/// One cause in one setting.
#[derive(Debug, Clone, PartialEq, Serialize, JsonSchema)]
pub struct CauseEstimate {
    /// State of the feet.
    pub setting: u32,
    /// The cause.
    pub cause: CauseKind,
    /// Unit of the estimate.
    pub unit: &'static str,
    /// Posterior mean of its parameter; `None` when not applicable.
    pub estimate: Option<f64>,
    /// Posterior standard deviation.
    pub standard_uncertainty: Option<f64>,
    /// Central 95 % interval.
    pub interval95: Option<Interval>,
    /// Change of diameter over the common tested length that it makes.
    pub contribution_um: Option<ContributionUm>,
    /// Largest minus smallest of its curve over the tested stations.
    pub peak_um: Option<ContributionUm>,
    /// Posterior weight of its full part.
    pub presence_probability: Option<f64>,
    /// Probability that its peak exceeds the threshold.
    pub material_probability: Option<f64>,
    /// That threshold, µm.
    pub material_threshold_um: Option<f64>,
    /// Share of its prior variance that the log removed, 0 to 1.
    pub variance_removed: Option<f64>,
    /// The verdict.
    pub verdict: Verdict,
    /// Why, one clause or sentence.
    pub reason: Sentence,
}

impl CauseEstimate {
    /// A cause of which no figure is told, and why.
    pub(super) fn without_figures(setting: u32, cause: CauseKind, verdict: Verdict, reason: impl Into<Sentence>) -> Self {
        Self {
            setting,
            cause,
            unit: cause.unit(),
            estimate: None,
            standard_uncertainty: None,
            interval95: None,
            contribution_um: None,
            peak_um: None,
            presence_probability: None,
            material_probability: None,
            material_threshold_um: None,
            variance_removed: None,
            verdict,
            reason: reason.into(),
        }
    }
}

/// Causes that the log knows only together.
#[derive(Debug, Clone, PartialEq, Serialize, JsonSchema)]
pub struct Confounded {
    /// State of the feet.
    pub setting: u32,
    /// The causes.
    pub causes: Vec<CauseKind>,
    /// Their summed contribution, which is known.
    pub sum_um: ContributionUm,
}

/// What the contributions add up to, against what was measured.
#[derive(Debug, Clone, PartialEq, Serialize, JsonSchema)]
pub struct Balance {
    /// State of the feet.
    pub setting: u32,
    /// Direction of cut.
    pub direction: Direction,
    /// Measured difference of diameter, last station minus first, µm.
    pub end_difference_um: f64,
    /// Sum of the contributions, µm.
    pub sum_um: f64,
    /// Central 95 % interval of that sum, µm (page only).
    #[serde(skip)]
    pub sum_interval95_um: Interval,
    /// `end_difference − sum`, µm.
    pub unexplained_um: f64,
    /// Standard uncertainty of the unexplained part, µm.
    pub standard_uncertainty_um: f64,
}

/// A test that the user could still make.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, JsonSchema)]
#[serde(rename_all = "kebab-case")]
#[allow(missing_docs, reason = "the names are the contract's own words")]
pub enum NextTestKind {
    PassOtherWay,
    HeavyAndLightPass,
    Levels,
    Indicator,
    Clamp,
    MoreStations,
    MoreRepeats,
    LongerBar,
}

/// What one more test would settle.
#[derive(Debug, Clone, PartialEq, Serialize, JsonSchema)]
pub struct NextTest {
    /// The test.
    pub test: NextTestKind,
    /// Causes that it would settle.
    pub settles: Vec<CauseKind>,
    /// Root of the present posterior variance of their contribution, µm.
    pub uncertainty_before_um: f64,
    /// Root of the expected posterior variance after it, µm.
    pub uncertainty_after_um: f64,
    /// 10–90 % range of the standard uncertainty after it, µm (page only).
    #[serde(skip)]
    pub uncertainty_after_range_um: Option<Interval>,
    /// How long it takes, minutes.
    pub minutes: f64,
    /// Why, one sentence.
    pub why: String,
}

/// One reading beside what the joint model says of it.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, JsonSchema)]
pub struct PredictedReading {
    /// Where it stands.
    #[serde(skip)]
    pub place: Place,
    /// State of the feet.
    pub setting: u32,
    /// Pass of diameters; `None` in other logs.
    pub pass: Option<u32>,
    /// Station, mm.
    pub station_mm: f64,
    /// The reading, in the log's unit.
    pub reading: f64,
    /// Posterior mean of what the model says: causes, the block's own constant, its random slope and barrel or run-out.
    pub predicted: f64,
    /// `reading − predicted`.
    pub residual: f64,
}

/// Whether the joint model reproduces the readings of one gauge.
#[derive(Debug, Clone, PartialEq, Serialize, JsonSchema)]
pub struct Prediction {
    /// The log, by its file's name.
    pub log: &'static str,
    /// The gauge, as `[gauge]` calls it: `diameter`, `diameter.NAME`, `level`, `indicator`.
    pub gauge: String,
    /// Unit of readings and residuals: `mm` or `mm/m`.
    pub unit: &'static str,
    /// The readings, block by block; of a long log those that bound all others.
    pub readings: Vec<PredictedReading>,
    /// Number of readings.
    pub total: usize,
    /// Whether `readings` are means: of readings repeated at one station, of those in one stretch, or of passes taken together.
    pub means: bool,
    /// Width of the stretches in which neighbouring stations of a pass were taken together, mm; missing where they were not.
    pub stretch_mm: Option<f64>,
    /// Root mean square of the residuals.
    pub rms_residual: f64,
    /// Posterior mean of the standard deviation of one reading.
    pub noise: f64,
    /// The data sheet's, rounding included.
    pub data_sheet: f64,
    /// A sentence: whether the model reproduces the log.
    pub interpretation: String,
}

/// How much one log narrows one cause.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, JsonSchema)]
pub struct Learned {
    /// State of the feet.
    pub setting: u32,
    /// The cause.
    pub cause: CauseKind,
    /// Standard uncertainty of its contribution by all other logs, µm (normal approximation at full priors).
    pub without_um: f64,
    /// The same by all logs, µm.
    pub with_um: f64,
}

/// What one log brought.
#[derive(Debug, Clone, PartialEq, Serialize, JsonSchema)]
pub struct LogEvidence {
    /// The log, by its file's name.
    pub log: &'static str,
    /// Readings of it that enter the estimate.
    pub readings: usize,
    /// Why it, or a part of it, is no evidence.
    pub refused: Vec<String>,
    /// Causes that it narrows by a tenth or more.
    pub learned: Vec<Learned>,
}
