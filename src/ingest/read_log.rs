//! One log of a trial: whole, or block by block where it is long.

use super::blocks::Blocks;
use super::bounds::MOST_WHOLE;
use super::clamp;
use super::diameters;
use super::discovery::is_spreadsheet;
use super::encoding::{decode, empty, not_text, spreadsheet};
use super::header::columns;
use super::indicator;
use super::levels;
use super::log::Log;
use super::log_kind::LogKind;
use super::long_file::LongFile;
use super::moves;
use super::packing::hash_of;
use super::read::{Reading, count};
use super::spreadsheet::{sheet, split_sheet};
use crate::findings::{Finding, Severity};
use crate::trial::Trial;
use std::borrow::Cow;
use std::path::Path;

/// Most stretches of rows that are named.
const NAMED: usize = 8;

/// Rising numbers in words: `3, 5 to 8, 12 and more`.
fn stretches(rows: &[u64]) -> String {
    let mut runs: Vec<(u64, u64)> = Vec::new();
    for row in rows {
        match runs.last_mut() {
            Some((_, last)) if *last + 1 == *row => *last = *row,
            _ => runs.push((*row, *row)),
        }
    }
    let named: Vec<String> =
        runs.iter().take(NAMED).map(|(first, last)| if first == last { first.to_string() } else { format!("{first} to {last}") }).collect();
    format!("{}{}", named.join(", "), if runs.len() > NAMED { " and more" } else { "" })
}

impl Reading<'_> {
    /// The text of a sheet, with a note on the sheets that are not read.
    fn sheet<'t>(&mut self, file: &str, kind: Option<LogKind>, bytes: &[u8]) -> Result<Cow<'t, str>, Box<Finding>> {
        let sheet = sheet(bytes, split_sheet(file).map(|(_, sheet)| sheet), kind)?;
        if !sheet.other_logs.is_empty() {
            let found = format!("sheet `{}` is read; others with the header of a log are not: {}", sheet.name, sheet.other_logs.join(", "));
            let help =
                "a file is read as one log: copy each of them into a file of its own, or give its name behind the file's: log.xlsx:Name";
            self.collector.add(Finding::new("sheets-not-read", Severity::Warning, found, help).in_file(file));
        } else if !sheet.others.is_empty() {
            let found = format!("sheet `{}` is read, the others are not: {}", sheet.name, sheet.others.join(", "));
            let help = "for another one give its name behind the file's: log.xlsx:Name";
            self.collector.add(Finding::new("sheet-read", Severity::Note, found, help).in_file(file));
        }
        if sheet.is_hidden {
            let found = format!("sheet `{}` is read, and the spreadsheet program hides it", sheet.name);
            let help = "if it is an old one take it out, or give the right one's name behind the file's: log.xlsx:Name";
            self.collector.add(Finding::new("hidden-sheet", Severity::Warning, found, help).in_file(file));
        }
        if !sheet.hidden_rows.is_empty() {
            let (noun, verb) = if let [_] = sheet.hidden_rows.as_slice() { ("row", "is") } else { ("rows", "are") };
            let found = format!(
                "{noun} {} {verb} read, and the spreadsheet program hides {}",
                stretches(&sheet.hidden_rows),
                if verb == "is" { "it" } else { "them" }
            );
            let help = "a filter or a hand hid what counts all the same: show what is meant, take the rest out, or write in a column exclude why it does not count";
            let row = sheet.hidden_rows.first().copied().unwrap_or(1);
            self.collector.add(Finding::new("hidden-rows", Severity::Warning, found, help).in_file(file).at_row(row));
        }
        Ok(Cow::Owned(sheet.text))
    }

    /// Reads one log; its kind is that of its name in a trial folder, that of its header otherwise.
    pub(super) fn log(&mut self, file: &str, kind: Option<LogKind>, bytes: &[u8], trial: &mut Trial) {
        let index = self.input(file, bytes);
        let decoded = if is_spreadsheet(Path::new(file)) { self.sheet(file, kind, bytes) } else { decode(bytes) };
        let text = match decoded {
            Ok(text) => text,
            Err(finding) => return self.collector.add(finding.in_file(file)),
        };
        let log = match Log::open(&text, file) {
            Ok(log) => log,
            Err(finding) => return self.collector.add(*finding),
        };
        let mut blocks = log.text_blocks();
        self.opened(&log, kind, index, &mut blocks, trial);
    }

    /// Reads a log that is too long to be held in memory: once for its hash and encoding, once block by block. Only a log of diameters can be so long; the
    /// page does not carry it.
    pub(super) fn long_log(&mut self, file: &str, kind: Option<LogKind>, path: &Path, trial: &mut Trial) {
        let (hashed, opened) = rayon::join(|| hash_of(path), || LongFile::open(path));
        let (hashed, mut long) = match hashed.and_then(|hashed| Ok((hashed, opened?))) {
            Ok(both) => both,
            Err(error) => return self.unreadable(file, &error),
        };
        let index = self.note_hashed(file, hashed, None);
        let Some(long) = long.as_mut() else { return self.collector.add(spreadsheet().in_file(file)) };
        if !long.is_text() {
            return self.collector.add(not_text(long.encoding()).in_file(file));
        }
        let Some(text) = long.first_block() else { return self.collector.add(empty().in_file(file)) };
        if text.contains('\0') {
            return self.collector.add(not_text(long.encoding()).in_file(file));
        }
        let log = match Log::open(&text, file) {
            Ok(log) => log,
            Err(finding) => return self.collector.add(*finding),
        };
        if !matches!(kind.or_else(|| LogKind::of_header(&log.header)), Some(LogKind::Diameters)) {
            return match self.files.read(file, MOST_WHOLE) {
                Ok(bytes) => {
                    self.inputs.pop();
                    self.log(file, kind, &bytes, trial);
                }
                Err(error) => self.unreadable(file, &error),
            };
        }
        long.begin_at(text.len() - log.body_lines().rest().len());
        self.opened(&log, kind, index, &mut Blocks::File(long), trial);
        if let Some(why) = long.failure() {
            self.collector.add(Finding::new("unreadable", Severity::Error, why, "make the file readable").in_file(file));
        }
    }

    /// Reads the lines of a log whose header is known.
    fn opened(&mut self, log: &Log<'_>, kind: Option<LogKind>, index: usize, blocks: &mut Blocks<'_>, trial: &mut Trial) {
        let kind = kind.or_else(|| LogKind::of_header(&log.header));
        for finding in log.titles(kind, self.options.log_units) {
            self.collector.add(finding);
        }
        let Some(kind) = kind else {
            let finding = columns::unknown_log(&log.header, &log.place(None));
            return self.collector.add(finding);
        };
        let (units, collector) = (self.options.log_units, &mut self.collector);
        let rows = match kind {
            LogKind::Diameters => diameters::read(log, index, units, blocks, &mut self.rows, collector),
            LogKind::Levels => {
                // a division stated with a fault rejects the trial already: any value lets the rest be read
                let division = trial.gauge.level.division_mm_per_m.or(self.division_is_faulty.then_some(1.0));
                let level = (division, trial.gauge.level.u_mm_per_m);
                count(levels::read(log, index, units, level, &mut trial.levels, collector))
            }
            LogKind::Indicator => count(indicator::read(log, index, units, trial.gauge.indicator.u_mm, &mut trial.indicator, collector)),
            LogKind::Clamp => count(clamp::read(log, index, units, trial.gauge.indicator.u_mm, &mut trial.clamp, collector)),
            LogKind::Moves => count(moves::read(log, index, units, trial.machine.feet.as_ref(), &mut trial.moves, collector)),
        };
        self.counts.push((index, rows));
    }
}
