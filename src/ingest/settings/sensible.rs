//! Values that nobody is likely to mean: they are used as stated, and asked about.
//!
//! The bounds are common practice, no source. Each lies well above what a workshop has, and well below what the usual slip makes of it: micrometres or
//! hundredths for millimetres, a feed per minute for one per revolution.

use super::document::{Document, Value};
use crate::findings::{Finding, Severity};
use crate::quantities::sentence_case;

/// Largest radial depth of a test cut that is not asked about, mm; on a thin bar a tenth of its diameter.
const MOST_DEPTH_MM: f64 = 3.0;
/// The same as a share of the bar's diameter.
const MOST_DEPTH_SHARE: f64 = 0.1;
/// Largest feed that is not asked about, mm a revolution: above it threads are cut, not bars.
const MOST_FEED_MM_PER_REV: f64 = 2.0;
/// Largest uncertainty or resolution of a gauge for diameters or of an indicator, mm: a hand caliper is three times better.
const MOST_GAUGE_MM: f64 = 0.1;
/// Largest uncertainty or division of a level, mm/m: a builder's level is twice as good.
const MOST_LEVEL_MM_PER_M: f64 = 2.0;
/// Largest limit, mm (mm/m, or a ratio): a bar with so much taper is seen to be one without a gauge.
const MOST_LIMIT_MM: f64 = 1.0;
/// Largest pitch of a foot's screw, mm: that of an M64 screw.
const MOST_PITCH_MM: f64 = 6.0;
/// Largest difference of temperature along a bar, K: that of a bar that has just been cut dry.
const MOST_SPREAD_C: f64 = 15.0;

/// The slip that a value too large comes from.
#[derive(Clone, Copy)]
enum Slip {
    /// Micrometres for millimetres, thou for inches.
    Thousandths,
    /// Something else, asked in these words.
    Asked(&'static str),
}

const MICROMETER: &str = "a micrometer in a careful hand reads to 0.002 mm, a caliper to 0.03 mm";

/// Path of the key (`*` a name, `[]` a list), the largest value that is not asked about, the usual slip, and what is usual.
const BOUNDS: &[(&str, f64, Slip, &str)] = &[
    ("gauge.diameter.u_mm", MOST_GAUGE_MM, Slip::Thousandths, MICROMETER),
    ("gauge.diameter.calibration_u_mm", MOST_GAUGE_MM, Slip::Thousandths, MICROMETER),
    ("gauge.diameter.resolution_mm", MOST_GAUGE_MM, Slip::Thousandths, "a micrometer shows 0.01 or 0.001 mm"),
    ("gauge.diameter.*.u_mm", MOST_GAUGE_MM, Slip::Thousandths, MICROMETER),
    ("gauge.diameter.*.calibration_u_mm", MOST_GAUGE_MM, Slip::Thousandths, MICROMETER),
    ("gauge.diameter.*.resolution_mm", MOST_GAUGE_MM, Slip::Thousandths, "a micrometer shows 0.01 or 0.001 mm"),
    ("gauge.indicator.u_mm", MOST_GAUGE_MM, Slip::Thousandths, "an indicator reads to 0.001 or 0.01 mm"),
    ("gauge.level.u_mm_per_m", MOST_LEVEL_MM_PER_M, Slip::Thousandths, "a machinist’s level reads to 0.01 to 0.2 mm/m"),
    ("gauge.level.division_mm_per_m", MOST_LEVEL_MM_PER_M, Slip::Thousandths, "a division of a level is 0.02 to 0.5 mm/m"),
    ("acceptance.limit[].limit_mm", MOST_LIMIT_MM, Slip::Thousandths, "limits are hundredths of a millimetre"),
    ("limit[].limit_mm", MOST_LIMIT_MM, Slip::Thousandths, "limits are hundredths of a millimetre"),
    ("plan.target_expanded_mm", MOST_LIMIT_MM, Slip::Thousandths, "a quarter of the limit is usual"),
    (
        "machine.feet.screw_pitch_mm",
        MOST_PITCH_MM,
        Slip::Asked("is it the screw’s diameter, or its threads per inch (screw_threads_per_inch)?"),
        "a foot’s screw climbs 0.5 to 3 mm a turn",
    ),
    (
        "conditions.temperature_spread_c",
        MOST_SPREAD_C,
        Slip::Asked("is it the temperature of the room (temperature_c)?"),
        "the ends of a bar that was left to cool are alike to 2 °C",
    ),
];

/// A warning for each value of the settings or the criteria that lies beyond what is sensible.
pub(super) fn unlikely(document: &Document) -> Vec<Finding> {
    let mut found = Vec::new();
    for (place, entry) in &document.entries {
        let Value::Number(value) = entry.value else { continue };
        let Some((_, most, slip, usual)) = BOUNDS.iter().find(|(path, ..)| matches(path, place)) else { continue };
        if value <= *most {
            continue;
        }
        let help = match slip {
            Slip::Asked(question) => format!("{question} {}", sentence(usual)),
            Slip::Thousandths => {
                let (unit, stated) = as_stated(place, entry.inch, value);
                format!("is it in {unit}? Then write {}. {}", shown(stated / 1000.0), sentence(usual))
            }
        };
        found.push(warned(document, place, value, help));
    }
    let number = |key: &str| document.number(key);
    if let Some(depth) = number("cutting.depth_mm")
        && let Some(help) = depth_asked(depth, number("bar.diameter_mm"))
    {
        found.push(warned(document, "cutting.depth_mm", depth, help));
    }
    if let Some(feed) = number("cutting.feed_mm_per_rev")
        && let Some(help) = feed_asked(feed, number("cutting.rpm"))
    {
        found.push(warned(document, "cutting.feed_mm_per_rev", feed, help));
    }
    found
}

/// What to ask about a radial depth of cut, where it is more than a test cut takes from a bar of that diameter.
pub(in crate::ingest) fn depth_asked(depth_mm: f64, diameter_mm: Option<f64>) -> Option<String> {
    let most =
        diameter_mm.filter(|diameter| *diameter > 0.0).map_or(MOST_DEPTH_MM, |diameter| MOST_DEPTH_MM.min(MOST_DEPTH_SHARE * diameter));
    (depth_mm > most).then(|| {
        format!(
            "is it in hundredths of a millimetre? Then write {} mm. The depth is on the radius: this takes {} mm off the diameter; a test cut takes \
             0.02 to 0.5 mm off the radius; it is used as stated",
            shown(depth_mm / 100.0),
            shown(2.0 * depth_mm)
        )
    })
}

/// What to ask about a feed, where it is more than a bar is turned with.
pub(in crate::ingest) fn feed_asked(feed_mm_per_rev: f64, rpm: Option<f64>) -> Option<String> {
    (feed_mm_per_rev > MOST_FEED_MM_PER_REV).then(|| {
        let divided = rpm.filter(|rpm| *rpm > 0.0).map_or_else(
            || "divide it by the spindle’s speed".to_owned(),
            |rpm| format!("at {} rev/min write {}", shown(rpm), shown((1e3 * feed_mm_per_rev / rpm).round() / 1e3)),
        );
        format!("is it in mm a minute? Then {divided}. A finishing feed is 0.05 to 0.3 mm a revolution; it is used as stated")
    })
}

fn warned(document: &Document, place: &str, value: f64, help: String) -> Finding {
    let inch = document.in_inches(place);
    let key = place.rsplit('.').next().unwrap_or(place);
    let unit = match key {
        _ if key.ends_with("_mm_per_m") => " mm/m",
        _ if key.ends_with("_mm_per_rev") => " mm a revolution",
        _ if key.ends_with("_mm") => " mm",
        _ => " °C",
    };
    let converted = if inch { ", from inches" } else { "" };
    document.finding(
        "unlikely-value",
        Severity::Warning,
        place,
        format!("{}{unit} for `{}`{converted}", shown(value), name(key, inch)),
        help,
    )
}

/// The key as it was written.
fn name(key: &str, inch: bool) -> String {
    if !inch {
        return key.to_owned();
    }
    match key {
        "screw_pitch_mm" => "screw_threads_per_inch".to_owned(),
        "temperature_spread_c" => "temperature_spread_f".to_owned(),
        _ => key.replace("_mm_per_m", "_in_per_ft").replace("_mm", "_in"),
    }
}

/// The name of a thousandth of the unit in which a value was stated, and the value in that unit.
fn as_stated(place: &str, inch: bool, value: f64) -> (&'static str, f64) {
    match (inch, place.ends_with("_mm_per_m")) {
        (false, false) => ("µm", value),
        (false, true) => ("µm/m", value),
        (true, false) => ("thousandths of an inch", value / crate::quantities::MM_PER_INCH),
        (true, true) => ("thousandths of an inch a foot", value * 12.0 / 1000.0),
    }
}

/// Whether a concrete path, such as `acceptance.limit[0].limit_mm`, is one of a pattern such as `acceptance.limit[].limit_mm`.
fn matches(pattern: &str, place: &str) -> bool {
    let (mut wanted, mut parts) = (pattern.split('.'), place.split('.'));
    let alike = |wanted: &str, part: &str| match wanted.strip_suffix("[]") {
        Some(list) => part.strip_prefix(list).is_some_and(|rest| rest.starts_with('[')),
        None => wanted == part || wanted == "*",
    };
    loop {
        match (wanted.next(), parts.next()) {
            (None, None) => return true,
            (Some(wanted), Some(part)) if alike(wanted, part) => {}
            _ => return false,
        }
    }
}

/// A number without the tail of its conversion.
fn shown(value: f64) -> String {
    ((value * 1e6).round() / 1e6).to_string()
}

/// What is usual, as a sentence, and that the value stays.
fn sentence(usual: &str) -> String {
    format!("{}; it is used as stated", sentence_case(usual))
}
