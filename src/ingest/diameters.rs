use super::blocks::Blocks;
use super::cells::{Row, Texts};
use super::clock::Moment;
use super::collector::Collector;
use super::columns::{Column, Columns, DIAMETERS};
use super::lines::Lines;
use super::log::{Log, RowShape};
use super::moments::Moments;
use super::numbers::decimals;
use super::passes::{Stated, StatedCut};
use super::wide::{self, WideColumns};
use super::words::{DIRECTIONS, direction, excludes};
use crate::trial::{Bits, DiameterReading, Diameters, Dictionary, Direction, LogUnits, Place};
use rayon::iter::{IntoParallelRefIterator as _, ParallelIterator as _};
use std::collections::BTreeMap;
use std::sync::Arc;

/// The diameters of all files so far, and what each row states about its cut.
#[derive(Debug, Default)]
pub(super) struct DiameterRows {
    /// The readings without their cuts and times.
    pub(super) readings: Diameters,
    /// One for each reading: what its row states, before gaps are filled from its pass.
    pub(super) stated: Dictionary<Stated>,
    /// One for each reading: its time of cutting.
    pub(super) moments: Moments,
    /// Finest step of the reading that was written, mm, by gauge.
    pub(super) finest_mm: BTreeMap<Option<Arc<str>>, f64>,
    /// Gauge, factor and digits of the finest reading in the last step noted.
    noted: Option<(Option<Arc<str>>, f64, u32)>,
    /// The last word for a direction, and what it means.
    direction: Option<(String, Direction)>,
    pub(super) texts: Texts,
}

/// How many rows a file has and how many are excluded.
#[derive(Debug, Clone, Copy, Default, PartialEq, Eq)]
pub(super) struct RowCount {
    pub(super) rows: u64,
    pub(super) excluded: u64,
}

impl DiameterRows {
    /// Adds a reading with what its row states.
    pub(super) fn push(&mut self, reading: &DiameterReading, cut: StatedCut, moment: Option<Moment>) {
        self.readings.push_uncut(reading);
        let file = u32::try_from(reading.place.file).unwrap_or(u32::MAX);
        self.stated.push(&Stated { file, setting: reading.setting, pass: reading.pass, cut });
        self.moments.push(moment);
    }

    /// Adds the rows of `other`, whose lines count from `lines_before`.
    fn append(&mut self, other: &Self, lines_before: u64) {
        self.readings.append_uncut(&other.readings, lines_before);
        self.stated.append(&other.stated);
        self.moments.append(&other.moments);
        for (gauge, step) in &other.finest_mm {
            let finest = self.finest_mm.entry(gauge.clone()).or_insert(*step);
            *finest = finest.min(*step);
        }
    }

    /// Notes how finely a diameter is written.
    pub(super) fn note_step(&mut self, gauge: Option<&Arc<str>>, text: &str, factor: f64) {
        // what has no more digits than the finest so far says nothing new
        if let (Some((seen, with, finest)), Some(point)) = (&self.noted, memchr::memchr2(b'.', b',', text.as_bytes()))
            && text.len() - point <= *finest as usize + 1
            && *with == factor
            && seen.as_ref() == gauge
        {
            return;
        }
        let Some(digits) = decimals(text) else { return };
        if self.noted.as_ref().is_some_and(|(seen, with, finest)| seen.as_ref() == gauge && *with == factor && *finest >= digits) {
            return;
        }
        self.noted = Some((gauge.cloned(), factor, digits));
        let Ok(digits) = i32::try_from(digits) else { return };
        let step = factor * 10_f64.powi(-digits);
        let finest = self.finest_mm.entry(gauge.cloned()).or_insert(step);
        *finest = finest.min(step);
    }
}

/// Reads one file of diameters, long or wide; `blocks` are the lines below its header.
///
/// Blocks are read side by side and put together in their order. One in which anything is to be said is read again in its turn, so that findings come as if
/// the log had been read line by line.
pub(super) fn read(
    log: &Log<'_>,
    file: usize,
    units: Option<LogUnits>,
    blocks: &mut Blocks<'_>,
    rows: &mut DiameterRows,
    collector: &mut Collector,
) -> RowCount {
    let before = collector.errors();
    let columns;
    let layout = if wide::is_wide(&log.header) {
        Layout::Wide(WideColumns::resolve(log, units, blocks, collector))
    } else {
        columns = Columns::resolve(&log.header, DIAMETERS, &log.place(units), collector);
        if collector.errors() > before && (columns.get("station").is_none() || columns.get("diameter").is_none()) {
            return RowCount::default();
        }
        Layout::Long(LongColumns::of(&columns), RowShape::of(&columns, log, blocks))
    };
    let mut count = RowCount::default();
    let mut lines = log.body_lines().passed();
    let mut commas_said = false;
    blocks.in_turn(rayon::current_num_threads().clamp(1, MOST_TOGETHER), |blocks| {
        let parts: Vec<Part> = if blocks.len() > 1 {
            blocks.par_iter().map(|block| layout.part(log, file, block, 0, &mut false, &mut Collector::default())).collect()
        } else {
            Vec::new()
        };
        let mut parts = parts.into_iter();
        for block in blocks {
            let mut part = parts.next().filter(|part| part.is_clean);
            let offset = if part.is_some() { lines } else { 0 };
            let part = part.take().unwrap_or_else(|| layout.part(log, file, block, lines, &mut commas_said, collector));
            rows.append(&part.rows, offset);
            count.rows += part.count.rows;
            count.excluded += part.count.excluded;
            lines += part.lines;
        }
    });
    count
}

/// Most blocks that are read side by side: each takes some 20 MiB.
const MOST_TOGETHER: usize = 4;

/// The columns of a log, long or wide, and how long its lines may be.
enum Layout<'c> {
    Long(LongColumns<'c>, RowShape),
    Wide(WideColumns),
}

/// What one block of a log holds.
struct Part {
    rows: DiameterRows,
    count: RowCount,
    /// Lines in the block.
    lines: u64,
    /// Whether nothing was to be said.
    is_clean: bool,
}

impl Layout<'_> {
    fn part(&self, log: &Log<'_>, file: usize, block: &str, before: u64, commas_said: &mut bool, collector: &mut Collector) -> Part {
        let mut rows = DiameterRows::default();
        let mut excluded = 0;
        let lines = Lines::after(block, before);
        let said = collector.findings();
        let count = match self {
            Self::Long(columns, shape) => log.rows_of(lines, shape, commas_said, collector, |row| {
                excluded += u64::from(excludes(row.text(columns.exclude)));
                columns.read(row, file, &mut rows);
            }),
            Self::Wide(columns) => log.rows_of(lines, &columns.shape, commas_said, collector, |row| columns.read(row, file, &mut rows)),
        };
        Part { rows, count: RowCount { rows: count, excluded }, lines: line_ends(block), is_clean: collector.findings() == said }
    }
}

/// Lines that a text which ends with a line holds.
fn line_ends(text: &str) -> u64 {
    let bytes = text.as_bytes();
    let feeds = memchr::memchr_iter(b'\n', bytes).count();
    let returns = match memchr::memchr(b'\r', bytes) {
        None => 0,
        Some(_) => memchr::memchr_iter(b'\r', bytes).filter(|at| bytes.get(at + 1) != Some(&b'\n')).count(),
    };
    (feeds + returns) as u64
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
            row.error("not-a-time", header, || format!("`{text}`"), || "write 2026-03-14T09:30 or 09:30".to_owned());
        }
        moment
    }
}
