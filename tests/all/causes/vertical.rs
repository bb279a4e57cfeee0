//! The vertical misalignment from readings on top of a test bar.

use super::designs::bar;
use taperwright::causes::{VerticalMisalignment, vertical_misalignment};
use taperwright::physics::vertical_misalignment::{sag_between_centres_mm, sag_mm};
use taperwright::simulate::Chance;
use taperwright::trial::{Holding, IndicatorReading, Place, Plane, Trial};

const STATIONS: [f64; 5] = [20.0, 60.0, 100.0, 140.0, 180.0];

/// A trial with readings on top: `read(station, angle)` in mm.
fn on_top(angles: &[f64], stations: &[f64], mut read: impl FnMut(f64, f64) -> f64) -> Trial {
    let mut trial = bar(Holding::Chuck);
    for &spindle_deg in angles {
        for &station_mm in stations {
            trial.indicator.push(IndicatorReading {
                place: Place { file: 0, row: 1 },
                setting: 0,
                station_mm,
                reading_mm: read(station_mm, spindle_deg),
                spindle_deg,
                plane: Plane::Top,
                note: None,
            });
        }
    }
    trial
}

/// The bar thick enough not to sag, its certificate exact, the noise known.
fn ideal(trial: &mut Trial, taper_um: f64, u_um: f64) {
    trial.prior.gauge_noise_factor = 1.0;
    let bar = trial.testbar.as_mut().unwrap();
    (bar.taper_um, bar.u_um, bar.diameter_mm) = (taper_um, u_um, Some(1e6));
}

fn found(trial: &Trial) -> VerticalMisalignment {
    vertical_misalignment(trial).settings.into_iter().next().unwrap()
}

/// ISO 230-1, test mandrel: read at a generatrix, turn the spindle by 180°, read again; the mean of both is free of run-out (from memory).
/// The slope of the means by hand, with the standard error `σ√(1/2)/√Σ(z − z̄)²` of a straight line through means of two.
#[test]
fn half_a_turn_gives_the_slope_of_the_means() {
    let scatter = [0.4, -0.9, 0.3, 1.1, -0.6, -0.2, 0.8, -1.3, 0.5, 0.1];
    let mut next = scatter.iter();
    let mut trial = on_top(&[0.0, 180.0], &STATIONS, |z, angle| {
        let run_out = (0.007 + 3e-5 * z) * (angle - 25.0).to_radians().cos();
        0.5 + 0.04 * z / 1000.0 + run_out + 0.001 * next.next().unwrap()
    });
    ideal(&mut trial, 0.0, 0.0);
    let mean = |i: usize| 0.5 * (trial.indicator[i].reading_mm + trial.indicator[i + 5].reading_mm);
    let (mut sxy, mut sxx) = (0.0, 0.0);
    for (i, z) in STATIONS.iter().enumerate() {
        sxy += (z - 100.0) * mean(i);
        sxx += (z - 100.0) * (z - 100.0);
    }
    let v = found(&trial);
    let agrees = |value: f64, wanted: f64| (value - wanted).abs() < 1e-6;
    assert!(agrees(v.mm_per_m, 1000.0 * sxy / sxx), "{v:?}");
    assert!(agrees(v.standard_uncertainty, 1000.0 * 0.001 / (2.0 * sxx).sqrt()), "{v:?}");
    assert!(agrees(v.interval95.half_width(), 1.959_964 * v.standard_uncertainty), "{v:?}");
    assert!(!agrees(v.mm_per_m + 1e-5, 1000.0 * sxy / sxx) && !agrees(0.99 * v.standard_uncertainty, 1000.0 * 0.001 / (2.0 * sxx).sqrt()));
    assert_eq!((v.readings, v.spindle_angles, v.sag_removed), (10, 2, true));
}

/// A certificate of +4 µm ± 2 µm over 200 mm raises the top by half of it: 0.010 ± 0.005 mm/m come off and in.
#[test]
fn the_certificate_comes_off_with_its_uncertainty() {
    let mut trial = on_top(&[0.0, 180.0], &STATIONS, |z, _| 0.04 * z / 1000.0);
    ideal(&mut trial, 0.0, 0.0);
    let plain = found(&trial);
    ideal(&mut trial, 4.0, 2.0);
    let certified = found(&trial);
    assert!((plain.mm_per_m - 0.04).abs() < 1e-9 && (certified.mm_per_m - 0.03).abs() < 1e-9);
    assert!((certified.standard_uncertainty.powi(2) - plain.standard_uncertainty.powi(2) - 0.005f64.powi(2)).abs() < 1e-9);
}

/// Beam tables: under its own weight `wL⁴/8EI` at a free end, `5wL⁴/384EI` in the middle between supports. A level bar that sags reads level.
#[test]
fn the_sag_comes_off() {
    let (free, held) = (sag_mm(200.0, 200.0, 25.0, 206.0, 7850.0), sag_between_centres_mm(100.0, 200.0, 25.0, 206.0, 7850.0));
    assert!((held / free - 5.0 * 8.0 / 384.0).abs() < 1e-12);
    assert!(sag_between_centres_mm(200.0, 200.0, 25.0, 206.0, 7850.0).abs() < 1e-15);
    let mut trial = on_top(&[0.0, 180.0], &STATIONS, |z, _| -sag_mm(z, 200.0, 25.0, 206.0, 7850.0));
    ideal(&mut trial, 0.0, 0.0);
    trial.testbar.as_mut().unwrap().diameter_mm = Some(25.0);
    assert!(found(&trial).mm_per_m.abs() < 1e-5);
    // Of unknown thickness it stays in, and in the uncertainty.
    trial.testbar.as_mut().unwrap().diameter_mm = None;
    let unknown = found(&trial);
    assert!(!unknown.sag_removed && unknown.mm_per_m < -0.005 && unknown.interval95.contains(0.0), "{unknown:?}");
}

/// A single angle cannot part run-out that grows along the bar from an axis that rises.
#[test]
fn one_angle_leaves_the_run_out_in_the_uncertainty() {
    let trial = on_top(&[0.0], &STATIONS, |z, _| 0.04 * z / 1000.0);
    let (one, two) = (found(&trial), found(&on_top(&[0.0, 180.0], &STATIONS, |z, _| 0.04 * z / 1000.0)));
    assert!(one.standard_uncertainty > 0.02 / 0.3 && two.standard_uncertainty < 0.02, "{one:?} {two:?}");
}

/// Averaged over the priors of noise, run-out, certificate and sag the 95 % interval holds the truth in 93 to 97 % of 600 logs.
#[test]
fn intervals_cover() {
    let coverage = |shift: f64| {
        let mut chance = Chance::new(11, 90);
        let held = (0..600)
            .filter(|_| {
                let truth = 0.05 * chance.normal();
                let sigma = 0.001 * 1.5f64.powf(chance.normal());
                let (across, along) = ([0.01 * chance.normal(), 0.01 * chance.normal()], 0.02 / 300.0 * chance.normal());
                let (taper, sag) = (0.001 * chance.normal(), 1.0 + 0.1 * chance.normal());
                let mut trial = on_top(&[0.0, 120.0, 180.0], &STATIONS, |z, angle| {
                    let (sin, cos) = angle.to_radians().sin_cos();
                    truth * z / 1000.0 + across[0] * cos + across[1] * sin + along * z * cos + 0.5 * taper * z / 200.0
                        - sag * sag_mm(z, 200.0, 25.0, 206.0, 7850.0)
                        + sigma * chance.normal()
                });
                trial.testbar.as_mut().unwrap().diameter_mm = Some(25.0);
                found(&trial).interval95.contains(truth + shift)
            })
            .count();
        held as f64 / 600.0
    };
    let right = coverage(0.0);
    assert!((0.93..=0.97).contains(&right), "{right}");
    let wrong = coverage(0.006);
    assert!(wrong < 0.93, "{wrong}: an interval must miss what is not there");
}

#[test]
fn what_cannot_tell_says_so() {
    let mut trial = on_top(&[0.0, 180.0], &STATIONS[..1], |_, _| 0.0);
    let refused = vertical_misalignment(&trial);
    assert!(refused.settings.is_empty() && refused.refused[0].contains("one station"), "{refused:?}");
    trial = on_top(&[0.0, 180.0], &STATIONS, |_, _| 0.0);
    trial.testbar.as_mut().unwrap().turned_here = true;
    assert!(vertical_misalignment(&trial).settings.is_empty());
    trial.testbar.as_mut().unwrap().turned_here = false;
    trial.indicator.iter_mut().for_each(|r| r.plane = Plane::Side);
    assert_eq!(vertical_misalignment(&trial), taperwright::causes::Vertical::default());
}

/// Three stations at two angles with everything uncertain, beside a sum over noise levels with explicit covariances (tests/reference/vertical.py).
#[test]
fn a_mixture_over_noise_by_brute_force() {
    let scatter = [0.4, -2.9, 1.3, -0.2, 2.8, -1.3];
    let mut next = scatter.iter();
    let mut trial = on_top(&[0.0, 180.0], &[40.0, 110.0, 180.0], |z, angle| {
        0.5 + 0.04 * z / 1000.0 + (0.004 + 2e-5 * z) * (angle - 25.0).to_radians().cos() + 0.0006 * next.next().unwrap()
    });
    let certified = trial.testbar.as_mut().unwrap();
    (certified.taper_um, certified.u_um, certified.diameter_mm) = (1.0, 1.0, Some(25.0));
    let v = found(&trial);
    let agrees = |value: f64, wanted: f64| (value - wanted).abs() < 2e-6;
    assert!(agrees(v.mm_per_m, 0.047_960_012) && agrees(v.standard_uncertainty, 0.010_916_975), "{v:?}");
    assert!(agrees(v.interval95.low, 0.026_130_355) && agrees(v.interval95.high, 0.069_790_668), "{v:?}");
    assert!(!agrees(1.001 * v.standard_uncertainty, 0.010_916_975) && !agrees(v.interval95.low + 1e-5, 0.026_130_355));
}
