//! How long a log the joint estimate takes, and what is said of a longer one.

use super::estimate::CausesOutcome;
use super::values::{CauseEstimate, CauseKind, Verdict};
use crate::trial::{Diameters, Trial};
use std::collections::BTreeSet;

/// Places (each station of each pass) up to which causes are estimated, [`A_PASS_COUNTS`] added for each pass.
///
/// The joint estimate keeps some 2.3 kB for a place and 31 kB for a pass (measured), and goes over all of them at each of some thousand points: at this
/// bound it takes 0.3 GB beside the readings, and its time is told in tens of seconds.
pub const MOST_PLACES: usize = 125_000;
/// Places that the equations of a pass count as.
pub const A_PASS_COUNTS: usize = 12;

/// Whether `diameters` have more passes and stations than the joint estimate takes. However often a station is read, it counts once.
pub(super) fn is_too_long(diameters: &Diameters) -> bool {
    is_beyond(diameters, MOST_PLACES)
}

fn is_beyond(diameters: &Diameters, most: usize) -> bool {
    let passes: BTreeSet<(u32, u32)> = diameters.used_cuts(|_| true).into_iter().map(|cut| (cut.setting, cut.pass)).collect();
    match most.checked_sub(A_PASS_COUNTS.saturating_mul(passes.len())) {
        Some(rest) => diameters.reduces_to_more_than(rest),
        None => true,
    }
}

/// What is said of the causes of a trial whose log is too long: each is not settled, and why.
///
/// Nothing is estimated from a part of the passes.
pub(super) fn not_estimated(trial: &Trial) -> CausesOutcome {
    let reason = "the log has more passes and stations than the joint estimate of the causes takes; a log of fewer passes would tell";
    let cause = |setting, cause| CauseEstimate::without_figures(setting, cause, Verdict::NotSettled, reason.to_owned());
    let settings = trial.diameters.settings();
    CausesOutcome {
        causes: settings.iter().flat_map(|setting| CauseKind::ALL.map(|kind| cause(*setting, kind))).collect(),
        warnings: vec![format!(
            "The causes were not estimated: the log has more passes and stations than their joint estimate takes, which is {MOST_PLACES} stations over \
             all passes, each pass counted as {A_PASS_COUNTS} more. Taper, barrel, their uncertainty and the checks are those of the whole log. A log of \
             fewer passes, or of fewer stations in each, would tell the causes; repeats at a station may be as many as you like."
        )],
        ..CausesOutcome::default()
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::trial::{DiameterReading, Place};

    /// Three passes of four stations read five times each.
    fn diameters() -> Diameters {
        let of = |row: u32| {
            let (pass, station) = (row / 20 + 1, row / 5 % 4);
            DiameterReading { pass, ..DiameterReading::bare(Place { file: 0, row: u64::from(row) + 2 }, 10.0 * f64::from(station), 38.0) }
        };
        (0..60).map(of).collect()
    }

    #[test]
    fn stations_of_passes_count_once_and_passes_twelve_times() {
        let log = diameters();
        let counted = 12 + 3 * A_PASS_COUNTS;
        assert!(!is_beyond(&log, counted), "just within");
        assert!(is_beyond(&log, counted - 1), "just beyond");
        assert!(is_beyond(&log, 3 * A_PASS_COUNTS - 1), "beyond by the passes alone");
        assert_eq!(log.reduced().len(), 12, "what is counted is what the estimate is given");
    }
}
