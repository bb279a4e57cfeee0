//! Robust fits by longer steps against the plain iteration, written out on dense rows.

use super::layout::Layout;
use super::tolerances::{Tolerance, assert_near};
use taperwright::statistics::distributions::t_quantile;
use taperwright::statistics::{Atoms, RobustMethod, RunRows, median, robust_regression, weighted_least_squares};

/// Scatter as of t with one and a half degrees of freedom, evenly over its distribution and in no order, about a slope.
fn heavy_tails(rows: &Layout) -> Vec<f64> {
    let places = (0..rows.runs()).flat_map(|run| std::iter::repeat_n(rows.at(run).0, rows.count(run)));
    let part = |i: usize| ((i as f64 + 0.5) * 0.618_033_988_749_895).fract();
    places.enumerate().map(|(i, x)| 0.4 * x + 0.1 * t_quantile(part(i), 1.5).unwrap()).collect()
}

/// Weighted least squares again and again with the weights of the last residuals, each step taken as it comes; coefficients and scale.
fn plain_steps(rows: &Layout, values: &[f64], weight: impl Fn(f64) -> f64, start: &[f64]) -> (Vec<f64>, Vec<f64>, f64) {
    let (design, own) = rows.dense();
    let mut fitted = start.to_vec();
    for _ in 0..3000 {
        let off: Vec<f64> = values.iter().zip(&fitted).zip(&own).map(|((y, f), w)| w.sqrt() * (y - f)).collect();
        let scale = median(&off.iter().map(|e| e.abs()).collect::<Vec<_>>()).unwrap() / 0.6745;
        let weights: Vec<f64> = off.iter().zip(&own).map(|(e, w)| w * weight(e / scale)).collect();
        let fit = weighted_least_squares(&design, values, &weights).unwrap();
        let next: Vec<f64> = design.row_iter().map(|row| row.iter().zip(fit.coefficients()).map(|(x, b)| x * b.unwrap()).sum()).collect();
        let moved = next.iter().zip(&fitted).fold(0.0_f64, |most, (a, b)| most.max((a - b).abs()));
        fitted = next;
        if moved <= 1e-13 * scale {
            return (fit.coefficients().iter().map(|b| b.unwrap()).collect(), fitted, scale);
        }
    }
    panic!("the plain iteration did not settle");
}

/// Where the longer steps end the plain ones do, on heavy tails with runs and weights, to nine figures of the scale.
#[test]
fn longer_steps_settle_where_plain_ones_do() {
    for seldom in [false, true] {
        let mut rows = Layout::new(if seldom { "small" } else { "plain" });
        // every level is told by several readings
        rows.blocks.retain(|runs| runs.len() > 2);
        let values = heavy_tails(&rows);
        let atoms = Atoms::of(&rows, &values);
        let (design, own) = rows.dense();
        let least_squares = weighted_least_squares(&design, &values, &own).unwrap();
        let first: Vec<f64> = values.iter().zip(least_squares.residuals()).map(|(y, e)| y - e).collect();
        let huber = |u: f64| if u.abs() <= 1.345 { 1.0 } else { 1.345 / u.abs() };
        let tukey = |u: f64| if u.abs() < 4.685 { (1.0 - (u / 4.685).powi(2)).powi(2) } else { 0.0 };
        let of_huber = plain_steps(&rows, &values, huber, &first);
        let of_tukey = plain_steps(&rows, &values, tukey, &of_huber.1);
        for (method, (coefficients, _, scale)) in [(RobustMethod::HUBER, of_huber), (RobustMethod::TUKEY, of_tukey)] {
            let found = robust_regression(&rows, &values, &atoms, method);
            assert!(found.settled, "{method:?}");
            assert_near("scale", found.scale, scale, Tolerance::Relative(1e-9));
            // in a unit 2²⁰ times as large every figure is that much smaller, to the bit
            let small: Vec<f64> = values.iter().map(|value| value / 1_048_576.0).collect();
            let again = robust_regression(&rows, &small, &Atoms::of(&rows, &small), method);
            assert_eq!(again.scale * 1_048_576.0, found.scale, "{method:?}");
            let near = Tolerance::Absolute(1e-9 * scale);
            // slope and square stand last among the dense columns
            for (found, plain) in found.coefficients.iter().rev().zip(coefficients.iter().rev()) {
                assert_near("coefficient", found.unwrap(), *plain, near);
                assert!(!near.accepts(found.unwrap() + 1e-8 * scale, *plain));
            }
            // least squares are led astray by the tails
            let plain = least_squares.coefficients().last().copied().flatten().unwrap();
            assert!((plain - found.coefficients.last().copied().flatten().unwrap()).abs() > 0.01 * scale, "{method:?}");
        }
    }
}
