//! Where each diameter was made: what the causes need to know about one station of one pass.

use super::cutting_force::{radial_force_n, radial_stiffness_n_per_mm};
use super::cutting_path::{cutting_minutes, edge_path_m, metal_cut_mm, metal_of_pass_mm};
use super::deflection::{Infeed, after_pass_mm, left_by_mm};
use super::support::Support;
use crate::trial::{DiameterReading, Direction, Trial};
use std::collections::BTreeMap;
use std::sync::Arc;

/// One station of one pass, with everything that the causes' curves are made of.
#[derive(Debug, Clone, PartialEq)]
pub struct CutPoint {
    /// State of the feet.
    pub setting: u32,
    /// Number of the cut within its setting.
    pub pass: u32,
    /// Which way the pass was cut.
    pub direction: Direction,
    /// Station `z`, mm.
    pub station_mm: f64,
    /// Place of the carriage on the bed, mm: station less the shift of the tool.
    pub bed_mm: f64,
    /// Roll arm `h`, mm (the trial's value; the estimate integrates over it).
    pub roll_arm_mm: f64,
    /// `z − L·w(z)`, mm: see [`Support::slope_arm_mm`].
    pub slope_arm_mm: f64,
    /// `w(z)`: see [`Support::centre_share`].
    pub centre_share: f64,
    /// Give at the tool, mm/N: see [`Support::compliance_mm_per_n`].
    pub compliance_mm_per_n: f64,
    /// Radial force at force factor 1, N.
    pub force_n: f64,
    /// Diameter left over by deflection at the stated force factor, mm; the memory of the passes before is in it.
    pub deflection_mm: f64,
    /// Length of metal cut since the pass began, mm.
    pub metal_mm: f64,
    /// `f_ref/f`: the trial's feed over the pass's.
    pub feed_ratio: f64,
    /// Cutting path since the edge was first used in this trial, m.
    pub edge_path_m: f64,
    /// Minutes of cutting since the pass began (or since its first logged station); `None` without times and speed.
    pub minutes: Option<f64>,
}

/// What multiplies the force of Kienzle.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct ForceFactors {
    /// `q` of every pass.
    pub all: f64,
    /// A further factor on passes cut to the tailstock, where a right-hand tool cuts on its trailing edge.
    pub to_tailstock: f64,
}

impl Default for ForceFactors {
    fn default() -> Self {
        Self { all: 1.0, to_tailstock: 1.0 }
    }
}

/// One cut: the passes of a trial in cutting order.
#[derive(Debug, Clone, PartialEq)]
struct CutPass {
    infeed: Infeed,
    edge: Option<Arc<str>>,
    metal_mm: f64,
    feed_mm_per_rev: f64,
    first_min: Option<f64>,
    last_min: Option<f64>,
    /// Path of this pass's edge before it, m.
    path_before_m: f64,
}

/// The points of all diameter readings of `trial`, in the log's order (n readings → n points), excluded ones too.
///
/// Passes are taken in order of setting and number, which is cutting order; depth, feed, direction and edge of a pass are those
/// of its first reading. Minutes come from the log's times where they differ within a pass, otherwise from metal, feed
/// and speed. `f_ref` is `[cutting] feed`. Deflection uses `factors`, and `support`'s compliances.
#[must_use]
pub fn cut_points(trial: &Trial, support: &Support, factors: ForceFactors) -> Vec<CutPoint> {
    let passes = cut_passes(trial, factors);
    let mut in_cutting_order: Vec<usize> = (0..trial.diameters.len()).collect();
    in_cutting_order.sort_by_key(|index| trial.diameters.get(*index).map(|reading| (reading.setting, reading.pass)));
    let mut stations: BTreeMap<(u32, u64), StationState> = BTreeMap::new();
    let mut points: Vec<(usize, CutPoint)> = Vec::with_capacity(in_cutting_order.len());
    for index in in_cutting_order {
        let Some(reading) = trial.diameters.get(index) else { continue };
        let state = stations
            .entry((reading.setting, reading.station_mm.to_bits()))
            .or_insert_with(|| StationState::new(support, reading.station_mm));
        state.cut_up_to(&passes, reading.setting, reading.pass);
        points.push((index, cut_point(trial, state, passes.get(&(reading.setting, reading.pass)), &reading)));
    }
    points.sort_by_key(|(index, _)| *index);
    points.into_iter().map(|(_, point)| point).collect()
}

/// One station of one setting while its passes are taken in cutting order: each pass is looked at once, however long the log is.
#[derive(Debug, Clone, Copy)]
struct StationState {
    slope_arm_mm: f64,
    centre_share: f64,
    compliance_mm_per_n: f64,
    /// The last pass that has been taken.
    pass: Option<u32>,
    /// What it left over, mm.
    left_mm: f64,
}

impl StationState {
    fn new(support: &Support, z_mm: f64) -> Self {
        Self {
            slope_arm_mm: support.slope_arm_mm(z_mm),
            centre_share: support.centre_share(z_mm),
            compliance_mm_per_n: support.compliance_mm_per_n(z_mm),
            pass: None,
            left_mm: 0.0,
        }
    }

    fn cut_up_to(&mut self, passes: &BTreeMap<(u32, u32), CutPass>, setting: u32, pass: u32) {
        let first = (setting, self.pass.map_or(0, |last| last.saturating_add(1)));
        if self.pass == Some(pass) || first > (setting, pass) {
            return;
        }
        for ((_, number), cut) in passes.range(first..=(setting, pass)) {
            self.left_mm = match self.pass {
                None => left_by_mm(&[cut.infeed], self.compliance_mm_per_n),
                Some(_) => after_pass_mm(cut.infeed, self.compliance_mm_per_n, self.left_mm),
            };
            self.pass = Some(*number);
        }
    }
}

fn cut_passes(trial: &Trial, factors: ForceFactors) -> BTreeMap<(u32, u32), CutPass> {
    let mut passes: BTreeMap<(u32, u32), CutPass> = BTreeMap::new();
    let metal_mm = metal_of_pass_mm(trial.bar.length_mm, &trial.bar.collars_mm);
    for reading in &trial.diameters {
        let pass = passes.entry((reading.setting, reading.pass)).or_insert_with(|| CutPass {
            infeed: Infeed {
                depth_mm: reading.depth_mm,
                stiffness_n_per_mm: radial_stiffness_n_per_mm(
                    &trial.bar,
                    reading.depth_mm,
                    reading.feed_mm_per_rev,
                    trial.cutting.nose_radius_mm,
                ) * factor(factors, reading.direction),
            },
            edge: reading.edge.clone(),
            metal_mm,
            feed_mm_per_rev: reading.feed_mm_per_rev,
            first_min: None,
            last_min: None,
            path_before_m: 0.0,
        });
        if let Some(time) = reading.time_min {
            pass.first_min = Some(pass.first_min.map_or(time, |first| first.min(time)));
            pass.last_min = Some(pass.last_min.map_or(time, |last| last.max(time)));
        }
    }
    let mut travelled: BTreeMap<Option<Arc<str>>, f64> = BTreeMap::new();
    for pass in passes.values_mut() {
        let path = travelled.entry(pass.edge.clone()).or_insert(0.0);
        pass.path_before_m = *path;
        *path += edge_path_m(trial.bar.diameter_mm, pass.metal_mm, pass.feed_mm_per_rev);
    }
    passes
}

fn factor(factors: ForceFactors, direction: Direction) -> f64 {
    match direction {
        Direction::ToHeadstock => factors.all,
        Direction::ToTailstock => factors.all * factors.to_tailstock,
    }
}

fn cut_point(trial: &Trial, state: &StationState, own: Option<&CutPass>, reading: &DiameterReading) -> CutPoint {
    let (bar, cutting) = (&trial.bar, &trial.cutting);
    let metal_mm = metal_cut_mm(reading.station_mm, reading.direction, bar.length_mm, &bar.collars_mm);
    let timed = own.and_then(|pass| Some((reading.time_min?, pass.first_min?, pass.last_min?)));
    CutPoint {
        setting: reading.setting,
        pass: reading.pass,
        direction: reading.direction,
        station_mm: reading.station_mm,
        bed_mm: reading.station_mm - reading.tool_shift_mm,
        roll_arm_mm: trial.machine.roll_arm_mm,
        slope_arm_mm: state.slope_arm_mm,
        centre_share: state.centre_share,
        compliance_mm_per_n: state.compliance_mm_per_n,
        force_n: radial_force_n(bar, reading.depth_mm, reading.feed_mm_per_rev, cutting.nose_radius_mm),
        deflection_mm: state.left_mm,
        metal_mm,
        feed_ratio: if reading.feed_mm_per_rev > 0.0 { cutting.feed_mm_per_rev / reading.feed_mm_per_rev } else { 0.0 },
        edge_path_m: own.map_or(0.0, |pass| pass.path_before_m) + edge_path_m(bar.diameter_mm, metal_mm, reading.feed_mm_per_rev),
        minutes: match timed {
            Some((time, first, last)) if last > first => Some(time - first),
            _ => cutting_minutes(metal_mm, reading.feed_mm_per_rev, cutting.rpm),
        },
    }
}
