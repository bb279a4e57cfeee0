//! What was believed of the causes before the log: the priors, and which of them the settings changed.

use crate::report::prose::Prose;
use crate::report::quantity::{Pen, in_result};
use crate::trial::{Prior, Trial};
use minijinja::Value;
use serde::Serialize;

/// One key of the settings' `[prior]` table.
#[derive(Serialize)]
pub struct PriorRow {
    key: &'static str,
    meaning: &'static str,
    value: Value,
    unit: &'static str,
    /// The default, where the settings took another value.
    instead_of: Option<String>,
}

type Read = fn(&Prior) -> f64;

const ROWS: [(&str, &str, &str, Read); 17] = [
    ("yaw_mm_per_m", "headstock out of line: standard deviation of its yaw", "mm/m", |p| p.yaw_mm_per_m),
    ("twist_mm_per_m_per_m", "twisted bed: standard deviation of its twist", "(mm/m)/m", |p| p.twist_mm_per_m_per_m),
    (
        "wear_um_per_m",
        "tool wear: scale of its rate on the radius, per metre of bar that the pass has cut along (half-normal, never negative)",
        "µm/m of bar",
        |p| p.wear_um_per_m,
    ),
    ("fresh_edge_um", "extra wear of a fresh edge, on the radius (half-normal)", "µm", |p| p.fresh_edge_um),
    ("fresh_edge_m", "cutting path (metres of surface past the edge, not of bar) over which a fresh edge settles", "m of path", |p| {
        p.fresh_edge_m
    }),
    ("force_factor", "cutting force against Kienzle’s: factor of one standard deviation (log-normal, median 1)", "", |p| p.force_factor),
    ("chuck_tilt_urad_per_nm", "tilting of the bar in the chuck (half-normal)", "µrad/(N·m)", |p| p.chuck_tilt_urad_per_nm),
    ("centre_compliance_um_per_n", "yielding of a centre (half-normal)", "µm/N", |p| p.centre_compliance_um_per_n),
    ("way_wear_um", "worn ways: standard deviation at their worst place, on the diameter", "µm", |p| p.way_wear_um),
    ("way_wear_length_mm", "length along the bed over which their wear varies", "mm", |p| p.way_wear_length_mm),
    ("offset_mm", "tailstock set over: standard deviation of its offset", "mm", |p| p.offset_mm),
    ("thermal_drift_um_per_min", "warming of tool and holder: standard deviation of its rate on the radius", "µm/min", |p| {
        p.thermal_drift_um_per_min
    }),
    ("free_twist_mm_per_m_per_m", "twist of the bed with all feet loose: standard deviation", "(mm/m)/m", |p| p.free_twist_mm_per_m_per_m),
    ("move_gain", "what raising a foot does against a rigid tilt: median", "", |p| p.move_gain),
    ("move_gain_factor", "its factor of one standard deviation (log-normal)", "", |p| p.move_gain_factor),
    ("gauge_noise_factor", "scatter of a gauge against its data sheet: factor of one standard deviation (log-normal)", "", |p| {
        p.gauge_noise_factor
    }),
    ("presence", "probability that a cause is more than negligible; bending under the cut always is", "", |p| p.presence),
];

/// Each prior that the settings changed, in a sentence: whoever reads a decision has to see it.
pub fn changed(trial: &Trial, pen: Pen) -> Vec<Value> {
    let standard = Prior::default();
    let text = |value: f64| crate::report::fixed(value, crate::report::decimals_as_written(value, 4));
    ROWS.into_iter()
        .filter(|(_, _, _, read)| read(&trial.prior) != read(&standard))
        .map(|(key, meaning, unit, read)| {
            let value = read(&trial.prior);
            let shown = pen.with_unit(value, crate::report::decimals_as_written(value, 4), unit, in_result(format!("trial.prior.{key}")));
            let who = if trial.has_widened(key) {
                "The program widened a prior, as the taper is far more than usual machines make"
            } else {
                "The settings change a prior"
            };
            Prose::new(format!("{who}: {key} ({meaning}) is "))
                .number(shown)
                .text(format!(", not {}, the default. Estimates of causes rest on it.", text(read(&standard))))
                .html()
        })
        .collect()
}

/// The priors of `trial`.
pub fn priors(trial: &Trial, pen: Pen) -> Vec<PriorRow> {
    let standard = Prior::default();
    let shown = |value: f64| crate::report::fixed(value, crate::report::decimals_as_written(value, 4));
    ROWS.into_iter()
        .map(|(key, meaning, unit, read)| {
            let (value, default) = (read(&trial.prior), read(&standard));
            let decimals = crate::report::decimals_as_written(value, 4);
            PriorRow {
                key,
                meaning,
                value: pen.with_unit(value, decimals, "", in_result(format!("trial.prior.{key}"))).cell(),
                unit,
                instead_of: (value != default).then(|| shown(default)),
            }
        })
        .collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn every_key_of_the_table_is_named_once() {
        let Ok(serde_json::Value::Object(table)) = serde_json::to_value(Prior::default()) else { panic!("a table") };
        let mut keys: Vec<&str> = table.keys().map(String::as_str).collect();
        let mut named: Vec<&str> = ROWS.iter().map(|row| row.0).collect();
        keys.sort_unstable();
        named.sort_unstable();
        assert_eq!(keys, named);
        for (key, _, _, read) in ROWS {
            assert_eq!(table.get(key).and_then(serde_json::Value::as_f64), Some(read(&Prior::default())), "{key}");
        }
    }
}
