//! Verdicts of the second of two settings, and the reasons that go with them.

use super::super::information::{Information, information};
use super::super::values::{CauseEstimate, CauseKind, Verdict};
use super::super::verdict::{estimates, threshold_um};
use super::verdicts::{drawn, integration, passes};
use super::{Design, designed, medians, reading};
use crate::trial::*;

use Direction::{ToHeadstock, ToTailstock};

/// Information of these causes, each alone: none, or as much as leaves a hundredth of the prior's standard deviation.
fn evident(design: &Design, causes: &[CauseKind]) -> Information {
    let mut told = information(design, &medians(design), 2.0, |_| true);
    told.matrix.fill(0.0);
    for r in 0..told.rows.len() {
        let cause = told.rows[r].map_or(Some(CauseKind::Deflection), |u| design.model.unknowns[u].meaning.cause());
        told.matrix[(r, r)] = if cause.is_some_and(|cause| causes.contains(&cause)) { 1e4 } else { 0.0 };
    }
    told
}

/// Estimates of setting 0 with evidence of `causes`, peaks by cause, and one bound of the priors for all.
fn told(trial: &Trial, causes: &[CauseKind], peak_um: impl Fn(CauseKind) -> [f64; 3], bound_um: f64) -> Vec<CauseEstimate> {
    let design = designed(trial);
    let mut posterior = drawn(&design);
    posterior.contributions.iter_mut().for_each(|((_, cause), own)| own.peak_um = peak_um(*cause).to_vec());
    let bounds = CauseKind::ALL.map(|cause| (cause, bound_um));
    estimates(trial, &design, &integration(&design), &posterior, &evident(&design, causes), 0, &bounds)
}

fn own(list: &[CauseEstimate], cause: CauseKind) -> &CauseEstimate {
    list.iter().find(|c| c.cause == cause).unwrap()
}

/// Of a log cut both ways, wear alone is told to be wear less warming, and only while it is open for want of evidence.
#[test]
fn wear_less_warming_is_said_of_wear_that_is_open() {
    let both = passes(&[(ToHeadstock, 0.05), (ToTailstock, 0.05)]);
    let says = |list: &[CauseEstimate], cause: CauseKind| own(list, cause).reason.contains("wear less warming");
    let open = told(&both, &[], |_| [1.0, 9.0, 9.0], f64::INFINITY);
    assert!(CauseKind::ALL.iter().all(|cause| says(&open, *cause) == (*cause == CauseKind::ToolWear)), "{open:?}");
    let unsure = told(&both, &[CauseKind::ToolWear], |_| [1.0, 9.0, 9.0], f64::INFINITY);
    assert!(own(&unsure, CauseKind::ToolWear).verdict == Verdict::NotSettled && !says(&unsure, CauseKind::ToolWear), "{unsure:?}");
    let small = told(&both, &[], |_| [1.0; 3], 2.0);
    assert!(own(&small, CauseKind::ToolWear).verdict == Verdict::Absent && !says(&small, CauseKind::ToolWear), "{small:?}");
}

/// Each cause that these logs cannot separate is told which measurement would.
#[test]
fn what_would_tell_each_cause() {
    let mut trial = passes(&[(ToHeadstock, 0.05)]);
    let open = told(&trial, &[], |_| [9.0; 3], f64::INFINITY);
    let words = [
        (CauseKind::HeadstockYaw, "indicator along a ground test bar"),
        (CauseKind::BedTwist, "levels along the bed"),
        (CauseKind::ToolWear, "a pass cut the other way"),
        (CauseKind::Deflection, "a heavy and a light pass"),
        (CauseKind::WayWear, "more stations"),
        (CauseKind::ThermalDrift, "a dwell before measuring"),
    ];
    for (cause, word) in words {
        let reason = &own(&open, cause).reason;
        assert!(reason.starts_with("not separable: ") && reason.contains(word), "{reason}");
    }
    trial.bar.holding = Holding::ChuckAndCentre;
    let open = told(&trial, &[], |_| [9.0; 3], f64::INFINITY);
    assert!(own(&open, CauseKind::TailstockOffset).reason.contains("a test bar between centres"));
}

/// What takes up a straight line holds the straight part of worn ways, whether their bend shows or not; tool and bending do not.
#[test]
fn only_straight_lines_hold_the_straight_part_of_worn_ways() {
    let trial = passes(&[(ToHeadstock, 0.05)]);
    let list = told(&trial, &CauseKind::ALL, |cause| [if cause == CauseKind::WayWear { 1.0 } else { 30.0 }; 3], f64::INFINITY);
    assert!(own(&list, CauseKind::ToolWear).verdict == Verdict::Present && own(&list, CauseKind::WayWear).verdict == Verdict::Absent);
    let holds = |cause: CauseKind| own(&list, cause).reason.contains("straight part");
    let straight = [CauseKind::HeadstockYaw, CauseKind::BedTwist, CauseKind::WayWear];
    assert!(CauseKind::ALL.into_iter().all(|cause| holds(cause) == straight.contains(&cause)), "{list:?}");
    let list = told(&trial, &CauseKind::ALL, |cause| [if cause == CauseKind::WayWear { 30.0 } else { 1.0 }; 3], f64::INFINITY);
    assert!(own(&list, CauseKind::HeadstockYaw).reason.contains("straight part"));
}

/// A prior without any uncertainty leaves nothing for a log to remove.
#[test]
fn nothing_is_removed_of_nothing() {
    let mut trial = passes(&[(ToHeadstock, 0.05)]);
    trial.prior.yaw_mm_per_m = 0.0;
    let design = designed(&trial);
    let mut posterior = drawn(&design);
    posterior.draws.iter_mut().for_each(|d| d.unknowns.iter_mut().for_each(|u| *u = 0.0));
    let bounds = CauseKind::ALL.map(|cause| (cause, f64::INFINITY));
    let list = estimates(&trial, &design, &integration(&design), &posterior, &evident(&design, &[]), 0, &bounds);
    assert_eq!(own(&list, CauseKind::HeadstockYaw).variance_removed, Some(0.0));
    assert_eq!(own(&list, CauseKind::ThermalDrift).variance_removed, Some(1.0));
}

/// Two settings whose lengths do not meet, cut by edges of their own: the second has its own length, and its own edge's wear.
#[test]
fn the_second_setting_has_its_own_threshold_and_edge() {
    let mut trial = passes(&[]);
    let rows = [(0, 1, "a", [20.0, 60.0, 100.0]), (1, 2, "b", [110.0, 150.0, 210.0])];
    let rows = rows.into_iter().flat_map(|(setting, pass, edge, stations)| {
        stations.map(|z| DiameterReading { edge: Some(edge.into()), ..reading(2, setting, pass, ToHeadstock, z, 38.0) })
    });
    trial.diameters = rows.collect::<Vec<_>>().into();
    trial.acceptance.limit = vec![Limit { over_mm: Some(200.0), ..Limit::either_way(Quantity::Taper, 0.1) }];
    let design = designed(&trial);
    // a fifth of 0.1 mm over 200 mm, over 80 mm and over 100 mm
    for (setting, threshold) in [(0, 8.0), (1, 10.0)] {
        assert!((threshold_um(&trial, &design, setting) - threshold).abs() < 1e-9);
    }
    let posterior = drawn(&design);
    let bounds = CauseKind::ALL.map(|cause| (cause, f64::INFINITY));
    for (setting, edge) in [(0, "a"), (1, "b")] {
        let list = estimates(&trial, &design, &integration(&design), &posterior, &evident(&design, &[]), setting, &bounds);
        let wear = super::super::unknowns::Meaning::Wear { edge: Some(edge.into()) };
        let at = design.model.unknowns.iter().position(|u| u.meaning == wear).unwrap();
        // −1, 2 and 5 thousandths of its number
        assert!((own(&list, CauseKind::ToolWear).estimate.unwrap() - 0.002 * (1.0 + at as f64)).abs() < 1e-12);
    }
}

/// Units of the parameters, in the contract's order.
#[test]
fn units_of_the_causes() {
    assert_eq!(CauseKind::ALL.map(CauseKind::unit), ["mm/m", "mm/m/m", "um/m", "factor", "um", "mm", "um/min"]);
}
