//! Several settings, bars to their very end, times of a log: what belongs to which pass.

use super::super::balance::balances;
use super::super::design::Log;
use super::super::hyper::{Hyper, Values};
use super::super::unknowns::Meaning;
use super::super::values::CauseKind;
use super::drawn::draw;
use super::{Design, close, designed, fixture, medians, posterior_of, reading};
use crate::physics::deflection::{Infeed, left_by_mm};
use crate::physics::{Support, cutting_force};
use crate::trial::*;

const H: Direction = Direction::ToHeadstock;
const T: Direction = Direction::ToTailstock;

/// Passes by edge `a`: setting, pass, direction, and the stations of each with its diameter above 38 mm, µm, and the minute of its cutting.
type Pass<'p> = (u32, u32, Direction, &'p [(f64, f64, Option<f64>)]);

fn cut(passes: &[Pass]) -> Trial {
    let mut trial = fixture::bar(Holding::Chuck);
    let rows = passes.iter().flat_map(|pass| pass.3.iter().map(move |row| (pass, row)));
    let rows = rows.zip(2..).map(|((pass, (z, um, time_min)), row)| DiameterReading {
        edge: Some("a".into()),
        time_min: *time_min,
        ..reading(row, pass.0, pass.1, pass.2, *z, 38.0 + 1e-3 * um)
    });
    trial.diameters = rows.collect::<Vec<_>>().into();
    trial
}

fn index(design: &Design, wanted: impl Fn(&Meaning) -> bool) -> usize {
    design.model.unknowns.iter().position(|u| wanted(&u.meaning)).unwrap()
}

/// Passes of another setting are no part of a balance, however alike they were cut.
#[test]
fn balances_of_two_settings() {
    let ends = |low: f64, high: f64| [(20.0, low, None), (110.0, 0.0, None), (200.0, high, None)];
    let mut trial = cut(&[(0, 1, H, &ends(0.0, 4.0)), (0, 2, H, &ends(0.0, 8.0)), (1, 3, H, &ends(5.0, 45.0))]);
    trial.levels = fixture::everything(Holding::Chuck).levels;
    let design = designed(&trial);
    let found = balances(&trial, &design, &posterior_of(&design, vec![draw(&design, 2.0, [0.0, 0.0], 0.0)]));
    assert_eq!(found.iter().map(|b| b.setting).collect::<Vec<_>>(), [0, 1]);
    close(found[0].end_difference_um, 6.0, 1e-8);
    close(found[1].end_difference_um, 40.0, 1e-8);
    // two readings of 2 µm each a pass
    close(found[0].standard_uncertainty_um, 2.0, 1e-8);
    close(found[1].standard_uncertainty_um, 8.0_f64.sqrt(), 1e-8);
}

/// Each pass has its own entries in the table of what bending leaves: stations by passes, setting after setting.
#[test]
fn entries_of_bending_do_not_meet() {
    let design = designed(&fixture::everything(Holding::Chuck));
    let first: Vec<usize> = design.logged.iter().filter_map(|l| l.rows.bent.as_ref()).map(|bent| bent.0).collect();
    assert_eq!(first, [0, 4, 8, 12]);
}

/// A reading where the bar ends is on the bar: its place counts as tested, and minutes stay those of the log.
#[test]
fn a_reading_at_the_bar_s_end() {
    let mut trial = cut(&[(0, 1, H, &[(220.0, 0.0, Some(1.0)), (120.0, 0.0, Some(51.0)), (20.0, 0.0, Some(101.0))])]);
    trial.cutting.rpm = None;
    let design = designed(&trial);
    assert!(design.timed && design.ways.is_some());
}

/// Along a longer bar the edge's path goes on from the passes before to the place on that bar: `2(1 − e^(−s/s₀))/1000` with 20 m.
#[test]
fn the_path_of_an_edge_along_a_longer_bar() {
    let rows = [(20.0, 0.0, None), (110.0, 0.0, None), (200.0, 0.0, None)];
    let longer = [(30.0, 0.0, None), (165.0, 0.0, None), (300.0, 0.0, None)];
    for direction in [H, T] {
        let mut trial = cut(&[(0, 1, H, &rows), (0, 2, direction, &longer)]);
        trial.prior.fresh_edge_m = 400.0;
        let design = designed(&trial);
        let fresh = index(&design, |m| matches!(m, Meaning::FreshEdge { .. }));
        let column = design.logged[1].rows.columns.iter().find(|c| c.targets[0].0 == fresh).unwrap();
        for (found, z) in column.values.iter().zip([30.0, 165.0, 300.0]) {
            let along = 220.0 + if direction == H { 300.0 - z } else { z };
            let path_m = std::f64::consts::PI * 38.0 * along / 0.1 / 1000.0;
            close(*found, 2.0 * (1.0 - (-path_m / 400.0).exp()) / 1000.0, 1e-9);
        }
    }
}

/// A reference's curves are those of the rows of its pass, the passes before it included.
#[test]
fn references_have_the_curves_of_their_pass() {
    let mut trial = fixture::everything(Holding::Chuck);
    trial.diameters.change(|_, r| r.edge = Some("a".into()));
    let design = designed(&trial);
    let mut compared = 0;
    for reference in &design.references {
        let own = design.logged.iter().find(|l| l.pass == Some(reference.pass) && l.setting == reference.setting).unwrap();
        for column in own.rows.columns.iter().filter(|c| c.cause.is_some()) {
            let other = reference.columns.iter().find(|c| c.targets == column.targets).unwrap();
            for (z, value) in own.stations.iter().zip(&column.values) {
                let at = reference.stations.iter().position(|s| s == z).unwrap();
                assert!((other.values[at] - value).abs() < 1e-12, "{:?}", column.targets);
                compared += usize::from(value.abs() > 1e-6);
            }
        }
    }
    assert!(compared > 20 && design.references.len() == 4);
}

/// Lengths that meet in one point only have no end in common: each setting has its own.
#[test]
fn lengths_that_touch() {
    let stations = |from: f64| [0.0, 40.0, 90.0].map(|z| (from + z, 0.0, None));
    let design = designed(&cut(&[(0, 1, H, &stations(20.0)), (1, 2, H, &stations(110.0))]));
    assert_eq!(design.references.iter().map(|r| r.ends).collect::<Vec<_>>(), [(0, 2), (0, 2)]);
}

/// Minutes by a straight line through the pass's own readings, wherever it began; a pass read at one place has none.
#[test]
fn minutes_of_the_pass_alone() {
    // 0.5 minutes for each mm of metal from the far end on; the second, deeper pass is quicker and reaches further
    let first = [(180.0, 0.0, Some(10.0)), (100.0, 0.0, Some(50.0)), (60.0, 0.0, Some(70.0))];
    let second = [(200.0, 0.0, Some(200.0)), (20.0, 0.0, Some(218.0))];
    let mut trial = cut(&[(0, 1, H, &first), (0, 2, H, &second), (0, 3, T, &[(100.0, 0.0, Some(300.0)), (100.0, 0.0, Some(310.0))])]);
    trial.diameters.change(|_, r| r.depth_mm = if r.pass == 2 { 0.3 } else { 0.05 });
    trial.cutting.rpm = None;
    let warm = |trial: &Trial, place: usize| {
        let design = designed(trial);
        assert!(design.timed);
        let unknowns: Vec<f64> = design.model.unknowns.iter().map(|u| f64::from(u8::from(u.meaning == Meaning::Drift))).collect();
        let curve = design.references[place].curve(CauseKind::ThermalDrift, &medians(&design), &unknowns);
        (design.references[place].stations.clone(), curve)
    };
    let (stations, curve) = warm(&trial, 0);
    for (z, warm) in stations.iter().zip(&curve) {
        // 2κt/1000 with κ = 1 µm/min, from the first station on
        assert!((warm - curve[0] + 2.0 * 0.5 * (z - stations[0]) / 1000.0).abs() < 1e-12, "{z}: {curve:?}");
    }
    let (_, curve) = warm(&trial, 1);
    assert!(curve.iter().all(|v| *v == 0.0), "{curve:?}");
    // read in the other order: the clock runs against the metal
    trial.diameters.change(|_, r| {
        if r.pass == 1 {
            r.time_min = r.time_min.map(|t| 80.0 - t);
        }
    });
    let (stations, curve) = warm(&trial, 0);
    for (z, warm) in stations.iter().zip(&curve) {
        assert!((warm - curve[0] - 2.0 * 0.5 * (z - stations[0]) / 1000.0).abs() < 1e-12, "{z}: {curve:?}");
    }
}

/// What bending leaves of a pass to the tailstock goes with that way's further factor.
#[test]
fn bending_of_the_way_that_is_not_shown() {
    let rows = [(20.0, 0.0, None), (110.0, 0.0, None), (200.0, 0.0, None)];
    let trial = cut(&[(0, 1, H, &rows), (0, 2, T, &rows)]);
    let design = designed(&trial);
    let values = Values { force: 1.7, to_tailstock: 1.4, ..medians(&design) };
    let support = Support::of_bar(&trial.bar, values.compliances);
    let pass = |factor: f64| Infeed {
        depth_mm: 0.05,
        stiffness_n_per_mm: factor * cutting_force::radial_stiffness_n_per_mm(&trial.bar, 0.05, 0.1, 0.4),
    };
    for (reference, passes) in design.references.iter().zip([vec![pass(1.7)], vec![pass(1.7), pass(1.7 * 1.4)]]) {
        let curve = reference.curve(CauseKind::Deflection, &values, &[]);
        for (z, found) in [20.0, 110.0, 200.0].into_iter().zip(curve) {
            close(found, left_by_mm(&passes, support.compliance_mm_per_n(z)), 1e-9);
        }
    }
}

/// Readings on top of a test bar say nothing of the yaw; a bar between centres tells the offset of a setting that was not cut, one in the chuck does not.
#[test]
fn what_an_indicator_brings() {
    let has = |change: &dyn Fn(&mut Trial), wanted: Meaning| {
        let mut trial = fixture::everything(Holding::Centres);
        (trial.levels, trial.clamp) = (Vec::new(), Vec::new());
        change(&mut trial);
        designed(&trial).model.unknowns.iter().any(|u| u.meaning == wanted)
    };
    assert!(has(&|_| (), Meaning::Yaw));
    assert!(!has(&|t| t.indicator.iter_mut().for_each(|r| r.plane = Plane::Top), Meaning::Yaw));
    assert!(!has(&|t| t.testbar.as_mut().unwrap().holding = Holding::Centres, Meaning::Yaw));
    let later = |t: &mut Trial| t.indicator.iter_mut().for_each(|r| r.setting = 7);
    assert!(!has(&later, Meaning::Offset { setting: 7 }));
    let between = |t: &mut Trial| {
        later(t);
        t.testbar.as_mut().unwrap().holding = Holding::Centres;
    };
    assert!(has(&between, Meaning::Offset { setting: 7 }) && has(&between, Meaning::Offset { setting: 1 }));
}

/// A presence is never certain, and a factor of uncertainty below 1 is next to none.
#[test]
fn priors_at_their_bounds() {
    let mut trial = fixture::everything(Holding::Chuck);
    (trial.prior.presence, trial.prior.move_gain_factor) = (1.0, 0.5);
    let design = designed(&trial);
    assert_eq!(design.model.presence, 1.0 - 1e-6);
    assert!(design.model.hypers.kinds.contains(&Hyper::MoveGain { median: 0.8, factor: 1.0 + 1e-9 }));
    trial.prior.presence = 0.0;
    assert_eq!(designed(&trial).model.presence, 1e-6);
    assert!(design.logged.iter().any(|l| l.log == Log::Diameters));
}
