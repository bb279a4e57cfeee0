//! The history as plain values. Serialises as the object that `history --format json` prints; lengths in mm.

use crate::causes;
use crate::conformity::{Decision, Judgement};
use crate::quantities::Interval;
use crate::trial::{Direction, Foot, Holding, Quantity};
use serde::Serialize;

/// Everything that is said of some trials over time.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct History {
    /// One entry a machine and way of holding the bar.
    pub machines: Vec<Machine>,
    /// Trials that are in none, with the reason.
    pub left_out: Vec<LeftOut>,
}

/// A trial that cannot be placed in time.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct LeftOut {
    /// Name of the trial.
    pub trial: String,
    /// Why, and what would help.
    pub reason: String,
}

/// The trials of one machine whose bars were held alike.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Machine {
    /// Its name; `None` where the trials state none.
    pub name: Option<String>,
    /// Its serial number.
    pub serial: Option<String>,
    /// How the bars were held.
    pub holding: Holding,
    /// The length over which all tapers are stated, mm: the latest trial's tested length.
    pub length_mm: f64,
    /// Whether some trial tested another length, so that its taper was scaled.
    pub scaled: bool,
    /// Lowest and highest taper that the latest trial's limits allow over that length; `None` where none is stated.
    pub limit_mm: Option<Interval>,
    /// The trials, by date.
    pub visits: Vec<Visit>,
    /// Stretches without a repair or a move, by date.
    pub stretches: Vec<Stretch>,
    /// Repairs and moves, by date.
    pub changes: Vec<Change>,
    /// Decisions that are other than the one before, by limit, then by date.
    pub decision_changes: Vec<DecisionChange>,
    /// What the reader should mind.
    pub remarks: Vec<String>,
}

/// One trial.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Visit {
    /// Name of the trial.
    pub trial: String,
    /// Date, `YYYY-MM-DD`.
    pub date: String,
    /// Year and fraction of it.
    pub year: f64,
    /// What was done to the machine since the trial before.
    pub repair: Option<String>,
    /// The machine as it was found: the first setting.
    pub found: State,
    /// The machine as it was left: the latest setting; the same as `found` where no foot was moved.
    pub left: State,
    /// Moves between the two.
    pub moved: Vec<MovedFoot>,
}

/// A logged move of a foot.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct MovedFoot {
    /// The foot.
    pub foot: Foot,
    /// How far it was raised, mm; `None` where that is not known.
    pub raise_mm: Option<f64>,
}

/// A value with its uncertainty.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct Figure {
    /// Value.
    pub value: f64,
    /// Standard uncertainty.
    pub standard_uncertainty: f64,
    /// Degrees of freedom of that; `None` = no finite number.
    pub dof: Option<f64>,
    /// 95 % interval.
    pub interval95: Interval,
}

/// The machine in one setting of its feet.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct State {
    /// The setting.
    pub setting: u32,
    /// Readings in the shape.
    pub readings: usize,
    /// Passes in the shape.
    pub passes: usize,
    /// Tested length, mm.
    pub tested_length_mm: f64,
    /// Taper over the machine's length, mm: as cut to the headstock where that was cut.
    pub taper: Figure,
    /// The direction that was cut for it; `None`: mean of both or not stated.
    pub direction: Option<Direction>,
    /// Barrel, mm, over the tested length; `None` with two stations.
    pub barrel: Option<Figure>,
    /// The causes that apply, in the contract's order.
    pub causes: Vec<CauseState>,
    /// Every limit of the trial with its decision under the trial's own rule, as in its result file: over its own tested length.
    pub conformity: Vec<Judgement>,
    /// Parts of the taper's uncertainty, mm over the machine's length, by component.
    #[serde(skip)]
    pub parts: Vec<(String, f64)>,
}

/// One cause in one setting.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct CauseState {
    /// The cause.
    pub cause: causes::CauseKind,
    /// Change of diameter between the ends of the tested length that it makes, scaled to the machine's length, µm.
    pub contribution_um: Figure,
    /// The trial's own verdict.
    pub verdict: causes::Verdict,
    /// Whether the log, not the prior, tells it: at least half of its prior variance is gone.
    pub told_by_log: bool,
}

/// What interrupts a stretch.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize)]
#[serde(rename_all = "kebab-case")]
pub enum Cutover {
    /// A repair that a trial states.
    Repair,
    /// Feet moved during a trial.
    Moves,
}

/// Before and after a repair or a move.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Change {
    /// Which of the two.
    pub kind: Cutover,
    /// Index of the trial before, in `visits`.
    pub before: usize,
    /// Index of the trial after; the same one for moves.
    pub after: usize,
    /// What was done, as stated.
    pub what: Option<String>,
    /// Taper first, then barrel, then the causes that both logs tell.
    pub differences: Vec<Difference>,
    /// Components of the uncertainty that both share and that cancel.
    pub cancelled: Vec<String>,
}

/// After minus before.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Difference {
    /// `taper`, `barrel`, or a cause.
    pub quantity: &'static str,
    /// `mm` or `um`.
    pub unit: &'static str,
    /// Value before.
    pub before: f64,
    /// Value after.
    pub after: f64,
    /// Difference.
    pub difference: Figure,
    /// Whether its interval excludes 0.
    pub shown: bool,
}

/// The machine in one of a trial's settings.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize)]
pub struct StateOf {
    /// Index of the trial in `visits`.
    pub visit: usize,
    /// Whether the machine is taken as it was left (else as it was found).
    pub as_left: bool,
}

/// A limit that is decided otherwise than the time before.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct DecisionChange {
    /// What is limited.
    pub quantity: Quantity,
    /// The set that the limit comes from; `trial.toml` where the trial states it itself.
    pub criterion: String,
    /// The state before.
    pub before: StateOf,
    /// The state after.
    pub after: StateOf,
    /// The decision before; `None` where the rule had no meaning for the bar.
    pub was: Option<Decision>,
    /// The decision after.
    pub is: Option<Decision>,
    /// Whether the limit, its sense or the rule of decision is another one too, so that the machine need not have changed.
    pub restated: bool,
}

/// A stretch of time without a repair or a move.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Stretch {
    /// The points.
    pub points: Vec<StretchPoint>,
    /// The drift; `None` with one point, or within three months.
    pub drift: Option<Drift>,
    /// EWMA of the tapers with limits from their uncertainties; empty with fewer than three points.
    pub ewma: Vec<EwmaValue>,
    /// The weighted mean on which that chart is centred, mm.
    pub ewma_target: Option<f64>,
    /// What follows.
    pub verdict: Verdict,
}

/// A point of a stretch.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize)]
pub struct StretchPoint {
    /// Index of the trial in `visits`.
    pub visit: usize,
    /// Whether the machine is taken as it was left (else as it was found).
    pub as_left: bool,
}

/// A straight drift of the taper.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct Drift {
    /// Change of the taper over the machine's length in a year, mm.
    pub per_year: f64,
    /// Its standard uncertainty.
    pub standard_uncertainty: f64,
    /// 95 % interval.
    pub interval95: Interval,
    /// Years between the first and the last point.
    pub years: f64,
    /// Year of the line's centre and taper there, mm.
    pub centre: (f64, f64),
    /// Scatter about the line in units of the stated uncertainties (chi-square), and its tail probability; `None` with two points.
    pub scatter: Option<(f64, f64)>,
}

/// A point of the EWMA chart, mm.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct EwmaValue {
    /// The average.
    pub average: f64,
    /// Limits, three standard deviations about the target.
    pub limits: Interval,
    /// Whether it lies outside.
    pub outside: bool,
}

/// What is said of a stretch.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize)]
#[serde(rename_all = "kebab-case")]
pub enum Verdict {
    /// The interval of the drift excludes 0.
    Drifts,
    /// It does not, but an average lies outside its limits: a step or a swing.
    Unsteady,
    /// Neither.
    NoDriftShown,
    /// One point, or all within three months.
    CannotSay,
}
