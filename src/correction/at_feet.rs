//! A bar in the chuck whose taper has to go: one foot, or why none.

use super::advise::{ENOUGH, Situation, WORTH_A_CUT, verdict};
use super::feet::{finest_raise_mm, foot_for, foot_move};
use super::values::{Correction, FootMove, Learned, Reason};
use super::words::{UNWORN_WAYS, cannot_tell, larger_end, mm, open_causes, remedies, remedy, test_that_tells};
use crate::causes::{CauseKind, Verdict, summary};
use crate::quantities::{Told, sentence_case};
use crate::trial::{Feet, Holding};

/// What feet can set right, or hide.
const MACHINE: [CauseKind; 2] = [CauseKind::BedTwist, CauseKind::HeadstockYaw];
/// Probability that worn ways are large enough to matter, above which what looks like bed may be theirs: the move is then an interim one.
const WAYS_MAY_BE_WORN: f64 = 0.2;

impl Situation<'_> {
    /// The advice for a bar in the chuck whose taper has to go.
    pub(super) fn at_the_feet(&self) -> Correction {
        let twist = verdict(self.outcome, self.setting, CauseKind::BedTwist);
        if twist == Some(Verdict::Absent) {
            return self.not_feet(&self.others);
        }
        let rest = self.response.without(&self.others);
        if twist != Some(Verdict::Present) && !self.others.is_empty() && self.aim(&rest, &rest).inside(0.0) >= ENOUGH {
            return self.not_feet(&self.others);
        }
        if self.others.contains(&CauseKind::WayWear) {
            return self.ways_first();
        }
        let alone = self.alone(&MACHINE);
        let Some(feet) = &self.trial.machine.feet else { return self.wanted_twist(&alone, twist) };
        let sign = self.window.middle_mm() - self.present.value;
        let foot_moved = foot_for(self.trial, self.setting, sign);
        let Some(per_mm) = self.response.per_mm_of(foot_moved, feet) else { return self.wanted_twist(&alone, twist) };
        let aim = self.aim(&self.response.total, &per_mm);
        let separated = twist == Some(Verdict::Present) && !self.ways_may_be_worn();
        let (least, most) = self.bounds(&aim, self.level(separated, &MACHINE).as_deref());
        let raise_mm = aim.best(least, most, finest_raise_mm(feet));
        let after = aim.inside(raise_mm);
        if raise_mm == 0.0 || after < self.inside + WORTH_A_CUT {
            return self.no_foot(separated);
        }
        let mean_rest = rest.iter().sum::<f64>() / rest.len().max(1) as f64;
        // Where other causes make the larger part, a move that leaves the taper outside is not worth its cut.
        if after < 0.5 && (self.present.value - mean_rest).abs() > mean_rest.abs() {
            return self.not_feet(&self.others);
        }
        if !separated && !self.good_for_another_bar(&alone, &per_mm, raise_mm) {
            return self.no_foot(separated);
        }
        let expected = aim.expected(raise_mm);
        let one = foot_move(foot_moved, raise_mm, &aim.needed(expected.value), feet);
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

    /// No turn of a foot helps: causes that are present, those that are open, or the finest turn that a hand can set.
    fn no_foot(&self, separated: bool) -> Correction {
        if !self.others.is_empty() {
            return self.not_feet(&self.others);
        }
        let open = open_causes(self.outcome, self.setting, Some(CauseKind::BedTwist));
        if !separated && open.iter().any(|cause| !MACHINE.contains(cause)) {
            return self.tell_first("A foot turned now");
        }
        let why = format!(
            "{} What is left is less than the finest turn that a hand can set would mend: stop, or measure more passes to be surer.",
            self.now()
        );
        self.nothing(Reason::BelowDetection, why)
    }

    /// Ways are worn: their straight part counts as bed and headstock, so neither is touched.
    fn ways_first(&self) -> Correction {
        let why = format!("{} {}", self.now(), remedies(self.outcome, self.setting, &self.others));
        let open = vec![CauseKind::WayWear, CauseKind::BedTwist, CauseKind::HeadstockYaw];
        Correction { open, ..self.nothing(Reason::CausesNotSeparated, why) }
    }

    /// Whether worn ways are not settled and not unlikely to matter.
    fn ways_may_be_worn(&self) -> bool {
        let ways = self.outcome.causes.iter().find(|c| c.setting == self.setting && c.cause == CauseKind::WayWear);
        ways.is_some_and(|c| c.verdict == Verdict::NotSettled && c.material_probability.is_some_and(|p| p > WAYS_MAY_BE_WORN))
    }

    /// What stays open beside the bed, and the test that tells.
    fn open_and_test(&self) -> String {
        if verdict(self.outcome, self.setting, CauseKind::BedTwist) == Some(Verdict::Present) {
            return format!("The ways may be worn. {UNWORN_WAYS}");
        }
        let open = open_causes(self.outcome, self.setting, Some(CauseKind::BedTwist));
        let mut text = format!("{}. {}", sentence_case(&cannot_tell(&open)), test_that_tells(self.outcome, &open));
        if self.ways_may_be_worn() {
            text.push_str(&format!(" The ways may be worn, too. {UNWORN_WAYS}"));
        }
        text
    }

    /// Nobody described the feet: the change of twist that is wanted.
    fn wanted_twist(&self, alone: &[f64], twist: Option<Verdict>) -> Correction {
        let per_twist = self.response.per_twist();
        let aim = self.aim(&self.response.total, &per_twist);
        let separated = twist == Some(Verdict::Present) && !self.ways_may_be_worn();
        let (least, most) = self.bounds(&aim, self.level(separated, &MACHINE).as_deref());
        let change = aim.best(least, most, None);
        let worth = aim.inside(change) >= self.inside + WORTH_A_CUT;
        if !worth || !(separated || self.good_for_another_bar(alone, &per_twist, change)) {
            return self.no_foot(separated);
        }
        let which = if change > 0.0 { "rear" } else { "front" };
        let wanted = format!(
            "anted is a change of twist of {}, the {which} of the tailstock end up. For millimetres and turns give the feet's spacing and \
             screw in [machine.feet].",
            Told::twist(change.abs())
        );
        if separated {
            let why = format!("{} {} W{wanted}", self.now(), remedy(CauseKind::BedTwist, None));
            return Correction { feet_to_turn: true, ..self.nothing(Reason::FeetUnknown, why) };
        }
        let why = format!("{} {} If it is the bed: w{wanted}", self.now(), self.open_and_test());
        let open = open_causes(self.outcome, self.setting, Some(CauseKind::BedTwist));
        Correction { open, feet_to_turn: true, ..self.nothing(Reason::CausesNotSeparated, why) }
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
                " {} Until then the move is an interim one, and this is its price: if the bed was level, it is bent by about {} to \
                 hide another cause, which shows with tools at other heights and shifts the tailstock against the spindle.",
                self.open_and_test(),
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
    pub(super) fn taper_per_turn(&self) -> Option<Learned> {
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
