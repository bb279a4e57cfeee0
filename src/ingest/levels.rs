use super::cells::{Row, Texts};
use super::checks::level_slips::Rolls;
use super::collector::Collector;
use super::header::Measure;
use super::header::column_specs::LEVELS;
use super::header::columns::{Column, Columns};
use super::header::empty_columns::leave_out;
use super::log::{Log, RowShape};
use super::words::yes_no;
use crate::trial::LogUnits;
use crate::trial::{LevelReading, Place};

/// Reads one file of levels; `division_mm_per_m` is the value of one division where readings are in divisions, `u_mm_per_m` what the level reads to. Returns how
/// many rows it has.
pub(super) fn read(
    log: &Log<'_>,
    file: usize,
    units: Option<LogUnits>,
    (division_mm_per_m, u_mm_per_m): (Option<f64>, f64),
    readings: &mut Vec<LevelReading>,
    collector: &mut Collector,
) -> u64 {
    let (errors, first) = (collector.errors(), readings.len());
    let mut columns = Columns::resolve(&log.header, LEVELS, &log.place(units), collector);
    leave_out(&mut columns, log);
    for column in columns.iter_mut().filter(|column| column.measure == Measure::Divisions) {
        match division_mm_per_m {
            Some(division) => column.measure = Measure::Times(division),
            None => {
                let place = log.place(units);
                let help = "state division_mm_per_m (or division_in_per_ft) in [gauge.level], or log the roll in mm/m";
                collector.add(place.error(
                    "missing-division",
                    &column.header,
                    format!("`{}` in divisions of unknown value", column.header),
                    help.to_owned(),
                ));
            }
        }
    }
    let (station, roll, setting) = (columns.get("station"), columns.get("roll"), columns.get("setting"));
    let (reversed, reference, note) = (columns.get("reversed"), columns.get("reference_roll"), columns.get("note"));
    let (Some(station), Some(roll)) = (station, roll) else { return 0 };
    let mut texts = Texts::default();
    let shape = RowShape::of(&columns, log, &mut log.text_blocks(), collector);
    let rows = log.rows(&shape, collector, |row: &mut Row<'_, '_>| {
        let (station, roll, setting) = (row.needed(Some(station)), row.needed(Some(roll)), row.whole(setting, 0));
        let reversed = is_reversed(row, reversed);
        let reference_roll_mm_per_m = row.number(reference);
        let (Some(station_mm), Some(roll_mm_per_m), Some(setting), Some(reversed)) = (station, roll, setting, reversed) else { return };
        let place = Place { file, row: row.number };
        let note = texts.share(row.text(note));
        readings.push(LevelReading { place, setting, station_mm, roll_mm_per_m, reversed, reference_roll_mm_per_m, note });
    });
    if collector.errors() == errors {
        let readings = readings.get(first..).unwrap_or_default();
        Rolls { readings, file: &log.file, station, roll, u_mm_per_m }.check(collector);
    }
    rows
}

fn is_reversed(row: &mut Row<'_, '_>, column: Option<&Column>) -> Option<bool> {
    if row.text(column).is_empty() { Some(false) } else { row.word(column, yes_no, &["yes", "no"]) }
}
