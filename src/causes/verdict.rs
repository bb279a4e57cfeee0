//! From posterior to words: estimate, probability of being material, verdict and its reason.

mod reasons;
mod thresholds;

pub use thresholds::material_threshold_um;
pub(super) use thresholds::{prior_bounds_um, prior_end_bound_um, threshold_um};

use super::design::Design;
use super::information::{Information, force_sd, worst_place};
use super::integrate::Integration;
use super::level_bend::level_bend;
use super::posterior::{Posterior, summary};
use super::reference::Reference;
use super::unknowns::{Meaning, NEGLIGIBLE};
use super::values::{CauseEstimate, CauseKind, Verdict};
use crate::quantities::Sentence;
use crate::trial::{Direction, Holding, Trial};
use reasons::judge;

/// Probability of being material from which a cause is called present.
pub const PRESENT: f64 = 0.95;
/// Probability of being material up to which a cause is called absent.
pub const ABSENT: f64 = 0.05;

/// Why a cause cannot act or be seen at all in this trial; `None` when it can.
pub(super) fn ruled_out(trial: &Trial, design: &Design, cause: CauseKind) -> Option<String> {
    let holding = trial.bar.holding;
    match cause {
        CauseKind::HeadstockYaw if holding == Holding::Centres => {
            Some("between centres the bar runs from centre to centre, whatever way the spindle points".to_string())
        }
        CauseKind::BedTwist if holding == Holding::Centres => {
            Some("between centres the tailstock stands on the same bed and swings with the tool".to_string())
        }
        CauseKind::TailstockOffset if holding == Holding::Chuck => Some("the bar was held in the chuck alone; no centre supported it".to_string()),
        CauseKind::ThermalDrift if !design.timed => {
            Some("the log has neither the time of cutting nor the spindle speed, so nobody knows how long the cut took".to_string())
        }
        CauseKind::WayWear if design.ways.is_none() => Some(
            "with fewer than three stations there is only a straight line, and the straight part of worn ways cannot be told from yaw and twist"
                .to_string(),
        ),
        _ => None,
    }
}

/// The draws of a cause's own parameter in a setting.
fn parameter(design: &Design, posterior: &Posterior, cause: CauseKind, setting: u32) -> Option<Vec<f64>> {
    let unknown = |f: &dyn Fn(&Meaning) -> bool| {
        let at = design.model.unknowns.iter().position(|u| f(&u.meaning))?;
        Some(posterior.draws.iter().map(|d| d.unknowns[at]).collect::<Vec<f64>>())
    };
    match cause {
        CauseKind::HeadstockYaw => unknown(&|m| *m == Meaning::Yaw),
        CauseKind::BedTwist => posterior.twist_mm_per_m_per_m.get(&setting).cloned(),
        CauseKind::TailstockOffset => posterior.offset_mm.get(&setting).cloned(),
        CauseKind::ThermalDrift => unknown(&|m| *m == Meaning::Drift),
        CauseKind::Deflection => Some(posterior.force_factor.clone()),
        CauseKind::ToolWear => {
            let at = wear_index(design, setting)?;
            Some(posterior.draws.iter().map(|d| d.unknowns[at]).collect())
        }
        CauseKind::WayWear => {
            let (ways, z) = design.ways.as_ref().zip(worst_place(design, setting))?;
            let weights: Vec<(usize, f64)> = design
                .model
                .unknowns
                .iter()
                .enumerate()
                .filter_map(|(u, unknown)| match unknown.meaning {
                    Meaning::WayWear { index } => Some((u, 1000.0 * ways.value(index, z))),
                    _ => None,
                })
                .collect();
            Some(posterior.draws.iter().map(|d| weights.iter().map(|(u, w)| w * d.unknowns[*u]).sum()).collect())
        }
    }
}

/// The pass for which the causes of a setting are told.
fn reference(design: &Design, setting: u32) -> Option<&Reference> {
    design.references.iter().find(|r| r.main && r.setting == setting)
}

/// Index of the wear rate that the setting's reference pass had.
fn wear_index(design: &Design, setting: u32) -> Option<usize> {
    let column = reference(design, setting)?.columns.iter().find(|c| c.cause == Some(CauseKind::ToolWear))?;
    column.targets.first().map(|(t, _)| *t)
}

/// Prior variance of the same parameter.
fn prior_variance(trial: &Trial, design: &Design, cause: CauseKind, setting: u32) -> f64 {
    let prior = &trial.prior;
    let presence = design.model.presence;
    let signed = |sd: f64| sd * sd * (presence + (1.0 - presence) * NEGLIGIBLE * NEGLIGIBLE);
    match cause {
        CauseKind::HeadstockYaw => signed(prior.yaw_mm_per_m),
        CauseKind::BedTwist => {
            let gain = design.chains.links.get(&setting).map_or(0.0, |l| l.gain);
            let log_variance = prior.move_gain_factor.max(1.0).ln().powi(2);
            let of_gain = prior.move_gain.powi(2) * log_variance.exp() * log_variance.exp_m1();
            signed(prior.twist_mm_per_m_per_m) + gain * gain * of_gain
        }
        CauseKind::TailstockOffset => signed(prior.offset_mm),
        CauseKind::ThermalDrift => signed(prior.thermal_drift_um_per_min),
        CauseKind::Deflection => force_sd(prior.force_factor).powi(2),
        CauseKind::ToolWear => {
            let mean = prior.wear_um_per_m * (2.0 / std::f64::consts::PI).sqrt() * (presence + (1.0 - presence) * NEGLIGIBLE);
            signed(prior.wear_um_per_m) - mean * mean
        }
        CauseKind::WayWear => {
            let size = design
                .ways
                .as_ref()
                .zip(worst_place(design, setting))
                .map_or(0.0, |(ways, z)| (0..ways.len()).map(|c| (1000.0 * ways.value(c, z)).powi(2)).sum::<f64>().sqrt());
            signed(size)
        }
    }
}

/// Posterior probability that a cause of a setting is more than negligible.
///
/// The twist of a setting that hangs on another by a move has no part of its own that is negligible or full: the mean over its draws of the weight
/// that the full part has at each, `pφ(τ/σ)/σ` of `pφ(τ/σ)/σ + (1 − p)φ(τ/0.05σ)/0.05σ`, of which the weight of the full part is the mean where there was no move.
fn presence_probability(
    trial: &Trial,
    design: &Design,
    integration: &Integration,
    posterior: &Posterior,
    cause: CauseKind,
    setting: u32,
) -> f64 {
    let link = design.chains.links.get(&setting).filter(|link| cause == CauseKind::BedTwist && link.gain != 0.0);
    if let Some(twist) = link.and_then(|_| posterior.twist_mm_per_m_per_m.get(&setting)).filter(|twist| !twist.is_empty()) {
        let sum: f64 = twist.iter().map(|twist| full_weight(twist / trial.prior.twist_mm_per_m_per_m, design.model.presence)).sum();
        return (sum / twist.len() as f64).clamp(0.0, 1.0);
    }
    let root = design.chains.links.get(&setting).map(|l| l.root);
    let flag = design.model.unknowns.iter().find_map(|u| {
        let own = match &u.meaning {
            Meaning::Twist { root: r } => cause == CauseKind::BedTwist && Some(*r) == root,
            Meaning::Offset { setting: s } => cause == CauseKind::TailstockOffset && *s == setting,
            m => m.cause() == Some(cause),
        };
        if own { u.flag } else { None }
    });
    match flag {
        Some(flag) => {
            let sum: f64 = integration.subset_probability.iter().enumerate().filter(|(s, _)| s >> flag & 1 == 1).map(|(_, p)| p).sum();
            sum.clamp(0.0, 1.0)
        }
        None => 1.0,
    }
}

/// Weight of the full part at a value `z`, in its standard deviations, of the mixture of full and negligible part with presence `p`.
pub(super) fn full_weight(z: f64, presence: f64) -> f64 {
    let log_odds = ((1.0 - presence) / (presence * NEGLIGIBLE)).ln() + 0.5 * z * z * (1.0 - NEGLIGIBLE.powi(-2));
    1.0 / (1.0 + log_odds.exp())
}

/// All seven causes of a setting; `bounds` are the 97.5 % bounds of their peaks by their priors alone, µm.
pub(super) fn estimates(
    trial: &Trial,
    design: &Design,
    integration: &Integration,
    posterior: &Posterior,
    information: &Information,
    setting: u32,
    bounds: &[(CauseKind, f64)],
) -> Vec<CauseEstimate> {
    let threshold = threshold_um(trial, design, setting);
    let levelled = trial.levels.iter().any(|level| level.setting == setting);
    let mut own: Vec<CauseEstimate> = CauseKind::ALL
        .into_iter()
        .map(|cause| {
            let blank = |reason: Sentence| CauseEstimate::without_figures(setting, cause, Verdict::NotApplicable, reason);
            if let Some(reason) = ruled_out(trial, design, cause) {
                return blank(reason.into());
            }
            let drawn = posterior.contributions.get(&(setting, cause));
            let own = parameter(design, posterior, cause, setting);
            let (Some(drawn), Some(own)) = (drawn, own.as_deref().and_then(summary)) else {
                return blank("no pass of this setting can show it".into());
            };
            let material = drawn.peak_um.iter().filter(|p| **p > threshold).count() as f64 / drawn.peak_um.len().max(1) as f64;
            let evidence = information.own_evidence(design, cause, setting);
            let bound = bounds.iter().find(|b| b.0 == cause).map_or(f64::INFINITY, |b| b.1);
            let (verdict, mut reason) = judge(cause, material, threshold, evidence, bound, levelled);
            if verdict == Verdict::NotSettled && !evidence && cause == CauseKind::ToolWear && cut_both_ways(trial, setting) {
                reason = WEAR_OR_WARMING.into();
            }
            let prior = prior_variance(trial, design, cause, setting);
            let removed = if prior > 0.0 { (1.0 - own.standard_uncertainty.powi(2) / prior).clamp(0.0, 1.0) } else { 0.0 };
            CauseEstimate {
                estimate: Some(own.estimate),
                standard_uncertainty: Some(own.standard_uncertainty),
                interval95: Some(own.interval95),
                contribution_um: summary(&drawn.end_difference_um),
                peak_um: summary(&drawn.peak_um),
                presence_probability: Some(presence_probability(trial, design, integration, posterior, cause, setting)),
                material_probability: Some(material),
                material_threshold_um: Some(threshold),
                variance_removed: Some(removed),
                verdict,
                ..blank(reason)
            }
        })
        .collect();
    let ways = own.iter().find(|c| c.cause == CauseKind::WayWear && c.peak_um.is_some()).map(|c| c.verdict);
    let worn = ways == Some(Verdict::Present);
    if ways.is_some() {
        own.iter_mut().for_each(|cause| count_straight_part(cause, trial.bar.holding, worn));
    }
    let bend = reference(design, setting)
        .filter(|_| trial.bar.holding != Holding::Centres)
        .and_then(|r| level_bend(trial, setting, *r.stations.first()?, *r.stations.last()?));
    if let Some(bend) = bend {
        let straight = |cause: CauseKind| matches!(cause, CauseKind::HeadstockYaw | CauseKind::BedTwist);
        // ways whose bend the diameters show are worn, whatever their straight part is
        let unsettled = |cause: CauseKind| straight(cause) || cause == CauseKind::WayWear && !worn;
        let settled = |c: &&mut CauseEstimate| matches!(c.verdict, Verdict::Present | Verdict::Absent) && unsettled(c.cause);
        for cause in own.iter_mut().filter(settled) {
            cause.verdict = Verdict::NotSettled;
            cause.reason = format!("{}: the straight part of worn ways cannot be told from bed and headstock", bend.words()).into();
        }
    }
    own
}

/// Says of settled ways, whose bend alone is seen, and of the causes that take up the straight part of their wear, where that part is counted.
fn count_straight_part(cause: &mut CauseEstimate, holding: Holding, worn: bool) {
    let settled = matches!(cause.verdict, Verdict::Present | Verdict::Absent);
    if cause.verdict == Verdict::NotApplicable || !worn && !settled {
        return;
    }
    let takes = match holding {
        Holding::Chuck => "headstock and bed",
        Holding::Centres => "the tailstock",
        Holding::ChuckAndCentre => "headstock, bed and tailstock",
    };
    match (cause.cause, worn) {
        (CauseKind::WayWear, true) => {
            cause.reason.push_str(&format!("; only its bend is meant: its straight part cannot be told from {takes}, and is counted there"))
        }
        (CauseKind::WayWear, false) => cause
            .reason
            .push_str(&format!("; only its bend is meant: a straight part cannot be told from {takes}, and would be counted there")),
        (CauseKind::HeadstockYaw | CauseKind::BedTwist | CauseKind::TailstockOffset, true) => {
            cause.reason.push_str("; the straight part of the worn ways is counted here too")
        }
        (CauseKind::HeadstockYaw | CauseKind::BedTwist | CauseKind::TailstockOffset, false) => {
            cause.reason.push_str("; if ways are worn, the straight part of that is counted here too")
        }
        _ => {}
    }
}

/// Why wear stays open in a log cut both ways: what turns over with the cut is wear less warming.
const WEAR_OR_WARMING: &str =
    "not separable: what turns over with the cut is wear less warming; unlike feeds, or a dwell before measuring, would tell";

/// Whether a setting has readings of passes cut each way.
fn cut_both_ways(trial: &Trial, setting: u32) -> bool {
    let cut = |direction| {
        trial.diameters.iter().any(|r| r.setting == setting && r.excluded.is_none() && r.direction == direction && r.depth_mm > 0.0)
    };
    cut(Direction::ToHeadstock) && cut(Direction::ToTailstock)
}
