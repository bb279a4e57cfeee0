//! What to adjust next: one sentence to be read at the machine, its numbers, the settings so far, what the moves taught.

use super::history::{History, history};
use crate::analysis::Analysis;
use crate::conformity::Decision;
use crate::correction::{Correction, FootMove, Reason, Turning, cannot_tell};
use crate::report::drawing::CannotDraw;
use crate::report::prose::Prose;
use crate::report::quantity::{Key, Pen, in_result};
use crate::report::words;
use minijinja::Value;
use serde::Serialize;

/// The section on the next move.
#[derive(Serialize)]
pub struct NextMove {
    setting: u32,
    lead: Value,
    why: String,
    facts: Vec<Fact>,
    learned: Vec<Value>,
    moves: bool,
    history: Option<History>,
}

#[derive(Serialize)]
struct Fact {
    term: &'static str,
    value: Value,
}

/// The next move; `None` where nothing can be advised.
pub fn next_move(analysis: &Analysis, pen: Pen) -> Result<Option<NextMove>, CannotDraw> {
    let Some(correction) = &analysis.correction else { return Ok(None) };
    Ok(Some(NextMove {
        setting: correction.setting,
        lead: lead(correction, pen).html(),
        why: pen.told(&correction.why),
        facts: facts(correction, pen),
        learned: learned(analysis, correction, pen),
        moves: moves(correction),
        history: history(analysis, correction, pen)?,
    }))
}

/// Whether something of the machine is to be moved, so that cautions belong beside it.
pub fn moves(correction: &Correction) -> bool {
    !correction.moves.is_empty() || correction.tailstock_shift_mm.is_some() || correction.feet_to_turn
}

/// The large sentence.
pub fn lead(correction: &Correction, pen: Pen) -> Prose {
    if let Some(one) = correction.moves.first() {
        return the_move(one, correction.interim, pen);
    }
    if let Some(shift) = correction.tailstock_shift_mm {
        let way = if shift < 0.0 { " to the front" } else { " to the rear" };
        return Prose::default()
            .strong("Set the tailstock over by ")
            .number(pen.size(shift, 0.004, in_result("correction.tailstock_shift_mm")))
            .strong(way)
            .text(", leave the feet alone, and cut and measure again.");
    }
    match correction.reason {
        Reason::WithinLimit => within(correction, pen),
        Reason::BelowDetection if correction.blind => {
            Prose::default().strong("Move nothing").text(": this log does not tell the taper. Look for a slip in it first.")
        }
        Reason::BelowDetection => Prose::default().strong("Move nothing").text(": what is left is less than can be seen or set here."),
        Reason::CauseNotFeet => Prose::default().strong("Leave the feet alone").text(": they are not what makes this taper."),
        Reason::FeetUnknown => {
            Prose::default().strong("The bed has to be levelled").text("; how far to turn, nobody can say until the feet are described.")
        }
        Reason::CausesNotSeparated | Reason::Advised => {
            Prose::default().strong("Move nothing yet").text(format!(": {}.", cannot_tell(&correction.open)))
        }
        Reason::LogsContradict => Prose::default()
            .strong("Move nothing and mend nothing")
            .text(": what was read contradicts itself; find out first what is wrong."),
    }
}

/// Nothing to adjust; that the taper lies inside the limit is said only where that is decided.
fn within(correction: &Correction, pen: Pen) -> Prose {
    let stop = Prose::default();
    match correction.judged {
        Some(judged) if judged.decision == Decision::Conforms => {
            stop.strong("Nothing to adjust").text(": the taper lies inside the limit.")
        }
        Some(judged) => stop
            .strong("Nothing to adjust for now")
            .text(": the best estimate lies inside the limit, though it is not proven (")
            .number(pen.probability_as_percent(judged.probability, in_result(format!("conformity.{}.probability", judged.place))))
            .text(")."),
        None if correction.window.assumed => {
            stop.strong("Nothing to adjust").text(": the taper lies inside what is usual; nobody stated a limit.")
        }
        None => stop.strong("Nothing to adjust").text(": the best estimate lies inside what is allowed."),
    }
}

fn the_move(one: &FootMove, interim: bool, pen: Pen) -> Prose {
    let verb = match one.sense {
        Turning::Raise => "raise",
        Turning::Lower => "lower",
    };
    let begin = if interim { format!("For the time being, {verb}") } else { words::sentence_case(verb) };
    let mut prose = Prose::default().strong(format!("{begin} the {} by ", one.foot.words()));
    prose = prose.number(pen.size(one.raise_mm, 0.004, in_result("correction.moves.0.raise_mm")));
    if let (Some(degrees), Some(turns)) = (one.degrees, one.turns) {
        let way = if turns > 0.0 { "° clockwise" } else { "° anticlockwise" };
        let shown = |value: f64, decimals: usize, unit: &'static str, name: &str| {
            pen.with_unit(value, decimals, unit, in_result(format!("correction.moves.0.{name}"))).unsigned()
        };
        let decimals = if degrees.fract() == 0.0 { 0 } else { 1 };
        prose = prose
            .strong(": turn its screw ")
            .number(shown(degrees, decimals, "", "degrees"))
            .strong(way)
            .text(" seen from above (")
            .number(shown(turns, 3, "turn", "turns"))
            .text(")");
    }
    prose.text(". Then cut and measure again.")
}

fn facts(correction: &Correction, pen: Pen) -> Vec<Fact> {
    let key = |name: &str| in_result(format!("correction.{name}"));
    let moved = correction.probability_overshoot.is_some();
    let mut facts = Vec::new();
    if let Some(expected) = correction.expected_taper {
        let u = expected.standard_uncertainty;
        let taper = Prose::default()
            .number(pen.size(expected.value, u, key("expected_taper.value")))
            .text(format!(" {}, standard uncertainty ", words::larger_end(expected.value)))
            .number(pen.size(u, u, key("expected_taper.standard_uncertainty")));
        let term = if moved { "Taper expected after it" } else { "Taper as it is, from all logs together" };
        facts.push(Fact { term, value: taper.html() });
    }
    match correction.judged.filter(|_| !moved) {
        // The limits judged the taper as it is: that probability is told and no other.
        Some(judged) => {
            let value =
                pen.probability_as_percent(judged.probability, in_result(format!("conformity.{}.probability", judged.place))).html();
            facts.push(Fact { term: "Probability that it is inside the limit, as the limits judge its passes", value });
        }
        None => {
            let Some(probability) = correction.probability_in_tolerance else { return facts };
            let term = if moved { "Probability that it is then inside the limit" } else { "Probability that it is inside the limit" };
            facts.push(Fact { term, value: chance(probability, key("probability_in_tolerance"), pen) });
        }
    }
    if let Some(beyond) = correction.probability_overshoot {
        let value = chance(beyond, key("probability_overshoot"), pen);
        facts.push(Fact { term: "Probability that it goes too far, out of the limit on the other side", value });
    }
    if let Some(interval) = correction.moves.first().and_then(|one| one.interval95_turns) {
        let end = |value: f64, name: &str| pen.with_unit(value, 3, "", in_result(format!("correction.moves.0.interval95_turns.{name}")));
        let prose = Prose::default()
            .number(end(interval.low, "0"))
            .text(" to ")
            .number(end(interval.high, "1"))
            .text(" turns, positive = clockwise");
        facts.push(Fact { term: "Turns that would be exactly right, 95 % interval", value: prose.html() });
    }
    facts
}

/// A probability of draws: whole per cents, and never a certainty.
fn chance(probability: f64, key: Key, pen: Pen) -> Value {
    let (word, shown) = match probability {
        p if p > 0.995 => ("above ", 0.99),
        p if p < 0.005 => ("below ", 0.01),
        p => ("", p),
    };
    Prose::new(word).number(pen.percent(shown, 0, key).of_value(probability)).html()
}

/// What is known of a turn, and where from.
fn learned(analysis: &Analysis, correction: &Correction, pen: Pen) -> Vec<Value> {
    let mut lines = Vec::new();
    if let Some(turn) = correction.taper_per_turn {
        let half = turn.interval95.half_width();
        let key = |name: &str| in_result(format!("correction.taper_per_turn.{name}"));
        lines.push(
            Prose::new("A whole turn of a foot changes the taper by ")
                .number(pen.size(turn.estimate, half, key("estimate")))
                .text(" (95 % interval ")
                .number(pen.end_size(turn.interval95.low, turn.interval95, key("interval95.0")))
                .text(" to ")
                .number(pen.end_size(turn.interval95.high, turn.interval95, key("interval95.1")))
                .text(if correction.gain.is_some() {
                    "), learned from the moves so far: each turned by a known amount, and the bar was cut before and after."
                } else {
                    "): so far only what feet and beds usually do. The first move, with a cut before and after it, will teach what this machine does."
                })
                .html(),
        );
    }
    if let Some(gain) = correction.gain {
        let key = |name: &str| in_result(format!("correction.gain.{name}"));
        let levels: std::collections::BTreeSet<u32> = analysis.trial.levels.iter().map(|reading| reading.setting).collect();
        lines.push(
            Prose::new("Of a move at a foot, the share ")
                .number(pen.with_unit(gain.estimate, 2, "", key("estimate")))
                .text(" (95 % interval ")
                .number(pen.with_unit(gain.interval95.low, 2, "", key("interval95.0")))
                .text(" to ")
                .number(pen.with_unit(gain.interval95.high, 2, "", key("interval95.1")))
                .text(") reaches the bed as twist.")
                .text(if levels.len() > 1 {
                    " Levels before and after the move told it from the roll arm."
                } else {
                    " Diameters teach only its product with the roll arm; levels before and after a move would part the two."
                })
                .html(),
        );
    }
    lines
}
