//! Quantities of logs so small, or gauges so good, that what is judged can be worked out by hand.

use super::quantities::limit;
use crate::shape::bench_log::{reading, trial};
use taperwright::causes::VerticalMisalignment;
use taperwright::conformity::{Allowed, Decision, Joint, Judgement, Tally, judge, shows_conformity};
use taperwright::quantities::Interval;
use taperwright::shape::fit_shapes;
use taperwright::statistics::mixed::NoisePrior;
use taperwright::trial::{DecisionRule, DiameterReading, Direction, Holding, LevelReading, Limit, Place, Quantity, Sense, Trial};

/// A gauge that is never wrong by more than a nanometre, in a room without temperatures.
fn exact(readings: Vec<DiameterReading>) -> Trial {
    let mut trial = trial(readings, 1e-7);
    trial.gauge.diameter.u_mm = 1e-6;
    trial.gauge.diameter.calibration_u_mm = 0.0;
    trial.gauge.level.u_mm_per_m = 1e-6;
    trial.conditions.temperature_spread_c = 0.0;
    trial
}

/// A pass to the headstock with these diameters, every one read twice a nanometre apart.
fn pass(number: u32, cut: &[(f64, f64)]) -> Vec<DiameterReading> {
    let twice = |(station, diameter): &(f64, f64)| {
        [-1e-6, 1e-6].map(|error| reading(u64::from(number), number, Direction::ToHeadstock, *station, diameter + error))
    };
    cut.iter().flat_map(twice).collect()
}

fn judged(trial: &Trial, limits: Vec<Limit>, rises: &[VerticalMisalignment]) -> Vec<Judgement> {
    let mut trial = trial.clone();
    trial.acceptance.limit = limits;
    let shapes = fit_shapes(&trial, 1, 0).shapes;
    judge(&trial, &shapes, Joint::default(), rises, 1)
}

fn plain(quantity: Quantity, limit_mm: f64) -> Limit {
    limit(quantity, limit_mm, None, Sense::Either)
}

fn one(trial: &Trial, limit: Limit) -> Judgement {
    judged(trial, vec![limit], &[]).remove(0)
}

fn close(found: Option<f64>, expected: f64, tolerance: f64) -> bool {
    found.is_some_and(|found| (found - expected).abs() <= tolerance)
}

/// Three stations, two passes of unlike size.
fn three_bands(middle: f64) -> Trial {
    let mut readings = pass(1, &[(0.0, 38.0), (100.0, 38.0 + middle), (200.0, 38.030)]);
    readings.extend(pass(2, &[(0.0, 37.0), (100.0, 37.0 + middle), (200.0, 37.030)]));
    exact(readings)
}

/// The last of three bands read with a gauge of its own, both known to 4 µm: the last band is wrong against the others by √2·4 µm, drawn once a bar. The taper over three stations at
/// −1, 0 and 1 is wrong by as much; the largest difference of 0, 10 and 30 µm too; the share is (20 + d)/(30 + d), its spread summed over the normal distribution of d.
#[test]
fn zeros_of_unlike_gauges_are_in_what_is_judged() {
    let log = |calibration_mm: f64| {
        let mut trial = three_bands(0.010);
        let mut gauge = trial.gauge.diameter.clone();
        gauge.calibration_u_mm = calibration_mm;
        trial.gauge.diameter_named = [("near".to_owned(), gauge.clone()), ("far".to_owned(), gauge)].into();
        let mut readings: Vec<DiameterReading> = trial.diameters.iter().collect();
        readings.iter_mut().for_each(|reading| reading.gauge = Some(if reading.station_mm > 150.0 { "far" } else { "near" }.into()));
        trial.diameters = readings.into();
        trial
    };
    let (mut mass, mut first, mut second) = (0.0, 0.0, 0.0);
    let off = 0.004 * 2.0_f64.sqrt();
    for step in -4000..=4000 {
        let z = f64::from(step) / 1000.0;
        let (weight, d) = ((-0.5 * z * z).exp(), off * z);
        let share = (0.020 + d).abs().max(0.010) / (0.030 + d).abs();
        (mass, first, second) = (mass + weight, first + weight * share, second + weight * share * share);
    }
    let spread = (second / mass - (first / mass).powi(2)).sqrt();
    let quantities = [(Quantity::Taper, off), (Quantity::DiameterConsistency, off), (Quantity::AdjacentBands, spread)];
    for (quantity, expected) in quantities {
        let u = |calibration_mm: f64| one(&log(calibration_mm), plain(quantity, 0.7)).standard_uncertainty.unwrap();
        let near = |found: f64| (found / expected - 1.0).abs() < 0.06;
        assert!(near(u(0.004)) && !near(1.15 * u(0.004)), "{quantity:?}: {} {expected}", u(0.004));
        // the hand that warms the gauge and the lengths leave the taper a tenth of that
        assert!(u(0.0) < 0.15 * expected, "{quantity:?}: without zeros {}", u(0.0));
    }
}

#[test]
fn the_largest_difference_and_the_share_of_adjacent_bands_are_those_of_the_diameters() {
    for (middle, range, share) in [(0.010, 0.030, 2.0 / 3.0), (0.040, 0.040, 4.0 / 3.0), (-0.006, 0.036, 1.2)] {
        let trial = three_bands(middle);
        let found = judged(&trial, vec![plain(Quantity::DiameterConsistency, 0.05), plain(Quantity::AdjacentBands, 0.75)], &[]);
        assert!(close(found[0].value, range, 2e-4), "{:?} {range}", found[0].value);
        assert_eq!(found[0].length, Some(200.0));
        assert!(!found[0].note.contains("Two stations"));
        assert!(close(found[1].value, share, 0.02), "{:?} {share}", found[1].value);
        assert_eq!((found[1].length, found[1].unit), (None, ""));
        assert!(!close(found[0].value, range + 0.001, 2e-4), "a micrometre more must be seen");
    }
}

#[test]
fn collars_are_bands_by_their_mean_ends_included() {
    // collars 0–10, 100–110 and 190–200, read at one, two and three stations: means 0, 0.012, 0.030
    let cut = [(10.0, 38.0), (100.0, 38.010), (110.0, 38.014), (190.0, 38.029), (195.0, 38.030), (200.0, 38.031)];
    let mut trial = exact(pass(1, &cut).into_iter().chain(pass(2, &cut)).collect());
    trial.bar.collars_mm = vec![[0.0, 10.0], [100.0, 110.0], [190.0, 200.0]];
    let found = one(&trial, plain(Quantity::AdjacentBands, 0.75));
    assert!(close(found.value, 18.0 / 30.0, 0.02), "{:?}", found.value);
    assert!(found.note.contains("among 3 bands"), "{}", found.note);
}

#[test]
fn passes_to_the_headstock_are_judged_where_there_are_any() {
    let mut readings = pass(1, &[(0.0, 38.0), (100.0, 38.005), (200.0, 38.010)]);
    let back = pass(2, &[(0.0, 38.0), (100.0, 38.020), (200.0, 38.040)]);
    readings.extend(back.iter().cloned().map(|reading| DiameterReading { direction: Direction::ToTailstock, ..reading }));
    let both = exact(readings.clone());
    let limits = || vec![plain(Quantity::Taper, 0.05), plain(Quantity::DiameterConsistency, 0.05)];
    let found = judged(&both, limits(), &[]);
    assert!(close(found[0].value, 0.010, 1e-4) && close(found[1].value, 0.010, 5e-4), "{:?} {:?}", found[0].value, found[1].value);
    assert!(found[0].note.contains("to the headstock"));
    readings.drain(..6);
    let found = judged(&exact(readings.clone()), limits(), &[]);
    assert!(close(found[0].value, 0.040, 1e-4) && close(found[1].value, 0.040, 5e-4), "{:?} {:?}", found[0].value, found[1].value);
    assert!(found[0].note.contains("no pass the usual way"));
    // a pass to the headstock that was read at one station has no taper to be judged
    readings.extend(pass(3, &[(100.0, 37.5)]));
    let found = judged(&exact(readings), limits(), &[]);
    assert!(close(found[0].value, 0.040, 1e-4) && close(found[1].value, 0.040, 5e-4), "{:?} {:?}", found[0].value, found[1].value);
    assert!(found[0].note.contains("no pass the usual way"));
}

#[test]
fn two_stations_say_that_nothing_between_them_is_seen() {
    let trial = exact(pass(1, &[(0.0, 38.0), (150.0, 38.009)]).into_iter().chain(pass(2, &[(0.0, 37.9), (150.0, 37.909)])).collect());
    let found = judged(&trial, vec![plain(Quantity::DiameterConsistency, 0.05), plain(Quantity::Barrel, 0.01)], &[]);
    assert!(close(found[0].value, 0.009, 1e-4) && found[0].note.contains("Two stations"), "{:?}", found[0]);
    assert_eq!((found[1].value, found[1].decision), (None, Some(Decision::NotProven)));
}

/// A level reading in a setting.
fn level(setting: u32, station_mm: f64, roll_mm_per_m: f64, reversed: bool, reference_roll_mm_per_m: Option<f64>) -> LevelReading {
    let place = Place { file: 0, row: 2 };
    LevelReading { place, setting, station_mm, roll_mm_per_m, reversed, reference_roll_mm_per_m, note: None }
}

fn levelled(levels: Vec<LevelReading>) -> Judgement {
    let mut trial = three_bands(0.015);
    trial.levels = levels;
    one(&trial, plain(Quantity::LevelVariation, 0.04))
}

/// Departures are drawn no larger than thirty standard deviations of the noise: of the hand's figure a few thousandths may be missing.
const NEARLY: f64 = 3e-4;

const ROLLS: [(f64, f64); 3] = [(0.0, 0.01), (300.0, 0.07), (650.0, 0.04)];

#[test]
fn the_levels_variation_is_the_largest_difference_of_roll_whatever_its_zero() {
    let zero = 0.5;
    let plain_way = ROLLS.map(|(z, roll)| level(0, z, roll + zero, false, None)).to_vec();
    let turned = ROLLS.map(|(z, roll)| level(0, z, roll - zero, true, None)).to_vec();
    let both: Vec<LevelReading> = plain_way.iter().chain(&turned).cloned().collect();
    // turned at one place only: that place tells the zero for all
    let once: Vec<LevelReading> = plain_way.iter().chain(&turned[..1]).cloned().collect();
    let mixed: Vec<LevelReading> = plain_way[..2].iter().chain(&turned).cloned().collect();
    let elsewhere: Vec<LevelReading> = both.iter().cloned().chain([level(7, 150.0, 9.0, false, None)]).collect();
    for levels in [plain_way.clone(), turned.clone(), both, once, mixed, elsewhere] {
        let found = levelled(levels);
        assert!(close(found.value, 0.06, NEARLY), "{found:?}");
        assert_eq!(found.length, Some(650.0));
        assert!(found.note.contains("over 3 places from 0 mm to 650 mm") && found.note.contains("No second level"), "{}", found.note);
    }
    // turned between places and at none both ways: the zero cannot be told
    let untold = levelled(vec![plain_way[0].clone(), turned[1].clone(), plain_way[2].clone()]);
    assert_eq!(untold.value, None);
    assert!(untold.note.contains("zero error cannot be told"), "{}", untold.note);
    assert_eq!((levelled(plain_way[..1].to_vec()).value, levelled(Vec::new()).value), (None, None));
    assert!(close(levelled(plain_way[..2].to_vec()).value, 0.06, NEARLY));
}

#[test]
fn a_second_level_on_the_headstock_is_taken_off() {
    // the machine tilts by 0.3 mm/m between the readings; without the second level that would be roll
    let tilts = [0.0, 0.3, 0.1];
    let levels: Vec<LevelReading> = ROLLS.iter().zip(tilts).map(|((z, roll), tilt)| level(0, *z, roll + tilt, false, Some(tilt))).collect();
    let found = levelled(levels);
    assert!(close(found.value, 0.06, NEARLY), "{:?}", found.value);
    assert!(!found.note.contains("No second level"), "{}", found.note);
}

/// Noise from the data sheet and repeats together: `(ν₀·u² + S)/(ν₀ + ν)` as stated, on two places, where the readings speak for themselves.
#[test]
fn the_levels_noise_is_that_of_data_sheet_and_repeats() {
    let (u, scatter, repeats) = (0.010, 0.018, 4);
    let here = |station: f64, roll: f64| {
        (0..repeats).map(move |i| level(0, station, roll + if i % 2 == 0 { scatter } else { -scatter }, false, None))
    };
    let mut trial = three_bands(0.015);
    trial.gauge.level.u_mm_per_m = u;
    trial.levels = here(0.0, 0.0).chain(here(400.0, 1.0)).collect();
    let found = one(&trial, plain(Quantity::LevelVariation, 0.04));
    let prior = NoisePrior::from_factor(u, trial.prior.gauge_noise_factor).equivalent_dof();
    let dof = prior + 6.0;
    let variance = (prior * u * u + 8.0 * scatter * scatter) / dof * (2.0 / 4.0) * dof / (dof - 2.0);
    assert!(close(found.value, 1.0, 1e-3), "{:?}", found.value);
    assert!(
        close(found.standard_uncertainty, variance.sqrt(), 0.04 * variance.sqrt()),
        "{:?} {}",
        found.standard_uncertainty,
        variance.sqrt()
    );
    // read both ways, the zero costs one of the degrees of freedom
    trial.levels.iter_mut().skip(1).step_by(2).for_each(|level| level.reversed = true);
    trial.levels.iter_mut().for_each(|level| level.roll_mm_per_m += if level.reversed { scatter } else { -scatter });
    let found = one(&trial, plain(Quantity::LevelVariation, 0.04));
    let dof = prior + 5.0;
    let variance = prior * u * u / dof * (2.0 / 4.0) * dof / (dof - 2.0);
    assert!(
        close(found.standard_uncertainty, variance.sqrt(), 0.05 * variance.sqrt()),
        "{:?} {}",
        found.standard_uncertainty,
        variance.sqrt()
    );
}

/// Readings at a station at these angles, on a bar 12 µm out of round: largest at 45°.
fn turned(pass: u32, station: f64, size: f64, angles: &[f64]) -> Vec<DiameterReading> {
    let at = |angle: &f64| {
        let diameter = size + 0.006 * (2.0 * (angle - 45.0)).to_radians().cos();
        DiameterReading { angle_deg: Some(*angle), ..reading(2, pass, Direction::ToHeadstock, station, diameter) }
    };
    angles.iter().map(at).collect()
}

fn round(readings: Vec<DiameterReading>) -> Judgement {
    one(&exact(readings), plain(Quantity::Roundness, 0.02))
}

const ROUND: [f64; 4] = [0.0, 45.0, 90.0, 135.0];

#[test]
fn roundness_is_the_largest_difference_over_the_angles_nearest_the_chuck() {
    let mut readings = turned(1, 20.0, 38.0, &ROUND);
    readings.extend(turned(2, 20.0, 37.5, &ROUND));
    for (number, size) in [(1, 38.0), (2, 37.5)] {
        // further out it is rounder and read at two angles; it is not this station that counts
        readings.extend(turned(number, 120.0, size, &[0.0, 90.0]));
        readings.extend(turned(number, 180.0, size, &[0.0, 90.0]));
    }
    let found = round(readings.clone());
    assert!(close(found.value, 0.012, 2e-4), "{:?}", found.value);
    assert!(found.note.contains("over 4 angles at 20 mm") && !found.note.contains("Fewer than four"), "{}", found.note);
    assert_eq!(found.length, None);
    // half a turn on is the same diameter
    let mut turned_on = readings.clone();
    turned_on[0].angle_deg = Some(180.0);
    turned_on[1].angle_deg = Some(225.0);
    turned_on[2].angle_deg = Some(-90.0);
    assert!(close(round(turned_on).value, 0.012, 2e-4));
    // a reading that was put aside counts for nothing, nor does one of another setting
    let mut wild = readings.clone();
    wild.push(DiameterReading { excluded: Some("slipped".into()), diameter_mm: 38.5, ..readings[0].clone() });
    let found = round(wild);
    assert!(close(found.value, 0.012, 2e-4), "{:?}", found.value);
    // a pass read at fewer angles than the other is left out
    let mut uneven = readings.clone();
    uneven.retain(|reading| reading.pass == 1 || reading.angle_deg != Some(45.0));
    assert!(close(round(uneven).value, 0.012, 2e-4));
    // three angles
    let mut three = readings;
    three.retain(|reading| reading.angle_deg != Some(135.0));
    let found = round(three);
    assert!(close(found.value, 0.006, 2e-4) && found.note.contains("Fewer than four"), "{:?} {}", found.value, found.note);
}

/// A round bar whose first angle one gauge read and the others another, 12 µm apart in their zeros: what the other says by itself counts.
#[test]
fn unlike_gauges_do_not_make_a_bar_out_of_round() {
    let by_gauges = |one_for_all: bool| {
        let gauge = |reading: DiameterReading| {
            let first = reading.angle_deg == Some(0.0);
            let zero = if first { 0.012 } else { 0.0 };
            let name = if first && !one_for_all { "first" } else { "second" };
            DiameterReading { diameter_mm: 38.0 + zero, gauge: Some(name.into()), ..reading }
        };
        let readings: Vec<DiameterReading> = [20.0, 120.0].iter().flat_map(|z| turned(1, *z, 38.0, &ROUND)).map(gauge).collect();
        round(readings)
    };
    let (unlike, one) = (by_gauges(false), by_gauges(true));
    assert!(
        close(unlike.value, 0.0, 1e-3) && unlike.note.contains("over 3 angles") && unlike.note.contains("Fewer than four"),
        "{:?} {}",
        unlike.value,
        unlike.note
    );
    assert!(!close(one.value, 0.0, 1e-3) && one.note.contains("over 4 angles"), "read with one gauge it is: {:?}", one.value);
}

#[test]
fn roughing_passes_say_nothing_of_roundness() {
    let mut readings = turned(1, 20.0, 38.0, &ROUND);
    readings.extend(turned(1, 120.0, 38.0, &ROUND));
    let finishing = round(readings.clone()).value;
    let rough = |reading: DiameterReading| DiameterReading {
        pass: 2,
        depth_mm: 0.8,
        diameter_mm: 39.0 + 9.0 * (reading.diameter_mm - 38.0),
        ..reading
    };
    let roughing: Vec<DiameterReading> = readings.iter().cloned().map(rough).collect();
    readings.extend(roughing);
    assert_eq!(round(readings).value, finishing);
    assert!(close(finishing, 0.012, 2e-4));
}

fn rise(setting: u32, held: Holding, mm_per_m: f64) -> VerticalMisalignment {
    VerticalMisalignment {
        setting,
        held,
        mm_per_m,
        standard_uncertainty: 0.01,
        interval95: Interval { low: 0.0, high: 0.0 },
        bar_length_mm: 250.0,
        readings: 4,
        spindle_angles: 2,
        sag_removed: true,
    }
}

#[test]
fn heights_are_those_of_their_setting_and_holding() {
    let rises = [rise(1, Holding::Chuck, 9.0), rise(0, Holding::Centres, 0.06), rise(0, Holding::Chuck, 0.04)];
    let mut vertical = plain(Quantity::SpindleParallelismVertical, 0.02);
    vertical.over_mm = Some(300.0);
    let found = judged(&three_bands(0.015), vec![vertical, plain(Quantity::TailstockHeight, 0.02)], &rises);
    assert!(close(found[0].value, 0.012, 1e-9) && close(found[0].standard_uncertainty, 0.003, 1e-9), "{:?}", found[0]);
    assert!(close(found[1].value, 0.015, 1e-9) && found[1].length == Some(250.0), "{:?}", found[1]);
}

/// A taper of 10 µm read with a gauge of 2 µm: its limit is moved about.
fn doubtful() -> Trial {
    let readings = (1..=3).flat_map(|number| {
        [(0.0, 38.0), (100.0, 38.006), (200.0, 38.010)].into_iter().enumerate().flat_map(move |(place, (station, diameter))| {
            let error = 0.001 * f64::from((number + u32::try_from(place).unwrap()) % 3);
            [0.001, -0.001].map(|repeat| reading(2, number, Direction::ToHeadstock, station, diameter + error + repeat))
        })
    });
    trial(readings.collect(), 0.0001)
}

#[test]
fn risks_are_what_the_probability_leaves() {
    let trial = doubtful();
    for (limit_mm, decision) in [(0.06, Decision::Conforms), (0.001, Decision::DoesNotConform), (0.011, Decision::NotProven)] {
        let found = one(&trial, limit(Quantity::Taper, limit_mm, None, Sense::Either));
        let probability = found.probability.unwrap();
        assert_eq!(found.decision, Some(decision));
        let risks = match decision {
            Decision::Conforms => (Some(1.0 - probability), None),
            Decision::DoesNotConform => (None, Some(probability)),
            Decision::NotProven => (None, None),
        };
        assert_eq!((found.consumers_risk, found.producers_risk), risks);
        assert!(found.consumers_risk.or(found.producers_risk).is_none_or(|risk| risk < 0.05));
    }
}

/// The passes that are said to be needed are just enough by the shape's own figures.
#[test]
fn the_passes_needed_are_just_enough() {
    let mut trial = doubtful();
    trial.conditions.temperature_spread_c = 0.5;
    let shape = fit_shapes(&trial, 1, 0).shapes.remove(0);
    let row = &shape.by_direction[0];
    let (unseen, seen) =
        (shape.taper.standard_uncertainty.powi(2) - shape.taper.standard_error.powi(2), shape.taper.standard_error.powi(2));
    assert!((row.standard_uncertainty.powi(2) - unseen - seen).abs() < 1e-12, "one direction alone");
    let barrel = shape.barrel.as_ref().unwrap();
    let (barrel_seen, barrel_u) = (barrel.standard_error.powi(2), barrel.standard_uncertainty.powi(2));
    let cases = [
        (Quantity::Taper, row.value, row.standard_uncertainty, unseen, seen, 1.3),
        (Quantity::Barrel, barrel.value, barrel_u.sqrt(), barrel_u - barrel_seen, barrel_seen, 1.5),
    ];
    // the largest difference of diameters: what the taper's readings leave open shrinks, the rest of its own uncertainty stays
    let wide = one(&trial, plain(Quantity::DiameterConsistency, 0.06));
    let (value, u) = (wide.value.unwrap(), wide.standard_uncertainty.unwrap());
    let cases = cases.into_iter().chain([(Quantity::DiameterConsistency, value, u, u * u - seen, seen, 1.3)]);
    for (quantity, value, u, stays, shrinks, distance) in cases {
        let found = one(&trial, plain(quantity, value.abs() + distance * u));
        assert_eq!(found.decision, Some(Decision::NotProven), "{quantity:?}");
        let (needed, passes) = (found.uncertainty_needed.unwrap(), found.passes_needed.unwrap());
        let after = |passes: usize| (stays + shrinks * 3.0 / passes as f64).sqrt();
        assert!(passes > 3 && after(passes) <= needed && after(passes - 1) > needed, "{quantity:?}: {passes} {needed}");
    }
}

/// A gauge that reads in steps of 10 µm: what its rounding adds to the barrel stays, however many passes there are.
#[test]
fn the_rounding_of_a_barrel_stays() {
    let mut trial = doubtful();
    trial.gauge.diameter.resolution_mm = 0.01;
    let shape = fit_shapes(&trial, 1, 0).shapes.remove(0);
    let barrel = shape.barrel.as_ref().unwrap();
    let (u, error) = (barrel.standard_uncertainty, barrel.standard_error);
    let stays = u * u - error * error;
    assert!(stays > 0.1 * u * u && stays < 0.9 * u * u, "{error} of {u}");
    let found = one(&trial, plain(Quantity::Barrel, barrel.value.abs() + 1.6 * u));
    let (needed, passes) = (found.uncertainty_needed.unwrap(), found.passes_needed.unwrap());
    let after = |passes: usize| (stays + error * error * 3.0 / passes as f64).sqrt();
    assert!(passes > 3 && after(passes) <= needed && after(passes - 1) > needed, "{passes} {needed}");
}

#[test]
fn a_deviation_the_wrong_way_is_told_and_only_that() {
    let trial = doubtful(); // larger at the tailstock by 10 µm
    let told = |sense, mm| one(&trial, limit(Quantity::Taper, mm, None, sense)).note.contains("the way that is not allowed");
    assert!(told(Sense::LargerAtHeadstock, 0.02), "beyond the floor of 5 µm");
    assert!(!told(Sense::LargerAtTailstock, 0.02) && !told(Sense::LargerAtTailstock, 0.002), "too much the right way is something else");
    assert!(!told(Sense::Either, 0.002));
    // larger at the headstock by 10 µm
    let mut mirrored = trial.clone();
    mirrored.diameters = trial
        .diameters
        .iter()
        .map(|r| DiameterReading { diameter_mm: 76.0 - r.diameter_mm, read_mm: 76.0 - r.diameter_mm, ..r })
        .collect::<Vec<_>>()
        .into();
    let told = |sense, mm| one(&mirrored, limit(Quantity::Taper, mm, None, sense)).note.contains("the way that is not allowed");
    assert!(told(Sense::LargerAtTailstock, 0.02) && !told(Sense::LargerAtHeadstock, 0.02) && !told(Sense::LargerAtHeadstock, 0.002));
    // within the floor nothing is told
    let mut small = exact(pass(1, &[(0.0, 38.0), (100.0, 38.001), (200.0, 38.002)]));
    pass(2, &[(0.0, 37.0), (100.0, 37.001), (200.0, 37.002)]).into_iter().for_each(|reading| small.diameters.push(reading));
    assert!(!one(&small, limit(Quantity::Taper, 0.02, None, Sense::LargerAtHeadstock)).note.contains("not allowed"));
}

#[test]
fn simple_acceptance_says_where_the_matter_is_open() {
    let mut trial = doubtful();
    let said = |trial: &Trial, mm| one(trial, plain(Quantity::Taper, mm)).note.contains("Simple acceptance: the value decides");
    assert!(!said(&trial, 0.011), "another rule");
    trial.acceptance.decision_rule = Some(DecisionRule::Simple);
    assert!(said(&trial, 0.011) && !said(&trial, 0.06) && !said(&trial, 0.001));
}

#[test]
fn conformity_is_that_of_the_latest_setting_and_of_limits_with_a_decision() {
    let trial = doubtful();
    let good = Judgement { setting: 2, ..one(&trial, plain(Quantity::Taper, 0.06)) };
    let bad = Judgement { setting: 1, ..one(&trial, plain(Quantity::Taper, 0.001)) };
    let silent = Judgement { decision: None, ..bad.clone() };
    assert_eq!(shows_conformity(&[bad.clone(), good.clone()]), Ok(()));
    assert_eq!(shows_conformity(&[good.clone(), Judgement { setting: 2, ..silent.clone() }]), Ok(()));
    assert!(shows_conformity(&[good, Judgement { setting: 2, ..bad }]).is_err());
    assert!(shows_conformity(&[silent]).is_err() && shows_conformity(&[]).is_err());
}

#[test]
fn ends_of_what_is_allowed_are_inside_whatever_rounding_did() {
    let allowed = Allowed { low: -0.01, high: 0.04 };
    for (value, inside) in [(0.04, true), (-0.01, true), (0.1 + 0.2 - 0.26, true), (0.040_000_01, false), (-0.010_000_01, false)] {
        assert_eq!(allowed.contains(value), inside, "{value}");
    }
    let exact = Allowed { low: 0.0, high: 0.0 };
    assert!(exact.contains(0.0) && !exact.contains(1e-12));
    let large = Allowed { low: f64::NEG_INFINITY, high: 1000.0 };
    assert!(large.contains(1_000.000_000_5) && !large.contains(1_000.000_01));
}

/// A pass that skips a station, and is a millimetre smaller, leaves its size out of what is judged.
#[test]
fn passes_of_unlike_size_and_stations_are_judged_by_their_shape() {
    let mut readings = pass(1, &[(0.0, 38.0), (100.0, 38.010), (200.0, 38.020)]);
    readings.extend(pass(2, &[(0.0, 37.0), (100.0, 37.010), (200.0, 37.020)]));
    readings.extend(pass(3, &[(0.0, 36.0), (200.0, 36.020)]));
    readings.extend(pass(4, &[(100.0, 35.010), (200.0, 35.020)]));
    let found = judged(&exact(readings), vec![plain(Quantity::DiameterConsistency, 0.05), plain(Quantity::AdjacentBands, 0.75)], &[]);
    assert!(close(found[0].value, 0.020, 1e-4) && close(found[1].value, 0.5, 0.01), "{:?} {:?}", found[0].value, found[1].value);
}

/// On a plain taper the largest difference is the taper, and is as uncertain as the taper of the direction judged: what no reading shows and what this
/// direction's passes leave open, not the other's.
#[test]
fn the_largest_difference_of_a_taper_is_as_uncertain_as_the_taper() {
    let slopes = [0.0, 0.004, -0.003, 0.002, -0.004, 0.001];
    let cut = |number: u32, direction, slope: f64| {
        let twice = move |station: f64| {
            let diameter = 38.0 - 0.1 * f64::from(number) + (0.2 + slope) * station / 200.0;
            [-0.0001, 0.0001].map(|error| reading(2, number, direction, station, diameter + error))
        };
        [0.0, 50.0, 100.0, 150.0, 200.0].into_iter().flat_map(twice)
    };
    let back = slopes.iter().zip(2..).flat_map(|(slope, number)| cut(number, Direction::ToTailstock, *slope));
    let mut trial = exact(cut(1, Direction::ToHeadstock, 0.001).chain(back).collect());
    trial.conditions.temperature_spread_c = 12.0;
    let shape = fit_shapes(&trial, 1, 0).shapes.remove(0);
    let (there, other) = (&shape.by_direction[0], &shape.by_direction[1]);
    assert!(there.direction == Direction::ToHeadstock && there.standard_uncertainty > 1.1 * other.standard_uncertainty);
    let found = one(&trial, plain(Quantity::DiameterConsistency, 0.05));
    // seven passes less two mean slopes: the spread between passes has five degrees of freedom, and draws of it are those of a t
    let unseen = shape.taper.standard_uncertainty.powi(2) - shape.taper.standard_error.powi(2);
    let expected = (unseen + (there.standard_uncertainty.powi(2) - unseen) * 5.0 / 3.0).sqrt();
    assert!(unseen > 0.3 * there.standard_uncertainty.powi(2), "{unseen} {}", there.standard_uncertainty.powi(2));
    assert!(close(found.standard_uncertainty, expected, 0.08 * expected), "{:?} {expected}", found.standard_uncertainty);
}

#[test]
fn lengths_are_from_the_first_to_the_last_station() {
    let trial = exact(
        pass(1, &[(10.0, 38.0), (100.0, 38.005), (190.0, 38.010)]).into_iter().chain(pass(2, &[(10.0, 37.0), (190.0, 37.010)])).collect(),
    );
    assert_eq!(one(&trial, plain(Quantity::DiameterConsistency, 0.05)).length, Some(180.0));
    assert_eq!(levelled(vec![level(0, 100.0, 0.0, false, None), level(0, 450.0, 0.02, false, None)]).length, Some(350.0));
}

/// Two angles so far apart that the noise hides nothing: the weighted mean of the passes' differences, each about its own pass's size, and the noise of data sheet,
/// rounding and repeats together.
#[test]
fn roundness_weighs_passes_by_their_readings_and_its_noise_by_data_sheet_and_repeats() {
    let (scatter, u, resolution) = (0.018, 0.010, 0.02);
    let cell = |pass: u32, angle: f64, size: f64, count: usize| {
        let errors: &[f64] = if count == 2 { &[1.0, -1.0] } else { &[1.0, 0.0, -1.0] };
        let at = move |error: &f64| DiameterReading {
            angle_deg: Some(angle),
            ..reading(2, pass, Direction::ToHeadstock, 20.0, size + scatter * error)
        };
        errors.iter().map(at).collect::<Vec<_>>()
    };
    // differences 1.0 and 1.3; two and three readings, three and two
    let mut readings = [cell(1, 0.0, 38.0, 2), cell(1, 90.0, 39.0, 3), cell(2, 0.0, 30.0, 3), cell(2, 90.0, 31.3, 2)].concat();
    readings.extend([1, 2].map(|pass| reading(2, pass, Direction::ToHeadstock, 120.0, 38.0)));
    let mut trial = exact(readings);
    (trial.gauge.diameter.u_mm, trial.gauge.diameter.resolution_mm) = (u, resolution);
    let found = one(&trial, plain(Quantity::Roundness, 0.02));
    // −(2·0.5 + 3·0.65)/5 against (3·0.5 + 2·0.65)/5
    assert!(close(found.value, 1.15, 0.01), "{:?}", found.value);
    let prior = NoisePrior::from_factor(u, trial.prior.gauge_noise_factor).equivalent_dof();
    let dof = prior + 6.0;
    let variance = (prior * (u * u + resolution * resolution / 12.0) + 8.0 * scatter * scatter) / dof * (2.0 / 5.0) * dof / (dof - 2.0);
    assert!(
        close(found.standard_uncertainty, variance.sqrt(), 0.05 * variance.sqrt()),
        "{:?} {}",
        found.standard_uncertainty,
        variance.sqrt()
    );
}

#[test]
fn a_station_read_at_one_angle_says_nothing_and_the_next_is_taken() {
    let mut readings = turned(1, 5.0, 38.0, &[45.0]);
    readings.extend(turned(1, 60.0, 38.0, &ROUND));
    let found = round(readings);
    assert!(close(found.value, 0.012, 2e-4) && found.note.contains("4 angles at 60 mm"), "{found:?}");
}

#[test]
fn limits_are_counted_by_setting_and_decision() {
    let some = one(&doubtful(), plain(Quantity::Taper, 0.06));
    let with = |setting, decision| Judgement { setting, decision, ..some.clone() };
    let (good, bad, open) = (Some(Decision::Conforms), Some(Decision::DoesNotConform), Some(Decision::NotProven));
    let judged = [
        with(2, good),
        with(2, good),
        with(2, good),
        with(2, bad),
        with(2, open),
        with(2, open),
        with(2, None),
        with(1, bad),
        with(1, None),
    ];
    let tally = Tally::of(&judged, 2);
    assert_eq!(tally, Tally { conforms: 3, does_not_conform: 1, not_proven: 2, not_applied: 1 });
    assert_eq!((tally.decided(), tally.limits(), tally.worst()), (6, 7, bad));
    for (decision, name) in [(good, "conforms"), (bad, "does-not-conform"), (open, "not-proven")] {
        assert_eq!(decision.map(Decision::name), Some(name));
    }
}

#[test]
fn simple_acceptance_asks_for_no_probability() {
    let mut trial = doubtful();
    assert_eq!(one(&trial, plain(Quantity::Taper, 0.06)).asked, Some(0.95));
    trial.acceptance.decision_rule = Some(DecisionRule::Simple);
    assert_eq!(one(&trial, plain(Quantity::Taper, 0.06)).asked, None);
}

#[test]
fn sizes_have_no_lower_limit_and_deviations_do() {
    for quantity in Quantity::ALL {
        let size =
            [Quantity::DiameterConsistency, Quantity::AdjacentBands, Quantity::Roundness, Quantity::LevelVariation].contains(&quantity);
        let allowed = Allowed::of(&plain(quantity, 0.02), None);
        assert_eq!((allowed.low.is_finite(), allowed.high), (!size, 0.02), "{quantity:?}");
    }
}

/// What tilts all passes alike changes the end bands' difference and the share in proportion; the rest of the share's uncertainty shrinks with passes.
#[test]
fn the_passes_that_settle_the_adjacent_bands_leave_the_tilt() {
    let readings = (1..=3).flat_map(|number| {
        [(0.0, 38.0), (100.0, 38.020), (200.0, 38.030)].into_iter().enumerate().flat_map(move |(place, (station, diameter))| {
            let error = 0.001 * f64::from((number + u32::try_from(place).unwrap()) % 3);
            [0.0005, -0.0005].map(|repeat| reading(2, number, Direction::ToHeadstock, station, diameter + error + repeat))
        })
    });
    let mut trial = trial(readings.collect(), 0.0001);
    trial.conditions.temperature_spread_c = 3.0;
    let shape = fit_shapes(&trial, 1, 0).shapes.remove(0);
    let unseen = shape.taper.standard_uncertainty.powi(2) - shape.taper.standard_error.powi(2);
    let wide = one(&trial, plain(Quantity::AdjacentBands, 0.9));
    let (value, u) = (wide.value.unwrap(), wide.standard_uncertainty.unwrap());
    let stays = value * unseen.sqrt() / 0.030;
    assert!(stays > 0.2 * u && stays < 0.7 * u, "{stays} {u}");
    let found = one(&trial, plain(Quantity::AdjacentBands, value + 1.2 * u));
    assert_eq!(found.decision, Some(Decision::NotProven));
    let room = found.uncertainty_needed.unwrap().powi(2) - stays * stays;
    let expected = 3.0 * (u * u - stays * stays) / room;
    let passes = found.passes_needed.unwrap() as f64;
    assert!((passes - expected).abs() <= 1.0 + 0.1 * expected, "{passes} {expected}");
}

/// A bar with a step is no noise: what no parabola follows is left out of the scatter, and the share of its bands is as sure as the gauge.
#[test]
fn a_step_does_not_make_its_own_bands_uncertain() {
    let cut = [(0.0, 38.0), (50.0, 38.0), (100.0, 38.015), (150.0, 38.030), (200.0, 38.030)];
    let mut trial = exact([1, 2, 3].into_iter().flat_map(|number| pass(number, &cut)).collect());
    trial.bar.collars_mm = vec![[0.0, 60.0], [90.0, 110.0], [140.0, 200.0]];
    let found = one(&trial, plain(Quantity::AdjacentBands, 0.75));
    assert!(close(found.value, 0.5, 0.01) && found.standard_uncertainty.is_some_and(|u| u < 0.01), "{found:?}");
}

/// A spread far wider than the limits leaves little between them: that is said, and not of a value that merely lies near one.
#[test]
fn what_is_known_too_poorly_is_told() {
    let judged = |spread_k: f64| {
        let mut trial = doubtful();
        trial.conditions.temperature_spread_c = spread_k;
        one(&trial, plain(Quantity::Taper, 0.02))
    };
    let (wide, near) = (judged(3_000.0), judged(30.0));
    assert_eq!((wide.decision, near.decision), (Some(Decision::NotProven), Some(Decision::NotProven)), "{wide:?} {near:?}");
    assert!(wide.probability.unwrap() < 0.05 && near.probability.unwrap() > 0.05);
    assert!(
        wide.note.contains("It is known too poorly for these limits") && !near.note.contains("too poorly"),
        "{} {}",
        wide.note,
        near.note
    );
}

/// Where passes cannot settle a limit the note names what most of the uncertainty comes from: the temperature in a room of 6 K, the tool's height in an even one.
#[test]
fn what_passes_do_not_make_smaller_is_named() {
    let note = |spread_k: f64, height_u_mm: f64| {
        let mut trial = three_bands(0.015);
        (trial.conditions.temperature_spread_c, trial.cutting.tool_height_u_mm) = (spread_k, height_u_mm);
        one(&trial, plain(Quantity::Taper, 0.031)).note
    };
    let (warm, even) = (note(6.0, 0.0), note(0.0, 3.0));
    assert!(warm.contains("temperature") && !warm.contains("vertical"), "{warm}");
    assert!(even.contains("vertical") && !even.contains("temperature"), "{even}");
}
