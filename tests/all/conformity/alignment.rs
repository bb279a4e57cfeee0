//! Spindle and tailstock as drawn: what is judged is the stated function of the joint draws.

use super::quantities::limit;
use std::path::Path;
use taperwright::causes::{Posterior, estimate_causes};
use taperwright::conformity::{Decision, Judgement, NOT_CARRIED, judge};
use taperwright::ingest::{ReadOptions, read_trial};
use taperwright::shape::{Shape, fit_shapes};
use taperwright::trial::{Holding, IndicatorReading, Plane, Quantity, Sense, TestBar, Trial};

/// A sample with levels and, or without, an indicator run; its shape by a rule that misplaces the stations so far that the taper is uncertain by
/// `stations_mm` for it, in a room of uneven temperature that the draws would carry; and the joint draws.
fn estimated(stations_mm: f64) -> (Trial, Shape, Posterior) {
    let folder = Path::new(env!("CARGO_MANIFEST_DIR")).join("sample-data/headstock-only");
    let mut trial = read_trial(&folder, &ReadOptions::default()).unwrap();
    let posterior = estimate_causes(&trial, 1).posterior.unwrap();
    trial.conditions.temperature_spread_c = 3.0;
    let mut shape = fit_shapes(&trial, 1, 0).shapes.remove(0);
    shape.budget.iter_mut().filter(|row| row.component == "station-scale").for_each(|row| row.standard_uncertainty = stations_mm);
    (trial, shape, posterior)
}

fn judged(trial: &Trial, shape: &Shape, posterior: &Posterior, quantity: Quantity, over_mm: Option<f64>) -> Judgement {
    let mut trial = trial.clone();
    trial.acceptance.limit = vec![limit(quantity, 0.02, over_mm, Sense::Either)];
    judge(&trial, std::slice::from_ref(shape), posterior.into(), &[], 1).remove(0)
}

fn moments(values: &[f64]) -> (f64, f64) {
    let mean = values.iter().sum::<f64>() / values.len() as f64;
    (mean, values.iter().map(|v| (v - mean).powi(2)).sum::<f64>() / values.len() as f64)
}

/// What neither readings nor draws show of the taper, mm²: rounding, zeros of gauges, stations. Unlike temperatures and a bar that is out of line vertically are
/// in the draws already.
fn unseen(shape: &Shape) -> f64 {
    let beyond = ["resolution", "calibration", "station-scale"];
    let rows = shape.budget.iter().filter(|row| beyond.contains(&row.component.as_str()));
    rows.map(|row| row.standard_uncertainty.powi(2)).sum()
}

fn on_a_bar(holding: Holding, turned_here: bool) -> Option<TestBar> {
    Some(TestBar { taper_um: 0.0, u_um: 1.0, length_mm: 300.0, diameter_mm: None, holding, turned_here })
}

#[test]
fn horizontal_parallelism_is_yaw_and_the_arm_times_twist() {
    let (trial, shape, mut posterior) = estimated(0.003);
    // much twist, so that it shows, and draws so narrow that what is added to them shows too
    posterior.twist_mm_per_m_per_m.values_mut().flatten().for_each(|twist| *twist = 0.1 * *twist + 0.5);
    posterior.yaw_mm_per_m.iter_mut().for_each(|yaw| *yaw *= 0.1);
    posterior.roll_arm_mm.iter_mut().for_each(|arm| *arm = 140.0 + 0.1 * *arm);
    let twist = &posterior.twist_mm_per_m_per_m[&0];
    let slopes: Vec<f64> = posterior
        .yaw_mm_per_m
        .iter()
        .zip(twist)
        .zip(&posterior.roll_arm_mm)
        .map(|((yaw, twist), arm)| yaw + arm * twist / 1000.0)
        .collect();
    let (mean, variance) = moments(&slopes);
    let quantity = Quantity::SpindleParallelismHorizontal;
    // an indicator sees it directly: over 300 mm, or over the tested length
    for (over, length) in [(Some(300.0), 300.0), (None, shape.tested_length.length)] {
        let found = judged(&trial, &shape, &posterior, quantity, over);
        let (value, u) = (found.value.unwrap(), found.standard_uncertainty.unwrap());
        assert!((value - mean * length / 1000.0).abs() < 1e-9 && (u - variance.sqrt() * length / 1000.0).abs() < 1e-9, "{value} ± {u}");
        assert_eq!(found.length, Some(length));
        assert!(found.note.contains("as an indicator sees them"));
    }
    // without it the part of the taper that no reading shows comes in, as half a diameter over the tested length
    let mut blind = trial.clone();
    blind.indicator.clear();
    let found = judged(&blind, &shape, &posterior, quantity, Some(300.0));
    let more = (0.5 * 300.0 / shape.tested_length.length).powi(2) * unseen(&shape);
    let expected = variance * 0.09 + more;
    let u = found.standard_uncertainty.unwrap();
    assert!(more > 0.09 * variance && (u * u / expected - 1.0).abs() < 0.08, "{} {expected} of which {more}", u * u);
    assert!((found.value.unwrap() - 0.3 * mean).abs() < 4.0 * (expected / slopes.len() as f64).sqrt());
    assert!(found.note.contains("from the diameters"));
    // a bar between centres says nothing of the spindle, an indicator does
    blind.bar.holding = Holding::Centres;
    let nothing = judged(&blind, &shape, &posterior, quantity, None);
    assert!(nothing.value.is_none() && nothing.note.contains("between centres says nothing"), "{}", nothing.note);
    let centres = Trial { bar: blind.bar.clone(), ..trial };
    assert!(judged(&centres, &shape, &posterior, quantity, None).value.is_some());
    // no twist of this setting, or no yaw: nothing
    let mut untwisted = posterior.clone();
    untwisted.twist_mm_per_m_per_m.clear();
    posterior.yaw_mm_per_m.clear();
    for posterior in [untwisted, posterior] {
        assert!(judged(&blind, &shape, &posterior, quantity, None).note.contains("No log of this setting"));
    }
}

#[test]
fn an_indicator_counts_by_plane_setting_holding_and_what_it_ran_along() {
    let (trial, shape, posterior) = estimated(0.003);
    let counts = |change: &dyn Fn(&mut IndicatorReading), bar: Option<TestBar>| {
        let mut trial = trial.clone();
        trial.indicator.iter_mut().for_each(change);
        trial.testbar = bar;
        judged(&trial, &shape, &posterior, Quantity::SpindleParallelismHorizontal, None).note.contains("as an indicator sees them")
    };
    let as_it_is = |_: &mut IndicatorReading| {};
    let side = |reading: &mut IndicatorReading| reading.plane = Plane::Side;
    assert!(counts(&as_it_is, None) && counts(&side, on_a_bar(Holding::Chuck, false)), "in the chuck, stated or not");
    assert!(!counts(&side, on_a_bar(Holding::Chuck, true)), "a bar turned here carries the machine's own fault");
    assert!(!counts(&side, on_a_bar(Holding::Centres, false)));
    assert!(!counts(&|reading| reading.plane = Plane::Top, None));
    assert!(!counts(&|reading| reading.setting = 3, None));
}

#[test]
fn the_tailstocks_offset_carries_what_no_reading_shows_at_half_the_diameter() {
    // as much seen by readings as not
    let (mut trial, shape, mut posterior) = estimated(0.0005);
    posterior.carried.offset.insert(0);
    let quantity = Quantity::TailstockOffset;
    assert!(judged(&trial, &shape, &posterior, quantity, None).note.contains("No log of this setting sees the tailstock"));
    posterior.offset_mm.insert(0, vec![0.012; 4096]);
    trial.bar.length_mm = 1.7 * shape.tested_length.length;
    let found = judged(&trial, &shape, &posterior, quantity, None);
    let (value, u) = (found.value.unwrap(), found.standard_uncertainty.unwrap());
    let expected = 0.5 * unseen(&shape).sqrt() * 1.7;
    assert!(shape.taper.standard_error.powi(2) > 0.1 * unseen(&shape), "{:?} {}", shape.taper, unseen(&shape));
    assert!((u / expected - 1.0).abs() < 0.05, "{u} {expected}");
    assert!((value - 0.012).abs() < 4.0 * expected / 64.0);
    assert_eq!(found.length, Some(trial.bar.length_mm));
    // an indicator between centres sees the tailstock without that detour
    trial.testbar = on_a_bar(Holding::Centres, false);
    let seen = judged(&trial, &shape, &posterior, quantity, None);
    assert!((seen.value.unwrap() - 0.012).abs() < 1e-12 && seen.standard_uncertainty.unwrap() < 1e-12, "{seen:?}");
    posterior.offset_mm.insert(0, Vec::new());
    assert_eq!(judged(&trial, &shape, &posterior, quantity, None).value, None);
}

/// The readings alone have to carry a decision: a prior that is as narrow as one likes decides nothing.
#[test]
fn a_prior_decides_neither_of_spindle_nor_of_tailstock() {
    let (trial, shape, posterior) = estimated(0.0005);
    let quantity = Quantity::SpindleParallelismHorizontal;
    let known = judged(&trial, &shape, &posterior, quantity, Some(300.0));
    assert!(posterior.carried.parallelism.contains(&0) && !posterior.carried.offset.contains(&0), "{:?}", posterior.carried);
    assert!(known.value.is_some() && known.probability.is_some(), "{known:?}");
    // diameters only, and whoever keeps the trial believes that nothing can be out of line
    let mut tampered = trial.clone();
    (tampered.indicator, tampered.levels) = (Vec::new(), Vec::new());
    (tampered.prior.yaw_mm_per_m, tampered.prior.twist_mm_per_m_per_m) = (0.0001, 0.0001);
    let believed = estimate_causes(&tampered, 1).posterior.unwrap();
    let found = judged(&tampered, &shape, &believed, quantity, Some(300.0));
    assert_eq!((found.decision, found.value, found.probability), (Some(Decision::NotProven), None, None), "{found:?}");
    assert!(found.note.starts_with(NOT_CARRIED) && found.note.contains("An indicator run along a ground test bar"), "{}", found.note);
    // nor does it help to believe that next to nothing is ever out of line
    tampered.prior = taperwright::trial::Prior { presence: 0.001, ..trial.prior.clone() };
    let believed = estimate_causes(&tampered, 1).posterior.unwrap();
    assert_eq!(judged(&tampered, &shape, &believed, quantity, Some(300.0)).value, None);
    // the same draws with the mark of the readings taken away
    let mut uncarried = posterior.clone();
    uncarried.carried.parallelism.clear();
    uncarried.offset_mm.insert(0, vec![0.0; 4096]);
    for quantity in [quantity, Quantity::TailstockOffset] {
        assert_eq!(judged(&trial, &shape, &uncarried, quantity, None).value, None);
    }
}
