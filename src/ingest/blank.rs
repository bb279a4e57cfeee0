//! Settings and logs to start from, made of the tables that reading checks against, so that they cannot go stale.

use super::collector::Collector;
use super::defaults;
use super::diameter_rows::DiameterRows;
use super::log_kind::LogKind;
use super::settings::{Document, KEYS, Key, KeyKind, build};
use crate::trial::LogUnits;
use serde_json::Value;
use std::fmt::Write as _;

/// Tables that mean something by being there: they stay commented out.
const MEANINGFUL: &[&str] = &["machine.feet", "gauge.diameter.*", "testbar", "acceptance.limit[]", "simulate", "plan"];

/// What a key without a default may look like: its path and the text of its value.
const EXAMPLES: &[(&str, &str)] = &[
    ("trial.date", "2026-03-14"),
    ("trial.purpose", "\"sale\""),
    ("trial.paper", "\"acceptance\""),
    ("trial.measured_by", "\"the apprentice\""),
    ("trial.witness", "\"the foreman\""),
    ("trial.notes", "\"after the move to the new floor\""),
    ("trial.repair", "\"headstock aligned, March 2026\""),
    ("machine.name", "\"Quay Lathe 2\""),
    ("machine.serial", "\"Q-2\""),
    ("machine.class", "\"toolroom\""),
    ("machine.centre_height_mm", "115.0"),
    ("machine.swing_mm", "230.0"),
    ("machine.between_centres_mm", "600.0"),
    ("machine.feet.spacing_along_mm", "700.0"),
    ("machine.feet.spacing_across_mm", "150.0"),
    ("machine.feet.headstock_feet_to_chuck_face_mm", "120.0"),
    ("machine.feet.screw_pitch_mm", "1.25"),
    ("machine.feet.clockwise", "\"lowers\""),
    ("bar.diameter_mm", "40.0"),
    ("bar.length_mm", "160.0"),
    ("bar.collars_mm", "[[20.0, 35.0], [135.0, 150.0]]"),
    ("bar.relief_diameter_mm", "36.0"),
    ("cutting.rpm", "700.0"),
    ("cutting.tool_height_mm", "0.0"),
    ("gauge.diameter.name", "\"outside micrometer\""),
    ("gauge.diameter.*.name", "\"comparator\""),
    ("gauge.diameter.*.resolution_mm", "0.0005"),
    ("gauge.diameter.*.u_mm", "0.001"),
    ("gauge.diameter.*.calibration_u_mm", "0.0005"),
    ("gauge.level.name", "\"frame level\""),
    ("gauge.level.division_mm_per_m", "0.02"),
    ("gauge.indicator.name", "\"lever indicator\""),
    ("testbar.diameter_mm", "25.0"),
    ("acceptance.criteria", "\"workshop.toml\""),
    ("acceptance.decision_rule", "\"guard-band\""),
    ("acceptance.probability", "0.95"),
    ("acceptance.limit[].quantity", "\"taper\""),
    ("acceptance.limit[].limit_mm", "0.02"),
    ("acceptance.limit[].over_mm", "300.0"),
    ("acceptance.limit[].sense", "\"either\""),
    ("acceptance.limit[].floor_mm", "0.005"),
    ("simulate.stations_mm", "[25.0, 80.0, 145.0]"),
    ("simulate.depths_mm", "[0.1, 0.1, 0.2]"),
    ("simulate.feeds_mm_per_rev", "[0.1]"),
    ("simulate.level_stations_mm", "[100.0, 500.0]"),
    ("simulate.spindle_deg", "[0.0, 180.0]"),
    ("simulate.moves[].from_setting", "0"),
    ("simulate.moves[].to_setting", "1"),
    ("simulate.moves[].foot", "\"tailstock-rear\""),
    ("simulate.moves[].raise_mm", "-0.1"),
    ("simulate.truth.yaw_mm_per_m", "0.05"),
    ("simulate.truth.twist_mm_per_m_per_m", "-0.1"),
    ("simulate.truth.force_factor", "1.0"),
    ("simulate.truth.gauge_noise_factor", "1.0"),
    ("simulate.truth.between_pass_um", "1.0"),
    ("simulate.truth.to_tailstock_force_factor", "1.2"),
    ("simulate.truth.level_zero_mm_per_m", "0.02"),
    ("simulate.truth.run_out_mm", "0.01"),
    ("simulate.truth.vertical_mm_per_m", "0.03"),
    ("plan.settle", "[\"headstock-yaw\", \"bed-twist\"]"),
    ("plan.target_expanded_mm", "0.005"),
];

const SETTINGS_HEAD: &str = "\
# Settings of a trial. A line that begins with `# ` explains. A line such as `#key = value` is a setting: take its `#` away and
# write your own value. As it stands it is the value that is taken when nothing is stated, or an example where the text says so.
# Nothing here is required by `report`; `plan` and `simulate` need diameter_mm and length_mm in [bar].
# Lengths may be stated in inches: `_mm` becomes `_in`, `_mm_per_rev` `_in_per_rev`, `_mm_per_m` `_in_per_ft`, `_c` `_f`.
# A commented table, such as `#[machine.feet]`, needs its own `#` taken away too.
";

/// A settings file for the trial `name`: every key with its default, or an example where it has none, all commented out.
///
/// Taking the `#` of every setting away gives a file that is read without a fault. The defaults are those that reading fills in: they are
/// taken from a trial that states nothing.
#[must_use]
pub fn blank_settings(name: &str) -> String {
    let defaults = what_nothing_states(name);
    let mut text = String::from(SETTINGS_HEAD);
    let mut table = "";
    for key in KEYS {
        if key.table() != table {
            table = key.table();
            let mark = if MEANINGFUL.iter().any(|named| table.starts_with(named)) { "#" } else { "" };
            let title = match table.strip_suffix("[]") {
                Some(array) => format!("[[{array}]]"),
                None => format!("[{}]", table.replace('*', "comparator")),
            };
            let _ = writeln!(text, "\n{mark}{title}");
        }
        let (value, example) = value_of(key, &defaults);
        let setting = format!("#{} = {value}", key.name());
        let words = match key.kind {
            KeyKind::Word(words) => format!("; one of {}", words.join(", ")),
            KeyKind::Words(words) => format!("; any of {}", words.join(", ")),
            _ => String::new(),
        };
        let example = if example { " (example)" } else { "" };
        let _ = writeln!(text, "{setting:<40} # {}{words}{example}", key.about);
    }
    text
}

/// A log of that kind without readings: comments on every column, with unit and sign, and the header.
#[must_use]
pub fn blank_log(kind: LogKind) -> String {
    let all: Vec<&str> = kind.specs().iter().map(|spec| spec.name).collect();
    explained_header(kind, &all, LogUnits::Millimetre)
}

/// Comments on the named columns, with unit and sign, and a header of them in that order. Names that are none are left out.
#[must_use]
pub fn explained_header(kind: LogKind, columns: &[&str], units: LogUnits) -> String {
    let mut text = format!("# {}. Lines that begin with # are not read.\n", about(kind));
    if kind == LogKind::Clamp {
        text.push_str(
            "# Isolate the machine first, and have it stand supported so that it cannot tip while nuts are loose:\n\
             # never loosen hold-downs under a machine that is not supported.\n",
        );
    }
    text.push_str("# Take a column that you do not fill out of the header, or leave its cells empty where that is allowed below.\n");
    let mut header = Vec::new();
    for spec in columns.iter().filter_map(|name| kind.specs().iter().find(|spec| spec.name == *name)) {
        let filled = if spec.is_needed() {
            "every row"
        } else if matches!(spec.name, "setting" | "pass") {
            "every row, or none"
        } else {
            "may be empty"
        };
        let _ = writeln!(text, "#   {}: {} ({filled})", spec.header(units), spec.about);
        header.push(spec.header(units));
    }
    text.push_str(&header.join(","));
    text.push('\n');
    text
}

fn about(kind: LogKind) -> &'static str {
    match kind {
        LogKind::Diameters => "Diameters read along the turned bar, one reading a row; a taper needs two stations or more",
        LogKind::Levels => "Readings of a level on the carriage or across the ways, one a row",
        LogKind::Indicator => "An indicator on the carriage, run along a ground test bar (not along a bar just turned), one reading a row",
        LogKind::Clamp => "What an indicator on the carriage does while the nut of each foot is tightened, from all feet loose",
        LogKind::Moves => "What was done to the feet between two settings, one foot a row",
    }
}

/// What stands for each key where nobody states it: the text of its value in TOML, and whether that is only an example.
pub(super) fn stated_by_nobody() -> impl Fn(&Key) -> (String, bool) {
    let defaults = what_nothing_states("trial");
    move |key| value_of(key, &defaults)
}

/// The tables of a trial that states nothing, as the result file shows them.
fn what_nothing_states(name: &str) -> Value {
    let mut ignored = Collector::default();
    let document = Document::read("[machine.feet]\n[testbar]\n[simulate]\n[plan]\n", "", KEYS, &mut ignored);
    let trial = defaults::fill(build(&document, name, &mut ignored), &DiameterRows::default());
    let mut tables = serde_json::to_value(&trial).unwrap_or(Value::Null);
    // the keys of [trial] stand at the top of the result file
    if let Some(top) = tables.as_object_mut() {
        let identity: serde_json::Map<String, Value> = top.iter().map(|(key, value)| (key.clone(), value.clone())).collect();
        top.insert("trial".to_owned(), Value::Object(identity));
    }
    tables
}

/// The text of a key's value, and whether it is only an example.
fn value_of(key: &Key, defaults: &Value) -> (String, bool) {
    if let Some((_, text)) = EXAMPLES.iter().find(|(path, _)| *path == key.path) {
        return ((*text).to_owned(), true);
    }
    if let Some(text) = defaults.pointer(&pointer(key.path)).and_then(|value| as_toml(value, key.kind)) {
        return (text, false);
    }
    // what is simulated has the keys of the priors
    let prior = format!("/prior/{}", key.name());
    let text = defaults.pointer(&prior).filter(|_| key.table() == "simulate.truth").and_then(|value| as_toml(value, key.kind));
    (text.unwrap_or_else(|| placeholder(key.kind).to_owned()), true)
}

fn pointer(path: &str) -> String {
    format!("/{}", path.replace('.', "/"))
}

/// A value as TOML writes it; `None` for what is not stated.
fn as_toml(value: &Value, kind: KeyKind) -> Option<String> {
    match value {
        Value::Number(number) if matches!(kind, KeyKind::Whole { .. }) => Some(number.to_string()),
        Value::Number(number) => Some(format!("{:?}", number.as_f64()?)),
        Value::Bool(flag) => Some(flag.to_string()),
        Value::String(text) => Some(Value::from(text.as_str()).to_string()),
        Value::Array(items) if !items.is_empty() => {
            let items: Option<Vec<String>> = items.iter().map(|item| as_toml(item, kind)).collect();
            Some(format!("[{}]", items?.join(", ")))
        }
        _ => None,
    }
}

/// An example for a key that nobody gave one.
fn placeholder(kind: KeyKind) -> &'static str {
    match kind {
        KeyKind::Text => "\"…\"",
        KeyKind::Date => "2026-01-31",
        KeyKind::Flag => "false",
        KeyKind::Whole { .. } => "1",
        KeyKind::Number(_)
        | KeyKind::Length(_)
        | KeyKind::Feed(_)
        | KeyKind::Slope(_)
        | KeyKind::Temperature
        | KeyKind::TemperatureDifference
        | KeyKind::Pitch => "1.0",
        KeyKind::Numbers(_) | KeyKind::Lengths(_) | KeyKind::Feeds(_) => "[1.0]",
        KeyKind::Spans => "[[0.0, 1.0]]",
        KeyKind::Word(_) => "\"…\"",
        KeyKind::Words(_) => "[]",
    }
}
