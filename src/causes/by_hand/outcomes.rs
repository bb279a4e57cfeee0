//! Outcomes of a test by the conditional normal distribution; the noise that a prediction states.

use super::super::block::{Column, Known, Rows, Scale, Spread};
use super::super::outcome::filled_in;
use super::super::predictive::predictions;
use super::drawn::draw;
use super::{close, designed, fixture, medians, posterior_of, reading};
use crate::trial::*;
use nalgebra::{DMatrix, DVector};
use rand::SeedableRng;
use rand_chacha::ChaCha20Rng;

/// New readings given the old ones: mean and covariance of a normal whose constant has a flat prior.
#[test]
fn new_readings_follow_the_old_ones() {
    let design = designed(&fixture::everything(Holding::Chuck));
    let mut values = medians(&design);
    values.noise = vec![0.25, 4.0];
    let (line, bend) = ([-1.0, 0.2, 1.0, 0.5, -2.6, 3.0], [1.0, -0.5, 1.0, 0.3, 0.1, -2.0]);
    let column =
        Column { cause: None, scale: Scale::One, targets: vec![(0, 1.0)], known: Known::None, values: vec![0.0, 1.0, 2.0, 3.0, 4.0, 5.0] };
    let rows = Rows {
        readings: vec![7.0, 9.0, 14.0, 12.0, 0.0, 0.0],
        noise: vec![0, 0, 0, 1, 0, 1],
        variance: vec![1.0, 0.5, 1.0, 1.0, 2.0, 0.25],
        random: vec![(Spread::Known(1.5), line.to_vec()), (Spread::Known(0.8), bend.to_vec())],
        columns: vec![column],
        repeats: Vec::new(),
        bent: None,
    };
    let new = [false, false, false, false, true, true];
    let unknowns = vec![1.2; design.model.unknowns.len()];
    // y less 1.2 times the column, with a constant as good as free
    let noise = [0.25, 0.125, 0.25, 4.0, 0.5, 1.0];
    let covariance =
        DMatrix::from_fn(6, 6, |i, j| 1e6 + 2.25 * line[i] * line[j] + 0.64 * bend[i] * bend[j] + if i == j { noise[i] } else { 0.0 });
    let residual = DVector::from_fn(4, |i, _| rows.readings[i] - 1.2 * i as f64);
    let old = covariance.view((0, 0), (4, 4)).into_owned().cholesky().unwrap();
    let across = covariance.view((4, 0), (2, 4)).into_owned();
    let expected = &across * old.solve(&residual);
    let left = covariance.view((4, 4), (2, 2)).into_owned() - &across * old.solve(&across.transpose());
    let mut rng = ChaCha20Rng::seed_from_u64(4);
    let n = 8000;
    let drawn: Vec<[f64; 2]> = (0..n)
        .map(|_| {
            let found = filled_in(&rows, &new, &values, &unknowns, &design.model.bending, &mut rng).unwrap();
            assert_eq!(found[..4], rows.readings[..4]);
            [found[4] - 4.8 - expected[0], found[5] - 6.0 - expected[1]]
        })
        .collect();
    let mean = |f: &dyn Fn(&[f64; 2]) -> f64| drawn.iter().map(f).sum::<f64>() / f64::from(n);
    for a in 0..2 {
        assert!(mean(&|d| d[a]).abs() < 5.0 * (left[(a, a)] / f64::from(n)).sqrt(), "{a}: {} {left}", mean(&|d| d[a]));
        for b in 0..2 {
            let size = (left[(a, a)] * left[(b, b)] / f64::from(n)).sqrt();
            let found = mean(&|d| d[a] * d[b]);
            assert!((found - left[(a, b)]).abs() < 7.0 * size, "{a} {b}: {found} {left}");
        }
    }
    assert!(expected.min() > 1.0 && left[(0, 1)].abs() > 0.5, "a wrong sign of either would be seen: {expected} {left}");
}

/// The stated noise is the mean over all draws.
#[test]
fn the_noise_of_a_prediction() {
    let mut trial = fixture::bar(Holding::Chuck);
    trial.diameters = [20.0, 110.0, 200.0].map(|z| reading(2, 0, 1, Direction::ToHeadstock, z, 38.0)).to_vec().into();
    let design = designed(&trial);
    let posterior = posterior_of(&design, [2.0, 3.0, 7.0].map(|noise_um| draw(&design, noise_um, [0.0, 0.0], 0.0)).to_vec());
    close(predictions(Some(&trial.diameters), None, &design, &posterior)[0].noise, 0.004, 1e-9);
}
