//! The mode of the log target and the curvature there.

use super::super::lanes::{Lanes, Number, SIDE_BY_SIDE};
use super::super::model::{Model, Workspace};
use super::log_target;
use nalgebra::{DMatrix, DVector};

#[cfg(test)]
mod by_hand;

/// The log target as a function of the deviates, for one subset or all.
pub(super) struct Target<'m> {
    model: &'m Model,
    only: Option<usize>,
    workspace: Workspace<Lanes>,
    out: Vec<Lanes>,
    /// What stands for the uniforms of the sequential simulator at a point of a search.
    uniforms: Vec<f64>,
}

impl<'m> Target<'m> {
    /// Beyond this deviate nothing is looked for.
    const FAR: f64 = 12.0;

    pub(super) fn new(model: &'m Model, only: Option<usize>) -> Self {
        let out = vec![Lanes::ZERO; model.subsets()];
        Self { model, only, workspace: model.workspace(), out, uniforms: vec![0.5; model.non_negative()] }
    }

    /// At each of these points.
    fn at_each(&mut self, points: &[DVector<f64>]) -> Vec<f64> {
        let Self { model, only, workspace, out, uniforms } = self;
        let mut found = Vec::with_capacity(points.len());
        for some in points.chunks(SIDE_BY_SIDE) {
            // Lanes beyond the last point do its work again.
            let x: [&[f64]; SIDE_BY_SIDE] = std::array::from_fn(|lane| some[lane.min(some.len() - 1)].as_slice());
            let reduced = model.reduced(Lanes::at(|lane| model.hypers.values(x[lane])), workspace);
            let log = log_target(model, *only, &x, &reduced, &[uniforms.as_slice(); SIDE_BY_SIDE], workspace, out);
            let near = |x: &DVector<f64>| x.amax() <= Self::FAR;
            found.extend(some.iter().enumerate().map(|(lane, x)| if near(x) { log.lane(lane) } else { f64::NEG_INFINITY }));
        }
        found
    }

    /// At one point.
    fn at(&mut self, x: &DVector<f64>) -> f64 {
        self.at_each(std::slice::from_ref(x)).first().copied().unwrap_or(f64::NEG_INFINITY)
    }

    /// Its gradient, from differences over twice `width`.
    fn gradient(&mut self, x: &DVector<f64>, width: f64) -> DVector<f64> {
        let moved = |i: usize, by: f64| {
            let mut at = x.clone();
            at[i] += by;
            at
        };
        let points: Vec<DVector<f64>> = (0..x.len()).flat_map(|i| [moved(i, width), moved(i, -width)]).collect();
        let values = self.at_each(&points);
        DVector::from_fn(x.len(), |i, _| (values[2 * i] - values[2 * i + 1]) / (2.0 * width))
    }
}

/// Climbs to a mode by BFGS steps, beginning with `inverse` for the inverse curvature.
pub(super) fn climb(target: &mut Target, start: DVector<f64>, inverse: DMatrix<f64>, steps: usize) -> DVector<f64> {
    let mut x = start;
    let mut best = target.at(&x);
    let mut inverse = inverse;
    let mut slope = target.gradient(&x, 1e-3);
    for _ in 0..steps {
        let mut step = &inverse * &slope;
        let length = step.norm();
        if length > 3.0 {
            step *= 3.0 / length;
        }
        let mut scale = 1.0;
        let mut moved = None;
        while scale > 1e-3 {
            let candidate = &x + &step * scale;
            let there = target.at(&candidate);
            if there > best {
                moved = Some((candidate, there));
                break;
            }
            scale *= 0.4;
        }
        let Some((candidate, there)) = moved else { break };
        let gain = there - best;
        if gain < 1e-2 {
            return candidate;
        }
        let next = target.gradient(&candidate, 1e-3);
        // BFGS update of the inverse curvature of −target.
        let s = &candidate - &x;
        let y = &slope - &next;
        let sy = s.dot(&y);
        if sy > 1e-10 {
            let hy = &inverse * &y;
            let yhy = y.dot(&hy);
            inverse += &s * s.transpose() * ((sy + yhy) / (sy * sy)) - (&hy * s.transpose() + &s * hy.transpose()) / sy;
        }
        (x, best, slope) = (candidate, there, next);
    }
    x
}

/// Inverse of the curvature of −target at `x` (identity where it is not finite).
pub(super) fn inverse_curvature(target: &mut Target, x: &DVector<f64>) -> DMatrix<f64> {
    let n = x.len();
    let mut curvature = DMatrix::zeros(n, n);
    let width = 0.25;
    let moved = |shifts: &[(usize, f64)]| {
        let mut at = x.clone();
        shifts.iter().for_each(|(i, d)| at[*i] += d);
        at
    };
    let pairs: Vec<(usize, usize)> = (0..n).flat_map(|i| (0..i).map(move |j| (i, j))).collect();
    let alone = (0..n).flat_map(|i| [moved(&[(i, width)]), moved(&[(i, -width)])]);
    let both = pairs.iter().flat_map(|(i, j)| [moved(&[(*i, width), (*j, width)]), moved(&[(*i, -width), (*j, -width)])]);
    let points: Vec<DVector<f64>> = std::iter::once(x.clone()).chain(alone).chain(both).collect();
    let values = target.at_each(&points);
    let centre = values[0];
    let single = |i: usize| values[1 + 2 * i] + values[2 + 2 * i];
    for i in 0..n {
        curvature[(i, i)] = -(single(i) - 2.0 * centre) / (width * width);
    }
    for (place, (i, j)) in pairs.iter().enumerate() {
        // Abramowitz & Stegun 25.3.27: mixed difference from seven points.
        let both = values[1 + 2 * n + 2 * place] + values[2 + 2 * n + 2 * place];
        let cross = -(both - single(*i) - single(*j) + 2.0 * centre) / (2.0 * width * width);
        curvature[(*i, *j)] = cross;
        curvature[(*j, *i)] = cross;
    }
    if curvature.iter().any(|v| !v.is_finite()) {
        return DMatrix::identity(n, n);
    }
    let eigen = curvature.symmetric_eigen();
    // The prior alone has curvature 1; skewed directions can look flatter at the mode, but not without bound.
    &eigen.eigenvectors * DMatrix::from_diagonal(&eigen.eigenvalues.map(|v| 1.0 / v.max(0.5))) * eigen.eigenvectors.transpose()
}
