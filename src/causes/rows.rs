//! The readings of every log as rows of the joint model.

use super::bending::{Chain, ChainPass};
use super::block::{Column, Known, Rows, Scale, Spread};
use super::chain::Link;
use super::design::Straight;
use super::unknowns::{Meaning, Unknown};
use super::values::CauseKind;
use super::worn_ways::WornWays;
use crate::physics::deflection::Infeed;
use crate::physics::{CutPoint, Support, cutting_force, headstock_yaw, tailstock_offset, thermal_drift, tool_wear};
use crate::statistics::legendre_values;
use crate::trial::{Bar, DiameterReading, Holding, Prior, Trial};
use std::collections::BTreeMap;
use std::sync::Arc;

/// Scale of the half-t prior of the spread between passes, in within-pass standard errors of one slope (as in the shape fit).
pub(super) const SPREAD_SCALE: f64 = 2.0;

/// What the columns of a trial have in common.
#[derive(Debug, Clone, Copy)]
pub(super) struct Context<'a> {
    /// The unknowns, in their order.
    pub(super) unknowns: &'a [Unknown],
    /// Settings and the moves between them.
    pub(super) links: &'a BTreeMap<u32, Link>,
    /// The curves of worn ways; `None` when they cannot be seen.
    pub(super) ways: Option<&'a WornWays>,
    /// How the bar is held.
    pub(super) holding: Holding,
    /// Length of the bar, mm.
    pub(super) length_mm: f64,
    /// Priors.
    pub(super) prior: &'a Prior,
}

impl Context<'_> {
    /// Index of an unknown.
    pub(super) fn index(&self, meaning: &Meaning) -> Option<usize> {
        self.unknowns.iter().position(|u| u.meaning == *meaning)
    }

    /// A column of one unknown, unless the trial has not got it.
    pub(super) fn column(&self, meaning: &Meaning, scale: Scale, values: Vec<f64>) -> Option<Column> {
        let index = self.index(meaning)?;
        Some(Column { cause: meaning.cause(), scale, targets: vec![(index, 1.0)], known: Known::None, values })
    }

    /// A column of a setting's twist: its root's and what moves added.
    pub(super) fn twist_column(&self, setting: u32, scale: Scale, values: Vec<f64>) -> Option<Column> {
        let link = self.links.get(&setting)?;
        let column = self.column(&Meaning::Twist { root: link.root }, scale, values)?;
        Some(Column { known: if link.gain == 0.0 { Known::None } else { Known::Gain(link.gain) }, ..column })
    }

    /// The columns of worn ways at places on the bed, each value times `factor`.
    pub(super) fn way_columns(&self, scale: Scale, factor: f64, places: &[f64]) -> Vec<Column> {
        let Some(ways) = self.ways else { return Vec::new() };
        (0..ways.len())
            .filter_map(|c| self.column(&Meaning::WayWear { index: c }, scale, places.iter().map(|z| factor * ways.value(c, *z)).collect()))
            .collect()
    }

    /// The columns of diameters cut at `points` by the edge `edge` (deflection is not among them).
    ///
    /// `points` are for a rigid chuck: what depends on its firmness `λ` is split into a part times `λ` and one times `1 − λ`.
    pub(super) fn diameter_columns(&self, setting: u32, edge: Option<&Arc<str>>, points: &[CutPoint]) -> Vec<Column> {
        let of = |f: &dyn Fn(&CutPoint) -> f64| points.iter().map(f).collect::<Vec<f64>>();
        let propped = self.holding == Holding::ChuckAndCentre;
        let mut columns = Vec::new();
        if self.holding != Holding::Centres {
            let (plain, armed) = if propped { (Scale::Grip, Scale::RollArmGrip) } else { (Scale::One, Scale::RollArm) };
            columns.extend(self.column(&Meaning::Yaw, plain, of(&headstock_yaw::per_unit_mm)));
            // Twist acts on the roll arm as yaw acts on the axis: 1000 times less per mm of arm.
            columns.extend(self.twist_column(setting, armed, of(&|p| headstock_yaw::per_unit_mm(p) / 1000.0)));
        }
        if self.holding != Holding::Chuck {
            let offset = Meaning::Offset { setting };
            let scale = if propped { Scale::Grip } else { Scale::One };
            columns.extend(self.column(&offset, scale, of(&tailstock_offset::per_unit_mm)));
            if propped {
                columns.extend(self.column(&offset, Scale::Slack, of(&|p| 2.0 * p.station_mm / self.length_mm)));
            }
        }
        let wear = self.wear_of(edge);
        columns.extend(self.column(&wear, Scale::One, of(&tool_wear::per_unit_mm)));
        let settles = self.prior.fresh_edge_m;
        columns.extend(self.column(
            &Meaning::FreshEdge { edge: edge.cloned() },
            Scale::One,
            of(&|p| tool_wear::fresh_edge_per_unit_mm(p.edge_path_m, settles)),
        ));
        columns.extend(self.column(&Meaning::Drift, Scale::One, of(&|p| thermal_drift::per_unit_mm(p).unwrap_or(0.0))));
        columns.extend(self.way_columns(Scale::One, 1.0, &of(&|p| p.bed_mm)));
        columns
    }

    /// The wear rate of an edge: its own, or the common one where edges are too many to tell.
    fn wear_of(&self, edge: Option<&Arc<str>>) -> Meaning {
        let own = Meaning::Wear { edge: edge.cloned() };
        if self.index(&own).is_some() { own } else { Meaning::Wear { edge: None } }
    }
}

/// The passes of one setting in cutting order, excluded readings included: what they left, later passes met.
pub(super) fn chain_of(setting: u32, first: usize, trial: &Trial) -> (Chain, Vec<u32>) {
    let log = &trial.diameters;
    let of_setting = |row: &usize| log.cut(*row).setting == setting;
    let mut seen = vec![false; log.stations().len()];
    (0..log.len()).filter(of_setting).for_each(|row| seen[log.station_number(row) as usize] = true);
    let mut stations: Vec<f64> = log.stations().iter().zip(seen).filter(|(_, seen)| *seen).map(|(station, _)| station.0).collect();
    stations.sort_by(f64::total_cmp);
    stations.dedup();
    let mut passes: BTreeMap<u32, ChainPass> = BTreeMap::new();
    for cut in log.used_cuts(|_| true).into_iter().filter(|cut| cut.setting == setting) {
        passes.entry(cut.pass).or_insert_with(|| ChainPass {
            direction: cut.direction,
            infeed: Infeed {
                depth_mm: cut.depth_mm.0,
                stiffness_n_per_mm: cutting_force::radial_stiffness_n_per_mm(
                    &trial.bar,
                    cut.depth_mm.0,
                    cut.feed_mm_per_rev.0,
                    trial.cutting.nose_radius_mm,
                ),
            },
        });
    }
    let numbers = passes.keys().copied().collect();
    (Chain { stations, passes: passes.into_values().collect(), first }, numbers)
}

/// Slope and barrel of a pass as random terms, `x` = stations scaled to [−1, 1] over the setting's tested length.
///
/// Their standard deviation is the spread (a half-t) times [`SPREAD_SCALE`] times the standard error of one pass's slope (barrel term),
/// averaged over the setting's passes: `factors`.
pub(super) fn random_terms(x: &[f64], noise: usize, factors: (f64, Option<f64>)) -> Vec<(Spread, Vec<f64>)> {
    let mut terms = vec![(Spread::Slope { factor: SPREAD_SCALE * factors.0, noise }, x.to_vec())];
    if let Some(barrel) = factors.1 {
        let values = x.iter().map(|x| legendre_values(2, *x)[2]).collect();
        terms.push((Spread::Barrel { factor: SPREAD_SCALE * barrel, noise }, values));
    }
    terms
}

/// Root mean square over passes of the standard errors of slope and second Legendre coefficient for unit noise, from the scaled station of each
/// reading and how many it stands for.
///
/// Passes whose stations do not determine them are left out; the barrel is `None` when no pass determines it, and the slope then comes from
/// straight lines.
pub(super) fn standard_errors(passes: &[Vec<(f64, f64)>]) -> (f64, Option<f64>) {
    let (mut line, mut slope, mut barrel) = (Vec::new(), Vec::new(), Vec::new());
    for x in passes {
        let n: f64 = x.iter().map(|(_, count)| count).sum();
        let second: Vec<f64> = x.iter().map(|(x, _)| legendre_values(2, *x)[2]).collect();
        let each = || x.iter().zip(&second).map(|((x, count), p)| (*x, *p, *count));
        let (mx, mp) = (each().map(|(x, _, c)| c * x).sum::<f64>() / n, each().map(|(_, p, c)| c * p).sum::<f64>() / n);
        let sxx: f64 = each().map(|(x, _, c)| c * (x - mx).powi(2)).sum();
        let spp: f64 = each().map(|(_, p, c)| c * (p - mp).powi(2)).sum();
        let sxp: f64 = each().map(|(x, p, c)| c * (x - mx) * (p - mp)).sum();
        if sxx > 1e-9 {
            line.push(1.0 / sxx);
        }
        let determinant = sxx * spp - sxp * sxp;
        // Two stations at the ends have one second coefficient, but for rounding.
        if spp > 1e-9 && determinant > 1e-6 * sxx * spp {
            slope.push(spp / determinant);
            barrel.push(sxx / determinant);
        }
    }
    let root_mean = |v: &[f64]| (v.iter().sum::<f64>() / v.len() as f64).sqrt();
    if barrel.is_empty() {
        (if line.is_empty() { 0.0 } else { root_mean(&line) }, None)
    } else {
        (root_mean(&slope), Some(root_mean(&barrel)))
    }
}

/// A used reading of a pass, which may stand for several that repeat it.
#[derive(Debug, Clone)]
pub(super) struct PassReading {
    /// The reading; its diameter is the mean of those it stands for.
    pub(super) reading: DiameterReading,
    /// Where it was cut.
    pub(super) point: CutPoint,
    /// Index of its noise level.
    pub(super) noise: usize,
    /// How many readings it stands for.
    pub(super) count: f64,
    /// Their squared deviations from it.
    pub(super) square: f64,
}

/// The rows of one pass of diameters; `straight` are the errors common to all passes, where there are any.
#[allow(clippy::too_many_arguments, reason = "a pass is seen from many sides")]
pub(super) fn pass_rows(
    context: &Context,
    readings: &[PassReading],
    tested: (f64, f64),
    straight: Option<&Straight>,
    factors: (f64, Option<f64>),
    chain: &Chain,
    place_in_chain: usize,
) -> Option<Rows> {
    let PassReading { reading: first, noise, .. } = readings.first()?;
    let points: Vec<CutPoint> = readings.iter().map(|r| r.point.clone()).collect();
    let x: Vec<f64> = readings.iter().map(|r| scaled(r.reading.station_mm, tested)).collect();
    let at = readings.iter().map(|r| chain.stations.partition_point(|z| *z < r.reading.station_mm)).collect();
    let count = chain.stations.len();
    let mut columns = context.diameter_columns(first.setting, first.edge.as_ref(), &points);
    if let Some(straight) = straight {
        let longer = straight.longer_mm.filter(|_| readings.iter().any(|r| r.reading.station_mm > context.length_mm));
        let line = |over: f64| readings.iter().map(|r| r.reading.station_mm / over).collect();
        columns.extend(context.column(&Meaning::Vertical, Scale::One, line(1.0)));
        let warmth = Meaning::Warmth { setting: first.setting, longer: longer.is_some() };
        columns.extend(context.column(&warmth, Scale::One, line(longer.unwrap_or(straight.length_mm))));
    }
    Some(Rows {
        readings: readings.iter().map(|r| r.reading.diameter_mm).collect(),
        noise: readings.iter().map(|r| r.noise).collect(),
        variance: readings.iter().map(|r| 1.0 / r.count).collect(),
        repeats: readings.iter().filter(|r| r.count > 1.0).map(|r| (r.noise, r.count - 1.0, r.square)).collect(),
        random: random_terms(&x, *noise, factors),
        columns,
        bent: Some((chain.first + place_in_chain * count, count, at)),
    })
}

/// A station scaled to [−1, 1] over a length; 0 when it has none.
pub(super) fn scaled(station: f64, (from, to): (f64, f64)) -> f64 {
    if to > from { (2.0 * station - from - to) / (to - from) } else { 0.0 }
}

/// The cause that a column's curve belongs to, deflection being none of the columns.
pub(super) fn belongs(column: &Column, cause: CauseKind) -> bool {
    column.cause == Some(cause)
}

/// The bar as held, all rigid.
pub(super) fn rigid_support(bar: &Bar) -> Support {
    Support::of_bar(bar, crate::physics::Compliances::RIGID)
}
