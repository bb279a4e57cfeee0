use super::bounds::{self, MOST_SETTINGS, MOST_WHOLE, read_at_most};
use super::checks;
use super::checks::time_slips;
use super::checks::unlikely;
use super::collector::{Collector, Rejected};
use super::criteria::CriteriaChoice;
use super::defaults;
use super::diameter_rows::{DiameterRows, RowCount};
use super::discovery::{folder_name, is_spreadsheet, kind_by_name};
use super::encoding::decode;
use super::files::{TrialFiles, parent_of, unreadable};
use super::packing::{MOST_PACKED, pack, sha256_hex};
use super::passes;
use super::photographs::is_photograph;
use super::settings::{Document, KEYS, Key, Stated, build};
use crate::findings::{Finding, SETTINGS_NOT_READ, Severity};
use crate::quantities::REFERENCE_TEMPERATURE_C;
use crate::trial::{InputFile, LeftOut, LogUnits, Origin, Trial, TrialSource};
use std::path::Path;

/// What the user chooses about reading.
#[derive(Debug, Clone, Default, PartialEq, Eq)]
pub struct ReadOptions {
    /// The unit of length columns without a unit; `None`: such a column is an error.
    pub log_units: Option<LogUnits>,
    /// A set of limits in place of the one that `trial.toml` names.
    pub criteria: Option<CriteriaChoice>,
}

/// Reads a trial: a folder (or the `trial.toml` in it), a lone log, or `-` for a log from standard input.
///
/// Lengths come back in millimetres and what nobody stated is filled in and listed in `assumed`. Diameters are brought to 20 °C
/// where the bar's temperature is logged: `d/(1 + α(T − 20 °C))`.
///
/// # Errors
/// [`Rejected`] with every fault of every file (the first twenty, and their count).
pub fn read_trial(path: &Path, options: &ReadOptions) -> Result<Trial, Rejected> {
    read_files(&TrialFiles::at(path)?, options)
}

/// Reads a trial from files that were found already, as [`read_trial`] does: nothing in what comes back depends on where they lie.
///
/// # Errors
/// As [`read_trial`].
pub fn read_files(files: &TrialFiles, options: &ReadOptions) -> Result<Trial, Rejected> {
    let mut reading = Reading::new(files, options);
    let stated = if files.source == TrialSource::Folder { reading.folder() } else { reading.lone() };
    reading.finish(stated)
}

/// Reads the settings alone, for planning and simulating: a `trial.toml` or its folder. The bar must be stated.
///
/// # Errors
/// [`Rejected`] as for [`read_trial`]; `missing-key` where the bar's diameter or length is not stated.
pub fn read_settings(path: &Path, options: &ReadOptions) -> Result<Trial, Rejected> {
    let (file, folder) = if path.is_dir() { (path.join("trial.toml"), path) } else { (path.to_owned(), parent_of(path)) };
    let name = file.file_name().map_or_else(String::new, |name| name.to_string_lossy().into_owned());
    let bytes = read_at_most(&file, MOST_SETTINGS).map_err(|error| unreadable(&name, &error))?;
    let files = TrialFiles::of_folder(folder);
    let mut reading = Reading::new(&files, options);
    let document = reading.settings(&name, &bytes, KEYS);
    let mut stated = build(&document, &folder_name(folder), &mut reading.collector);
    reading.criteria(&document, &mut stated.trial);
    for (missing, key) in [(stated.diameter_missing, "bar.diameter_mm"), (stated.length_missing, "bar.length_mm")] {
        if missing && !document.is_faulty(key) {
            let help = format!("state `{}` in [bar]: without readings nothing else tells it", key.trim_start_matches("bar."));
            reading.collector.add(document.error("missing-key", key, format!("no `{}`", key.trim_start_matches("bar.")), help));
        }
    }
    let mut trial = defaults::fill(stated, &reading.rows);
    trial.inputs = reading.inputs;
    trial.findings = reading.collector.finish()?;
    Ok(trial)
}

/// A trial while its files are read.
pub(super) struct Reading<'o> {
    pub(super) files: &'o TrialFiles,
    pub(super) options: &'o ReadOptions,
    /// Room that is left for files that a page can carry, bytes.
    pub(super) room: usize,
    pub(super) not_read: Vec<String>,
    pub(super) left_out: Vec<LeftOut>,
    pub(super) collector: Collector,
    pub(super) inputs: Vec<InputFile>,
    pub(super) rows: DiameterRows,
    pub(super) counts: Vec<(usize, RowCount)>,
    /// Whether the value of a level's division is stated with a fault.
    pub(super) division_is_faulty: bool,
}

impl<'o> Reading<'o> {
    fn new(files: &'o TrialFiles, options: &'o ReadOptions) -> Self {
        Self {
            files,
            options,
            room: MOST_PACKED,
            not_read: Vec::new(),
            left_out: Vec::new(),
            collector: Collector::default(),
            inputs: Vec::new(),
            rows: DiameterRows::default(),
            counts: Vec::new(),
            division_is_faulty: false,
        }
    }

    /// Notes a file with its hash, and its bytes packed while there is room; returns its index.
    pub(super) fn input(&mut self, file: &str, bytes: &[u8]) -> usize {
        let packed = pack(bytes, self.room);
        self.room -= packed.as_ref().map_or(0, Vec::len);
        self.note(file, bytes, packed)
    }

    /// Notes a file with its hash; returns its index.
    pub(super) fn note(&mut self, file: &str, bytes: &[u8], packed: Option<Vec<u8>>) -> usize {
        self.note_hashed(file, (sha256_hex(bytes), bytes.len() as u64), packed)
    }

    /// Notes a file by its hash and size; returns its index.
    pub(super) fn note_hashed(&mut self, file: &str, (sha256, bytes): (String, u64), packed: Option<Vec<u8>>) -> usize {
        self.inputs.push(InputFile { file: file.to_owned(), sha256, bytes, rows: 0, used: 0, flagged: 0, excluded: 0, packed });
        self.inputs.len() - 1
    }

    fn settings(&mut self, file: &str, bytes: &[u8], keys: &'static [Key]) -> Document {
        self.input(file, bytes);
        match decode(bytes) {
            Ok(text) => Document::read(&text, file, keys, &mut self.collector),
            Err(finding) if finding.code == "empty-file" => Document::default(),
            Err(finding) => {
                self.collector.add(finding.in_file(file));
                Document::default()
            }
        }
    }

    fn lone(&mut self) -> Stated {
        let document = Document::default();
        let mut stated = build(&document, &self.files.name, &mut self.collector);
        self.criteria(&document, &mut stated.trial);
        for file in self.files.names().unwrap_or_default() {
            if let Some(path) = self.files.long(&file).filter(|path| !is_spreadsheet(path)) {
                self.long_log(&file, None, path, &mut stated.trial);
                continue;
            }
            match self.files.read(&file, MOST_WHOLE) {
                Ok(bytes) => self.log(&file, None, &bytes, &mut stated.trial),
                Err(error) => self.unreadable(&file, &error),
            }
            if let Some(folder) = &self.files.settings_beside {
                let help = format!("give its folder, `{folder}`, to have it read");
                let found = "a trial.toml beside the log, which is not read";
                self.collector.add(Finding::new(SETTINGS_NOT_READ, Severity::Warning, found, help).in_file(file));
            }
        }
        stated
    }

    pub(super) fn unreadable(&mut self, file: &str, error: &std::io::Error) {
        let (code, help) = bounds::unreadable(error);
        self.collector.add(Finding::new(code, Severity::Error, error.to_string(), help).in_file(file));
    }

    fn folder(&mut self) -> Stated {
        let mut names = self.files.names().unwrap_or_else(|(folder, error)| {
            let folder_unreadable = Finding::new("unreadable", Severity::Error, error, "make the folder readable");
            self.collector.add(folder_unreadable.in_file(folder));
            Vec::new()
        });
        let (document, has_settings) = match self.files.read("trial.toml", MOST_SETTINGS) {
            Ok(bytes) => (self.settings("trial.toml", &bytes, KEYS), true),
            Err(error) => {
                let is_there = error.kind() != std::io::ErrorKind::NotFound;
                if is_there {
                    self.unreadable("trial.toml", &error);
                }
                (Document::default(), is_there)
            }
        };
        self.division_is_faulty = document.is_faulty("gauge.level.division_mm_per_m");
        let mut stated = build(&document, &self.files.name, &mut self.collector);
        self.criteria(&document, &mut stated.trial);
        names.sort_by_cached_key(|name| natural_key(name));
        let pictures: Vec<String> = names.iter().filter(|name| is_photograph(name)).cloned().collect();
        for file in names {
            let path = Path::new(&file);
            let Some(kind) = kind_by_name(path) else {
                self.left_unread(file, has_settings);
                continue;
            };
            if self.files.is_dead_link(&file) {
                let help = "put the log itself into the folder, or take the link out";
                self.not_read(file, Severity::Warning, "a link to a file that is not there", help);
                continue;
            }
            if let Some(path) = self.files.long(&file).filter(|_| !is_spreadsheet(path)) {
                self.long_log(&file, Some(kind), path, &mut stated.trial);
                continue;
            }
            match self.files.read(&file, MOST_WHOLE) {
                Ok(bytes) => self.log(&file, Some(kind), &bytes, &mut stated.trial),
                Err(error) => self.unreadable(&file, &error),
            }
        }
        if stated.trial.identity.paper.as_deref() == Some("acceptance") {
            self.photographs(pictures, &mut stated.trial);
        }
        stated
    }

    fn finish(mut self, mut stated: Stated) -> Result<Trial, Rejected> {
        for (index, count) in &self.counts {
            if let Some(input) = self.inputs.get_mut(*index) {
                input.rows = count.rows;
                input.excluded = count.excluded;
                input.used = count.rows.saturating_sub(count.excluded);
            }
        }
        stated.trial.inputs = self.inputs;
        stated.trial.origin = Origin {
            source: self.files.source,
            name: self.files.name.clone(),
            log_units: self.options.log_units,
            criteria: self.options.criteria.as_ref().map(|choice| choice.name().to_owned()),
            settings_beside: self.files.settings_beside.clone(),
            not_read: self.not_read,
            left_out: self.left_out,
        };
        let clock = self.rows.moments.clock();
        let times = std::mem::take(&mut self.rows.moments).into_minutes();
        if let Err(row) = times {
            let help = "write all times with a date, or none; all with an offset, or none";
            let found = "a time of another kind than those above".to_owned();
            let place = self.rows.readings.place(row);
            self.collector.add(passes::at("mixed-times", Severity::Error, place, &stated.trial.inputs, found, help).in_column("time"));
        }
        stated.trial.diameters = passes::settle(&mut self.rows, &mut stated.trial, &mut self.collector);
        time_slips::settle(times.unwrap_or_default(), clock, &mut stated.trial, &mut self.collector);
        let expansion = stated.trial.bar.expansion_um_per_m_k * 1e-6;
        let carried =
            stated.trial.diameters.correct_all(|read_mm, celsius| read_mm / (1.0 + expansion * (celsius - REFERENCE_TEMPERATURE_C)));
        if let Some((first, count)) = carried {
            let found = format!("rows without a temperature in passes that state one: {count} in all, here the first");
            let help = "they are taken to be as warm as the row of their pass above, the first rows as the first that states one: write the temperature in every row, or in none";
            let place = stated.trial.diameters.place(first);
            let finding = passes::at("temperature-carried", Severity::Warning, place, &stated.trial.inputs, found, help);
            self.collector.add(finding.in_column("temperature_c"));
        }
        checks::check(&stated, &self.rows, &mut self.collector);
        // what readings tell of a bar counts only where they are right
        let bar_is_known = self.collector.errors() == 0 || !(stated.diameter_missing || stated.length_missing);
        let mut trial = defaults::fill(stated, &self.rows);
        // a slip in a station makes no bar hang out
        if bar_is_known && self.collector.rows_of("station-slip").is_empty() {
            unlikely::overhang(&trial, &mut self.collector);
        }
        if self.collector.errors() > 0 {
            return Err(self.collector.reject());
        }
        trial.findings = self.collector.finish()?;
        Ok(trial)
    }
}

pub(super) fn count(rows: u64) -> RowCount {
    RowCount { rows, excluded: 0 }
}

/// Orders files by their stems, numbers in them by size: `diameters`, `diameters-2`, `diameters-10`.
fn natural_key(name: &str) -> (Vec<(String, u64)>, String) {
    let stem = Path::new(name).file_stem().map_or_else(String::new, |stem| stem.to_string_lossy().to_lowercase());
    let mut parts = Vec::new();
    let mut rest = stem.as_str();
    while !rest.is_empty() {
        let (word, tail) = rest.split_at(rest.find(|c: char| c.is_ascii_digit()).unwrap_or(rest.len()));
        let (digits, tail) = tail.split_at(tail.find(|c: char| !c.is_ascii_digit()).unwrap_or(tail.len()));
        parts.push((word.to_owned(), digits.parse().unwrap_or(0)));
        rest = tail;
    }
    (parts, name.to_owned())
}
