//! What is estimated: unknowns with a normal prior, and what is integrated numerically.

use super::straight::Straight;
use super::{Log, LoggedRows, MOST_FLAGS, MOST_POSITIVE, Used};
use crate::causes::chain::Chains;
use crate::causes::hyper::{Hyper, Hypers};
use crate::causes::unknowns::{Meaning, Unknown};
use crate::causes::worn_ways::WornWays;
use crate::physics::Support;
use crate::trial::{Direction, Holding, TestBar, Trial};
use std::collections::{BTreeMap, BTreeSet};
use std::sync::Arc;

/// The unknowns with their standard deviations beforehand, and how many presences they share.
#[allow(clippy::too_many_arguments, reason = "every log has its unknowns")]
pub(super) fn unknowns(
    trial: &Trial,
    used: &Used,
    chains: &Chains,
    ways: Option<&WornWays>,
    timed: bool,
    test_bar: Option<&TestBar>,
    straight: &BTreeMap<u32, Straight>,
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
    for (at, (setting, line)) in straight.iter().enumerate() {
        if at == 0 {
            add(&mut list, Meaning::Vertical, line.errors.vertical_mm() / line.length_mm, None);
        }
        for longer in [false, true].into_iter().filter(|longer| !longer || line.longer_mm.is_some()) {
            add(&mut list, Meaning::Warmth { setting: *setting, longer }, line.errors.gradient_mm.hypot(line.errors.warming_mm), None);
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

/// What is integrated numerically: noise, spread, force, stiffness and geometry that are known beforehand only so far.
#[allow(clippy::too_many_arguments, reason = "noise levels are laid out by the caller")]
pub(super) fn hypers(
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
