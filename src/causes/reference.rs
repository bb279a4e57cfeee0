//! The pass from which contributions are read: every cause's curve over the tested stations of a setting.

use super::bending::Chain;
use super::block::Column;
use super::hyper::Values;
use super::rows::{Context, belongs, rigid_support};
use super::values::CauseKind;
use crate::physics::deflection::{Infeed, after_pass_mm, steady_mm};
use crate::physics::{CutPoint, ForceFactors, TurnedPlace, cut_points};
use crate::trial::{DiameterReading, Diameters, Direction, Trial};
use std::collections::{BTreeMap, BTreeSet};

/// One pass of a setting with its causes' curves at all tested stations.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Reference {
    /// State of the feet.
    pub(super) setting: u32,
    /// Number of the pass.
    pub(super) pass: u32,
    /// Its direction.
    pub(super) direction: Direction,
    /// Whether contributions are read here: the lightest pass to the headstock, or what comes nearest to it.
    pub(super) main: bool,
    /// Tested stations, mm, rising.
    pub(super) stations: Vec<f64>,
    /// First and last station of the common tested length, as places in `stations`.
    pub(super) ends: (usize, usize),
    /// The linear causes' curves.
    pub(super) columns: Vec<Column>,
    /// The passes up to this one, for deflection.
    chain: Chain,
    /// The stations on the bar.
    places: Vec<TurnedPlace>,
}

/// The reference passes of every setting with two stations or more, one for each direction cut there.
pub(super) fn references(
    trial: &Trial,
    context: &Context,
    tested: &BTreeMap<u32, (f64, f64)>,
    pass_places: &BTreeMap<(u32, u32), (usize, usize)>,
    chains: &[Chain],
) -> Vec<Reference> {
    let used = || trial.diameters.iter().filter(|r| r.excluded.is_none());
    let whole: Vec<&(f64, f64)> = tested.values().filter(|(from, to)| to > from).collect();
    let common = (
        whole.iter().map(|(from, _)| *from).fold(f64::NEG_INFINITY, f64::max),
        whole.iter().map(|(_, to)| *to).fold(f64::INFINITY, f64::min),
    );
    let support = rigid_support(&trial.bar);
    let mut found = Vec::new();
    for (setting, (from, to)) in tested {
        if to <= from {
            continue;
        }
        // Ends of the common length that are no stations here are added: the curves are known everywhere.
        let (low, high) = if common.1 > common.0 { common } else { (*from, *to) };
        let mut stations: Vec<f64> = used().filter(|r| r.setting == *setting).map(|r| r.station_mm).chain([low, high]).collect();
        stations.sort_by(f64::total_cmp);
        stations.dedup_by(|a, b| (*a - *b).abs() < 1e-9);
        let place = |z: f64| stations.partition_point(|s| *s < z - 1e-9).min(stations.len() - 1);
        let ends = (place(low), place(high));
        let directions: BTreeSet<Direction> = used().filter(|r| r.setting == *setting).map(|r| r.direction).collect();
        let main = if directions.contains(&Direction::ToHeadstock) { Direction::ToHeadstock } else { Direction::ToTailstock };
        for direction in directions {
            // The lightest depth above 0; return strokes only where nothing else was cut that way.
            let Some(reading) = used().filter(|r| r.setting == *setting && r.direction == direction).min_by(|a, b| {
                let key = |r: &DiameterReading| (r.depth_mm <= 0.0, r.depth_mm, r.feed_mm_per_rev, r.pass);
                let (a, b) = (key(a), key(b));
                a.0.cmp(&b.0).then(a.1.total_cmp(&b.1)).then(a.2.total_cmp(&b.2)).then(a.3.cmp(&b.3))
            }) else {
                continue;
            };
            let Some((chain, place)) = pass_places.get(&(*setting, reading.pass)) else { continue };
            let points = points_at(trial, &reading, &stations);
            let mut chain = chains[*chain].clone();
            chain.passes.truncate(place + 1);
            found.push(Reference {
                setting: *setting,
                pass: reading.pass,
                direction,
                main: direction == main,
                columns: context.diameter_columns(*setting, reading.edge.as_ref(), &points),
                places: stations.iter().map(|z| support.at(*z)).collect(),
                stations: stations.clone(),
                ends,
                chain,
            });
        }
    }
    found
}

/// Points of one pass at stations where it need not have been measured.
fn points_at(trial: &Trial, reading: &DiameterReading, stations: &[f64]) -> Vec<CutPoint> {
    let mut sparse = without_readings(trial);
    // The first reading of each pass keeps the passes before in place; then the wanted stations.
    let mut seen = BTreeSet::new();
    sparse.diameters = trial.diameters.iter().filter(|r| r.setting <= reading.setting && seen.insert((r.setting, r.pass))).collect();
    let first = sparse.diameters.len();
    sparse.diameters.extend(stations.iter().map(|z| DiameterReading { station_mm: *z, time_min: None, ..reading.clone() }));
    let support = rigid_support(&trial.bar);
    let mut points = cut_points(&sparse, &support, ForceFactors::default()).split_off(first);
    if points.iter().any(|p| p.minutes.is_none()) {
        // Minutes known only from the log's times: a straight line through the pass's own readings against metal cut.
        let own = cut_points(trial, &support, ForceFactors::default());
        let timed: Vec<(f64, f64)> = own
            .iter()
            .filter(|p| p.setting == reading.setting && p.pass == reading.pass)
            .filter_map(|p| p.minutes.map(|m| (p.metal_mm, m)))
            .collect();
        let (first, last) = timed.iter().fold(((f64::INFINITY, 0.0), (f64::NEG_INFINITY, 0.0)), |(lo, hi), p| {
            (if p.0 < lo.0 { *p } else { lo }, if p.0 > hi.0 { *p } else { hi })
        });
        if last.0 > first.0 {
            let rate = (last.1 - first.1) / (last.0 - first.0);
            points.iter_mut().for_each(|p| p.minutes = Some(first.1 + rate * (p.metal_mm - first.0)));
        }
    }
    points
}

/// The trial without any reading.
fn without_readings(trial: &Trial) -> Trial {
    Trial {
        identity: trial.identity.clone(),
        machine: trial.machine.clone(),
        bar: trial.bar.clone(),
        cutting: trial.cutting.clone(),
        gauge: trial.gauge.clone(),
        testbar: None,
        conditions: trial.conditions.clone(),
        prior: trial.prior.clone(),
        acceptance: Default::default(),
        simulate: None,
        plan: None,
        diameters: Diameters::default(),
        levels: Vec::new(),
        indicator: Vec::new(),
        clamp: Vec::new(),
        moves: Vec::new(),
        assumed: Vec::new(),
        inputs: Vec::new(),
        origin: crate::trial::Origin::default(),
        photographs: Vec::new(),
        findings: Vec::new(),
    }
}

impl Reference {
    /// The curve of a cause at all stations, mm of diameter, for drawn values and unknowns.
    pub(super) fn curve(&self, cause: CauseKind, values: &Values, unknowns: &[f64]) -> Vec<f64> {
        let mut curve = Vec::with_capacity(self.stations.len());
        self.curve_into(cause, values, unknowns, &mut curve);
        curve
    }

    /// [`Reference::curve`] in place of what `curve` held.
    pub(super) fn curve_into(&self, cause: CauseKind, values: &Values, unknowns: &[f64], curve: &mut Vec<f64>) {
        curve.clear();
        if cause == CauseKind::Deflection {
            curve.extend(self.places.iter().map(|place| self.deflection_at(place, values)));
            return;
        }
        curve.resize(self.stations.len(), 0.0);
        for (column, coefficient) in self.coefficients(cause, values, unknowns) {
            curve.iter_mut().zip(&column.values).for_each(|(c, v)| *c += coefficient * v);
        }
    }

    /// The columns of a linear cause, each with what multiplies it.
    fn coefficients<'a>(
        &'a self,
        cause: CauseKind,
        values: &'a Values,
        unknowns: &'a [f64],
    ) -> impl Iterator<Item = (&'a Column, f64)> + 'a {
        self.columns.iter().filter(move |c| belongs(c, cause)).map(|column| {
            let own: f64 = column.targets.iter().map(|(t, f)| f * unknowns.get(*t).copied().unwrap_or(0.0)).sum();
            (column, values.scale(column.scale) * (own + values.known(column.known)))
        })
    }

    /// `Σ weight·curve` of a cause as a function of values and unknowns, mm; one weight a station.
    pub(super) fn weighted<'a>(&'a self, cause: CauseKind, weights: &'a [f64]) -> impl Fn(&Values, &[f64]) -> f64 + Sync + 'a {
        let product = |column: &Column| column.values.iter().zip(weights).map(|(v, w)| v * w).sum::<f64>();
        let products: Vec<f64> = self.columns.iter().filter(|c| belongs(c, cause)).map(product).collect();
        move |values, unknowns| {
            if cause == CauseKind::Deflection {
                return self.places.iter().zip(weights).map(|(place, w)| w * self.deflection_at(place, values)).sum();
            }
            self.coefficients(cause, values, unknowns).zip(&products).map(|((_, coefficient), product)| coefficient * product).sum()
        }
    }

    /// What bending leaves at one station, mm of diameter.
    fn deflection_at(&self, place: &TurnedPlace, values: &Values) -> f64 {
        let compliance = place.compliance_mm_per_n(&values.compliances);
        let mut left = 0.0;
        for (p, pass) in self.chain.passes.iter().enumerate() {
            let factor = match pass.direction {
                Direction::ToHeadstock => values.force,
                Direction::ToTailstock => values.force * values.to_tailstock,
            };
            let stiffness_n_per_mm = pass.infeed.stiffness_n_per_mm * factor;
            let cut = Infeed { depth_mm: pass.infeed.depth_mm, stiffness_n_per_mm };
            left = if p == 0 {
                steady_mm(stiffness_n_per_mm * cut.depth_mm.max(0.0), compliance)
            } else {
                after_pass_mm(cut, compliance, left)
            };
        }
        left
    }

    /// End difference of a cause's curve over the common tested length, mm: that of [`Reference::curve`] without its middle.
    pub(super) fn end_difference_of(&self, cause: CauseKind, values: &Values, unknowns: &[f64]) -> f64 {
        let (first, last) = self.ends;
        if cause == CauseKind::Deflection {
            let at = |place: usize| self.places.get(place).map(|place| self.deflection_at(place, values));
            return at(last).zip(at(first)).map_or(0.0, |(last, first)| last - first);
        }
        self.coefficients(cause, values, unknowns).map(|(column, coefficient)| coefficient * self.end_difference(&column.values)).sum()
    }

    /// The end difference of a cause as what depends on no unknown, mm, and each unknown's factor: [`Reference::end_difference_of`] taken apart.
    pub(super) fn end_functional(&self, cause: CauseKind, values: &Values, unknowns: usize) -> (f64, Vec<f64>) {
        let mut slope = vec![0.0; unknowns];
        if cause == CauseKind::Deflection {
            return (self.end_difference_of(cause, values, &[]), slope);
        }
        let mut known = 0.0;
        for column in self.columns.iter().filter(|c| belongs(c, cause)) {
            let product = values.scale(column.scale) * self.end_difference(&column.values);
            known += product * values.known(column.known);
            column.targets.iter().for_each(|(target, factor)| slope[*target] += factor * product);
        }
        (known, slope)
    }

    /// Places of this reference's ends among other stations; `None` where they are not there.
    pub(super) fn ends_in(&self, stations: &[f64]) -> Option<(usize, usize)> {
        let place = |end: usize| {
            let z = self.stations.get(end)?;
            stations.iter().position(|s| (s - z).abs() < 1e-6)
        };
        Some((place(self.ends.0)?, place(self.ends.1)?))
    }

    /// End difference of a curve over the common tested length: last station minus first.
    pub(super) fn end_difference(&self, curve: &[f64]) -> f64 {
        curve.get(self.ends.1).zip(curve.get(self.ends.0)).map_or(0.0, |(last, first)| last - first)
    }
}

#[cfg(test)]
mod tests {
    use crate::causes::design::design;
    use crate::causes::fixture;
    use crate::causes::values::CauseKind;
    use crate::trial::Holding;

    /// The difference taken at the ends alone is that of the whole curve, for every cause in every way of holding.
    #[test]
    fn ends_alone_give_the_curve_s_end_difference() {
        let mut compared = 0;
        for holding in [Holding::Chuck, Holding::Centres, Holding::ChuckAndCentre] {
            let design = design(&fixture::everything(holding)).unwrap();
            let model = &design.model;
            let values = model.hypers.values(&(0..model.hypers.len()).map(|i| 0.4 - 0.1 * i as f64).collect::<Vec<f64>>());
            let unknowns: Vec<f64> = (0..model.unknowns.len()).map(|u| 1e-3 * (1.0 + u as f64)).collect();
            for reference in &design.references {
                for cause in CauseKind::ALL {
                    let whole = reference.end_difference(&reference.curve(cause, &values, &unknowns));
                    let alone = reference.end_difference_of(cause, &values, &unknowns);
                    let alike = |other: f64| (whole - other).abs() <= 1e-12 * whole.abs();
                    assert!(alike(alone), "{holding:?} {cause:?}: {whole} {alone}");
                    let weights: Vec<f64> = (0..reference.stations.len()).map(|i| 0.5 - 0.3 * i as f64).collect();
                    let curve = reference.curve(cause, &values, &unknowns);
                    let (by_hand, size) =
                        curve.iter().zip(&weights).fold((0.0, 0.0), |(sum, size), (c, w)| (sum + c * w, size + (c * w).abs()));
                    let weighted = reference.weighted(cause, &weights)(&values, &unknowns);
                    assert!((by_hand - weighted).abs() <= 1e-10 * size, "{holding:?} {cause:?}: {by_hand} {weighted}");
                    let (known, slope) = reference.end_functional(cause, &values, unknowns.len());
                    let apart = known + slope.iter().zip(&unknowns).map(|(s, u)| s * u).sum::<f64>();
                    assert!((whole - apart).abs() <= 1e-10 * whole.abs(), "{holding:?} {cause:?}: {whole} {apart}");
                    compared += usize::from(!alike(alone * (1.0 + 1e-9)));
                }
            }
        }
        assert!(compared > 8, "the comparison must see a small change: {compared}");
    }
}
