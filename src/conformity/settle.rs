//! What would settle a limit that is not proven.

use super::{Allowed, Decision, Knowledge, Rule};
use crate::quantities::Told;

/// More passes than this are no advice.
const MOST_PASSES: f64 = 60.0;

/// The largest standard uncertainty at which `rule` would decide, if the value stayed as it is; `None` where none is small enough: the value
/// stands on the limit itself.
///
/// Found by halving: with less uncertainty the probability goes to 1 for a value inside and to 0 for one outside.
#[must_use]
pub fn uncertainty_needed(knowledge: &Knowledge, allowed: Allowed, rule: Rule) -> Option<f64> {
    let own = knowledge.standard_uncertainty();
    let decided = |u: f64| rule.decide(&knowledge.with_standard_uncertainty(u), allowed) != Decision::NotProven;
    if !(own.is_finite() && own > 0.0) || decided(own) {
        return None;
    }
    let (mut small, mut large) = (1e-3 * own, own);
    if !decided(small) {
        return None;
    }
    for _ in 0..50 {
        let middle = (small * large).sqrt();
        if decided(middle) { small = middle } else { large = middle }
    }
    Some(small)
}

/// How a standard uncertainty shrinks with more passes.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Shrinks {
    /// Passes so far.
    pub(super) passes: usize,
    /// The part that passes make smaller, as one over the root of their number.
    pub(super) by_passes: f64,
    /// The part that stays.
    pub(super) stays: f64,
    /// What most of that comes from, in words; may be empty.
    pub(super) from: String,
}

impl Shrinks {
    /// Passes in all at which the standard uncertainty comes down to `needed`; `None` where the part that stays is too large, or no reasonable
    /// number is enough.
    pub(super) fn passes_for(&self, needed: f64) -> Option<usize> {
        let room = needed * needed - self.stays * self.stays;
        if room <= 0.0 {
            return None;
        }
        let passes = (self.passes as f64 * self.by_passes * self.by_passes / room).ceil();
        (passes <= MOST_PASSES).then_some(passes as usize)
    }
}

/// Decimals, at least `least`, at which `value` has so many figures.
fn decimals(value: f64, figures: f64, least: f64) -> usize {
    (figures - 1.0 - value.log10().floor()).clamp(least, 6.0) as usize
}

/// What would settle it, in a sentence with marked numbers ([`Told`]): all with the decimals that show the one that is needed.
pub(super) fn advice(needed: Option<f64>, own: f64, unit: &str, shrinks: Option<&Shrinks>) -> String {
    let Some(needed) = needed else {
        return "The value stands on its limit: no measurement settles that; adjust the machine, or agree on another limit.".to_owned();
    };
    let shown = |u: f64| match unit {
        "mm" => Told { decimals: decimals(1e3 * needed, 1.0, 1.0), ..Told::fine(u) }.to_string(),
        "" => format!("{:.*} %", decimals(100.0 * needed, 1.0, 0.0), 100.0 * u),
        _ => Told { decimals: decimals(needed, 2.0, 3.0), ..Told::slope(u) }.to_string(),
    };
    let begin = format!("To decide, the standard uncertainty has to come down from {} to {}", shown(own), shown(needed));
    match shrinks.map(|s| (s, s.passes_for(needed))) {
        Some((s, Some(passes))) if passes > s.passes => {
            let more = passes - s.passes;
            format!("{begin}: about {more} more {} like those so far, if the value stays.", if more == 1 { "pass" } else { "passes" })
        }
        Some((s, None)) if needed <= s.stays => {
            let from = if s.from.is_empty() { String::new() } else { format!(", most of that from {}", s.from) };
            format!("{begin}; more passes alone do not bring that: {} stays however many there are{from}.", shown(s.stays))
        }
        Some((_, None)) => format!("{begin}: more than {MOST_PASSES} passes; the value lies too near to the limit."),
        _ => format!("{begin}."),
    }
}

#[cfg(test)]
#[allow(clippy::unwrap_used, reason = "a test fails by panicking")]
mod tests {
    use super::*;
    use crate::quantities::Sentence;
    use crate::trial::DecisionRule;

    const BELOW: Allowed = Allowed { low: f64::NEG_INFINITY, high: 0.040 };

    fn spread(value: f64, u: f64) -> Knowledge {
        Knowledge::Spread { value, standard_uncertainty: u, dof: None }
    }

    #[test]
    fn the_uncertainty_needed_is_the_distance_over_the_guard_bands_factor() {
        // 1.6449: JCGM 106:2012, Table 1, p = 0.95
        for value in [0.036, 0.044] {
            let needed = uncertainty_needed(&spread(value, 0.004), BELOW, Rule::default()).unwrap();
            assert!((needed - 0.004 / 1.644_854).abs() < 1e-8, "{needed}");
        }
        assert_eq!(uncertainty_needed(&spread(0.030, 0.004), BELOW, Rule::default()), None, "decided already");
        assert_eq!(uncertainty_needed(&spread(0.040, 0.004), BELOW, Rule::default()), None, "on the limit itself");
        assert_eq!(uncertainty_needed(&spread(0.039, f64::INFINITY), BELOW, Rule::default()), None);
        let simple = Rule { rule: DecisionRule::Simple, asked: 0.95 };
        assert_eq!(uncertainty_needed(&spread(0.039, 0.004), BELOW, simple), None);
    }

    #[test]
    fn passes_shrink_their_part_as_one_over_the_root() {
        // 3 and 4 µm make 5; four times as many passes leave 1.5 and 4
        let shrinks = Shrinks { passes: 3, by_passes: 3.0, stays: 4.0, from: String::new() };
        assert_eq!(shrinks.passes_for((1.5_f64.powi(2) + 16.0).sqrt() + 1e-9), Some(12));
        assert_eq!(shrinks.passes_for((1.5_f64.powi(2) + 16.0).sqrt() - 1e-6), Some(13), "a fraction of a pass is a pass");
        assert_eq!((shrinks.passes_for(4.0), shrinks.passes_for(3.9), shrinks.passes_for(4.01)), (None, None, None));
        // 60 passes leave 3/√20
        assert_eq!(shrinks.passes_for((9.0_f64 / 20.0 + 16.0).sqrt() + 1e-9), Some(60));
        assert_eq!(shrinks.passes_for((9.0_f64 / 20.0 + 16.0).sqrt() - 1e-6), None, "more than sixty are no advice");
    }

    #[test]
    fn the_advice_says_how_many_more_passes_or_why_none_help() {
        let shrinks = Shrinks { passes: 3, by_passes: 0.003, stays: 0.004, from: "vertical misalignment".into() };
        let plain = |needed: Option<f64>, own, unit, shrinks| Sentence::from(advice(needed, own, unit, shrinks)).to_string();
        let told = |needed: f64| plain(Some(needed), 0.005, "mm", Some(&shrinks));
        assert!(told((1.5_f64.powi(2) + 16.0).sqrt() / 1000.0 + 1e-9).contains("from 5.0 µm to 4.3 µm: about 9 more passes like"));
        // 3 of 4 passes' variance is left: 9·3/4
        assert!(told((6.75_f64 + 16.0).sqrt() / 1000.0 + 1e-9).contains("about 1 more pass like"));
        assert!(told(0.0039).ends_with(
            "more passes alone do not bring that: 4.0 µm stays however many there are, most of that from vertical misalignment."
        ));
        let unnamed = Shrinks { from: String::new(), ..shrinks.clone() };
        assert!(plain(Some(0.0039), 0.005, "mm", Some(&unnamed)).ends_with("4.0 µm stays however many there are."));
        assert!(told(0.004).contains("do not bring that"), "all that passes leave is too much by itself");
        assert!(told(0.00401).contains("more than 60 passes"));
        assert!(plain(None, 0.005, "mm", Some(&shrinks)).contains("stands on its limit"));
        assert!(plain(Some(0.05), 0.1, "", None).ends_with("from 10 % to 5 %."));
        assert!(plain(Some(0.0123), 0.1, "mm/m", None).ends_with("to 0.012 mm/m."));
        // a small one keeps a figure, and what stands beside it as many decimals
        assert!(plain(Some(0.000_087), 0.000_76, "mm", None).ends_with("from 0.76 µm to 0.09 µm."));
        assert!(plain(Some(0.000_12), 0.1, "mm/m", None).ends_with("from 0.10000 mm/m to 0.00012 mm/m."));
        assert!(plain(Some(0.003), 0.1, "", None).ends_with("from 10.0 % to 0.3 %."));
        assert!(told(0.005).ends_with("from 5.0 µm to 5.0 µm."), "no pass more");
    }
}
