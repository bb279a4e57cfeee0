//! Weights and draws of the model against dense covariances and brute force.

use super::*;
use crate::causes::design::{Design, design};
use crate::causes::fixture;
use crate::causes::hyper::Values;
use crate::trial::Holding;
use nalgebra::{DMatrix, DVector};

/// The same subset weight from the dense covariance of all readings: no blocks, no elimination, no tree. Unknowns that cannot be
/// negative are summed over a grid.
fn dense_log_weight(design: &Design, values: &Values, subset: usize) -> f64 {
    dense(design, values, subset, 400).0
}

/// The same with the conditional means of the unknowns that may be negative (where one cannot be), by a grid of `steps`.
fn dense(design: &Design, values: &Values, subset: usize, steps: usize) -> (f64, Vec<f64>) {
    let model = &design.model;
    let mut bending = model.bending.clone();
    bending.fill(values);
    let n: usize = design.logged.iter().map(|l| l.rows.readings.len()).sum();
    let positive: Vec<usize> = (0..model.unknowns.len()).filter(|u| model.unknowns[*u].meaning.non_negative()).collect();
    let mut mean = DVector::zeros(n);
    let mut covariance = DMatrix::zeros(n, n);
    let mut design_matrix = DMatrix::zeros(n, model.unknowns.len());
    let mut contrasts: Vec<DVector<f64>> = Vec::new();
    let mut start = 0;
    for logged in &design.logged {
        let rows = &logged.rows;
        let m = rows.readings.len();
        for i in 0..m {
            mean[start + i] = rows.readings[i];
            covariance[(start + i, start + i)] += values.noise_variance(rows.noise[i]) * rows.variance[i];
            if let Some((first, count, at)) = &rows.bent {
                mean[start + i] -= bending.curve(*first, *count)[at[i]];
            }
            for (spread, terms) in &rows.random {
                for j in 0..m {
                    covariance[(start + i, start + j)] += spread.variance(values) * terms[i] * terms[j];
                }
            }
            for column in &rows.columns {
                let factor = values.scale(column.scale);
                mean[start + i] -= factor * values.known(column.known) * column.values[i];
                for (u, own) in &column.targets {
                    design_matrix[(start + i, *u)] += factor * own * column.values[i];
                }
            }
        }
        // Orthonormal contrasts (Helmert) against the free constant; all readings of a block have one gauge here.
        for k in 1..m {
            let mut contrast = DVector::zeros(n);
            let size = ((k * (k + 1)) as f64).sqrt();
            (0..k).for_each(|i| contrast[start + i] = 1.0 / size);
            contrast[start + k] = -(k as f64) / size;
            contrasts.push(contrast);
        }
        start += m;
    }
    for u in 0..model.unknowns.len() {
        if !positive.contains(&u) {
            let column = design_matrix.column(u).clone_owned();
            covariance += &column * column.transpose() * model.prior_sd(u, subset).powi(2);
        }
    }
    let k = DMatrix::from_columns(&contrasts);
    let factor = (k.transpose() * &covariance * &k).cholesky().unwrap();
    let log_determinant: f64 = 2.0 * factor.l().diagonal().iter().map(|d| d.ln()).sum::<f64>();
    // A step of the grid at the scale that the data leave, well inside the prior's.
    let projected: Vec<DVector<f64>> = positive.iter().map(|u| k.transpose() * design_matrix.column(*u)).collect();
    let reading = k.transpose() * mean;
    let dot = |a: &DVector<f64>, b: &DVector<f64>| a.dot(&factor.solve(b));
    let grids: Vec<Vec<(f64, f64)>> = positive
        .iter()
        .map(|u| {
            let sd = model.prior_sd(*u, subset);
            let n = steps;
            (0..n)
                .map(|i| {
                    let z = 8.0 * (i as f64 + 0.5) / n as f64;
                    (z * sd, (8.0 / n as f64) * 2.0 * (-0.5 * z * z).exp() / (2.0 * std::f64::consts::PI).sqrt())
                })
                .collect()
        })
        .collect();
    let rest = dot(&reading, &reading);
    let mut total = 0.0;
    let mut first_moment = 0.0;
    let cross: Vec<f64> = projected.iter().map(|p| dot(p, &reading)).collect();
    let own = |a: usize, b: usize| dot(&projected[a], &projected[b]);
    match positive.len() {
        1 => {
            let square = own(0, 0);
            for (w, p) in &grids[0] {
                let weight = p * (w * cross[0] - 0.5 * w * w * square).exp();
                total += weight;
                first_moment += weight * w;
            }
        }
        2 => {
            let (a, b, c) = (own(0, 0), own(1, 1), own(0, 1));
            for (v, p) in &grids[0] {
                for (w, q) in &grids[1] {
                    total += p * q * (v * cross[0] + w * cross[1] - 0.5 * (v * v * a + w * w * b) - v * w * c).exp();
                }
            }
        }
        _ => panic!("a grid for two at most"),
    }
    let chance: f64 = (0..model.flags).map(|f| if subset >> f & 1 == 1 { model.presence } else { 1.0 - model.presence }).map(f64::ln).sum();
    let solved = factor.solve(&(&reading - &projected[0] * (first_moment / total)));
    let means = (0..model.unknowns.len() - positive.len())
        .map(|u| model.prior_sd(u, subset).powi(2) * (k.transpose() * design_matrix.column(u)).dot(&solved))
        .collect();
    (chance - 0.5 * (log_determinant + rest) + total.ln(), means)
}

fn agree(holding: Holding) {
    let trial = fixture::everything(holding);
    let design = design(&trial).unwrap();
    let model = &design.model;
    let mut workspace = model.workspace();
    let mut first: Option<f64> = None;
    for deviate in [0.0, 0.7, -0.9] {
        let x: Vec<f64> = (0..model.hypers.len()).map(|i| if i % 2 == 0 { deviate } else { -0.5 * deviate }).collect();
        let mut weights = vec![0.0; model.subsets()];
        model.log_weights(None, &model.reduced::<f64>(model.hypers.values(&x), &mut workspace), &[&[]], &mut workspace, &mut weights);
        for subset in [0, 1, model.subsets() / 2 + 1, model.subsets() - 1] {
            let dense = dense_log_weight(&design, &model.hypers.values(&x), subset);
            // One constant belongs to the trial (normalisation of the contrasts); it is the same for all deviates and subsets.
            let difference = weights[subset] - dense;
            let constant = *first.get_or_insert(difference);
            assert!((difference - constant).abs() < 2e-4, "{holding:?} {deviate} {subset}: {}", difference - constant);
            let wrong = weights[subset] - dense_log_weight(&design, &model.hypers.values(&x), subset ^ 1);
            assert!((wrong - constant).abs() > 2e-4, "the comparison must tell subsets apart");
        }
    }
}

/// What the readings add to the last row is the same by the short way and by the whole one, in every block of every kind of log; the
/// short way is prepared on other readings.
#[test]
fn readings_alone_make_the_last_row_of_the_whole() {
    for holding in [Holding::Chuck, Holding::Centres, Holding::ChuckAndCentre] {
        let design = design(&fixture::everything(holding)).unwrap();
        let model = &design.model;
        let values = model.hypers.values(&(0..model.hypers.len()).map(|i| 0.3 - 0.1 * i as f64).collect::<Vec<f64>>());
        let mut bending = model.bending.clone();
        bending.fill(&values);
        let last = model.unknowns.len();
        let (mut compared, mut local, mut scratch) = (0, Local::new(), Vec::new());
        for (logged, block) in design.logged.iter().zip(&model.blocks) {
            let mut other = logged.rows.clone();
            other.readings.iter_mut().enumerate().for_each(|(i, r)| *r = 0.7 * *r + 1e-3 * (i % 3) as f64);
            let (mut whole, mut short) = (Symmetric::zeros(last + 1), vec![0.0; last + 1]);
            block.add_to(&values, &bending, &mut whole, &mut local);
            let (_, kept) = other.reduce().add_and_keep(&values, &bending, &mut Symmetric::zeros(last + 1), &mut local);
            kept.add(&other.reading_sums(&other.centred(), &logged.rows.readings), &bending, &mut short, &mut scratch);
            let whole = whole.whole_row(last);
            let size = whole.iter().fold(1e-300, |size: f64, v| size.max(v.abs()));
            let alike = |a: &[f64], b: &[f64]| a.iter().zip(b).all(|(a, b)| (a - b).abs() <= 1e-9 * size);
            assert!(alike(&whole, &short), "{holding:?}: {whole:?} {short:?}");
            let mut wrong = short.clone();
            wrong[last] *= 1.0 + 1e-6;
            compared += usize::from(!alike(&whole, &wrong));
        }
        assert!(compared > 2, "the comparison must see a small change");
    }
}

#[test]
fn weights_in_a_chuck_are_those_of_the_dense_covariance() {
    agree(Holding::Chuck);
}

#[test]
fn weights_between_centres_are_those_of_the_dense_covariance() {
    agree(Holding::Centres);
}

#[test]
fn weights_in_chuck_and_centre_are_those_of_the_dense_covariance() {
    agree(Holding::ChuckAndCentre);
}

/// (e) of the proof: yaw and twist by the estimate and by brute force on small trials drawn from the prior.
///
/// Brute force: points of the deviates drawn from their prior, every subset weighed at each by the dense covariance, wear summed over a grid.
#[test]
#[ignore = "the full proof: minutes in release"]
fn yaw_and_twist_are_those_of_brute_force() {
    use crate::causes::draws::standard_normal;
    use crate::causes::estimate::estimate_causes;
    use crate::causes::unknowns::Meaning;
    use crate::simulate::{Chance, Nature, laid_out, read_off};
    use crate::trial::{Direction, SimulationRequest};
    use rand::SeedableRng;
    use rayon::prelude::*;
    let (trials, points): (u64, usize) = (100, 2000);
    let request = SimulationRequest {
        logs: vec!["diameters".into(), "levels".into()],
        passes: 1,
        directions: vec![Direction::ToHeadstock, Direction::ToTailstock],
        stations_mm: vec![20.0, 110.0, 200.0],
        level_stations_mm: vec![0.0, 250.0, 500.0],
        ..SimulationRequest::default()
    };
    let laid = laid_out(&fixture::bar(Holding::Chuck), &request);
    let errors: Vec<[f64; 4]> = (0..trials)
        .into_par_iter()
        .map(|i| {
            let seed = 20_260_501 + i;
            let nature = Nature::drawn(&laid, &mut Chance::new(seed, 0));
            let mut trial = read_off(&laid, &nature, seed);
            trial.diameters.change(|_, r| r.edge = None);
            let posterior = estimate_causes(&trial, seed).posterior.unwrap();
            let mean = |v: &[f64]| v.iter().sum::<f64>() / v.len() as f64;
            let ours = [mean(&posterior.yaw_mm_per_m), mean(&posterior.twist_mm_per_m_per_m[&0])];
            let design = design(&trial).unwrap();
            let at = |m: Meaning| design.model.unknowns.iter().position(|u| u.meaning == m).unwrap();
            let (yaw, twist) = (at(Meaning::Yaw), at(Meaning::Twist { root: 0 }));
            let mut rng = rand_chacha::ChaCha20Rng::seed_from_u64(seed);
            let mut rows = Vec::new();
            for _ in 0..points {
                let x: Vec<f64> = (0..design.model.hypers.len()).map(|_| standard_normal(&mut rng)).collect();
                let values = design.model.hypers.values(&x);
                for subset in 0..design.model.subsets() {
                    let (log, means) = dense(&design, &values, subset, 60);
                    rows.push((log, means[yaw], means[twist]));
                }
            }
            let largest = rows.iter().map(|r| r.0).fold(f64::NEG_INFINITY, f64::max);
            let total: f64 = rows.iter().map(|r| (r.0 - largest).exp()).sum();
            let exact = |f: &dyn Fn(&(f64, f64, f64)) -> f64| rows.iter().map(|r| (r.0 - largest).exp() / total * f(r)).sum::<f64>();
            let truth = (nature.yaw_mm_per_m, nature.twist(0));
            [ours[0] - truth.0, exact(&|r| r.1) - truth.0, ours[1] - truth.1, exact(&|r| r.2) - truth.1]
        })
        .collect();
    let rms = |k: usize| (errors.iter().map(|e| e[k] * e[k]).sum::<f64>() / errors.len() as f64).sqrt();
    println!("root mean square error over {trials} trials: yaw {:.5} by brute force {:.5} mm/m", rms(0), rms(1));
    println!("twist {:.5} by brute force {:.5} (mm/m)/m", rms(2), rms(3));
    assert!((rms(0) / rms(1) - 1.0).abs() < 0.05, "yaw {} against {}", rms(0), rms(1));
    assert!((rms(2) / rms(3) - 1.0).abs() < 0.05, "twist {} against {}", rms(2), rms(3));
}
