//! How heavy the tail of importance weights is.

/// Shape `k` of the generalised Pareto distribution of the largest weights; below 0.7 the sums can be trusted.
///
/// The largest `min(n/5, 3√n)` weights over the next smaller one are fitted by the estimator of J. Zhang & M. Stephens (Technometrics 51 (2009)
/// 316–325) with the shrinkage of A. Vehtari, D. Simpson, A. Gelman, Y. Yao & J. Gabry, "Pareto smoothed importance sampling",
/// J. Mach. Learn. Res. 25 (2024), 72. Weights of any scale; `None` with fewer than 5 in the tail or no spread there.
pub(super) fn tail_shape(weights: &[f64]) -> Option<f64> {
    let mut finite: Vec<f64> = weights.iter().copied().filter(|w| w.is_finite()).collect();
    let n = finite.len();
    let tail = (n / 5).min((3.0 * (n as f64).sqrt()).ceil() as usize);
    if tail < 5 {
        return None;
    }
    // Only the tail is put in order.
    let (_, bound, largest) = finite.select_nth_unstable_by(n - tail - 1, f64::total_cmp);
    largest.sort_unstable_by(f64::total_cmp);
    let excess: Vec<f64> = largest.iter().map(|w| w - *bound).collect();
    generalised_pareto(&excess).map(|k| (k * tail as f64 + 5.0) / (tail as f64 + 10.0))
}

/// Zhang and Stephens' estimate of the shape from excesses in rising order.
fn generalised_pareto(excess: &[f64]) -> Option<f64> {
    let n = excess.len();
    // Where either is zero no theta is finite, and none counts.
    let largest = *excess.last()?;
    let quartile = excess[(n as f64 / 4.0 + 0.5) as usize - 1];
    let grid = 30 + (n as f64).sqrt() as usize;
    // Logarithms of eight factors at a time: they lie well inside the range of a double.
    let slope = |theta: f64| excess.chunks(8).map(|x| x.iter().map(|x| 1.0 - theta * x).product::<f64>().ln()).sum::<f64>() / n as f64;
    let thetas: Vec<f64> = (1..=grid).map(|j| 1.0 / largest + (1.0 - (grid as f64 / (j as f64 - 0.5)).sqrt()) / (3.0 * quartile)).collect();
    let profile: Vec<f64> = thetas
        .iter()
        .map(|theta| {
            let k = slope(*theta);
            n as f64 * ((-theta / k).ln() - k - 1.0)
        })
        .collect();
    let best = profile.iter().copied().filter(|l| l.is_finite()).fold(f64::NEG_INFINITY, f64::max);
    let (mut sum, mut total) = (0.0, 0.0);
    for (theta, l) in thetas.iter().zip(&profile) {
        if l.is_finite() {
            let weight = (l - best).exp();
            sum += weight * theta;
            total += weight;
        }
    }
    Some(slope(sum / total)).filter(|k| k.is_finite())
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Quantiles of the generalised Pareto distribution of known shape: `(u^−k − 1)/k`.
    #[test]
    fn shape_of_exact_pareto_quantiles_comes_back() {
        for k in [0.2, 0.5, 0.9] {
            let excess: Vec<f64> = (0..400).map(|i| ((1.0 - (i as f64 + 0.5) / 400.0).powf(-k) - 1.0) / k).collect();
            let found = generalised_pareto(&excess).unwrap();
            assert!((found - k).abs() < 0.06, "{k}: {found}");
            assert!((found - k - 0.15).abs() > 0.06, "the comparison must tell shapes apart");
        }
    }

    /// Ten excesses by the formulas of Zhang & Stephens (2009), the quartile the third of them, 33 values of theta: worked out with numpy 2.4.6.
    #[test]
    fn ten_excesses_by_the_formulas_of_the_paper() {
        let found = generalised_pareto(&[0.1, 0.25, 0.6, 1.0, 1.4, 2.3, 4.0, 9.0, 9.5, 12.0]).unwrap();
        let agrees = |k: f64| (k - 0.550_362_439_536_75).abs() < 1e-12;
        assert!(agrees(found) && !agrees(found + 1e-11), "{found}");
        assert!(
            generalised_pareto(&[0.0; 10]).is_none() && generalised_pareto(&[0.0, 0.0, 0.0, 1.0, 2.0, 3.0, 4.0, 5.0, 6.0, 7.0]).is_none()
        );
    }

    #[test]
    fn equal_weights_have_no_tail() {
        assert_eq!(tail_shape(&[1.0; 1000]), None);
        assert_eq!(tail_shape(&[1.0, 2.0]), None);
    }

    /// Weights that are exact quantiles of a Pareto distribution: its tail beyond any bound has the same shape. The tail of 1000 are the largest 95, and the
    /// shape is drawn towards a half as by ten more weights (Vehtari et al. 2024).
    #[test]
    fn the_tail_of_pareto_weights_has_their_shape_whatever_their_scale_and_order() {
        for k in [0.3, 0.7, 0.9] {
            let weights: Vec<f64> = (0..1000).map(|i| (1.0 - (f64::from(i) + 0.5) / 1000.0).powf(-k)).collect();
            let found = tail_shape(&weights).unwrap();
            let expected = (k * 95.0 + 5.0) / 105.0;
            assert!((found - expected).abs() < 0.05, "{k}: {found} {expected}");
            let shuffled: Vec<f64> = (0..1000).map(|i| 40.0 * weights[(i * 617 + 5) % 1000]).collect();
            assert!((tail_shape(&shuffled).unwrap() - found).abs() < 1e-9);
        }
    }

    /// Of 25 weights the largest five over the sixth are the tail; its shape counts as five, a half as ten.
    #[test]
    fn the_tail_lies_over_the_next_smaller_weight() {
        let mut weights: Vec<f64> = (1..=20).map(|i| 0.01 * f64::from(i)).collect();
        weights.extend([0.3, 0.5, 0.6, 1.2, 9.0]);
        let expected = (5.0 * generalised_pareto(&[0.1, 0.3, 0.4, 1.0, 8.8]).unwrap() + 5.0) / 15.0;
        let agrees = |k: f64| (k - expected).abs() < 1e-9;
        assert!(agrees(tail_shape(&weights).unwrap()));
        assert!(!agrees((5.0 * generalised_pareto(&[0.1, 0.3, 0.4, 1.0, 8.9]).unwrap() + 5.0) / 15.0), "another bound is told apart");
    }

    /// A fifth of few weights is the tail, from five on; weights that are no numbers are left out.
    #[test]
    fn few_weights_have_a_tail_of_a_fifth() {
        let weights = |n: u32| -> Vec<f64> { (0..n).map(|i| (1.0 - (f64::from(i) + 0.5) / f64::from(n)).powf(-0.5)).collect() };
        assert!(tail_shape(&weights(24)).is_none() && tail_shape(&weights(25)).is_some());
        let mut more = weights(25);
        more.extend([f64::NAN, f64::INFINITY]);
        assert_eq!(tail_shape(&more), tail_shape(&weights(25)));
        let steep = (1..=20).map(f64::from).chain((1..=5).map(|i| 20.0 + 10f64.powi(i))).collect::<Vec<f64>>();
        assert!(tail_shape(&steep).unwrap() > 0.7, "five weights that grow tenfold have no mean");
    }
}
