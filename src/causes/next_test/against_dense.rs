//! What a test would leave, beside dense covariances of all readings.

use super::super::design::design;
use super::super::draws::systematic;
use super::super::hyper::Values;
use super::super::lanes::{At, Lanes, Number, SIDE_BY_SIDE};
use super::super::outcome::filled_in;
use super::super::values::NextTestKind;
use super::Fineness;
use super::dense::*;
use super::expected::expected_variances;
use super::support::{Carry, OldBlocks, Supported, carried};
use rand::{Rng, SeedableRng};
use rand_chacha::ChaCha20Rng;

#[test]
fn draws_are_carried_over_by_name() {
    let trial = trial();
    let present = design(&trial).unwrap();
    let posterior = drawn(&present, 7);
    for kind in [NextTestKind::Levels, NextTestKind::MoreRepeats] {
        let then = made(&trial, &present, kind, 1);
        let carry = Carry::new(&present, &then);
        let mut rng = ChaCha20Rng::seed_from_u64(1);
        let carried: Vec<_> = posterior.draws.iter().map(|draw| carried(draw, &carry, &then, &mut rng)).collect();
        let affected: Vec<usize> = (0..then.logged.len()).filter(|b| then.logged[*b].places.iter().any(|p| !old(*p))).collect();
        let blocks = OldBlocks::new(&then, &affected);
        let mut together = then.model.bending.like::<Lanes>();
        for (group, draws) in carried.chunks(SIDE_BY_SIDE).enumerate() {
            let supported = Supported::new(draws, &then, &affected, &blocks, &mut together);
            for lane in 0..SIDE_BY_SIDE {
                let Some(draw) = posterior.draws.get(SIDE_BY_SIDE * group + lane) else {
                    assert!(!supported.alive[lane]);
                    continue;
                };
                let values = supported.values.lane(lane);
                // the level is new: its noise is drawn
                let named = |name: &String| present.noise_names.iter().position(|p| p == name);
                for (i, name) in then.noise_names.iter().enumerate() {
                    assert!(named(name).is_none_or(|p| values.noise[i] == draw.values.noise[p]), "{name}");
                }
                assert_eq!(Values { noise: draw.values.noise.clone(), ..values.clone() }, draw.values);
                if kind == NextTestKind::Levels {
                    assert!(then.noise_names.len() == 3 && then.noise_names[1] == "level");
                    continue;
                }
                let wanted = point(draw, &present, &then);
                assert!(supported.alive[lane]);
                assert_eq!(supported.sd.iter().map(|sd| sd.lane(lane)).collect::<Vec<_>>(), wanted.sd);
                assert_eq!(supported.positive.iter().map(|v| v.lane(lane)).collect::<Vec<_>>(), wanted.positive);
                // what the present readings say there
                let (_, mean, covariance) = dense(&then, &logged(&then), &old, &wanted.values, &wanted.sd, &wanted.positive);
                for (u, expected) in mean.iter().enumerate() {
                    let size = covariance[(u, u)].sqrt();
                    assert!((supported.mean[u].lane(lane) - expected).abs() < 1e-6 * size, "{u}: {expected}");
                }
                let mut unit: Vec<Lanes> = (0..mean.len()).map(|u| Lanes::splat(if u == 2 { 1.0 } else { 0.0 })).collect();
                close(supported.factor.forward(&mut unit).lane(lane), covariance[(2, 2)], 1e-6);
            }
        }
    }
}

/// Present and expected variances, and those of each outcome, with outcomes drawn in the same order.
#[test]
fn expected_variances_are_those_of_dense_covariances() {
    let trial = trial();
    let present = design(&trial).unwrap();
    let (count, outcomes, setting, seed) = (6, 4, 1, 5);
    let posterior = drawn(&present, count);
    let fineness = Fineness { support: count, outcomes, stream: 9 };
    for kind in [NextTestKind::MoreRepeats, NextTestKind::MoreStations] {
        let then = made(&trial, &present, kind, setting);
        let found = expected_variances(&then, &present, &posterior, setting, &OPEN, seed, fineness).unwrap();
        let points: Vec<Point> = posterior.draws.iter().map(|draw| point(draw, &present, &then)).collect();
        let readings = logged(&then);
        let functionals: Vec<Vec<_>> =
            points.iter().map(|p| OPEN.iter().map(|cause| functional(&present, &then, *cause, setting, &p.values)).collect()).collect();
        let mixture = |weights: &[f64], parts: &[(f64, f64)]| {
            let mean: f64 = weights.iter().zip(parts).map(|(w, p)| w * p.0).sum();
            let within: f64 = weights.iter().zip(parts).map(|(w, p)| w * p.1).sum();
            (within, weights.iter().zip(parts).map(|(w, p)| w * (p.0 - mean).powi(2)).sum::<f64>())
        };
        let said: Vec<_> = points.iter().map(|p| dense(&then, &readings, &old, &p.values, &p.sd, &p.positive)).collect();
        for (k, before) in found.before.iter().enumerate() {
            let parts: Vec<(f64, f64)> = (0..count).map(|i| contribution(&functionals[i][k], &points[i], &said[i].1, &said[i].2)).collect();
            let (within, between) = mixture(&vec![1.0 / count as f64; count], &parts);
            close(*before, within + between, 1e-6);
        }
        // one outcome from the middle of each quarter of the points; all of them are picked, in their order
        let mut rng = ChaCha20Rng::seed_from_u64(seed);
        rng.set_stream(9);
        assert_eq!(systematic(std::iter::repeat_n(1.0, count), count, rng.random()), (0..count).collect::<Vec<_>>());
        let affected: Vec<usize> = (0..then.logged.len()).filter(|b| then.logged[*b].places.iter().any(|p| !old(*p))).collect();
        let (carry, blocks) = (Carry::new(&present, &then), OldBlocks::new(&then, &affected));
        let carried: Vec<_> = posterior.draws.iter().map(|draw| carried(draw, &carry, &then, &mut rng)).collect();
        let mut together = then.model.bending.like::<Lanes>();
        let support: Vec<Supported> =
            carried.chunks(SIDE_BY_SIDE).map(|draws| Supported::new(draws, &then, &affected, &blocks, &mut together)).collect();
        let mut expected = vec![0.0; OPEN.len()];
        for (j, from) in [0, 2, 3, 5].into_iter().enumerate() {
            let theta = support[from / SIDE_BY_SIDE].draw_now(from % SIDE_BY_SIDE, &mut rng);
            let mut bending = then.model.bending.clone();
            bending.fill(&points[from].values);
            let mut brought = readings.clone();
            for b in &affected {
                let new: Vec<bool> = then.logged[*b].places.iter().map(|p| !old(*p)).collect();
                brought[*b] = filled_in(&then.logged[*b].rows, &new, &points[from].values, &theta, &bending, &mut rng).unwrap();
            }
            let after: Vec<_> = points.iter().map(|p| dense(&then, &brought, &everything, &p.values, &p.sd, &p.positive)).collect();
            let logs: Vec<f64> = (0..count).map(|i| after[i].0 - said[i].0).collect();
            let largest = logs.iter().copied().fold(f64::MIN, f64::max);
            let total: f64 = logs.iter().map(|log| (log - largest).exp()).sum();
            let weights: Vec<f64> = logs.iter().map(|log| (log - largest).exp() / total).collect();
            let crowd = (1.0 - weights.iter().map(|w| w * w).sum::<f64>()).max(0.2);
            for k in 0..OPEN.len() {
                let parts: Vec<(f64, f64)> =
                    (0..count).map(|i| contribution(&functionals[i][k], &points[i], &after[i].1, &after[i].2)).collect();
                let (within, between) = mixture(&weights, &parts);
                close(found.outcomes[j][k], within + between / crowd, 1e-5);
                expected[k] += 0.25 * (within + between / crowd);
            }
        }
        found.after.iter().zip(expected).for_each(|(found, expected)| close(*found, expected, 1e-5));
        // half of the points that are wanted is enough, less is not
        let of = |support: usize| expected_variances(&then, &present, &posterior, setting, &OPEN, seed, Fineness { support, ..fineness });
        assert!(of(2 * count).is_some() && of(2 * count + 2).is_none());
    }
}

/// Contributions are those between the ends of the setting that is asked, where the lengths of two do not meet.
#[test]
fn ends_of_the_setting_that_is_asked() {
    let mut trial = trial();
    trial.diameters.retain(|r| (r.setting == 0) == (r.station_mm < 100.0));
    let present = design(&trial).unwrap();
    let posterior = drawn(&present, 4);
    for (setting, ends) in [(0, [20.0, 80.0]), (1, [140.0, 200.0])] {
        let own = present.references.iter().find(|r| r.main && r.setting == setting).unwrap();
        assert_eq!([own.stations[own.ends.0], own.stations[own.ends.1]], ends);
        let then = made(&trial, &present, NextTestKind::MoreRepeats, setting);
        let fineness = Fineness { support: 4, outcomes: 2, stream: 1 };
        let found = expected_variances(&then, &present, &posterior, setting, &OPEN, 2, fineness).unwrap();
        assert!(found.before.iter().all(|v| *v > 0.0) && found.outcomes.len() == 2, "{found:?}");
    }
}

/// A draw of the unknowns by the present readings spreads as their covariance does.
#[test]
fn draws_of_now_have_mean_and_covariance_of_now() {
    let trial = trial();
    let present = design(&trial).unwrap();
    let posterior = drawn(&present, 1);
    let then = made(&trial, &present, NextTestKind::MoreRepeats, 1);
    let mut rng = ChaCha20Rng::seed_from_u64(3);
    let carried = vec![carried(&posterior.draws[0], &Carry::new(&present, &then), &then, &mut rng)];
    let affected = vec![then.logged.iter().position(|l| l.places.iter().any(|p| !old(*p))).unwrap()];
    let mut together = then.model.bending.like::<Lanes>();
    let supported = Supported::new(&carried, &then, &affected, &OldBlocks::new(&then, &affected), &mut together);
    let at = point(&posterior.draws[0], &present, &then);
    let (_, mean, covariance) = dense(&then, &logged(&then), &old, &at.values, &at.sd, &at.positive);
    let draws: Vec<Vec<f64>> = (0..4000).map(|_| supported.draw_now(0, &mut rng)).collect();
    let (free, share) = (mean.len(), 1.0 / 4000.0);
    for u in 0..free {
        let (sd, found) = (covariance[(u, u)].sqrt(), share * draws.iter().map(|d| d[u]).sum::<f64>());
        assert!((found - mean[u]).abs() < 5.0 * sd / 4000_f64.sqrt(), "{u}: {found} {}", mean[u]);
        for v in 0..=u {
            let size = sd * covariance[(v, v)].sqrt();
            let found = share * draws.iter().map(|d| (d[u] - mean[u]) * (d[v] - mean[v])).sum::<f64>();
            assert!((found - covariance[(u, v)]).abs() < 8.0 * size / 4000_f64.sqrt(), "{u} {v}: {found} {}", covariance[(u, v)]);
        }
    }
    assert!(draws.iter().all(|d| d[free..] == at.positive));
}
