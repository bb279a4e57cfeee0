//! From posterior to words: estimate, probability of being material, verdict and its reason.

use super::design::Design;
use super::hyper::Values;
use super::information::{Information, force_sd, worst_place};
use super::integrate::Integration;
use super::posterior::{Posterior, spread, summary};
use super::unknowns::{Meaning, NEGLIGIBLE};
use super::values::{CauseEstimate, CauseKind, Verdict};
use crate::trial::{Direction, Holding, Quantity, Trial};
use rand::{Rng, SeedableRng};
use rand_chacha::ChaCha20Rng;

/// Probability of being material from which a cause is called present.
pub const PRESENT: f64 = 0.95;
/// Probability of being material up to which a cause is called absent.
pub const ABSENT: f64 = 0.05;
/// A cause is material above this share of the taper limit.
const SHARE_OF_LIMIT: f64 = 0.2;
/// Draws of the prior for its own bound.
const PRIOR_DRAWS: usize = 300;

/// Change of diameter above which a cause is material, µm: the larger of 20 % of the taper limit scaled to the tested length and `2u` of one
/// reading.
///
/// The tightest taper limit that applies to the machine counts, scaled by [`crate::trial::Limit::scaled_to`]. Without a limit `2u` alone decides.
#[must_use]
pub fn material_threshold_um(trial: &Trial, tested_length_mm: f64) -> f64 {
    let limit = trial
        .acceptance
        .limit
        .iter()
        .filter(|l| l.quantity == Quantity::Taper && l.applies_to(trial.machine.swing_mm))
        .map(|l| l.scaled_to(Some(tested_length_mm)))
        .fold(f64::INFINITY, f64::min);
    let resolution = 2.0 * trial.gauge.diameter.u_mm;
    1000.0 * if limit.is_finite() { resolution.max(SHARE_OF_LIMIT * limit) } else { resolution }
}

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

/// Index of the wear rate that the setting's reference pass had.
fn wear_index(design: &Design, setting: u32) -> Option<usize> {
    let reference = design.references.iter().find(|r| r.main && r.setting == setting)?;
    let column = reference.columns.iter().find(|c| c.cause == Some(CauseKind::ToolWear))?;
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
fn presence_probability(design: &Design, integration: &Integration, cause: CauseKind, setting: u32) -> f64 {
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

/// The 97.5 % bounds of the causes' peaks in a setting under their full priors alone, µm.
pub(super) fn prior_bounds_um(design: &Design, setting: u32, seed: u64) -> Vec<(CauseKind, f64)> {
    let Some(reference) = design.references.iter().find(|r| r.main && r.setting == setting) else {
        return CauseKind::ALL.map(|cause| (cause, f64::INFINITY)).to_vec();
    };
    let model = &design.model;
    let mut rng = ChaCha20Rng::seed_from_u64(seed);
    rng.set_stream(u64::MAX - 1);
    let draws: Vec<(Values, Vec<f64>)> = (0..PRIOR_DRAWS)
        .map(|_| {
            let x: Vec<f64> = (0..model.hypers.len()).map(|_| super::draws::standard_normal(&mut rng)).collect();
            let unknowns = model
                .unknowns
                .iter()
                .map(|u| {
                    let z = u.sd * super::draws::normal_of_uniform(rng.random::<f64>().max(1e-300));
                    if u.meaning.non_negative() { z.abs() } else { z }
                })
                .collect();
            (model.hypers.values(&x), unknowns)
        })
        .collect();
    let bound = |cause| {
        let mut curve = Vec::new();
        let peaks = draws.iter().map(|(values, unknowns)| {
            reference.curve_into(cause, values, unknowns, &mut curve);
            1000.0 * spread(&curve)
        });
        let mut peaks: Vec<f64> = peaks.collect();
        peaks.sort_by(f64::total_cmp);
        peaks.get((0.975 * PRIOR_DRAWS as f64) as usize).copied().unwrap_or(f64::INFINITY)
    };
    CauseKind::ALL.map(|cause| (cause, bound(cause))).to_vec()
}

/// The threshold of a setting, µm.
pub(super) fn threshold_um(trial: &Trial, design: &Design, setting: u32) -> f64 {
    let reference = design.references.iter().find(|r| r.main && r.setting == setting);
    reference.map_or(0.0, |r| material_threshold_um(trial, r.stations[r.ends.1] - r.stations[r.ends.0]))
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
    let mut own: Vec<CauseEstimate> = CauseKind::ALL
        .into_iter()
        .map(|cause| {
            let blank = |reason: String| CauseEstimate::without_figures(setting, cause, Verdict::NotApplicable, reason);
            if let Some(reason) = ruled_out(trial, design, cause) {
                return blank(reason);
            }
            let drawn = posterior.contributions.get(&(setting, cause));
            let own = parameter(design, posterior, cause, setting);
            let (Some(drawn), Some(own)) = (drawn, own.as_deref().and_then(summary)) else {
                return blank("no pass of this setting can show it".to_string());
            };
            let material = drawn.peak_um.iter().filter(|p| **p > threshold).count() as f64 / drawn.peak_um.len().max(1) as f64;
            let evidence = information.own_evidence(design, cause, setting);
            let bound = bounds.iter().find(|b| b.0 == cause).map_or(f64::INFINITY, |b| b.1);
            let (verdict, mut reason) = judge(cause, material, threshold, evidence, bound);
            if verdict == Verdict::NotSettled && !evidence && cause == CauseKind::ToolWear && cut_both_ways(trial, setting) {
                reason = WEAR_OR_WARMING.to_owned();
            }
            let prior = prior_variance(trial, design, cause, setting);
            let removed = if prior > 0.0 { (1.0 - own.standard_uncertainty.powi(2) / prior).clamp(0.0, 1.0) } else { 0.0 };
            CauseEstimate {
                estimate: Some(own.estimate),
                standard_uncertainty: Some(own.standard_uncertainty),
                interval95: Some(own.interval95),
                contribution_um: summary(&drawn.end_difference_um),
                peak_um: summary(&drawn.peak_um),
                presence_probability: Some(presence_probability(design, integration, cause, setting)),
                material_probability: Some(material),
                material_threshold_um: Some(threshold),
                variance_removed: Some(removed),
                verdict,
                ..blank(reason)
            }
        })
        .collect();
    if own.iter().any(|c| c.cause == CauseKind::WayWear && c.verdict == Verdict::Present) {
        own.iter_mut().for_each(count_straight_part);
    }
    own
}

/// Says of worn ways that are present, and of the causes that take up their straight part, where that part is counted.
fn count_straight_part(cause: &mut CauseEstimate) {
    if cause.verdict == Verdict::NotApplicable {
        return;
    }
    match cause.cause {
        CauseKind::WayWear => {
            cause.reason.push_str("; only its bend is meant: its straight part cannot be told from headstock and bed, and is counted there")
        }
        CauseKind::HeadstockYaw | CauseKind::BedTwist => cause.reason.push_str("; the straight part of the worn ways is counted here too"),
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

/// Verdict and reason.
fn judge(cause: CauseKind, material: f64, threshold: f64, evidence: bool, bound: f64) -> (Verdict, String) {
    let percent = percent(material);
    if evidence && material >= PRESENT {
        let reason = format!("it changes the diameter by more than {threshold:.1} µm with a probability of {percent}");
        return (Verdict::Present, reason);
    }
    if evidence && material <= ABSENT {
        let reason = format!("too small to matter: the probability of more than {threshold:.1} µm is {percent}");
        return (Verdict::Absent, reason);
    }
    if !evidence {
        if material <= ABSENT && bound < threshold {
            let reason = format!("too small to matter by physics: {bound:.1} µm at the most, below {threshold:.1} µm");
            return (Verdict::Absent, reason);
        }
        return (Verdict::NotSettled, format!("not separable: {}", would_tell(cause)));
    }
    let reason =
        format!("more than {threshold:.1} µm has a probability of {percent}, neither 95 % nor 5 %: the readings are not sure enough");
    (Verdict::NotSettled, reason)
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
fn would_tell(cause: CauseKind) -> &'static str {
    match cause {
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
        assert_eq!(judge(CauseKind::HeadstockYaw, 0.99, 4.0, true, far).0, Verdict::Present);
        assert_eq!(judge(CauseKind::HeadstockYaw, 0.99, 4.0, false, far).0, Verdict::NotSettled);
        assert_eq!(judge(CauseKind::ToolWear, 0.01, 4.0, true, far).0, Verdict::Absent);
        assert_eq!(judge(CauseKind::ToolWear, 0.01, 4.0, false, far).0, Verdict::NotSettled);
        assert_eq!(judge(CauseKind::ToolWear, 0.01, 4.0, false, 2.0).0, Verdict::Absent);
        assert_eq!(judge(CauseKind::ToolWear, 0.5, 4.0, true, far).0, Verdict::NotSettled);
    }

    #[test]
    fn the_bounds_themselves_decide() {
        let far = f64::INFINITY;
        assert_eq!(judge(CauseKind::BedTwist, PRESENT, 4.0, true, far).0, Verdict::Present);
        assert_eq!(judge(CauseKind::BedTwist, ABSENT, 4.0, true, far).0, Verdict::Absent);
        assert_eq!(judge(CauseKind::BedTwist, ABSENT, 4.0, false, 3.9).0, Verdict::Absent);
        assert_eq!(judge(CauseKind::BedTwist, 0.06, 4.0, false, 3.9).0, Verdict::NotSettled);
        assert_eq!(judge(CauseKind::BedTwist, 0.01, 4.0, false, 4.0).0, Verdict::NotSettled, "as much as would matter");
    }

    #[test]
    fn no_probability_is_called_certain() {
        for (probability, words) in [
            (1.0, "more than 99 %"),
            (0.996, "more than 99 %"),
            (0.994, "99 %"),
            (0.5, "50 %"),
            (0.006, "1 %"),
            (0.004, "less than 1 %"),
            (0.0, "less than 1 %"),
        ] {
            assert_eq!(percent(probability), words);
        }
    }

    /// A fifth of the tightest limit over the tested length, or twice the gauge's u where that is more.
    #[test]
    fn what_matters_is_a_fifth_of_the_tightest_limit_or_twice_the_gauge() {
        let mut trial = super::super::fixture::bar(Holding::Chuck);
        trial.gauge.diameter.u_mm = 0.001;
        let limit = |quantity, limit_mm| crate::trial::Limit {
            criterion: None,
            quantity,
            limit_mm,
            over_mm: Some(300.0),
            sense: crate::trial::Sense::Either,
            floor_mm: 0.001,
            clause: None,
            source: None,
            provenance: None,
            swing_from_mm: None,
            swing_to_mm: None,
        };
        let near = |found: f64, expected: f64| (found - expected).abs() < 1e-9;
        assert!(near(material_threshold_um(&trial, 150.0), 2.0));
        trial.acceptance.limit = vec![limit(Quantity::Taper, 0.06), limit(Quantity::Taper, 0.04), limit(Quantity::Barrel, 0.001)];
        assert!(near(material_threshold_um(&trial, 150.0), 4.0), "0.2 · 0.04 · 150/300");
        assert!(near(material_threshold_um(&trial, 300.0), 8.0));
        assert!(near(material_threshold_um(&trial, 60.0), 2.0), "1.6 µm are less than the gauge sees");
        // a limit for other machines does not count
        trial.machine.swing_mm = Some(200.0);
        trial.acceptance.limit[1].swing_from_mm = Some(500.0);
        assert!(near(material_threshold_um(&trial, 150.0), 6.0));
    }
}
