//! What the files of this folder say, by hand: each test works its numbers out from the formula that the docstring states.

mod candidates;
mod carried;
mod drawn;
mod estimated;
mod foreseen;
mod laid_out;
mod outcomes;
mod reasons;
mod rows;
mod settings;
mod spreads;
mod told;
mod verdicts;

use super::design::{Design, design};
use super::fixture;
use super::hyper::Values;
use super::posterior::{Draw, DrawnContribution, Posterior};
use super::values::CauseKind;
use crate::trial::{DiameterReading, Direction, Place, Trial};
use std::collections::BTreeMap;

/// A reading of a diameter at depth 0.05 mm and feed 0.1 mm.
fn reading(row: u64, setting: u32, pass: u32, direction: Direction, station_mm: f64, diameter_mm: f64) -> DiameterReading {
    DiameterReading {
        setting,
        pass,
        direction,
        depth_mm: 0.05,
        feed_mm_per_rev: 0.1,
        ..DiameterReading::bare(Place { file: 0, row }, station_mm, diameter_mm)
    }
}

/// What is integrated numerically, all at its median.
fn medians(design: &Design) -> Values {
    design.model.hypers.values(&vec![0.0; design.model.hypers.len()])
}

/// A posterior of these draws, whose contributions are worked out from their curves.
fn posterior_of(design: &Design, draws: Vec<(Values, Vec<f64>)>) -> Posterior {
    let draws: Vec<Draw> = draws.into_iter().map(|(values, unknowns)| Draw { deviates: Vec::new(), subset: 0, values, unknowns }).collect();
    let mut contributions = BTreeMap::new();
    for reference in design.references.iter().filter(|r| r.main) {
        for cause in CauseKind::ALL {
            let curves: Vec<Vec<f64>> = draws.iter().map(|d| reference.curve(cause, &d.values, &d.unknowns)).collect();
            let end_difference_um = curves.iter().map(|c| 1000.0 * (c[reference.ends.1] - c[reference.ends.0])).collect();
            let most = |c: &Vec<f64>| c.iter().copied().fold(f64::MIN, f64::max) - c.iter().copied().fold(f64::MAX, f64::min);
            contributions.insert(
                (reference.setting, cause),
                DrawnContribution { end_difference_um, peak_um: curves.iter().map(|c| 1000.0 * most(c)).collect() },
            );
        }
    }
    Posterior {
        roll_arm_mm: draws.iter().map(|d| d.values.roll_arm).collect(),
        force_factor: draws.iter().map(|d| d.values.force).collect(),
        ..fixture::posterior(design, draws, contributions)
    }
}

fn designed(trial: &Trial) -> Design {
    design(trial).unwrap_or_else(|| panic!("two stations make a design"))
}

#[track_caller]
fn close(found: f64, expected: f64, relative: f64) {
    let near = |v: f64| (v - expected).abs() <= relative * expected.abs();
    assert!(near(found), "{found} for {expected}");
    assert!(!near(expected * (1.0 + 2.0 * relative)) || expected == 0.0, "the comparison accepts anything");
}
