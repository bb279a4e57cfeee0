//! A bar in the chuck whose taper has to go: one foot, or why none.

use super::advise::{ENOUGH, Situation, WORTH_A_CUT, mean, verdict};
use super::feet::{finest_raise_mm, foot_for, foot_move};
use super::values::{Correction, FootMove, Learned, Reason};
use super::words::{cannot_tell, chance, larger_end, mm, open_causes, remedies, remedy, test_that_tells, unworn_ways};
use crate::causes::{ABSENT, CauseKind, LevelBend, Verdict, level_bend, summary};
use crate::quantities::{Told, sentence_case};
use crate::trial::{Feet, Holding};

/// What feet can set right, or hide.
const MACHINE: [CauseKind; 2] = [CauseKind::BedTwist, CauseKind::HeadstockYaw];
/// Probability that worn ways are large enough to matter, above which what looks like bed may be theirs: the move is then an interim one.
const WAYS_MAY_BE_WORN: f64 = 0.2;

/// A prior that a steep taper widened by more than this: no machine that is set up at all is so far out, and what was read is checked before a foot is moved.
const FAR_WIDENED: f64 = 4.0;

/// A foot is moved no further than this at once, mm: the levelling of a machine takes tenths (common practice, no source).
const MOST_RAISE_MM: f64 = 2.0;

impl Situation<'_> {
    /// The advice for a bar in the chuck whose taper has to go.
    pub(super) fn at_the_feet(&self) -> Correction {
        let twist = verdict(self.outcome, self.setting, CauseKind::BedTwist);
        if twist == Some(Verdict::Absent) {
            return self.not_feet(&self.others);
        }
        if twist != Some(Verdict::Present) && self.bed_hardly_matters() {
            return if self.others.is_empty() { self.tell_first("A foot turned now") } else { self.not_feet(&self.others) };
        }
        let rest = self.response.without(&self.others);
        if twist != Some(Verdict::Present) && !self.others.is_empty() && self.aim(&rest, &rest).inside(0.0) >= ENOUGH {
            return self.not_feet(&self.others);
        }
        if self.others.contains(&CauseKind::WayWear) {
            return self.ways_first();
        }
        if let Some(bend) = level_bend(self.trial, self.setting, self.tested.from, self.tested.to) {
            return self.bent_levels(&bend);
        }
        if twist == Some(Verdict::Present) && self.bed_mm() * self.present.value < 0.0 {
            return self.bed_against();
        }
        let alone = self.alone(&MACHINE);
        let Some(feet) = &self.trial.machine.feet else { return self.wanted_twist(&alone, twist) };
        let sign = self.window.middle_mm() - self.present.value;
        let foot_moved = foot_for(self.trial, self.setting, sign);
        let Some(per_mm) = self.response.per_mm_of(foot_moved, feet) else { return self.wanted_twist(&alone, twist) };
        let aim = self.aim(&self.response.total, &per_mm);
        let separated = twist == Some(Verdict::Present) && !self.ways_may_be_worn();
        if !separated && self.trial.widened_by() > FAR_WIDENED {
            return self.check_steep_first();
        }
        let (raise_mm, capped) = self.no_further_than_level(&aim, separated, &MACHINE, finest_raise_mm(feet));
        let after = aim.inside(raise_mm);
        // A twisted bed is levelled even where the rest, which is not its own, stays outside.
        if raise_mm == 0.0 || (after < self.inside + WORTH_A_CUT && !capped) {
            return self.no_foot(separated);
        }
        let mean_rest = mean(&rest);
        // Where other causes make the larger part, a move that leaves the taper outside and the bed perhaps no better is not worth its cut.
        if !separated && after < 0.5 && (self.present.value - mean_rest).abs() > mean_rest.abs() {
            return self.not_feet(&self.others);
        }
        if !separated && !self.good_for_another_bar(&alone, &per_mm, raise_mm) {
            return self.no_foot(separated);
        }
        if !separated && !self.direction_is_known(&alone, &per_mm, raise_mm) {
            return self.tell_first("A foot turned now");
        }
        if raise_mm.abs() > MOST_RAISE_MM {
            let why = format!(
                "{} By the logged moves and [machine.feet] a foot would have to go {}, and more than {MOST_RAISE_MM} mm is advised of none: nothing is turned. \
                 Check raise, turns and units in moves.csv, and spacing and screw of the feet.",
                self.now(),
                mm(raise_mm)
            );
            return self.nothing(Reason::FeetUnknown, why);
        }
        let expected = aim.expected(raise_mm);
        let one = foot_move(foot_moved, raise_mm, &aim.needed(expected.value), feet);
        let way = self.direction_probability(&alone, &per_mm, raise_mm);
        let why = self.why_move(&one, feet, (!separated).then_some(way), capped, expected.value);
        Correction {
            advised: separated,
            interim: !separated,
            target_mm: Some(expected.value),
            expected_taper: Some(expected),
            probability_in_tolerance: Some(after),
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

    /// A taper that no usual machine makes, and nothing tells the bed from the headstock: what was read comes first.
    fn check_steep_first(&self) -> Correction {
        let mut first = self.tell_first("A foot turned now");
        first.why.push_str(
            " The taper is far more than usual machines make: before anything else check stations, diameters and units, and that the bar was turned along the bed \
             and not with the top slide.",
        );
        first
    }

    /// Ways are worn: their straight part counts as bed and headstock, so neither is touched.
    fn ways_first(&self) -> Correction {
        let why = format!("{} {}", self.now(), remedies(self.outcome, self.setting, &self.others, self.trial.bar.holding));
        let open = vec![CauseKind::WayWear, CauseKind::BedTwist, CauseKind::HeadstockYaw];
        Correction { open, ..self.nothing(Reason::CausesNotSeparated, why) }
    }

    /// The levels are no straight line: whether ways are worn or the bed is twisted in one place, one foot does not mend it.
    fn bent_levels(&self, bend: &LevelBend) -> Correction {
        let why = format!(
            "{} {}. No foot is turned by that: it would twist the whole bed. Read levels at more places along the bed, over the part where most is turned \
             and well beyond it, and have the ways looked at near the headstock.",
            self.now(),
            sentence_case(&bend.words())
        );
        let open = vec![CauseKind::WayWear, CauseKind::BedTwist, CauseKind::HeadstockYaw];
        Correction { open, ..self.nothing(Reason::CausesNotSeparated, why) }
    }

    /// The bed is twisted the other way than the taper: taking the taper away with a foot would twist it further.
    fn bed_against(&self) -> Correction {
        let bed = self.bed_mm();
        let twist = -mean(&self.own()) / mean(&self.response.per_twist());
        let level_it = match &self.trial.machine.feet {
            Some(feet) => {
                let foot = foot_for(self.trial, self.setting, twist);
                let per_mm = self.response.per_mm_of(foot, feet).map_or(0.0, |per_mm| mean(&per_mm));
                let one = foot_move(foot, if per_mm.abs() > 1e-12 { -bed / per_mm } else { 0.0 }, &[], feet);
                format!("{} the {} by about {}", if one.raise_mm < 0.0 { "lower" } else { "raise" }, one.foot.words(), mm(one.raise_mm))
            }
            None => format!(
                "change its twist by {}, the {} of the tailstock end up",
                Told::twist(twist.abs()),
                if twist > 0.0 { "rear" } else { "front" }
            ),
        };
        let rest = self.present.value - bed;
        let mut why = format!(
            "{} The bed is twisted the other way: by itself it makes the bar {} {}. A foot turned to take the taper away would twist it further, to hide \
             something else. Level the bed first: {level_it}. The bar will then come out about {} {}, which is not the bed's to mend.",
            self.now(),
            mm(bed),
            larger_end(bed),
            mm(rest),
            larger_end(rest)
        );
        if self.others.is_empty() {
            let open = open_causes(self.outcome, self.setting, None);
            why.push_str(&format!(" What makes it is not settled: {}. {}", cannot_tell(&open), test_that_tells(self.outcome, &open)));
            return Correction { open, ..self.nothing(Reason::CausesNotSeparated, why) };
        }
        why.push(' ');
        why.push_str(&remedies(self.outcome, self.setting, &self.others, self.trial.bar.holding));
        self.nothing(Reason::CauseNotFeet, why)
    }

    /// What the bed makes of the taper, mm: mean over the draws.
    fn bed_mm(&self) -> f64 {
        mean(&self.own())
    }

    /// Whether worn ways are not settled and not unlikely to matter.
    fn ways_may_be_worn(&self) -> bool {
        let ways = self.outcome.causes.iter().find(|c| c.setting == self.setting && c.cause == CauseKind::WayWear);
        ways.is_some_and(|c| c.verdict == Verdict::NotSettled && c.material_probability.is_some_and(|p| p > WAYS_MAY_BE_WORN))
    }

    /// Whether the twist of the bed is large enough to matter with a probability of 0.05 at the most, by levels or the like: then no foot is moved, whatever keeps it
    /// from being called absent.
    fn bed_hardly_matters(&self) -> bool {
        let bed = self.outcome.causes.iter().find(|c| c.setting == self.setting && c.cause == CauseKind::BedTwist);
        bed.and_then(|c| c.material_probability).is_some_and(|p| p <= ABSENT)
    }

    /// What stays open beside the bed, and the test that tells.
    fn open_and_test(&self) -> String {
        if verdict(self.outcome, self.setting, CauseKind::BedTwist) == Some(Verdict::Present) {
            return format!("The ways may be worn. {}", unworn_ways(Holding::Chuck));
        }
        let open = open_causes(self.outcome, self.setting, Some(CauseKind::BedTwist));
        let mut text = format!("{}. {}", sentence_case(&cannot_tell(&open)), test_that_tells(self.outcome, &open));
        if self.ways_may_be_worn() {
            text.push_str(&format!(" The ways may be worn, too. {}", unworn_ways(Holding::Chuck)));
        }
        text
    }

    /// Nobody described the feet: the change of twist that is wanted.
    fn wanted_twist(&self, alone: &[f64], twist: Option<Verdict>) -> Correction {
        let per_twist = self.response.per_twist();
        let aim = self.aim(&self.response.total, &per_twist);
        let separated = twist == Some(Verdict::Present) && !self.ways_may_be_worn();
        if !separated && self.trial.widened_by() > FAR_WIDENED {
            return self.check_steep_first();
        }
        let (change, capped) = self.no_further_than_level(&aim, separated, &MACHINE, None);
        let worth = change != 0.0 && (capped || aim.inside(change) >= self.inside + WORTH_A_CUT);
        if !worth || !(separated || self.good_for_another_bar(alone, &per_twist, change)) {
            return self.no_foot(separated);
        }
        if !separated && !self.direction_is_known(alone, &per_twist, change) {
            return self.tell_first("A foot turned now");
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

    /// Why this move; `way` is the probability that bed and headstock call for its direction, for an interim one.
    fn why_move(&self, one: &FootMove, feet: &Feet, way: Option<f64>, capped: bool, expected_mm: f64) -> String {
        let mut why = self.now();
        match way {
            None => why.push_str(&format!(
                " The bed is twisted: the {} has to move. Ways worn near the headstock read like a twist where levels do not show the bend of that wear: have \
                 a look at them first.",
                one.foot.words()
            )),
            Some(way) => {
                let bent = crate::physics::moves::twist_per_gain(one.foot, one.raise_mm, feet).unwrap_or(0.0);
                let gain = mean(&self.response.gain);
                why.push_str(&format!(
                    " {} Until then the move is an interim one. Bed and headstock call for one this way with a probability {}, and this is its price: if \
                     the bed was level, it is bent by about {} to hide another cause, which shows with tools at other heights and shifts the tailstock \
                     against the spindle.",
                    self.open_and_test(),
                    chance(way),
                    Told::twist((gain * bent).abs())
                ));
            }
        }
        if capped && self.others.is_empty() && expected_mm.abs() >= self.matters_mm() {
            let open = open_causes(self.outcome, self.setting, None);
            why.push_str(&format!(
                " The move takes out what the bed makes and no more: about {} {} stays, which the bed does not explain; {}. {}",
                mm(expected_mm),
                larger_end(expected_mm),
                cannot_tell(&open),
                test_that_tells(self.outcome, &open)
            ));
        }
        if !self.others.is_empty() {
            let bound = if way.is_some() { "goes no further than bed and headstock call for" } else { "does not go past level" };
            why.push_str(&format!(
                " The move {bound}: about {} {} stays. {}",
                mm(expected_mm),
                larger_end(expected_mm),
                remedies(self.outcome, self.setting, &self.others, self.trial.bar.holding)
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
