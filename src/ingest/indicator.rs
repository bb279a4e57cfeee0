use super::cells::{Row, Texts};
use super::checks::dial_slips;
use super::collector::Collector;
use super::header::column_specs::INDICATOR;
use super::header::columns::Columns;
use super::header::empty_columns::leave_out;
use super::log::{Log, RowShape};
use super::words::plane;
use crate::trial::LogUnits;
use crate::trial::{IndicatorReading, Place, Plane};

/// Reads one file of indicator readings; `u_mm` is what the dial reads to. Returns how many rows it has.
pub(super) fn read(
    log: &Log<'_>,
    file: usize,
    units: Option<LogUnits>,
    u_mm: f64,
    readings: &mut Vec<IndicatorReading>,
    collector: &mut Collector,
) -> u64 {
    let (errors, first) = (collector.errors(), readings.len());
    let mut columns = Columns::resolve(&log.header, INDICATOR, &log.place(units), collector);
    leave_out(&mut columns, log);
    let (station, reading, setting) = (columns.get("station"), columns.get("reading"), columns.get("setting"));
    let (spindle, side_or_top, note) = (columns.get("spindle"), columns.get("plane"), columns.get("note"));
    let (Some(station), Some(dial)) = (station, reading) else { return 0 };
    let mut texts = Texts::default();
    let shape = RowShape::of(&columns, log, &mut log.text_blocks(), collector);
    let rows = log.rows(&shape, collector, |row: &mut Row<'_, '_>| {
        let (station, reading, setting) = (row.needed(Some(station)), row.needed(Some(dial)), row.whole(setting, 0));
        let spindle_deg = row.number(spindle).unwrap_or(0.0);
        let plane = row.word(side_or_top, plane, &["side", "top"]).unwrap_or(Plane::Side);
        let (Some(station_mm), Some(reading_mm), Some(setting)) = (station, reading, setting) else { return };
        let place = Place { file, row: row.number };
        let note = texts.share(row.text(note));
        readings.push(IndicatorReading { place, setting, station_mm, reading_mm, spindle_deg, plane, note });
    });
    if collector.errors() == errors {
        let place = dial_slips::Place { file: &log.file, station, dial, u_mm };
        dial_slips::indicator(readings.get(first..).unwrap_or_default(), &place, collector);
    }
    rows
}
