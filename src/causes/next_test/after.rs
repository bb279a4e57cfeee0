//! What a test's outcomes leave at one support point.

use super::super::bending::Bending;
use super::super::block::{Block, ReadingSums};
use super::super::symmetric::Symmetric;
use super::support::{Given, Supported, factor_of};
use nalgebra::{Cholesky, DVector, Dyn};

/// A support point after the test, for every outcome.
pub(super) struct After {
    /// Variance of each open cause's contribution: the same whatever comes out.
    pub(super) variance: Vec<f64>,
    /// By outcome: log of its predictive density, up to a constant common to all support points.
    pub(super) logs: Vec<f64>,
    /// Means of the open causes' contributions, outcome by outcome.
    means: Vec<f64>,
}

impl After {
    /// The precision depends on the support point alone: it is factored once, and outcomes change the right side only.
    ///
    /// `affected` are the blocks that the test touches, with any of their outcomes; `outcomes` what each brings them.
    pub(super) fn new(
        s: &Supported,
        functionals: &[(f64, DVector<f64>)],
        affected: &[Block],
        outcomes: &[Vec<ReadingSums>],
        bending: &mut Bending,
    ) -> Option<Self> {
        let mut joint = s.base.clone();
        let mut local = Symmetric::zeros(0);
        bending.fill(&s.values);
        let mut log = s.base_log;
        let mut kept = Vec::new();
        for block in affected {
            let (part, readings) = block.add_and_keep(&s.values, bending, &mut joint, &mut local);
            log += part;
            kept.push(readings);
        }
        let (factor, determinant) = factor_of(&joint, &s.sd, s.positive.len())?;
        let solved: Vec<DVector<f64>> =
            functionals.iter().map(|(_, g)| if g.amax() == 0.0 { g.clone() } else { factor.solve(g) }).collect();
        let variance = functionals.iter().zip(&solved).map(|((_, g), solved)| g.dot(solved)).collect();
        let means_of: Vec<(f64, &[f64])> = functionals.iter().map(|(fixed, _)| *fixed).zip(solved.iter().map(|h| h.as_slice())).collect();
        let given = Given::new(&joint, &s.positive);
        let base = s.base.whole_row(s.base.size() - 1);
        let lower = rows_of(&factor);
        let mut logs = Vec::with_capacity(outcomes.len());
        let mut means = Vec::with_capacity(outcomes.len() * functionals.len());
        let (mut row, mut sums, mut right) = (Vec::new(), Vec::new(), Vec::new());
        for brought in outcomes {
            sums.clone_from(&base);
            for (readings, brought) in kept.iter().zip(brought) {
                readings.add(brought, bending, &mut sums, &mut row);
            }
            right.clear();
            right.extend(given.right_side(&sums));
            means.extend(means_of.iter().map(|(fixed, solved)| fixed + solved.iter().zip(&right).map(|(h, b)| h * b).sum::<f64>()));
            logs.push(log + determinant - 0.5 * (given.rest(&sums) - square_by(&lower, &mut right)) - s.log_now);
        }
        Some(Self { variance, logs, means })
    }

    /// Mean of a cause's contribution after an outcome.
    pub(super) fn mean(&self, outcome: usize, cause: usize) -> f64 {
        self.means[outcome * self.variance.len() + cause]
    }
}

/// The lower factor row by row, whole rows.
fn rows_of(factor: &Cholesky<f64, Dyn>) -> Vec<f64> {
    factor.l_dirty().transpose().iter().copied().collect()
}

/// `bᵀA⁻¹b = |L⁻¹b|²` for `A = LLᵀ`; `b` becomes `L⁻¹b`.
fn square_by(rows: &[f64], b: &mut [f64]) -> f64 {
    let n = b.len();
    let mut square = 0.0;
    for (i, row) in rows.chunks_exact(n.max(1)).enumerate() {
        let (done, rest) = b.split_at_mut(i);
        let own = (rest[0] - row.iter().zip(done.iter()).map(|(l, w)| l * w).sum::<f64>()) / row[i];
        rest[0] = own;
        square += own * own;
    }
    square
}
