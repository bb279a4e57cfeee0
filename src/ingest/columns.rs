use super::collector::Collector;
use super::header::{HeaderCell, Holds, MOST_WORDS, Measure, Unit, default_measure};
use super::words::nearest;
use crate::findings::{Finding, Severity};
use crate::trial::LogUnits;

/// A column that a kind of log may have.
#[derive(Debug, Clone, Copy)]
pub(super) struct ColumnSpec {
    /// Its name in the contract.
    pub(super) name: &'static str,
    holds: Holds,
    needed: bool,
    /// Other spellings, words joined by `_`.
    aliases: &'static [&'static str],
    /// One clause on what it means and which way is positive.
    pub(super) about: &'static str,
}

const fn needed(name: &'static str, holds: Holds, aliases: &'static [&'static str], about: &'static str) -> ColumnSpec {
    ColumnSpec { name, holds, needed: true, aliases, about }
}

const fn optional(name: &'static str, holds: Holds, aliases: &'static [&'static str], about: &'static str) -> ColumnSpec {
    ColumnSpec { name, holds, needed: false, aliases, about }
}

impl ColumnSpec {
    /// Whether a log of its kind must have it.
    pub(super) fn is_needed(&self) -> bool {
        self.needed
    }

    /// Its header with the metric unit, such as `station_mm`.
    pub(super) fn metric_header(&self) -> String {
        let unit = match self.holds {
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

const STATION: &[&str] = &["z", "stn", "stations", "position", "pos", "distance", "dist", "place", "location"];
const SETTING: ColumnSpec = optional(
    "setting",
    Holds::Whole,
    &["set", "setting_no", "setting_number"],
    "state of the feet: 0 at first, a new number after every adjustment",
);
const NOTE: ColumnSpec = optional("note", Holds::Text, &["notes", "remark", "remarks", "comment", "comments"], "free text");

/// Columns of `diameters`.
pub(super) static DIAMETERS: &[ColumnSpec] = &[
    needed(
        "station",
        Holds::Length,
        STATION,
        "place along the bar from the chuck face (between centres: from the headstock centre) towards the tailstock, 0 or more",
    ),
    needed(
        "diameter",
        Holds::Length,
        &["dia", "d", "diam", "diameters", "ø", "⌀", "measured_diameter", "diameter_measured"],
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
        "any text but 0, no and false takes the reading out and is the reason",
    ),
    NOTE,
];

/// Columns of `levels`.
pub(super) static LEVELS: &[ColumnSpec] = &[
    needed("station", Holds::Length, STATION, "place on the bed from the chuck face towards the tailstock"),
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
pub(super) static INDICATOR: &[ColumnSpec] = &[
    needed("station", Holds::Length, STATION, "place along the test bar from the chuck face towards the tailstock"),
    needed("reading", Holds::Length, &["indicator", "indicator_reading", "dial", "dti"], "rises as the plunger is pushed in"),
    SETTING,
    optional("spindle", Holds::Degrees, &["spindle_angle"], "angle of the spindle; 0 and 180 remove the run-out of the test bar"),
    optional("plane", Holds::Text, &[], "side (at axis height on the operator's side) or top"),
    NOTE,
];

/// Columns of `clamp`.
pub(super) static CLAMP: &[ColumnSpec] = &[
    needed(
        "foot",
        Holds::Text,
        &["feet", "foot_tightened"],
        "foot whose nut was tightened: headstock-front, headstock-rear, tailstock-front or tailstock-rear; one row a foot in the order tightened",
    ),
    needed("station", Holds::Length, STATION, "where the carriage with the indicator stood, from the chuck face"),
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
pub(super) static MOVES: &[ColumnSpec] = &[
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

/// A column of a log: where it is, what it holds, how its numbers become metric.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Column {
    pub(super) index: usize,
    /// As the header writes it.
    pub(super) header: String,
    pub(super) name: &'static str,
    pub(super) holds: Holds,
    pub(super) measure: Measure,
    pub(super) needed: bool,
}

/// The columns that a header has.
#[derive(Debug, Clone, Default)]
pub(super) struct Columns {
    found: Vec<Column>,
}

/// What a header's cell is among the columns of one kind.
pub(super) fn identify(cell: &HeaderCell, specs: &'static [ColumnSpec]) -> Option<(&'static ColumnSpec, Unit)> {
    (1..=cell.words.len().min(MOST_WORDS)).rev().find_map(|named| {
        let name = cell.words.get(..named)?.join("_");
        let spec = specs.iter().find(|spec| spec.name == name || spec.aliases.contains(&name.as_str()))?;
        Some((spec, cell.unit(named, spec.holds)?))
    })
}

/// Where a header stands and how its gaps are filled.
pub(super) struct HeaderPlace<'h> {
    pub(super) file: &'h str,
    pub(super) row: u64,
    pub(super) units: Option<LogUnits>,
}

impl HeaderPlace<'_> {
    pub(super) fn error(&self, code: &'static str, column: &str, found: String, help: String) -> Finding {
        Finding::new(code, Severity::Error, found, help).in_file(self.file).at_row(self.row).in_column(column)
    }

    /// The measure of a length column, or an error when it has none.
    pub(super) fn measure(&self, cell: &HeaderCell, holds: Holds, unit: Unit, collector: &mut Collector) -> Measure {
        let wanted = match holds {
            Holds::Slope => "mm/m, in/ft, in/10in, arcsec or div",
            Holds::Temperature => "C or F",
            Holds::Feed => "mm/rev or in/rev",
            Holds::Degrees => "deg",
            _ => "mm, um, cm, m, in or thou",
        };
        match unit {
            Unit::Known(measure) => return measure,
            Unit::Missing => {
                if let Some(measure) = self.units.and_then(|units| default_measure(holds, units)) {
                    return measure;
                }
                let help = match holds {
                    Holds::Length | Holds::Feed => format!("write the unit in the header, as in `{} (mm)`, or give --log-units", cell.text),
                    _ => format!("write the unit in the header: {wanted}"),
                };
                collector.add(self.error("missing-unit", &cell.text, format!("`{}` without a unit", cell.text), help));
            }
            Unit::Unknown(text) => {
                let found = format!("unit `{text}` in `{}`", cell.text);
                collector.add(self.error("unknown-unit", &cell.text, found, format!("use {wanted}")));
            }
        }
        Measure::Times(1.0)
    }
}

impl Columns {
    /// Finds the columns of `specs` in a header; faults go to `collector`.
    pub(super) fn resolve(header: &[HeaderCell], specs: &'static [ColumnSpec], place: &HeaderPlace<'_>, collector: &mut Collector) -> Self {
        let mut columns = Self::default();
        for (index, cell) in header.iter().enumerate().filter(|(_, cell)| !cell.is_empty()) {
            let Some((spec, unit)) = identify(cell, specs) else {
                unknown_column(cell, specs, place, collector);
                continue;
            };
            if let Some(first) = columns.get(spec.name) {
                let found = format!("`{}` and `{}` are both {}", first.header, cell.text, spec.name);
                collector.add(place.error("duplicate-column", &cell.text, found, "keep one of them, or rename the other".to_owned()));
                continue;
            }
            let measure = place.measure(cell, spec.holds, unit, collector);
            columns.found.push(Column {
                index,
                header: cell.text.clone(),
                name: spec.name,
                holds: spec.holds,
                measure,
                needed: spec.needed,
            });
        }
        for spec in specs.iter().filter(|spec| spec.needed && columns.get(spec.name).is_none()) {
            let header: Vec<&str> = header.iter().map(|cell| cell.text.as_str()).collect();
            let found = format!("no column `{}` in `{}`", spec.name, header.join(" | "));
            let finding = place.error("missing-column", spec.name, found, format!("add a column `{}`", spec.metric_header()));
            collector.add(finding);
        }
        columns
    }

    /// The column of that name, if the header has it.
    pub(super) fn get(&self, name: &str) -> Option<&Column> {
        self.found.iter().find(|column| column.name == name)
    }

    /// All columns, to be changed.
    pub(super) fn iter_mut(&mut self) -> impl Iterator<Item = &mut Column> {
        self.found.iter_mut()
    }

    /// Cells up to the last column that every line must have; a line may leave out cells after it, which are then empty.
    pub(super) fn least_cells(&self) -> usize {
        self.found.iter().filter(|column| column.needed).map(|column| column.index + 1).max().unwrap_or(0)
    }

    /// Indexes of the columns that hold numbers.
    pub(super) fn numeric(&self) -> Vec<usize> {
        self.found.iter().filter(|column| column.holds != Holds::Text).map(|column| column.index).collect()
    }

    /// Whether the last of `width` columns holds text.
    pub(super) fn ends_in_text(&self, width: usize) -> bool {
        self.found.iter().any(|column| column.index + 1 == width && column.holds == Holds::Text)
    }
}

/// The first column of an unknown header that is nearly the name of a needed one, as advice.
pub(super) fn slip_in_header(header: &[HeaderCell]) -> Option<String> {
    const NEEDED: [&str; 6] = ["station", "diameter", "roll", "reading", "from_setting", "change"];
    header.iter().find_map(|cell| {
        let first = cell.words.first().map(String::as_str).filter(|first| first.len() > 3 && !NEEDED.contains(first))?;
        let near = nearest(first, NEEDED)?;
        Some(format!("perhaps `{}` is `{near}`", cell.text))
    })
}

fn unknown_column(cell: &HeaderCell, specs: &'static [ColumnSpec], place: &HeaderPlace<'_>, collector: &mut Collector) {
    let first = cell.words.first().map_or("", String::as_str);
    let joined = cell.words.join("_");
    let names = || specs.iter().map(|spec| spec.name).filter(|name| name.len() > 3);
    let near = nearest(&joined, names()).or_else(|| if first.len() > 3 { nearest(first, names()) } else { None });
    let known: Vec<&str> = specs.iter().map(|spec| spec.name).collect();
    let found = format!("column `{}`", cell.text);
    match near {
        Some(name) => collector.add(place.error("unknown-column", &cell.text, found, format!("perhaps `{name}`"))),
        None => collector.add(
            Finding::new("unread-column", Severity::Warning, found, format!("it is not read; known are {}", known.join(", ")))
                .in_file(place.file)
                .at_row(place.row)
                .in_column(cell.text.clone()),
        ),
    }
}
