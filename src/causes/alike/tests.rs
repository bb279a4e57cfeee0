//! Passes one by one and taken together: the same equations, and the same causes end to end.

use crate::causes::design::{Design, design, design_of};
use crate::causes::estimate::estimate_of_places;
use crate::causes::extent::MOST_PLACES;
use crate::causes::extent::tests::{apart, told_by};
use crate::causes::fixture;
use crate::trial::{DiameterReading, Direction, Holding, SimulationRequest, Trial, Truth};

/// So many passes each way of eight stations; with repeats every station is read twice, the second time otherwise.
fn many_passes(holding: Holding, passes: u32, repeats: bool) -> Trial {
    let request = SimulationRequest {
        passes,
        directions: vec![Direction::ToHeadstock, Direction::ToTailstock],
        stations_mm: (0..8).map(|place| 10.0 + 28.0 * f64::from(place)).collect(),
        truth: Truth {
            yaw_mm_per_m: Some(0.03),
            twist_mm_per_m_per_m: Some(0.2),
            wear_um_per_m: Some(8.0),
            force_factor: Some(1.0),
            way_wear_um: Some(8.0),
            ..Truth::default()
        },
        ..SimulationRequest::default()
    };
    let mut trial = fixture::read(&fixture::bar(holding), &request, 5);
    if repeats {
        let again: Vec<DiameterReading> = trial
            .diameters
            .iter()
            .enumerate()
            .map(|(i, r)| DiameterReading { diameter_mm: r.diameter_mm + 1e-3 * ((7 * i % 11) as f64 - 5.0), ..r })
            .collect();
        let twice = trial.diameters.iter().chain(again).collect();
        trial = trial.with_diameters(twice);
        trial = trial.with_diameters(trial.diameters.reduced());
    }
    trial
}

/// Passes one by one and taken together, at given roll arm, force, noise and spread: the same equations, but for what bending left twelve passes before.
#[test]
fn passes_taken_together_make_the_same_equations() {
    for (holding, repeats) in [(Holding::Chuck, false), (Holding::ChuckAndCentre, true)] {
        let trial = many_passes(holding, 40, repeats);
        let (one_by_one, together) = (design(&trial).unwrap(), design_of(&trial, 7).unwrap());
        let passes = |design: &Design| design.logged.iter().map(|l| l.passes).sum::<f64>();
        assert_eq!((one_by_one.logged.len(), passes(&one_by_one), passes(&together)), (80, 80.0, 80.0));
        assert_eq!(together.logged.len(), 12 + 2 * 34_usize.div_ceil(7), "twelve by themselves, then seven at a time of each direction");
        // one pass of those in groups was cut deeper: it and those after it stand by themselves
        let deeper =
            |pass: u32| trial.diameters.iter().map(|r| if r.pass == pass { DiameterReading { depth_mm: 0.2, ..r } } else { r }).collect();
        let other = design_of(&trial.with_diameters(deeper(40)), 7).unwrap();
        assert_eq!(
            other.logged.len(),
            12 + 13 + 8,
            "the deeper cut and the twelve after it, and two groups of each direction before and after"
        );
        // a reading moved by a fiftieth of the noise in every pass of one direction
        let moved = trial.diameters.iter().map(|r| {
            let by = if r.direction == Direction::ToHeadstock && r.station_mm < 20.0 { 4e-5 } else { 0.0 };
            DiameterReading { diameter_mm: r.diameter_mm + by, ..r }
        });
        let moved = if repeats { None } else { design_of(&trial.with_diameters(moved.collect()), 7) };
        let mut logs = Vec::new();
        let mut without = Vec::new();
        for deviate in [-0.8, 0.0, 0.7] {
            let ((exact, log), (found, other)) = (told_by(&one_by_one, deviate), told_by(&together, deviate));
            let alike = |(most, wide): (f64, f64)| most < 1e-3 && wide < 1e-5;
            assert!(alike(apart(&exact, &found)), "{holding:?} {deviate}: {:?}", apart(&exact, &found));
            if let Some(moved) = &moved {
                assert!(!alike(apart(&exact, &told_by(moved, deviate).0)), "the comparison must see a small change");
            }
            logs.push(log - other);
            let mut fewer = one_by_one.clone();
            fewer.model.blocks.pop();
            without.push(log - told_by(&fewer, deviate).1);
        }
        let alike = |logs: &[f64]| logs.iter().all(|log| (log - logs[0]).abs() < 1e-3);
        assert!(alike(&logs), "{logs:?}");
        assert!(!alike(&without), "the comparison must see a pass that is missing: {without:?}");
    }
}

/// The same end to end: contributions and their standard uncertainties agree to a tenth of these, as two seeds do.
#[test]
fn passes_taken_together_tell_the_same_causes() {
    let trial = many_passes(Holding::Chuck, 30, false);
    let of = |most: usize| {
        let outcome = estimate_of_places(&trial, 3, most);
        let told = outcome.causes.iter().filter_map(|cause| cause.contribution_um).map(|c| (c.estimate, c.standard_uncertainty));
        (told.collect::<Vec<(f64, f64)>>(), outcome)
    };
    let ((exact, whole), (other, together)) = (of(MOST_PLACES), of(700));
    let alike = |other: &[(f64, f64)]| {
        let (most, wide) = apart(&exact, other);
        most < 0.1 && wide < 0.1
    };
    assert!(exact.len() >= 6 && alike(&other), "{exact:?} {other:?}");
    let shifted: Vec<(f64, f64)> = exact.iter().map(|(e, u)| (e + 0.15 * u, *u)).collect();
    assert!(!alike(&shifted));
    let (fit, own) = (&whole.fits[0], &together.fits[0]);
    assert_eq!((fit.total, own.total), (480, 480));
    assert!(own.means && !fit.means && own.readings.len() < 200, "{}", own.readings.len());
    let as_close = |rms: f64| (rms / fit.rms_residual - 1.0).abs() < 0.02;
    assert!(as_close(own.rms_residual) && !as_close(own.rms_residual * 1.05), "{} {}", own.rms_residual, fit.rms_residual);
    assert!((own.noise / fit.noise - 1.0).abs() < 0.02, "{} {}", own.noise, fit.noise);
    assert_eq!(together.evidence[0].readings, whole.evidence[0].readings);
    let (a, b) = (&whole.balance[0], &together.balance[0]);
    assert!((a.end_difference_um - b.end_difference_um).abs() < 1e-9, "{a:?} {b:?}");
    assert!((a.standard_uncertainty_um / b.standard_uncertainty_um - 1.0).abs() < 0.05, "{a:?} {b:?}");
    assert!(
        whole.warnings.is_empty() && together.warnings[0].starts_with("For the causes alone, passes cut alike"),
        "{:?}",
        together.warnings
    );
}
