use super::cells::Row;
use super::clock::Moment;
use super::collector::Collector;
use super::diameter_rows::DiameterRows;
use super::header::Measure;
use super::header::columns::{Column, Columns};
use super::passes::StatedCut;
use super::settings::StatedIn;
use super::words::{DIRECTIONS, direction, excludes};
use crate::trial::{Bits, DiameterReading, Direction, Place};

/// The columns of a long log of diameters.
pub(super) struct LongColumns<'c> {
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
    pub(super) exclude: Option<&'c Column>,
    note: Option<&'c Column>,
}

impl<'c> LongColumns<'c> {
    pub(super) fn of(columns: &'c Columns) -> Self {
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

    /// The column of diameters, as the header writes it.
    pub(super) fn header(&self) -> String {
        self.diameter.map_or_else(String::new, |column| column.header.clone())
    }

    /// The units of the columns of depth and feed; millimetres where there is none.
    pub(super) fn cut_units(&self) -> (StatedIn, StatedIn) {
        let unit = |column: Option<&Column>| StatedIn::of(column.map_or(1.0, |column| column.measure.step()));
        (unit(self.depth), unit(self.feed))
    }

    /// Whether the log says which pass a reading is of.
    pub(super) fn numbers_passes(&self) -> bool {
        self.pass.is_some()
    }

    /// The header and the scale of the column of temperatures.
    pub(super) fn temperatures(&self) -> Option<(String, Measure)> {
        self.temperature.map(|column| (column.header.clone(), column.measure))
    }

    /// Reads one row. An excluded row without a number is left out and only counted.
    pub(super) fn read(&self, row: &mut Row<'_, '_>, file: usize, rows: &mut DiameterRows) {
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
            direction: self.direction(row, rows),
            depth_mm: depth.map(Bits),
            feed_mm_per_rev: feed.map(Bits),
            edge: rows.texts.share(row.text(self.edge)),
            tool_shift_mm: row.number(self.tool_shift).map(Bits),
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
            ..DiameterReading::bare(Place { file, row: row.number }, station_mm, read_mm)
        };
        rows.push(&reading, cut, moment);
    }

    /// The direction of a row; a word that the row above has too is not looked up again.
    fn direction(&self, row: &mut Row<'_, '_>, rows: &mut DiameterRows) -> Option<Direction> {
        let text = row.text(self.direction);
        if let Some((seen, direction)) = &rows.direction
            && seen == text
        {
            return Some(*direction);
        }
        let found = row.word(self.direction, direction, DIRECTIONS)?;
        rows.direction = Some((row.text(self.direction).to_owned(), found));
        Some(found)
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
            row.error(
                "not-a-time",
                header,
                || format!("`{text}`"),
                || "write 2026-03-14T09:30 or 09:30; 9:30 pm and 14.03.2026 09:30 are read too".to_owned(),
            );
        }
        moment
    }
}
