//! Verdicts with their reason in words.

use super::{ABSENT, PRESENT};
use crate::causes::values::{CauseKind, Verdict};
use crate::quantities::{Sentence, Told};

/// Verdict and reason; `levelled`: levels were read in that setting.
pub(super) fn judge(cause: CauseKind, material: f64, threshold: f64, evidence: bool, bound: f64, levelled: bool) -> (Verdict, Sentence) {
    let percent = percent(material);
    if evidence && material >= PRESENT {
        let reason = format!("it changes the diameter by more than {} with a probability of {percent}", um(threshold));
        return (Verdict::Present, reason.into());
    }
    if evidence && material <= ABSENT {
        let reason = format!("too small to matter: the probability of more than {} is {percent}", um(threshold));
        return (Verdict::Absent, reason.into());
    }
    if !evidence {
        if material <= ABSENT && bound < threshold {
            let [most, threshold] = told_apart(bound, threshold);
            let reason = format!("too small to matter by physics: {most} at the most, below {threshold}");
            return (Verdict::Absent, reason.into());
        }
        return (Verdict::NotSettled, format!("not separable: {}", would_tell(cause, levelled)).into());
    }
    let reason =
        format!("more than {} has a probability of {percent}, neither 95 % nor 5 %: the readings are not sure enough", um(threshold));
    (Verdict::NotSettled, reason.into())
}

/// A difference of diameter in µm.
fn um(value_um: f64) -> Told {
    Told::fine(1e-3 * value_um)
}

/// Two differences of diameter in µm with decimals enough to be told apart in µm and in thou, up to four.
fn told_apart(one_um: f64, other_um: f64) -> [Told; 2] {
    let both = |decimals: usize| [one_um, other_um].map(|value| Told { decimals, ..um(value) });
    let alike = |[one, other]: [Told; 2]| {
        let shown = |(value, decimals, _): (f64, usize, &str)| format!("{value:.decimals$}");
        shown(one.in_millimetres()) == shown(other.in_millimetres()) || shown(one.in_inches()) == shown(other.in_inches())
    };
    (1..4).map(both).find(|told| !alike(*told)).unwrap_or_else(|| both(4))
}

/// A probability in words that never claim certainty; 99.5 % would be rounded to 100, and 0.5 % to 0.
fn percent(probability: f64) -> String {
    match probability {
        p if p >= 0.995 => "more than 99 %".into(),
        p if p <= 0.005 => "less than 1 %".into(),
        p => format!("{:.0} %", 100.0 * p),
    }
}

/// Which measurement would separate a cause.
fn would_tell(cause: CauseKind, levelled: bool) -> &'static str {
    match cause {
        CauseKind::HeadstockYaw if levelled => {
            "these logs show it only together with other causes; an indicator along a ground test bar would tell"
        }
        CauseKind::BedTwist if levelled => {
            "the levels leave room for other causes, worn ways among them; more of them, and levels at places that the bar was turned over, would tell"
        }
        CauseKind::HeadstockYaw => {
            "these logs show it only together with other causes; levels along the bed, or an indicator along a ground test bar, would tell"
        }
        CauseKind::BedTwist => "these logs show it only together with other causes; levels along the bed would tell",
        CauseKind::ToolWear => {
            "what wears with the cut looks like taper here; a pass cut the other way, or a second pass with a fresh edge, would tell"
        }
        CauseKind::Deflection => "cuts of one depth and feed hide it in the shape; a heavy and a light pass would tell",
        CauseKind::WayWear => "its bend is mixed with other causes here; more stations, or the top slide shifted along the bar, would tell",
        CauseKind::TailstockOffset => {
            "these logs show it only together with other causes; an indicator along a test bar between centres would tell"
        }
        CauseKind::ThermalDrift => "warming goes with the cut just as wear does; unlike feeds, or a dwell before measuring, would tell",
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Bounds that would be rounded to 0 or 100 are told as bounds.
    #[test]
    fn no_probability_is_certain() {
        let told = [1.0, 0.995, 0.9949, 0.5, 0.0051, 0.005, 0.0].map(percent);
        assert_eq!(told, ["more than 99 %", "more than 99 %", "99 %", "50 %", "1 %", "less than 1 %", "less than 1 %"]);
    }

    #[test]
    fn a_verdict_needs_evidence_of_its_own() {
        let far = f64::INFINITY;
        assert_eq!(judge(CauseKind::HeadstockYaw, 0.99, 4.0, true, far, false).0, Verdict::Present);
        assert_eq!(judge(CauseKind::HeadstockYaw, 0.99, 4.0, false, far, false).0, Verdict::NotSettled);
        assert_eq!(judge(CauseKind::ToolWear, 0.01, 4.0, true, far, false).0, Verdict::Absent);
        assert_eq!(judge(CauseKind::ToolWear, 0.01, 4.0, false, far, false).0, Verdict::NotSettled);
        assert_eq!(judge(CauseKind::ToolWear, 0.01, 4.0, false, 2.0, false).0, Verdict::Absent);
        assert_eq!(judge(CauseKind::ToolWear, 0.5, 4.0, true, far, false).0, Verdict::NotSettled);
    }

    /// What is 4 µm by number is 4.0 µm in words, and 0.16 thou (4/25.4) on a page in inches.
    #[test]
    fn thresholds_are_told_in_their_unit() {
        let reason = judge(CauseKind::BedTwist, 0.97, 4.0, true, f64::INFINITY, false).1;
        assert_eq!(reason, "it changes the diameter by more than 4.0 µm with a probability of 97 %");
        let inches = reason.shown(|told| format!("{:.2}", told.in_inches().0), |_| String::new());
        assert_eq!(inches, "0.16");
        let small = judge(CauseKind::ToolWear, 0.01, 4.0, false, 2.0, false).1;
        assert_eq!(small, "too small to matter by physics: 2.0 µm at the most, below 4.0 µm");
    }

    /// 4.99 µm and 5.01 µm are 5.0 µm both, 5.07 and 5.08 µm both 0.200 thou: they get decimals enough in either unit.
    #[test]
    fn what_is_below_is_shown_to_be_below() {
        let thou = |told: Told| format!("{:.*}", told.in_inches().1, told.in_inches().0);
        for (one, other, decimals) in
            [(2.0, 4.0, 1), (4.92, 5.08, 1), (4.99, 5.01, 2), (5.07, 5.08, 2), (5.079, 5.08, 3), (5.079_6, 5.08, 4), (5.079_999_9, 5.08, 4)]
        {
            let told = told_apart(one, other);
            assert_eq!(told.map(|t| t.decimals), [decimals; 2], "{one} {other}");
            assert!(one > 5.0799 || thou(told[0]) != thou(told[1]), "{one} {other}");
        }
    }

    #[test]
    fn the_bounds_themselves_decide() {
        let far = f64::INFINITY;
        assert_eq!(judge(CauseKind::BedTwist, PRESENT, 4.0, true, far, false).0, Verdict::Present);
        assert_eq!(judge(CauseKind::BedTwist, ABSENT, 4.0, true, far, false).0, Verdict::Absent);
        assert_eq!(judge(CauseKind::BedTwist, ABSENT, 4.0, false, 3.9, false).0, Verdict::Absent);
        assert_eq!(judge(CauseKind::BedTwist, 0.06, 4.0, false, 3.9, false).0, Verdict::NotSettled);
        assert_eq!(judge(CauseKind::BedTwist, 0.01, 4.0, false, 4.0, false).0, Verdict::NotSettled, "as much as would matter");
    }
}
