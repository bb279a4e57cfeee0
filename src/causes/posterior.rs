//! The posterior as equally weighted draws, in a form that correction and conformity can draw on.

use super::carried::Carried;
use super::design::Design;
use super::draws::systematic;
use super::hyper::{Hyper, Values};
use super::integrate::Integration;
use super::model::Source;
use super::reference::Reference;
use super::unknowns::Meaning;
use super::values::{CauseKind, ContributionUm};
use crate::quantities::Interval;
use crate::trial::Direction;
use rand::{Rng, SeedableRng};
use rand_chacha::{ChaCha8Rng, ChaCha20Rng};
use rayon::prelude::*;
use std::borrow::Cow;
use std::collections::BTreeMap;

/// Draws of the posterior.
pub const POSTERIOR_DRAWS: usize = 4096;

/// Sets the draws' generators apart from the points'.
const DRAW_STREAMS: u64 = 0x0d1a_3e7e_5200_0001;

/// One draw.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Draw {
    /// Deviates of what is integrated numerically.
    pub(super) deviates: Vec<f64>,
    /// Subset of causes that are more than negligible.
    pub(super) subset: usize,
    pub(super) values: Values,
    pub(super) unknowns: Vec<f64>,
}

/// What one cause does to the diameters of one setting, draw by draw, µm.
#[derive(Debug, Clone, PartialEq)]
pub struct DrawnContribution {
    /// Change over the common tested length, last station minus first.
    pub end_difference_um: Vec<f64>,
    /// Largest minus smallest of its curve over the tested stations.
    pub peak_um: Vec<f64>,
}

/// The joint posterior of all causes: [`POSTERIOR_DRAWS`] equally weighted draws.
///
/// Vectors have one entry a draw, and entry `i` of every vector belongs to the same draw, so sums and differences may be taken draw by draw.
#[derive(Debug, Clone, PartialEq)]
pub struct Posterior {
    /// Roll arm `h`, mm.
    pub roll_arm_mm: Vec<f64>,
    /// Gain `G` of a move; the prior's where no move is logged.
    pub move_gain: Vec<f64>,
    /// Force factor `q`.
    pub force_factor: Vec<f64>,
    /// Headstock yaw, mm/m; empty when no log can see it.
    pub yaw_mm_per_m: Vec<f64>,
    /// Twist by setting, (mm/m)/m; settings without it are missing.
    pub twist_mm_per_m_per_m: BTreeMap<u32, Vec<f64>>,
    /// Tailstock offset by setting, mm.
    pub offset_mm: BTreeMap<u32, Vec<f64>>,
    /// Contributions by setting and cause, for the pass from which contributions are read.
    pub contributions: BTreeMap<(u32, CauseKind), DrawnContribution>,
    /// Points of the integration.
    pub points: usize,
    /// Effective number of those points.
    pub effective_points: f64,
    /// Largest Pareto shape of their weights; below 0.7 the integration is sound. `None` where weights have no tail.
    pub pareto_k: Option<f64>,
    /// Which quantities the readings carry without the causes' priors.
    pub carried: Carried,
    pub(super) draws: Vec<Draw>,
    pub(super) references: Vec<Reference>,
}

/// Draws the posterior of `design` from the weighted points.
pub(super) fn posterior(design: &Design, integration: &Integration, seed: u64) -> Posterior {
    let model = &design.model;
    let subsets = model.subsets();
    let mut rng = ChaCha20Rng::seed_from_u64(seed);
    rng.set_stream(u64::MAX);
    let picked = systematic(integration.points.iter().flat_map(|p| p.shares()), POSTERIOR_DRAWS, rng.random());
    let draws: Vec<Draw> = picked
        .par_iter()
        .enumerate()
        .with_min_len(64)
        .map_init(
            || (model.workspace(), None),
            |(workspace, kept), (i, flat)| {
                let point = &integration.points[flat / subsets];
                // Draws of one point and subset come one after the other and share their equations.
                let (_, values, source) = match kept.take().filter(|(at, _, _)| at == flat) {
                    Some(same) => kept.insert(same),
                    None => {
                        let reduced = match &point.reduced {
                            Some(reduced) => Cow::Borrowed(reduced),
                            None => Cow::Owned(model.reduced(model.hypers.values(point.x.as_slice()), workspace)),
                        };
                        kept.insert((*flat, reduced.values.clone(), Source::new(model, &reduced, flat % subsets)))
                    }
                };
                let mut own = ChaCha8Rng::seed_from_u64(seed ^ DRAW_STREAMS);
                own.set_stream(i as u64);
                let unknowns = source.draw(&point.uniforms, &mut own);
                Draw { deviates: point.x.iter().copied().collect(), subset: flat % subsets, values: values.clone(), unknowns }
            },
        )
        .collect();
    let of = |f: &dyn Fn(&Draw) -> f64| draws.iter().map(f).collect::<Vec<f64>>();
    let index = |meaning: &Meaning| model.unknowns.iter().position(|u| u.meaning == *meaning);
    let mut twist = BTreeMap::new();
    let mut offset = BTreeMap::new();
    for (setting, link) in &design.chains.links {
        if let Some(at) = index(&Meaning::Twist { root: link.root }) {
            twist.insert(*setting, of(&|d| d.unknowns[at] + link.gain * d.values.gain));
        }
        if let Some(at) = index(&Meaning::Offset { setting: *setting }) {
            offset.insert(*setting, of(&|d| d.unknowns[at]));
        }
    }
    let mut contributions = BTreeMap::new();
    for reference in design.references.iter().filter(|r| r.main) {
        for cause in CauseKind::ALL {
            let pairs: Vec<(f64, f64)> = draws
                .par_iter()
                .with_min_len(256)
                .map_init(Vec::new, |curve, draw| {
                    reference.curve_into(cause, &draw.values, &draw.unknowns, curve);
                    (1000.0 * reference.end_difference(curve), 1000.0 * spread(curve))
                })
                .collect();
            let (end_difference_um, peak_um) = pairs.into_iter().unzip();
            contributions.insert((reference.setting, cause), DrawnContribution { end_difference_um, peak_um });
        }
    }
    let gain_known = model.hypers.kinds.iter().any(|k| matches!(k, Hyper::MoveGain { .. }));
    Posterior {
        roll_arm_mm: of(&|d| d.values.roll_arm),
        move_gain: if gain_known { of(&|d| d.values.gain) } else { Vec::new() },
        force_factor: of(&|d| d.values.force),
        yaw_mm_per_m: index(&Meaning::Yaw).map(|at| of(&|d| d.unknowns[at])).unwrap_or_default(),
        twist_mm_per_m_per_m: twist,
        offset_mm: offset,
        contributions,
        points: integration.points.len(),
        effective_points: integration.effective_points,
        pareto_k: integration.pareto_k,
        carried: Carried::default(),
        draws,
        references: design.references.clone(),
    }
}

/// Largest minus smallest; 0 of none.
pub(super) fn spread(curve: &[f64]) -> f64 {
    let highest = curve.iter().copied().fold(f64::NEG_INFINITY, f64::max);
    let lowest = curve.iter().copied().fold(f64::INFINITY, f64::min);
    (highest - lowest).max(0.0)
}

/// Mean, standard deviation and central 95 % interval of draws.
#[must_use]
pub fn summary(draws: &[f64]) -> Option<ContributionUm> {
    let n = draws.len() as f64;
    if draws.is_empty() {
        return None;
    }
    let mean = draws.iter().sum::<f64>() / n;
    let variance = draws.iter().map(|d| (d - mean).powi(2)).sum::<f64>() / n;
    // Only what the two quantiles need is put in its place.
    let mut picked = draws.to_vec();
    let mut quantile = |p: f64| {
        let at = p * (n - 1.0);
        let (_, low, above) = picked.select_nth_unstable_by(at.floor() as usize, f64::total_cmp);
        let low = *low;
        let high = if at > at.floor() { above.iter().copied().fold(f64::INFINITY, f64::min) } else { low };
        low + (at - at.floor()) * (high - low)
    };
    Some(ContributionUm {
        estimate: mean,
        standard_uncertainty: variance.sqrt(),
        interval95: Interval { low: quantile(0.025), high: quantile(0.975) },
    })
}

impl Posterior {
    /// Number of draws.
    #[must_use]
    pub fn len(&self) -> usize {
        self.draws.len()
    }

    /// At least `count` of the draws, evenly from all of them, and fewer than twice as many; all where there are not more.
    pub(super) fn some_draws(&self, count: usize) -> Vec<&Draw> {
        self.draws.iter().step_by((self.draws.len() / count).max(1)).collect()
    }

    /// Whether there are none.
    #[must_use]
    pub fn is_empty(&self) -> bool {
        self.draws.is_empty()
    }

    /// The true curve of the diameter in one draw at the tested stations of a setting, `(stations, deviations)` in mm from the pass's free
    /// constant, for the lightest pass cut in `direction`: all causes together. `None` for a setting or direction that was not cut.
    #[must_use]
    pub fn curve_mm(&self, setting: u32, direction: Direction, draw: usize) -> Option<(&[f64], Vec<f64>)> {
        let reference = self.references.iter().find(|r| r.setting == setting && r.direction == direction)?;
        let draw = self.draws.get(draw)?;
        let mut sum = vec![0.0; reference.stations.len()];
        let mut curve = Vec::new();
        for cause in CauseKind::ALL {
            reference.curve_into(cause, &draw.values, &draw.unknowns, &mut curve);
            sum.iter_mut().zip(&curve).for_each(|(s, c)| *s += c);
        }
        Some((&reference.stations, sum))
    }

    /// The curve of one cause in one draw, as [`Self::curve_mm`] has the sum of all.
    #[must_use]
    pub fn cause_curve_mm(&self, setting: u32, direction: Direction, cause: CauseKind, draw: usize) -> Option<(&[f64], Vec<f64>)> {
        let reference = self.references.iter().find(|r| r.setting == setting && r.direction == direction)?;
        let draw = self.draws.get(draw)?;
        Some((&reference.stations, reference.curve(cause, &draw.values, &draw.unknowns)))
    }

    /// `Σ weight·curve` of one cause in every draw, mm, for curves as [`Self::cause_curve_mm`] has them; one weight a station.
    #[must_use]
    pub fn weighted_cause_mm(&self, setting: u32, direction: Direction, cause: CauseKind, weights: &[f64]) -> Option<Vec<f64>> {
        let reference = self.references.iter().find(|r| r.setting == setting && r.direction == direction)?;
        let weighted = reference.weighted(cause, weights);
        Some(self.draws.par_iter().with_min_len(256).map(|draw| weighted(&draw.values, &draw.unknowns)).collect())
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::causes::design::design;
    use crate::causes::fixture;
    use crate::causes::integrate::integrate;
    use crate::trial::Holding;

    /// Points that kept what the readings say, and points that did not, give the same draws.
    #[test]
    fn what_points_keep_changes_no_draw() {
        let design = design(&fixture::everything(Holding::Chuck)).unwrap();
        let kept = integrate(&design.model, 1);
        assert!(kept.points.iter().all(|p| p.reduced.is_some()));
        let mut bare = kept.clone();
        bare.points.iter_mut().for_each(|p| p.reduced = None);
        assert_eq!(posterior(&design, &kept, 1), posterior(&design, &bare, 1));
        assert_ne!(posterior(&design, &kept, 1), posterior(&design, &kept, 2));
    }

    /// Each draw's quantities are those of its deviates, and subsets come up as often as they are likely.
    #[test]
    fn draws_belong_to_their_points_and_subsets() {
        let design = design(&fixture::everything(Holding::Centres)).unwrap();
        let points = integrate(&design.model, 1);
        let posterior = posterior(&design, &points, 1);
        let belongs = |draw: &Draw, deviates: &[f64]| draw.values == design.model.hypers.values(deviates);
        assert!(posterior.draws.iter().all(|draw| belongs(draw, &draw.deviates)));
        let moved: Vec<f64> = posterior.draws[0].deviates.iter().map(|x| x + 1e-3).collect();
        assert!(!belongs(&posterior.draws[0], &moved), "the comparison must see a small change");
        let share = |subset: usize| posterior.draws.iter().filter(|d| d.subset == subset).count() as f64 / POSTERIOR_DRAWS as f64;
        let most =
            (0..design.model.subsets()).max_by(|a, b| points.subset_probability[*a].total_cmp(&points.subset_probability[*b])).unwrap();
        for (subset, expected) in points.subset_probability.iter().enumerate() {
            assert!((share(subset) - expected).abs() < 0.02, "{subset}: {} {expected}", share(subset));
        }
        assert!(points.subset_probability[most] > 0.04, "a subset that would be missed");
        assert!(!posterior.is_empty() && Posterior { draws: Vec::new(), ..posterior }.is_empty());
    }

    /// Of 100 draws 30 or more and fewer than 60, one as far from the next as another; all of fewer than were asked for.
    #[test]
    fn some_of_the_draws_stand_for_all() {
        let design = design(&fixture::everything(Holding::Chuck)).unwrap();
        let draw = |i: usize| Draw {
            deviates: vec![i as f64],
            subset: 0,
            values: design.model.hypers.values(&vec![0.0; design.model.hypers.len()]),
            unknowns: Vec::new(),
        };
        let of = |count: usize, wanted: usize| -> Vec<f64> {
            let posterior = fixture::posterior(&design, (0..count).map(draw).collect(), BTreeMap::new());
            posterior.some_draws(wanted).iter().map(|draw| draw.deviates[0]).collect()
        };
        assert_eq!(of(100, 30), (0..34).map(|i| 3.0 * f64::from(i)).collect::<Vec<f64>>());
        assert_eq!(of(3, 30), [0.0, 1.0, 2.0]);
        assert!(of(0, 30).is_empty());
    }

    /// One draw is its own interval; of 41 from 0 to 40 the second and the last but one bound 95 %.
    #[test]
    fn quantiles_of_few_draws() {
        let of = |draws: &[f64]| summary(draws).map(|s| (s.estimate, s.interval95.low, s.interval95.high));
        assert_eq!(of(&[5.0]), Some((5.0, 5.0, 5.0)));
        let (mean, low, high) = of(&(0..41).rev().map(f64::from).collect::<Vec<f64>>()).unwrap();
        assert!((mean - 20.0).abs() < 1e-12 && (low - 1.0).abs() < 1e-12 && (high - 39.0).abs() < 1e-12, "{low} {high}");
        assert_eq!(of(&[]), None);
        assert_eq!((spread(&[]), spread(&[2.0]), spread(&[2.0, -1.0, 1.0])), (0.0, 0.0, 3.0));
    }
}
