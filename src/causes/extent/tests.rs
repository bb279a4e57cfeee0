//! Logs just within and just beyond the bound, and long ones taken both ways.

use super::*;
use crate::causes::block::Local;
use crate::causes::design::{Design, design};
use crate::causes::estimate::estimate_of_places;
use crate::causes::fixture;
use crate::causes::symmetric::Symmetric;
use crate::trial::{DiameterReading, Direction, Holding, Place, SimulationRequest, Truth};
use nalgebra::{DMatrix, DVector};

/// Three passes of four stations read five times each.
fn diameters() -> Diameters {
    let of = |row: u32| {
        let (pass, station) = (row / 20 + 1, row / 5 % 4);
        DiameterReading { pass, ..DiameterReading::bare(Place { file: 0, row: u64::from(row) + 2 }, 10.0 * f64::from(station), 38.0) }
    };
    (0..60).map(of).collect()
}

#[test]
fn stations_of_passes_count_once_and_passes_twelve_times() {
    let log = diameters();
    let counted = 12 + 3 * A_PASS_COUNTS;
    let within = fitted(&log, counted).unwrap();
    assert!(!within.joined && within.diameters == log.reduced() && within.diameters.len() == 12, "just within");
    assert_eq!(within.together, 1);
    for (most, why) in
        [(counted - 1, "just beyond, and no room for a hundred places a pass"), (3 * A_PASS_COUNTS - 1, "beyond by the passes alone")]
    {
        assert!(fitted(&log, most).is_some_and(|f| f.together > 1 && !f.joined && f.diameters == log.reduced()), "{why}");
    }
    // 3 passes of 4 stations are more than 8 of them, and joined to a hundred they would be 300
    assert!(fitted(&log, 2).is_none(), "passes times stations are too many");
    assert_eq!([4, 5].map(most_alike), [10, 12]);
    assert!(fitted(&log, 4).is_none() && fitted(&log, 5).is_some_and(|f| f.diameters.len() == 12), "just beyond and just within");
}

#[test]
fn a_longer_log_is_joined_where_a_pass_keeps_a_hundred_places() {
    let of = |row: u32| {
        let (pass, station) = (row % 3 + 1, f64::from(row / 3));
        DiameterReading { pass, ..DiameterReading::bare(Place { file: 0, row: u64::from(row) + 2 }, station, 38.0) }
    };
    let log: Diameters = (0..3000).map(of).collect();
    let least = 3 * (FEWEST_PLACES + A_PASS_COUNTS);
    assert!(fitted(&log, least - 1).is_some_and(|f| f.joined && f.together > 1));
    for most in [least, 3035] {
        let joined = fitted(&log, most).unwrap();
        assert!(joined.joined && joined.stretch_mm.is_some_and(|width| width > 1.0), "{most}");
        assert!(joined.diameters.len() <= most - 3 * A_PASS_COUNTS && joined.diameters.len() >= 100, "{}", joined.diameters.len());
    }
    assert!(fitted(&log, 3036).is_some_and(|whole| !whole.joined && whole.diameters.len() == 3000));
    let said = taken_together(0.080_12, MOST_PLACES);
    assert!(said.contains("in stretches of 0.080 mm:") && said.contains("125\u{202f}000 over all passes"), "{said}");
    assert_eq!([0.001_26, 12.34, 250.0].map(about), ["0.0013 mm", "12 mm", "250 mm"]);
}

/// Twelve passes of forty stations: 480 places, and passes times stations 480 where they are the same, 5,760 where each pass has its own.
#[test]
fn unlike_stations_are_joined_though_places_are_few() {
    let log = |own: f64| -> Diameters {
        let of = |row: u32| {
            let (pass, station) = (row / 40 + 1, f64::from(row % 40) + own * f64::from(row / 40));
            DiameterReading { pass, ..DiameterReading::bare(Place { file: 0, row: u64::from(row) + 2 }, station, 38.0) }
        };
        (0..480).map(of).collect()
    };
    let (like, unlike) = (log(0.0), log(0.07));
    assert_eq!([&like, &unlike].map(passes_times_stations), [480, 5760]);
    let most = 5760 / (MOST_CUT / MOST_PLACES);
    assert!(fitted(&like, most).is_some_and(|whole| !whole.joined));
    assert!(fitted(&unlike, most).is_some_and(|whole| !whole.joined && whole.diameters.len() == 480), "just within");
    let joined = fitted(&unlike, most - 1).unwrap();
    assert!(joined.joined && passes_times_stations(&joined.diameters) <= most, "just beyond");
}

#[test]
fn of_too_many_passes_nothing_is_said() {
    let trial = fixture::bar(Holding::Chuck).with_diameters(diameters());
    let outcome = estimate_of_places(&trial, 1, 100 * (A_PASS_COUNTS + FEWEST_PLACES) / 50);
    assert!(outcome.posterior.is_some(), "224 places take three short passes");
    let (own, counted) = (design(&trial.with_diameters(trial.diameters.reduced())).unwrap(), 12 + 3 * A_PASS_COUNTS);
    assert!(!too_many(&own, counted) && too_many(&own, counted - 1));
    let outcome = estimate_of_places(&trial, 1, 40);
    assert_eq!(outcome.causes.len(), CauseKind::ALL.len());
    assert!(outcome.causes.iter().all(|cause| cause.verdict == Verdict::NotSettled && cause.contribution_um.is_none()));
    assert!(outcome.posterior.is_none() && outcome.fits.is_empty() && outcome.confounded.is_empty());
    let said = not_estimated(&trial, MOST_PLACES).warnings;
    assert!(said.len() == 1 && said[0].contains("125\u{202f}000 stations") && said[0].contains("1116 passes"), "{said:?}");
}

/// Passes both ways in a chuck or in chuck and centre, with causes of every kind; a third of the readings missing, unlike ones in each pass.
fn long(holding: Holding, stations: u32, passes: u32) -> Trial {
    let request = SimulationRequest {
        passes,
        directions: vec![Direction::ToHeadstock, Direction::ToTailstock],
        stations_mm: (0..stations).map(|place| 10.0 + 200.0 * f64::from(place) / f64::from(stations - 1)).collect(),
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
    let mut trial = fixture::read(&fixture::bar(holding), &request, 11);
    let ends = [10.0, 210.0];
    trial.diameters.retain(|r| ends.contains(&r.station_mm) || (r.place.row.wrapping_mul(2_654_435_761) >> 7) % 3 != 0);
    trial
}

/// What the normal equations say at some deviates: end difference of each cause with its standard deviation, mm, and the log likelihood.
fn told(trial: &Trial, deviate: f64) -> (Vec<(f64, f64)>, f64) {
    told_by(&design(trial).unwrap(), deviate)
}

pub(in crate::causes) fn told_by(design: &Design, deviate: f64) -> (Vec<(f64, f64)>, f64) {
    let model = &design.model;
    let values = model.hypers.values(&vec![deviate; model.hypers.len()]);
    let mut bending = model.bending.clone();
    bending.fill(&values);
    let n = model.unknowns.len();
    let (mut joint, mut local) = (Symmetric::zeros(n + 1), Local::new());
    let log: f64 = model.blocks.iter().map(|block| block.add_to(&values, &bending, &mut joint, &mut local)).sum();
    let prior = |i: usize, j: usize| if i == j { model.unknowns[i].sd.powi(-2) } else { 0.0 };
    let factor = DMatrix::from_fn(n, n, |i, j| joint.get(i, j) + prior(i, j)).cholesky().unwrap();
    let right = DVector::from_fn(n, |i, _| joint.get(n, i));
    let unknowns = factor.solve(&right);
    let log = log - 0.5 * (joint.get(n, n) - right.dot(&unknowns)) - factor.l_dirty().diagonal().iter().map(|d| d.ln()).sum::<f64>();
    let reference = design.references.iter().find(|r| r.main).unwrap();
    let ends = CauseKind::ALL.map(|cause| {
        let (known, slope) = reference.end_functional(cause, &values, n);
        let slope = DVector::from_vec(slope);
        (known + slope.dot(&unknowns), slope.dot(&factor.solve(&slope)).sqrt())
    });
    (ends.to_vec(), log)
}

/// How far the second differs from the first: estimates in standard deviations, standard deviations in parts of themselves.
pub(in crate::causes) fn apart(one: &[(f64, f64)], other: &[(f64, f64)]) -> (f64, f64) {
    one.iter()
        .zip(other)
        .filter(|(a, _)| a.1 > 0.0)
        .fold((0.0, 0.0), |(most, wide), (a, b)| (f64::max(most, (b.0 - a.0).abs() / a.1), f64::max(wide, (b.1 / a.1 - 1.0).abs())))
}

/// A log taken station by station, and with neighbouring stations joined, at given roll arm, force, noise and spread.
///
/// What stretches of width `w` lose of a curve of wavelength `λ` is `(2πw/λ)²/12` of its square, so that standard deviations grow by half of that and estimates
/// move by its root: with a hundred places a pass by at most 0.3 % and 0.15 standard deviations, with four hundred by 0.03 % and 0.02.
#[test]
fn joined_stations_make_the_same_equations() {
    for holding in [Holding::Chuck, Holding::ChuckAndCentre] {
        let trial = long(holding, 900, 2);
        // one reading of each seven, as if the others had not been taken
        let mut fewer = trial.clone();
        fewer.diameters.retain(|r| [10.0, 210.0].contains(&r.station_mm) || r.place.row % 7 == 0);
        for (places, most, wide, weigh) in [(FEWEST_PLACES, 0.15, 0.003, 1.0), (400, 0.02, 0.0003, 0.3)] {
            let joined = fitted(&trial.diameters, 4 * (A_PASS_COUNTS + places)).unwrap();
            assert!(joined.joined && joined.diameters.len() <= 4 * places && trial.diameters.len() > 2000);
            let joined = trial.with_diameters(joined.diameters);
            let mut logs = Vec::new();
            for deviate in [-0.8, 0.0, 0.7] {
                let ((exact, log), (other, other_log)) = (told(&trial, deviate), told(&joined, deviate));
                let found = apart(&exact, &other);
                assert!(found.0 < most && found.1 < wide, "{holding:?} {places} {deviate}: {found:?}");
                let wrong = apart(&exact, &told(&fewer, deviate).0);
                assert!(wrong.0 > most && wrong.1 > wide, "the comparison must see a part of the readings: {wrong:?}");
                logs.push(log - other_log);
            }
            // bending within a stretch that is not the pass's line counts as scatter: of the readings' 2,400 squares less than one
            let alike = |logs: &[f64]| logs.iter().all(|log| (log - logs[0]).abs() < weigh);
            assert!(alike(&logs), "{logs:?}");
            let wrong = [-0.8, 0.0, 0.7].map(|deviate| told(&trial, deviate).1 - told(&fewer, deviate).1);
            assert!(!alike(&wrong), "{wrong:?}");
        }
    }
}

/// The same end to end, integrated: contributions and their standard uncertainties agree to a tenth of these; two seeds differ by 0.06 and 4 %.
#[test]
fn joined_stations_tell_the_same_causes() {
    let trial = long(Holding::Chuck, 360, 1);
    let of = |seed: u64, places: usize| {
        let outcome = estimate_of_places(&trial, seed, 2 * (A_PASS_COUNTS + places));
        let told = outcome.causes.iter().filter_map(|cause| cause.contribution_um).map(|c| (c.estimate, c.standard_uncertainty));
        (told.collect::<Vec<(f64, f64)>>(), outcome)
    };
    let ((exact, whole), (other, joined)) = (of(3, 360), of(3, FEWEST_PLACES));
    let alike = |other: &[(f64, f64)]| {
        let (most, wide) = apart(&exact, other);
        most < 0.1 && wide < 0.1
    };
    assert!(exact.len() >= 6 && alike(&other), "{exact:?} {other:?}");
    let shifted: Vec<(f64, f64)> = exact.iter().map(|(e, u)| (e + 0.15 * u, *u)).collect();
    let wider: Vec<(f64, f64)> = exact.iter().map(|(e, u)| (*e, 1.15 * u)).collect();
    assert!(!alike(&shifted) && !alike(&wider));
    let (fit, own) = (&whole.fits[0], &joined.fits[0]);
    assert_eq!((fit.total, fit.means, fit.stretch_mm), (trial.diameters.len(), false, None));
    assert!(own.total == fit.total && own.means && own.stretch_mm.is_some() && own.readings.len() < fit.readings.len());
    assert!((own.rms_residual / fit.rms_residual - 1.0).abs() < 0.01 && (own.noise / fit.noise - 1.0).abs() < 0.01, "{fit:?} {own:?}");
    assert_eq!(joined.evidence[0].readings, whole.evidence[0].readings);
    assert_eq!(joined.balance[0].end_difference_um, whole.balance[0].end_difference_um);
    assert!(whole.warnings.is_empty() && joined.warnings[0].starts_with("For the causes alone, neighbouring stations"));
}
