//! Estimates and verdicts of drawn posteriors: parameters, prior variances, probabilities, reasons.

use super::super::information::{information, worst_place};
use super::super::integrate::Integration;
use super::super::unknowns::Meaning;
use super::super::values::{CauseEstimate, CauseKind, Verdict};
use super::super::verdict::{estimates, full_weight, prior_bounds_um, ruled_out, threshold_um};
use super::{Design, Posterior, close, designed, fixture, medians, posterior_of, reading};
use crate::trial::*;

/// Three draws around the medians; unknown number `u` is −1, 2 and 5 times a thousandth of `u + 1`.
pub(super) fn drawn(design: &Design) -> Posterior {
    let unknowns = |k: f64| (0..design.model.unknowns.len()).map(|u| 0.001 * k * (1.0 + u as f64)).collect();
    let mut posterior = posterior_of(design, [-1.0, 2.0, 5.0].map(|k| (medians(design), unknowns(k))).to_vec());
    posterior.force_factor = vec![0.5, 1.0, 3.0];
    for (setting, link) in &design.chains.links {
        posterior.twist_mm_per_m_per_m.insert(*setting, vec![0.1, 0.2, 0.6 + link.gain]);
        posterior.offset_mm.insert(*setting, vec![0.01, 0.04, 0.01 + 0.03 * f64::from(*setting)]);
    }
    posterior
}

/// Subsets as probable as their number plus one.
pub(super) fn integration(design: &Design) -> Integration {
    let subsets = 1 << design.model.flags;
    let total: f64 = (0..subsets).map(|s| f64::from(s) + 1.0).sum();
    let subset_probability = (0..subsets).map(|s| (f64::from(s) + 1.0) / total).collect();
    Integration { points: Vec::new(), subset_probability, pareto_k: None, effective_points: 1.0 }
}

fn estimated(trial: &Trial, design: &Design, posterior: &Posterior, setting: u32) -> Vec<CauseEstimate> {
    let information = information(design, &medians(design), trial.prior.force_factor, |_| true);
    let bounds = CauseKind::ALL.map(|cause| (cause, f64::INFINITY));
    estimates(trial, design, &integration(design), posterior, &information, setting, &bounds)
}

/// Mean and standard deviation of three numbers.
fn moments(v: [f64; 3]) -> (f64, f64) {
    let mean = v.iter().sum::<f64>() / 3.0;
    (mean, (v.iter().map(|v| (v - mean).powi(2)).sum::<f64>() / 3.0).sqrt())
}

#[test]
fn parameters_and_what_the_log_removed_of_their_variance() {
    for holding in [Holding::Chuck, Holding::ChuckAndCentre] {
        let mut trial = fixture::everything(holding);
        (trial.prior.presence, trial.prior.yaw_mm_per_m, trial.prior.wear_um_per_m) = (0.6, 0.3, 0.4);
        let design = designed(&trial);
        let posterior = drawn(&design);
        let index = |wanted: &dyn Fn(&Meaning) -> bool| design.model.unknowns.iter().position(|u| wanted(&u.meaning)).unwrap();
        let at = |u: usize| [-1.0, 2.0, 5.0].map(|k| 0.001 * k * (1.0 + u as f64));
        // a normal of full and negligible part, a twentieth: sd²·(0.6 + 0.4/400)
        let signed = |sd: f64| 0.601 * sd * sd;
        let s2 = 1.5_f64.ln().powi(2);
        for setting in [0, 1] {
            let list = estimated(&trial, &design, &posterior, setting);
            let gain = design.chains.links[&setting].gain;
            assert!((gain != 0.0) == (setting == 1));
            let ways = design.ways.as_ref().unwrap();
            let z = worst_place(&design, setting).unwrap();
            let size = |c: usize| 1000.0 * ways.value(c, z);
            let of_ways = |k: f64| {
                (0..ways.len()).map(|c| size(c) * 0.001 * k * (1.0 + index(&|m| *m == Meaning::WayWear { index: c }) as f64)).sum::<f64>()
            };
            let wear = index(&|m| matches!(m, Meaning::Wear { .. }));
            let half_mean = 0.4 * (2.0 / std::f64::consts::PI).sqrt() * (0.6 + 0.4 / 20.0);
            let expected = [
                (CauseKind::HeadstockYaw, at(index(&|m| *m == Meaning::Yaw)), signed(0.3)),
                (CauseKind::BedTwist, [0.1, 0.2, 0.6 + gain], signed(0.4) + gain * gain * 0.64 * s2.exp() * s2.exp_m1()),
                (CauseKind::ToolWear, at(wear), signed(0.4) - half_mean * half_mean),
                (CauseKind::Deflection, [0.5, 1.0, 3.0], 2.0_f64.ln().powi(2).exp() * 2.0_f64.ln().powi(2).exp_m1()),
                (CauseKind::WayWear, [-1.0, 2.0, 5.0].map(of_ways), signed((0..ways.len()).map(|c| size(c).powi(2)).sum::<f64>().sqrt())),
                (CauseKind::TailstockOffset, [0.01, 0.04, 0.01 + 0.03 * f64::from(setting)], signed(0.05)),
                (CauseKind::ThermalDrift, at(index(&|m| *m == Meaning::Drift)), signed(0.2)),
            ];
            let mut removed = 0;
            for (cause, draws, prior) in expected {
                let own = list.iter().find(|c| c.cause == cause).unwrap();
                assert_eq!((own.setting, own.unit), (setting, cause.unit()));
                if cause == CauseKind::TailstockOffset && holding == Holding::Chuck {
                    assert!(own.verdict == Verdict::NotApplicable && own.estimate.is_none() && own.reason.contains("no centre"));
                    continue;
                }
                let (mean, sd) = moments(draws);
                close(own.estimate.unwrap(), mean, 1e-9);
                close(own.standard_uncertainty.unwrap(), sd, 1e-9);
                let left = (1.0 - sd * sd / prior).clamp(0.0, 1.0);
                assert!((own.variance_removed.unwrap() - left).abs() < 1e-9, "{holding:?} {setting} {cause:?}: {own:?} {left}");
                removed += usize::from(left > 0.0);
            }
            assert!(removed >= 4, "{holding:?} {setting}: {removed} priors are wider than the draws");
        }
    }
}

#[test]
fn probabilities_of_presence_and_of_mattering() {
    let trial = fixture::everything(Holding::ChuckAndCentre);
    let design = designed(&trial);
    let mut posterior = drawn(&design);
    for (at, (_, contribution)) in posterior.contributions.iter_mut().enumerate() {
        // two gauge uncertainties are 4 µm; what is exactly that does not exceed it
        contribution.peak_um = vec![4.0, 4.1, if at % 2 == 0 { 3.0 } else { 5.0 }];
    }
    let probabilities = integration(&design).subset_probability;
    for setting in [0, 1] {
        assert_eq!(threshold_um(&trial, &design, setting), 4.0);
        for own in estimated(&trial, &design, &posterior, setting) {
            let at = posterior.contributions.keys().position(|key| *key == (setting, own.cause)).unwrap();
            close(own.material_probability.unwrap(), if at % 2 == 0 { 1.0 / 3.0 } else { 2.0 / 3.0 }, 1e-12);
            assert_eq!(own.material_threshold_um, Some(4.0));
            let flags: Vec<usize> = design
                .model
                .unknowns
                .iter()
                .filter(|u| match u.meaning {
                    Meaning::Twist { root } => own.cause == CauseKind::BedTwist && root == 0,
                    Meaning::Offset { setting: s } => own.cause == CauseKind::TailstockOffset && s == setting,
                    _ => u.meaning.cause() == Some(own.cause),
                })
                .filter_map(|u| u.flag)
                .collect();
            // a bed that a move has turned has no part of its own: the weight of the wide one of two normal densities, at each draw
            let moved = (setting, own.cause) == (1, CauseKind::BedTwist);
            let density = |x: f64, sd: f64| (-0.5 * (x / sd).powi(2)).exp() / sd;
            let weight = |x: &f64| {
                let [full, negligible] = [(0.5, 1.0), (0.5, 0.05)].map(|(p, of)| p * density(*x, of * trial.prior.twist_mm_per_m_per_m));
                full / (full + negligible)
            };
            let twist = &posterior.twist_mm_per_m_per_m[&setting];
            let wanted = match flags.first() {
                Some(_) if moved => twist.iter().map(weight).sum::<f64>() / twist.len() as f64,
                Some(flag) => probabilities.iter().enumerate().filter(|(s, _)| (s >> flag) % 2 == 1).map(|(_, p)| p).sum::<f64>(),
                None => 1.0,
            };
            close(own.presence_probability.unwrap(), wanted, 1e-12);
            assert_eq!(flags.is_empty(), own.cause == CauseKind::Deflection);
        }
    }
}

/// With as much for each part, 1/21 at 0, where the narrow one is twenty times as high; at four of its deviations `φ(0.2)` beside `20·φ(4)`: 0.391 043 and 0.002 677.
#[test]
fn the_weight_of_the_full_part_at_a_value() {
    close(full_weight(0.0, 0.5), 1.0 / 21.0, 1e-12);
    close(full_weight(0.2, 0.5), 0.391_042_69 / (0.391_042_69 + 20.0 * 1.338_302_3e-4), 1e-8);
    close(full_weight(-3.0, 0.5), 1.0, 1e-12);
    assert_eq!([full_weight(0.0, 1.0), full_weight(5.0, 0.0)], [1.0, 0.0], "one of the two alone");
}

/// 97.5 % of half-normals lie below 2.2414 standard deviations; 300 draws find that within some 6 %.
#[test]
fn bounds_of_the_priors() {
    let trial = fixture::everything(Holding::Chuck);
    let design = designed(&trial);
    let reference = design.references.iter().find(|r| r.main && r.setting == 0).unwrap();
    let length_m = 1e-3 * (reference.stations[reference.stations.len() - 1] - reference.stations[0]);
    let found = prior_bounds_um(&design, 0, 1);
    let bound = |cause: CauseKind| found.iter().find(|b| b.0 == cause).unwrap().1;
    let near = |found: f64, expected: f64| (found / expected - 1.0).abs() < 0.2;
    // 2ψz on the diameter, and 2hτz with an arm of 143.75 mm
    assert!(near(bound(CauseKind::HeadstockYaw), 2.2414 * 0.08 * 2.0 * 1000.0 * length_m), "{found:?}");
    assert!(near(bound(CauseKind::BedTwist), 2.2414 * 0.4 * 2.0 * 143.75 * length_m * 1.03), "{found:?}");
    assert_eq!(bound(CauseKind::TailstockOffset), 0.0);
    assert!(prior_bounds_um(&design, 0, 1) == found && prior_bounds_um(&design, 0, 2) != found);
    assert!(prior_bounds_um(&design, 8, 1).iter().all(|b| b.1 == f64::INFINITY));
    let mut wide = trial;
    (wide.prior.yaw_mm_per_m, wide.prior.wear_um_per_m) = (0.8, 120.0);
    let wide = prior_bounds_um(&designed(&wide), 0, 1);
    let wide = |cause: CauseKind| wide.iter().find(|b| b.0 == cause).unwrap().1;
    close(wide(CauseKind::HeadstockYaw), 10.0 * bound(CauseKind::HeadstockYaw), 1e-9);
    assert!(wide(CauseKind::ToolWear) > 5.0 * bound(CauseKind::ToolWear));
}

/// A log of diameters alone over 12 stations, cut one way or both.
pub(super) fn passes(cuts: &[(Direction, f64)]) -> Trial {
    let mut trial = fixture::bar(Holding::Chuck);
    let mut rows = Vec::new();
    for (pass, (direction, depth_mm)) in (1..).zip(cuts) {
        for i in 0..12 {
            let row = rows.len() as u64 + 2;
            rows.push(DiameterReading { depth_mm: *depth_mm, ..reading(row, 0, pass, *direction, 10.0 + 18.0 * f64::from(i), 38.0) });
        }
    }
    trial.diameters = rows.into();
    trial
}

fn reason(trial: &Trial, cause: CauseKind) -> (Verdict, String) {
    let design = designed(trial);
    let posterior = drawn(&design);
    let own = estimated(trial, &design, &posterior, 0).into_iter().find(|c| c.cause == cause).unwrap();
    (own.verdict, own.reason.to_string())
}

#[test]
fn wear_less_warming_is_said_of_logs_cut_both_ways() {
    use Direction::{ToHeadstock, ToTailstock};
    let says = |trial: &Trial| {
        let (verdict, reason) = reason(trial, CauseKind::ToolWear);
        assert!(verdict == Verdict::NotSettled && reason.starts_with("not separable"), "{reason}");
        reason.contains("wear less warming")
    };
    let both = passes(&[(ToHeadstock, 0.05), (ToTailstock, 0.05)]);
    assert!(says(&both) && !says(&passes(&[(ToHeadstock, 0.05)])));
    assert!(!says(&passes(&[(ToHeadstock, 0.05), (ToTailstock, 0.0)])), "a return stroke cuts nothing");
    let mut excluded = both.clone();
    excluded.diameters.change(|_, r| r.excluded = (r.direction == ToTailstock).then(|| "slip".into()));
    assert!(!says(&excluded));
    let mut elsewhere = both;
    elsewhere.diameters.change(|_, r| r.setting = u32::from(r.direction == ToTailstock));
    assert!(!says(&elsewhere));
}

#[test]
fn what_cannot_act_or_be_seen_is_told() {
    let why = |change: &dyn Fn(&mut Trial), cause: CauseKind| {
        let mut trial = passes(&[(Direction::ToHeadstock, 0.05)]);
        change(&mut trial);
        ruled_out(&trial, &designed(&trial), cause)
    };
    let centres = |t: &mut Trial| t.bar.holding = Holding::Centres;
    let propped = |t: &mut Trial| t.bar.holding = Holding::ChuckAndCentre;
    let nothing = |_: &mut Trial| ();
    use CauseKind::{BedTwist, HeadstockYaw, TailstockOffset, ThermalDrift, ToolWear, WayWear};
    assert!(why(&centres, HeadstockYaw).unwrap().contains("whatever way the spindle points"));
    assert!(why(&centres, BedTwist).unwrap().contains("swings with the tool"));
    assert!(why(&nothing, TailstockOffset).unwrap().contains("chuck alone"));
    assert!([HeadstockYaw, BedTwist, TailstockOffset].iter().all(|cause| why(&propped, *cause).is_none()));
    assert!(why(&centres, TailstockOffset).is_none() && why(&nothing, HeadstockYaw).is_none() && why(&nothing, BedTwist).is_none());
    assert!(
        why(&|t| t.cutting.rpm = None, ThermalDrift).unwrap().contains("how long the cut took") && why(&nothing, ThermalDrift).is_none()
    );
    assert!(why(&|t| t.diameters.truncate(2), WayWear).unwrap().contains("fewer than three stations") && why(&nothing, WayWear).is_none());
    assert!(why(&nothing, ToolWear).is_none());
}

/// Ways that are present are their bend; headstock and bed take up their straight part, which is said there.
#[test]
fn where_the_straight_part_of_worn_ways_is_counted() {
    let mut trial = passes(&[(Direction::ToHeadstock, 0.05), (Direction::ToHeadstock, 0.4), (Direction::ToTailstock, 0.05)]);
    trial.gauge.diameter.u_mm = 0.0005;
    let design = designed(&trial);
    let told = |peak_um: f64| {
        let mut posterior = drawn(&design);
        posterior.contributions.values_mut().for_each(|c| c.peak_um = vec![peak_um; 3]);
        let list = estimated(&trial, &design, &posterior, 0);
        let own = |cause: CauseKind| list.iter().find(|c| c.cause == cause).unwrap().clone();
        let says = |cause: CauseKind, what: &str| own(cause).reason.contains(what);
        let here = |cause: CauseKind| says(cause, "the straight part of the worn ways is counted here too");
        let if_worn = |cause: CauseKind| says(cause, "if ways are worn, the straight part of that is counted here too");
        let machine = [CauseKind::HeadstockYaw, CauseKind::BedTwist];
        assert!(
            machine.into_iter().all(|cause| if_worn(cause) == (own(cause).verdict != Verdict::NotSettled && peak_um < 10.0)),
            "{list:?}"
        );
        assert!(!here(CauseKind::ToolWear) && !here(CauseKind::TailstockOffset));
        (own(CauseKind::WayWear), here(CauseKind::HeadstockYaw), here(CauseKind::BedTwist))
    };
    let (ways, yaw, twist) = told(30.0);
    assert!(ways.verdict == Verdict::Present && ways.reason.ends_with("and is counted there") && yaw && twist, "{ways:?}");
    let (ways, yaw, twist) = told(1.0);
    assert!(ways.verdict == Verdict::Absent && ways.reason.ends_with("and would be counted there") && !yaw && !twist, "{ways:?}");
}

/// Levels that bend beyond the bar unsettle headstock, bed and ways, nothing else, and nothing of a bar between centres.
#[test]
fn levels_that_bend_unsettle_what_makes_straight_lines() {
    let told = |holding: Holding, bent: bool| {
        let mut trial = passes(&[(Direction::ToHeadstock, 0.05), (Direction::ToHeadstock, 0.4), (Direction::ToTailstock, 0.05)]);
        (trial.bar.holding, trial.gauge.diameter.u_mm, trial.gauge.level.u_mm_per_m) = (holding, 0.0005, 0.001);
        trial.levels = (0..8)
            .map(|i| {
                let station_mm = 100.0 * f64::from(i);
                let roll_mm_per_m = if bent { 0.5 * (-station_mm / 150.0).exp() } else { 0.0 };
                LevelReading { station_mm, roll_mm_per_m, ..fixture::straight_levels()[0].clone() }
            })
            .collect();
        let design = designed(&trial);
        let mut posterior = drawn(&design);
        for ((_, cause), contribution) in &mut posterior.contributions {
            contribution.peak_um = vec![if *cause == CauseKind::WayWear { 0.1 } else { 30.0 }; 3];
        }
        estimated(&trial, &design, &posterior, 0)
    };
    let bends = |list: &[CauseEstimate]| -> Vec<CauseKind> {
        list.iter().filter(|c| c.reason.contains("no straight line")).map(|c| c.cause).collect()
    };
    let straight = told(Holding::Chuck, false);
    assert!(bends(&straight).is_empty());
    let settled = |list: &[CauseEstimate], cause: CauseKind| {
        list.iter().any(|c| c.cause == cause && matches!(c.verdict, Verdict::Present | Verdict::Absent))
    };
    let machine: Vec<CauseKind> =
        [CauseKind::HeadstockYaw, CauseKind::BedTwist, CauseKind::WayWear].into_iter().filter(|c| settled(&straight, *c)).collect();
    assert!(machine.len() > 1 && settled(&straight, CauseKind::Deflection), "{straight:?}");
    let bent = told(Holding::Chuck, true);
    assert_eq!(bends(&bent), machine);
    assert!(machine.iter().all(|cause| !settled(&bent, *cause)) && settled(&bent, CauseKind::Deflection), "{bent:?}");
    assert!(bends(&told(Holding::Centres, true)).is_empty(), "between centres");
}
