//! What the gauges show of a nature.

use super::{Chance, Nature};
use crate::physics::{CutPoint, DIAMETER_CAUSES, Support, clamp, cut_points, indicator, level, tool_wear, vertical_misalignment, way_wear};
use crate::trial::{DiameterReading, Plane, Trial};
use std::collections::BTreeMap;
use std::sync::Arc;

/// Streams of chance, one a kind of reading.
const PASSES: u64 = 1;
const DIAMETERS: u64 = 2;
const LEVELS: u64 = 3;
const INDICATOR: u64 = 4;
const CLAMP: u64 = 5;

/// The true diameter at one reading, and the parts that each cause adds to it.
#[derive(Debug, Clone, PartialEq)]
pub struct TrueDiameter {
    /// Where and when it was cut.
    pub point: CutPoint,
    /// True diameter, mm, the pass's own spread included.
    pub diameter_mm: f64,
    /// Parts in µm of diameter, by cause: yaw, twist, wear, deflection, way wear, offset, drift.
    pub parts_um: [f64; 7],
}

/// Names of the parts, in the result file's words and order.
pub(super) const PARTS: [&str; 7] =
    ["headstock-yaw", "bed-twist", "tool-wear", "deflection", "way-wear", "tailstock-offset", "thermal-drift"];

/// True diameters of all diameter readings of a laid-out trial, in its order.
///
/// Base of a pass: the bar's diameter, less twice the depth of each cut after the first, give or take the cross slide. To this every cause adds its
/// part (see [`crate::physics`]), vertical misalignment and the spread between passes theirs.
#[must_use]
pub fn true_diameters(trial: &Trial, nature: &Nature, seed: u64) -> Vec<TrueDiameter> {
    let mut with_arm = trial.clone();
    with_arm.machine.roll_arm_mm = nature.roll_arm_mm;
    let points = cut_points(&with_arm, &nature.support(trial), nature.force);
    let passes = pass_errors(trial, nature, seed);
    let (from, to) = span(trial);
    let height_error_mm = trial.cutting.tool_height_mm.unwrap_or(0.0);
    let mut diameters = Vec::with_capacity(points.len());
    for (reading, point) in trial.diameters.iter().zip(points) {
        let parts_um = parts_um(nature, &reading, &point).map(|mm| 1000.0 * mm);
        let pass = passes.get(&(reading.setting, reading.pass)).copied().unwrap_or_default();
        let x = if to > from { 2.0 * (point.station_mm - from) / (to - from) - 1.0 } else { 0.0 };
        let rise_mm = vertical_misalignment::rise_mm(nature.vertical_mm_per_m, point.station_mm, 0.0);
        let vertical_mm = vertical_misalignment::diameter_change_mm(rise_mm, height_error_mm, trial.bar.diameter_mm);
        let spread_mm = 0.5 * pass.taper_mm * x - pass.barrel_mm / 1.5 * 0.5 * (3.0 * x * x - 1.0);
        let diameter_mm = pass.base_mm + parts_um.iter().sum::<f64>() / 1000.0 + vertical_mm + spread_mm;
        diameters.push(TrueDiameter { point, diameter_mm, parts_um });
    }
    diameters
}

fn parts_um(nature: &Nature, reading: &DiameterReading, point: &CutPoint) -> [f64; 7] {
    PARTS.map(|name| {
        let Some(cause) = DIAMETER_CAUSES.iter().find(|cause| cause.name == name) else {
            return nature.worn_ways.diameter_mm(point.bed_mm);
        };
        let fresh_edge = match name {
            "tool-wear" => nature.fresh_edge_um * tool_wear::fresh_edge_per_unit_mm(point.edge_path_m, nature.fresh_edge_m),
            _ => 0.0,
        };
        parameter(nature, name, reading) * (cause.per_unit_mm)(point).unwrap_or(0.0) + fresh_edge
    })
}

/// The true parameter of a cause for one reading, in the unit of [`DIAMETER_CAUSES`].
fn parameter(nature: &Nature, cause: &str, reading: &DiameterReading) -> f64 {
    match cause {
        "headstock-yaw" => nature.yaw_mm_per_m,
        "bed-twist" => nature.twist(reading.setting),
        "tool-wear" => nature.wear_um_per_m.get(&reading.edge).copied().unwrap_or(0.0),
        // The force factor is in the point's deflection already: it is not quite proportional.
        "deflection" => 1.0,
        "tailstock-offset" => nature.offset(reading.setting),
        "thermal-drift" => nature.thermal_drift_um_per_min,
        _ => 0.0,
    }
}

/// `trial` with every reading filled in: what the gauges would show, rounded as they are read.
///
/// Diameters: true diameter + the gauge's error of calibration (one a gauge) + noise `u·factor`, to the resolution. Levels, indicator and clamp follow
/// the functionals of [`crate::physics`] with noise from their data sheets. `seed` decides all noise; each kind of log has a stream of its own.
#[must_use]
pub fn read_off(trial: &Trial, nature: &Nature, seed: u64) -> Trial {
    let mut filled = trial.clone();
    let truths = true_diameters(trial, nature, seed);
    read_diameters(&mut filled, nature, &truths, seed);
    read_levels(&mut filled, nature, seed);
    read_indicator(&mut filled, nature, seed);
    read_clamp(&mut filled, nature, seed);
    filled
}

fn read_diameters(trial: &mut Trial, nature: &Nature, truths: &[TrueDiameter], seed: u64) {
    let mut chance = Chance::new(seed, DIAMETERS);
    let factor = nature.spread.diameter_factor;
    let mut calibration: BTreeMap<Option<Arc<str>>, f64> = BTreeMap::new();
    let gauges = &trial.gauge;
    trial.diameters.change(|row, reading| {
        let Some(truth) = truths.get(row) else { return };
        let gauge = gauges.diameter_gauge(reading.gauge.as_deref());
        let common = *calibration.entry(reading.gauge.clone()).or_insert_with(|| factor * gauge.calibration_u_mm * chance.normal());
        let value_mm = truth.diameter_mm + common + factor * gauge.u_mm * chance.normal();
        reading.read_mm = as_read(value_mm, gauge.resolution_mm);
        reading.diameter_mm = reading.read_mm;
    });
}

fn read_levels(trial: &mut Trial, nature: &Nature, seed: u64) {
    let mut chance = Chance::new(seed, LEVELS);
    let gauge = &trial.gauge.level;
    for reading in &mut trial.levels {
        let says = level::functional(reading.station_mm, reading.reversed);
        let worn = way_wear::roll_mm_per_m(nature.worn_ways.diameter_mm(reading.station_mm), nature.roll_arm_mm);
        let roll = reading.reference_roll_mm_per_m.unwrap_or(0.0)
            + says.zero * nature.level_zero_mm_per_m
            + says.twist * nature.twist(reading.setting)
            + worn
            + nature.spread.level_factor * gauge.u_mm_per_m * chance.normal();
        reading.roll_mm_per_m = as_read(roll, fine_step(gauge.u_mm_per_m));
    }
}

fn read_indicator(trial: &mut Trial, nature: &Nature, seed: u64) {
    let mut chance = Chance::new(seed, INDICATOR);
    let mut held = trial.bar.clone();
    if let Some(test_bar) = &trial.testbar {
        held.holding = test_bar.holding;
        held.length_mm = test_bar.length_mm;
    }
    held.collars_mm.clear();
    let support = Support::of_bar(&held, nature.compliances);
    let slope = trial.testbar.as_ref().map_or(0.0, |bar| nature.test_bar_taper_um / 1000.0 / bar.length_mm);
    let u_mm = trial.gauge.indicator.u_mm;
    let test_bar = trial.testbar.clone().and_then(|bar| Some((bar.diameter_mm?, bar))).map(|(diameter_mm, bar)| (bar, diameter_mm));
    for reading in &mut trial.indicator {
        let says = match reading.plane {
            Plane::Side => indicator::side(reading.station_mm, reading.spindle_deg, &support),
            Plane::Top => indicator::top(reading.station_mm, reading.spindle_deg),
        };
        // A bar whose diameter is not stated is simulated weightless.
        let sag_mm = match (&test_bar, reading.plane) {
            (Some((bar, diameter_mm)), Plane::Top) => vertical_misalignment::test_bar_sag_mm(reading.station_mm, bar, *diameter_mm),
            _ => 0.0,
        };
        let value_mm = says.yaw * nature.yaw_mm_per_m
            + says.arm_twist * nature.roll_arm_mm * nature.twist(reading.setting)
            + says.offset * nature.offset(reading.setting)
            + says.way_wear * nature.worn_ways.diameter_mm(reading.station_mm)
            + says.vertical * nature.vertical_mm_per_m
            + says.bar_taper * slope
            + says.run_out[0] * nature.run_out_mm
            - sag_mm
            + nature.spread.indicator_factor * u_mm * chance.normal();
        reading.reading_mm = as_read(value_mm, fine_step(u_mm));
    }
}

fn read_clamp(trial: &mut Trial, nature: &Nature, seed: u64) {
    let mut chance = Chance::new(seed, CLAMP);
    let u_mm = trial.gauge.indicator.u_mm;
    for reading in &mut trial.clamp {
        let twist = nature.clamp_twist.get(&reading.foot).copied().unwrap_or(0.0);
        let value_mm = clamp::arm_twist_coefficient(reading.station_mm, trial.machine.feet.as_ref()) * nature.roll_arm_mm * twist
            + nature.spread.indicator_factor * u_mm * chance.normal();
        reading.change_mm = as_read(value_mm, fine_step(u_mm));
    }
}

/// What is peculiar to one pass, mm.
#[derive(Debug, Clone, Copy, Default)]
struct PassError {
    base_mm: f64,
    taper_mm: f64,
    barrel_mm: f64,
}

fn pass_errors(trial: &Trial, nature: &Nature, seed: u64) -> BTreeMap<(u32, u32), PassError> {
    let mut depths: BTreeMap<(u32, u32), f64> = BTreeMap::new();
    for reading in &trial.diameters {
        depths.entry((reading.setting, reading.pass)).or_insert(reading.depth_mm);
    }
    let mut chance = Chance::new(seed, PASSES);
    let mut base_mm = trial.bar.diameter_mm;
    let mut first = true;
    let mut errors = BTreeMap::new();
    for (key, depth_mm) in depths {
        if !first {
            base_mm -= 2.0 * depth_mm;
        }
        first = false;
        let spread = &nature.spread;
        errors.insert(
            key,
            PassError {
                base_mm: base_mm + spread.infeed_mm * chance.normal(),
                taper_mm: spread.between_pass_um / 1000.0 * chance.normal(),
                barrel_mm: spread.between_pass_barrel_um / 1000.0 * chance.normal(),
            },
        );
    }
    errors
}

/// First and last station, mm.
fn span(trial: &Trial) -> (f64, f64) {
    trial
        .diameters
        .iter()
        .fold((f64::INFINITY, f64::NEG_INFINITY), |(from, to), reading| (from.min(reading.station_mm), to.max(reading.station_mm)))
}

/// A value as it is read: to the nearest `step`, and to six decimals in any case, so that its text gives the same number back.
#[must_use]
pub fn as_read(value: f64, step: f64) -> f64 {
    let stepped = if step > 0.0 { (value / step).round() * step } else { value };
    let rounded = (stepped * 1e6).round() / 1e6;
    // No negative zero in a log.
    if rounded == 0.0 { 0.0 } else { rounded }
}

/// The power of ten that is at most a fifth of a standard uncertainty: as fine as anybody would write it down.
fn fine_step(u: f64) -> f64 {
    if u > 0.0 { 10f64.powi((u / 5.0).log10().floor() as i32) } else { 0.0 }
}
