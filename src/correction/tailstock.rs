//! A bar on a tailstock centre: how far the tailstock is to be set over, and never a foot.

use super::advise::{Situation, verdict};
use super::values::{Correction, Reason};
use super::words::{mm, remedies};
use crate::causes::{CauseKind, Posterior, Verdict};

/// Setting over no finer than this, mm: what an indicator on the tailstock spindle shows.
const STEP_MM: f64 = 0.001;
/// Offset in a draw below which its effect is taken from the straight line between centres, mm.
const LEAST_OFFSET_MM: f64 = 1e-6;

/// Taper that one millimetre of tailstock to the rear adds in each draw, mm.
///
/// From the offset's own curve in that draw (in chuck and centre it depends on how firmly the chuck holds); `2·length/L` between centres.
fn per_mm(situation: &Situation<'_>, posterior: &Posterior) -> Vec<f64> {
    let length = situation.trial.bar.length_mm;
    let straight = if length > 0.0 { 2.0 * situation.response.length_mm / length } else { 0.0 };
    let (part, offset) = (situation.response.parts.get(&CauseKind::TailstockOffset), posterior.offset_mm.get(&situation.setting));
    match part.zip(offset) {
        Some((part, offset)) => part.iter().zip(offset).map(|(t, e)| if e.abs() > LEAST_OFFSET_MM { t / e } else { straight }).collect(),
        None => vec![straight; situation.response.total.len()],
    }
}

/// The advice for a bar on a tailstock centre whose taper has to go.
pub(super) fn advise(situation: &Situation<'_>, posterior: &Posterior) -> Correction {
    let own = verdict(situation.outcome, situation.setting, CauseKind::TailstockOffset);
    let others = &situation.others;
    let rest = situation.response.without(others);
    if !others.is_empty() && (own == Some(Verdict::Absent) || situation.aim(&rest, &rest).inside(0.0) >= 0.95) {
        return situation.not_feet(others);
    }
    let per_mm = per_mm(situation, posterior);
    let aim = situation.aim(&situation.response.total, &per_mm);
    let (least, most) = situation.bounds(&aim, rest.iter().sum::<f64>() / rest.len().max(1) as f64);
    let shift = aim.best(least, most, Some(STEP_MM));
    if shift == 0.0 {
        return situation.not_feet(if others.is_empty() { &[CauseKind::TailstockOffset] } else { others });
    }
    let expected = aim.expected(shift);
    let way = if shift < 0.0 { "to the front, towards the operator" } else { "to the rear, away from the operator" };
    let mut why = format!(
        "{} The bar ran on the tailstock centre, so feet are no remedy: set the tailstock over by {} {way}, watching an indicator on its spindle, \
         clamp it as for work, and cut again.",
        situation.now(),
        mm(shift)
    );
    if own != Some(Verdict::Present) {
        why.push_str(" The log does not part the tailstock from other straight causes: a pass cut the other way would rule out wear.");
    }
    if !others.is_empty() {
        why.push(' ');
        why.push_str(&remedies(situation.outcome, situation.setting, others));
    }
    Correction {
        tailstock_shift_mm: Some(shift),
        target_mm: Some(expected.value),
        expected_taper: expected,
        probability_in_tolerance: aim.inside(shift),
        probability_overshoot: Some(aim.beyond(shift)),
        ..situation.nothing(Reason::CauseNotFeet, why)
    }
}
