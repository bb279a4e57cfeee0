//! What would be right where a settings file is no TOML.

use super::convert::day;
use super::keys::Key;
use super::reader::is_table;
use std::ops::Range;

/// A fault of syntax in words: what was found, and what would be right.
pub(super) struct Told {
    pub(super) found: String,
    pub(super) help: String,
}

/// A fault whose cause is known: a decimal comma, a unit behind its number, or a date as it is written by hand.
pub(super) fn of_value(line: &str) -> Option<Told> {
    let (name, rest) = line.split_once('=')?;
    let (name, value) = (name.trim(), rest.split('#').next()?.trim());
    let plain = |text: &str| !text.is_empty() && text.bytes().all(|byte| byte.is_ascii_digit());
    let unsigned = value.trim_start_matches(['+', '-']);
    let help = if let Some((whole, decimals)) = unsigned.split_once(',')
        && plain(&whole.replace('.', ""))
        && plain(decimals)
    {
        let sign = value.get(..value.len() - unsigned.len())?;
        let (point, whole_number) = (whole.replace('.', ""), format!("{sign}{whole}{decimals}"));
        if decimals.len() == 3 && !whole.contains('.') {
            format!("write {sign}{point}.{decimals}, or {whole_number} if the comma parts thousands: TOML has decimal points")
        } else {
            format!("write {sign}{point}.{decimals}: TOML has decimal points")
        }
    } else if let Some((number, unit)) = value.split_once(' ')
        && number.parse::<f64>().is_ok()
        && unit.chars().all(|letter| letter.is_alphabetic() || "/µ°%".contains(letter))
    {
        format!("write {number}: a number stands alone, its unit is in the key's name")
    } else {
        in_numbers(value)?
    };
    Some(Told { found: format!("`{value}` for `{name}`"), help })
}

/// The advice on a date of which every part is a number; `None` where the text is none.
fn in_numbers(value: &str) -> Option<String> {
    let parts: Vec<&str> = value.split(['-', '.', '/']).collect();
    let date = parts.len() == 3 && parts.iter().all(|part| (1..=4).contains(&part.len()) && part.bytes().all(|byte| byte.is_ascii_digit()));
    date.then(|| day(value))
}

/// A key or a table that stands twice, `again` being what the text says where it does so the second time.
///
/// Where the first stands is looked for line by line above it: the parser puts the second in the place of the first.
pub(super) fn twice(keys: &[Key], text: &str, again: Range<usize>) -> Told {
    let line_begins = text.get(..again.start).and_then(|before| before.rfind('\n')).map_or(0, |end| end + 1);
    let above = text.get(..line_begins).unwrap_or("");
    let line = text.get(line_begins..).and_then(|rest| rest.lines().next()).unwrap_or("").trim();
    let name = text.get(again).unwrap_or("").trim_matches(['"', '\'']);
    let header = header_of(line);
    let path = header.clone().unwrap_or_else(|| {
        let mut path = above.lines().rev().find_map(header_of).unwrap_or_default();
        path.push(name.to_owned());
        path
    });
    let first = first_of(above, &path, header.is_some());
    let place = first.as_ref().map_or_else(|| "above".to_owned(), |first| format!("in row {}", first.row));
    let dotted = path.join(".");
    let help = if header.is_none() || first.is_some_and(|first| !first.is_table) {
        format!("`{name}` stands {place} already: keep one of the two")
    } else if is_table(keys, &format!("{dotted}[]")) {
        format!("write [[{dotted}]] here and {place}, once for each")
    } else {
        format!("[{dotted}] stands {place} already: write there what stands below this one, and take this one out")
    };
    let found = if header.is_some() { format!("`{line}` a second time") } else { format!("`{name}` a second time") };
    Told { found, help }
}

/// The path of a table's header, `[a.b]` or `[[a.b]]`; `None` where the line is none.
fn header_of(line: &str) -> Option<Vec<String>> {
    let inner = line.split('#').next().unwrap_or("").trim().strip_prefix('[')?.strip_suffix(']')?;
    Some(path_of(inner.strip_prefix('[').and_then(|list| list.strip_suffix(']')).unwrap_or(inner)))
}

/// The line in which a path first stands, and whether as a table.
struct First {
    row: usize,
    is_table: bool,
}

/// Where a path first stands in `above`; a key of a list's table only in its last one.
fn first_of(above: &str, path: &[String], is_header: bool) -> Option<First> {
    let (mut table, mut first) = (Vec::new(), None);
    for (row, line) in (1..).zip(above.lines()) {
        if let Some(header) = header_of(line) {
            if header == path {
                first.get_or_insert(First { row, is_table: true });
            } else if !is_header && path.split_last().is_some_and(|(_, parent)| parent == header) {
                first = None;
            }
            table = header;
        } else if let Some((key, _)) = line.split_once('=') {
            let stated: Vec<String> = table.iter().cloned().chain(path_of(key)).collect();
            if stated.starts_with(path) {
                first.get_or_insert(First { row, is_table: false });
            }
        }
    }
    first
}

/// The parts of a dotted path, quotes taken off.
fn path_of(dotted: &str) -> Vec<String> {
    let mut quote = None;
    let parts = dotted.split(|letter: char| {
        match (quote, letter) {
            (None, '"' | '\'') => quote = Some(letter),
            (Some(open), _) if open == letter => quote = None,
            _ => {}
        }
        quote.is_none() && letter == '.'
    });
    parts.map(|part| part.trim().trim_matches(['"', '\'']).to_owned()).collect()
}
