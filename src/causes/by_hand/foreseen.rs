//! What logs would tell, and brought, beside a dense normal model with an explicit covariance.

use super::super::evidence::evidence;
use super::super::foresight::{Foreseen, foresee};
use super::super::information::{information, worst_place};
use super::super::values::{CauseKind, LogEvidence};
use super::{close, designed, fixture, medians, reading};
use crate::physics::deflection::{Infeed, left_by_mm};
use crate::physics::{Support, cutting_force};
use crate::trial::*;
use nalgebra::{DMatrix, DVector};

const H: Direction = Direction::ToHeadstock;
const T: Direction = Direction::ToTailstock;
const STATIONS: [f64; 5] = [20.0, 70.0, 100.0, 150.0, 200.0];

/// Two passes, one each way, without worn ways and without extra wear of a fresh edge.
pub(super) fn both_ways() -> Trial {
    let mut trial = fixture::bar(Holding::Chuck);
    (trial.prior.way_wear_um, trial.prior.fresh_edge_um) = (0.0, 0.0);
    let error = [0.4, -1.0, 0.6, 1.2, -0.8, 0.3, -0.2, 0.9, -1.1, 0.5];
    let rows = [(1, H), (2, T)].into_iter().flat_map(|(pass, direction)| STATIONS.map(|z| (pass, direction, z)));
    let rows = rows.zip(error).zip(2..).map(|(((pass, direction, z), e), row)| {
        let depth_mm = if pass == 1 { 0.3 } else { 0.05 };
        DiameterReading { depth_mm, ..reading(row, 0, pass, direction, z, 38.0 + 1e-3 * e) }
    });
    trial.diameters = rows.collect::<Vec<_>>().into();
    trial
}

/// `V⁻¹` less what a free constant takes: `V⁻¹ − V⁻¹1(1ᵀV⁻¹1)⁻¹1ᵀV⁻¹`.
fn without_constant(covariance: &DMatrix<f64>) -> DMatrix<f64> {
    let inverse = covariance.clone().try_inverse().unwrap();
    let ones = DVector::from_element(covariance.nrows(), 1.0);
    let across = &inverse * &ones;
    &inverse - &across * across.transpose() / ones.dot(&across)
}

#[test]
fn what_a_log_would_tell_by_a_dense_model() {
    let trial = both_ways();
    let design = designed(&trial);
    let values = medians(&design);
    // medians: h, q = 1 both ways; noise of the data sheet and its rounding; spreads of 2·√(mean of standard errors²)
    let (roll_arm, feed, rpm, length) = (143.75, 0.1, 500.0, 220.0);
    let along = |direction: Direction, z: f64| if direction == H { length - z } else { z };
    let x: Vec<f64> = STATIONS.iter().map(|z| (z - 110.0) / 90.0).collect();
    let bend: Vec<f64> = x.iter().map(|x| 1.5 * x * x - 0.5).collect();
    let terms = DMatrix::from_fn(5, 2, |i, k| if k == 0 { x[i] } else { bend[i] });
    let means = terms.row_mean();
    let centred = DMatrix::from_fn(5, 2, |i, k| terms[(i, k)] - means[k]);
    let unit = (centred.transpose() * &centred).try_inverse().unwrap();
    let noise = 0.002_f64.powi(2) + 0.0001_f64.powi(2) / 12.0;
    close(values.noise[0], noise, 1e-12);
    let mut covariance = DMatrix::identity(5, 5) * noise;
    for (k, spread) in [(0, values.slope_spread), (1, values.barrel_spread)] {
        let column = terms.column(k);
        covariance += column * column.transpose() * (2.0 * spread).powi(2) * unit[(k, k)] * noise;
    }
    let weight = without_constant(&covariance);
    // half of the half-t(3) lies below 0.7649 (Abramowitz & Stegun, table 26.10)
    close(values.slope_spread, 0.764_892, 1e-5);
    let support = Support::of_bar(&trial.bar, values.compliances);
    let cut = |depth: f64, q: f64| Infeed {
        depth_mm: depth,
        stiffness_n_per_mm: q * cutting_force::radial_stiffness_n_per_mm(&trial.bar, depth, feed, 0.4),
    };
    let bent = |pass: usize, z: f64, q: f64| left_by_mm(&[cut(0.3, q), cut(0.05, q)][..pass], support.compliance_mm_per_n(z));
    // causes' curves for one prior standard deviation, mm: yaw, twist, wear, drift
    let curve = |cause: usize, direction: Direction, z: f64| match cause {
        0 => 0.08 * 2.0 * z / 1000.0,
        1 => 0.4 * 2.0 * roll_arm * z / 1e6,
        2 => 12.0 * 2.0 * along(direction, z) / 1e6,
        _ => 0.2 * 2.0 * along(direction, z) / (feed * rpm) / 1000.0,
    };
    // lines common to both passes, likewise: the bar out of line vertically (h₀ ± 0.3 mm, y = 0.08 mm/m·z), bar and gauge unlike by 2 K and by 1 K
    let diameter = (0..10).map(|row| trial.diameters.diameter_mm(row)).sum::<f64>() / 10.0;
    let vertical =
        (4.0 * 0.18 * 0.08 * 0.3_f64).hypot(2.0 * (0.2_f64.powi(2) - 0.02_f64.powi(2)) * 0.08_f64.powi(2) * 3.0_f64.sqrt()) / diameter;
    let warmth = 11.5e-6 * diameter * 5.0_f64.sqrt() / 3.0_f64.sqrt();
    let force_sd = (2.0_f64.ln().powi(2).exp_m1() * 2.0_f64.ln().powi(2).exp()).sqrt();
    let mut precision = DMatrix::identity(7, 7);
    let place = |k: usize| if k < 4 { k } else { k + 1 };
    let step = 0.1;
    for (pass, direction) in [(1, H), (2, T)] {
        let curves = DMatrix::from_fn(5, 6, |i, k| match k {
            4 => vertical * STATIONS[i] / 180.0,
            5 => warmth * STATIONS[i] / 180.0,
            cause => curve(cause, direction, STATIONS[i]),
        });
        let left = |q: f64| DVector::from_fn(5, |i, _| bent(pass, STATIONS[i], q));
        let readings = DVector::from_fn(5, |i, _| trial.diameters.diameter_mm(5 * (pass - 1) + i));
        let square = |q: f64| {
            let rest = &readings - left(q);
            rest.dot(&(&weight * &rest))
        };
        let gram = curves.transpose() * &weight * &curves;
        let cross = curves.transpose() * &weight * (left(1.0 + step) - left(1.0 - step)) / (2.0 * step);
        for k in 0..6 {
            (0..6).for_each(|l| precision[(place(k), place(l))] += gram[(k, l)]);
            precision[(place(k), 4)] += force_sd * cross[k];
            precision[(4, place(k))] += force_sd * cross[k];
        }
        precision[(4, 4)] += force_sd * force_sd * (square(1.0 + step) + square(1.0 - step) - 2.0 * square(1.0)) / (2.0 * step * step);
    }
    let posterior = precision.try_inverse().unwrap();
    let foreseen = foresee(&trial);
    // contributions are read from the lightest pass to the headstock, number 1: differences over 180 mm, µm
    let ends = |f: &dyn Fn(f64) -> f64| 1000.0 * (f(200.0) - f(20.0));
    let linear = [CauseKind::HeadstockYaw, CauseKind::BedTwist, CauseKind::ToolWear, CauseKind::ThermalDrift];
    assert_eq!(foreseen.len(), 5);
    for own in &foreseen {
        let functional = match linear.iter().position(|cause| *cause == own.cause) {
            Some(k) => DVector::from_fn(7, |i, _| if i == k { ends(&|z| curve(k, H, z)) } else { 0.0 }),
            None => {
                let more = ends(&|z| bent(1, z, 1.1)) - ends(&|z| bent(1, z, 1.0));
                DVector::from_fn(7, |i, _| if i == 4 { force_sd * more / 0.1 } else { 0.0 })
            }
        };
        close(own.before_um, functional.norm(), 1e-9);
        close(own.after_um, functional.dot(&(&posterior * &functional)).sqrt(), 1e-6);
    }
}

fn of(foreseen: &[Foreseen], cause: CauseKind) -> &Foreseen {
    foreseen.iter().find(|one| one.cause == cause).unwrap()
}

#[test]
fn what_can_be_told_apart() {
    use CauseKind::{BedTwist, Deflection, HeadstockYaw, TailstockOffset, ThermalDrift, ToolWear};
    let diameters = foresee(&both_ways());
    for cause in [HeadstockYaw, BedTwist] {
        let own = of(&diameters, cause);
        assert!(!own.separate && own.only_with.contains(if cause == BedTwist { &HeadstockYaw } else { &BedTwist }), "{own:?}");
        assert!(!own.only_with.contains(&cause));
    }
    // feed and speed alike, so that wear and warming go together, and with nothing else
    assert_eq!(
        (of(&diameters, ToolWear).only_with.as_slice(), of(&diameters, ThermalDrift).only_with.as_slice()),
        ([ThermalDrift].as_slice(), [ToolWear].as_slice())
    );
    let mut log = both_ways();
    log.levels = fixture::straight_levels();
    let levels = foresee(&log);
    assert!(of(&levels, BedTwist).separate && of(&levels, BedTwist).only_with.is_empty());
    // 2hτz with a standard error of the twist of 0.01/√Σ(Z − Z̄)² = 0.01/0.4743 (mm/m)/m from a data sheet of 0.01 mm/m
    let twist = 2.0 * 143.75 * 180.0 / 1000.0 * 0.01 / (0.225_f64).sqrt();
    let with_prior = 1.0 / (twist.powi(-2) + (2.0 * 143.75 * 0.18 * 0.4_f64).powi(-2)).sqrt();
    assert!(of(&levels, BedTwist).after_um <= with_prior && of(&levels, BedTwist).after_um > 0.9 * with_prior);
    assert!(diameters.iter().all(|one| one.cause != TailstockOffset) && of(&diameters, Deflection).before_um > 0.0);
    let mut centres = both_ways();
    centres.bar.holding = Holding::Centres;
    let causes: Vec<CauseKind> = foresee(&centres).iter().map(|one| one.cause).collect();
    assert!(!causes.contains(&HeadstockYaw) && !causes.contains(&BedTwist) && causes.contains(&TailstockOffset));
    let mut none = both_ways();
    none.diameters.truncate(1);
    assert!(foresee(&none).is_empty());
}

/// A log taught what is less sure without it: beside the forecasts of the trial with it and without it.
#[test]
fn what_each_log_brought() {
    let mut trial = fixture::everything(Holding::Chuck);
    trial.prior.way_wear_um = 0.0;
    trial.levels.truncate(3);
    let design = designed(&trial);
    let centre = medians(&design);
    let found = evidence(&trial, &design, &centre);
    let names: Vec<(&str, usize)> = found.iter().map(|one| (one.log, one.readings)).collect();
    assert_eq!(
        names,
        [
            ("diameters", trial.diameters.len()),
            ("levels", 3),
            ("indicator", trial.indicator.len()),
            ("clamp", trial.clamp.len()),
            ("moves", 1)
        ]
    );
    let with = foresee(&trial);
    let last = design.references.iter().filter(|r| r.main).map(|r| r.setting).max().unwrap();
    let without = |change: &dyn Fn(&mut Trial)| {
        let mut other = trial.clone();
        change(&mut other);
        foresee(&other)
    };
    let checks: [(usize, Vec<Foreseen>); 2] = [(1, without(&|t| t.levels.clear())), (3, without(&|t| t.clamp.clear()))];
    let mut learned = 0;
    for (place, without) in &checks {
        for one in &with {
            let before = of(without, one.cause).after_um;
            let told = found[*place].learned.iter().find(|l| l.setting == last && l.cause == one.cause);
            assert_eq!(told.is_some(), one.after_um < 0.9 * before, "{place} {:?}", one.cause);
            if let Some(told) = told {
                close(told.with_um, one.after_um, 1e-6);
                close(told.without_um, before, 1e-6);
                learned += 1;
            }
        }
    }
    assert!(learned > 0 && found[4].learned.is_empty());
    assert!(found[1].learned.iter().any(|l| l.setting == 0), "of every setting");
    let refused = |found: &[LogEvidence]| found.iter().map(|one| one.refused.len()).collect::<Vec<_>>();
    assert_eq!(refused(&found), [0; 5]);
    trial.clamp.retain(|r| r.foot != Foot::ALL[0]);
    trial.machine.feet = None;
    let design = designed(&trial);
    let found = evidence(&trial, &design, &medians(&design));
    assert_eq!(refused(&found)[3..], [1, 1], "the clamp log lacks a foot, the move its spacing");
    assert!(found[3].readings == 0 && found[3].learned.is_empty() && found[4].readings == 0);
}

/// Readings that repeat count one by one.
#[test]
fn repeated_readings_are_counted() {
    let mut trial = both_ways();
    let mut rows = trial.diameters.to_vec();
    rows.extend(rows.clone());
    rows.extend(rows[..3].to_vec());
    trial.diameters = rows.into();
    let reduced = trial.with_diameters(trial.diameters.reduced());
    let design = designed(&reduced);
    assert_eq!(evidence(&reduced, &design, &medians(&design))[0].readings, 23);
}

/// The worst place is the station whose curve of worn ways has the largest prior spread; of equals the nearest to the chuck.
#[test]
fn the_worst_place_of_worn_ways() {
    let mut trial = both_ways();
    trial.prior.way_wear_um = 10.0;
    let design = designed(&trial);
    let ways = design.ways.as_ref().unwrap();
    let size = |z: f64| (0..ways.len()).map(|c| ways.value(c, z).powi(2)).sum::<f64>();
    let worst = worst_place(&design, 0).unwrap();
    assert!(STATIONS.iter().all(|z| size(*z) <= size(worst)) && STATIONS.iter().any(|z| size(*z) < 0.8 * size(worst)));
    assert!(worst_place(&design, 3).is_none());
    // the functional of a cause holds its own rows alone, in prior standard deviations
    let told = information(&design, &medians(&design), 2.0, |_| true);
    let rows = |cause: CauseKind| told.functional(&design, cause, 0);
    close(rows(CauseKind::HeadstockYaw).sum(), 0.08, 1e-12);
    close(rows(CauseKind::BedTwist).sum(), 0.4, 1e-12);
    close(rows(CauseKind::ToolWear).sum(), 12.0, 1e-12);
    close(rows(CauseKind::ThermalDrift).sum(), 0.2, 1e-12);
    close(rows(CauseKind::WayWear).norm(), 1000.0 * size(worst).sqrt(), 1e-12);
    assert_eq!(rows(CauseKind::TailstockOffset).norm(), 0.0);
    assert_eq!(told.functional(&design, CauseKind::BedTwist, 9).norm(), 0.0, "no such setting");
}
