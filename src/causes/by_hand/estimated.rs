//! The joint estimate of a small trial, end to end: its parts belong together.

use super::super::estimate::estimate_causes;
use super::super::evidence::evidence;
use super::super::integrate::integrate;
use super::super::posterior::summary;
use super::super::values::{CauseKind, Verdict};
use super::{close, designed, fixture, reading};
use crate::trial::*;

/// One pass to the headstock at three stations on a thick bar in a stiff chuck.
fn trial() -> Trial {
    let mut trial = fixture::bar(Holding::Chuck);
    (trial.bar.diameter_mm, trial.prior.chuck_tilt_urad_per_nm, trial.cutting.rpm, trial.prior.way_wear_um) = (100.0, 0.01, None, 0.0);
    let rows = [(20.0, 0.0), (110.0, 11.0), (200.0, 19.0)];
    trial.diameters = rows
        .iter()
        .zip(2..)
        .map(|((z, um), row)| reading(row, 0, 1, Direction::ToHeadstock, *z, 100.0 + 1e-3 * um))
        .collect::<Vec<_>>()
        .into();
    trial
}

#[test]
fn parts_of_an_estimate_belong_together() {
    let outcome = estimate_causes(&trial(), 5);
    let posterior = outcome.posterior.as_ref().unwrap();
    assert_eq!(outcome.causes.iter().map(|c| c.cause).collect::<Vec<_>>(), CauseKind::ALL);
    let verdict = |cause: CauseKind| outcome.causes.iter().find(|c| c.cause == cause).unwrap().verdict;
    // headstock, bed and wear make one straight line; a bar of 100 mm does not bend by as much as matters
    assert_eq!([CauseKind::HeadstockYaw, CauseKind::BedTwist, CauseKind::ToolWear].map(verdict), [Verdict::NotSettled; 3]);
    assert_eq!([CauseKind::TailstockOffset, CauseKind::ThermalDrift, CauseKind::WayWear].map(verdict), [Verdict::NotApplicable; 3]);
    assert_eq!(verdict(CauseKind::Deflection), Verdict::Absent);
    let group = &outcome.confounded[0];
    assert_eq!((outcome.confounded.len(), group.setting), (1, 0));
    assert!([CauseKind::HeadstockYaw, CauseKind::BedTwist, CauseKind::ToolWear].iter().all(|cause| group.causes.contains(cause)));
    let of = |cause: &CauseKind| &posterior.contributions[&(0, *cause)].end_difference_um;
    let sums: Vec<f64> = (0..posterior.len()).map(|i| group.causes.iter().map(|cause| of(cause)[i]).sum()).collect();
    assert_eq!(Some(group.sum_um), summary(&sums));
    // the sum is what the ends say, 19 µm give or take gauge and pass; each alone is less known
    close(group.sum_um.estimate, 19.0, 0.15);
    let single: Vec<f64> = outcome
        .causes
        .iter()
        .filter(|c| group.causes.contains(&c.cause))
        .map(|c| c.contribution_um.unwrap().standard_uncertainty)
        .collect();
    let apart = single.iter().map(|u| u * u).sum::<f64>().sqrt();
    assert!(group.sum_um.standard_uncertainty < 0.7 * apart, "{:?} {single:?}", group.sum_um);
    let balance = &outcome.balance[0];
    close(balance.end_difference_um, 19.0, 1e-9);
    assert!(outcome.warnings.is_empty(), "{:?}", outcome.warnings);
    assert_eq!((outcome.fits.len(), outcome.evidence.len(), outcome.evidence[0].readings), (1, 1, 3));
    let mut short = trial();
    short.diameters.truncate(1);
    let none = estimate_causes(&short, 5);
    assert!(none.posterior.is_none() && none.causes.is_empty() && none.warnings[0].contains("two stations"));
}

/// What is too small to matter by physics cannot hide anything else; what is not, can, however small its prior beside the other's.
#[test]
fn only_what_is_too_small_by_physics_keeps_its_prior() {
    let verdict =
        |trial: &Trial, cause: CauseKind| estimate_causes(trial, 5).causes.into_iter().find(|c| c.cause == cause).unwrap().verdict;
    // wear of 0.1 µm/m makes nothing; a twist of 0.15 (mm/m)/m makes 8 µm or so, a lean of 0.2 mm/m 72
    let mut alone = trial();
    (alone.prior.wear_um_per_m, alone.prior.twist_mm_per_m_per_m, alone.prior.yaw_mm_per_m) = (0.1, 0.15, 0.2);
    alone.diameters.change(|_, r| r.diameter_mm = 100.0 + (r.diameter_mm - 100.0) * 4.0);
    assert_eq!([CauseKind::HeadstockYaw, CauseKind::ToolWear].map(|cause| verdict(&alone, cause)), [Verdict::NotSettled, Verdict::Absent]);
    // levels tell the twist: only wear could hide the lean, and only where it can be large
    let mut levelled = alone;
    levelled.levels = fixture::straight_levels();
    assert_eq!(verdict(&levelled, CauseKind::HeadstockYaw), Verdict::Present);
    levelled.prior.wear_um_per_m = 12.0;
    assert_eq!(verdict(&levelled, CauseKind::HeadstockYaw), Verdict::NotSettled);
}

/// What each log brought is told at the posterior mean of what is integrated numerically.
#[test]
fn evidence_is_told_at_the_posterior_mean() {
    let mut trial = trial();
    (trial.bar.diameter_mm, trial.prior.chuck_tilt_urad_per_nm) = (25.0, 20.0);
    let design = designed(&trial);
    let integration = integrate(&design.model, 5);
    let n = design.model.hypers.len();
    let mean: Vec<f64> = (0..n).map(|k| integration.points.iter().map(|point| point.x[k] * point.shares().sum::<f64>()).sum()).collect();
    let at = |mean: &[f64]| evidence(&trial, &design, &design.model.hypers.values(mean))[0].learned.clone();
    let (found, expected) = (estimate_causes(&trial, 5).evidence[0].learned.clone(), at(&mean));
    assert_eq!(found.iter().map(|l| l.cause).collect::<Vec<_>>(), expected.iter().map(|l| l.cause).collect::<Vec<_>>());
    let alike = |other: &[super::super::values::Learned]| {
        let near = |a: f64, b: f64| (a - b).abs() < 1e-6 * b;
        found.len() == other.len() && found.iter().zip(other).all(|(a, b)| near(a.with_um, b.with_um) && near(a.without_um, b.without_um))
    };
    assert!(!found.is_empty() && alike(&expected) && !alike(&at(&mean.iter().map(|x| -x).collect::<Vec<_>>())), "{found:?} {expected:?}");
}
