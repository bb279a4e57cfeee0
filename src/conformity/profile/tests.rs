//! Draws of profiles against the same model worked out another way.
#![allow(clippy::unwrap_used, reason = "a test fails by panicking")]

use super::*;

/// Mean and variance.
fn moments(values: impl Iterator<Item = f64> + Clone) -> (f64, f64) {
    let count = values.clone().count() as f64;
    let mean = values.clone().sum::<f64>() / count;
    (mean, values.map(|v| (v - mean).powi(2)).sum::<f64>() / count)
}

fn near(found: f64, expected: f64, share: f64) -> bool {
    (found - expected).abs() <= share * expected.abs()
}

fn rng() -> ChaCha20Rng {
    generator(1, 0, 0)
}

/// Restricted likelihood by its definition: the density of contrasts in which the polynomial cancels, with their full covariance.
#[test]
fn weights_of_departures_are_prior_times_the_density_of_contrasts() {
    let at = [-1.0, -0.6, 0.1, 0.4, 1.0];
    let count = [1.0, 2.0, 4.0, 1.0, 3.0];
    let mean = DVector::from_column_slice(&[0.3, -0.2, 0.9, 0.1, 0.5]);
    let design = DMatrix::from_fn(5, 2, |i, k| [1.0, at[i]][k]);
    let noise = Noise { sigma: 0.5, dof: None, departures: 2.0 };
    let grid = [0.05, 0.2, 0.5, 1.0, 3.0];
    let found = departure_weights(&grid, &design, &mean, &count, noise).unwrap();
    let hat = &design * (design.transpose() * &design).try_inverse().unwrap() * design.transpose();
    let eigen = (DMatrix::identity(5, 5) - hat).symmetric_eigen();
    let free: Vec<_> = (0..5).filter(|i| eigen.eigenvalues[*i] > 0.5).map(|i| eigen.eigenvectors.column(i).into_owned()).collect();
    assert_eq!(free.len(), 3);
    let contrasts = DMatrix::from_columns(&free);
    let expected: Vec<f64> = grid
        .iter()
        .map(|omega| {
            let variance = DMatrix::from_fn(5, 5, |i, j| if i == j { omega * omega + 0.25 / count[i] } else { 0.0 });
            let covariance = contrasts.transpose() * variance * &contrasts;
            let own = contrasts.transpose() * &mean;
            let square = (own.transpose() * covariance.clone().try_inverse().unwrap() * &own)[(0, 0)];
            // half-t with 3 degrees of freedom and scale 2·0.5, per logarithm of ω
            omega * (1.0 + omega * omega / 3.0).powi(-2) * (-0.5 * square).exp() / covariance.determinant().sqrt()
        })
        .collect();
    let total: f64 = expected.iter().sum();
    for (found, expected) in found.iter().zip(&expected) {
        assert!((found - expected / total).abs() < 1e-12, "{found} {}", expected / total);
    }
}

/// Two places and a mean: the difference's posterior by quadrature over the departures.
#[test]
fn the_difference_of_two_places_is_that_of_quadrature() {
    let (difference, sigma, scale) = (0.9, 0.3, 5.0);
    for count in [1.0, 4.0] {
        let error = sigma * sigma / count;
        let (mut mass, mut first, mut second) = (0.0, 0.0, 0.0);
        for i in 0..4000 {
            let omega = sigma * 10f64.powf(-2.0 + 3.5 * (f64::from(i) + 0.5) / 4000.0);
            let prior = omega * (1.0 + (omega / (scale * sigma)).powi(2) / 3.0).powi(-2);
            let total = omega * omega + error;
            let weight = prior * (-difference * difference / (4.0 * total)).exp() / total.sqrt();
            let (mean, variance) = (difference * omega * omega / total, 2.0 * omega * omega * error / total);
            mass += weight;
            first += weight * mean;
            second += weight * (variance + mean * mean);
        }
        let (mean, variance) = (first / mass, second / mass - (first / mass).powi(2));
        let means = Means { at: vec![-1.0, 1.0], mean: vec![0.0, difference], count: vec![count; 2] };
        let noise = Noise { sigma, dof: None, departures: scale };
        let drawn = draw_profiles(&means, 0, noise, Common::default(), &mut rng()).unwrap();
        let found = moments(drawn.iter().map(|profile| profile[1] - profile[0]));
        assert!((found.0 - mean).abs() < 4.0 * (variance / DRAWS as f64).sqrt(), "{} {mean}", found.0);
        assert!(near(found.1, variance, 0.06), "{} {variance}", found.1);
    }
}

/// As many places as coefficients: each place has its readings' own distribution, a t where the noise has degrees of freedom.
#[test]
fn with_as_many_places_as_coefficients_readings_speak_for_themselves() {
    let means = Means { at: vec![-1.0, 0.2, 1.0], mean: vec![3.0, 1.0, 2.0], count: vec![1.0, 4.0, 9.0] };
    for (dof, widening) in [(None, 1.0), (Some(8.0), 8.0 / 6.0), (Some(1e6), 1.0), (Some(0.0), 1.0)] {
        let noise = Noise { sigma: 0.6, dof, departures: 1.0 };
        let curved = draw_profiles(&means, 2, noise, Common::default(), &mut rng()).unwrap();
        for drawn in [curved, draw_unsmoothed(&means, noise, Common::default(), &mut rng())] {
            assert_eq!(drawn.len(), DRAWS);
            for place in 0..3 {
                let (mean, variance) = moments(drawn.iter().map(|profile| profile[place]));
                let expected = 0.36 / means.count[place] * widening;
                assert!((mean - means.mean[place]).abs() < 4.5 * (expected / DRAWS as f64).sqrt(), "{mean}");
                assert!(near(variance, expected, 0.08), "{dof:?}: {variance} {expected}");
            }
        }
    }
}

/// What moves all readings alike tilts by P₁ and bends by P₂, in both kinds of draws.
#[test]
fn common_movements_have_their_stated_spread() {
    let means = Means { at: vec![-1.0, 0.0, 1.0], mean: vec![0.0; 3], count: vec![1.0; 3] };
    let noise = Noise { sigma: 1e-6, dof: None, departures: 1.0 };
    for (dof, widening) in [(None, 1.0), (Some(7.0), 7.0 / 5.0)] {
        let common = Common { slope_t: 0.4, slope_normal: 0.2, bend_t: 0.2, dof };
        let curved = draw_profiles(&means, 2, noise, common, &mut rng()).unwrap();
        for drawn in [curved, draw_unsmoothed(&means, noise, common, &mut rng())] {
            let slope = moments(drawn.iter().map(|p| 0.5 * (p[2] - p[0])));
            let bend = moments(drawn.iter().map(|p| (p[0] + p[2] - 2.0 * p[1]) / 3.0));
            let level = moments(drawn.iter().map(|p| (p[0] + p[1] + p[2]) / 3.0));
            assert!(near(slope.1, 0.16 * widening + 0.04, 0.08) && near(bend.1, 0.04 * widening, 0.08), "{slope:?} {bend:?}");
            assert!(slope.0.abs() < 0.03 && bend.0.abs() < 0.012);
            assert!(near(level.1, bend.1 / 4.0, 0.02), "P2 is −1/2 in the middle and 1 at the ends: {level:?}");
        }
    }
}

#[test]
fn what_carries_no_curve_is_refused() {
    let means = |places: usize| Means { at: (0..places).map(|i| i as f64).collect(), mean: vec![1.0; places], count: vec![1.0; places] };
    let noise = Noise { sigma: 0.1, dof: None, departures: 1.0 };
    let made = |means: &Means, order, noise| draw_profiles(means, order, noise, Common::default(), &mut rng()).is_some();
    assert!(made(&means(2), 0, noise) && made(&means(2), 1, noise) && made(&means(3), 2, noise));
    assert!(!made(&means(1), 0, noise) && !made(&means(2), 2, noise));
    for sigma in [0.0, -0.1, f64::NAN, f64::INFINITY] {
        assert!(!made(&means(3), 1, Noise { sigma, ..noise }), "{sigma}");
    }
    let three = means(3);
    assert!(
        !made(&Means { mean: vec![1.0; 2], ..three.clone() }, 1, noise) && !made(&Means { count: vec![1.0; 2], ..three.clone() }, 1, noise)
    );
    assert!(!made(&Means { mean: vec![1.0, f64::NAN, 1.0], ..three }, 1, noise));
}

#[test]
fn grid_entries_are_picked_by_cumulative_weight() {
    for (uniform, entry) in [(0.0, 1.0), (0.24, 1.0), (0.25, 2.0), (0.49, 2.0), (0.5, 3.0), (0.99, 3.0), (1.0, 3.0)] {
        assert!((picked(&[1.0, 2.0, 3.0], &[0.25, 0.25, 0.5], uniform) - entry).abs() < 1e-12, "{uniform}");
    }
    assert!((range(&[2.0, -1.0, 0.5]) - 3.0).abs() < 1e-12);
}

#[test]
fn seeds_settings_and_quantities_have_generators_of_their_own() {
    let mut first: Vec<u64> = [(0, 0, 1), (0, 1, 0), (0, 1, 1), (0, 2, 1), (0, 0, 5), (0, 3, 5), (0x34, 0, 1), (0x1234, 0, 1)]
        .iter()
        .map(|(seed, setting, quantity)| generator(*seed, *setting, *quantity).random())
        .collect();
    first.sort_unstable();
    first.dedup();
    assert_eq!(first.len(), 8);
}
