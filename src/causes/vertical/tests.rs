//! Against a dense covariance, and runs of ten to twenty thousand readings against the same integral by a general-purpose library.

use super::*;
use crate::causes::fixture;
use crate::physics::vertical_misalignment::sag_mm;
use crate::trial::Place;

/// Readings on top at three angles, each station twice, that no straight line fits.
fn trial(times: usize) -> Trial {
    let mut trial = fixture::bar(Holding::Chuck);
    trial.prior.gauge_noise_factor = 1.8;
    let scatter = [0.6, -1.9, 1.3, 0.2, -0.7, 2.1, -1.2, 0.4, 1.6];
    let places = [0.0, 75.0, 200.0].into_iter().flat_map(|deg| [20.0, 90.0, 180.0].map(|z| (deg, z)));
    let run = places.zip(scatter).map(|((spindle_deg, station_mm), um)| IndicatorReading {
        place: Place { file: 0, row: 2 },
        setting: 0,
        station_mm,
        reading_mm: 0.3 + 0.06e-3 * station_mm + 1e-3 * um,
        spindle_deg,
        plane: Plane::Top,
        note: None,
    });
    trial.indicator = std::iter::repeat_n(run, times).flatten().collect();
    trial
}

/// Mean and standard uncertainty of the misalignment by generalised least squares with the covariance of noise, certificate, sag and run-out, the
/// noise summed over a fine grid by its prior and restricted likelihood.
fn dense(trial: &Trial, diameter_mm: Option<f64>) -> (f64, f64) {
    let (bar, n) = (trial.testbar.as_ref().unwrap(), trial.indicator.len());
    let angle = |i: usize| trial.indicator[i].spindle_deg.to_radians();
    let z = |i: usize| trial.indicator[i].station_mm;
    // a bar of unknown diameter: a rectangle as wide as the sag of a thin one, a tenth of its length
    let sag = |i: usize| sag_mm(z(i), bar.length_mm, diameter_mm.unwrap_or(0.1 * bar.length_mm), 206.0, 7850.0);
    let sag_u = |i: usize| sag(i) * if diameter_mm.is_some() { 0.1 } else { 3.0_f64.sqrt().recip() };
    let known = DMatrix::from_fn(n, n, |i, j| {
        let taper = (0.5 * bar.u_um / 1000.0 / bar.length_mm).powi(2) * z(i) * z(j);
        let phase = (angle(i) - angle(j)).cos();
        taper + sag_u(i) * sag_u(j) + 1e-4 * phase + (0.02_f64 / 300.0).powi(2) * z(i) * z(j) * phase
    });
    let taken = if diameter_mm.is_some() { 1.0 } else { 0.0 };
    let y = DVector::from_fn(n, |i, _| trial.indicator[i].reading_mm + taken * sag(i) - 0.5 * bar.taper_um / 1000.0 / bar.length_mm * z(i));
    let x = DMatrix::from_fn(n, 2, |i, k| if k == 0 { 1.0 } else { 0.001 * z(i) });
    let parts: Vec<(f64, f64, f64)> = (-100..=100)
        .map(|step| {
            let deviate = 0.05 * f64::from(step);
            let sigma = trial.gauge.indicator.u_mm * trial.prior.gauge_noise_factor.powf(deviate);
            let factor = (&known + DMatrix::identity(n, n) * sigma * sigma).cholesky().unwrap();
            let precision = (x.transpose() * factor.solve(&x)).cholesky().unwrap();
            let fit = precision.solve(&(x.transpose() * factor.solve(&y)));
            let rest = &y - &x * &fit;
            let logs = |l: &DMatrix<f64>| l.diagonal().iter().map(|d| d.ln()).sum::<f64>();
            let log = -0.5 * deviate * deviate - logs(&factor.l()) - logs(&precision.l()) - 0.5 * rest.dot(&factor.solve(&rest));
            (log, fit[1], precision.inverse()[(1, 1)])
        })
        .collect();
    let largest = parts.iter().map(|p| p.0).fold(f64::MIN, f64::max);
    let total: f64 = parts.iter().map(|p| (p.0 - largest).exp()).sum();
    let mean = parts.iter().map(|p| (p.0 - largest).exp() / total * p.1).sum::<f64>();
    let variance = parts.iter().map(|p| (p.0 - largest).exp() / total * (p.2 + (p.1 - mean).powi(2))).sum::<f64>();
    (mean, variance.sqrt())
}

#[test]
fn misalignment_is_that_of_a_dense_covariance() {
    for times in [1, 9] {
        for diameter_mm in [Some(25.0), None] {
            let mut trial = trial(times);
            let bar = trial.testbar.as_mut().unwrap();
            (bar.diameter_mm, bar.taper_um, bar.u_um) = (diameter_mm, 3.0, 2.0);
            let vertical = vertical_misalignment(&trial);
            let found = &vertical.settings[0];
            let (mean, u) = dense(&trial, diameter_mm);
            let close = |found: f64, expected: f64| (found / expected - 1.0).abs() < 1e-4;
            assert!(close(found.mm_per_m, mean) && close(found.standard_uncertainty, u), "{times} {found:?} {mean} {u}");
            assert!(!close(found.mm_per_m * 1.001, mean) && !close(found.standard_uncertainty * 1.001, u));
            assert_eq!((found.spindle_angles, found.readings, found.sag_removed), (3, 9 * times, diameter_mm.is_some()));
        }
    }
}

#[test]
fn a_certificate_over_no_length_says_nothing_of_the_slope() {
    let mut trial = trial(1);
    trial.testbar.as_mut().unwrap().length_mm = 0.0;
    let found = vertical_misalignment(&trial).settings;
    assert!(found.len() == 1 && found[0].mm_per_m.is_finite() && found[0].standard_uncertainty > 0.0, "{found:?}");
}

/// Mean, standard uncertainty and upper end of the central 95 % interval by tests/reference/vertical_many.py, which says how the readings are made.
const MANY: [(usize, f64, f64, f64); 4] = [
    (10, 0.070_211_670_177_8, 0.009_232_922_502_97, 0.088_490_802_096_8),
    (135, 0.074_133_346_943_5, 0.005_307_239_943_81, 0.084_536_731_627_3),
    (1000, 0.068_763_579_302_8, 0.005_128_519_244_36, 0.078_815_478_397_3),
    (20_000, 0.009_381_056_429_33, 0.005_033_123_611_8, 0.019_245_825_439_3),
];

/// So many readings of those of [`trial`], each with its own small part of scatter.
fn many(readings: usize) -> Trial {
    let mut trial = trial(readings.div_ceil(9));
    trial.indicator.truncate(readings);
    for (i, reading) in trial.indicator.iter_mut().enumerate() {
        reading.reading_mm += 1e-4 * (((7 * i) % 11) as f64 - 5.0);
    }
    let bar = trial.testbar.as_mut().unwrap();
    (bar.diameter_mm, bar.taper_um, bar.u_um) = (Some(25.0), 3.0, 2.0);
    trial
}

/// Mean and standard uncertainty, with the noise summed over levels a twentieth of a prior standard deviation apart, whatever the number of readings.
fn on_fixed_levels(trial: &Trial, levels: std::ops::RangeInclusive<i32>) -> (f64, f64) {
    let (design, response) = rows_of(trial.testbar.as_ref().unwrap(), &trial.indicator.iter().collect::<Vec<_>>());
    let reduced = Reduced::of(design, &response);
    let level = |k: i32| {
        let x = 0.05 * f64::from(k);
        reduced.level(x, trial.gauge.indicator.u_mm * trial.prior.gauge_noise_factor.powf(x)).unwrap()
    };
    let levels: Vec<(f64, NormalPart)> = levels.map(level).collect();
    let largest = levels.iter().map(|l| l.0).fold(f64::MIN, f64::max);
    let parts: Vec<NormalPart> = levels.iter().map(|l| NormalPart { weight: (l.0 - largest).exp(), ..l.1 }).collect();
    mixture_moments(&parts).unwrap()
}

#[test]
fn the_noise_is_summed_as_closely_as_the_readings_know_it() {
    for (readings, mean, u, high) in MANY {
        let trial = many(readings);
        let found = &vertical_misalignment(&trial).settings[0];
        let close = |found: f64, expected: f64| (found / expected - 1.0).abs() < 1e-6;
        assert!(close(found.mm_per_m, mean) && close(found.standard_uncertainty, u) && close(found.interval95.high, high), "{found:?}");
        assert!(!close(found.mm_per_m * (1.0 + 2e-6), mean) && !close(found.interval95.high * (1.0 + 2e-6), high));
        let (fixed, _) = on_fixed_levels(&trial, -80..=80);
        assert_eq!(close(fixed, mean), readings < 20_000, "{readings} {fixed} {mean}");
    }
}

/// A noise that is known, one that is known next to nothing of, and readings without any scatter: the levels find where the density is.
#[test]
fn levels_are_found_wherever_the_readings_put_the_noise() {
    let scaled = |factor: f64, u_mm: f64, scatter: f64| {
        let mut trial = many(135);
        (trial.prior.gauge_noise_factor, trial.gauge.indicator.u_mm) = (factor, u_mm);
        trial.indicator.iter_mut().for_each(|r| r.reading_mm = scatter * r.reading_mm + (1.0 - scatter) * (0.3 + 0.06e-3 * r.station_mm));
        vertical_misalignment(&trial).settings.remove(0)
    };
    let known = scaled(1.0, 0.0015, 1.0);
    let (free, far) = (scaled(1000.0, 0.0015, 1.0), scaled(1000.0, 0.15, 1.0));
    // with 135 readings it matters little whether the data sheet was right
    assert!((free.standard_uncertainty / far.standard_uncertainty - 1.0).abs() < 1e-3, "{free:?} {far:?}");
    assert!((free.standard_uncertainty / known.standard_uncertainty - 1.0).abs() < 0.1, "{known:?}");
    // a data sheet that is held to makes ten times the noise count
    assert!(scaled(1.0, 0.15, 1.0).standard_uncertainty > 2.0 * known.standard_uncertainty);
    let exact = scaled(1.8, 0.0015, 0.0);
    assert!(exact.standard_uncertainty > 0.0 && exact.standard_uncertainty < known.standard_uncertainty, "{exact:?}");
}

/// A noise sixteen prior standard deviations below the data sheet, and one some thirty above: as summed over levels from far below to far above it.
#[test]
fn levels_reach_a_noise_that_the_data_sheet_is_far_from() {
    for (factor, u_mm, scatter, levels) in [(1.8, 0.0015, 1e-4, -400..=100), (1.05, 7e-5, 1.0, -200..=2000)] {
        let mut trial = many(135);
        (trial.prior.gauge_noise_factor, trial.gauge.indicator.u_mm) = (factor, u_mm);
        trial.indicator.iter_mut().for_each(|r| r.reading_mm = scatter * r.reading_mm + (1.0 - scatter) * (0.3 + 0.06e-3 * r.station_mm));
        let found = &vertical_misalignment(&trial).settings[0];
        let (mean, u) = on_fixed_levels(&trial, levels);
        let close = |found: f64, expected: f64| (found / expected - 1.0).abs() < 1e-6;
        assert!(close(found.mm_per_m, mean) && close(found.standard_uncertainty, u), "{found:?} {mean} {u}");
        let (mean, u) = on_fixed_levels(&trial, -180..=180);
        assert!(
            !close(found.mm_per_m, mean) && !close(found.standard_uncertainty, u),
            "nine standard deviations must not be enough: {mean} {u}"
        );
    }
}
