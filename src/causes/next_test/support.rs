//! Draws of the present posterior carried over to the model in which a test has been made.

use super::super::bending::Bending;
use super::super::block::{Block, Local};
use super::super::design::Design;
use super::super::draws::standard_normal;
use super::super::hyper::{Hyper, Values};
use super::super::lanes::{Lanes, Number, SIDE_BY_SIDE, sum_of};
use super::super::outcome::only;
use super::super::posterior::Draw;
use super::super::symmetric::Symmetric;
use super::super::unknowns::{NEGLIGIBLE, Unknown};
use super::factor::Factor;
use rand::Rng;
use rand_chacha::ChaCha20Rng;

/// A draw carried over to the model of the trial with the test added.
pub(super) struct Carried {
    values: Values,
    /// Prior standard deviations of the unknowns in its subset.
    sd: Vec<f64>,
    /// Unknowns that cannot be negative, at their places at the end.
    positive: Vec<f64>,
}

/// Support points in the model of the trial with the test added, one a lane.
pub(super) struct Supported {
    pub(super) values: <Lanes as Number>::Point,
    /// Whether a lane holds a point of its own whose equations can be solved.
    pub(super) alive: [bool; SIDE_BY_SIDE],
    pub(super) sd: Vec<Lanes>,
    pub(super) positive: Vec<Lanes>,
    /// Normal equations of all blocks that the test leaves alone.
    pub(super) base: Symmetric<Lanes>,
    pub(super) base_log: Lanes,
    /// Log evidence of the present readings.
    pub(super) log_now: Lanes,
    /// Posterior of the other unknowns by the present readings: mean and factor of the precision.
    pub(super) mean: Vec<Lanes>,
    pub(super) factor: Factor<Lanes>,
}

/// The present blocks in the unknowns of the augmented model that are replaced by affected ones.
pub(super) struct OldBlocks {
    replaced: Vec<(usize, Block)>,
}

impl OldBlocks {
    /// An affected block without its new readings, where it had any before.
    pub(super) fn new(then: &Design, affected: &[usize]) -> Self {
        let replaced = affected
            .iter()
            .filter_map(|b| {
                let logged = &then.logged[*b];
                let keep: Vec<usize> = (0..logged.places.len()).filter(|i| logged.places[*i].file != usize::MAX).collect();
                (!keep.is_empty()).then(|| (*b, only(&logged.rows, &keep).reduce()))
            })
            .collect();
        Self { replaced }
    }
}

/// Where the parts of a draw stand in the augmented model; `None` for what the test brings in.
pub(super) struct Carry {
    /// By what is integrated there: the deviate here.
    deviates: Vec<Option<usize>>,
    /// By unknown there: the presence here, which any unknown may tell that shares it.
    flags: Vec<Option<usize>>,
    /// By unknown there that cannot be negative: the unknown here.
    positive: Vec<Option<usize>>,
}

impl Carry {
    pub(super) fn new(present: &Design, then: &Design) -> Self {
        let names = |design: &Design| design.model.hypers.kinds.iter().map(|k| name(design, k)).collect::<Vec<String>>();
        let known = names(present);
        let own = &present.model.unknowns;
        let unknowns = &then.model.unknowns;
        let flag_here = |u: &Unknown| own.iter().find(|p| p.meaning == u.meaning).and_then(|p| p.flag);
        Self {
            deviates: names(then).iter().map(|name| known.iter().position(|k| k == name)).collect(),
            flags: unknowns.iter().map(|u| unknowns.iter().filter(|v| v.flag == u.flag).find_map(flag_here)).collect(),
            positive: unknowns
                .iter()
                .skip(unknowns.len() - then.model.non_negative())
                .map(|u| own.iter().position(|p| p.meaning == u.meaning))
                .collect(),
        }
    }
}

/// What is integrated numerically, told apart by what it is of: indices differ between designs.
fn name(design: &Design, kind: &Hyper) -> String {
    match kind {
        Hyper::Noise { index, .. } => design.noise_names.get(*index).cloned().unwrap_or_default(),
        Hyper::RollArm { .. } => "roll arm".to_string(),
        Hyper::MoveGain { .. } => "gain".to_string(),
        Hyper::Force { .. } => "force".to_string(),
        Hyper::ForceToTailstock => "force to tailstock".to_string(),
        Hyper::ChuckTilt { .. } => "tilt".to_string(),
        Hyper::HeadstockCentre { .. } => "headstock".to_string(),
        Hyper::TailstockCentre { .. } => "tailstock".to_string(),
        Hyper::SlopeSpread => "slope".to_string(),
        Hyper::BarrelSpread => "barrel".to_string(),
    }
}

/// Carries a draw over to the augmented model; what is new there comes from its prior.
pub(super) fn carried(draw: &Draw, carry: &Carry, then: &Design, rng: &mut ChaCha20Rng) -> Carried {
    let model = &then.model;
    let deviates: Vec<f64> = carry
        .deviates
        .iter()
        .map(|place| place.and_then(|p| draw.deviates.get(p)).copied().unwrap_or_else(|| standard_normal(rng)))
        .collect();
    let values = model.hypers.values(&deviates);
    let mut sd = Vec::with_capacity(model.unknowns.len());
    let mut fresh: Vec<(usize, bool)> = Vec::new();
    for (unknown, before) in model.unknowns.iter().zip(&carry.flags) {
        let Some(flag) = unknown.flag else {
            sd.push(unknown.sd);
            continue;
        };
        let full = match before {
            Some(before) => draw.subset >> before & 1 == 1,
            None => match fresh.iter().find(|(f, _)| *f == flag) {
                Some((_, full)) => *full,
                None => {
                    let full = rng.random::<f64>() < model.presence;
                    fresh.push((flag, full));
                    full
                }
            },
        };
        sd.push(if full { unknown.sd } else { unknown.sd * NEGLIGIBLE });
    }
    let free = model.unknowns.len() - carry.positive.len();
    let positive: Vec<f64> = carry
        .positive
        .iter()
        .zip(sd.iter().skip(free))
        .map(|(carried, sd)| carried.and_then(|p| draw.unknowns.get(p)).copied().unwrap_or_else(|| (sd * standard_normal(rng)).abs()))
        .collect();
    Carried { values, sd, positive }
}

impl Supported {
    /// What the present readings say at the points of `draws`, at most as many as lanes.
    pub(super) fn new(draws: &[Carried], then: &Design, affected: &[usize], old: &OldBlocks, bending: &mut Bending<Lanes>) -> Self {
        let model = &then.model;
        // Lanes beyond the last point do its work again.
        let of_lane = |lane: usize| &draws[lane.min(draws.len() - 1)];
        let values = Lanes::at(|lane| of_lane(lane).values.clone());
        let sd: Vec<Lanes> = (0..model.unknowns.len()).map(|u| Lanes::from_lanes(|lane| of_lane(lane).sd[u])).collect();
        let positive: Vec<Lanes> = (0..model.non_negative()).map(|p| Lanes::from_lanes(|lane| of_lane(lane).positive[p])).collect();
        bending.fill(&values);
        let mut local = Local::new();
        let mut base = Symmetric::zeros(model.unknowns.len() + 1);
        let mut base_log = Lanes::ZERO;
        for (b, block) in model.blocks.iter().enumerate() {
            if !affected.contains(&b) {
                base_log += block.add_to(&values, bending, &mut base, &mut local);
            }
        }
        let mut whole = base.clone();
        let mut log = base_log;
        for (_, block) in &old.replaced {
            log += block.add_to(&values, bending, &mut whole, &mut local);
        }
        let (factor, determinant) = Factor::of(&whole, &sd, positive.len());
        let given = Given::new(&whole, &positive);
        let last_row = whole.whole_row(model.unknowns.len());
        let mut mean: Vec<Lanes> = given.right_side(&last_row).collect();
        let square = factor.forward(&mut mean);
        factor.backward(&mut mean);
        let log_now = log + determinant - Lanes::splat(0.5) * (given.rest(&last_row) - square);
        let alive = std::array::from_fn(|lane| lane < draws.len() && factor.is_sound(lane));
        Self { values, alive, sd, positive, base, base_log, log_now, mean, factor }
    }

    /// A number where a lane is alive, `dead` elsewhere.
    pub(super) fn alive_or(&self, number: Lanes, dead: f64) -> Lanes {
        Lanes::from_lanes(|lane| if self.alive[lane] { number.lane(lane) } else { dead })
    }

    /// A draw of all unknowns by the present readings at the point of one lane.
    pub(super) fn draw_now(&self, lane: usize, rng: &mut ChaCha20Rng) -> Vec<f64> {
        let normals: Vec<f64> = self.mean.iter().map(|_| standard_normal(rng)).collect();
        let mut step: Vec<Lanes> = normals.iter().map(|normal| Lanes::splat(*normal)).collect();
        self.factor.backward(&mut step);
        let free = self.mean.iter().zip(step).map(|(mean, step)| (*mean + step).lane(lane));
        free.chain(self.positive.iter().map(|value| value.lane(lane))).collect()
    }
}

/// The unknowns that cannot be negative, taken as known in the joint equations: what depends on no reading.
pub(super) struct Given<'p, T> {
    positive: &'p [T],
    /// What they take from the right side of the others.
    taken: Vec<T>,
    /// Their own square.
    square: T,
}

impl<'p, T: Number> Given<'p, T> {
    pub(super) fn new(joint: &Symmetric<T>, positive: &'p [T]) -> Self {
        let free = joint.size() - 1 - positive.len();
        let with = |a: usize| sum_of(positive.iter().enumerate().map(|(p, v)| joint.get(free + p, a) * *v));
        let square = sum_of(positive.iter().enumerate().map(|(p, v)| *v * with(free + p)));
        Self { positive, taken: (0..free).map(with).collect(), square }
    }

    /// Right side of the other unknowns, from the last row of the joint equations.
    pub(super) fn right_side(&self, last_row: &[T]) -> impl Iterator<Item = T> {
        last_row.iter().zip(&self.taken).map(|(product, taken)| *product - *taken)
    }

    /// Square of the readings without their part, from the last row of the joint equations.
    pub(super) fn rest(&self, last_row: &[T]) -> T {
        let cross = sum_of(self.positive.iter().zip(last_row.iter().skip(self.taken.len())).map(|(v, product)| *v * *product));
        last_row.last().copied().unwrap_or(T::ZERO) - T::splat(2.0) * cross + self.square
    }
}
