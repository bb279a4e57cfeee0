//! The advice as plain values. Serialises as the contract's `correction`.

use super::window::Window;
use crate::causes::CauseKind;
use crate::conformity::Decision;
use crate::quantities::{Interval, Sentence};
use crate::trial::Foot;
use schemars::JsonSchema;
use serde::Serialize;

/// Why the advice is as it is.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, JsonSchema)]
#[serde(rename_all = "kebab-case")]
pub enum Reason {
    /// Move a foot.
    Advised,
    /// The taper limits are kept, or the taper lies inside with a probability of 0.95 or more by all logs together: stop.
    WithinLimit,
    /// What is left is less than this log can see, or less than a hand can set; or the log says nothing of it.
    BelowDetection,
    /// Something else than the feet has to be adjusted, or nothing at all.
    CauseNotFeet,
    /// The log cannot tell the bed from other causes; the move, if there is one, is interim.
    CausesNotSeparated,
    /// A twist has to go, and nobody described the feet.
    FeetUnknown,
    /// The logs contradict each other, and no cause is settled: nothing follows from them. The result file has no other word for it; its finding says so.
    #[serde(rename = "causes-not-separated")]
    #[schemars(skip)]
    LogsContradict,
}

/// One foot, how far and which way.
#[derive(Debug, Clone, PartialEq, Serialize, JsonSchema)]
pub struct FootMove {
    /// The foot.
    pub foot: Foot,
    /// How far it is raised, mm; negative = lowered.
    pub raise_mm: f64,
    /// Turns of its screw, positive = clockwise seen from above; `None` when pitch or sense of the screw is not stated.
    pub turns: Option<f64>,
    /// The same in degrees, a whole number of the finest turn.
    pub degrees: Option<f64>,
    /// 95 % interval of the turns that would reach the target exactly.
    pub interval95_turns: Option<Interval>,
    /// What happens to the foot.
    pub sense: Turning,
}

/// Which way a foot goes.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, JsonSchema)]
#[serde(rename_all = "lowercase")]
pub enum Turning {
    /// Up.
    Raise,
    /// Down.
    Lower,
}

/// A taper that is expected, mm.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, JsonSchema)]
pub struct Expected {
    /// Mean.
    pub value: f64,
    /// Standard uncertainty.
    pub standard_uncertainty: f64,
}

/// What the taper limits of the latest setting say together.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Judged {
    /// Place in the list of judgements.
    pub place: usize,
    /// The decision.
    pub decision: Decision,
    /// Probability that the limit is kept.
    pub probability: f64,
}

/// Something learned from the moves.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, JsonSchema)]
pub struct Learned {
    /// Posterior mean.
    pub estimate: f64,
    /// Central 95 % interval.
    pub interval95: Interval,
}

/// The advice for the latest setting.
#[derive(Debug, Clone, PartialEq, Serialize, JsonSchema)]
pub struct Correction {
    /// The latest setting with diameters.
    pub setting: u32,
    /// Whether a move of the feet is advised as the cure.
    pub advised: bool,
    /// Whether the move is offered before the causes are separated.
    pub interim: bool,
    /// Why.
    pub reason: Reason,
    /// The same in sentences.
    pub why: Sentence,
    /// The move: one foot, or none.
    pub moves: Vec<FootMove>,
    /// How far the tailstock is to be set over, mm, positive = to the rear (away from the operator); `None` where that is no remedy.
    pub tailstock_shift_mm: Option<f64>,
    /// The taper aimed for, mm over the tested length; `None` when nothing is to be moved.
    pub target_mm: Option<f64>,
    /// The taper expected after the move, or as it is when nothing is to be moved; `None` where the logs contradict each other.
    pub expected_taper: Option<Expected>,
    /// Probability that this taper lies inside the limit: the mean over the joint estimate's draws. `conformity` has that of the passes cut to
    /// the headstock by themselves, on which the decision rests. `None` where the logs contradict each other.
    pub probability_in_tolerance: Option<f64>,
    /// Probability that the move goes too far: out of the limit on the other side. `None` without a move.
    pub probability_overshoot: Option<f64>,
    /// The gain of a move, where moves with cuts before and after taught it.
    pub gain: Option<Learned>,
    /// What one whole turn of a foot does to the taper, mm over the tested length, size only; `None` without pitch.
    pub taper_per_turn: Option<Learned>,
    /// The limits that were aimed at (page only).
    #[serde(skip)]
    pub window: Window,
    /// The taper now, from all logs together (page only).
    #[serde(skip)]
    pub present: Expected,
    /// What the taper limits say of this setting; `None` where none was judged (page only).
    #[serde(skip)]
    pub judged: Option<Judged>,
    /// Causes that keep anything from being moved, because the log cannot tell them apart (page only).
    #[serde(skip)]
    pub open: Vec<CauseKind>,
    /// Whether feet are to be turned though no move of one foot is stated (page only).
    #[serde(skip)]
    pub feet_to_turn: bool,
    /// Whether the taper is known so poorly that the log says nothing of it (page only).
    #[serde(skip)]
    pub blind: bool,
}
