//! Solution of the factored problem, refined with residuals in doubled precision.

use super::householder::Factor;
use crate::statistics::doubled::Doubled;

const MOST_ROUNDS: usize = 12;

/// Coefficients of the kept, scaled columns and the residuals of the scaled problem.
pub(super) struct Solution {
    pub(super) coefficients: Vec<f64>,
    pub(super) residuals: Vec<f64>,
}

/// Solves for the kept columns, then refines `r + Ax = y`, `Aᵀr = 0` together (Björck 1967), with `x` and `r` held in doubled precision, until
/// the correction is below the resolution of a double, no longer shrinks, or the rounds are used up.
///
/// `rests`, if given, are what the matrix and the target lost when they were rounded to doubles.
pub(super) fn refined(factor: &Factor, matrix: &[f64], target: &[f64], rests: Option<(&[f64], &[f64])>) -> Solution {
    let rows = factor.rows();
    let rank = factor.rank();
    let kept: Vec<&[f64]> = factor.kept().iter().filter_map(|j| matrix.get(j * rows..(j + 1) * rows)).collect();
    let kept_rests: Vec<&[f64]> =
        rests.map_or_else(Vec::new, |(low, _)| factor.kept().iter().filter_map(|j| low.get(j * rows..(j + 1) * rows)).collect());
    let target_rest = rests.map_or(&[][..], |(_, low)| low);
    let mut x = vec![Doubled::default(); rank];
    let mut r: Vec<Doubled> = vec![Doubled::default(); rows];
    let mut first = vec![0.0; rows];
    let mut second = vec![0.0; rank];
    let mut shift = vec![Doubled::default(); rows];
    let mut last_size = f64::INFINITY;
    for round in 0..MOST_ROUNDS {
        if round == 0 {
            first.copy_from_slice(target);
        } else {
            shift.iter_mut().zip(target).zip(&r).for_each(|((s, y), r)| *s = r.negated().plus(*y));
            shift.iter_mut().zip(target_rest).for_each(|(s, y)| *s = s.plus(*y));
            for (column, coefficient) in kept.iter().chain(&kept_rests).zip(x.iter().chain(&x)) {
                let minus = coefficient.negated();
                shift.iter_mut().zip(*column).for_each(|(s, a)| *s = s.plus_doubled(minus.times(*a)));
            }
            first.iter_mut().zip(&shift).for_each(|(f, s)| *f = s.value());
            for (k, g) in second.iter_mut().enumerate() {
                let columns = kept.get(k).into_iter().chain(kept_rests.get(k));
                let product =
                    columns.flat_map(|column| column.iter().zip(&r)).fold(Doubled::default(), |sum, (a, r)| sum.plus_doubled(r.times(*a)));
                *g = -product.value();
            }
        }
        factor.apply_transpose(&mut first);
        factor.solve_upper_transpose(&mut second);
        let mut step: Vec<f64> = first.iter().zip(&second).map(|(c, h)| c - h).collect();
        factor.solve_upper(&mut step);
        first.iter_mut().zip(&second).for_each(|(c, h)| *c = *h);
        factor.apply(&mut first);
        let size = step.iter().fold(0.0_f64, |m, s| m.max(s.abs()));
        if !size.is_finite() || (round > 1 && size > 0.5 * last_size) {
            break;
        }
        x.iter_mut().zip(&step).for_each(|(x, s)| *x = x.plus(*s));
        r.iter_mut().zip(&first).for_each(|(r, d)| *r = r.plus(*d));
        let settled = round > 0 && x.iter().zip(&step).all(|(x, s)| s.abs() <= 5e-17 * x.value().abs());
        if settled {
            break;
        }
        last_size = size;
    }
    Solution { coefficients: x.into_iter().map(Doubled::value).collect(), residuals: r.into_iter().map(Doubled::value).collect() }
}
