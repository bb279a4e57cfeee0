use super::super::bounds::{MOST_KEY, MOST_TABLES};
use super::super::collector::{Collector, SHOWN};
use super::super::words::nearest;
use super::convert::convert;
use super::document::{Document, Entry};
use super::keys::Key;
use super::syntax;
use crate::findings::{Finding, Severity};
use std::collections::BTreeSet;
use std::ops::Range;
use toml::Spanned;
use toml::de::{DeTable, DeValue};

/// Walks a document against a list of keys.
pub(super) struct Reader<'r> {
    keys: &'static [Key],
    text: &'r str,
    collector: &'r mut Collector,
    document: Document,
    faulty_rows: BTreeSet<u64>,
    /// Where each line begins.
    lines: Vec<usize>,
}

impl Reader<'_> {
    /// Reads `text`; every fault goes to `collector`.
    pub(super) fn read(text: &str, file: &str, keys: &'static [Key], collector: &mut Collector) -> Document {
        let (root, errors) = DeTable::parse_recoverable(text);
        let lines = std::iter::once(0).chain(memchr::memchr_iter(b'\n', text.as_bytes()).map(|at| at + 1)).collect();
        let mut reader = Reader { keys, text, collector, document: Document::of_file(file), faulty_rows: BTreeSet::new(), lines };
        let mut said = BTreeSet::new();
        for error in errors {
            let at = error.span().map_or(0, |span| span.start);
            reader.faulty_rows.insert(reader.row(at));
            let line: String = reader.line(at).chars().take(100).take_while(|letter| *letter != '\n').collect();
            let line = line.trim();
            // The parser goes eighty levels deep.
            if error.message().contains("recurs") {
                let found = format!("tables or lists within one another without end in `{}`", shorten(line));
                reader.fault("toml-too-deep", at, found, "settings go three tables deep, [gauge.diameter.NAME]");
                break; // what follows is the rest of it
            }
            if reader.collector.errors() >= SHOWN {
                reader.fault("toml-syntax", at, "", ""); // counted, not shown
                continue;
            }
            let told = match (error.message() == "duplicate key", error.span()) {
                (true, Some(again)) => Some(syntax::twice(keys, text, again)),
                _ => syntax::of_value(line),
            };
            let (found, help) = told.map_or_else(
                || {
                    // the picture of the fault points at what stands between back-quotes
                    let found = format!("{} in `{}`", error.message().replace('`', ""), shorten(line));
                    (found, "write `key = value`, text in double quotes".to_owned())
                },
                |told| (told.found, told.help),
            );
            if said.insert((reader.row(at), found.clone())) {
                reader.fault("toml-syntax", at, found, help);
            }
        }
        reader.table(root.get_ref(), "", "");
        reader.document
    }

    /// Line and column, from 1, of a byte offset.
    fn place(&self, offset: usize) -> (u64, usize) {
        let row = self.row(offset);
        let begins = self.begins(row);
        let column = self.text.get(begins..offset).unwrap_or("").chars().count() + 1;
        (row, column)
    }

    /// Line, from 1, of a byte offset.
    fn row(&self, offset: usize) -> u64 {
        self.lines.partition_point(|begins| *begins <= offset) as u64
    }

    /// Where line `row` begins.
    fn begins(&self, row: u64) -> usize {
        usize::try_from(row).ok().and_then(|row| self.lines.get(row.checked_sub(1)?).copied()).unwrap_or(0)
    }

    /// The text from the line of a byte offset on.
    fn line(&self, offset: usize) -> &str {
        self.text.get(self.begins(self.row(offset))..).unwrap_or("")
    }

    fn fault(&mut self, code: &'static str, offset: usize, found: impl Into<String>, help: impl Into<String>) {
        let row = self.row(offset);
        if !code.starts_with("toml-") && self.faulty_rows.contains(&row) {
            return; // the syntax error on this line says it already
        }
        // Only faults that are shown need their column: a line may be a file long.
        let column = if self.collector.errors() < SHOWN { self.place(offset).1 } else { 0 };
        let file = &self.document.file;
        self.collector.error(|| {
            let finding = Finding::new(code, Severity::Error, found.into(), help).in_file(file.clone());
            finding.at_row(row).in_column(column.to_string())
        });
    }

    fn source(&self, span: Range<usize>) -> String {
        shorten(self.text.get(span).unwrap_or("").trim())
    }

    fn table(&mut self, table: &DeTable<'_>, pattern: &str, concrete: &str) {
        if let Some((name, _)) = table.iter().nth(MOST_TABLES) {
            let found = format!("{} names{}", table.len(), in_table(concrete));
            return self.fault("too-many-tables", name.span().start, found, format!("state at most {MOST_TABLES} of them"));
        }
        for (name, value) in table {
            let (at, name) = (name.span().start, name.get_ref().as_ref());
            let (path, place) = (join(pattern, name), join(concrete, name));
            let row = self.row(at);
            if name.len() > MOST_KEY {
                self.fault("key-too-long", at, format!("`{}`", shorten(name)), format!("a name has at most {MOST_KEY} bytes"));
            } else if is_table(self.keys, &path) || (is_table(self.keys, &join(pattern, "*")) && value.get_ref().is_table()) {
                let path = if is_table(self.keys, &path) { path } else { join(pattern, "*") };
                match value.get_ref().as_table() {
                    Some(inner) => {
                        self.document.tables.insert(place.clone(), row);
                        self.table(inner, &path, &place);
                    }
                    None => self.fault("wrong-type", at, format!("`{name}` is not a table"), format!("write a table, [{place}]")),
                }
            } else if is_table(self.keys, &format!("{path}[]")) {
                self.array_of_tables(value, at, &path, &place);
            } else if let Some((key, inch)) = find_key(self.keys, pattern, name) {
                self.value(key, inch, at, value, &join(concrete, key.name()));
            } else {
                let help = unknown_key_help(self.keys, pattern, name);
                self.fault("unknown-key", at, format!("`{name}`{}", in_table(concrete)), help);
            }
        }
    }

    fn array_of_tables(&mut self, value: &Spanned<DeValue<'_>>, at: usize, path: &str, place: &str) {
        let help = format!("write [[{place}]], once for each");
        let Some(array) = value.get_ref().as_array() else {
            self.fault("wrong-type", at, format!("`{place}` is a {}", value.get_ref().type_str()), help);
            return;
        };
        if array.len() > MOST_TABLES {
            let found = format!("{} tables `{place}`", array.len());
            return self.fault("too-many-tables", at, found, format!("state at most {MOST_TABLES} of them"));
        }
        for (index, item) in array.iter().enumerate() {
            let Some(inner) = item.get_ref().as_table() else {
                self.fault("wrong-type", item.span().start, format!("`{}` in `{place}`", self.source(item.span())), help.clone());
                continue;
            };
            let concrete = format!("{place}[{index}]");
            let row = inner.keys().next().map_or_else(|| self.row(item.span().start), |key| self.row(key.span().start));
            self.document.tables.insert(concrete.clone(), row);
            self.table(inner, &format!("{path}[]"), &concrete);
        }
    }

    fn value(&mut self, key: &'static Key, inch: bool, at: usize, value: &Spanned<DeValue<'_>>, place: &str) {
        if self.document.entries.contains_key(place) {
            let twin = key.inch_twin().unwrap_or_default();
            self.fault("both-units", at, format!("both `{}` and `{twin}`", key.name()), "state it once, in one unit");
            return;
        }
        // of `1,200` the parser keeps the 1
        let row = self.row(at);
        let rows = row..=self.row(value.span().end).max(row);
        if self.faulty_rows.range(rows).next().is_some() {
            self.document.faulty.insert(place.to_owned());
            return;
        }
        match convert(key, inch, value.get_ref()) {
            Ok(converted) => {
                let (row, column) = self.place(value.span().start);
                self.document.entries.insert(place.to_owned(), Entry { value: converted, inch, row, column });
            }
            Err((code, help)) => {
                self.document.faulty.insert(place.to_owned());
                let name = if inch { key.inch_twin().unwrap_or_default() } else { key.name().to_owned() };
                let source = self.source(value.span());
                self.fault(code, value.span().start, format!("`{source}` for `{name}`"), help);
            }
        }
    }
}

fn shorten(text: &str) -> String {
    let first = text.lines().next().unwrap_or("");
    if first.chars().count() > 60 || first.len() < text.len() {
        first.chars().take(57).chain("...".chars()).collect()
    } else {
        first.to_owned()
    }
}

fn join(table: &str, name: &str) -> String {
    if table.is_empty() { name.to_owned() } else { format!("{table}.{name}") }
}

fn in_table(table: &str) -> String {
    if table.is_empty() { " at the top".to_owned() } else { format!(" in [{table}]") }
}

/// Whether keys stand below `pattern`.
pub(super) fn is_table(keys: &[Key], pattern: &str) -> bool {
    keys.iter().any(|key| key.path.strip_prefix(pattern).is_some_and(|rest| rest.starts_with('.')))
}

fn find_key(keys: &'static [Key], table: &str, name: &str) -> Option<(&'static Key, bool)> {
    let mut siblings = keys.iter().filter(|key| key.table() == table);
    siblings.find_map(|key| {
        if key.name() == name { Some((key, false)) } else { (key.inch_twin().as_deref() == Some(name)).then_some((key, true)) }
    })
}

fn unknown_key_help(keys: &[Key], table: &str, name: &str) -> String {
    let prefix = if table.is_empty() { String::new() } else { format!("{table}.") };
    let mut known: Vec<String> = Vec::new();
    for key in keys {
        let Some(rest) = key.path.strip_prefix(&prefix) else { continue };
        let child = rest.split('.').next().unwrap_or(rest).trim_end_matches("[]");
        if child != "*" && !known.iter().any(|word| word == child) {
            known.push(child.to_owned());
        }
        if !rest.contains('.') {
            known.extend(key.inch_twin());
        }
    }
    if let Some(word) = nearest(name, known.iter().map(String::as_str)) {
        return format!("the nearest known key is `{word}`");
    }
    let elsewhere = keys.iter().find(|key| key.name() == name || key.inch_twin().as_deref() == Some(name));
    if let Some(key) = elsewhere {
        return format!("`{name}` belongs to [{}]", key.table());
    }
    let closest = known.iter().min_by_key(|word| strsim::osa_distance(&name.to_lowercase(), word)).map_or("", String::as_str);
    format!("the nearest known key is `{closest}`; known here are {}", known.join(", "))
}
