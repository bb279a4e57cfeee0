//! Passes of which the model says the same, taken together: their mean, and how they differ from it.
//!
//! With `y_p` the readings of pass `p` less its own level, `y_p = Xθ + Zu_p + e_p`, `u_p ~ N(0, D)`, `e_p ~ N(0, σ²W⁻¹)`, and `X`, `Z`, `W` the same for `m` passes, an
//! orthogonal change of basis between the passes makes of them the mean, `ȳ = Xθ + Zū + ē` with `D/m` and `σ²/m`, and `m − 1` contrasts without `θ`, of covariance
//! `ZDZᵀ + σ²W⁻¹` each. Mean and contrasts are independent, so their likelihood is that of the passes one by one: nothing is lost where `X` is the same.

use super::bending::ChainPass;
use super::block::{Column, Contrasts, Rows, Scale, Spread};
use super::design::{Log, LoggedRows};
use super::extent::{A_PASS_COUNTS, MOST_PLACES};
use super::unknowns::Unknown;
use crate::trial::{Direction, Place};
use std::collections::BTreeMap;

/// Cuts before a pass that must be alike: of what bending left, a pass takes the greater part, so that older ones no longer matter.
const BEFORE: usize = 12;
/// How far columns may differ in any reading, their unknown one prior standard deviation from zero, in data-sheet noise. Two hundred thousand readings that differ
/// so much hide what narrows a prior by some 2 %.
const SAME: f64 = 5e-4;
/// No roll arm is longer, mm (and none shorter than 1 mm).
const LONGEST_ARM_MM: f64 = 2000.0;

/// One pass of diameters before it is reduced.
pub(super) struct OnePass {
    /// State of the feet.
    pub(super) setting: u32,
    /// Its number.
    pub(super) pass: u32,
    /// Its rows.
    pub(super) rows: Rows,
    /// Where each reading stands.
    pub(super) places: Vec<Place>,
    /// Station of each reading, mm.
    pub(super) stations: Vec<f64>,
}

/// Setting, and the cuts up to a pass: direction, depth and stiffness, the pass's own last.
type Key = (u32, Vec<(bool, u64, u64)>);

/// The cuts up to pass number `place` of a chain, as many as matter.
pub(super) fn cuts_before(setting: u32, passes: &[ChainPass], place: usize) -> Key {
    let own = passes.get(place.saturating_sub(BEFORE)..=place).unwrap_or(&[]);
    let bits = |p: &ChainPass| (p.direction == Direction::ToTailstock, p.infeed.depth_mm.to_bits(), p.infeed.stiffness_n_per_mm.to_bits());
    (setting, own.iter().map(bits).collect())
}

/// Takes passes in cutting order and gives them back together, `most` at a time at most.
pub(super) struct Alike<'a> {
    unknowns: &'a [Unknown],
    /// Data-sheet noise of each noise level, mm.
    noise_mm: &'a [f64],
    most: usize,
    open: BTreeMap<Key, Group>,
    /// Places of all groups so far, as [`MOST_PLACES`] counts them.
    places: usize,
}

/// Passes that are alike so far: differences from the first of them, summed.
struct Group {
    first: OnePass,
    /// Centred values of the first pass's columns and random terms.
    columns: Vec<Vec<f64>>,
    random: Vec<Vec<f64>>,
    passes: f64,
    /// Sums of differences: readings as they are, and columns.
    readings: Vec<f64>,
    values: Vec<Vec<f64>>,
    /// Sums over passes of products of centred differences with the random terms, of their own products, and of squares.
    product: [f64; 2],
    products: [[f64; 2]; 2],
    square: f64,
    /// Scatter of readings at one station of one pass: number less one, squares.
    scatter: (f64, f64),
}

impl<'a> Alike<'a> {
    /// None yet. One pass at a time leaves all as they are.
    pub(super) fn new(unknowns: &'a [Unknown], noise_mm: &'a [f64], most: usize) -> Self {
        Self { unknowns, noise_mm, most, open: BTreeMap::new(), places: 0 }
    }

    /// Takes a pass; gives what it closes. A pass with a reading that was not logged, or of several gauges, stays by itself. Once there are more than [`MOST_PLACES`]
    /// nothing is kept any more: the estimate is not made then.
    pub(super) fn take(&mut self, key: Key, pass: OnePass) -> Vec<LoggedRows> {
        if self.most > 1 && self.places > MOST_PLACES {
            return Vec::new();
        }
        let noise = pass.rows.noise.first().copied().unwrap_or(0);
        let one_gauge = pass.rows.noise.iter().all(|n| *n == noise);
        if self.most < 2 || !one_gauge || pass.rows.random.len() > 2 || pass.places.iter().any(|p| p.file == usize::MAX) {
            self.places += pass.stations.len() + A_PASS_COUNTS;
            return vec![Group::new(pass).closed()];
        }
        let tolerance = SAME * self.noise_mm.get(noise).copied().unwrap_or(0.0);
        if let Some(group) = self.open.get_mut(&key)
            && group.passes < self.most as f64
            && group.is_like(&pass, self.unknowns, tolerance)
        {
            group.add(&pass);
            return Vec::new();
        }
        self.places += pass.stations.len() + A_PASS_COUNTS;
        self.open.insert(key, Group::new(pass)).map(Group::closed).into_iter().collect()
    }

    /// What is still open.
    pub(super) fn rest(self) -> Vec<LoggedRows> {
        self.open.into_values().map(Group::closed).collect()
    }
}

/// A vector less its weighted mean.
fn centred(vector: &[f64], variance: &[f64]) -> Vec<f64> {
    let weight: f64 = variance.iter().map(|v| 1.0 / v).sum();
    let shift = vector.first().copied().unwrap_or(0.0);
    let mean = vector.iter().zip(variance).map(|(x, v)| (x - shift) / v).sum::<f64>() / weight;
    vector.iter().map(|x| x - shift - mean).collect()
}

impl Group {
    fn new(first: OnePass) -> Self {
        let rows = &first.rows;
        let of = |values: &Vec<f64>| centred(values, &rows.variance);
        Self {
            columns: rows.columns.iter().map(|c| of(&c.values)).collect(),
            random: rows.random.iter().map(|(_, values)| of(values)).collect(),
            passes: 1.0,
            readings: vec![0.0; rows.readings.len()],
            values: rows.columns.iter().map(|c| vec![0.0; c.values.len()]).collect(),
            product: [0.0; 2],
            products: [[0.0; 2]; 2],
            square: 0.0,
            scatter: scatter(rows),
            first,
        }
    }

    /// Whether the model says the same of another pass, but for what is below `tolerance` (mm).
    fn is_like(&self, other: &OnePass, unknowns: &[Unknown], tolerance: f64) -> bool {
        let (own, rows) = (&self.first.rows, &other.rows);
        let stands = |a: &Rows, b: &Rows| match (&a.bent, &b.bent) {
            (Some((_, count, at)), Some((_, other_count, other_at))) => count == other_count && at == other_at,
            (None, None) => true,
            _ => false,
        };
        let sd = |targets: &[(usize, f64)]| targets.iter().map(|(t, f)| f.abs() * unknowns.get(*t).map_or(0.0, |u| u.sd)).sum::<f64>();
        let same = |(c, column): (usize, &Column)| {
            let Some((theirs, centre)) = rows.columns.get(c).zip(self.columns.get(c)) else { return false };
            let alike = (column.cause, column.scale, column.known) == (theirs.cause, theirs.scale, theirs.known)
                && column.targets == theirs.targets;
            let reach = match column.scale {
                Scale::RollArm | Scale::RollArmGrip => LONGEST_ARM_MM,
                Scale::One | Scale::Grip | Scale::Slack | Scale::InverseRollArm => 1.0,
            } * sd(&column.targets);
            alike && centred(&theirs.values, &rows.variance).iter().zip(centre).all(|(a, b)| (a - b).abs() * reach <= tolerance)
        };
        own.noise == rows.noise
            && own.variance == rows.variance
            && own.random == rows.random
            && own.columns.len() == rows.columns.len()
            && self.first.stations == other.stations
            && stands(own, rows)
            && own.columns.iter().enumerate().all(same)
    }

    fn add(&mut self, other: &OnePass) {
        let own = &self.first.rows;
        let differences: Vec<f64> = other.rows.readings.iter().zip(&own.readings).map(|(a, b)| a - b).collect();
        let d = centred(&differences, &own.variance);
        self.readings.iter_mut().zip(&differences).for_each(|(sum, d)| *sum += d);
        for ((sums, theirs), ours) in self.values.iter_mut().zip(&other.rows.columns).zip(&own.columns) {
            sums.iter_mut().zip(&theirs.values).zip(&ours.values).for_each(|((sum, a), b)| *sum += a - b);
        }
        let mut product = [0.0; 2];
        for (product, term) in product.iter_mut().zip(&self.random) {
            *product = d.iter().zip(term).zip(&own.variance).map(|((d, z), v)| d * z / v).sum();
        }
        for (a, row) in self.products.iter_mut().enumerate() {
            row.iter_mut().zip(product).for_each(|(sum, b)| *sum += product[a] * b);
        }
        self.product.iter_mut().zip(product).for_each(|(sum, p)| *sum += p);
        self.square += d.iter().zip(&own.variance).map(|(d, v)| d * d / v).sum::<f64>();
        let (more, square) = scatter(&other.rows);
        self.scatter = (self.scatter.0 + more, self.scatter.1 + square);
        self.passes += 1.0;
    }

    /// The mean of the passes with their contrasts; of one pass the pass as it is.
    fn closed(self) -> LoggedRows {
        let Self { first, passes, .. } = &self;
        let (log, setting, pass, passes) = (Log::Diameters, first.setting, Some(first.pass), *passes);
        if passes < 2.0 {
            let OnePass { rows, places, stations, .. } = self.first;
            return LoggedRows { log, setting, pass, passes, block: rows.reduce(), rows, places, stations };
        }
        let noise = first.rows.noise.first().copied().unwrap_or(0);
        let mean: Vec<f64> = centred(&self.readings, &first.rows.variance).iter().map(|sum| sum / passes).collect();
        let weighed = |a: &[f64], b: &[f64]| a.iter().zip(b).zip(&first.rows.variance).map(|((a, b), v)| a * b / v).sum::<f64>();
        let term = |a: usize| self.random.get(a).map_or(&[][..], Vec::as_slice);
        let pairs = |f: &dyn Fn(usize, usize) -> f64| std::array::from_fn(|a| std::array::from_fn(|b| f(a, b)));
        let contrasts = Contrasts {
            noise,
            spreads: first.rows.random.iter().map(|(spread, _)| *spread).collect(),
            passes: passes - 1.0,
            dof: (passes - 1.0) * (first.rows.readings.len() as f64 - 1.0) + self.scatter.0,
            gram: pairs(&|a, b| weighed(term(a), term(b))),
            products: pairs(&|a, b| self.products[a][b] - self.product[a] * self.product[b] / passes),
            square: (self.square - passes * weighed(&mean, &mean)).max(0.0) + self.scatter.1,
        };
        let count: f64 = first.rows.variance.iter().map(|v| 1.0 / v).sum();
        let OnePass { mut rows, places, stations, .. } = self.first;
        rows.repeats.clear();
        rows.readings.iter_mut().zip(&self.readings).for_each(|(d, sum)| *d += sum / passes);
        for (column, sums) in rows.columns.iter_mut().zip(&self.values) {
            column.values.iter_mut().zip(sums).for_each(|(value, sum)| *value += sum / passes);
        }
        rows.variance.iter_mut().for_each(|v| *v /= passes);
        rows.random.iter_mut().for_each(|(spread, _)| *spread = spread.of_mean(passes));
        let block = rows.reduce().with(contrasts);
        // their squares are among those of the contrasts
        rows.repeats.push((noise, passes * count - rows.readings.len() as f64, 0.0));
        LoggedRows { log, setting, pass, passes, rows, places, stations, block }
    }
}

/// Number less one, and squares, of readings that stand for several.
fn scatter(rows: &Rows) -> (f64, f64) {
    rows.repeats.iter().fold((0.0, 0.0), |(more, square), (_, own, squares)| (more + own, square + squares))
}

impl Spread {
    /// The spread of a mean over passes, each with its own coefficient.
    fn of_mean(self, passes: f64) -> Self {
        let root = passes.sqrt();
        match self {
            Self::Known(sd) => Self::Known(sd / root),
            Self::Slope { factor, noise } => Self::Slope { factor: factor / root, noise },
            Self::Barrel { factor, noise } => Self::Barrel { factor: factor / root, noise },
        }
    }
}

#[cfg(test)]
mod by_hand;
#[cfg(test)]
mod tests;
