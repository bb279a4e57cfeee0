//! How long a log the joint estimate takes, and what is done with a longer one.

use super::design::{Design, Log};
use super::estimate::CausesOutcome;
use super::values::{CauseEstimate, CauseKind, Verdict};
use crate::quantities::grouped;
use crate::trial::{Diameters, Trial};
use std::collections::{BTreeMap, BTreeSet};

/// Places (each station of each pass) up to which causes are estimated from each by itself, [`A_PASS_COUNTS`] added for each pass.
///
/// The joint estimate keeps some 2.3 kB for a place and 31 kB for a pass (measured), and goes over all of them at each of some thousand points: at this
/// bound it takes 0.3 GB beside the readings, and its time is told in tens of seconds.
pub const MOST_PLACES: usize = 125_000;
/// Places that the equations of a pass count as.
pub const A_PASS_COUNTS: usize = 12;
/// Passes times the stations at which any pass of their setting is read, up to which every station stands by itself.
///
/// What a pass leaves is met by the next one at every station, so that all of them are kept for all passes, 8 bytes each and 32 more in every thread's room for points side
/// by side: few where passes are read at the same stations, many where each has its own.
pub const MOST_CUT: usize = 500_000;
/// Places that neighbouring stations are joined to where a log has more than [`MOST_PLACES`], if each pass and gauge then keeps [`FEWEST_PLACES`].
///
/// Every reading is in its place: of four passes of 900 stations 400 places each move estimates by less than 0.02 standard deviations (tested). This many take 0.1 GB beside
/// the readings (measured).
const JOINED_PLACES: usize = 40_000;
/// Places that must be left for each pass and gauge where neighbouring stations are joined.
///
/// With as many a bow of 10 µm is followed to 0.3 nm where it is read evenly, and worn ways have places enough for all their curves.
pub const FEWEST_PLACES: usize = 100;

/// Passes times stations up to which passes cut alike are taken together: at this bound a report takes 0.51 GB and 8 s (8,000 passes of 40
/// stations, measured).
const MOST_ALIKE: usize = 320_000;
/// Places that passes cut alike are taken together to where passes alone are too many, [`A_PASS_COUNTS`] added for each group.
const TOGETHER_PLACES: usize = 20_000;

/// The diameters that the joint estimate is given.
pub(super) struct Fitted {
    /// One reading a place.
    pub(super) diameters: Diameters,
    /// Whether the log was longer than can be taken place by place.
    pub(super) joined: bool,
    /// Width of the stretches in which neighbouring stations were taken together, mm; `None` where every station stands by itself.
    pub(super) stretch_mm: Option<f64>,
    /// How many passes cut alike are to be taken together at most; 1 where each stands by itself.
    pub(super) together: usize,
}

/// `diameters` as the joint estimate takes them, of `most` places at most: repeats as one, of a longer log neighbouring stations as one, and where passes alone
/// are too many, passes cut alike to be taken together.
///
/// `None` where the passes times their stations are too many even so.
pub(super) fn fitted(diameters: &Diameters, most: usize) -> Option<Fitted> {
    let passes: BTreeSet<(u32, u32)> = diameters.used_cuts(|_| true).into_iter().map(|cut| (cut.setting, cut.pass)).collect();
    let rest = most.saturating_sub(A_PASS_COUNTS.saturating_mul(passes.len()));
    if !diameters.reduces_to_more_than(rest) {
        let reduced = diameters.reduced();
        if passes_times_stations(&reduced) <= most.saturating_mul(MOST_CUT / MOST_PLACES) {
            return Some(Fitted { diameters: reduced, joined: false, stretch_mm: None, together: 1 });
        }
    }
    if let Some(joined) = diameters.joined(rest.min(JOINED_PLACES), FEWEST_PLACES).or_else(|| diameters.joined(rest, FEWEST_PLACES)) {
        return Some(Fitted { diameters: joined.diameters, joined: true, stretch_mm: joined.stretch_mm, together: 1 });
    }
    in_groups(diameters, passes.len(), most)
}

/// [`MOST_ALIKE`], in proportion to the places that may be.
fn most_alike(most: usize) -> usize {
    (most as u128 * MOST_ALIKE as u128 / MOST_PLACES as u128) as usize
}

/// A log of more passes than can be taken one by one, to be taken in groups of passes cut alike: every station by itself where passes times stations allow it, or
/// neighbouring ones as one.
fn in_groups(diameters: &Diameters, passes: usize, most: usize) -> Option<Fitted> {
    let most_cut = most_alike(most);
    let groups_of = |places: usize| (places + A_PASS_COUNTS * passes).div_ceil(TOGETHER_PLACES.min(most / 4).max(1)).max(2);
    if !diameters.reduces_to_more_than(most_cut) {
        let reduced = diameters.reduced();
        if passes_times_stations(&reduced) <= most_cut {
            let together = groups_of(reduced.len());
            return Some(Fitted { diameters: reduced, joined: false, stretch_mm: None, together });
        }
    }
    let joined = diameters.joined(most_cut, FEWEST_PLACES)?;
    let together = groups_of(joined.diameters.len());
    Some(Fitted { diameters: joined.diameters, joined: true, stretch_mm: joined.stretch_mm, together })
}

/// Passes of each setting times its distinct stations, summed over the settings.
fn passes_times_stations(diameters: &Diameters) -> usize {
    let mut of_setting: BTreeMap<u32, (BTreeSet<u32>, BTreeSet<u32>)> = BTreeMap::new();
    for row in 0..diameters.len() {
        let cut = diameters.cut(row);
        let (passes, stations) = of_setting.entry(cut.setting).or_default();
        passes.insert(cut.pass);
        stations.insert(diameters.station_number(row));
    }
    of_setting.values().map(|(passes, stations)| passes.len().saturating_mul(stations.len())).sum()
}

/// What is said where neighbouring stations were taken together in stretches of `stretch_mm`, the places being more than `most`.
pub(super) fn taken_together(stretch_mm: f64, most: usize) -> String {
    format!(
        "For the causes alone, neighbouring stations of each pass were taken together in stretches of {}: the log has more stations than their joint \
         estimate takes one by one: {} over all passes, each pass counted as {A_PASS_COUNTS} more, and {} passes times different stations. Every reading is in the mean and the scatter of \
         its stretch. Taper, barrel, their uncertainty and the checks are of every reading by itself.",
        about(stretch_mm),
        grouped(most),
        grouped(most.saturating_mul(MOST_CUT / MOST_PLACES)),
    )
}

/// Whether the passes of a design are unlike, so that even together they have more than `most` places.
pub(super) fn too_many(design: &Design, most: usize) -> bool {
    design.logged.iter().filter(|l| l.log == Log::Diameters).map(|l| l.stations.len() + A_PASS_COUNTS).sum::<usize>() > most
}

/// What is said where passes cut alike were taken together, `together` at most.
pub(super) fn passes_together(together: usize, most: usize) -> String {
    format!(
        "For the causes alone, passes cut alike (one setting, edge and gauge, the same stations, direction, depth and feed, and the same before them) were taken together, up to \
         {} at a time: the log has more passes than their joint estimate takes one by one, which is {} stations over all passes, each pass counted as {A_PASS_COUNTS} more. Every reading is in \
         the mean of its passes and in the scatter about it. Taper, barrel, their uncertainty and the checks are of every reading by itself.",
        grouped(together),
        grouped(most),
    )
}

/// A length to two figures, `mm` with it.
fn about(mm: f64) -> String {
    let decimals = (1.0 - mm.log10().floor()).clamp(0.0, 9.0) as usize;
    format!("{mm:.decimals$} mm")
}

/// What is said of the causes of a trial whose passes are too many: each is not settled, and why.
///
/// Nothing is estimated from a part of the passes.
pub(super) fn not_estimated(trial: &Trial, most: usize) -> CausesOutcome {
    let reason = "the log has more passes, or passes less alike, than the joint estimate of the causes takes; one setting of it, with fewer passes, would tell";
    let cause = |setting, cause| CauseEstimate::without_figures(setting, cause, Verdict::NotSettled, reason.to_owned());
    let settings = trial.diameters.settings();
    CausesOutcome {
        causes: settings.iter().flat_map(|setting| CauseKind::ALL.map(|kind| cause(*setting, kind))).collect(),
        warnings: vec![format!(
            "The causes were not estimated: the log has more passes, each gauge of a pass counted apart, than their joint estimate takes, which is {} stations \
             over all passes, each pass counted as {A_PASS_COUNTS} more, once passes cut alike are taken together, and {} passes times different stations. Taper, barrel, their uncertainty and \
             the checks are those of the whole log. To learn the causes, give the readings of one setting in up to {} passes as a log of their own; each may be read \
             at as many stations, and as often, as you like. Of passes at the same stations, cut with the same depth and feed in the same order, up to {} may be given.",
            grouped(most),
            grouped(most_alike(most)),
            grouped(most / (A_PASS_COUNTS + FEWEST_PLACES)),
            grouped(most_alike(most) / FEWEST_PLACES),
        )],
        ..CausesOutcome::default()
    }
}

#[cfg(test)]
pub(super) mod tests;
