use super::super::collector::Collector;
use super::super::words::{advice, nearest};
use super::keys::{KEYS, Key, KeyKind, Sign};
use crate::findings::{Finding, Severity};
use crate::quantities::{MM_PER_INCH, celsius_from_fahrenheit, kelvin_from_fahrenheit_difference};
use std::collections::BTreeMap;
use std::ops::Range;
use toml::Spanned;
use toml::de::{DeTable, DeValue};

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

#[derive(Debug, Clone)]
struct Entry {
    value: Value,
    inch: bool,
    row: u64,
    column: usize,
}

/// What a settings file states, by metric key: `machine.feet.screw_pitch_mm`, `acceptance.limit[0].limit_mm`.
#[derive(Debug, Clone, Default)]
pub(crate) struct Document {
    file: String,
    entries: BTreeMap<String, Entry>,
    tables: BTreeMap<String, u64>,
}

/// The `[trial] name` of a settings text, whatever else is wrong with it.
pub(crate) fn peek_name(text: &str) -> Option<String> {
    let (document, _) = DeTable::parse_recoverable(text);
    let name = document.get_ref().get("trial")?.get_ref().as_table()?.get("name")?.get_ref().as_str()?.trim();
    (!name.is_empty()).then(|| name.to_owned())
}

impl Document {
    /// Reads `text` against the list of keys; every fault goes to `collector`.
    pub(crate) fn read(text: &str, file: &str, collector: &mut Collector) -> Self {
        let (root, errors) = DeTable::parse_recoverable(text);
        let mut reader = Reader { text, collector, document: Self { file: file.to_owned(), ..Self::default() }, faulty_rows: Vec::new() };
        for error in errors {
            let at = error.span().map_or(0, |span| span.start);
            let (row, _) = reader.place(at);
            reader.faulty_rows.push(row);
            let line = text.lines().nth(usize::try_from(row).unwrap_or(1).saturating_sub(1)).unwrap_or("").trim();
            reader.fault(
                "toml-syntax",
                at,
                format!("{} in `{}`", error.message(), shorten(line)),
                "write `key = value`, text in double quotes",
            );
        }
        reader.table(root.get_ref(), "", "");
        reader.document
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
        let finding = Finding::new(code, Severity::Error, found, help).in_file(self.file.clone());
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

struct Reader<'r> {
    text: &'r str,
    collector: &'r mut Collector,
    document: Document,
    faulty_rows: Vec<u64>,
}

impl Reader<'_> {
    /// Line and column, from 1, of a byte offset.
    fn place(&self, offset: usize) -> (u64, usize) {
        let before = self.text.get(..offset).unwrap_or(self.text);
        let row = before.bytes().filter(|byte| *byte == b'\n').count() as u64 + 1;
        let column = before.rsplit('\n').next().unwrap_or("").chars().count() + 1;
        (row, column)
    }

    fn fault(&mut self, code: &'static str, offset: usize, found: impl Into<String>, help: impl Into<String>) {
        let (row, column) = self.place(offset);
        if code != "toml-syntax" && self.faulty_rows.contains(&row) {
            return; // the syntax error on this line says it already
        }
        let finding = Finding::new(code, Severity::Error, found, help).in_file(self.document.file.clone());
        self.collector.add(finding.at_row(row).in_column(column.to_string()));
    }

    fn source(&self, span: Range<usize>) -> String {
        shorten(self.text.get(span).unwrap_or("").trim())
    }

    fn table(&mut self, table: &DeTable<'_>, pattern: &str, concrete: &str) {
        for (name, value) in table {
            let (at, name) = (name.span().start, name.get_ref().as_ref());
            let (path, place) = (join(pattern, name), join(concrete, name));
            let row = self.place(at).0;
            if is_table(&path) || (is_table(&join(pattern, "*")) && value.get_ref().is_table()) {
                let path = if is_table(&path) { path } else { join(pattern, "*") };
                match value.get_ref().as_table() {
                    Some(inner) => {
                        self.document.tables.insert(place.clone(), row);
                        self.table(inner, &path, &place);
                    }
                    None => self.fault("wrong-type", at, format!("`{name}` is not a table"), format!("write a table, [{place}]")),
                }
            } else if is_table(&format!("{path}[]")) {
                self.array_of_tables(value, at, &path, &place);
            } else if let Some((key, inch)) = find_key(pattern, name) {
                self.value(key, inch, at, value, &join(concrete, key.name()));
            } else {
                let help = unknown_key_help(pattern, name);
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
        for (index, item) in array.iter().enumerate() {
            let Some(inner) = item.get_ref().as_table() else {
                self.fault("wrong-type", item.span().start, format!("`{}` in `{place}`", self.source(item.span())), help.clone());
                continue;
            };
            let concrete = format!("{place}[{index}]");
            let row = inner.keys().next().map_or_else(|| self.place(item.span().start).0, |key| self.place(key.span().start).0);
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
        match convert(key, inch, value.get_ref()) {
            Ok(converted) => {
                let (row, column) = self.place(value.span().start);
                self.document.entries.insert(place.to_owned(), Entry { value: converted, inch, row, column });
            }
            Err((code, help)) => {
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

fn is_table(pattern: &str) -> bool {
    KEYS.iter().any(|key| key.path.strip_prefix(pattern).is_some_and(|rest| rest.starts_with('.')))
}

fn find_key(table: &str, name: &str) -> Option<(&'static Key, bool)> {
    let mut siblings = KEYS.iter().filter(|key| key.table() == table);
    siblings.find_map(|key| {
        if key.name() == name { Some((key, false)) } else { (key.inch_twin().as_deref() == Some(name)).then_some((key, true)) }
    })
}

fn unknown_key_help(table: &str, name: &str) -> String {
    let prefix = if table.is_empty() { String::new() } else { format!("{table}.") };
    let mut known: Vec<String> = Vec::new();
    for key in KEYS {
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
    let elsewhere = KEYS.iter().find(|key| key.name() == name || key.inch_twin().as_deref() == Some(name));
    if let Some(key) = elsewhere {
        return format!("`{name}` belongs to [{}]", key.table());
    }
    let closest = known.iter().min_by_key(|word| strsim::osa_distance(&name.to_lowercase(), word)).map_or("", String::as_str);
    format!("the nearest known key is `{closest}`; known here are {}", known.join(", "))
}

type Fault = (&'static str, String);

fn wrong_type(wanted: &str) -> Fault {
    ("wrong-type", format!("write {wanted}"))
}

fn convert(key: &Key, inch: bool, value: &DeValue<'_>) -> Result<Value, Fault> {
    Ok(match key.kind {
        KeyKind::Text => Value::Text(text(value, "text in double quotes")?),
        KeyKind::Date => Value::Text(date(value)?),
        KeyKind::Flag => Value::Flag(value.as_bool().ok_or_else(|| wrong_type("true or false"))?),
        KeyKind::Whole { least } => {
            let whole = value.as_integer().and_then(|i| u32::from_str_radix(i.as_str(), i.radix()).ok()).filter(|whole| *whole >= least);
            Value::Number(f64::from(whole.ok_or_else(|| ("not-whole", format!("write a whole number from {least}")))?))
        }
        KeyKind::Number(sign) => Value::Number(signed(number(value)?, sign)?),
        KeyKind::Length(sign) | KeyKind::Feed(sign) => Value::Number(signed(number(value)?, sign)? * if inch { MM_PER_INCH } else { 1.0 }),
        KeyKind::Slope(sign) => Value::Number(signed(number(value)?, sign)? * if inch { 1000.0 / 12.0 } else { 1.0 }),
        KeyKind::Temperature => {
            let stated = number(value)?;
            let celsius = if inch { celsius_from_fahrenheit(stated) } else { stated };
            if !(-50.0..=100.0).contains(&celsius) {
                return Err(("out-of-range", "write the temperature of the room, between -50 and 100 °C".to_owned()));
            }
            Value::Number(celsius)
        }
        KeyKind::TemperatureDifference => {
            let stated = signed(number(value)?, Sign::NotNegative)?;
            Value::Number(if inch { kelvin_from_fahrenheit_difference(stated) } else { stated })
        }
        KeyKind::Pitch => {
            let stated = signed(number(value)?, Sign::Positive)?;
            Value::Number(if inch { MM_PER_INCH / stated } else { stated })
        }
        KeyKind::Numbers(sign) => Value::Numbers(numbers(value, false, sign, "a list of numbers, such as [0.0, 180.0]")?),
        KeyKind::Lengths(sign) => Value::Numbers(numbers(value, inch, sign, "a list of lengths, such as [5.0, 100.0, 195.0]")?),
        KeyKind::Feeds(sign) => Value::Numbers(numbers(value, inch, sign, "a list of feeds, such as [0.1, 0.2]")?),
        KeyKind::Spans => {
            let wanted = "a list of pairs, such as [[5.0, 25.0], [190.0, 210.0]]";
            let array = value.as_array().ok_or_else(|| wrong_type(wanted))?;
            let spans = array.iter().map(|item| match numbers(item.get_ref(), inch, Sign::NotNegative, wanted)?.as_slice() {
                [from, to] if from < to => Ok([*from, *to]),
                [_, _] => Err(("span-order", "write each pair as [from, to], the smaller first".to_owned())),
                _ => Err(wrong_type(wanted)),
            });
            Value::Spans(spans.collect::<Result<_, Fault>>()?)
        }
        KeyKind::Word(known) => Value::Text(word(value, known)?),
        KeyKind::Words(known) => {
            let array = value.as_array().ok_or_else(|| wrong_type("a list of words in double quotes"))?;
            Value::Words(array.iter().map(|item| word(item.get_ref(), known)).collect::<Result<_, Fault>>()?)
        }
    })
}

fn numbers(value: &DeValue<'_>, inch: bool, sign: Sign, wanted: &str) -> Result<Vec<f64>, Fault> {
    let factor = if inch { MM_PER_INCH } else { 1.0 };
    let array = value.as_array().ok_or_else(|| wrong_type(wanted))?;
    array.iter().map(|item| Ok(signed(number(item.get_ref())?, sign)? * factor)).collect()
}

fn text(value: &DeValue<'_>, wanted: &str) -> Result<String, Fault> {
    value.as_str().map(|text| text.trim().to_owned()).ok_or_else(|| wrong_type(wanted))
}

fn word(value: &DeValue<'_>, known: &[&str]) -> Result<String, Fault> {
    let word = text(value, &format!("one of {} in double quotes", known.join(", ")))?;
    if known.contains(&word.as_str()) { Ok(word) } else { Err(("unknown-word", advice(&word, known))) }
}

fn date(value: &DeValue<'_>) -> Result<String, Fault> {
    let written = match value {
        DeValue::Datetime(datetime) => datetime.date.map(|date| date.to_string()),
        DeValue::String(text) => Some(text.trim().to_owned()),
        _ => None,
    };
    let date = written.and_then(|text| text.parse::<jiff::civil::Date>().ok());
    date.map(|date| date.to_string()).ok_or_else(|| ("not-a-date", "write a day as 2026-03-14".to_owned()))
}

fn number(value: &DeValue<'_>) -> Result<f64, Fault> {
    let number = match value {
        #[allow(clippy::cast_precision_loss, reason = "a setting beyond 2^53 is rounded as a float would be")]
        DeValue::Integer(integer) => i64::from_str_radix(integer.as_str(), integer.radix()).ok().map(|whole| whole as f64),
        DeValue::Float(float) => float.as_str().parse().ok(),
        DeValue::String(text) if text.trim().parse::<f64>().is_ok() => return Err(wrong_type("the number without quotes")),
        _ => None,
    };
    let number = number.ok_or_else(|| wrong_type("a number, with a decimal point"))?;
    if number.is_finite() { Ok(number) } else { Err(("not-finite", "write a finite number".to_owned())) }
}

fn signed(number: f64, sign: Sign) -> Result<f64, Fault> {
    let (right, code, help) = match sign {
        Sign::Any => (true, "", ""),
        Sign::NotNegative => (number >= 0.0, "negative", "write a number of 0 or more"),
        Sign::Positive => (number > 0.0, "not-positive", "write a number above 0"),
        Sign::Fraction => ((0.0..=1.0).contains(&number), "out-of-range", "write a number from 0 to 1"),
        Sign::Factor => (number >= 1.0, "out-of-range", "write a factor of 1 or more"),
    };
    if right { Ok(number) } else { Err((code, help.to_owned())) }
}
