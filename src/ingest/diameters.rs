use super::cells::{Row, Texts};
use super::clock::Moment;
use super::collector::Collector;
use super::columns::{Column, Columns, DIAMETERS};
use super::log::{Log, RowShape};
use super::numbers::decimals;
use super::passes::StatedCut;
use super::wide;
use super::words::{DIRECTIONS, direction, excludes};
use crate::trial::LogUnits;
use crate::trial::{DiameterReading, Direction, Place};
use std::collections::BTreeMap;
use std::sync::Arc;

/// The diameters of all files so far, and what each row states about its cut.
#[derive(Debug, Default)]
pub(super) struct DiameterRows {
    pub(super) readings: Vec<DiameterReading>,
    /// One for each reading: what its row states, before gaps are filled from its pass.
    pub(super) cuts: Vec<StatedCut>,
    /// One for each reading: its time of cutting.
    pub(super) moments: Vec<Option<Moment>>,
    /// Finest step of the reading that was written, mm, by gauge.
    pub(super) finest_mm: BTreeMap<Option<Arc<str>>, f64>,
    pub(super) texts: Texts,
}

/// How many rows a file has and how many are excluded.
#[derive(Debug, Clone, Copy, Default, PartialEq, Eq)]
pub(super) struct RowCount {
    pub(super) rows: u64,
    pub(super) excluded: u64,
}

impl DiameterRows {
    /// Notes how finely a diameter is written.
    pub(super) fn note_step(&mut self, gauge: Option<&Arc<str>>, text: &str, factor: f64) {
        let Some(digits) = decimals(text).and_then(|digits| i32::try_from(digits).ok()) else { return };
        let step = factor * 10_f64.powi(-digits);
        match self.finest_mm.get_mut(&gauge.cloned()) {
            Some(finest) => *finest = finest.min(step),
            None => {
                self.finest_mm.insert(gauge.cloned(), step);
            }
        }
    }
}

/// A reading with nothing but what every row has.
pub(super) fn bare_reading(place: Place, station_mm: f64, read_mm: f64) -> DiameterReading {
    DiameterReading {
        place,
        setting: 0,
        pass: 1,
        direction: Direction::ToHeadstock,
        station_mm,
        diameter_mm: read_mm,
        read_mm,
        repeat: None,
        angle_deg: None,
        depth_mm: 0.0,
        feed_mm_per_rev: 0.0,
        edge: None,
        time_min: None,
        measured_at: None,
        tool_shift_mm: 0.0,
        temperature_c: None,
        operator: None,
        gauge: None,
        excluded: None,
        note: None,
    }
}

/// Reads one file of diameters, long or wide.
pub(super) fn read(log: &Log<'_>, file: usize, units: Option<LogUnits>, rows: &mut DiameterRows, collector: &mut Collector) -> RowCount {
    if wide::is_wide(&log.header) {
        return wide::read(log, file, units, rows, collector);
    }
    let before = collector.errors();
    let columns = Columns::resolve(&log.header, DIAMETERS, &log.place(units), collector);
    if collector.errors() > before && (columns.get("station").is_none() || columns.get("diameter").is_none()) {
        return RowCount::default();
    }
    let long = LongColumns::of(&columns);
    let mut excluded = 0;
    let count = log.rows(&RowShape::of(&columns, log), collector, |row| {
        excluded += u64::from(excludes(row.text(long.exclude)));
        long.read(row, file, rows);
    });
    RowCount { rows: count, excluded }
}

struct LongColumns<'c> {
    station: Option<&'c Column>,
    diameter: Option<&'c Column>,
    setting: Option<&'c Column>,
    pass: Option<&'c Column>,
    direction: Option<&'c Column>,
    repeat: Option<&'c Column>,
    angle: Option<&'c Column>,
    depth: Option<&'c Column>,
    feed: Option<&'c Column>,
    edge: Option<&'c Column>,
    time: Option<&'c Column>,
    measured_at: Option<&'c Column>,
    tool_shift: Option<&'c Column>,
    temperature: Option<&'c Column>,
    operator: Option<&'c Column>,
    gauge: Option<&'c Column>,
    exclude: Option<&'c Column>,
    note: Option<&'c Column>,
}

impl<'c> LongColumns<'c> {
    fn of(columns: &'c Columns) -> Self {
        Self {
            station: columns.get("station"),
            diameter: columns.get("diameter"),
            setting: columns.get("setting"),
            pass: columns.get("pass"),
            direction: columns.get("direction"),
            repeat: columns.get("repeat"),
            angle: columns.get("angle"),
            depth: columns.get("depth"),
            feed: columns.get("feed"),
            edge: columns.get("edge"),
            time: columns.get("time"),
            measured_at: columns.get("measured_at"),
            tool_shift: columns.get("tool_shift"),
            temperature: columns.get("temperature"),
            operator: columns.get("operator"),
            gauge: columns.get("gauge"),
            exclude: columns.get("exclude"),
            note: columns.get("note"),
        }
    }

    /// Reads one row. An excluded row without a number is left out and only counted.
    fn read(&self, row: &mut Row<'_, '_>, file: usize, rows: &mut DiameterRows) {
        let reason = row.text(self.exclude);
        let excluded = if excludes(reason) { rows.texts.share(reason) } else { None };
        if excluded.is_some() && !self.readable(row) {
            return;
        }
        let station = row.needed(self.station);
        let diameter = row.needed(self.diameter).and_then(|number| self.diameter.and_then(|column| row.positive(number, column)));
        let setting = row.whole(self.setting, 0);
        let pass = row.whole(self.pass, 1);
        let depth = row.number(self.depth).and_then(|number| self.depth.and_then(|column| row.not_negative(number, column)));
        let feed = row.number(self.feed).and_then(|number| self.feed.and_then(|column| row.positive(number, column)));
        let cut = StatedCut {
            direction: row.word(self.direction, direction, DIRECTIONS),
            depth_mm: depth,
            feed_mm_per_rev: feed,
            edge: rows.texts.share(row.text(self.edge)),
            tool_shift_mm: row.number(self.tool_shift),
        };
        let repeat = if row.text(self.repeat).is_empty() { None } else { row.whole(self.repeat, 1) };
        let angle_deg = row.number(self.angle);
        let temperature_c = row.number(self.temperature).and_then(|celsius| self.bar_temperature(row, celsius));
        let moment = self.moment(row);
        let (Some(station_mm), Some(read_mm), Some(setting), Some(pass)) = (station, diameter, setting, pass) else { return };
        let gauge = rows.texts.share(row.text(self.gauge));
        if let Some(column) = self.diameter {
            rows.note_step(gauge.as_ref(), row.text(self.diameter), column.measure.step());
        }
        let reading = DiameterReading {
            setting,
            pass,
            repeat,
            angle_deg,
            measured_at: rows.texts.share(row.text(self.measured_at)),
            temperature_c,
            operator: rows.texts.share(row.text(self.operator)),
            gauge,
            excluded,
            note: rows.texts.share(row.text(self.note)),
            ..bare_reading(Place { file, row: row.number }, station_mm, read_mm)
        };
        rows.readings.push(reading);
        rows.cuts.push(cut);
        rows.moments.push(moment);
    }

    /// Whether a row can be read without a fault.
    fn readable(&self, row: &Row<'_, '_>) -> bool {
        let mut faults = Collector::default();
        let mut quiet = Row { file: row.file, number: row.number, mark: row.mark, cells: row.cells, collector: &mut faults };
        let numbers = [quiet.needed(self.station), quiet.needed(self.diameter)];
        numbers.iter().all(Option::is_some) && numbers[1].is_some_and(|diameter| diameter > 0.0)
    }

    fn bar_temperature(&self, row: &mut Row<'_, '_>, celsius: f64) -> Option<f64> {
        if (-50.0..=150.0).contains(&celsius) {
            return Some(celsius);
        }
        let text = row.text(self.temperature).to_owned();
        let header = self.temperature.map_or("", |column| column.header.as_str());
        row.error("out-of-range", header, || format!("`{text}`"), || "a bar's temperature lies between -50 and 150 °C".to_owned());
        None
    }

    fn moment(&self, row: &mut Row<'_, '_>) -> Option<Moment> {
        let text = row.text(self.time);
        if text.is_empty() {
            return None;
        }
        let moment = Moment::parse(text);
        if moment.is_none() {
            let text = text.to_owned();
            let header = self.time.map_or("", |column| column.header.as_str());
            row.error("not-a-time", header, || format!("`{text}`"), || "write 2026-03-14T09:30 or 09:30".to_owned());
        }
        moment
    }
}
