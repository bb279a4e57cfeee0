//! What it does to taper and barrel that unlike gauges need not agree in their zero.

use super::Shape;
use super::cut::{Cut, Pass};
use super::finishing::finishing_cut;
use super::layout::{lay_out, rows_of};
use super::pooled::pooled_fit;
use super::slopes::Slopes;
use super::taper_fit::TaperFit;
use crate::statistics::RunSums;
use crate::statistics::mixed::{Coefficients, Group, evaluate};
use crate::trial::{Direction, Trial};
use std::collections::{BTreeMap, BTreeSet};

/// What the sum of sensitivities of gauges that read alike leaves of rounding is less than this, mm.
const ROUNDING_MM: f64 = 1e-12;

/// Standard uncertainties, mm, that the calibration of the gauges leaves in contrasts of the fit; 0 with one gauge.
#[derive(Debug, Clone, PartialEq, Default)]
pub(super) struct Zeros {
    /// Of the taper, the mean of the directions.
    pub taper: f64,
    /// Of the taper of each direction that has one.
    pub by_direction: Vec<(Direction, f64)>,
    /// Of the difference of the directions' tapers; 0 where there is one.
    pub difference: f64,
    /// Of the barrel.
    pub barrel: f64,
    /// Number of gauges in the shape.
    pub gauges: usize,
}

impl Zeros {
    /// Of the taper of one direction, mm.
    pub fn of(&self, direction: Direction) -> f64 {
        self.by_direction.iter().find(|(own, _)| *own == direction).map_or(0.0, |(_, u)| *u)
    }
}

/// `√Σ(s·u)²` over the gauges, `u` the standard uncertainty of a gauge's calibration and `s` what a contrast of the fit changes by if all readings of that gauge grow by one
/// (JCGM 100:2008, 5.1.3).
///
/// `s` is the contrast of readings that are 1 for this gauge and 0 for the others, with the spread between passes that was found, taken as known. The sum of `s` over all gauges is 0: one gauge, or gauges that
/// all read the same stations in the same passes as often, change nothing. Gauges that are exchanged between the directions may cancel in the mean and not in either direction.
pub(super) fn unlike_zeros(trial: &Trial, cut: &Cut<'_>, fit: &TaperFit) -> Zeros {
    let known = gauges_of(trial, cut);
    let gauges = known.len();
    let none = Zeros { gauges, ..Zeros::default() };
    let Some((layout, _, _)) = lay_out(cut, if fit.barrel.is_some() { 2 } else { 1 }).filter(|_| gauges > 1) else { return none };
    let rows = |pass: &Pass, numbers: &BTreeSet<u32>| {
        rows_of(cut, pass, layout.columns, |run| (f64::from(u8::from(numbers.contains(&cut.runs.gauge(run)))), 0.0))
    };
    let difference = if layout.directions.len() > 1 { layout.slope(Some(1)) - layout.slope(Some(0)) } else { Coefficients::zeros() };
    // the taper, the difference of the directions', the barrel, the taper of each direction
    let mut contrasts: Vec<(f64, Coefficients)> = vec![(2.0, layout.slope(None)), (2.0, difference), (1.5, layout.bend())];
    contrasts.extend((0..layout.directions.len()).map(|place| (2.0, layout.slope(Some(place)))));
    let mut squares = vec![0.0; contrasts.len()];
    for (name, numbers) in known {
        let groups: Vec<Group> = cut
            .finishing
            .iter()
            .filter_map(|pass| layout.terms(pass.direction).map(|terms| Group::repeated(&rows(pass, &numbers), terms)))
            .collect();
        let Some(found) = evaluate(&groups, layout.fixed(), &fit.relative_spread) else { return none };
        let u = trial.gauge.diameter_gauge(name).calibration_u_mm;
        for (square, (factor, contrast)) in squares.iter_mut().zip(&contrasts) {
            *square += (factor * contrast.dot(&found.coefficients) * u).powi(2);
        }
    }
    // gauges that read alike leave rounding
    let mut left = squares.into_iter().map(|square: f64| if square < ROUNDING_MM * ROUNDING_MM { 0.0 } else { square.sqrt() });
    let [taper, difference, barrel] = [left.next(), left.next(), left.next()].map(|u| u.unwrap_or(0.0));
    Zeros { taper, difference, barrel, by_direction: layout.directions.into_iter().zip(left).collect(), gauges }
}

/// The gauges that read the finishing cut, each with its numbers in the log.
fn gauges_of<'t>(trial: &'t Trial, cut: &Cut<'t>) -> BTreeMap<Option<&'t str>, BTreeSet<u32>> {
    let mut gauges: BTreeMap<Option<&str>, BTreeSet<u32>> = BTreeMap::new();
    for number in cut.runs.gauges() {
        let name = cut.log.gauges().get(number as usize).and_then(|name| name.as_deref());
        gauges.entry(trial.gauge.diameter_name(name)).or_default().insert(number);
    }
    gauges
}

/// The zero of one of several gauges, and what it moves.
#[derive(Debug, Clone, PartialEq)]
pub struct GaugeZero {
    /// Standard uncertainty of its calibration, mm.
    pub standard_uncertainty_mm: f64,
    /// By how much each entry of [`super::station_readings`], less the level of its pass, grows if all readings of this gauge grow by one.
    pub moves: Vec<f64>,
}

/// The zeros of the gauges that read the finishing cut of `shape`; none with one gauge, or where no fit gives the passes levels.
///
/// The level of a pass is that of the curve through the readings ([`super::PassSummary::level_mm`]), of the same order and slopes: it moves as it would if the readings of a gauge were 1 and all others 0.
#[must_use]
pub fn gauge_zeros(trial: &Trial, shape: &Shape) -> Vec<GaugeZero> {
    let Some(cut) = finishing_cut(trial, shape.setting) else { return Vec::new() };
    let known = gauges_of(trial, &cut);
    if known.len() < 2 {
        return Vec::new();
    }
    let slopes = if shape.slope_by_pass { Slopes::ByPass } else { Slopes::ByDirection };
    let mut zeros = Vec::with_capacity(known.len());
    for (name, numbers) in known {
        let reads = |run: usize| f64::from(u8::from(numbers.contains(&cut.runs.gauge(run))));
        let values: Vec<f64> = (0..cut.run_count()).flat_map(|run| cut.of_run(run).map(move |_| run)).map(reads).collect();
        let sums = RunSums::to_keep(cut.run_count(), |run| cut.of_run(run), &values);
        let indicator = Cut { values, sums, origin_mm: 0.0, ..cut.clone() };
        let Some(fit) = pooled_fit(&indicator, shape.order, slopes) else { return Vec::new() };
        let of_pass = |(index, pass): (usize, &Pass)| {
            let level = fit.levels_mm.get(index).copied().unwrap_or(0.0);
            pass.runs.clone().map(move |run| reads(run) - level)
        };
        let moves = cut.finishing.iter().enumerate().flat_map(of_pass).collect();
        zeros.push(GaugeZero { standard_uncertainty_mm: trial.gauge.diameter_gauge(name).calibration_u_mm, moves });
    }
    zeros
}
