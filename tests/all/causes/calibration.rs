//! Simulation-based calibration, coverage and verdicts over the estimate's own priors.
//!
//! S. Talts, M. Betancourt, D. Simpson, A. Vehtari & A. Gelman, "Validating Bayesian inference algorithms with simulation-based calibration"
//! (2018): where truths come from the prior, their ranks among posterior draws are uniform. Seeds are fixed here beforehand.

use super::designs::{Class, Drawn, draw};
use rayon::prelude::*;
use std::collections::BTreeMap;
use taperwright::causes::*;
use taperwright::statistics::distributions::chi_square_sf;

/// First seed of every run.
const SEED: u64 = 20_260_314;

/// What one trial says about calibration.
struct Outcome {
    /// Rank of the truth in (0, 1), by quantity.
    ranks: Vec<(String, f64)>,
    /// Whether the 95 % interval holds the truth, by quantity.
    covered: Vec<(String, bool)>,
    /// Verdict, probability of being material, whether it is.
    verdicts: Vec<(CauseKind, Verdict, f64, bool)>,
    /// Pareto shape.
    pareto_k: Option<f64>,
    /// Yaw and twist: whether a design that cannot split them called one, with their true sum and the threshold, µm.
    split: Option<(bool, f64, f64)>,
}

fn name(cause: CauseKind) -> String {
    serde_json::to_value(cause).unwrap().as_str().unwrap().to_string()
}

fn rank(draws: &[f64], truth: f64) -> f64 {
    draws.iter().filter(|d| **d < truth).count() as f64 / draws.len() as f64
}

fn outcome(drawn: &Drawn, seed: u64) -> Outcome {
    let Drawn { trial, nature, contributions } = drawn;
    let out = estimate_causes(trial, seed);
    let posterior = out.posterior.as_ref().unwrap();
    let truth = |setting: u32, cause: CauseKind| contributions.iter().find(|c| c.setting == setting && c.cause == name(cause)).unwrap();
    let mut ranks = Vec::new();
    let mut covered = Vec::new();
    let mut verdicts = Vec::new();
    let mut split = None;
    for cause in out.causes.iter().filter(|c| c.verdict != Verdict::NotApplicable) {
        let (setting, kind) = (cause.setting, cause.cause);
        let truth = truth(setting, kind);
        let drawn = &posterior.contributions[&(setting, kind)];
        covered.push((name(kind), cause.contribution_um.unwrap().interval95.contains(truth.contribution_um)));
        if setting == 0 {
            ranks.push((name(kind), rank(&drawn.end_difference_um, truth.contribution_um)));
            ranks.push((format!("peak of {}", name(kind)), rank(&drawn.peak_um, truth.peak_um)));
        }
        let material = truth.peak_um > cause.material_threshold_um.unwrap();
        verdicts.push((kind, cause.verdict, cause.material_probability.unwrap(), material));
    }
    for group in &out.confounded {
        let sum: f64 = group.causes.iter().map(|c| truth(group.setting, *c).contribution_um).sum();
        covered.push(("sum of a group".to_string(), group.sum_um.interval95.contains(sum)));
        if group.causes.contains(&CauseKind::HeadstockYaw) && group.causes.contains(&CauseKind::BedTwist) && group.setting == 0 {
            let own = |kind| out.causes.iter().find(|c| c.setting == 0 && c.cause == kind).unwrap();
            let called = [CauseKind::HeadstockYaw, CauseKind::BedTwist].iter().any(|k| own(*k).verdict != Verdict::NotSettled);
            let both = truth(0, CauseKind::HeadstockYaw).contribution_um + truth(0, CauseKind::BedTwist).contribution_um;
            split = Some((called, both.abs(), own(CauseKind::BedTwist).material_threshold_um.unwrap()));
        }
    }
    ranks.push(("roll arm".to_string(), rank(&posterior.roll_arm_mm, nature.roll_arm_mm)));
    if !posterior.move_gain.is_empty() {
        ranks.push(("gain of a move".to_string(), rank(&posterior.move_gain, nature.move_gain)));
    }
    Outcome { ranks, covered, verdicts, pareto_k: posterior.pareto_k, split }
}

fn run(class: Class, trials: u64, noise: Option<f64>) -> Vec<Outcome> {
    let start = SEED + 100_000 * class as u64 + if noise.is_some() { 50_000 } else { 0 };
    (start..start + trials).into_par_iter().map(|seed| outcome(&draw(class, seed, noise), seed)).collect()
}

fn coverage(outcomes: &[Outcome]) -> (f64, usize) {
    let all: Vec<bool> = outcomes.iter().flat_map(|o| o.covered.iter().map(|c| c.1)).collect();
    (all.iter().filter(|c| **c).count() as f64 / all.len() as f64, all.len())
}

/// Chi-square probability that ranks are uniform, with about ten ranks a bin.
fn uniform_p(ranks: &[f64]) -> f64 {
    let bins = (ranks.len() / 10).clamp(4, 20);
    let mut counts = vec![0.0; bins];
    ranks.iter().for_each(|r| counts[((r * bins as f64) as usize).min(bins - 1)] += 1.0);
    let expected = ranks.len() as f64 / bins as f64;
    let statistic: f64 = counts.iter().map(|c: &f64| (c - expected).powi(2) / expected).sum();
    chi_square_sf(statistic, bins as f64 - 1.0).unwrap()
}

/// Smallest probability after Holm's correction for all of them.
fn holm(mut p: Vec<f64>) -> f64 {
    p.sort_by(f64::total_cmp);
    let n = p.len();
    p.iter().enumerate().map(|(i, p)| p * (n - i) as f64).fold(f64::INFINITY, f64::min).min(1.0)
}

#[test]
fn the_check_of_ranks_rejects_ranks_that_are_not_uniform() {
    let even: Vec<f64> = (0..200).map(|i| (f64::from(i) + 0.5) / 200.0).collect();
    assert!(uniform_p(&even) > 0.99);
    let bent: Vec<f64> = even.iter().map(|r| r * r).collect();
    assert!(uniform_p(&bent) < 0.01);
    assert!(holm(vec![0.0005, 0.9, 0.8]) < 0.01 && holm(vec![0.2, 0.9, 0.8]) > 0.01);
}

/// (a) to (d) of the proof. Takes minutes in release; prints the table that tests/proofs/causes.md keeps.
#[test]
#[ignore = "the full proof: minutes in release"]
fn calibrated_over_the_priors() {
    let trials: u64 = std::env::var("TRIALS").ok().and_then(|t| t.parse().ok()).unwrap_or(200);
    let only = std::env::var("CLASS").unwrap_or_default();
    let mut probabilities = Vec::new();
    let mut verdicts = Vec::new();
    let mut called_split = (0, 0);
    let mut failures = Vec::new();
    for class in Class::ALL.into_iter().filter(|c| format!("{c:?}").contains(&only)) {
        let outcomes = run(class, trials, None);
        let mut by_name: BTreeMap<&str, Vec<f64>> = BTreeMap::new();
        outcomes.iter().flat_map(|o| &o.ranks).for_each(|(n, r)| by_name.entry(n).or_default().push(*r));
        for (quantity, ranks) in &by_name {
            let p = uniform_p(ranks);
            println!("{class:?} {quantity}: {} ranks, mean {:.3}, p {p:.4}", ranks.len(), ranks.iter().sum::<f64>() / ranks.len() as f64);
            probabilities.push(p);
        }
        let mut parts: BTreeMap<&str, (usize, usize)> = BTreeMap::new();
        outcomes.iter().flat_map(|o| &o.covered).for_each(|(n, c)| {
            let part = parts.entry(n).or_default();
            part.0 += usize::from(*c);
            part.1 += 1;
        });
        for (quantity, (held, all)) in &parts {
            println!("{class:?} coverage of {quantity}: {held} of {all} = {:.1} %", 100.0 * *held as f64 / *all as f64);
        }
        let (share, count) = coverage(&outcomes);
        let heavy = outcomes.iter().filter(|o| o.pareto_k.is_some_and(|k| k >= 0.7)).count();
        println!("{class:?} COVERAGE {:.2} % of {count}; Pareto shape 0.7 or more in {heavy} of {trials}", 100.0 * share);
        if !(0.93..=0.97).contains(&share) {
            failures.push(format!("{class:?} coverage {share}"));
        }
        if class != Class::TwoCollars {
            let (share, count) = coverage(&run(class, trials / 2, Some(2.0)));
            println!("{class:?} COVERAGE at twice the data sheet {:.2} % of {count}", 100.0 * share);
            if share < 0.90 {
                failures.push(format!("{class:?} coverage at twice the noise {share}"));
            }
        }
        for outcome in &outcomes {
            verdicts.extend(outcome.verdicts.iter().copied());
            if let Some((called, _, _)) = outcome.split.filter(|(_, sum, threshold)| *sum > 3.0 * threshold) {
                called_split.0 += usize::from(called);
                called_split.1 += 1;
            }
        }
    }
    let share_material = |verdict: Verdict| {
        let own: Vec<bool> = verdicts.iter().filter(|v| v.1 == verdict).map(|v| v.3).collect();
        (own.iter().filter(|m| **m).count() as f64 / own.len().max(1) as f64, own.len())
    };
    let (present, absent) = (share_material(Verdict::Present), share_material(Verdict::Absent));
    println!(
        "called present {} of which material {:.2} %; called absent {} of which material {:.2} %",
        present.1,
        100.0 * present.0,
        absent.1,
        100.0 * absent.0
    );
    for kind in CauseKind::ALL {
        let own: Vec<(f64, bool)> = verdicts.iter().filter(|v| v.0 == kind).map(|v| (v.2, v.3)).collect();
        let brier = own.iter().map(|(p, m)| (p - f64::from(u8::from(*m))).powi(2)).sum::<f64>() / own.len().max(1) as f64;
        let base = own.iter().filter(|o| o.1).count() as f64 / own.len().max(1) as f64;
        println!("Brier score of {}: {brier:.3} over {} (always the base rate: {:.3})", name(kind), own.len(), base * (1.0 - base));
    }
    println!("yaw or twist called where only their sum is known, sum over three thresholds: {} of {}", called_split.0, called_split.1);
    let smallest = holm(probabilities.clone());
    println!("{} quantities, smallest probability after Holm {smallest:.4}", probabilities.len());
    if smallest < 0.01 {
        failures.push(format!("ranks not uniform: {smallest}"));
    }
    if present.0 < 0.95 || absent.0 > 0.05 {
        failures.push(format!("verdicts {present:?} {absent:?}"));
    }
    if called_split.0 as f64 > 0.05 * called_split.1 as f64 {
        failures.push(format!("split {called_split:?}"));
    }
    assert!(failures.is_empty(), "{failures:?}");
}
