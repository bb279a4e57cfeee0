//! Levels, indicator and clamp as rows of the joint model.

use super::block::{Column, Known, Rows, Scale, Spread};
use super::rows::Context;
use super::unknowns::Meaning;
use crate::physics::{Support, clamp, indicator, level};
use crate::trial::{ClampReading, Feet, Foot, Holding, IndicatorReading, LevelReading, TestBar};

/// Prior standard deviation of run-out where the test bar begins, mm (common practice, no source).
pub(super) const RUN_OUT_MM: f64 = 0.01;
/// Prior standard deviation of how run-out grows along the test bar, mm per mm: 0.02 mm in 300 (common practice, no source).
pub(super) const RUN_OUT_PER_MM: f64 = 0.02 / 300.0;

/// Levels of one setting: `φ − reference = c ± z₀ + τZ/1000 + roll of worn ways`.
///
/// The difference of two levels has twice the variance of one.
pub(super) fn level_rows(context: &Context, setting: u32, readings: &[&LevelReading], noise: usize) -> Rows {
    let terms: Vec<_> = readings.iter().map(|r| level::functional(r.station_mm, r.reversed)).collect();
    let places: Vec<f64> = readings.iter().map(|r| r.station_mm).collect();
    let mut columns: Vec<Column> = Vec::new();
    columns.extend(context.twist_column(setting, Scale::One, terms.iter().map(|t| t.twist).collect()));
    columns.extend(context.column(&Meaning::LevelZero, Scale::One, terms.iter().map(|t| t.zero).collect()));
    let factor = terms.first().map_or(0.0, |t| t.way_wear_over_arm);
    columns.extend(context.way_columns(Scale::InverseRollArm, factor, &places));
    Rows {
        readings: readings.iter().map(|r| r.roll_mm_per_m - r.reference_roll_mm_per_m.unwrap_or(0.0)).collect(),
        noise: vec![noise; readings.len()],
        variance: readings.iter().map(|r| if r.reference_roll_mm_per_m.is_some() { 2.0 } else { 1.0 }).collect(),
        random: Vec::new(),
        columns,
        repeats: Vec::new(),
        bent: None,
    }
}

/// An indicator run along the side of a test bar in one setting.
pub(super) fn indicator_rows(
    context: &Context,
    setting: u32,
    readings: &[&IndicatorReading],
    bar: &TestBar,
    support: &Support,
    noise: usize,
) -> Rows {
    let terms: Vec<_> = readings.iter().map(|r| indicator::side(r.station_mm, r.spindle_deg, support)).collect();
    let places: Vec<f64> = readings.iter().map(|r| r.station_mm).collect();
    let mut columns: Vec<Column> = Vec::new();
    if bar.holding == Holding::Centres {
        columns.extend(context.column(&Meaning::Offset { setting }, Scale::One, terms.iter().map(|t| t.offset).collect()));
    } else {
        columns.extend(context.column(&Meaning::Yaw, Scale::One, terms.iter().map(|t| t.yaw).collect()));
        columns.extend(context.twist_column(setting, Scale::RollArm, terms.iter().map(|t| t.arm_twist).collect()));
    }
    let factor = terms.first().map_or(0.0, |t| t.way_wear);
    columns.extend(context.way_columns(Scale::One, factor, &places));
    // A taper in µm over the certificate's length as a slope.
    let per_um = if bar.length_mm > 0.0 { 1.0 / (1000.0 * bar.length_mm) } else { 0.0 };
    if let Some(column) = context.column(&Meaning::BarTaper, Scale::One, terms.iter().map(|t| t.bar_taper * per_um).collect()) {
        columns.push(Column { known: Known::Constant(bar.taper_um), ..column });
    }
    let random = (0..4)
        .map(|k| {
            let sd = if k < 2 { RUN_OUT_MM } else { RUN_OUT_PER_MM };
            (Spread::Known(sd), terms.iter().map(|t| t.run_out[k]).collect())
        })
        .collect();
    Rows {
        readings: readings.iter().map(|r| r.reading_mm).collect(),
        noise: vec![noise; readings.len()],
        variance: vec![1.0; readings.len()],
        random,
        columns,
        repeats: Vec::new(),
        bent: None,
    }
}

/// The clamp log of one foot in one setting: `Δy = c − hΔτ(Z + Z₀)/10⁶`.
///
/// The first three feet have steps of their own; the fourth takes what is left of the setting's twist less the free bed's.
pub(super) fn clamp_rows(
    context: &Context,
    setting: u32,
    foot: Foot,
    readings: &[&ClampReading],
    feet: Option<&Feet>,
    noise: usize,
) -> Rows {
    let values: Vec<f64> = readings.iter().map(|r| clamp::arm_twist_coefficient(r.station_mm, feet)).collect();
    let place = Foot::ALL.iter().position(|f| *f == foot).unwrap_or(0);
    let step = |foot: usize| context.index(&Meaning::ClampStep { setting, foot });
    let mut columns = Vec::new();
    if place < 3 {
        columns.extend(context.column(&Meaning::ClampStep { setting, foot: place }, Scale::RollArm, values));
    } else if let Some(twist) = context.twist_column(setting, Scale::RollArm, values) {
        let mut targets = twist.targets.clone();
        targets.extend(context.index(&Meaning::FreeTwist { setting }).map(|i| (i, -1.0)));
        targets.extend((0..3).filter_map(|foot| step(foot).map(|i| (i, -1.0))));
        columns.push(Column { targets, ..twist });
    }
    Rows {
        readings: readings.iter().map(|r| r.change_mm).collect(),
        noise: vec![noise; readings.len()],
        variance: vec![1.0; readings.len()],
        random: Vec::new(),
        columns,
        repeats: Vec::new(),
        bent: None,
    }
}
