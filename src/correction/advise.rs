//! The advice for the latest setting: what is true of it, and what follows.

use super::aim::Aim;
use super::contradiction::{Contradiction, check_first, who_contradicts};
use super::response::Response;
use super::tailstock;
use super::values::{Correction, Expected, Judged, Learned, Reason};
use super::window::Window;
use super::words::{cannot_tell, chance, larger_end, limits, mm, open_causes, remedies, test_that_tells};
use crate::causes::{CauseKind, CausesOutcome, Verdict, summary};
use crate::conformity::{Decision, Judgement};
use crate::quantities::{Sentence, sentence_case};
use crate::shape::{SAYS_NOTHING_MM, Shape, TestedLength};
use crate::trial::{Holding, Quantity, Trial};

/// Probability of conforming at which one stops.
pub(super) const ENOUGH: f64 = 0.95;
/// A move must raise the probability of conforming by this much to be worth a cut.
pub(super) const WORTH_A_CUT: f64 = 0.01;
/// Probability with which bed and headstock must call for a move in its direction while they are not told from the other causes.
const DIRECTION_KNOWN: f64 = 0.8;
/// Seed of the order in which the prior's gains are dealt to the draws.
const SEED: u64 = 0x6a15;

/// What is known beside shapes and causes, and bounds the advice.
#[derive(Debug, Clone, Copy, Default)]
pub struct Beside<'a> {
    /// What the limits say.
    pub judged: &'a [Judgement],
    /// Where the logs contradict each other.
    pub contradictions: &'a [Contradiction],
}

/// What is known of the latest setting.
pub(super) struct Situation<'a> {
    pub(super) trial: &'a Trial,
    pub(super) outcome: &'a CausesOutcome,
    pub(super) setting: u32,
    /// Stations between which it was measured, mm.
    pub(super) tested: TestedLength,
    pub(super) response: Response,
    pub(super) window: Window,
    /// Causes found present, but for the one that is to be adjusted.
    pub(super) others: Vec<CauseKind>,
    pub(super) present: Expected,
    pub(super) inside: f64,
    /// What the taper limits say of this setting.
    judged: Option<Judged>,
    /// Whether its passes alone show a taper.
    shows: bool,
    /// Whether its taper is known so poorly that the log says nothing of it.
    blind: bool,
}

/// The advice for the latest setting of `trial`: foot, sense and turns, or why there is none; `None` when no setting has a taper.
///
/// Nothing is moved and no remedy named where the logs contradict each other in any setting. It stops when the taper limits are kept (where none
/// is stated, or none is decided, when the taper is inside with a probability of 0.95), or when what is left is below what the log can see.
///
/// The move is the one after which another cut is least likely (see `Aim::best`), a whole number of the finest turn. Feet are advised for a
/// bar in the chuck only. A move never turns the bed past level to hide another cause that the log has established. As long as the bed itself is not
/// established, it goes no further (to half a step) than takes out the mean of the part of bed and headstock, and must also raise by 0.01 the
/// probability that this part alone is inside the limit, and change the taper by as much as is large enough to matter, so that another bar,
/// stiff and cut with a sharp edge, gains by it too; else the advice is the test that tells. Worn ways that are established allow no move. Bar on a tailstock centre: the tailstock
/// instead, by the same rules. Only causes found present are to be mended.
#[must_use]
pub fn advise(trial: &Trial, shapes: &[Shape], outcome: &CausesOutcome, beside: &Beside<'_>) -> Option<Correction> {
    let posterior = outcome.posterior.as_ref().filter(|p| !p.is_empty())?;
    let shape = shapes.iter().max_by_key(|s| s.setting)?;
    let response = Response::of(trial, shape, posterior, SEED)?;
    let window = Window::of(trial, response.length_mm);
    let adjusted = adjusted(trial);
    let others =
        CauseKind::ALL.into_iter().filter(|c| *c != adjusted && verdict(outcome, shape.setting, *c) == Some(Verdict::Present)).collect();
    let still = vec![0.0; response.total.len()];
    let now = Aim {
        window,
        taper_mm: &response.total,
        per_unit_mm: &still,
        unseen_mm: response.unseen_mm,
        measured_u_mm: response.measured_u_mm,
    };
    let (present, inside) = (now.expected(0.0), now.inside(0.0));
    let judged = judged_taper(beside.judged, shape.setting);
    let shows = !shape.taper.interval95.contains(0.0);
    let blind = shape.says_nothing() || 1.96 * present.standard_uncertainty > SAYS_NOTHING_MM;
    let situation = Situation {
        trial,
        outcome,
        setting: shape.setting,
        tested: shape.tested_length,
        window,
        others,
        present,
        inside,
        judged,
        shows,
        blind,
        response,
    };
    let stop = if beside.contradictions.is_empty() { situation.settled() } else { Some(situation.contradicted()) };
    let mut correction = stop.unwrap_or_else(|| match trial.bar.holding {
        Holding::Chuck => situation.at_the_feet(),
        Holding::Centres | Holding::ChuckAndCentre => tailstock::advise(&situation, posterior),
    });
    if shapes.len() > 1 && !posterior.move_gain.is_empty() {
        correction.gain = summary(&posterior.move_gain).map(|g| Learned { estimate: g.estimate, interval95: g.interval95 });
    }
    correction.taper_per_turn = situation.taper_per_turn();
    Some(correction)
}

/// The cause that may be adjusted: the bed of a bar in the chuck alone, else the tailstock.
fn adjusted(trial: &Trial) -> CauseKind {
    if trial.bar.holding == Holding::Chuck { CauseKind::BedTwist } else { CauseKind::TailstockOffset }
}

/// Mean over draws; 0 without any.
pub(super) fn mean(values: &[f64]) -> f64 {
    values.iter().sum::<f64>() / values.len().max(1) as f64
}

/// The verdict on a cause of a setting.
pub(super) fn verdict(outcome: &CausesOutcome, setting: u32, cause: CauseKind) -> Option<Verdict> {
    outcome.causes.iter().find(|c| c.setting == setting && c.cause == cause).map(|c| c.verdict)
}

/// What the taper limits of a setting say together: the one least likely to be kept, those that are broken and not proven before others.
fn judged_taper(judged: &[Judgement], setting: u32) -> Option<Judged> {
    let own = judged.iter().enumerate().filter(|(_, j)| j.setting == setting && j.quantity == Quantity::Taper);
    let known = own.filter_map(|(place, j)| Some(Judged { place, decision: j.decision?, probability: j.probability? }));
    let rank = |decision: Decision| match decision {
        Decision::DoesNotConform => 0,
        Decision::NotProven => 1,
        Decision::Conforms => 2,
    };
    known.min_by(|a, b| rank(a.decision).cmp(&rank(b.decision)).then(a.probability.total_cmp(&b.probability)))
}

impl Situation<'_> {
    /// An answer without any move.
    pub(super) fn nothing(&self, reason: Reason, why: impl Into<Sentence>) -> Correction {
        Correction {
            setting: self.setting,
            advised: false,
            interim: false,
            reason,
            why: why.into(),
            moves: Vec::new(),
            tailstock_shift_mm: None,
            target_mm: None,
            expected_taper: Some(self.present),
            probability_in_tolerance: Some(self.inside),
            probability_overshoot: None,
            gain: None,
            taper_per_turn: None,
            window: self.window,
            present: self.present,
            judged: self.judged,
            open: Vec::new(),
            feet_to_turn: false,
            blind: false,
        }
    }

    /// The aim at the taper `taper_mm` by a move with this effect.
    pub(super) fn aim<'b>(&self, taper_mm: &'b [f64], per_unit_mm: &'b [f64]) -> Aim<'b> {
        Aim { window: self.window, taper_mm, per_unit_mm, unseen_mm: self.response.unseen_mm, measured_u_mm: self.response.measured_u_mm }
    }

    /// The taper now, in words.
    pub(super) fn now(&self) -> String {
        format!(
            "All logs together make the taper {} {}, give or take {}; allowed is {}.",
            mm(self.present.value),
            larger_end(self.present.value),
            mm(2.0 * self.present.standard_uncertainty),
            limits(self.window, self.response.length_mm)
        )
    }

    /// The logs contradict each other: nothing follows from them.
    fn contradicted(&self) -> Correction {
        let why = format!(
            "{}, and whatever would be moved or mended by them may be the wrong thing or the wrong way. {} The findings say by how much they \
             differ.",
            who_contradicts(self.trial),
            check_first(self.trial)
        );
        Correction { expected_taper: None, probability_in_tolerance: None, ..self.nothing(Reason::LogsContradict, why) }
    }

    /// Whether to stop: inside the limit, or below what the log can see.
    fn settled(&self) -> Option<Correction> {
        let decision = self.judged.map(|judged| judged.decision);
        let outside = decision == Some(Decision::DoesNotConform) || self.judged.is_some_and(|judged| judged.probability < 0.5);
        if decision == Some(Decision::Conforms) || (self.inside >= ENOUGH && !outside) {
            return Some(self.within());
        }
        if self.inside >= ENOUGH {
            let sure = if decision == Some(Decision::DoesNotConform) { "it does not" } else { "it rather does not" };
            let why = format!(
                "{} By all logs together it lies inside, by its passes alone, as the limits judge it, {sure}. Measure more passes in this \
                 setting before anything is moved.",
                self.now()
            );
            return Some(self.nothing(Reason::BelowDetection, why));
        }
        let off = (self.present.value - self.window.middle_mm()).abs();
        (off <= 1.96 * self.present.standard_uncertainty).then(|| {
            if self.blind {
                let why = format!(
                    "{} So much would be seen without a gauge: what was read holds a slip, or is of two bars. Look for it in the log and its findings before \
                     anything is moved.",
                    self.now()
                );
                return Correction { blind: true, ..self.nothing(Reason::BelowDetection, why) };
            }
            if self.shows || decision == Some(Decision::DoesNotConform) {
                return self.shown_but_not_settled();
            }
            let why = format!(
                "{} That is less than this log can see: turning a foot now would be chasing noise. Cut and measure more passes in this setting before \
                 anything is moved.",
                self.now()
            );
            self.nothing(Reason::BelowDetection, why)
        })
    }

    /// The passes alone show a taper, or one beyond its limit, but what all logs together leave of it is less than is known of it.
    fn shown_but_not_settled(&self) -> Correction {
        let open = open_causes(self.outcome, self.setting, Some(adjusted(self.trial)));
        let why = format!(
            "{} That is less than is known of it, though these passes by themselves show a taper: too little to turn anything by. {} More passes in this \
             setting, with a finer gauge if there is one, would help too.",
            self.now(),
            test_that_tells(self.outcome, &open)
        );
        Correction { open, ..self.nothing(Reason::CausesNotSeparated, why) }
    }

    /// Inside the limit. The probability told is that of the limits where they judged the taper: only one is.
    fn within(&self) -> Correction {
        let mut why = self.now();
        match self.judged {
            Some(Judged { decision: Decision::NotProven, probability, .. }) => why.push_str(&format!(
                " Its best estimate lies inside, but the limits, which judge its passes by themselves, find that not proven: a probability {}. No \
                 move would make it surer; what would, the section on limits says.",
                chance(probability)
            )),
            judged => {
                let probability = judged.map_or(self.inside, |judged| judged.probability);
                why.push_str(&format!(" It lies inside with a probability {}: nothing to adjust.", chance(probability)));
            }
        }
        let twist = verdict(self.outcome, self.setting, CauseKind::BedTwist);
        let sum = |cause: CauseKind| self.response.parts.get(&cause).map_or(0.0, |p| p.iter().sum::<f64>());
        let opposed = sum(CauseKind::BedTwist) * sum(CauseKind::HeadstockYaw) < 0.0;
        let worn = self.others.contains(&CauseKind::WayWear);
        if adjusted(self.trial) == CauseKind::BedTwist && twist == Some(Verdict::Present) && !worn {
            if opposed && self.others.contains(&CauseKind::HeadstockYaw) {
                why.push_str(
                    " Bed and headstock cancel each other at this tool height; at others they do not. To mend it, level the bed first, then have the \
                     headstock aligned by somebody competent.",
                );
            }
            let own = self.own();
            let bed = mean(&own);
            let hidden = !(self.window.low_mm..=self.window.high_mm).contains(&bed);
            if hidden && !self.others.contains(&CauseKind::HeadstockYaw) {
                why.push_str(&format!(
                    " But the bed is twisted: by itself it makes the bar {} {}, and what cancels that here need not cancel it with tools at other heights \
                     or other cuts. To mend it, level the bed first, then measure again what is left.",
                    mm(bed),
                    larger_end(bed)
                ));
            }
        }
        self.nothing(Reason::WithinLimit, why)
    }

    /// Feet are the wrong place: what to do instead about `causes`, which are present; where none is, which are open and what tells.
    pub(super) fn not_feet(&self, causes: &[CauseKind]) -> Correction {
        if causes.is_empty() {
            let open = open_causes(self.outcome, self.setting, None);
            let why = format!(
                "{} The bed is level enough, so feet are no remedy; and {}: nothing is to be mended before that is settled. {}",
                self.now(),
                cannot_tell(&open),
                test_that_tells(self.outcome, &open)
            );
            return Correction { open, ..self.nothing(Reason::CauseNotFeet, why) };
        }
        let mut why = format!("{} {}", self.now(), remedies(self.outcome, self.setting, causes, self.trial.bar.holding));
        if causes.iter().all(|c| matches!(c, CauseKind::ToolWear | CauseKind::Deflection | CauseKind::ThermalDrift)) {
            why.push_str(" There is nothing to adjust on the machine.");
        }
        self.nothing(Reason::CauseNotFeet, why)
    }

    /// Too much of the taper may be another cause's for a move of `what`: the test that tells comes first.
    pub(super) fn tell_first(&self, what: &str) -> Correction {
        let open = open_causes(self.outcome, self.setting, Some(adjusted(self.trial)));
        let why = format!(
            "{} {}. {what} would hide what may not come from there, and another bar would come out worse. {}",
            self.now(),
            sentence_case(&cannot_tell(&open)),
            test_that_tells(self.outcome, &open)
        );
        Correction { open, ..self.nothing(Reason::CausesNotSeparated, why) }
    }

    /// What the causes `machine` make of the taper in each draw, mm, those left out that are established beside the one to be adjusted.
    pub(super) fn alone(&self, machine: &[CauseKind]) -> Vec<f64> {
        let mut sum = vec![0.0; self.response.total.len()];
        for part in machine.iter().filter(|cause| !self.others.contains(cause)).filter_map(|cause| self.response.parts.get(cause)) {
            sum.iter_mut().zip(part).for_each(|(s, p)| *s += p);
        }
        sum
    }

    /// Between which moves the best one is looked for: from none to what all but a few draws need, and not past level: where the mean of `level_mm` is 0.
    pub(super) fn bounds(&self, aim: &Aim<'_>, level_mm: Option<&[f64]>) -> (f64, f64) {
        let mut needed = aim.needed(self.window.middle_mm());
        needed.sort_by(f64::total_cmp);
        let at = |p: f64| needed.get((p * needed.len().saturating_sub(1) as f64) as usize).copied().unwrap_or(0.0);
        let (least, most) = (at(0.01).min(0.0), at(0.99).max(0.0));
        let Some(level_mm) = level_mm else { return (least, most) };
        let per_unit = mean(aim.per_unit_mm);
        let level = if per_unit.abs() > 1e-12 { -mean(level_mm) / per_unit } else { 0.0 };
        (least.max(level.min(0.0)), most.min(level.max(0.0)))
    }

    /// Up to where a move may go, as the taper that is then gone, mm, of which the mean counts: what the causes `machine` make, as long as the one to be
    /// adjusted is not `sure`; else what that one makes by itself beside the middle of the limits.
    pub(super) fn level(&self, sure: bool, machine: &[CauseKind]) -> Vec<f64> {
        if sure { vec![mean(&self.own()) - self.window.middle_mm()] } else { self.alone(machine) }
    }

    /// The best move by `aim` that goes no further than [`Situation::level`], and whether it stops there though the taper calls for more.
    ///
    /// One that is `sure` of its cause goes all that way where the taper calls for more, also where no such move brings the taper inside.
    pub(super) fn no_further_than_level(&self, aim: &Aim<'_>, sure: bool, machine: &[CauseKind], step: Option<f64>) -> (f64, bool) {
        let (least, most) = self.bounds(aim, Some(&self.level(sure, machine)));
        if sure {
            let (lowest, highest) = self.bounds(aim, None);
            let free = aim.best(lowest, highest, step);
            let level = free.clamp(least, most);
            if level != free {
                return (step.map_or(level, |step| (level / step).round() * step), true);
            }
        }
        (aim.best(least, most, step), false)
    }

    /// What the cause that may be adjusted makes of the taper in each draw, mm.
    pub(super) fn own(&self) -> Vec<f64> {
        self.response.parts.get(&adjusted(self.trial)).cloned().unwrap_or_default()
    }

    /// What is large enough to matter in the taper of this setting, mm.
    pub(super) fn matters_mm(&self) -> f64 {
        let own = self.outcome.causes.iter().filter(|c| c.setting == self.setting);
        own.filter_map(|c| c.material_threshold_um).next().unwrap_or(0.0) / 1000.0
    }

    /// Whether another bar, which only the machine makes tapered, gains by the move too, and by more than what is too small to matter.
    pub(super) fn good_for_another_bar(&self, alone_mm: &[f64], per_unit_mm: &[f64], units: f64) -> bool {
        let aim = self.aim(alone_mm, per_unit_mm);
        let moved_mm = units * mean(per_unit_mm);
        moved_mm.abs() >= self.matters_mm() && aim.inside(units) >= aim.inside(0.0) + WORTH_A_CUT
    }

    /// Probability that what the machine makes of the taper calls for a move in the direction of `units`.
    pub(super) fn direction_probability(&self, alone_mm: &[f64], per_unit_mm: &[f64], units: f64) -> f64 {
        let calls = alone_mm.iter().zip(per_unit_mm).filter(|(taper, per_unit)| *taper * *per_unit * units < 0.0).count();
        calls as f64 / alone_mm.len().max(1) as f64
    }

    /// Whether that is [`DIRECTION_KNOWN`] at least.
    pub(super) fn direction_is_known(&self, alone_mm: &[f64], per_unit_mm: &[f64], units: f64) -> bool {
        self.direction_probability(alone_mm, per_unit_mm, units) >= DIRECTION_KNOWN
    }
}
