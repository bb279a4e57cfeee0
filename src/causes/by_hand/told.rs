//! What readings alone say of the causes: nuisances, functionals, groups, by hand.

use super::super::evidence::evidence;
use super::super::hyper::Values;
use super::super::information::{Information, force_sd, information};
use super::super::unknowns::Meaning;
use super::super::values::CauseKind::{self, BedTwist, Deflection, HeadstockYaw, TailstockOffset, ThermalDrift, ToolWear, WayWear};
use super::foreseen::both_ways;
use super::{Design, close, designed, fixture, medians, reading};
use crate::physics::deflection::{Infeed, left_by_mm};
use crate::physics::{Support, cutting_force};
use crate::trial::*;

/// Row of an unknown in the information.
fn row(design: &Design, told: &Information, meaning: &Meaning) -> usize {
    told.rows.iter().position(|r| r.is_some_and(|u| design.model.unknowns[u].meaning == *meaning)).unwrap()
}

/// An indicator at two opposite angles: run-out falls out, and the certificate's uncertainty joins that of the slope.
#[test]
fn a_nuisance_keeps_its_prior() {
    let mut trial = both_ways();
    trial.testbar = Some(TestBar { u_um: 3.0, ..TestBar::usual(Holding::Chuck) });
    let stations = [10.0, 60.0, 110.0, 160.0];
    let run = [0.0, 180.0].into_iter().flat_map(|spindle_deg| {
        stations.map(|station_mm| IndicatorReading {
            place: Place { file: 1, row: 2 },
            setting: 0,
            station_mm,
            reading_mm: 0.0,
            spindle_deg,
            plane: Plane::Side,
            note: None,
        })
    });
    trial.indicator = run.collect();
    let design = designed(&trial);
    let told = information(&design, &medians(&design), 2.0, |b| design.logged[b].log.name() == "indicator");
    // slopes: 1 µm on eight readings with Σ(z − z̄)² of 2·12500, and 3 µm over 200 mm of which the indicator sees half
    let variance = 0.001_f64.powi(2) / 25_000.0 + (0.5 * 0.003 / 200.0_f64).powi(2);
    let yaw = row(&design, &told, &Meaning::Yaw);
    close(told.matrix[(yaw, yaw)], (0.08 / 1000.0_f64).powi(2) / variance, 1e-9);
    let twist = row(&design, &told, &Meaning::Twist { root: 0 });
    close(told.matrix[(twist, yaw)], 0.08 / 1000.0 * 0.4 * 143.75 / 1e6 / variance, 1e-9);
}

/// Contributions at another force than the median, and of a setting in which a move is known.
#[test]
fn contributions_by_hand() {
    let trial = both_ways();
    let design = designed(&trial);
    let centre = Values { force: 2.5, ..medians(&design) };
    let told = information(&design, &centre, 3.0, |_| true);
    // the first pass leaves what goes with the force
    let support = Support::of_bar(&trial.bar, centre.compliances);
    let stiffness_n_per_mm = cutting_force::radial_stiffness_n_per_mm(&trial.bar, 0.3, 0.1, 0.4);
    let left = |z: f64| left_by_mm(&[Infeed { depth_mm: 0.3, stiffness_n_per_mm }], support.compliance_mm_per_n(z));
    let found = told.contribution(&design, &design.references[0], Deflection, &centre);
    close(found.sum(), 1000.0 * force_sd(3.0) * (left(200.0) - left(20.0)), 1e-9);
    let moved = fixture::everything(Holding::Chuck);
    let design = designed(&moved);
    let centre = medians(&design);
    let told = information(&design, &centre, 2.0, |_| true);
    let reference = design.references.iter().find(|r| r.main && r.setting == 1).unwrap();
    let found = told.contribution(&design, reference, BedTwist, &centre);
    close(found[row(&design, &told, &Meaning::Twist { root: 0 })], 0.4 * 1000.0 * 2.0 * 143.75 * 180.0 / 1e6, 1e-9);
    assert!((found.norm() - found.max()).abs() < 1e-9, "one row alone");
}

/// Each cause's rows in the second of two settings that have edges and offsets of their own.
#[test]
fn functionals_of_the_setting_that_is_asked() {
    let mut trial = fixture::bar(Holding::Centres);
    (trial.prior.way_wear_um, trial.prior.offset_mm) = (0.0, 0.07);
    let rows = [(0, 1, "a"), (1, 2, "b")].into_iter().flat_map(|pass| [20.0, 110.0, 200.0].map(|z| (pass, z)));
    let rows = rows.zip(2..).map(|(((setting, pass, edge), z), row)| DiameterReading {
        edge: Some(edge.into()),
        ..reading(row, setting, pass, Direction::ToHeadstock, z, 38.0)
    });
    trial.diameters = rows.collect::<Vec<_>>().into();
    let design = designed(&trial);
    let told = information(&design, &medians(&design), 2.0, |_| true);
    let alone = |cause: CauseKind, setting: u32, meaning: &Meaning, sd: f64| {
        let found = told.functional(&design, cause, setting);
        let own = row(&design, &told, meaning);
        assert!(found.iter().enumerate().all(|(r, f)| *f == if r == own { sd } else { 0.0 }), "{cause:?} {setting}: {found:?}");
    };
    for (setting, edge) in [(0, "a"), (1, "b")] {
        alone(TailstockOffset, setting, &Meaning::Offset { setting }, 0.07);
        alone(ToolWear, setting, &Meaning::Wear { edge: Some(edge.into()) }, 12.0);
        alone(ThermalDrift, setting, &Meaning::Drift, 0.2);
    }
    let force = told.functional(&design, Deflection, 1);
    assert!((force[force.len() - 1] - force_sd(2.0)).abs() < 1e-12 && force.iter().filter(|f| **f != 0.0).count() == 1);
}

/// What these observations tell, each a sum of causes with factors and an error of 1, in prior standard deviations.
fn observed(design: &Design, observations: &[&[(CauseKind, f64)]]) -> Information {
    let mut told = information(design, &medians(design), 2.0, |_| true);
    told.matrix.fill(0.0);
    told.sd.fill(1.0);
    let at = |told: &Information, cause: CauseKind| {
        let of = |r: &Option<usize>| r.map_or(Some(Deflection), |u| design.model.unknowns[u].meaning.cause()) == Some(cause);
        told.rows.iter().position(of).unwrap()
    };
    for observation in observations {
        for (a, x) in *observation {
            for (b, y) in *observation {
                let (a, b) = (at(&told, *a), at(&told, *b));
                told.matrix[(a, b)] += x * y;
            }
        }
    }
    told
}

/// A standard error of half the prior's standard deviation is enough, of more is not; what has no row has no evidence.
#[test]
fn evidence_of_its_own_by_hand() {
    let design = designed(&both_ways());
    let own = |size: f64| observed(&design, &[&[(HeadstockYaw, size)]]).own_evidence(&design, HeadstockYaw, 0);
    assert!(own(2.01) && !own(1.99));
    assert!(!observed(&design, &[]).own_evidence(&design, TailstockOffset, 0), "in a chuck");
    // only the sum of two is known: of one whose prior is kept, the other is what is left
    let mut sum = observed(&design, &[&[(HeadstockYaw, 10.0), (ToolWear, 10.0)]]);
    (sum.kept, sum.kept_beside_ways) = (vec![1e-7; sum.rows.len()], vec![1e-7; sum.rows.len()]);
    assert!(!sum.own_evidence(&design, HeadstockYaw, 0));
    sum.keep_priors(&design, |cause| cause == ToolWear || cause == Deflection);
    let kept: Vec<bool> = sum.kept.iter().map(|kept| *kept == 1.0).collect();
    let wanted: Vec<bool> = sum.rows.iter().map(|r| r.is_none_or(|u| design.model.unknowns[u].meaning.cause() == Some(ToolWear))).collect();
    assert!(kept == wanted && kept.iter().any(|kept| !kept), "{kept:?}");
    // 1/10² + 1 is more than a quarter
    assert!(!sum.own_evidence(&design, HeadstockYaw, 0));
    let mut known = observed(&design, &[&[(HeadstockYaw, 10.0), (ToolWear, 1.0)]]);
    assert!(!known.own_evidence(&design, HeadstockYaw, 0));
    known.keep_priors(&design, |cause| cause == ToolWear);
    assert!(known.own_evidence(&design, HeadstockYaw, 0), "1/10² + 1/10²");
}

/// Causes that are known only as a sum are a group, others are not; what the readings tell of them with causes outside is taken into account.
#[test]
fn groups_by_hand() {
    let design = designed(&both_ways());
    let groups = |observations: &[&[(CauseKind, f64)]], causes: &[CauseKind]| observed(&design, observations).groups(&design, 0, causes);
    let three = [HeadstockYaw, BedTwist, ThermalDrift];
    let sum: &[(CauseKind, f64)] = &[(HeadstockYaw, 10.0), (BedTwist, 10.0)];
    let (warming, with_wear): (&[_], &[_]) = (&[(ThermalDrift, 1.2)], &[(HeadstockYaw, 10.0), (ToolWear, 10.0)]);
    // twice a sum with yaw in it, and nothing to tell the wear: yaw and twist are known together, warming a little by itself
    assert_eq!(groups(&[sum, with_wear, warming], &three), [vec![HeadstockYaw, BedTwist]]);
    assert_eq!(groups(&[sum, with_wear, warming], &three[..2]), [vec![HeadstockYaw, BedTwist]]);
    // the wear known, yaw is, and twist with it
    assert!(groups(&[sum, with_wear, warming, &[(ToolWear, 10.0)]], &three).is_empty());
    // little, but of each: no sum is unseen
    assert!(groups(&[&[(HeadstockYaw, 0.9), (ThermalDrift, 0.4)], &[(ThermalDrift, 0.8)]], &three).is_empty());
    assert_eq!(groups(&[&[(HeadstockYaw, 3.0), (BedTwist, 3.0), (ThermalDrift, 3.0)]], &three), [three.to_vec()]);
    let pairs: [&[(CauseKind, f64)]; 2] = [sum, &[(ThermalDrift, 5.0), (ToolWear, 5.0)]];
    assert_eq!(
        groups(&pairs, &[HeadstockYaw, BedTwist, ToolWear, ThermalDrift]),
        [vec![HeadstockYaw, BedTwist], vec![ToolWear, ThermalDrift]]
    );
    // a cause that these readings have no unknown for is in no group, and keeps no others from theirs
    assert_eq!(groups(&pairs, &[TailstockOffset, WayWear, HeadstockYaw, BedTwist]), [vec![HeadstockYaw, BedTwist]]);
    assert!(groups(&pairs, &[]).is_empty() && groups(&pairs, &[HeadstockYaw]).is_empty());
    // worn ways are left to their own verdict, whatever goes with them
    let mut worn = both_ways();
    worn.prior.way_wear_um = 10.0;
    let design = designed(&worn);
    let told = observed(&design, &[&[(WayWear, 10.0), (HeadstockYaw, 10.0)], sum]);
    assert!(told.functional(&design, WayWear, 0).norm() > 0.0 && !told.own_evidence(&design, WayWear, 0));
    assert!(told.groups(&design, 0, &[WayWear, HeadstockYaw]).is_empty());
}

/// What each log was refused for is told with that log, and a test bar without a length breaks nothing.
#[test]
fn refusals_stand_with_their_log() {
    let mut trial = fixture::everything(Holding::Chuck);
    trial.testbar.as_mut().unwrap().length_mm = 0.0;
    let told = designed(&trial);
    let bar = told.model.unknowns.iter().position(|u| u.meaning == Meaning::BarTaper).unwrap();
    let columns = told.logged.iter().flat_map(|l| &l.rows.columns).filter(|c| c.targets[0].0 == bar);
    assert!(columns.clone().count() > 0 && columns.flat_map(|c| &c.values).all(|v| *v == 0.0));
    trial.clamp.retain(|r| r.foot != Foot::ALL[0]);
    trial.machine.feet = None;
    let design = designed(&trial);
    let found = evidence(&trial, &design, &medians(&design));
    let told: Vec<(&str, Vec<String>)> = found.iter().map(|one| (one.log, one.refused.clone())).collect();
    assert!(told.iter().all(|(log, why)| why.len() == usize::from(["clamp", "moves"].contains(log))), "{told:?}");
    assert!(told[3].1[0].contains("all four feet"), "{told:?}");
}
