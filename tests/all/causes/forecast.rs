//! The promise of a next test against what it brings.

use super::designs::{Class, draw};
use rayon::prelude::*;
use taperwright::causes::*;
use taperwright::simulate::read_off;
use taperwright::trial::*;

/// First seed, fixed beforehand.
const SEED: u64 = 20_260_401;

/// The trial of `drawn` with a pass cut the other way, or with levels, read off the same nature.
fn with_test(trial: &Trial, nature: &taperwright::simulate::Nature, kind: NextTestKind, seed: u64) -> Trial {
    let mut next = trial.clone();
    match kind {
        NextTestKind::PassOtherWay => {
            let first: Vec<DiameterReading> = trial.diameters.iter().filter(|r| r.pass == 1).collect();
            let last = trial.diameters.iter().map(|r| r.pass).max().unwrap();
            next.diameters.extend(first.into_iter().map(|r| DiameterReading { pass: last + 1, direction: Direction::ToTailstock, ..r }));
        }
        _ => {
            // As the forecast takes them: five places along the feet's spacing, each read both ways.
            for i in 0..5 {
                for reversed in [false, true] {
                    next.levels.push(LevelReading {
                        place: Place { file: 0, row: 2 },
                        setting: 0,
                        station_mm: 700.0 * f64::from(i) / 4.0,
                        roll_mm_per_m: 0.0,
                        reversed,
                        reference_roll_mm_per_m: None,
                        note: None,
                    });
                }
            }
        }
    }
    // The readings taken before stay; only the new ones are read.
    let read = read_off(&next, nature, seed + 7_000_000);
    let mut merged = next.clone();
    let (old_d, old_l) = (trial.diameters.len(), trial.levels.len());
    merged.diameters.truncate(old_d);
    merged.diameters.extend(read.diameters.iter().skip(old_d));
    merged.levels.truncate(old_l);
    merged.levels.extend(read.levels[old_l..].iter().cloned());
    merged
}

/// Over simulated outcomes from the prior, the root mean square of the uncertainty that tests leave agrees with the root mean square promised.
#[test]
#[ignore = "the full proof: minutes in release"]
fn next_tests_keep_their_promise() {
    let trials: u64 = std::env::var("TRIALS").ok().and_then(|t| t.parse().ok()).unwrap_or(500);
    for (class, kind) in [(Class::OneDirection, NextTestKind::PassOtherWay), (Class::NoLevels, NextTestKind::Levels)] {
        let rows: Vec<(f64, f64, f64)> = (SEED..SEED + trials)
            .into_par_iter()
            .filter_map(|seed| {
                let drawn = draw(class, seed, None);
                let before = estimate_causes(&drawn.trial, seed);
                let test = before.next_tests.iter().find(|t| t.test == kind)?;
                let after = estimate_causes(&with_test(&drawn.trial, &drawn.nature, kind, seed), seed);
                let left: f64 = test
                    .settles
                    .iter()
                    .map(|c| {
                        let own = after.causes.iter().find(|e| e.cause == *c && e.setting == 0).unwrap();
                        own.contribution_um.unwrap().standard_uncertainty.powi(2)
                    })
                    .sum();
                Some((test.uncertainty_before_um.powi(2), test.uncertainty_after_um.powi(2), left))
            })
            .collect();
        let root = |f: &dyn Fn(&(f64, f64, f64)) -> f64| (rows.iter().map(f).sum::<f64>() / rows.len() as f64).sqrt();
        let (before, promised, kept) = (root(&|r| r.0), root(&|r| r.1), root(&|r| r.2));
        println!(
            "{kind:?} on {class:?}: {} outcomes, before {before:.2} µm, promised {promised:.2} µm, kept {kept:.2} µm, ratio {:.3}",
            rows.len(),
            kept / promised
        );
        assert!(rows.len() as f64 > 0.15 * trials as f64, "too few trials in which the test settles something");
        assert!((kept / promised - 1.0).abs() < 0.1, "{kind:?}: promised {promised}, kept {kept}");
        assert!(before > 1.1 * promised, "a test that settles nothing would keep any promise");
    }
}
