//! The advice for the latest setting: what is true of it, and what follows.

use super::aim::Aim;
use super::feet::{finest_raise_mm, foot_for, foot_move};
use super::response::Response;
use super::tailstock;
use super::values::{Correction, Expected, FootMove, Learned, Reason};
use super::window::Window;
use super::words::{larger_end, limits, mm, remedies, test_that_tells};
use crate::causes::{CauseKind, CausesOutcome, Verdict, summary};
use crate::quantities::{Sentence, Told};
use crate::shape::Shape;
use crate::trial::{Feet, Holding, Trial};

/// Probability of conforming at which one stops.
const ENOUGH: f64 = 0.95;
/// A move must raise the probability of conforming by this much to be worth a cut.
const WORTH_A_CUT: f64 = 0.01;
/// Seed of the order in which the prior's gains are dealt to the draws.
const SEED: u64 = 0x6a15;

/// What is known of the latest setting.
pub(super) struct Situation<'a> {
    pub(super) trial: &'a Trial,
    pub(super) outcome: &'a CausesOutcome,
    pub(super) setting: u32,
    pub(super) response: Response,
    pub(super) window: Window,
    /// Causes found present, but for the one that is to be adjusted.
    pub(super) others: Vec<CauseKind>,
    pub(super) present: Expected,
    pub(super) inside: f64,
}

/// The advice for the latest setting of `trial`: foot, sense and turns, or why there is none; `None` when no setting has a taper.
///
/// The move is the one after which another cut is least likely (see `Aim::best`), a whole number of the finest turn. It stops when the taper
/// conforms with a probability of 0.95, or when what is left is below what the log can see. Feet are advised for a bar in the chuck only; a
/// move never turns the bed past level to hide another cause that the log has established. Bar on a tailstock centre: the tailstock instead.
#[must_use]
pub fn advise(trial: &Trial, shapes: &[Shape], outcome: &CausesOutcome) -> Option<Correction> {
    let posterior = outcome.posterior.as_ref().filter(|p| !p.is_empty())?;
    let shape = shapes.iter().max_by_key(|s| s.setting)?;
    let response = Response::of(trial, shape, posterior, SEED)?;
    let window = Window::of(trial, response.length_mm);
    let adjusted = if trial.bar.holding == Holding::Chuck { CauseKind::BedTwist } else { CauseKind::TailstockOffset };
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
    let situation = Situation { trial, outcome, setting: shape.setting, window, others, present, inside, response };
    let mut correction = situation.settled().unwrap_or_else(|| match trial.bar.holding {
        Holding::Chuck => situation.at_the_feet(),
        Holding::Centres | Holding::ChuckAndCentre => tailstock::advise(&situation, posterior),
    });
    if shapes.len() > 1 && !posterior.move_gain.is_empty() {
        correction.gain = summary(&posterior.move_gain).map(|g| Learned { estimate: g.estimate, interval95: g.interval95 });
    }
    correction.taper_per_turn = situation.taper_per_turn();
    Some(correction)
}

/// The verdict on a cause of a setting.
pub(super) fn verdict(outcome: &CausesOutcome, setting: u32, cause: CauseKind) -> Option<Verdict> {
    outcome.causes.iter().find(|c| c.setting == setting && c.cause == cause).map(|c| c.verdict)
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
            expected_taper: self.present,
            probability_in_tolerance: self.inside,
            probability_overshoot: None,
            gain: None,
            taper_per_turn: None,
            window: self.window,
            present: self.present,
        }
    }

    /// The aim at the taper `taper_mm` by a move with this effect.
    pub(super) fn aim<'b>(&self, taper_mm: &'b [f64], per_unit_mm: &'b [f64]) -> Aim<'b> {
        Aim { window: self.window, taper_mm, per_unit_mm, unseen_mm: self.response.unseen_mm, measured_u_mm: self.response.measured_u_mm }
    }

    /// The taper now, in words.
    pub(super) fn now(&self) -> String {
        format!(
            "The taper is {} {}, give or take {}; allowed is {}.",
            mm(self.present.value),
            larger_end(self.present.value),
            mm(2.0 * self.present.standard_uncertainty),
            limits(self.window, self.response.length_mm)
        )
    }

    /// Whether to stop: inside the limit, or below what the log can see.
    fn settled(&self) -> Option<Correction> {
        if self.inside >= ENOUGH {
            let mut why = format!("{} It lies inside with a probability of {:.0} %: nothing to adjust.", self.now(), 100.0 * self.inside);
            if self.inside > 0.995 {
                why = format!("{} It lies inside with a probability above 99 %: nothing to adjust.", self.now());
            }
            let twist = verdict(self.outcome, self.setting, CauseKind::BedTwist);
            let sum = |cause: CauseKind| self.response.parts.get(&cause).map_or(0.0, |p| p.iter().sum::<f64>());
            let opposed = sum(CauseKind::BedTwist) * sum(CauseKind::HeadstockYaw) < 0.0;
            if opposed && twist == Some(Verdict::Present) && self.others.contains(&CauseKind::HeadstockYaw) {
                why.push_str(
                    " Bed and headstock cancel each other in this chucking: at other tool heights and between centres they do not. To mend it, level \
                     the bed first, then have the headstock aligned by somebody competent.",
                );
            }
            return Some(self.nothing(Reason::WithinLimit, why));
        }
        let off = (self.present.value - self.window.middle_mm()).abs();
        (off <= 1.96 * self.present.standard_uncertainty).then(|| {
            let why = format!(
                "{} That is less than this log can see: turning a foot now would be chasing noise. Cut and measure more passes in this setting before \
                 anything is moved.",
                self.now()
            );
            self.nothing(Reason::BelowDetection, why)
        })
    }

    /// Feet are the wrong place: what to do instead.
    pub(super) fn not_feet(&self, causes: &[CauseKind]) -> Correction {
        let mut why = format!("{} {}", self.now(), remedies(self.outcome, self.setting, causes));
        if causes.iter().all(|c| matches!(c, CauseKind::ToolWear | CauseKind::Deflection | CauseKind::ThermalDrift)) {
            why.push_str(" There is nothing to adjust on the machine.");
        }
        self.nothing(Reason::CauseNotFeet, why)
    }

    /// The cause with the largest part of the taper, feet left out.
    fn largest_other(&self) -> Vec<CauseKind> {
        let size = |cause: &CauseKind| self.response.parts.get(cause).map_or(0.0, |p| p.iter().sum::<f64>().abs());
        CauseKind::ALL.into_iter().filter(|c| *c != CauseKind::BedTwist).max_by(|a, b| size(a).total_cmp(&size(b))).into_iter().collect()
    }

    /// The advice for a bar in the chuck whose taper has to go.
    fn at_the_feet(&self) -> Correction {
        let twist = verdict(self.outcome, self.setting, CauseKind::BedTwist);
        let rest = self.response.without(&self.others);
        let without_others = self.aim(&rest, &rest).inside(0.0);
        if twist == Some(Verdict::Absent) {
            return self.not_feet(if self.others.is_empty() { self.largest_other() } else { self.others.clone() }.as_slice());
        }
        if twist != Some(Verdict::Present) && !self.others.is_empty() && without_others >= ENOUGH {
            return self.not_feet(&self.others);
        }
        let Some(feet) = &self.trial.machine.feet else { return self.wanted_twist(&rest, twist) };
        let mean_rest = rest.iter().sum::<f64>() / rest.len().max(1) as f64;
        let sign = self.window.middle_mm() - self.present.value;
        let foot_moved = foot_for(self.trial, self.setting, sign);
        let Some(per_mm) = self.response.per_mm_of(foot_moved, feet) else { return self.wanted_twist(&rest, twist) };
        let aim = self.aim(&self.response.total, &per_mm);
        let (least, most) = self.bounds(&aim, mean_rest);
        let raise_mm = aim.best(least, most, finest_raise_mm(feet));
        let after = aim.inside(raise_mm);
        if raise_mm == 0.0 || after < self.inside + WORTH_A_CUT {
            if !self.others.is_empty() {
                return self.not_feet(&self.others);
            }
            let why = format!(
                "{} What is left is less than the finest turn that a hand can set would mend: stop, or measure more passes to be surer.",
                self.now()
            );
            return self.nothing(Reason::BelowDetection, why);
        }
        // Where other causes make the larger part, a move that leaves the taper outside is not worth its cut.
        if after < 0.5 && (self.present.value - mean_rest).abs() > mean_rest.abs() {
            return self.not_feet(&self.others);
        }
        let expected = aim.expected(raise_mm);
        let one = foot_move(foot_moved, raise_mm, &aim.needed(expected.value), feet);
        let separated = twist == Some(Verdict::Present);
        let why = self.why_move(&one, feet, separated, expected.value);
        Correction {
            advised: separated,
            interim: !separated,
            target_mm: Some(expected.value),
            expected_taper: expected,
            probability_in_tolerance: after,
            probability_overshoot: Some(aim.beyond(raise_mm)),
            moves: vec![one],
            ..self.nothing(if separated { Reason::Advised } else { Reason::CausesNotSeparated }, why)
        }
    }

    /// Between which moves the best one is looked for: from none to what all but a few draws need, and not past level where another cause is
    /// established.
    pub(super) fn bounds(&self, aim: &Aim<'_>, mean_rest: f64) -> (f64, f64) {
        let mut needed = aim.needed(self.window.middle_mm());
        needed.sort_by(f64::total_cmp);
        let at = |p: f64| needed.get((p * needed.len().saturating_sub(1) as f64) as usize).copied().unwrap_or(0.0);
        let (mut least, mut most) = (at(0.01).min(0.0), at(0.99).max(0.0));
        if !self.others.is_empty() {
            let per_unit = aim.per_unit_mm.iter().sum::<f64>() / aim.per_unit_mm.len().max(1) as f64;
            let level = if per_unit.abs() > 1e-12 { -mean_rest / per_unit } else { 0.0 };
            least = least.max(level.min(0.0));
            most = most.min(level.max(0.0));
        }
        (least, most)
    }

    /// Nobody described the feet: the change of twist that is wanted.
    fn wanted_twist(&self, rest: &[f64], twist: Option<Verdict>) -> Correction {
        let per_twist = self.response.per_twist();
        let aim = self.aim(&self.response.total, &per_twist);
        let (least, most) = self.bounds(&aim, rest.iter().sum::<f64>() / rest.len().max(1) as f64);
        let change = aim.best(least, most, None);
        let which = if change > 0.0 { "rear" } else { "front" };
        let wanted = format!(
            "Wanted is a change of twist of {}, the {which} of the tailstock end up. For millimetres and turns give the feet's spacing and \
             screw in [machine.feet].",
            Told::twist(change.abs())
        );
        if twist == Some(Verdict::Present) {
            return self.nothing(Reason::FeetUnknown, format!("{} The bed is twisted. {wanted}", self.now()));
        }
        let why = format!(
            "{} This log cannot say whether bed or headstock is out of line. {} If it is the bed: {}{}",
            self.now(),
            test_that_tells(self.outcome),
            wanted.chars().next().map_or('w', |c| c.to_ascii_lowercase()),
            wanted.get(1..).unwrap_or_default()
        );
        self.nothing(Reason::CausesNotSeparated, why)
    }

    /// Why this move.
    fn why_move(&self, one: &FootMove, feet: &Feet, separated: bool, expected_mm: f64) -> String {
        let mut why = self.now();
        if separated {
            why.push_str(&format!(" The bed is twisted: the {} has to move.", one.foot.words()));
        } else {
            let bent = crate::physics::moves::twist_per_gain(one.foot, one.raise_mm, feet).unwrap_or(0.0);
            let gain = self.response.gain.iter().sum::<f64>() / self.response.gain.len().max(1) as f64;
            why.push_str(&format!(
                " This log cannot say whether bed or headstock is out of line. {} Until then the move is an interim one, and this is its price: if the \
                 headstock is the cause, the bed is bent by about {} to hide it, which shows at other tool heights, between centres and \
                 when drilling from the tailstock.",
                test_that_tells(self.outcome),
                Told::twist((gain * bent).abs())
            ));
        }
        if !self.others.is_empty() {
            why.push_str(&format!(
                " The move does not go past level: about {} {} stays, which is not the bed's. {}",
                mm(expected_mm),
                larger_end(expected_mm),
                remedies(self.outcome, self.setting, &self.others)
            ));
        }
        why
    }

    /// What one whole turn of a foot does to the taper, mm, size only.
    fn taper_per_turn(&self) -> Option<Learned> {
        if self.trial.bar.holding != Holding::Chuck {
            return None;
        }
        let feet = self.trial.machine.feet.as_ref()?;
        let pitch_mm = feet.screw_pitch_mm?;
        let per_turn: Vec<f64> =
            self.response.per_mm_of(crate::trial::Foot::TailstockRear, feet)?.iter().map(|t| (t * pitch_mm).abs()).collect();
        summary(&per_turn).map(|s| Learned { estimate: s.estimate, interval95: s.interval95 })
    }
}
