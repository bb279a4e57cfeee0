//! What a test's outcomes leave at one support point.

use super::super::bending::Bending;
use super::super::block::{Block, Local, ReadingSums};
use super::super::lanes::{Lanes, Number, SIDE_BY_SIDE, sum_of};
use super::factor::Factor;
use super::support::{Given, Supported};

/// The contribution of a cause at support points: what a point fixes, and a functional of the unknowns that may be negative, µm.
pub(super) struct Functional {
    pub(super) fixed: Lanes,
    pub(super) slope: Vec<Lanes>,
}

impl Functional {
    /// Its value at these unknowns.
    pub(super) fn at(&self, unknowns: &[Lanes]) -> Lanes {
        self.fixed + sum_of(self.slope.iter().zip(unknowns).map(|(slope, value)| *slope * *value))
    }
}

/// Support points after the test, for every outcome.
pub(super) struct After {
    /// Variance of each open cause's contribution: the same whatever comes out.
    pub(super) variance: Vec<Lanes>,
    /// By outcome: log of its predictive density, up to a constant common to all support points; −∞ in lanes that hold no point of their own
    /// or one whose equations cannot be solved, whose other numbers are 0.
    pub(super) logs: Vec<Lanes>,
    /// Means of the open causes' contributions, outcome by outcome.
    means: Vec<Lanes>,
}

impl After {
    /// The precision depends on the support point alone: it is factored once, and outcomes change the right side only.
    ///
    /// `affected` are the blocks that the test touches, with any readings; `outcomes` what each brings them.
    pub(super) fn new(
        s: &Supported,
        functionals: &[Functional],
        affected: &[&Block],
        outcomes: &[Vec<ReadingSums>],
        bending: &mut Bending<Lanes>,
    ) -> Self {
        let mut joint = s.base.clone();
        let mut local = Local::new();
        bending.fill(&s.values);
        let mut log = s.base_log;
        let mut kept = Vec::new();
        for block in affected {
            let (part, readings) = block.add_and_keep(&s.values, bending, &mut joint, &mut local);
            log += part;
            kept.push(readings);
        }
        let (factor, determinant) = Factor::of(&joint, &s.sd, s.positive.len());
        // With h = L⁻¹g the variance is |h|², and the mean's part h·L⁻¹b: the back substitution is not needed.
        let (mut halves, mut variance) = (Vec::new(), Vec::new());
        for functional in functionals {
            let mut half = functional.slope.clone();
            variance.push(factor.forward(&mut half));
            halves.push(half);
        }
        let given = Given::new(&joint, &s.positive);
        let base = s.base.whole_row(s.base.size() - 1);
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
            let square = factor.forward(&mut right);
            let mean =
                |(functional, half): (&Functional, &Vec<Lanes>)| functional.fixed + sum_of(half.iter().zip(&right).map(|(h, b)| *h * *b));
            means.extend(functionals.iter().zip(&halves).map(mean));
            logs.push(log + determinant - Lanes::splat(0.5) * (given.rest(&sums) - square) - s.log_now);
        }
        let sound: [bool; SIDE_BY_SIDE] = std::array::from_fn(|lane| factor.is_sound(lane));
        let or = |dead: f64| {
            move |number: &mut Lanes| {
                let solved = Lanes::from_lanes(|lane| if sound[lane] { number.lane(lane) } else { dead });
                *number = s.alive_or(solved, dead);
            }
        };
        logs.iter_mut().for_each(or(f64::NEG_INFINITY));
        means.iter_mut().chain(&mut variance).for_each(or(0.0));
        Self { variance, logs, means }
    }

    /// Mean of a cause's contribution after an outcome.
    pub(super) fn mean(&self, outcome: usize, cause: usize) -> Lanes {
        self.means[outcome * self.variance.len() + cause]
    }
}
