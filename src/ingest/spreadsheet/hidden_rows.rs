//! Rows that a spreadsheet program does not show, hidden by hand or by a filter: the library that reads the cells gives them like any other.

use super::unpacked::{Entry, entries};

/// Rows from the first to the last, both counted from 1.
type Stretch = (u64, u64);
/// Longest tag that is looked at; one of a row has some hundred bytes.
const MOST_TAG: usize = 4096;
/// Most stretches of hidden rows that are kept.
const MOST_STRETCHES: usize = 10_000;

/// Hidden rows of the sheet at `place` in the list of a workbook (`hidden` of `row` in its part, ECMA-376 part 1, section 18.3.1.73, from memory).
/// None where the package is not as expected: its cells then say what is wrong.
pub(in crate::ingest) fn hidden_in_workbook(package: &[u8], place: usize) -> Vec<Stretch> {
    in_workbook(package, place).map(in_order).unwrap_or_default()
}

fn in_workbook(package: &[u8], place: usize) -> Option<Vec<Stretch>> {
    let entries = entries(package)?;
    let find = |name: &str| entries.iter().find(|entry| entry.name.eq_ignore_ascii_case(name.as_bytes()));
    let (mut sheets, mut id) = (0, None);
    each_tag(find("xl/workbook.xml")?, package, |tag| {
        if tag.is(b"sheet") {
            if sheets == place {
                id = tag.attribute(b"id");
            }
            sheets += 1;
        }
    })?;
    let (id, mut target) = (id?, None);
    each_tag(find("xl/_rels/workbook.xml.rels")?, package, |tag| {
        if tag.is(b"Relationship") && tag.attribute(b"Id").as_deref() == Some(&*id) {
            target = tag.attribute(b"Target");
        }
    })?;
    let target = target?;
    let path = target.strip_prefix('/').map_or_else(|| format!("xl/{target}"), str::to_owned);
    let (mut rows, mut row) = (Vec::new(), 0_u64);
    each_tag(find(&path)?, package, |tag| {
        if tag.is(b"row") {
            row = tag.attribute(b"r").and_then(|number| number.parse().ok()).unwrap_or(row.saturating_add(1));
            if matches!(tag.attribute(b"hidden").as_deref(), Some("1" | "true")) {
                push(&mut rows, (row, row));
            }
        }
    })?;
    Some(rows)
}

/// Hidden rows of the table at `place` of an OpenDocument package (`table:visibility`, version 1.3, section 19.749, from memory).
pub(in crate::ingest) fn hidden_in_opendocument(package: &[u8], place: usize) -> Vec<Stretch> {
    in_opendocument(package, place).map(in_order).unwrap_or_default()
}

fn in_opendocument(package: &[u8], place: usize) -> Option<Vec<Stretch>> {
    let entries = entries(package)?;
    let content = entries.iter().find(|entry| entry.name == b"content.xml")?;
    let (mut tables, mut rows, mut row) = (0_usize, Vec::new(), 0_u64);
    each_tag(content, package, |tag| {
        if tag.is(b"table") {
            (tables, row) = (tables + 1, 0);
        } else if tag.is(b"table-row") && tables == place + 1 {
            let first = row.saturating_add(1);
            row = row.saturating_add(tag.attribute(b"number-rows-repeated").and_then(|count| count.parse().ok()).unwrap_or(1));
            if matches!(tag.attribute(b"visibility").as_deref(), Some("filter" | "collapse")) {
                push(&mut rows, (first, row));
            }
        }
    })?;
    Some(rows)
}

/// Whether a row is in one of the stretches, which are in order and apart.
pub(in crate::ingest) fn covers(stretches: &[Stretch], row: u64) -> bool {
    let begun = stretches.partition_point(|(first, _)| *first <= row);
    begun.checked_sub(1).and_then(|index| stretches.get(index)).is_some_and(|(_, last)| row <= *last)
}

/// The stretches in order and apart: a file may name its rows in any order, and one twice.
fn in_order(mut rows: Vec<Stretch>) -> Vec<Stretch> {
    rows.sort_unstable();
    rows.dedup_by(|next, kept| {
        let meets = next.0 <= kept.1;
        if meets {
            kept.1 = kept.1.max(next.1);
        }
        meets
    });
    rows
}

fn push(rows: &mut Vec<Stretch>, stretch: Stretch) {
    if let Some((_, last)) = rows.last_mut().filter(|(_, last)| last.saturating_add(1) == stretch.0) {
        *last = stretch.1;
    } else if rows.len() < MOST_STRETCHES {
        rows.push(stretch);
    }
}

/// All between the brackets of a start tag.
struct Tag<'x>(&'x [u8]);

impl Tag<'_> {
    /// Whether it has this name, with or without a prefix.
    fn is(&self, name: &[u8]) -> bool {
        local(self.0.split(|byte| byte.is_ascii_whitespace() || *byte == b'/').next().unwrap_or_default()) == name
    }

    /// The value of an attribute of this name, with or without a prefix.
    fn attribute(&self, name: &[u8]) -> Option<String> {
        let mut rest = self.0;
        loop {
            let equal = memchr::memchr(b'=', rest)?;
            let before = rest.get(..equal)?.trim_ascii_end();
            let found = local(before.rsplit(u8::is_ascii_whitespace).next().unwrap_or_default()) == name;
            let value = rest.get(equal + 1..)?.trim_ascii_start();
            let (mark, value) = value.split_first().filter(|(mark, _)| matches!(mark, b'"' | b'\''))?;
            let end = memchr::memchr(*mark, value)?;
            if found {
                return std::str::from_utf8(value.get(..end)?).ok().map(str::to_owned);
            }
            rest = value.get(end + 1..)?;
        }
    }
}

/// A name without its prefix.
fn local(name: &[u8]) -> &[u8] {
    memchr::memchr(b':', name).and_then(|at| name.get(at + 1..)).unwrap_or(name)
}

/// Hands over each start tag of an entry, part by part: a sheet may be larger than should be held in memory. In comments tags are told too; a row that only a
/// comment hides is asked about in vain.
fn each_tag(entry: &Entry, package: &[u8], mut with: impl FnMut(&Tag<'_>)) -> Option<()> {
    let (mut tag, mut inside, mut quote) = (Vec::new(), false, None::<u8>);
    entry.each(package, u64::MAX, |mut part| {
        while !part.is_empty() {
            if !inside {
                let Some(at) = memchr::memchr(b'<', part) else { return };
                part = part.get(at + 1..).unwrap_or_default();
                (inside, quote) = (true, None);
                tag.clear();
                continue;
            }
            // in a comment or declaration a mark opens no quotation
            let is_tag = !matches!(tag.first().or(part.first()), Some(b'!' | b'?'));
            let end = part.iter().position(|byte| {
                match quote.filter(|_| is_tag) {
                    Some(mark) if mark == *byte => quote = None,
                    None if is_tag && matches!(byte, b'"' | b'\'') => quote = Some(*byte),
                    None => return *byte == b'>',
                    Some(_) => {}
                }
                false
            });
            let room = MOST_TAG.saturating_sub(tag.len());
            tag.extend_from_slice(part.get(..end.unwrap_or(part.len()).min(room)).unwrap_or(part));
            let Some(end) = end else { return };
            if !tag.starts_with(b"/") {
                with(&Tag(&tag));
            }
            inside = false;
            part = part.get(end + 1..).unwrap_or_default();
        }
    })?;
    Some(())
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn attributes_are_found_by_their_local_names() {
        let tag = Tag(b"x:row r = '12' spans=\"1:2\" hidden='1'/");
        assert!(tag.is(b"row") && !tag.is(b"r"));
        assert_eq!(tag.attribute(b"r").as_deref(), Some("12"));
        assert_eq!(tag.attribute(b"hidden").as_deref(), Some("1"));
        assert_eq!(tag.attribute(b"ht"), None);
        assert_eq!(Tag(b"c t='a>' r:id=\"r3\"").attribute(b"id").as_deref(), Some("r3"));
    }

    #[test]
    fn stretches_grow_while_rows_follow_one_another() {
        let mut rows = Vec::new();
        [(3, 3), (4, 6), (8, 8)].into_iter().for_each(|stretch| push(&mut rows, stretch));
        assert_eq!(rows, [(3, 6), (8, 8)]);
    }

    #[test]
    fn a_row_is_found_among_the_stretches_in_any_order() {
        let written = [(8, 8), (3, 6), (5, 12), (20, 20), (20, 21)];
        let ordered = in_order(written.to_vec());
        assert_eq!(ordered, [(3, 12), (20, 21)]);
        for row in 0..25 {
            assert_eq!(covers(&ordered, row), written.iter().any(|(first, last)| (*first..=*last).contains(&row)), "{row}");
        }
        assert!(!covers(&[], 1));
    }

    /// As many stretches as are kept beside a million rows: one after another they would take minutes.
    #[test]
    fn many_rows_are_looked_up_among_many_stretches_at_once() {
        let stretches: Vec<Stretch> = (1..=MOST_STRETCHES as u64).map(|number| (2 * number, 2 * number)).collect();
        let start = std::time::Instant::now();
        assert_eq!((1..=1_000_000).filter(|row| covers(&stretches, *row)).count(), MOST_STRETCHES);
        assert!(start.elapsed() < std::time::Duration::from_secs(20), "{:?}", start.elapsed());
    }
}
