//! When a stage is added, and when none is.

use super::*;
use crate::causes::block::{Column, Known, Rows, Scale};
use crate::causes::fixture::without_readings;
use crate::causes::hyper::Hyper;

/// Readings that know `h·G` alone, for a normal `h` of mean 1 and a log-normal `G`: the smaller their noise beside `spread`, the thinner the bent ridge.
fn ridge(deviates: usize, size: f64, spread: f64) -> Model {
    let mut kinds = vec![Hyper::RollArm { mean: 1.0, sd: spread }, Hyper::MoveGain { median: 1.0, factor: spread.exp() }];
    kinds.resize(deviates, Hyper::BarrelSpread);
    let values = vec![size, 0.0, -size];
    let column = Column { cause: None, scale: Scale::RollArm, targets: vec![], known: Known::Gain(1.0), values: values.clone() };
    let mut model = without_readings(kinds, vec![]);
    let (noise, variance) = (vec![0; 3], vec![1.0; 3]);
    model.blocks =
        vec![Rows { readings: values, noise, variance, random: vec![], columns: vec![column], repeats: vec![], bent: None }.reduce()];
    model
}

/// What the first stage's points alone leave in the tail.
fn first_tail(model: &Model, seed: u64) -> Option<f64> {
    let n = model.hypers.len();
    let mut target = Target::new(model, None);
    let centre = climb(&mut target, DVector::zeros(n), DMatrix::identity(n, n), 40);
    let scale = inverse_curvature(&mut target, &centre);
    let proposals =
        [(centre, scale), (DVector::zeros(n), DMatrix::identity(n, n))].map(|(c, s)| (Proposal::new(c, s).unwrap(), FIRST_STAGE));
    let mut rng = ChaCha20Rng::seed_from_u64(seed);
    let shifts: Vec<f64> = (0..n + 3).map(|_| rng.random()).collect();
    let mut points = Vec::new();
    add_points(model, seed, &proposals, &shifts, &mut 0, &mut points);
    subset_tail(&weigh(points, &proposals).points, 0)
}

/// Stages end when the tail is light and there are three hundred effective points, both, or after five that begin with points matched to moments.
#[test]
fn stages_end_when_both_are_enough() {
    let all = 2 * FIRST_STAGE + 5 * LATER_STAGE;
    let mut ended = Vec::new();
    for (deviates, size, spread) in
        [(2, 10.0, 1.0), (2, 30.0, 1.0), (2, 100.0, 0.3), (2, 300.0, 0.1), (3, 30.0, 1.0), (6, 100.0, 0.3), (6, 300.0, 0.1)]
    {
        let found = integrate(&ridge(deviates, size, spread), 3);
        let enough = found.pareto_k.is_none_or(|k| k < 0.7) && found.effective_points > 300.0;
        let points = found.points.len();
        // The only subset gets its points once at most.
        assert!([all, all + SUBSET_STAGE].contains(&points) || enough, "{deviates} {size} {spread}: {points} {:?}", found.pareto_k);
        assert!(points <= all + SUBSET_STAGE);
        ended.push(points < all);
    }
    assert!(ended.contains(&true) && ended.contains(&false), "both ends come about");
}

/// Points matched to moments come first: a tail that they mend gets no points of its own, one that nothing mends gets them once.
#[test]
fn points_at_modes_come_after_matched_ones() {
    let mended = ridge(6, 300.0, 0.1);
    assert!(first_tail(&mended, 3).is_some_and(|k| k >= HEAVY_TAIL), "heavy at first");
    assert_eq!(integrate(&mended, 3).points.len(), 2 * FIRST_STAGE + 2 * LATER_STAGE);
    let never = ridge(2, 1e5, 0.3);
    assert_eq!(integrate(&never, 3).points.len(), 2 * FIRST_STAGE + 5 * LATER_STAGE + SUBSET_STAGE);
}
