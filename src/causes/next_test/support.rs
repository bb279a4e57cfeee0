//! Draws of the present posterior carried over to the model in which a test has been made.

use super::super::bending::Bending;
use super::super::block::Block;
use super::super::design::Design;
use super::super::draws::standard_normal;
use super::super::hyper::{Hyper, Values};
use super::super::outcome::only;
use super::super::posterior::Draw;
use super::super::symmetric::Symmetric;
use super::super::unknowns::{Meaning, NEGLIGIBLE};
use nalgebra::{Cholesky, DMatrix, DVector, Dyn};
use rand::Rng;
use rand_chacha::ChaCha20Rng;

/// One support point in the model of the trial with the test added.
pub(super) struct Supported {
    pub(super) values: Values,
    /// Prior standard deviations of the unknowns in its subset.
    pub(super) sd: Vec<f64>,
    /// Unknowns that cannot be negative, at their places at the end.
    pub(super) positive: Vec<f64>,
    /// Normal equations of all blocks that the test leaves alone.
    pub(super) base: Symmetric,
    pub(super) base_log: f64,
    /// Log evidence of the present readings.
    pub(super) log_now: f64,
    /// Posterior of the other unknowns by the present readings: mean and factor of the precision.
    pub(super) now: (DVector<f64>, Cholesky<f64, Dyn>),
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
    /// By unknown there: the presence here.
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
        Self {
            deviates: names(then).iter().map(|name| known.iter().position(|k| k == name)).collect(),
            flags: unknowns.iter().map(|u| own.iter().find(|p| same(&p.meaning, &u.meaning)).and_then(|p| p.flag)).collect(),
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
pub(super) fn supported(
    draw: &Draw,
    carry: &Carry,
    then: &Design,
    affected: &[usize],
    old: &OldBlocks,
    bending: &mut Bending,
    rng: &mut ChaCha20Rng,
) -> Option<Supported> {
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
    bending.fill(&values);
    let mut local = Symmetric::zeros(0);
    let mut base = Symmetric::zeros(model.unknowns.len() + 1);
    let mut base_log = 0.0;
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
    let (factor, determinant) = factor_of(&whole, &sd, positive.len())?;
    let given = Given::new(&whole, &positive);
    let last_row = whole.whole_row(model.unknowns.len());
    let right = DVector::from_vec(given.right_side(&last_row).collect());
    let mean = factor.solve(&right);
    let log_now = log + determinant - 0.5 * (given.rest(&last_row) - right.dot(&mean));
    Some(Supported { log_now, now: (mean, factor), values, sd, positive, base, base_log })
}

/// Whether two unknowns share a presence; curves of worn ways differ between designs but share theirs.
fn same(a: &Meaning, b: &Meaning) -> bool {
    matches!((a, b), (Meaning::WayWear { .. }, Meaning::WayWear { .. })) || a == b
}

/// Factor of the precision of the unknowns that may be negative, priors added, and `−½ ln det − Σ ln sd`.
pub(super) fn factor_of(joint: &Symmetric, sd: &[f64], positive: usize) -> Option<(Cholesky<f64, Dyn>, f64)> {
    let free = sd.len() - positive;
    let precision = DMatrix::from_fn(free, free, |a, b| joint.get(a, b) + if a == b { sd[a].powi(-2) } else { 0.0 });
    let factor = precision.cholesky()?;
    let log = factor.l_dirty().diagonal().iter().zip(sd).map(|(d, s)| -(d * s).ln()).sum();
    Some((factor, log))
}

/// The unknowns that cannot be negative, taken as known in the joint equations: what depends on no reading.
pub(super) struct Given<'p> {
    positive: &'p [f64],
    /// What they take from the right side of the others.
    taken: Vec<f64>,
    /// Their own square.
    square: f64,
}

impl<'p> Given<'p> {
    pub(super) fn new(joint: &Symmetric, positive: &'p [f64]) -> Self {
        let free = joint.size() - 1 - positive.len();
        let with = |a: usize| positive.iter().enumerate().map(|(p, v)| joint.get(free + p, a) * v).sum::<f64>();
        let square = positive.iter().enumerate().map(|(p, v)| v * with(free + p)).sum();
        Self { positive, taken: (0..free).map(with).collect(), square }
    }

    /// Right side of the other unknowns, from the last row of the joint equations.
    pub(super) fn right_side(&self, last_row: &[f64]) -> impl Iterator<Item = f64> {
        last_row.iter().zip(&self.taken).map(|(product, taken)| product - taken)
    }

    /// Square of the readings without their part, from the last row of the joint equations.
    pub(super) fn rest(&self, last_row: &[f64]) -> f64 {
        let cross: f64 = self.positive.iter().zip(last_row.iter().skip(self.taken.len())).map(|(v, product)| v * product).sum();
        last_row.last().copied().unwrap_or(0.0) - 2.0 * cross + self.square
    }
}

/// A draw of all unknowns by the present readings at a support point.
pub(super) fn draw_now(s: &Supported, rng: &mut ChaCha20Rng) -> Vec<f64> {
    let (mean, factor) = &s.now;
    let normals = DVector::from_fn(mean.len(), |_, _| standard_normal(rng));
    let step = factor.l_dirty().tr_solve_lower_triangular(&normals).unwrap_or_else(|| DVector::zeros(mean.len()));
    (mean + step).iter().copied().chain(s.positive.iter().copied()).collect()
}
