//! What each cause truly contributes to a setting.

use super::readings::{PARTS, TrueDiameter};
use crate::trial::{Direction, Trial};

/// The true contribution of one cause in one setting.
#[derive(Debug, Clone, PartialEq)]
pub struct TrueContribution {
    /// State of the feet.
    pub setting: u32,
    /// The cause, in the result file's words.
    pub cause: &'static str,
    /// Its curve at the last station less that at the first, µm of diameter.
    pub contribution_um: f64,
    /// Largest less smallest of its curve, µm of diameter.
    pub peak_um: f64,
}

/// The true contributions of all seven causes in every setting, as the result file defines them.
///
/// Taken from the lightest pass cut to the headstock with a depth above 0 (the first pass where there is none such), over the setting's stations.
#[must_use]
pub fn true_contributions(trial: &Trial, truths: &[TrueDiameter]) -> Vec<TrueContribution> {
    let mut settings: Vec<u32> = trial.diameters.iter().map(|reading| reading.setting).collect();
    settings.sort_unstable();
    settings.dedup();
    let mut contributions = Vec::new();
    for setting in settings {
        let Some(pass) = reference_pass(trial, setting) else { continue };
        let mut curve: Vec<&TrueDiameter> =
            truths.iter().filter(|truth| truth.point.setting == setting && truth.point.pass == pass).collect();
        curve.sort_by(|a, b| a.point.station_mm.total_cmp(&b.point.station_mm));
        for (part, cause) in PARTS.into_iter().enumerate() {
            let values: Vec<f64> = curve.iter().filter_map(|truth| truth.parts_um.get(part).copied()).collect();
            let (Some(first), Some(last)) = (values.first(), values.last()) else { continue };
            let highest = values.iter().copied().fold(f64::NEG_INFINITY, f64::max);
            let lowest = values.iter().copied().fold(f64::INFINITY, f64::min);
            contributions.push(TrueContribution { setting, cause, contribution_um: last - first, peak_um: highest - lowest });
        }
    }
    contributions
}

fn reference_pass(trial: &Trial, setting: u32) -> Option<u32> {
    let of_setting = || trial.diameters.iter().filter(move |reading| reading.setting == setting);
    of_setting()
        .filter(|reading| reading.direction == Direction::ToHeadstock && reading.depth_mm > 0.0)
        .min_by(|a, b| a.depth_mm.total_cmp(&b.depth_mm).then(a.feed_mm_per_rev.total_cmp(&b.feed_mm_per_rev)).then(a.pass.cmp(&b.pass)))
        .or_else(|| of_setting().min_by_key(|reading| reading.pass))
        .map(|reading| reading.pass)
}
