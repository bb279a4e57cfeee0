//! From a trial to its joint model: which causes exist, which readings speak, and the curves that contributions are read from.

mod quantities;
mod straight;
mod usable;

pub(super) use usable::usable_test_bar;

use super::alike::{Alike, OnePass, cuts_before};
use super::bending::Bending;
use super::block::{Block, Rows};
use super::chain::{Chains, chains};
use super::logs::{clamp_rows, indicator_rows, level_rows};
use super::model::Model;
use super::reference::{Reference, references};
use super::rows::{Context, PassReading, chain_of, pass_rows, rigid_support, scaled, standard_errors};
use super::worn_ways::{WornWays, worn_ways};
use crate::physics::{ForceFactors, Support, cut_points};
use crate::trial::{ClampReading, Foot, IndicatorReading, LevelReading, Place, Plane, Trial};
use std::collections::BTreeMap;
use std::sync::Arc;

use quantities::{hypers, unknowns};
pub(super) use straight::Straight;
use straight::straight_lines;
use usable::{beyond_the_bar, by_setting, usable_clamp};

/// Presences at most; beyond, the offsets (twists) of all settings share one.
const MOST_FLAGS: usize = 9;
/// Unknowns that cannot be negative at most; beyond, all edges share one rate of wear.
const MOST_POSITIVE: usize = 6;

/// A kind of log.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub(super) enum Log {
    /// `diameters`.
    Diameters,
    /// `levels`.
    Levels,
    /// `indicator`.
    Indicator,
    /// `clamp`.
    Clamp,
    /// `moves`.
    Moves,
}

impl Log {
    /// Its file's name.
    pub(super) fn name(self) -> &'static str {
        match self {
            Self::Diameters => "diameters",
            Self::Levels => "levels",
            Self::Indicator => "indicator",
            Self::Clamp => "clamp",
            Self::Moves => "moves",
        }
    }
}

/// One block of readings with where they stand.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct LoggedRows {
    /// The log.
    pub(super) log: Log,
    /// State of the feet.
    pub(super) setting: u32,
    /// Pass of diameters, the first of those taken together; `None` elsewhere.
    pub(super) pass: Option<u32>,
    /// Passes whose mean the rows are; 1 elsewhere.
    pub(super) passes: f64,
    /// The rows.
    pub(super) rows: Rows,
    /// Where each reading stands.
    pub(super) places: Vec<Place>,
    /// Station of each reading, mm.
    pub(super) stations: Vec<f64>,
    /// Reduced.
    pub(super) block: Block,
}

/// The joint model of a trial and what belongs to it.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Design {
    /// The model.
    pub(super) model: Model,
    /// The readings, block by block as in the model.
    pub(super) logged: Vec<LoggedRows>,
    /// Curves per setting with diameters.
    pub(super) references: Vec<Reference>,
    /// Chains of settings.
    pub(super) chains: Chains,
    /// Whether the log has minutes of cutting.
    pub(super) timed: bool,
    /// The curves of worn ways; `None` when they cannot be seen.
    pub(super) ways: Option<WornWays>,
    /// Logs that are no evidence, with the reason.
    pub(super) refused: Vec<(Log, String)>,
    /// Sentences for the reader.
    pub(super) warnings: Vec<String>,
    /// Index of the noise level of each log's gauge, where it has one.
    pub(super) noise_names: Vec<String>,
    /// Passes that were taken together at most.
    pub(super) together: usize,
}

/// The used readings of passes by setting and pass.
type Passes = BTreeMap<(u32, u32), Vec<PassReading>>;

/// Readings that are used, by block.
struct Used<'a> {
    passes: Passes,
    levels: BTreeMap<u32, Vec<&'a LevelReading>>,
    indicator: BTreeMap<u32, Vec<&'a IndicatorReading>>,
    clamp: BTreeMap<(u32, Foot), Vec<&'a ClampReading>>,
}

/// The joint model of `trial`; `None` when no setting has two distinct stations of usable diameters.
pub(super) fn design(trial: &Trial) -> Option<Design> {
    design_of(trial, 1)
}

/// As [`design`], passes of which the model says the same taken together, `together` at most.
pub(super) fn design_of(trial: &Trial, together: usize) -> Option<Design> {
    let support = rigid_support(&trial.bar);
    let mut points = cut_points(trial, &support, ForceFactors::default());
    beyond_the_bar(trial, &mut points);
    let mut refused = Vec::new();
    let mut warnings = Vec::new();

    let mut gauges: Vec<Option<Arc<str>>> = Vec::new();
    let mut passes = Passes::new();
    for (row, (reading, point)) in trial.diameters.iter().zip(points).enumerate().filter(|(_, (r, _))| r.excluded.is_none()) {
        // Names without a table mean the default gauge.
        let named = reading.gauge.clone().filter(|name| trial.gauge.diameter_named.contains_key(name.as_ref()));
        let noise = gauges.iter().position(|g| *g == named).unwrap_or_else(|| {
            gauges.push(named);
            gauges.len() - 1
        });
        let (count, square) = trial.diameters.stands_for(row);
        let own = PassReading { reading, point, noise, count, square };
        passes.entry((own.reading.setting, own.reading.pass)).or_default().push(own);
    }
    let mut tested: BTreeMap<u32, (f64, f64)> = BTreeMap::new();
    for ((setting, _), readings) in &passes {
        let span = tested.entry(*setting).or_insert((f64::INFINITY, f64::NEG_INFINITY));
        for own in readings {
            *span = (span.0.min(own.reading.station_mm), span.1.max(own.reading.station_mm));
        }
    }
    if !tested.values().any(|(from, to)| to > from) {
        return None;
    }
    let test_bar = usable_test_bar(trial, &mut refused, &mut warnings);
    let used = Used {
        passes,
        levels: by_setting(&trial.levels, |r| r.setting),
        indicator: match &test_bar {
            Some(_) => {
                let side: Vec<&IndicatorReading> = trial.indicator.iter().filter(|r| r.plane == Plane::Side).collect();
                let mut map: BTreeMap<u32, Vec<&IndicatorReading>> = BTreeMap::new();
                side.into_iter().for_each(|r| map.entry(r.setting).or_default().push(r));
                map
            }
            None => BTreeMap::new(),
        },
        clamp: usable_clamp(trial, &mut refused),
    };
    let chains = chains(trial);
    refused.extend(chains.refused.iter().map(|why| (Log::Moves, why.clone())));
    if !used.levels.is_empty() && trial.levels.iter().all(|r| r.reference_roll_mm_per_m.is_none()) {
        warnings.push(
            "The levels were read without a second level on the headstock: where the carriage's weight tilts machine and stand, they show \
             roll that the tool does not see."
                .to_string(),
        );
    }

    let timed = used.passes.values().flatten().all(|own| own.point.minutes.is_some());
    // A longer bar that has not been cut adds places, but what counts as straight stays as it is.
    let (longer, bed): (Vec<f64>, Vec<f64>) = {
        let points = || used.passes.values().flatten().map(|own| (own.reading.station_mm > trial.bar.length_mm, own.point.bed_mm));
        (points().filter(|p| p.0).map(|p| p.1).collect(), points().filter(|p| !p.0).map(|p| p.1).collect())
    };
    let elsewhere: Vec<f64> = longer
        .into_iter()
        .chain(used.levels.values().flatten().map(|r| r.station_mm))
        .chain(used.indicator.values().flatten().map(|r| r.station_mm))
        .collect();
    let ways = worn_ways(&bed, &elsewhere, trial.prior.way_wear_um, trial.prior.way_wear_length_mm);

    let straight = straight_lines(trial, &used.passes);
    let (unknowns, flags) = unknowns(trial, &used, &chains, ways.as_ref(), timed, test_bar.as_ref(), &straight, &mut warnings);
    let context = Context {
        unknowns: &unknowns,
        links: &chains.links,
        ways: ways.as_ref(),
        holding: trial.bar.holding,
        length_mm: trial.bar.length_mm,
        prior: &trial.prior,
    };

    let mut noise_names: Vec<String> =
        gauges.iter().map(|g| g.as_ref().map_or_else(|| "diameter".to_string(), |name| format!("diameter.{name}"))).collect();
    let level_noise = noise_names.len();
    let indicator_noise = level_noise + usize::from(!used.levels.is_empty());
    if !used.levels.is_empty() {
        noise_names.push("level".to_string());
    }
    if !used.indicator.is_empty() || !used.clamp.is_empty() {
        noise_names.push("indicator".to_string());
    }

    let mut chain_list = Vec::new();
    let mut pass_places: BTreeMap<(u32, u32), (usize, usize)> = BTreeMap::new();
    let mut first = 0;
    for setting in tested.keys() {
        let (chain, numbers) = chain_of(*setting, first, trial);
        first += chain.stations.len() * chain.passes.len();
        for (place, pass) in numbers.iter().enumerate() {
            pass_places.insert((*setting, *pass), (chain_list.len(), place));
        }
        chain_list.push(chain);
    }

    let mut logged = Vec::new();
    let mut factors: BTreeMap<u32, (f64, Option<f64>)> = BTreeMap::new();
    for (setting, span) in &tested {
        let own = used.passes.range((*setting, 0)..=(*setting, u32::MAX));
        let xs: Vec<Vec<(f64, f64)>> =
            own.map(|(_, list)| list.iter().map(|r| (scaled(r.reading.station_mm, *span), r.count)).collect()).collect();
        factors.insert(*setting, standard_errors(&xs));
    }
    let sheets: Vec<f64> = gauges
        .iter()
        .map(|g| g.as_ref().and_then(|name| trial.gauge.diameter_named.get(name.as_ref())).unwrap_or(&trial.gauge.diameter).u_mm)
        .collect();
    let mut alike = Alike::new(&unknowns, &sheets, together);
    for ((setting, pass), readings) in &used.passes {
        let (Some(span), Some((chain, place))) = (tested.get(setting), pass_places.get(&(*setting, *pass))) else { continue };
        let factors = factors.get(setting).copied().unwrap_or((0.0, None));
        let Some(chain) = chain_list.get(*chain) else { continue };
        if let Some(rows) = pass_rows(&context, readings, *span, straight.get(setting), factors, chain, *place) {
            let (places, stations) = readings.iter().map(|r| (r.reading.place, r.reading.station_mm)).unzip();
            let one = OnePass { setting: *setting, pass: *pass, rows, places, stations };
            logged.extend(alike.take(cuts_before(*setting, &chain.passes, *place), one));
        }
    }
    logged.extend(alike.rest());
    logged.sort_by_key(|l| (l.setting, l.pass));
    let mut add = |log: Log, setting: u32, rows: Rows, places: Vec<Place>, stations: Vec<f64>| {
        logged.push(LoggedRows { log, setting, pass: None, passes: 1.0, block: rows.reduce(), rows, places, stations });
    };
    for (setting, readings) in &used.levels {
        let rows = level_rows(&context, *setting, readings, level_noise);
        add(Log::Levels, *setting, rows, readings.iter().map(|r| r.place).collect(), readings.iter().map(|r| r.station_mm).collect());
    }
    if let Some(bar) = &test_bar {
        let mut held = trial.bar.clone();
        (held.holding, held.length_mm, held.collars_mm) = (bar.holding, bar.length_mm, Vec::new());
        let test_support: Support = rigid_support(&held);
        for (setting, readings) in &used.indicator {
            let rows = indicator_rows(&context, *setting, readings, bar, &test_support, indicator_noise);
            add(
                Log::Indicator,
                *setting,
                rows,
                readings.iter().map(|r| r.place).collect(),
                readings.iter().map(|r| r.station_mm).collect(),
            );
        }
    }
    for ((setting, foot), readings) in &used.clamp {
        let rows = clamp_rows(&context, *setting, *foot, readings, trial.machine.feet.as_ref(), indicator_noise);
        add(Log::Clamp, *setting, rows, readings.iter().map(|r| r.place).collect(), readings.iter().map(|r| r.station_mm).collect());
    }

    let hypers = hypers(trial, &used, &chains, &gauges, &support, level_noise, indicator_noise, &noise_names, &logged);
    let references = references(trial, &context, &tested, &pass_places, &chain_list);
    let model = Model {
        flags,
        presence: trial.prior.presence.clamp(1e-6, 1.0 - 1e-6),
        hypers,
        blocks: logged.iter().map(|l| l.block.clone()).collect(),
        bending: Bending::new(chain_list, &support),
        unknowns,
    };
    Some(Design { model, logged, references, chains, timed, ways, refused, warnings, noise_names, together })
}

#[cfg(test)]
mod tests {
    use super::super::block::Local;
    use super::super::symmetric::Symmetric;
    use super::*;
    use crate::causes::fixture;
    use crate::trial::{Direction, Holding, SimulationRequest, Truth};

    /// The normal equations of all blocks and the log likelihood, at deviates of 0.3.
    fn sums(trial: &Trial) -> (Symmetric, f64) {
        let model = design(trial).unwrap().model;
        let values = model.hypers.values(&vec![0.3; model.hypers.len()]);
        let mut bending = model.bending.clone();
        bending.fill(&values);
        let (mut joint, mut local) = (Symmetric::zeros(model.unknowns.len() + 1), Local::new());
        let log = model.blocks.iter().map(|block| block.add_to(&values, &bending, &mut joint, &mut local)).sum();
        (joint, log)
    }

    #[test]
    fn repeated_readings_say_the_same_one_by_one_and_as_means() {
        for holding in [Holding::Chuck, Holding::ChuckAndCentre] {
            let request = SimulationRequest {
                passes: 2,
                directions: vec![Direction::ToHeadstock, Direction::ToTailstock],
                repeats: 7,
                stations_mm: vec![20.0, 60.0, 110.0, 160.0, 200.0],
                truth: Truth { yaw_mm_per_m: Some(0.05), force_factor: Some(1.0), ..Truth::default() },
                ..SimulationRequest::default()
            };
            let trial = fixture::read(&fixture::bar(holding), &request, 5);
            let reduced = trial.with_diameters(trial.diameters.reduced());
            assert_eq!((trial.diameters.len(), reduced.diameters.len()), (140, 20));
            let ((one, log), (mean, mean_log)) = (sums(&trial), sums(&reduced));
            let agree = |a: f64, b: f64, size: f64| (a - b).abs() <= 1e-9 * size;
            assert!(agree(log, mean_log, log.abs()) && !agree(log, mean_log * (1.0 + 1e-8), log.abs()), "{log} {mean_log}");
            for i in 0..one.size() {
                for j in 0..=i {
                    // a sum of products near 0 is judged by the sums of squares that it could be
                    let size = (one.get(i, i) * one.get(j, j)).sqrt();
                    assert!(agree(one.get(i, j), mean.get(i, j), size), "{i} {j}: {} {}", one.get(i, j), mean.get(i, j));
                }
            }
        }
    }
}
