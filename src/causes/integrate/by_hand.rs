//! Points, weights and moments by hand, and the integral of a prior that no reading changes.

use super::*;
use crate::causes::fixture::without_readings;
use crate::causes::hyper::Hyper;
use crate::causes::unknowns::{Meaning, Unknown};

fn point(x: &[f64], weight: f64, part: &[f64]) -> Point {
    Point {
        x: DVector::from_column_slice(x),
        uniforms: Vec::new(),
        reduced: None,
        log_target: 0.0,
        part: part.to_vec(),
        densities: Vec::new(),
        weight,
    }
}

fn one(value: f64) -> DMatrix<f64> {
    DMatrix::from_element(1, 1, value)
}

fn proposal(centre: f64, scale: f64) -> Proposal {
    Proposal::new(DVector::from_element(1, centre), one(scale)).unwrap()
}

fn alike(a: &[f64], b: &[f64]) -> bool {
    a.len() == b.len() && a.iter().zip(b).all(|(a, b)| (a - b).abs() < 1e-12 * b.abs().max(1.0))
}

/// Unknowns that cannot be negative, all of one presence.
fn wears(count: usize) -> Vec<Unknown> {
    vec![Unknown { meaning: Meaning::Wear { edge: None }, sd: 3.0, flag: Some(0) }; count]
}

#[test]
fn shares_of_a_point() {
    let mut own = point(&[0.0], 0.2, &[0.25, 0.75]);
    own.log_target = -3.0;
    assert_eq!([own.share(0), own.share(1), own.share(2)], [0.2 * 0.25, 0.2 * 0.75, 0.0]);
    assert!(alike(&[own.log_target_of(0), own.log_target_of(1)], &[-3.0 + 0.25_f64.ln(), -3.0 + 0.75_f64.ln()]));
    assert_eq!(own.log_target_of(2), f64::NEG_INFINITY);
}

/// Three points of weights 1, 1 and 2: mean (3, 0), covariance [[4.5, −2], [−2, 1]], 16/6 effective points beside ten of the fallback.
#[test]
fn moments_of_three_points() {
    let points = [[0.0, 1.0], [2.0, 1.0], [5.0, -1.0]].map(|x| point(&x, 0.0, &[]));
    let fallback = DMatrix::from_row_slice(2, 2, &[7.0, 0.5, 0.5, 3.0]);
    let trust = (16.0 / 6.0) / (16.0 / 6.0 + 10.0);
    let own = DMatrix::from_row_slice(2, 2, &[4.5, -2.0, -2.0, 1.0]);
    let expected = &own * trust + &fallback * (1.0 - trust);
    for size in [1.0, 30.0] {
        let (mean, cov) = moments(&points, &[size, size, 2.0 * size], &fallback).unwrap();
        assert!(alike(mean.as_slice(), &[3.0, 0.0]) && alike(cov.as_slice(), expected.as_slice()), "{mean} {cov}");
        assert!(!alike(cov.as_slice(), own.as_slice()), "the fallback is told apart");
    }
    for weights in [[0.0; 3], [f64::NAN, 1.0, 1.0]] {
        assert!(moments(&points, &weights, &fallback).is_none());
    }
    assert!(moments(&[], &[], &fallback).is_none());
}

/// Weight of a point: target over the mixture of the proposals by their numbers of points, here of t with 6 degrees of freedom.
#[test]
fn weights_by_hand() {
    let proposals = [(proposal(0.0, 1.0), 3), (proposal(1.0, 4.0), 1)];
    let mut points = vec![point(&[-1.0], 9.0, &[1.0, 0.0]), point(&[0.5], 9.0, &[0.25, 0.75]), point(&[2.0], 9.0, &[0.5, 0.5])];
    let logs = [-0.2, -1.0, -0.7];
    points.iter_mut().zip(logs).for_each(|(p, log)| p.log_target = log);
    let density = |x: f64, centre: f64, width: f64| (1.0 + ((x - centre) / width).powi(2) / 6.0).powf(-3.5) / width;
    let mixture = |x: f64| 0.75 * density(x, 0.0, 1.0) + 0.25 * density(x, 1.0, 2.0);
    let raw: Vec<f64> = [-1.0, 0.5, 2.0].iter().zip(logs).map(|(x, log)| log.exp() / mixture(*x)).collect();
    let total: f64 = raw.iter().sum();
    let w: Vec<f64> = raw.iter().map(|raw| raw / total).collect();
    // At once, and the second proposal after the first.
    let later = weigh(weigh(points.clone(), &proposals[..1]).points, &proposals);
    for found in [weigh(points, &proposals), later] {
        assert!(alike(&found.points.iter().map(|p| p.weight).collect::<Vec<f64>>(), &w), "{w:?}");
        assert!(alike(&found.subset_probability, &[w[0] + 0.25 * w[1] + 0.5 * w[2], 0.75 * w[1] + 0.5 * w[2]]));
        assert!(!alike(&found.subset_probability, &w[..2]), "the comparison must tell shares apart");
        assert!(alike(&[found.effective_points], &[1.0 / w.iter().map(|w| w * w).sum::<f64>()]));
        assert_eq!(found.pareto_k, None);
    }
    let none = weigh(Vec::new(), &proposals);
    assert_eq!((none.effective_points, none.subset_probability.len()), (0.0, 0));
}

/// A point is weighed alone or beside others; its uniforms are its own, and none of the shifts'; what readings say is kept up to 24 unknowns.
#[test]
fn points_of_a_model_without_readings() {
    let of = |unknowns: Vec<Unknown>, indices: &[u64]| {
        let model = without_readings(vec![Hyper::BarrelSpread], unknowns);
        points_at(&model, 5, &proposal(0.5, 2.0), &[0.1, 0.2, 0.3, 0.4], indices, &mut model.workspace())
    };
    let three = of(wears(3), &[0, 1, 2]);
    let shifts: Vec<f64> = {
        let mut rng = ChaCha20Rng::seed_from_u64(5);
        (0..3).map(|_| rng.random()).collect()
    };
    for (index, found) in three.iter().enumerate() {
        assert_eq!(found.x, proposal(0.5, 2.0).point(index as u64, &[0.1, 0.2, 0.3, 0.4]));
        assert_eq!(found.uniforms.len(), 3);
        assert_ne!(found.uniforms, shifts);
        assert_ne!(found.uniforms, three[(index + 1) % 3].uniforms);
        assert!(alike(&found.part, &[0.7, 0.3]) && alike(&[found.log_target], &[-0.5 * found.x.norm_squared()]), "{found:?}");
        let alone = of(wears(3), &[index as u64]);
        assert_eq!((&alone[0].x, &alone[0].uniforms, alone[0].log_target), (&found.x, &found.uniforms, found.log_target));
    }
    assert!(of(wears(2), &[0, 1]).iter().all(|p| p.uniforms.is_empty()));
    let nuisances = |count: usize| vec![Unknown { meaning: Meaning::LevelZero, sd: 1.0, flag: None }; count];
    assert!(of(nuisances(24), &[0])[0].reduced.is_some() && of(nuisances(25), &[0])[0].reduced.is_none());
    // A subset out of the range of numbers counts for nothing; where all are, the point does.
    let scaled = |sd: f64| vec![Unknown { meaning: Meaning::Yaw, sd, flag: Some(0) }];
    let found = &of(scaled(1e155), &[0])[0];
    assert!(alike(&found.part, &[1.0, 0.0]) && alike(&[found.log_target], &[0.7_f64.ln() - 0.5 * found.x.norm_squared()]), "{found:?}");
    let nothing = &of(scaled(f64::NAN), &[0])[0];
    assert_eq!((nothing.part.as_slice(), nothing.log_target), ([0.0, 0.0].as_slice(), f64::NEG_INFINITY));
}

/// Two points a subset, 0.1 on either side of its centre, each with half of its probability.
fn clusters(of: &[(f64, f64)]) -> Integration {
    let part = |s: usize| (0..of.len()).map(|i| if i == s { 1.0 } else { 0.0 }).collect::<Vec<f64>>();
    let pair = |(s, (share, centre)): (usize, &(f64, f64))| [-0.1, 0.1].map(|d| point(&[centre + d], 0.5 * share, &part(s)));
    let points = of.iter().enumerate().flat_map(pair).collect();
    Integration { points, subset_probability: of.iter().map(|(share, _)| *share).collect(), pareto_k: None, effective_points: 0.0 }
}

/// Centres and numbers of points.
fn centres(list: &[(Proposal, usize)]) -> (Vec<f64>, Vec<usize>) {
    list.iter().map(|(p, count)| ((1e6 * p.centre[0]).round() / 1e6, *count)).unzip()
}

/// A proposal of its own for each subset above a hundredth that lies a standard deviation from the whole and from those before it, five at most.
#[test]
fn subsets_that_lie_elsewhere_have_proposals_of_their_own() {
    let found = matched(&clusters(&[(0.5, 0.0), (0.49, 5.0), (0.01, 10.0)]), &one(0.01), 600);
    assert_eq!(centres(&found), (vec![2.55, 0.0, 5.0], vec![300, 150, 150]));
    // Spread about 2.55: 12.25 + 1 − 6.5025 and the 0.01 within; weights of pairs ½, so 2/(0.25 + 0.2401 + 0.0001) effective points.
    let effective = 2.0 / 0.4902;
    let trust = effective / (effective + 10.0);
    let density = |p: &Proposal, scale: f64| alike(&[p.density(&p.centre, &mut Vec::new())], &[1.0 / scale.sqrt()]);
    let all = trust * (13.25 - 6.5025 + 0.01) + (1.0 - trust) * 0.01;
    assert!(density(&found[0].0, 1.3 * all) && !density(&found[0].0, all));
    assert!(density(&found[1].0, 1.3 * 0.01) && !density(&found[1].0, 0.01));
    let many = [(0.31, 0.0), (0.25, 5.0), (0.2, 5.05), (0.1, -5.0), (0.05, 10.0), (0.04, -10.0), (0.03, 20.0), (0.02, 30.0)];
    assert_eq!(
        centres(&matched(&clusters(&many), &one(0.01), 600)),
        (vec![3.06, 0.0, 5.0, -5.0, 10.0, -10.0], vec![300, 60, 60, 60, 60, 60])
    );
    // One subset lies where the whole does.
    assert_eq!(centres(&matched(&clusters(&[(1.0, 2.0)]), &one(0.01), 600)), (vec![2.0], vec![600]));
    assert!(matched(&clusters(&[(0.0, 2.0)]), &one(0.01), 600).is_empty());
}

/// Subsets above half a hundredth whose own weights have a heavy tail get points at their mode, once.
#[test]
fn heavy_subsets_get_points_at_their_mode_once() {
    let unknown = |flag| Unknown { meaning: Meaning::Yaw, sd: 0.3, flag: Some(flag) };
    let model = without_readings(vec![Hyper::BarrelSpread], vec![unknown(0), unknown(1)]);
    // Quantiles of Pareto's distribution of shape 1.2 are heavy, those of shape 0.2 are not.
    let points = (0..200).map(|i| {
        let tail = |k: f64| (1.0 - (f64::from(i) + 0.5) / 200.0).powf(-k);
        point(&[0.01 * f64::from(i) - 1.0], 1.0, &[tail(0.2), tail(1.2), tail(1.2), tail(1.2)])
    });
    let result =
        Integration { points: points.collect(), subset_probability: vec![0.9, 0.006, 0.07, 0.005], pareto_k: None, effective_points: 0.0 };
    let mut done = Vec::new();
    let found = at_subset_modes(&model, &result, &one(1.0), &mut done);
    assert_eq!((centres(&found), done.clone()), ((vec![0.0, 0.0], vec![192, 192]), vec![2, 1]));
    assert!(at_subset_modes(&model, &result, &one(1.0), &mut done).is_empty());
}

/// Without readings the posterior is the prior: subsets by their chances, deviates of mean 0 and variance 1. Points as wide as that and matched to it once
/// are enough.
#[test]
fn without_readings_the_prior_comes_back() {
    let unknown = |flag| Unknown { meaning: Meaning::Yaw, sd: 0.3, flag: Some(flag) };
    let model = without_readings(vec![Hyper::SlopeSpread, Hyper::BarrelSpread], vec![unknown(0), unknown(1)]);
    let found = integrate(&model, 3);
    assert_eq!(found.points.len(), 2 * 320 + 600);
    assert!(alike(&found.subset_probability, &[0.49, 0.21, 0.21, 0.09]), "{:?}", found.subset_probability);
    assert!(found.effective_points > 300.0 && found.pareto_k.is_none_or(|k| k < 0.7));
    let mean = |f: &dyn Fn(&DVector<f64>) -> f64| found.points.iter().map(|p| p.weight * f(&p.x)).sum::<f64>();
    let moments = [mean(&|x| x[0]), mean(&|x| x[1]), mean(&|x| x[0] * x[0]), mean(&|x| x[1] * x[1]), mean(&|x| x[0] * x[1])];
    let near = |expected: [f64; 5]| moments.iter().zip(expected).all(|(a, b)| (a - b).abs() < 0.03);
    assert!(near([0.0, 0.0, 1.0, 1.0, 0.0]) && !near([0.0, 0.1, 1.0, 1.0, 0.0]), "{moments:?}");
}
