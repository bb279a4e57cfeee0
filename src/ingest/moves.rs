use super::cells::{Row, Texts};
use super::checks::unlikely;
use super::clamp::needed_foot;
use super::collector::Collector;
use super::header::column_specs::MOVES;
use super::header::columns::Columns;
use super::log::{Log, RowShape};
use crate::trial::LogUnits;
use crate::trial::{Feet, Move, Place, ScrewSense};

/// Reads one file of moves; turns become a raise where the feet's screws are known. Returns how many rows it has.
pub(super) fn read(
    log: &Log<'_>,
    file: usize,
    units: Option<LogUnits>,
    feet: Option<&Feet>,
    moves: &mut Vec<Move>,
    collector: &mut Collector,
) -> u64 {
    let before = collector.errors();
    let columns = Columns::resolve(&log.header, MOVES, &log.place(units), collector);
    let (from, to, foot) = (columns.get("from_setting"), columns.get("to_setting"), columns.get("foot"));
    let (raise, turns, note) = (columns.get("raise"), columns.get("turns"), columns.get("note"));
    if raise.is_none() && turns.is_none() {
        let place = log.place(units);
        collector.add(place.error(
            "missing-column",
            "raise",
            "neither `raise` nor `turns`".to_owned(),
            "add a column `raise_mm` or `turns`".to_owned(),
        ));
        return 0;
    }
    if from.is_none() || to.is_none() || foot.is_none() {
        return 0;
    }
    let is_clean = collector.errors() == before;
    let mut texts = Texts::default();
    let shape = RowShape::of(&columns, log, &mut log.text_blocks(), collector);
    log.rows(&shape, collector, |row: &mut Row<'_, '_>| {
        let (from, to, foot) = (row.whole(from, 0), row.whole(to, 0), needed_foot(row, foot));
        let errors = row.collector.errors();
        let (raised, turned) = (row.number(raise), row.number(turns));
        if row.collector.errors() > errors {
            return;
        }
        if raised.is_none() == turned.is_none() {
            let found = if raised.is_none() { "neither a raise nor turns" } else { "both a raise and turns" };
            let header = raise.or(turns).map_or("", |column| column.header.as_str());
            row.error("raise-or-turns", header, || found.to_owned(), || "state one of the two".to_owned());
            return;
        }
        let (Some(from_setting), Some(to_setting), Some(foot)) = (from, to, foot) else { return };
        if from_setting == to_setting {
            let found = || format!("a move from setting {from_setting} to itself");
            row.error("same-setting", "to_setting", found, || "every adjustment makes a new setting".to_owned());
            return;
        }
        if is_clean {
            unlikely::moves(row, raise.zip(raised), turns.zip(turned));
        }
        let raise_mm = raised.or_else(|| turned.and_then(|turns| raise_of(turns, feet)));
        let place = Place { file, row: row.number };
        moves.push(Move { place, from_setting, to_setting, foot, raise_mm, turns: turned, note: texts.share(row.text(note)) });
    })
}

/// The raise that `turns` make, mm: turns times pitch, upwards where clockwise raises the machine. `None` where the screw is not known.
pub(super) fn raise_of(turns: f64, feet: Option<&Feet>) -> Option<f64> {
    let feet = feet?;
    let sign = match feet.clockwise? {
        ScrewSense::Raises => 1.0,
        ScrewSense::Lowers => -1.0,
    };
    Some(sign * turns * feet.screw_pitch_mm?)
}
