//! Which columns a kind of log may have: names, other spellings, what they hold and mean.

use super::{Holds, Measure, unit_of};
use crate::trial::LogUnits;

/// A column that a kind of log may have.
#[derive(Debug, Clone, Copy)]
pub(in crate::ingest) struct ColumnSpec {
    /// Its name in the contract.
    pub(in crate::ingest) name: &'static str,
    pub(in crate::ingest) holds: Holds,
    pub(in crate::ingest) needed: bool,
    /// Other spellings, words joined by `_`.
    pub(in crate::ingest) aliases: &'static [&'static str],
    /// One clause on what it means and which way is positive.
    pub(in crate::ingest) about: &'static str,
}

const fn needed(name: &'static str, holds: Holds, aliases: &'static [&'static str], about: &'static str) -> ColumnSpec {
    ColumnSpec { name, holds, needed: true, aliases, about }
}

const fn optional(name: &'static str, holds: Holds, aliases: &'static [&'static str], about: &'static str) -> ColumnSpec {
    ColumnSpec { name, holds, needed: false, aliases, about }
}

impl ColumnSpec {
    /// Whether a log of its kind must have it.
    pub(in crate::ingest) fn is_needed(&self) -> bool {
        self.needed
    }

    /// Its header with the metric unit, such as `station_mm`.
    pub(in crate::ingest) fn metric_header(&self) -> String {
        self.header(LogUnits::Millimetre)
    }

    /// Its header with the unit, such as `station_mm` or `station_in`.
    pub(in crate::ingest) fn header(&self, units: LogUnits) -> String {
        let inch = units == LogUnits::Inch;
        let unit = match self.holds {
            Holds::Length if inch => "_in",
            Holds::Feed if inch => "_in_per_rev",
            Holds::Slope if inch => "_in_per_ft",
            Holds::Temperature if inch => "_f",
            Holds::Length => "_mm",
            Holds::Feed => "_mm_per_rev",
            Holds::Slope => "_mm_per_m",
            Holds::Temperature => "_c",
            Holds::Degrees => "_deg",
            Holds::Whole | Holds::Turns | Holds::Text => "",
        };
        format!("{}{unit}", self.name)
    }
}

impl ColumnSpec {
    /// Its header where its numbers are in `measure`; the metric one where that is not known.
    pub(in crate::ingest) fn header_in(&self, measure: Option<Measure>) -> String {
        let units: &[&str] = match self.holds {
            Holds::Length => &["mm", "um", "cm", "m", "in", "thou"],
            Holds::Feed => &["mm_per_rev", "in_per_rev"],
            Holds::Slope => &["mm_per_m", "in_per_ft", "in_per_10in", "arcsec", "div"],
            Holds::Temperature => &["c", "f"],
            Holds::Degrees | Holds::Whole | Holds::Turns | Holds::Text => &[],
        };
        let unit = units.iter().find(|unit| measure.is_some() && unit_of(&unit.replace('_', ""), self.holds) == measure);
        unit.map_or_else(|| self.metric_header(), |unit| format!("{}_{unit}", self.name))
    }
}

const STATION: &[&str] = &["z", "stn", "stations", "position", "pos", "distance", "dist", "place", "location"];
const DIAMETER: &[&str] = &["dia", "d", "diam", "diameters", "ø", "⌀"];
/// Names that mean the diameter where no other column may hold it. What usually is the size of the stock (`bar diameter`, `nominal`) is none.
pub(in crate::ingest) const SOFT_DIAMETER: &[&str] = &[
    "od",
    "o_d",
    "measured_diameter",
    "measured_dia",
    "measured_diam",
    "measured_od",
    "actual_diameter",
    "actual_dia",
    "actual_od",
    "mean_diameter",
    "mean_dia",
    "average_diameter",
    "average_dia",
    "avg_diameter",
    "avg_dia",
    "final_diameter",
    "finished_diameter",
    "turned_diameter",
    "outside_diameter",
    "outside_dia",
    "outer_diameter",
    "outer_dia",
    "micrometer_reading",
];
const SETTING: ColumnSpec = optional(
    "setting",
    Holds::Whole,
    &["set", "setting_no", "setting_number"],
    "state of the feet: 0 at first, a new number after every adjustment",
);
const NOTE: ColumnSpec = optional("note", Holds::Text, &["notes", "remark", "remarks", "comment", "comments"], "free text");

/// Columns of `diameters`.
pub(in crate::ingest) static DIAMETERS: &[ColumnSpec] = &[
    needed(
        "station",
        Holds::Length,
        STATION,
        "place along the bar from the chuck face, the front of its jaws (between centres: from the headstock centre), towards the tailstock, 0 or more",
    ),
    needed(
        "diameter",
        Holds::Length,
        DIAMETER,
        "the diameter read there, not the radius; a taper is positive when the tailstock end is larger",
    ),
    SETTING,
    optional(
        "pass",
        Holds::Whole,
        &["cut", "pass_no", "pass_nr", "pass_number", "cut_no"],
        "number of the cut, from 1; a pass is one cut with the cross slide left alone",
    ),
    optional(
        "direction",
        Holds::Text,
        &["dir", "direction_of_cut", "cut_direction", "cutting_direction"],
        "which way the tool travelled: to-headstock or to-tailstock",
    ),
    optional("repeat", Holds::Whole, &["rep", "repeat_no", "repetition", "reading_no"], "number of the reading at this station, from 1"),
    optional("angle", Holds::Degrees, &["angular_position", "bar_angle"], "angle of the bar at which it was read"),
    optional(
        "depth",
        Holds::Length,
        &["depth_of_cut", "doc", "radial_depth", "depth_radial"],
        "radial depth of cut; 0 for a return or spring stroke",
    ),
    optional("feed", Holds::Feed, &["feed_rate", "feedrate"], "feed in one revolution"),
    optional(
        "edge",
        Holds::Text,
        &["insert", "tool_edge", "cutting_edge", "corner"],
        "name of the cutting edge; a new name is a fresh edge",
    ),
    optional(
        "time",
        Holds::Text,
        &["cut_at", "cut_time", "time_cut", "time_of_cut", "time_of_cutting"],
        "when this station was cut or its pass began: 2026-03-14T09:30 or 09:30",
    ),
    optional("measured_at", Holds::Text, &["measured", "time_measured", "time_of_measurement"], "when it was measured"),
    optional(
        "tool_shift",
        Holds::Length,
        &["shift", "top_slide_shift"],
        "how far the top slide was moved along the bar, positive towards the tailstock",
    ),
    optional(
        "temperature",
        Holds::Temperature,
        &["temp", "bar_temperature", "bar_temp"],
        "temperature of the bar there; the diameter is brought to 20 °C",
    ),
    optional("operator", Holds::Text, &["measured_by", "by"], "who read it"),
    optional("gauge", Holds::Text, &["gage", "instrument", "micrometer"], "name of the gauge, where more than one is used"),
    optional(
        "exclude",
        Holds::Text,
        &["excluded", "reject", "rejected"],
        "any text but 0, no, false and the like (-, none, keep, ok) takes the reading out and is the reason",
    ),
    NOTE,
];

/// Columns of `levels`.
pub(in crate::ingest) static LEVELS: &[ColumnSpec] = &[
    needed("station", Holds::Length, STATION, "place on the bed from the chuck face, the front of its jaws, towards the tailstock"),
    needed(
        "roll",
        Holds::Slope,
        &["level", "level_reading", "roll_reading"],
        "roll across the bed; rear way high is positive, whichever way the level faces",
    ),
    SETTING,
    optional("reversed", Holds::Text, &["turned", "end_for_end"], "yes where the level was turned end for end"),
    optional(
        "reference_roll",
        Holds::Slope,
        &["reference", "ref_roll", "headstock_roll"],
        "a second level standing on the headstock, same sign",
    ),
    NOTE,
];

/// Columns of `indicator`.
pub(in crate::ingest) static INDICATOR: &[ColumnSpec] = &[
    needed("station", Holds::Length, STATION, "place along the test bar from the chuck face, the front of its jaws, towards the tailstock"),
    needed("reading", Holds::Length, &["indicator", "indicator_reading", "dial", "dti"], "rises as the plunger is pushed in"),
    SETTING,
    optional("spindle", Holds::Degrees, &["spindle_angle"], "angle of the spindle; 0 and 180 remove the run-out of the test bar"),
    optional("plane", Holds::Text, &[], "side (at axis height on the operator's side) or top"),
    NOTE,
];

/// Columns of `clamp`.
pub(in crate::ingest) static CLAMP: &[ColumnSpec] = &[
    needed(
        "foot",
        Holds::Text,
        &["feet", "foot_tightened"],
        "foot whose nut was tightened: headstock-front, headstock-rear, tailstock-front or tailstock-rear; one row a foot in the order tightened",
    ),
    needed("station", Holds::Length, STATION, "where the carriage with the indicator stood, from the chuck face, the front of its jaws"),
    needed(
        "change",
        Holds::Length,
        &["change_of_reading", "delta", "movement"],
        "change of the indicator's reading; it rises as the plunger is pushed in",
    ),
    SETTING,
    NOTE,
];

/// Columns of `moves`.
pub(in crate::ingest) static MOVES: &[ColumnSpec] = &[
    needed("from_setting", Holds::Whole, &["from", "setting_from", "setting_before"], "setting before the move"),
    needed("to_setting", Holds::Whole, &["to", "setting_to", "setting_after"], "setting after it"),
    needed("foot", Holds::Text, &["foot_moved"], "foot moved: headstock-front, headstock-rear, tailstock-front or tailstock-rear"),
    optional(
        "raise",
        Holds::Length,
        &["raised", "raised_by", "lift"],
        "how far it was raised; lowered is negative; leave empty where turns are given",
    ),
    optional("turns", Holds::Turns, &["turn", "screw_turns"], "turns of the screw instead, clockwise seen from above is positive"),
    NOTE,
];
