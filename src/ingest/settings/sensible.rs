//! Values that nobody is likely to mean: they are used as stated, and asked about.
//!
//! The bounds are common practice, no source. Each lies well above what a workshop has, and well below what the usual slip makes of it: micrometres or
//! hundredths for millimetres, a feed per minute for one per revolution.

use super::document::{Document, Value};
use super::slips::{StatedIn, depth_asked, feed_asked, other_slope, other_unit, shown, slope_stated};
use crate::findings::{Finding, Severity};
use crate::quantities::{MM_PER_INCH, sentence_case};
use crate::trial::Quantity;

/// Largest uncertainty or resolution of a gauge for diameters or of an indicator, mm: a hand caliper is three times better.
const MOST_GAUGE_MM: f64 = 0.1;
/// Largest uncertainty or division of a level, mm/m: a builder's level is twice as good.
const MOST_LEVEL_MM_PER_M: f64 = 2.0;
/// Largest limit, mm (mm/m, or a ratio): a bar with so much taper is seen to be one without a gauge.
const MOST_LIMIT_MM: f64 = 1.0;
/// Least limit of adjacent bands, a ratio: between three bands alike it is 0.5, and each of ten steps of an even taper is 0.11 of the whole.
const LEAST_RATIO: f64 = 0.1;
/// Largest pitch of a foot's screw, mm: that of an M64 screw.
const MOST_PITCH_MM: f64 = 6.0;
/// Largest difference of temperature along a bar, K: that of a bar that has just been cut dry.
const MOST_SPREAD_C: f64 = 15.0;

/// The slip that a value too large comes from.
#[derive(Clone, Copy)]
enum Slip {
    /// Another unit; what is usual lies between these, mm or mm/m.
    Unit(f64, f64),
    /// The pitch of a screw: its diameter, its threads an inch, or its pitch for them.
    Pitch,
    /// The spread of temperature: a temperature.
    Spread,
}

/// What is usual, said in millimetres and in inches.
type Usual = (&'static str, &'static str);

const MICROMETER: Usual = (
    "a micrometer in a careful hand reads to 0.002 mm, a caliper to 0.03 mm",
    "a micrometer in a careful hand reads to 0.0001 in, a caliper to 0.001 in",
);
const RESOLUTION: Usual = ("a micrometer shows 0.01 or 0.001 mm", "a micrometer shows 0.001 or 0.0001 in");
const LIMITS: Usual = ("limits are hundredths of a millimetre", "limits are ten-thousandths of an inch");
const GAUGE: Slip = Slip::Unit(4e-4, 0.05);
const LEVEL: Slip = Slip::Unit(0.002, 0.5);
const LIMIT: Slip = Slip::Unit(1e-3, 0.3);

/// Path of the key (`*` a name, `[]` a list), the largest value that is not asked about, the usual slip, and what is usual.
const BOUNDS: &[(&str, f64, Slip, Usual)] = &[
    ("gauge.diameter.u_mm", MOST_GAUGE_MM, GAUGE, MICROMETER),
    ("gauge.diameter.calibration_u_mm", MOST_GAUGE_MM, GAUGE, MICROMETER),
    ("gauge.diameter.resolution_mm", MOST_GAUGE_MM, GAUGE, RESOLUTION),
    ("gauge.diameter.*.u_mm", MOST_GAUGE_MM, GAUGE, MICROMETER),
    ("gauge.diameter.*.calibration_u_mm", MOST_GAUGE_MM, GAUGE, MICROMETER),
    ("gauge.diameter.*.resolution_mm", MOST_GAUGE_MM, GAUGE, RESOLUTION),
    ("gauge.indicator.u_mm", MOST_GAUGE_MM, GAUGE, ("an indicator reads to 0.001 or 0.01 mm", "an indicator reads to 0.0001 or 0.0005 in")),
    (
        "gauge.level.u_mm_per_m",
        MOST_LEVEL_MM_PER_M,
        LEVEL,
        ("a machinist’s level reads to 0.01 to 0.2 mm/m", "a machinist’s level reads to 0.0001 to 0.002 in a foot"),
    ),
    (
        "gauge.level.division_mm_per_m",
        MOST_LEVEL_MM_PER_M,
        LEVEL,
        ("a division of a level is 0.02 to 0.5 mm/m", "a division of a level is 0.0002 to 0.005 in a foot"),
    ),
    ("acceptance.limit[].limit_mm", MOST_LIMIT_MM, LIMIT, LIMITS),
    ("limit[].limit_mm", MOST_LIMIT_MM, LIMIT, LIMITS),
    ("plan.target_expanded_mm", MOST_LIMIT_MM, LIMIT, ("a quarter of the limit is usual", "a quarter of the limit is usual")),
    (
        "machine.feet.screw_pitch_mm",
        MOST_PITCH_MM,
        Slip::Pitch,
        ("a foot’s screw climbs 0.5 to 3 mm a turn", "a foot’s screw has 8 to 50 threads an inch"),
    ),
    (
        "conditions.temperature_spread_c",
        MOST_SPREAD_C,
        Slip::Spread,
        ("the ends of a bar that was left to cool are alike to 2 °C", "the ends of a bar that was left to cool are alike to 4 °F"),
    ),
];

/// A warning for each value of the settings or the criteria that lies beyond what is sensible, in the key and the unit that stated it.
pub(super) fn unlikely(document: &Document) -> Vec<Finding> {
    let mut found = Vec::new();
    for (place, entry) in &document.entries {
        let Value::Number(value) = entry.value else { continue };
        let Some((_, most, slip, usual)) = BOUNDS.iter().find(|(path, ..)| matches(path, place)) else { continue };
        let quantity = place.strip_suffix("limit_mm").and_then(|limit| document.text(&format!("{limit}quantity")));
        let (ratio, slope) = [Quantity::AdjacentBands, Quantity::LevelVariation].map(|one| quantity == Some(one.name())).into();
        if entry.inch && (ratio || slope) {
            continue; // an error says that these are no lengths
        }
        if value <= *most && !(ratio && value < LEAST_RATIO) {
            continue;
        }
        let usual = sentence(if entry.inch { usual.1 } else { usual.0 });
        found.push(match slip {
            _ if ratio => warned(document, place, shown(value), ratio_asked(value)),
            Slip::Unit(least, most) if slope => {
                let usual = sentence("such limits are 0.02 to 0.1 mm/m");
                warned(
                    document,
                    place,
                    format!("{} mm/m", shown(value)),
                    format!("{}. {usual}", other_slope(value, false, (*least, *most))),
                )
            }
            Slip::Unit(least, most) if place.ends_with("_mm_per_m") => {
                let unit = if entry.inch { "in a foot" } else { "mm/m" };
                let stated = format!("{} {unit}", shown(slope_stated(value, entry.inch)));
                warned(document, place, stated, format!("{}. {usual}", other_slope(value, entry.inch, (*least, *most))))
            }
            Slip::Unit(least, most) => {
                let unit = StatedIn::inches(entry.inch);
                warned(document, place, unit.shown(value), format!("{}. {usual}", other_unit(value, unit, (*least, *most))))
            }
            Slip::Pitch => {
                let stated =
                    if entry.inch { format!("{} threads an inch", shown(MM_PER_INCH / value)) } else { format!("{} mm", shown(value)) };
                warned(document, place, stated, format!("{} {usual}", pitch_asked(value, entry.inch)))
            }
            Slip::Spread => {
                let stated = if entry.inch { format!("{} °F", shown(value * 9.0 / 5.0)) } else { format!("{} °C", shown(value)) };
                warned(document, place, stated, format!("{} {usual}", spread_asked(value, entry.inch)))
            }
        });
    }
    let number = |key: &str| document.number(key);
    let unit = |key: &str| StatedIn::inches(document.in_inches(key));
    let (key, diameter) = ("cutting.depth_mm", number("bar.diameter_mm"));
    if let Some(depth) = number(key)
        && let Some(help) = depth_asked(depth, diameter, unit(key))
    {
        found.push(warned(document, key, unit(key).shown(depth), help));
    }
    let key = "cutting.feed_mm_per_rev";
    if let Some(feed) = number(key)
        && let Some(help) = feed_asked(feed, number("cutting.rpm"), unit(key))
    {
        found.push(warned(document, key, format!("{} a revolution", unit(key).shown(feed)), help));
    }
    found
}

/// What to ask about a ratio above 1 or below a tenth.
fn ratio_asked(ratio: f64) -> String {
    if ratio < LEAST_RATIO {
        return "is it a length in mm? This quantity is the largest difference of neighbouring bands over that of the end bands; a length is a limit of \
                `diameter-consistency`. It is a ratio, 75 % is written 0.75; it is used as stated"
            .to_owned();
    }
    let asked = if ratio <= 100.0 { format!("is it in per cent? Then write {}: ", shown(ratio / 100.0)) } else { String::new() };
    format!("{asked}it is a ratio, 75 % is written 0.75; it is used as stated")
}

/// What to ask about the pitch of a foot's screw.
fn pitch_asked(pitch_mm: f64, inch: bool) -> String {
    if !inch {
        return "is it the screw’s diameter, or its threads an inch (screw_threads_per_inch)?".to_owned();
    }
    let stated = MM_PER_INCH / pitch_mm;
    if stated >= 0.4 {
        format!("is it the pitch in mm? Then write screw_pitch_mm = {}.", shown(stated))
    } else {
        format!("is it the pitch in inches? Then write {}.", shown(1.0 / stated))
    }
}

/// What to ask about a spread of temperature.
fn spread_asked(spread_c: f64, inch: bool) -> String {
    if !inch {
        return "is it the temperature of the room (temperature_c)?".to_owned();
    }
    let stated = spread_c * 9.0 / 5.0;
    let meant = stated - 32.0;
    let converted = if (0.0..=MOST_SPREAD_C * 9.0 / 5.0).contains(&meant) && meant > 0.0 {
        format!(", or a difference converted as a temperature is? Then write {}, without the 32. A", shown(meant))
    } else {
        "? A".to_owned()
    };
    format!("is it the temperature of the room (temperature_f){converted} difference of 2 °C is one of 3.6 °F.")
}

fn warned(document: &Document, place: &str, stated: String, help: String) -> Finding {
    let key = place.rsplit('.').next().unwrap_or(place);
    let found = format!("{stated} for `{}`", name(key, document.in_inches(place)));
    document.finding("unlikely-value", Severity::Warning, place, found, help)
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

/// What is usual, as a sentence, and that the value stays.
fn sentence(usual: &str) -> String {
    format!("{}; it is used as stated", sentence_case(usual))
}
