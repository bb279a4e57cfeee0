//! The result of a shape fit, as plain values. Lengths in mm on the diameter unless a name says otherwise.

use super::combined::{beside_the_fit, largest_beside_the_fit};
use super::page_values::{CurvePoint, FittedReading, OrderCandidate, PassSummary, Spread};
use crate::quantities::{Interval, Sentence};
use crate::trial::Direction;
use schemars::JsonSchema;
use serde::Serialize;

/// First and last tested station and the length between them, mm.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, JsonSchema)]
pub struct TestedLength {
    /// First station.
    pub from: f64,
    /// Last station.
    pub to: f64,
    /// `to − from`.
    pub length: f64,
}

/// Everything that the shape fit of one setting found. Serialises as the contract's `shape` entry.
#[derive(Debug, Clone, PartialEq, Serialize, JsonSchema)]
pub struct Shape {
    /// State of the feet.
    pub setting: u32,
    /// Stations of the finishing cut.
    pub tested_length: TestedLength,
    /// Readings in the fit.
    pub readings: usize,
    /// Passes in the log of this setting.
    pub passes: usize,
    /// Passes of the finishing cut, which alone make the shape.
    pub passes_in_shape: usize,
    /// The taper.
    pub taper: Taper,
    /// The taper by direction of cut.
    pub by_direction: Vec<DirectionTaper>,
    /// The barrel; `None` with two stations.
    pub barrel: Option<Barrel>,
    /// Standard deviation of one reading about its own pass's curve, mm.
    pub repeatability: f64,
    /// Standard deviation between passes of the taper over the tested length, mm; `None` when the log cannot say.
    pub between_pass: Option<f64>,
    /// Chosen order of the polynomial, 1 to 3.
    pub order: usize,
    /// Lack of fit against pure error, at the chosen order; `None` without repeats that differ.
    pub lack_of_fit: Option<LackOfFit>,
    /// Checks, in the contract's order.
    pub tests: Vec<ShapeTest>,
    /// Readings flagged as outliers (and kept).
    pub outliers: Vec<Outlier>,
    /// Why outliers could not be tested, after "this log cannot test for outliers: "; `None` where they were (page only).
    #[serde(skip)]
    pub outliers_untested: Option<&'static str>,
    /// The taper's uncertainty budget: a decomposition.
    pub budget: Vec<BudgetRow>,
    /// The taper's expanded uncertainty.
    pub expanded: Expanded,
    /// The same budget by Monte Carlo.
    pub monte_carlo: Option<MonteCarlo>,
    /// How the between-pass spread was got (page only).
    #[serde(skip)]
    pub spread: Spread,
    /// The orders that were compared (page only).
    #[serde(skip)]
    pub orders: Vec<OrderCandidate>,
    /// Whether the checks and residuals follow a slope a pass, because the passes' slopes differ with p below 0.05 (page only).
    #[serde(skip)]
    pub slope_by_pass: bool,
    /// The passes (page only).
    #[serde(skip)]
    pub pass_summaries: Vec<PassSummary>,
    /// One row a reading in the fit, in cutting order (page only).
    #[serde(skip)]
    pub points: Vec<FittedReading>,
    /// The mean fitted curve with its band, relative to each pass's own level (page only).
    #[serde(skip)]
    pub curve: Vec<CurvePoint>,
    /// What the log cannot tell about the shape, each a sentence with the measurement that would tell (page only).
    #[serde(skip)]
    pub cannot_tell: Vec<String>,
}

/// Half-width of a taper's interval beyond which a log says nothing of the taper, mm: so much is seen without a gauge (common practice, no source).
pub const SAYS_NOTHING_MM: f64 = 1.0;

impl Shape {
    /// Whether the taper is known so poorly that it may be nothing or more than anybody turns: the readings hold a slip, or two bars.
    #[must_use]
    pub fn says_nothing(&self) -> bool {
        self.taper.interval95.contains(0.0) && self.taper.interval95.half_width() > SAYS_NOTHING_MM
    }
}

impl Shape {
    /// Quadrature sum of the budget's rows that neither the fit nor the zeros of the gauges make, mm: what every taper of these readings has in common.
    pub(crate) fn beside_the_fit(&self) -> f64 {
        beside_the_fit(&self.budget)
    }

    /// The largest of the budget's rows that more passes do not change, in words, until they make four fifths of those rows' variance; the zeros of unlike
    /// gauges count with `calibration_mm`. Empty where all are 0.
    pub(crate) fn largest_beside_the_fit(&self, calibration_mm: f64) -> Vec<&str> {
        largest_beside_the_fit(&self.budget, calibration_mm)
    }
}

/// The readings of one pass of the finishing cut at one station.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct StationReadings {
    /// Number of the pass.
    pub pass: u32,
    /// Direction of cut.
    pub direction: Direction,
    /// Station, mm.
    pub station_mm: f64,
    /// Number of readings.
    pub readings: f64,
    /// Their mean, mm.
    pub mean_mm: f64,
    /// Sum of their squared deviations from it, mm².
    pub squares_mm2: f64,
}

/// The linear change of diameter over the tested length; positive = larger at the tailstock end.
#[derive(Debug, Clone, PartialEq, Serialize, JsonSchema)]
pub struct Taper {
    /// Taper `2a₁` of the order-2 fit (order 1 with two stations), mm.
    pub value: f64,
    /// Standard error from the fit, between-pass spread included, mm.
    pub standard_error: f64,
    /// Degrees of freedom of that; `None` = no finite number.
    pub dof: Option<f64>,
    /// 95 % interval of the fit alone, mm.
    pub fit_interval95: Interval,
    /// Plain t interval without the between-pass prior, mm; `None` when it has no degrees of freedom.
    pub plain_t_interval95: Option<Interval>,
    /// Combined standard uncertainty of the budget, mm.
    pub standard_uncertainty: f64,
    /// Effective degrees of freedom of that by the Welch–Satterthwaite formula, lowered, where that formula would make the expanded
    /// uncertainty smaller than the fit's own, to where the two are equal; `None` = no finite number.
    pub effective_dof: Option<f64>,
    /// 95 % interval of the budget, mm.
    pub interval95: Interval,
    /// Taper scaled to 300 mm, mm.
    pub per_300: f64,
    /// Inches of diameter per foot.
    pub per_foot_in: f64,
    /// Included angle, seconds of arc.
    pub angle_arcsec: f64,
    /// The robust fit beside it.
    pub robust: Robust,
}

/// Robust estimate of the taper.
#[derive(Debug, Clone, PartialEq, Serialize, JsonSchema)]
pub struct Robust {
    /// `huber` or `tukey`, with its constant.
    pub method: String,
    /// Taper, mm.
    pub value: f64,
}

/// Taper of the passes cut one way.
#[derive(Debug, Clone, PartialEq, Serialize, JsonSchema)]
pub struct DirectionTaper {
    /// Direction of cut.
    pub direction: Direction,
    /// Passes cut that way.
    pub passes: usize,
    /// Taper, mm.
    pub value: f64,
    /// Its combined standard uncertainty, mm.
    pub standard_uncertainty: f64,
    /// Effective degrees of freedom of that, as of the taper; `None` = no finite number.
    pub effective_dof: Option<f64>,
    /// 95 % interval, mm.
    pub interval95: Interval,
    /// Part of the standard uncertainty that the zeros of unlike gauges make, mm; 0 with one gauge (not written).
    #[serde(skip)]
    pub calibration: f64,
}

/// Diameter at mid-length minus the chord between the ends; negative = hourglass.
#[derive(Debug, Clone, PartialEq, Serialize, JsonSchema)]
pub struct Barrel {
    /// Barrel `−1.5a₂`, mm.
    pub value: f64,
    /// Standard error from the fit, mm.
    pub standard_error: f64,
    /// Degrees of freedom.
    pub dof: Option<f64>,
    /// Combined standard uncertainty, mm.
    pub standard_uncertainty: f64,
    /// Effective degrees of freedom of that, as of the taper; `None` = no finite number.
    pub effective_dof: Option<f64>,
    /// 95 % interval, mm.
    pub interval95: Interval,
}

/// F test of lack of fit against pure error.
#[derive(Debug, Clone, PartialEq, Serialize, JsonSchema)]
pub struct LackOfFit {
    /// F ratio.
    pub f: f64,
    /// Degrees of freedom of lack of fit.
    pub dof1: f64,
    /// Degrees of freedom of pure error.
    pub dof2: f64,
    /// Tail probability.
    pub p: f64,
}

/// One check: `lack-of-fit`, `order`, `direction`, `durbin-watson`, `runs`, `normality`, `equal-spread-passes`,
/// `equal-spread-stations`, `influence`, `period`.
#[derive(Debug, Clone, PartialEq, Serialize, JsonSchema)]
pub struct ShapeTest {
    /// Name of the check.
    pub name: &'static str,
    /// Its statistic; `None` when it could not be made.
    pub statistic: Option<f64>,
    /// Its tail probability; `None` when it has none. Of `order` that of the comparison which decided, times the number of curves that were tried, at most 1.
    pub p: Option<f64>,
    /// A sentence: what it found and what that means.
    pub interpretation: Sentence,
}

/// A reading that generalised ESD flags.
#[derive(Debug, Clone, PartialEq, Serialize, JsonSchema)]
pub struct Outlier {
    /// File, relative to the trial.
    pub file: String,
    /// Line, from 1.
    pub row: u64,
    /// Residual, mm.
    pub residual: f64,
    /// Tail probability of its studentised residual, for the number of readings.
    pub p: f64,
}

/// One row of the budget, in the taper's own unit.
#[derive(Debug, Clone, PartialEq, Serialize, JsonSchema)]
pub struct BudgetRow {
    /// What it comes from.
    pub component: String,
    /// Its part of the taper's standard uncertainty, mm.
    pub standard_uncertainty: f64,
    /// Degrees of freedom. Of `repeatability` those of the readings' scatter about each pass's own curve, with what the gauge's data sheet is worth
    /// beside it; of `between-pass` those that `taper.dof` leaves it after these by the Welch–Satterthwaite formula: the two rows are the parts of the fit, estimated
    /// together, and count as one part with `taper.standard_error` and `taper.dof`. `null`: infinite, or less than one left.
    pub dof: Option<f64>,
    /// Share of the variance; shares add up to 1.
    pub share: f64,
    /// How it was got, a clause for the page.
    #[serde(skip)]
    pub how: String,
}

/// Expanded uncertainty.
#[derive(Debug, Clone, PartialEq, Serialize, JsonSchema)]
pub struct Expanded {
    /// `U = k·u`, mm.
    pub value: f64,
    /// Coverage factor `k`.
    pub coverage_factor: f64,
    /// Coverage probability.
    pub coverage_probability: f64,
}

/// Monte Carlo propagation (JCGM 101:2008).
#[derive(Debug, Clone, PartialEq, Serialize, JsonSchema)]
pub struct MonteCarlo {
    /// Standard deviation of the draws, mm; `null` where the fit has two degrees of freedom or fewer: Student's t has no variance then, and that of the draws would be chance.
    pub standard_uncertainty: Option<f64>,
    /// Probabilistically symmetric 95 % interval, mm.
    pub interval95: Interval,
    /// Number of draws.
    pub draws: usize,
    /// Seed.
    pub seed: u64,
}
