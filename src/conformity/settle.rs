//! What would settle a limit that is not proven.

use super::{Allowed, Decision, Knowledge, Rule};

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
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Shrinks {
    /// Passes so far.
    pub(super) passes: usize,
    /// The part that passes make smaller, as one over the root of their number.
    pub(super) by_passes: f64,
    /// The part that stays.
    pub(super) stays: f64,
}

impl Shrinks {
    /// Passes in all at which the standard uncertainty comes down to `needed`; `None` where the part that stays is too large, or no reasonable
    /// number is enough.
    pub(super) fn passes_for(self, needed: f64) -> Option<usize> {
        let room = needed * needed - self.stays * self.stays;
        if room <= 0.0 {
            return None;
        }
        let passes = (self.passes as f64 * self.by_passes * self.by_passes / room).ceil();
        (passes <= MOST_PASSES).then_some(passes as usize)
    }
}

/// What would settle it, in a sentence. Lengths in mm.
pub(super) fn advice(needed: Option<f64>, own: f64, unit: &str, shrinks: Option<Shrinks>) -> String {
    let Some(needed) = needed else {
        return "The value stands on its limit: no measurement settles that; adjust the machine, or agree on another limit.".to_owned();
    };
    let shown = |u: f64| match unit {
        "mm" => format!("{:.1} µm", 1000.0 * u),
        "" => format!("{:.0} %", 100.0 * u),
        _ => format!("{u:.3} {unit}"),
    };
    let begin = format!("To decide, the standard uncertainty has to come down from {} to {}", shown(own), shown(needed));
    match shrinks.map(|s| (s, s.passes_for(needed))) {
        Some((s, Some(passes))) if passes > s.passes => {
            let more = passes - s.passes;
            format!("{begin}: about {more} more {} like those so far, if the value stays.", if more == 1 { "pass" } else { "passes" })
        }
        Some((s, None)) if needed <= s.stays => {
            format!("{begin}; more passes alone do not bring that: temperature, gauge and stations make {} of it.", shown(s.stays))
        }
        Some((_, None)) => format!("{begin}: more than {MOST_PASSES} passes; the value lies too near to the limit."),
        _ => format!("{begin}."),
    }
}
