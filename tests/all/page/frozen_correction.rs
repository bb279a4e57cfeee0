//! An analysis with a filled advice: two settings, a move between them, and the next move.

use super::frozen;
use taperwright::analysis::Analysis;
use taperwright::correction::{Correction, Expected, FootMove, Learned, Reason, Turning, Window};
use taperwright::quantities::Interval;
use taperwright::trial::{Foot, Move, Place};

/// Two settings, a move of 0.3 mm between them, and half of that advised next at the other side of the bed.
pub fn advised() -> Analysis {
    let mut analysis = frozen::two_settings();
    analysis.trial.identity.name = "advised".into();
    analysis.trial.moves = vec![Move {
        place: Place { file: 0, row: 2 },
        from_setting: 0,
        to_setting: 1,
        foot: Foot::TailstockRear,
        raise_mm: Some(0.3),
        turns: None,
        note: None,
    }];
    analysis.correction = Some(Correction {
        setting: 1,
        advised: true,
        interim: false,
        reason: Reason::Advised,
        why: "The bed is twisted: the front foot at the tailstock end has to move.".into(),
        moves: vec![FootMove {
            foot: Foot::TailstockFront,
            raise_mm: -0.156,
            turns: Some(-0.104_167),
            degrees: Some(-37.5),
            interval95_turns: Some(Interval { low: -0.142, high: -0.071 }),
            sense: Turning::Lower,
        }],
        tailstock_shift_mm: None,
        target_mm: Some(-0.001),
        expected_taper: Some(Expected { value: -0.0011, standard_uncertainty: 0.0026 }),
        probability_in_tolerance: Some(0.964),
        probability_overshoot: Some(0.012),
        gain: Some(Learned { estimate: 0.71, interval95: Interval { low: 0.55, high: 0.88 } }),
        taper_per_turn: Some(Learned { estimate: 0.184, interval95: Interval { low: 0.141, high: 0.226 } }),
        window: Window { low_mm: -0.0133, high_mm: 0.0133, assumed: false },
        present: Expected { value: 0.0021, standard_uncertainty: 0.0024 },
        judged: None,
        open: Vec::new(),
        feet_to_turn: false,
        blind: false,
    });
    analysis
}

/// The same with no foot to move, but the tailstock to be set over.
pub fn tailstock() -> Analysis {
    let mut analysis = advised();
    if let Some(correction) = &mut analysis.correction {
        correction.moves.clear();
        correction.reason = Reason::CauseNotFeet;
        correction.tailstock_shift_mm = Some(-0.0093);
    }
    analysis
}

/// The same with nothing to move.
pub fn settled() -> Analysis {
    let mut analysis = advised();
    if let Some(correction) = &mut analysis.correction {
        correction.moves.clear();
        correction.reason = Reason::WithinLimit;
        (correction.advised, correction.target_mm, correction.probability_overshoot) = (false, None, None);
    }
    analysis
}
