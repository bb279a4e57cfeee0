use super::super::collector::Collector;
use super::keys::Key;
use super::reader::Reader;
use crate::findings::{Finding, Severity};
use std::collections::{BTreeMap, BTreeSet};
use toml::de::DeTable;

/// A value as stated, brought to the metric key's unit.
#[derive(Debug, Clone, PartialEq)]
pub(crate) enum Value {
    Number(f64),
    Text(String),
    Flag(bool),
    Numbers(Vec<f64>),
    Spans(Vec<[f64; 2]>),
    Words(Vec<String>),
}

/// A stated value and its place.
#[derive(Debug, Clone)]
pub(super) struct Entry {
    pub(super) value: Value,
    /// Whether its inch twin stated it.
    pub(super) inch: bool,
    pub(super) row: u64,
    pub(super) column: usize,
}

/// What a settings file states, by metric key: `machine.feet.screw_pitch_mm`, `acceptance.limit[0].limit_mm`.
#[derive(Debug, Clone, Default)]
pub(crate) struct Document {
    pub(super) file: String,
    pub(super) entries: BTreeMap<String, Entry>,
    pub(super) tables: BTreeMap<String, u64>,
    /// Keys that are stated with a fault, which is told: they count as not stated, and nothing asks for them.
    pub(super) faulty: BTreeSet<String>,
}

/// The `[trial] name` of a settings text, whatever else is wrong with it.
pub(crate) fn peek_name(text: &str) -> Option<String> {
    let (document, _) = DeTable::parse_recoverable(text);
    let name = document.get_ref().get("trial")?.get_ref().as_table()?.get("name")?.get_ref().as_str()?.trim();
    (!name.is_empty()).then(|| name.to_owned())
}

impl Document {
    /// Reads `text` against a list of keys; every fault goes to `collector`.
    pub(crate) fn read(text: &str, file: &str, keys: &'static [Key], collector: &mut Collector) -> Self {
        Reader::read(text, file, keys, collector)
    }

    /// A document of that file which states nothing yet.
    pub(super) fn of_file(file: &str) -> Self {
        Self { file: file.to_owned(), ..Self::default() }
    }

    pub(crate) fn number(&self, key: &str) -> Option<f64> {
        match self.entries.get(key)?.value {
            Value::Number(number) => Some(number),
            _ => None,
        }
    }

    pub(crate) fn text(&self, key: &str) -> Option<&str> {
        match &self.entries.get(key)?.value {
            Value::Text(text) => Some(text),
            _ => None,
        }
    }

    pub(crate) fn flag(&self, key: &str) -> Option<bool> {
        match self.entries.get(key)?.value {
            Value::Flag(flag) => Some(flag),
            _ => None,
        }
    }

    pub(crate) fn numbers(&self, key: &str) -> Option<&[f64]> {
        match &self.entries.get(key)?.value {
            Value::Numbers(numbers) => Some(numbers),
            _ => None,
        }
    }

    pub(crate) fn spans(&self, key: &str) -> Option<&[[f64; 2]]> {
        match &self.entries.get(key)?.value {
            Value::Spans(spans) => Some(spans),
            _ => None,
        }
    }

    pub(crate) fn words(&self, key: &str) -> Option<&[String]> {
        match &self.entries.get(key)?.value {
            Value::Words(words) => Some(words),
            _ => None,
        }
    }

    /// Whether a number was stated by its inch twin.
    pub(crate) fn in_inches(&self, key: &str) -> bool {
        self.entries.get(key).is_some_and(|entry| entry.inch)
    }

    /// Whether a key is stated with a fault, which is told.
    pub(crate) fn is_faulty(&self, key: &str) -> bool {
        self.faulty.contains(key)
    }

    /// Whether the table is there.
    pub(crate) fn has_table(&self, table: &str) -> bool {
        self.tables.contains_key(table)
    }

    /// The concrete names of the tables below `prefix`, in order of name.
    pub(crate) fn tables_below(&self, prefix: &str) -> Vec<String> {
        let start = format!("{prefix}.");
        self.tables.keys().filter_map(|table| table.strip_prefix(&start)).map(str::to_owned).collect()
    }

    /// How many tables an array of tables has.
    pub(crate) fn count(&self, array: &str) -> usize {
        (0..).take_while(|index| self.tables.contains_key(&format!("{array}[{index}]"))).count()
    }

    /// An error about `key`, placed where it or its table stands.
    pub(crate) fn error(&self, code: &'static str, key: &str, found: impl Into<String>, help: impl Into<String>) -> Finding {
        self.finding(code, Severity::Error, key, found, help)
    }

    /// A finding about `key`, placed where it or its table stands.
    pub(crate) fn finding(
        &self,
        code: &'static str,
        severity: Severity,
        key: &str,
        found: impl Into<String>,
        help: impl Into<String>,
    ) -> Finding {
        let finding = Finding::new(code, severity, found.into(), help).in_file(self.file.clone());
        if let Some(entry) = self.entries.get(key) {
            return finding.at_row(entry.row).in_column(entry.column.to_string());
        }
        let table = key.rsplit_once('.').map_or(key, |(table, _)| table);
        match self.tables.get(table) {
            Some(row) => finding.at_row(*row),
            None => finding,
        }
    }
}
