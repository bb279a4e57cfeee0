//! From a trial to its joint model: which causes exist, which readings speak, and the curves that contributions are read from.

use super::alike::{Alike, OnePass, cuts_before};
use super::bending::Bending;
use super::block::{Block, Rows};
use super::chain::{Chains, chains};
use super::hyper::{Hyper, Hypers};
use super::logs::{clamp_rows, indicator_rows, level_rows};
use super::model::Model;
use super::reference::{Reference, references};
use super::rows::{Context, PassReading, chain_of, pass_rows, rigid_support, scaled, standard_errors};
use super::unknowns::{Meaning, Unknown};
use super::worn_ways::{WornWays, worn_ways};
use crate::physics::cutting_path::{cutting_minutes, edge_path_m};
use crate::physics::{CutPoint, ForceFactors, Support, cut_points};
use crate::trial::{ClampReading, Direction, Foot, Holding, IndicatorReading, LevelReading, Place, Plane, TestBar, Trial};
use std::collections::{BTreeMap, BTreeSet};
use std::sync::Arc;

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

    let (unknowns, flags) = unknowns(trial, &used, &chains, ways.as_ref(), timed, test_bar.as_ref(), &mut warnings);
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
        if let Some(rows) = pass_rows(&context, readings, *span, factors, chain, *place) {
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

/// Metal, path and minutes of a pass along a longer bar that could be cut next: its stations reach beyond the present one.
///
/// The tool begins at the longer bar's end, wherever that is: only differences count, each pass having a free constant.
fn beyond_the_bar(trial: &Trial, points: &mut [CutPoint]) {
    let length_mm = trial.bar.length_mm;
    let mut longer: BTreeMap<(u32, u32), f64> = BTreeMap::new();
    for reading in trial.diameters.iter().filter(|r| r.station_mm > length_mm) {
        let end_mm = longer.entry((reading.setting, reading.pass)).or_insert(length_mm);
        *end_mm = end_mm.max(reading.station_mm);
    }
    for (reading, point) in trial.diameters.iter().zip(points) {
        let Some(end_mm) = longer.get(&(reading.setting, reading.pass)) else { continue };
        let clamped_m = edge_path_m(trial.bar.diameter_mm, point.metal_mm, reading.feed_mm_per_rev);
        point.metal_mm = match reading.direction {
            Direction::ToHeadstock => end_mm - reading.station_mm,
            Direction::ToTailstock => reading.station_mm,
        };
        point.edge_path_m += edge_path_m(trial.bar.diameter_mm, point.metal_mm, reading.feed_mm_per_rev) - clamped_m;
        if point.minutes.is_some() {
            point.minutes = cutting_minutes(point.metal_mm, reading.feed_mm_per_rev, trial.cutting.rpm);
        }
    }
}

fn by_setting<T>(readings: &[T], setting: impl Fn(&T) -> u32) -> BTreeMap<u32, Vec<&T>> {
    let mut map: BTreeMap<u32, Vec<&T>> = BTreeMap::new();
    readings.iter().for_each(|r| map.entry(setting(r)).or_default().push(r));
    map
}

pub(super) fn usable_test_bar(trial: &Trial, refused: &mut Vec<(Log, String)>, warnings: &mut Vec<String>) -> Option<TestBar> {
    if trial.indicator.is_empty() {
        return None;
    }
    let bar = trial.testbar.clone().unwrap_or_else(|| {
        warnings.push("The indicator ran along a test bar without a certificate: its taper is taken as 0 ± 2 µm over 200 mm.".to_string());
        TestBar { u_um: 2.0, ..TestBar::usual(Holding::Chuck) }
    });
    if bar.turned_here {
        let why = "a bar just turned in this chucking reads constant along its length whatever is wrong with the lathe, because the tool that \
                   made it ran on the same path as the indicator; only a ground test bar can tell";
        refused.push((Log::Indicator, why.to_string()));
        return None;
    }
    if bar.holding == Holding::ChuckAndCentre {
        let why = "a test bar held by chuck and centre together is bent by both; hold it in the chuck, or between centres".to_string();
        refused.push((Log::Indicator, why));
        return None;
    }
    Some(bar)
}

fn usable_clamp<'a>(trial: &'a Trial, refused: &mut Vec<(Log, String)>) -> BTreeMap<(u32, Foot), Vec<&'a ClampReading>> {
    let mut map: BTreeMap<(u32, Foot), Vec<&ClampReading>> = BTreeMap::new();
    trial.clamp.iter().for_each(|r| map.entry((r.setting, r.foot)).or_default().push(r));
    let settings: BTreeSet<u32> = trial.clamp.iter().map(|r| r.setting).collect();
    for setting in settings {
        let feet: Vec<_> = Foot::ALL.iter().filter_map(|foot| map.get(&(setting, *foot))).collect();
        let two_places = |readings: &Vec<&ClampReading>| {
            readings.iter().any(|a| readings.first().is_some_and(|b| (a.station_mm - b.station_mm).abs() > 1e-6))
        };
        let why = if feet.len() < 4 {
            Some("the clamp log must hold all four feet, tightened in order from free: the twist is the sum of what each of them adds")
        } else if !feet.iter().all(|readings| two_places(readings)) {
            Some("the clamp log needs two stations or more for each foot: at one station a free constant takes up whatever the foot does")
        } else {
            None
        };
        if let Some(why) = why {
            refused.push((Log::Clamp, format!("setting {setting}: {why}")));
            map.retain(|(s, _), _| *s != setting);
        }
    }
    map
}

fn unknowns(
    trial: &Trial,
    used: &Used,
    chains: &Chains,
    ways: Option<&WornWays>,
    timed: bool,
    test_bar: Option<&TestBar>,
    warnings: &mut Vec<String>,
) -> (Vec<Unknown>, usize) {
    let prior = &trial.prior;
    let mut list: Vec<Unknown> = Vec::new();
    let positive_sd = |sd: f64| if sd > 0.0 { sd } else { 1e-9 };
    let add = |list: &mut Vec<Unknown>, meaning: Meaning, sd: f64, flag: Option<usize>| {
        list.push(Unknown { meaning, sd: positive_sd(sd), flag });
    };
    if trial.levels.iter().any(|r| r.reversed) {
        // Any zero error is possible: a level of 10 mm/m off its zero is still read by reversal.
        add(&mut list, Meaning::LevelZero, 10.0, None);
    }
    if let Some(bar) = test_bar.filter(|_| !used.indicator.is_empty()) {
        add(&mut list, Meaning::BarTaper, bar.u_um, None);
    }
    let clamp_settings: BTreeSet<u32> = used.clamp.keys().map(|(s, _)| *s).collect();
    for setting in &clamp_settings {
        add(&mut list, Meaning::FreeTwist { setting: *setting }, prior.free_twist_mm_per_m_per_m, None);
        for foot in 0..3 {
            // A foot can add any twist that a bed bears; 1 (mm/m)/m is far beyond what a nut does.
            add(&mut list, Meaning::ClampStep { setting: *setting, foot }, 1.0, None);
        }
    }
    let mut flags = 0;
    let mut take = || {
        flags += 1;
        flags - 1
    };
    if let Some(ways) = ways {
        let flag = take();
        (0..ways.len()).for_each(|index| add(&mut list, Meaning::WayWear { index }, 1.0, Some(flag)));
    }
    let swung = trial.bar.holding != Holding::Centres;
    let chucked_indicator = test_bar.is_some_and(|b| b.holding == Holding::Chuck) && !used.indicator.is_empty();
    let mut roots: BTreeSet<u32> = BTreeSet::new();
    let mut twisted: BTreeSet<u32> = used.levels.keys().copied().chain(clamp_settings.iter().copied()).collect();
    if swung {
        twisted.extend(used.passes.keys().map(|(s, _)| *s));
    }
    if chucked_indicator {
        twisted.extend(used.indicator.keys());
    }
    roots.extend(twisted.iter().filter_map(|s| chains.links.get(s)).map(|l| l.root));
    let mut offsets: BTreeSet<u32> = BTreeSet::new();
    if trial.bar.holding != Holding::Chuck {
        offsets.extend(used.passes.keys().map(|(s, _)| *s));
        if test_bar.is_some_and(|b| b.holding == Holding::Centres) {
            offsets.extend(used.indicator.keys());
        }
    }
    let room = MOST_FLAGS.saturating_sub(4);
    let shared = |count: usize, other: usize| count + other.min(1) > room;
    let (one_twist, one_offset) = (shared(roots.len(), offsets.len()), shared(offsets.len(), roots.len()));
    let mut flag = None;
    for root in &roots {
        if flag.is_none() || !one_twist {
            flag = Some(take());
        }
        add(&mut list, Meaning::Twist { root: *root }, prior.twist_mm_per_m_per_m, flag);
    }
    if swung || chucked_indicator {
        let flag = take();
        add(&mut list, Meaning::Yaw, prior.yaw_mm_per_m, Some(flag));
    }
    if timed {
        let flag = take();
        add(&mut list, Meaning::Drift, prior.thermal_drift_um_per_min, Some(flag));
    }
    let mut flag = None;
    for setting in &offsets {
        if flag.is_none() || !one_offset {
            flag = Some(take());
        }
        add(&mut list, Meaning::Offset { setting: *setting }, prior.offset_mm, flag);
    }
    let mut edges: BTreeMap<Option<Arc<str>>, usize> = BTreeMap::new();
    for readings in used.passes.values() {
        if let Some(own) = readings.first() {
            *edges.entry(own.reading.edge.clone()).or_insert(0) += 1;
        }
    }
    let wear = take();
    let fresh = edges.iter().filter(|(edge, passes)| edge.is_some() && **passes >= 2).count();
    if edges.len() > MOST_POSITIVE {
        warnings.push(format!("{} edges cut this trial: one rate of wear is taken for all of them.", edges.len()));
        add(&mut list, Meaning::Wear { edge: None }, prior.wear_um_per_m, Some(wear));
    } else {
        let with_fresh = edges.len() + fresh <= MOST_POSITIVE;
        for (edge, passes) in &edges {
            add(&mut list, Meaning::Wear { edge: edge.clone() }, prior.wear_um_per_m, Some(wear));
            if edge.is_some() && *passes >= 2 && with_fresh {
                add(&mut list, Meaning::FreshEdge { edge: edge.clone() }, prior.fresh_edge_um, Some(wear));
            }
        }
    }
    (list, flags)
}

#[allow(clippy::too_many_arguments, reason = "noise levels are laid out by the caller")]
fn hypers(
    trial: &Trial,
    used: &Used,
    chains: &Chains,
    gauges: &[Option<Arc<str>>],
    support: &Support,
    level_noise: usize,
    indicator_noise: usize,
    noise_names: &[String],
    logged: &[LoggedRows],
) -> Hypers {
    let prior = &trial.prior;
    let mut kinds = vec![Hyper::Force { factor: prior.force_factor.max(1.0 + 1e-9) }];
    let directions: BTreeSet<Direction> = used.passes.values().flatten().map(|r| r.reading.direction).collect();
    if directions.contains(&Direction::ToTailstock) {
        kinds.push(Hyper::ForceToTailstock);
    }
    match trial.bar.holding {
        Holding::Chuck => kinds.push(Hyper::ChuckTilt { scale: prior.chuck_tilt_urad_per_nm }),
        Holding::Centres => {
            kinds.push(Hyper::HeadstockCentre { scale: prior.centre_compliance_um_per_n });
            kinds.push(Hyper::TailstockCentre { scale: prior.centre_compliance_um_per_n });
        }
        Holding::ChuckAndCentre => {
            kinds.push(Hyper::ChuckTilt { scale: prior.chuck_tilt_urad_per_nm });
            kinds.push(Hyper::TailstockCentre { scale: prior.centre_compliance_um_per_n });
        }
    }
    kinds.push(Hyper::RollArm { mean: trial.machine.roll_arm_mm, sd: trial.machine.roll_arm_u_mm });
    if chains.links.values().any(|l| l.gain != 0.0) {
        kinds.push(Hyper::MoveGain { median: prior.move_gain, factor: prior.move_gain_factor.max(1.0 + 1e-9) });
    }
    let factor = prior.gauge_noise_factor.max(1.0 + 1e-9);
    for (index, name) in gauges.iter().enumerate() {
        let gauge = trial.gauge.diameter_gauge(name.as_deref());
        let rounding_variance = gauge.resolution_mm * gauge.resolution_mm / 12.0;
        kinds.push(Hyper::Noise { index, median: gauge.u_mm.max(1e-7), factor, rounding_variance });
    }
    if !used.levels.is_empty() {
        let median = trial.gauge.level.u_mm_per_m.max(1e-7);
        kinds.push(Hyper::Noise { index: level_noise, median, factor, rounding_variance: 0.0 });
    }
    if noise_names.len() > indicator_noise {
        let median = trial.gauge.indicator.u_mm.max(1e-8);
        kinds.push(Hyper::Noise { index: indicator_noise, median, factor, rounding_variance: 0.0 });
    }
    let most_random = logged.iter().filter(|l| l.log == Log::Diameters).map(|l| l.rows.random.len()).max().unwrap_or(0);
    kinds.push(Hyper::SlopeSpread);
    if most_random > 1 {
        kinds.push(Hyper::BarrelSpread);
    }
    Hypers { kinds, support: support.clone(), noise_levels: noise_names.len() }
}

#[cfg(test)]
mod tests {
    use super::super::block::Local;
    use super::super::symmetric::Symmetric;
    use super::*;
    use crate::causes::fixture;
    use crate::trial::{SimulationRequest, Truth};

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
