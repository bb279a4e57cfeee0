//! Which foot, which way.

use super::values::{FootMove, Turning};
use crate::causes::summary;
use crate::physics::moves::{raise_mm, turns_for};
use crate::quantities::Interval;
use crate::trial::{Feet, Foot, Trial};

/// The foot to move for a change of twist of sign `twist_sign`.
///
/// At the tailstock end, where a foot acts on the bed alone and the headstock stays put; the one that has to go up, so that no foot is left
/// hanging. Only where the latest move raised the other foot there too far is that one let down again (common practice, no source).
pub(super) fn foot_for(trial: &Trial, setting: u32, twist_sign: f64) -> Foot {
    let up = if twist_sign >= 0.0 { Foot::TailstockRear } else { Foot::TailstockFront };
    let other = if twist_sign >= 0.0 { Foot::TailstockFront } else { Foot::TailstockRear };
    let feet = trial.machine.feet.as_ref();
    let raised = trial.moves.iter().rfind(|m| m.to_setting == setting && m.foot == other).and_then(|m| raise_mm(m, feet));
    if raised.is_some_and(|r| r > 0.0) { other } else { up }
}

/// The finest raise that a hand can set, mm: `finest turn/360·pitch`; `None` when the pitch is unknown.
pub(super) fn finest_raise_mm(feet: &Feet) -> Option<f64> {
    let pitch_mm = feet.screw_pitch_mm.filter(|p| *p > 0.0)?;
    (feet.finest_turn_deg > 0.0).then_some(feet.finest_turn_deg / 360.0 * pitch_mm)
}

/// The move of `foot` by `raise_mm`, with the interval of turns from the raises that each draw would need.
pub(super) fn foot_move(foot: Foot, raise_mm: f64, needed_mm: &[f64], feet: &Feet) -> FootMove {
    let turns = turns_for(raise_mm, feet);
    let interval95_turns = summary(needed_mm).and_then(|needed| {
        let (a, b) = (turns_for(needed.interval95.low, feet)?, turns_for(needed.interval95.high, feet)?);
        Some(Interval { low: a.min(b), high: a.max(b) })
    });
    FootMove {
        foot,
        raise_mm,
        turns,
        degrees: turns.map(|t| {
            let degrees = 360.0 * t;
            // A whole number of the finest turn, written as one.
            if feet.finest_turn_deg > 0.0 { (degrees / feet.finest_turn_deg).round() * feet.finest_turn_deg } else { degrees }
        }),
        interval95_turns,
        sense: if raise_mm < 0.0 { Turning::Lower } else { Turning::Raise },
    }
}
