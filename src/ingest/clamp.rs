use super::cells::{Row, Texts};
use super::checks::dial_slips;
use super::collector::Collector;
use super::header::column_specs::CLAMP;
use super::header::columns::{Column, Columns};
use super::header::empty_columns::leave_out;
use super::log::{Log, RowShape};
use super::words::{FEET, foot};
use crate::trial::LogUnits;
use crate::trial::{ClampReading, Foot, Place};

/// Reads one file of clamp readings; `u_mm` is what the dial reads to. Returns how many rows it has.
pub(super) fn read(
    log: &Log<'_>,
    file: usize,
    units: Option<LogUnits>,
    u_mm: f64,
    readings: &mut Vec<ClampReading>,
    collector: &mut Collector,
) -> u64 {
    let (errors, first) = (collector.errors(), readings.len());
    let mut columns = Columns::resolve(&log.header, CLAMP, &log.place(units), collector);
    leave_out(&mut columns, log);
    let (foot, station, change) = (columns.get("foot"), columns.get("station"), columns.get("change"));
    let (setting, note) = (columns.get("setting"), columns.get("note"));
    let (Some(_), Some(station), Some(dial)) = (foot, station, change) else { return 0 };
    let mut texts = Texts::default();
    let shape = RowShape::of(&columns, log, &mut log.text_blocks(), collector);
    let rows = log.rows(&shape, collector, |row: &mut Row<'_, '_>| {
        let foot = needed_foot(row, foot);
        let (station, change, setting) = (row.needed(Some(station)), row.needed(Some(dial)), row.whole(setting, 0));
        let (Some(foot), Some(station_mm), Some(change_mm), Some(setting)) = (foot, station, change, setting) else { return };
        let place = Place { file, row: row.number };
        readings.push(ClampReading { place, setting, foot, station_mm, change_mm, note: texts.share(row.text(note)) });
    });
    if collector.errors() == errors {
        let place = dial_slips::Place { file: &log.file, station, dial, u_mm };
        dial_slips::clamp(readings.get(first..).unwrap_or_default(), &place, collector);
    }
    rows
}

/// The foot that a cell must name.
pub(super) fn needed_foot(row: &mut Row<'_, '_>, column: Option<&Column>) -> Option<Foot> {
    if row.text(column).is_empty() {
        let header = column.map_or("", |column| column.header.as_str());
        row.error("missing-value", header, || "an empty cell".to_owned(), || format!("name one of {}", FEET.join(", ")));
        return None;
    }
    row.word(column, foot, FEET)
}
