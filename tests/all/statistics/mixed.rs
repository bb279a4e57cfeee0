//! Mixed models against the textbook's full matrices (Laird & Ware 1982; Giesbrecht & Burns 1985).

use super::full_matrices::{Full, terms};
use super::tolerances::{Tolerance, assert_near};
use nalgebra::{DMatrix, DVector, Matrix2};
use taperwright::statistics::mixed::{Coefficients, FIXED, Group, NoisePrior, Repeated, Row, Terms, evaluate, fit_reml};

/// Seven groups on unlike stations with unlike weights, two of which follow other slopes.
fn example() -> Vec<(Vec<Row>, Terms)> {
    let x = [-1.0, -0.55, -0.1, 0.3, 0.7, 1.0];
    let noise = [0.11, -0.23, 0.05, 0.31, -0.17, -0.09, 0.27, 0.02, -0.35, 0.13, 0.21, -0.06];
    (0..7)
        .map(|group| {
            let rows = (0..6).filter(|k| (k + group) % 4 != 3).map(|k| {
                let slope = [1.0, 1.6, 0.7, 2.1, 1.3, 0.2, 1.8][group];
                let bend = [0.3, -0.4, 0.9, 0.7, -0.5, 0.1, 0.2][group];
                let z = [x[k], 1.5 * x[k] * x[k] - 0.5];
                (z, 5.0 + slope * z[0] + bend * z[1] + noise[(k * 5 + group * 3) % 12], [1.0, 2.0, 0.5][(k + group) % 3])
            });
            (rows.collect(), terms(if group % 2 == 0 { &[0, 1] } else { &[2, 1] }))
        })
        .collect()
}

const EXACT: Tolerance = Tolerance::Relative(1e-10);

#[test]
fn generalised_least_squares_is_that_of_full_matrices() {
    let data = example();
    let cases = [
        (0.04, Matrix2::new(0.3, 0.0, 0.0, 0.05)),
        (0.04, Matrix2::zeros()),
        (0.5, Matrix2::new(0.2, 0.1, 0.1, 0.4)),
        (0.04, Matrix2::new(0.0, 0.0, 0.0, 0.2)),
    ];
    for own_level in [false, true] {
        let make = |(rows, terms): &(Vec<Row>, Terms)| if own_level { Group::centred(rows, *terms) } else { Group::new(rows, *terms) };
        let groups: Vec<Group> = data.iter().map(make).collect();
        let full = Full::new(&data, 3, own_level);
        for (noise, random) in cases {
            let found = evaluate(&groups, 3, &(random / noise)).unwrap();
            let [p, covariance, inverse] = full.projection(&full.covariance(noise, &random));
            let linear = &covariance * full.design.transpose() * inverse;
            let (coefficients, own) = (&linear * &full.y, &linear * linear.transpose());
            for i in 0..3 {
                assert_near("coefficient", found.coefficients[i], coefficients[i], EXACT);
                for j in 0..3 {
                    assert_near("covariance", found.unscaled_covariance[(i, j)] * noise, covariance[(i, j)], Tolerance::Absolute(1e-12));
                    assert_near("of the noise", found.unscaled_within[(i, j)], own[(i, j)], Tolerance::Absolute(1e-11));
                }
            }
            assert_eq!((found.coefficients[3], found.unscaled_covariance[(3, 3)]), (0.0, 0.0), "an unused coefficient says nothing");
            let square = full.y.dot(&(p * &full.y)) * noise;
            assert_near("weighted square", found.weighted_square, square, EXACT);
            assert_near("deviance", found.deviance(noise), full.deviance(noise, &random), EXACT);
            assert_near("profiled noise", found.profiled_sigma_square().unwrap(), square / (full.y.len() as f64 - 3.0), EXACT);
        }
        // by its own curve: least squares of each group alone
        for (group, (rows, _)) in groups.iter().zip(&data) {
            let alone = Full::new(&[(rows.clone(), terms(&[0, 1]))], 2, own_level);
            let fit = taperwright::statistics::least_squares(&alone.design, alone.y.as_slice()).unwrap();
            let (square, dof) = group.own_residual();
            assert_near("own residual", square, fit.residual_sum_of_squares(), Tolerance::Absolute(1e-12));
            assert_eq!(dof, fit.dof() as f64);
            let (rank, own) = group.own_coefficients();
            assert_eq!(rank, 2.0);
            (0..2).for_each(|k| assert_near("own coefficient", own[k], fit.coefficient(k).unwrap(), EXACT));
        }
    }
}

/// The estimate is where the likelihood of full matrices is highest, and its information and degrees of freedom are theirs.
#[test]
fn restricted_likelihood_is_highest_at_the_estimate() {
    let data = example();
    let groups: Vec<Group> = data.iter().map(|(rows, terms)| Group::centred(rows, *terms)).collect();
    let full = Full::new(&data, 3, true);
    let slopes = Matrix2::new(1.0, 0.0, 0.0, 0.0);
    let bends = Matrix2::new(0.0, 0.0, 0.0, 1.0);
    let both = Matrix2::new(0.0, 1.0, 1.0, 0.0);
    let sheet = NoisePrior { median: 0.3, log_deviation: 0.4 };
    for (structures, prior) in
        [(vec![slopes], None), (vec![slopes, bends], None), (vec![slopes, bends], Some(sheet)), (vec![slopes, bends, both], Some(sheet))]
    {
        let start: Vec<f64> = [0.1, 0.2, 0.1, 0.0].into_iter().take(structures.len() + 1).collect();
        let fit = fit_reml(&groups, 3, &structures, prior, &start).unwrap();
        assert!(fit.converged && fit.parameters.len() == structures.len() + 1);
        let random = |at: &[f64]| structures.iter().zip(&at[1..]).fold(Matrix2::zeros(), |sum: Matrix2<f64>, (s, theta)| sum + s * *theta);
        assert_eq!(fit.random_covariance, random(&fit.parameters));
        assert_near("deviance", fit.deviance, full.deviance(fit.sigma_square, &fit.random_covariance), EXACT);
        // the prior is a log-normal of σ: −2 ln density (ln(σ/median)/deviation)²
        let penalty = |noise: f64| prior.map_or(0.0, |p| ((noise.sqrt() / p.median).ln() / p.log_deviation).powi(2));
        let objective = |at: &[f64]| full.deviance(at[0], &random(at)) + penalty(at[0]);
        let here = objective(&fit.parameters);
        for (k, parameter) in fit.parameters.iter().enumerate() {
            for step in [-1e-3_f64, 1e-3] {
                let mut moved = fit.parameters.clone();
                moved[k] += step * if *parameter == 0.0 { step.signum() } else { *parameter };
                assert!(objective(&moved) > here, "parameter {k} of {:?}", fit.parameters);
            }
            let mut ends = [fit.parameters.clone(), fit.parameters.clone()];
            if *parameter != 0.0 {
                let step = 1e-4 * parameter;
                ends[0][k] -= step;
                ends[1][k] += step;
                let slope = (objective(&ends[1]) - objective(&ends[0])) / 2e-4;
                assert!(slope.abs() < 1e-5, "slope {slope} of parameter {k} of {:?}", fit.parameters);
            }
        }
        // expected information ½tr(PVᵢPVⱼ), with that of the prior, 1/(4 deviation² σ⁴)
        let [p, covariance, inverse] = full.projection(&full.covariance(fit.sigma_square, &fit.random_covariance));
        let parts: Vec<DMatrix<f64>> = std::iter::once(full.part(None)).chain(structures.iter().map(|s| full.part(Some(s)))).collect();
        let mut information = DMatrix::from_fn(parts.len(), parts.len(), |i, j| 0.5 * (&p * &parts[i] * &p * &parts[j]).trace());
        if let Some(p) = prior {
            information[(0, 0)] += 1.0 / (4.0 * p.log_deviation.powi(2) * fit.sigma_square.powi(2));
        }
        for i in 0..parts.len() {
            for j in 0..parts.len() {
                let size = (information[(i, i)] * information[(j, j)]).sqrt();
                assert_near("information", fit.information[(i, j)] / size, information[(i, j)] / size, Tolerance::Absolute(1e-9));
            }
        }
        // 2v²/(g'I⁻¹g), g the gradient of v = c'(X'V⁻¹X)⁻¹c: C X'V⁻¹VᵢV⁻¹X C
        let linear = &covariance * full.design.transpose() * &inverse;
        for contrast in [[1.0, 0.0, 0.0], [0.5, 0.0, 0.5], [0.0, -1.5, 0.0]] {
            let c = DVector::from_row_slice(&contrast);
            let v = c.dot(&(&covariance * &c));
            let g = DVector::from_iterator(parts.len(), parts.iter().map(|part| c.dot(&(&linear * part * linear.transpose() * &c))));
            let dof = 2.0 * v * v / g.dot(&(information.clone().try_inverse().unwrap() * &g));
            let mut given = Coefficients::zeros();
            given.iter_mut().zip(contrast).for_each(|(slot, value)| *slot = value);
            assert_near("degrees of freedom", fit.degrees_of_freedom(&given).unwrap(), dof, Tolerance::Relative(1e-8));
            let (total, within) = fit.variance(&given);
            assert_near("variance", total, v, EXACT);
            assert_near("its part of noise", within, fit.sigma_square * c.dot(&(&linear * linear.transpose() * &c)), EXACT);
        }
    }
}

/// Slopes and bends that go together wholly: the covariance rests where its determinant is 0 and goes no further.
#[test]
fn a_covariance_stays_one() {
    let groups: Vec<Group> = [(1.0, 0.3), (1.6, -0.2), (0.7, 0.6), (2.1, 0.1), (2.4, -1.1)]
        .iter()
        .enumerate()
        .map(|(group, (slope, bend))| {
            let rows = (0..6).map(|k| {
                let x = f64::from(k) / 2.5 - 1.0;
                let z = [x, 1.5 * x * x - 0.5];
                (z, slope * z[0] + (bend - slope) * z[1] + [0.11, -0.23, 0.05, 0.31, -0.17, -0.09][(k as usize * 5 + group) % 6], 1.0)
            });
            Group::centred(&rows.collect::<Vec<Row>>(), terms(&[0, 1]))
        })
        .collect();
    let structures = [Matrix2::new(1.0, 0.0, 0.0, 0.0), Matrix2::new(0.0, 0.0, 0.0, 1.0), Matrix2::new(0.0, 1.0, 1.0, 0.0)];
    let fit = fit_reml(&groups, 2, &structures, None, &[0.05, 0.3, 0.3, 0.0]).unwrap();
    let d = fit.random_covariance;
    assert!(d.determinant() >= 0.0 && d[(0, 0)] > 0.0 && d[(1, 1)] > 0.0 && d[(0, 1)] < -0.9 * (d[(0, 0)] * d[(1, 1)]).sqrt(), "{d}");
    assert!(fit_reml(&groups, 2, &structures, None, &[-1.0, 0.3, 0.3, 0.0]).is_none(), "no noise below nothing");
    assert!(fit_reml(&groups, 2, &structures, None, &[f64::NAN, 0.3, 0.3, 0.0]).is_none());
    assert!(fit_reml(&groups, 2, &structures, None, &[0.05, 0.3, 0.3, 1.0]).is_none(), "no covariance with these variances");
    assert!(fit_reml(&groups, 2, &structures, None, &[0.05, -0.3, -0.3, 0.0]).is_none(), "no variances below nothing");
}

/// Readings with equal columns by their number, mean and scatter; a group that cannot tell its two columns apart counts one.
#[test]
fn repeated_readings_and_columns_that_are_one() {
    let single: Vec<Row> =
        vec![([-1.0, 1.0], 2.0, 1.5), ([-1.0, 1.0], 2.4, 1.5), ([0.5, 0.2], 3.0, 1.0), ([1.0, 0.4], 3.5, 2.0), ([1.0, 0.4], 3.3, 2.0)];
    let runs = [
        Repeated { z: [-1.0, 1.0], mean: 2.2, weight: 3.0, count: 2.0, square: 1.5 * 2.0 * 0.04 },
        Repeated { z: [0.5, 0.2], mean: 3.0, weight: 1.0, count: 1.0, square: 0.0 },
        Repeated { z: [1.0, 0.4], mean: 3.4, weight: 4.0, count: 2.0, square: 2.0 * 2.0 * 0.01 },
    ];
    let (of_runs, of_single) = (Group::repeated(&runs, terms(&[0, 1])), Group::centred(&single, terms(&[0, 1])));
    assert_eq!((of_runs.contrasts, of_single.contrasts), (4.0, 4.0));
    assert_near("square", of_runs.square, of_single.square, EXACT);
    for i in 0..2 {
        assert_near("cross", of_runs.cross[i], of_single.cross[i], EXACT);
        (0..2).for_each(|j| assert_near("gram", of_runs.gram[(i, j)], of_single.gram[(i, j)], EXACT));
    }
    // y = 3 + 2z: rank one, whatever the other column
    for (column, other) in [(0, 0.0), (1, 0.0), (0, 1.0)] {
        let row = |z: f64| {
            let mut columns = [other * z; 2];
            columns[column] = z;
            (columns, 3.0 + 2.0 * z, 1.0)
        };
        let group = Group::centred(&[row(-1.0), row(0.0), row(2.0)], terms(&[0, 1]));
        let (rank, own) = group.own_coefficients();
        assert_eq!(rank, 1.0);
        assert_near("slope", own[column], 2.0, EXACT);
        assert_eq!(own[1 - column], 0.0);
        assert_eq!(group.own_residual().1, 1.0);
        assert!(group.own_residual().0 < 1e-12);
    }
    let nothing = Group::centred(&[([1.0, 2.0], 3.0, 1.0)], terms(&[0, 1]));
    assert_eq!((nothing.own_coefficients().0, nothing.own_residual()), (0.0, (0.0, 0.0)));
    assert_eq!(Group::centred(&[([1.0, 2.0], 3.0, 0.0), ([2.0, 2.0], 3.0, 0.0)], terms(&[0])).gram, Matrix2::zeros());
    assert!(evaluate(&[nothing], 1, &Matrix2::zeros()).is_none(), "no slope from one place");
    // one contrast for one slope leaves no degree of freedom for the noise
    let two = Group::centred(&[([-1.0, 0.0], 3.0, 1.0), ([1.0, 0.0], 4.0, 1.0)], terms(&[0]));
    assert_eq!(evaluate(&[two], 1, &Matrix2::zeros()).unwrap().profiled_sigma_square(), None);
    // columns alike but for a ten-thousandth are two, but for a millionth one, in any unit
    for unit in [1e-3, 1.0, 1e3] {
        let rank = |part: f64| {
            let row = |z: f64, other: f64| ([unit * z, unit * (z + part * other)], z, 1.0);
            Group::centred(&[row(-1.0, 1.0), row(0.0, -2.0), row(1.0, 1.0)], terms(&[0, 1])).own_coefficients().0
        };
        assert_eq!((rank(1e-4), rank(1e-6)), (2.0, 1.0), "{unit}");
    }
    let apart = Group::centred(&single, terms(&[0, 1]));
    assert!(evaluate(&[apart], 3, &Matrix2::zeros()).is_none(), "no group follows the third coefficient");
    assert_eq!(FIXED, 4);
}

#[test]
fn a_data_sheet_as_degrees_of_freedom() {
    let sheet = NoisePrior::from_factor(0.002, 1.5);
    assert_near("its deviation", sheet.log_deviation, 1.5_f64.ln(), EXACT);
    assert_near("degrees of freedom", sheet.equivalent_dof(), 0.5 / 1.5_f64.ln().powi(2), EXACT);
    assert_near("penalty", sheet.penalty(0.002 * 1.5 * 1.5), 4.0, EXACT);
    assert_eq!(sheet.penalty(0.002), 0.0);
    // a factor of 1 or less is taken as one that is hardly above 1
    assert_near("no factor", NoisePrior::from_factor(1.0, 0.5).log_deviation, 1e-6, Tolerance::Relative(1e-5));
}
