//! A bar on a tailstock centre: how far the tailstock is to be set over, and never a foot.

use super::advise::{ENOUGH, Situation, WORTH_A_CUT, verdict};
use super::values::{Correction, Reason};
use super::words::{cannot_tell, larger_end, mm, open_causes, remedies, test_that_tells};
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

/// What setting the tailstock over can set right, or hide.
const MACHINE: [CauseKind; 3] = [CauseKind::TailstockOffset, CauseKind::BedTwist, CauseKind::HeadstockYaw];

/// The advice for a bar on a tailstock centre whose taper has to go.
pub(super) fn advise(situation: &Situation<'_>, posterior: &Posterior) -> Correction {
    let own = verdict(situation.outcome, situation.setting, CauseKind::TailstockOffset);
    let others = &situation.others;
    let rest = situation.response.without(others);
    if others.contains(&CauseKind::WayWear) {
        let why = format!("{} {}", situation.now(), remedies(situation.outcome, situation.setting, others, situation.trial.bar.holding));
        let open = vec![CauseKind::WayWear, CauseKind::TailstockOffset];
        return Correction { open, ..situation.nothing(Reason::CausesNotSeparated, why) };
    }
    if !others.is_empty() && (own == Some(Verdict::Absent) || situation.aim(&rest, &rest).inside(0.0) >= ENOUGH) {
        return situation.not_feet(others);
    }
    let per_mm = per_mm(situation, posterior);
    let aim = situation.aim(&situation.response.total, &per_mm);
    let alone = situation.alone(&MACHINE);
    let sure = own == Some(Verdict::Present);
    let (shift, capped) = situation.no_further_than_level(&aim, sure, &MACHINE, Some(STEP_MM));
    let worth = shift != 0.0 && (capped || aim.inside(shift) >= situation.inside + WORTH_A_CUT);
    let serves = || situation.good_for_another_bar(&alone, &per_mm, shift) && situation.direction_is_known(&alone, &per_mm, shift);
    if !worth || !(sure || serves()) {
        return if others.is_empty() { situation.tell_first("A tailstock set over now") } else { situation.not_feet(others) };
    }
    let expected = aim.expected(shift);
    let way = if shift < 0.0 { "to the front, towards the operator" } else { "to the rear, away from the operator" };
    let mut why = format!(
        "{} The bar ran on the tailstock centre, so feet are no remedy: set the tailstock over by {} {way}, watching an indicator on its spindle, \
         clamp it as for work, and cut again.",
        situation.now(),
        mm(shift)
    );
    if !sure {
        let open = open_causes(situation.outcome, situation.setting, Some(CauseKind::TailstockOffset));
        why.push_str(&format!(" But {}. {}", cannot_tell(&open), test_that_tells(situation.outcome, &open)));
    }
    if !(situation.window.low_mm..=situation.window.high_mm).contains(&expected.value) || aim.inside(shift) < ENOUGH {
        why.push_str(&format!(" About {} {} stays, which is not the tailstock's.", mm(expected.value), larger_end(expected.value)));
    }
    if !others.is_empty() {
        why.push(' ');
        why.push_str(&remedies(situation.outcome, situation.setting, others, situation.trial.bar.holding));
    }
    Correction {
        tailstock_shift_mm: Some(shift),
        target_mm: Some(expected.value),
        expected_taper: Some(expected),
        probability_in_tolerance: Some(aim.inside(shift)),
        probability_overshoot: Some(aim.beyond(shift)),
        ..situation.nothing(Reason::CauseNotFeet, why)
    }
}
