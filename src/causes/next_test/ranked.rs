//! What a test brings in, and the list of tests by its formula.

use super::super::candidates::candidates;
use super::super::design::{Design, design};
use super::super::lanes::{Lanes, Number};
use super::super::posterior::{Draw, summary};
use super::super::unknowns::{Meaning, NEGLIGIBLE};
use super::super::values::{CauseEstimate, CauseKind, NextTest, NextTestKind, Verdict};
use super::dense::{close, drawn, trial};
use super::expected::expected_variances;
use super::support::{Carry, OldBlocks, Supported, carried};
use super::{CHOICE, PROMISE, next_tests, worth};
use crate::trial::Direction;
use rand::SeedableRng;
use rand_chacha::ChaCha20Rng;

/// What the present model does not hold comes from its prior; unknowns that share a presence are full together, with those that are there already.
#[test]
fn what_a_test_brings_in_comes_from_the_prior() {
    let mut trial = trial();
    (trial.indicator, trial.testbar, trial.moves) = (Vec::new(), None, Vec::new());
    // one pass at two stations: no curve of worn ways, and an edge that has not cut twice
    trial.diameters.retain(|r| r.setting == 0 && r.direction == Direction::ToHeadstock && r.station_mm != 80.0 && r.station_mm != 140.0);
    trial.prior.presence = 0.8;
    let present = design(&trial).unwrap();
    let mut posterior = drawn(&present, 400);
    posterior.draws.iter_mut().enumerate().for_each(|(i, draw)| draw.subset = i % 2 * (present.model.subsets() - 1));
    let mut levelled = candidates(&trial, &present, 0).into_iter().find(|c| c.kind == NextTestKind::MoreStations).unwrap().trial;
    let other_way = candidates(&trial, &present, 0).into_iter().find(|c| c.kind == NextTestKind::PassOtherWay).unwrap().trial;
    levelled.levels = candidates(&trial, &present, 0).into_iter().find(|c| c.kind == NextTestKind::Levels).unwrap().trial.levels;
    let carried_over = |then: &Design| {
        let (carry, mut rng) = (Carry::new(&present, then), ChaCha20Rng::seed_from_u64(8));
        let mut together = then.model.bending.like::<Lanes>();
        let old = OldBlocks::new(then, &[]);
        let mut support = |draw: &Draw| Supported::new(&[carried(draw, &carry, then, &mut rng)], then, &[], &old, &mut together);
        let of = |s: Supported| {
            (s.sd.iter().map(|v| v.lane(0)).collect::<Vec<f64>>(), s.positive.iter().map(|v| v.lane(0)).collect::<Vec<f64>>())
        };
        posterior.draws.iter().map(|draw| of(support(draw))).collect::<Vec<_>>()
    };
    let then = design(&levelled).unwrap();
    let ways: Vec<usize> =
        (0..then.model.unknowns.len()).filter(|u| matches!(then.model.unknowns[*u].meaning, Meaning::WayWear { .. })).collect();
    assert!(ways.len() > 1 && present.ways.is_none());
    let full: Vec<bool> = carried_over(&then)
        .iter()
        .map(|(sd, _)| {
            assert!(ways.iter().all(|u| sd[*u] == sd[ways[0]]) && (sd[ways[0]] == 1.0 || sd[ways[0]] == NEGLIGIBLE));
            sd[ways[0]] == 1.0
        })
        .collect();
    // 320 ± 8 of 400
    let count = full.iter().filter(|full| **full).count();
    assert!((280..=360).contains(&count), "{count}");
    let then = design(&other_way).unwrap();
    let fresh = then.model.unknowns.iter().position(|u| matches!(u.meaning, Meaning::FreshEdge { .. })).unwrap();
    assert!(present.model.unknowns.iter().all(|u| !matches!(u.meaning, Meaning::FreshEdge { .. })));
    let prior = then.model.unknowns[fresh].sd;
    let mut sizes = [0.0, 0.0];
    for (i, (sd, positive)) in carried_over(&then).iter().enumerate() {
        // every second draw holds the edge's wear, whose presence it shares
        assert_eq!(sd[fresh], if i % 2 == 1 { prior } else { NEGLIGIBLE * prior });
        sizes[i % 2] += positive.last().unwrap() / sd[fresh] / 200.0;
        assert!(*positive.last().unwrap() >= 0.0);
    }
    // mean of a half-normal, √(2/π), give or take 0.603/√200
    assert!(sizes.iter().all(|mean| (mean - 0.797_885).abs() < 0.2), "{sizes:?}");
}

/// The list of tests by the formula: what is settled, roots of what is left of today's variance, their 10–90 % range, worth a minute.
#[test]
fn tests_are_ranked_by_what_they_settle_a_minute() {
    let trial = trial();
    let present = design(&trial).unwrap();
    let posterior = drawn(&present, 96);
    let estimate = |setting: u32, cause: CauseKind, verdict: Verdict| {
        let peak = summary(&[1.0, 2.0]);
        CauseEstimate { peak_um: peak, ..CauseEstimate::without_figures(setting, cause, verdict, String::new()) }
    };
    let open = [CauseKind::HeadstockYaw, CauseKind::BedTwist];
    let mut causes: Vec<CauseEstimate> = open.iter().map(|cause| estimate(1, *cause, Verdict::NotSettled)).collect();
    causes.push(estimate(1, CauseKind::ToolWear, Verdict::Present));
    causes.push(estimate(0, CauseKind::Deflection, Verdict::NotSettled));
    causes.push(CauseEstimate { peak_um: None, ..estimate(1, CauseKind::WayWear, Verdict::NotSettled) });
    let found = next_tests(&trial, &present, &posterior, &causes, 5);
    assert!(!found.is_empty());
    let mut expected = 0;
    for candidate in candidates(&trial, &present, 1) {
        let then = design(&candidate.trial).unwrap();
        let of = |fineness| expected_variances(&then, &present, &posterior, 1, &open, 5, fineness).unwrap();
        let choice = of(CHOICE);
        let settled: Vec<usize> = (0..2).filter(|k| (choice.after[*k] / choice.before[*k]).sqrt() < 0.75).collect();
        let told = found.iter().find(|t| t.test == candidate.kind);
        assert_eq!(told.is_some(), !settled.is_empty(), "{:?}", candidate.kind);
        let Some(told) = told else { continue };
        expected += 1;
        assert_eq!(told.settles, settled.iter().map(|k| open[*k]).collect::<Vec<_>>());
        let promise = of(PROMISE);
        // end differences of 0, 2, 4, 6, 8 and of 0, 3, 6, 9, 12 µm, a fifth of the draws each but for the last of 96
        let present_um2: Vec<f64> = [2.0, 3.0]
            .iter()
            .map(|step| {
                let all: Vec<f64> = (0..96).map(|i| step * f64::from(i % 5)).collect();
                let mean = all.iter().sum::<f64>() / 96.0;
                all.iter().map(|v| (v - mean).powi(2)).sum::<f64>() / 96.0
            })
            .collect();
        let root = |v: &[f64]| settled.iter().map(|k| present_um2[*k] * v[*k] / promise.before[*k]).sum::<f64>().sqrt();
        close(told.uncertainty_before_um, settled.iter().map(|k| present_um2[*k]).sum::<f64>().sqrt(), 1e-9);
        close(told.uncertainty_after_um, root(&promise.after), 1e-9);
        let mut range: Vec<f64> = promise.outcomes.iter().map(|v| root(v)).collect();
        range.sort_by(f64::total_cmp);
        // of 24 the places 2.3 and 20.7, counted from 0
        let interval = told.uncertainty_after_range_um.unwrap();
        assert_eq!((interval.low, interval.high, range.len()), (range[2], range[21], 24));
        assert_eq!((told.minutes, &told.why), (candidate.minutes, &candidate.why));
    }
    assert!(expected == found.len() && found.windows(2).all(|pair| worth(&pair[0]) >= worth(&pair[1])));
    assert!(found.len() > 1 && worth(&found[0]) > worth(found.last().unwrap()));
    assert!(next_tests(&trial, &present, &posterior, &causes[2..], 5).is_empty(), "nothing is open");
}

#[test]
fn worth_is_what_is_taken_a_minute() {
    let test = |before: f64, after: f64, minutes: f64| NextTest {
        test: NextTestKind::Levels,
        settles: Vec::new(),
        uncertainty_before_um: before,
        uncertainty_after_um: after,
        uncertainty_after_range_um: None,
        minutes,
        why: String::new(),
    };
    assert_eq!([worth(&test(10.0, 4.0, 3.0)), worth(&test(10.0, 4.0, 0.5)), worth(&test(4.0, 10.0, 2.0))], [2.0, 6.0, -3.0]);
}
