//! The truth beside simulated logs, as JSON.

use super::contributions::true_contributions;
use super::readings::{PARTS, TrueDiameter};
use super::{Nature, WornWays};
use crate::trial::Trial;
use serde_json::{Map, Value, json};

/// Name of the file.
pub(super) const NAME: &str = "truth.json";

/// The truth of a simulated trial as JSON text.
///
/// `parameters` of the machine, `settings` with twist, offset and the contribution and peak of every cause in µm, `edges` with their wear, and one entry
/// of `diameters` a cut and station with the true diameter. Keys are those of `[simulate.truth]` and of the result file.
pub(super) fn text(trial: &Trial, nature: &Nature, truths: &[TrueDiameter], seed: u64) -> String {
    let value = json!({
        "schema": "taperwright-truth/1",
        "trial": trial.identity.name,
        "seed": seed,
        "parameters": parameters(nature),
        "edges": nature.wear_um_per_m.iter().map(|(edge, wear)| json!({ "edge": edge.as_deref(), "wear_um_per_m": wear })).collect::<Vec<_>>(),
        "settings": settings(trial, nature, truths),
        "diameters": diameters(truths),
    });
    let mut text = serde_json::to_string_pretty(&value).unwrap_or_default();
    text.push('\n');
    text
}

fn parameters(nature: &Nature) -> Value {
    let (way_wear_um, way_wear_length_mm) = match &nature.worn_ways {
        WornWays::Exponential { worst_um, length_mm } => (json!(worst_um), json!(length_mm)),
        WornWays::None => (json!(0.0), Value::Null),
        WornWays::Tabulated(table) => (json!(table.iter().map(|[_, mm]| 1000.0 * mm).collect::<Vec<_>>()), Value::Null),
    };
    json!({
        "roll_arm_mm": nature.roll_arm_mm,
        "yaw_mm_per_m": nature.yaw_mm_per_m,
        "force_factor": nature.force.all,
        "to_tailstock_force_factor": nature.force.to_tailstock,
        "chuck_tilt_urad_per_nm": round(nature.compliances.chuck_tilt_rad_per_nmm * 1e9),
        "centre_compliance_um_per_n": round(nature.compliances.tailstock_centre_mm_per_n * 1e3),
        "fresh_edge_um": nature.fresh_edge_um,
        "fresh_edge_m": nature.fresh_edge_m,
        "way_wear_um": way_wear_um,
        "way_wear_length_mm": way_wear_length_mm,
        "thermal_drift_um_per_min": nature.thermal_drift_um_per_min,
        "free_twist_mm_per_m_per_m": nature.free_twist_mm_per_m_per_m,
        "move_gain": nature.move_gain,
        "vertical_mm_per_m": nature.vertical_mm_per_m,
        "level_zero_mm_per_m": nature.level_zero_mm_per_m,
        "run_out_mm": nature.run_out_mm,
        "test_bar_taper_um": round(nature.test_bar_taper_um),
        "spread": nature.spread,
    })
}

fn settings(trial: &Trial, nature: &Nature, truths: &[TrueDiameter]) -> Vec<Value> {
    let contributions = true_contributions(trial, truths);
    let each = |(setting, twist): (&u32, &f64)| {
        let (mut ends, mut peaks) = (Map::new(), Map::new());
        for one in contributions.iter().filter(|one| one.setting == *setting) {
            ends.insert(one.cause.to_owned(), json!(round(one.contribution_um)));
            peaks.insert(one.cause.to_owned(), json!(round(one.peak_um)));
        }
        json!({
            "setting": setting,
            "twist_mm_per_m_per_m": round(*twist),
            "offset_mm": round(nature.offset(*setting)),
            "contribution_um": ends,
            "peak_um": peaks,
        })
    };
    nature.twist_mm_per_m_per_m.iter().map(each).collect()
}

/// One entry a cut and station (repeats share it).
fn diameters(truths: &[TrueDiameter]) -> Vec<Value> {
    let mut entries = Vec::new();
    let mut last: Option<(u32, u32, u64)> = None;
    for truth in truths {
        let point = &truth.point;
        let key = (point.setting, point.pass, point.station_mm.to_bits());
        if last == Some(key) {
            continue;
        }
        last = Some(key);
        let mut parts = Map::new();
        for (name, um) in PARTS.into_iter().zip(truth.parts_um) {
            parts.insert(name.to_owned(), json!(round(um)));
        }
        entries.push(json!({
            "setting": point.setting,
            "pass": point.pass,
            "direction": point.direction,
            "station_mm": point.station_mm,
            "diameter_mm": (truth.diameter_mm * 1e8).round() / 1e8,
            "parts_um": parts,
        }));
    }
    entries
}

/// To six decimals: more is noise of the arithmetic.
fn round(value: f64) -> f64 {
    let rounded = (value * 1e6).round() / 1e6;
    if rounded == 0.0 { 0.0 } else { rounded }
}
