//! What the page alone shows of a shape. Lengths in mm on the diameter unless a name says otherwise.

use crate::quantities::Interval;
use crate::trial::{Direction, Place};

/// Where the between-pass spread in the interval comes from.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum SpreadSource {
    /// Estimated by REML: from five passes cut one way, or six in all where both ways were cut.
    Estimated,
    /// Prior and fewer passes together.
    PriorAndPasses,
    /// The prior alone: no direction has a second pass.
    Prior,
}

/// The between-pass spread and its origin.
#[derive(Debug, Clone, PartialEq)]
pub struct Spread {
    /// Origin.
    pub source: SpreadSource,
    /// Scale of the half-t(3) prior on the spread of the taper, mm; `None` where REML alone is used.
    pub prior_scale_mm: Option<f64>,
    /// Between-pass part of the taper's standard error, mm.
    pub between_standard_error_mm: f64,
    /// Within-pass part of the taper's standard error, mm.
    pub within_standard_error_mm: f64,
}

/// One polynomial order that was compared.
#[derive(Debug, Clone, PartialEq)]
pub struct OrderCandidate {
    /// Order.
    pub order: usize,
    /// F of the highest term, with 1 and `dof2` degrees of freedom.
    pub f: Option<f64>,
    /// Denominator degrees of freedom.
    pub dof2: Option<f64>,
    /// Its tail probability.
    pub p: Option<f64>,
    /// All its terms beyond those of the order that was chosen so far; `None` for order 1, and where they cannot be judged.
    pub added: Option<AddedTerms>,
    /// AICc (smaller is better); `None` when there are too few readings.
    pub aicc: Option<f64>,
    /// Whether it was chosen.
    pub chosen: bool,
}

/// F of the terms that one order has beyond another, which decides between the two.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct AddedTerms {
    /// The other order.
    pub beyond: usize,
    /// F ratio.
    pub f: f64,
    /// Its degrees of freedom: terms added.
    pub dof1: f64,
    /// Those of the residuals.
    pub dof2: f64,
    /// Tail probability.
    pub p: f64,
}

/// One pass, in cutting order.
#[derive(Debug, Clone, PartialEq)]
pub struct PassSummary {
    /// Number of the pass.
    pub pass: u32,
    /// Direction of cut.
    pub direction: Direction,
    /// Radial depth, mm.
    pub depth_mm: f64,
    /// Feed, mm per revolution.
    pub feed_mm_per_rev: f64,
    /// Readings used.
    pub readings: usize,
    /// Whether it belongs to the finishing cut.
    pub in_shape: bool,
    /// Fitted diameter at the middle of the tested length, mm.
    pub level_mm: f64,
    /// Taper of this pass alone, mm; `None` with one station.
    pub taper_mm: Option<f64>,
    /// Standard error of that from the pooled repeatability, mm.
    pub taper_standard_error_mm: Option<f64>,
}

/// One reading in the fit.
#[derive(Debug, Clone, PartialEq)]
pub struct FittedReading {
    /// Where it stands.
    pub place: Place,
    /// Number of the pass.
    pub pass: u32,
    /// Direction of cut.
    pub direction: Direction,
    /// Station, mm.
    pub station_mm: f64,
    /// Place in cutting order, from 1.
    pub cutting_order: usize,
    /// Diameter, mm.
    pub diameter_mm: f64,
    /// Fitted diameter (fixed part and the pass's own level), mm.
    pub fitted_mm: f64,
    /// `diameter − fitted`, mm.
    pub residual_mm: f64,
    /// Externally studentised residual; `None` where leverage is 1.
    pub studentised: Option<f64>,
    /// Leverage, 0 to 1.
    pub leverage: f64,
    /// Cook's distance; `None` where leverage is 1.
    pub cook: Option<f64>,
    /// Rank of its residual among all readings of the fit, from 1; equal ones in cutting order.
    pub rank: usize,
    /// Whether generalised ESD flags it.
    pub outlier: bool,
}

/// A point of the fitted mean curve.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct CurvePoint {
    /// Station, mm.
    pub station_mm: f64,
    /// Mean fitted deviation from the pass's level at mid-length, mm.
    pub deviation_mm: f64,
    /// 95 % band of that curve, mm.
    pub band: Interval,
}
