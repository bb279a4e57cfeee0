//! Workbooks with more in them than one log: charts, hidden sheets, several logs, cells that begin with `#`.

use super::bench::finding;
use std::fmt::Write as _;
use std::path::PathBuf;
use taperwright::findings::Severity;
use taperwright::ingest::{ReadOptions, read_trial};
use taperwright::trial::Trial;
use tempfile::TempDir;

/// A sheet of a workbook: its name, whether it is hidden, and its rows of cells; none for a chart.
type Sheet<'s> = (&'s str, bool, Option<&'s [&'s [&'s str]]>);

const LOG: &[&[&str]] = &[&["station_mm", "diameter_mm"], &["10", "38.021"], &["190", "38.034"]];

/// The parts of a workbook as ECMA-376 lays them out, cells as inline texts or numbers.
fn workbook(sheets: &[Sheet<'_>]) -> Vec<u8> {
    workbook_hiding(sheets, &[])
}

/// The same with rows that are hidden in every sheet, from 1.
fn workbook_hiding(sheets: &[Sheet<'_>], hides: &[usize]) -> Vec<u8> {
    let (mut list, mut relations, mut parts) = (String::new(), String::new(), Vec::new());
    let schema = "http://schemas.openxmlformats.org";
    for (number, (name, hidden, rows)) in sheets.iter().enumerate() {
        let state = if *hidden { " state=\"hidden\"" } else { "" };
        write!(list, "<sheet name=\"{name}\" sheetId=\"{}\"{state} r:id=\"r{number}\"/>", number + 1).unwrap();
        let (kind, path, text) = match rows {
            None => (
                "chartsheet",
                format!("chartsheets/sheet{number}.xml"),
                format!("<chartsheet xmlns=\"{schema}/spreadsheetml/2006/main\"/>"),
            ),
            Some(rows) => {
                let mut cells = String::new();
                for (row, texts) in rows.iter().enumerate() {
                    let hide = if hides.contains(&(row + 1)) { " hidden=\"1\"" } else { "" };
                    write!(cells, "<row r=\"{}\"{hide}>", row + 1).unwrap();
                    for (text, column) in texts.iter().zip('A'..).filter(|(text, _)| !text.is_empty()) {
                        let place = format!("{column}{}", row + 1);
                        match text.parse::<f64>() {
                            Ok(_) => write!(cells, "<c r=\"{place}\"><v>{text}</v></c>"),
                            Err(_) => write!(cells, "<c r=\"{place}\" t=\"inlineStr\"><is><t>{text}</t></is></c>"),
                        }
                        .unwrap();
                    }
                    cells.push_str("</row>");
                }
                let sheet = format!("<worksheet xmlns=\"{schema}/spreadsheetml/2006/main\"><sheetData>{cells}</sheetData></worksheet>");
                ("worksheet", format!("worksheets/sheet{number}.xml"), sheet)
            }
        };
        let relation = format!("{schema}/officeDocument/2006/relationships");
        write!(relations, "<Relationship Id=\"r{number}\" Type=\"{relation}/{kind}\" Target=\"{path}\"/>").unwrap();
        parts.push((format!("xl/{path}"), text));
    }
    let book = format!(
        "<workbook xmlns=\"{schema}/spreadsheetml/2006/main\" xmlns:r=\"{schema}/officeDocument/2006/relationships\"><sheets>{list}</sheets></workbook>"
    );
    parts.push(("xl/workbook.xml".to_owned(), book));
    let relations = format!("<Relationships xmlns=\"{schema}/package/2006/relationships\">{relations}</Relationships>");
    parts.push(("xl/_rels/workbook.xml.rels".to_owned(), relations));
    let document =
        format!("<Relationship Id=\"r\" Type=\"{schema}/officeDocument/2006/relationships/officeDocument\" Target=\"xl/workbook.xml\"/>");
    let document = format!("<Relationships xmlns=\"{schema}/package/2006/relationships\">{document}</Relationships>");
    parts.push(("_rels/.rels".to_owned(), document));
    package(&parts)
}

/// A ZIP package of files that are not packed.
fn package(files: &[(String, String)]) -> Vec<u8> {
    let (mut out, mut directory) = (Vec::new(), Vec::new());
    for (name, text) in files {
        let size = u32::try_from(text.len()).unwrap().to_le_bytes();
        let length = u16::try_from(name.len()).unwrap().to_le_bytes();
        let sum = checksum(text.as_bytes()).to_le_bytes();
        let about = [&[20, 0, 0, 0, 0, 0, 0, 0, 0, 0][..], &sum, &size, &size, &length, &[0, 0]].concat();
        directory.extend([b"PK\x01\x02\x14\x00", about.as_slice(), &[0; 10], &u32::try_from(out.len()).unwrap().to_le_bytes()].concat());
        directory.extend(name.as_bytes());
        out.extend([b"PK\x03\x04", about.as_slice(), name.as_bytes(), text.as_bytes()].concat());
    }
    let (at, size) = (u32::try_from(out.len()).unwrap(), u32::try_from(directory.len()).unwrap());
    let count = u16::try_from(files.len()).unwrap().to_le_bytes();
    out.extend(directory);
    out.extend([b"PK\x05\x06\0\0\0\0", &count[..], &count, &size.to_le_bytes(), &at.to_le_bytes(), &[0, 0]].concat());
    out
}

/// The checksum of ZIP packages: polynomial 0xEDB88320, bit by bit.
fn checksum(bytes: &[u8]) -> u32 {
    let step = |sum: u32, _| if sum & 1 == 1 { (sum >> 1) ^ 0xEDB8_8320 } else { sum >> 1 };
    !bytes.iter().fold(u32::MAX, |sum, byte| (0..8).fold(sum ^ u32::from(*byte), step))
}

fn file(sheets: &[Sheet<'_>]) -> (TempDir, PathBuf) {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("week.xlsx");
    std::fs::write(&path, workbook(sheets)).unwrap();
    (folder, path)
}

fn read(sheets: &[Sheet<'_>]) -> Trial {
    let (_folder, path) = file(sheets);
    read_trial(&path, &ReadOptions::default()).unwrap_or_else(|rejected| panic!("{:#?}", rejected.findings))
}

#[test]
fn a_chart_is_passed_over() {
    let trial = read(&[("Chart", false, None), ("Log", false, Some(LOG))]);
    assert_eq!((trial.diameters.len(), trial.findings.len()), (2, 0), "{:?}", trial.findings);
    let (_folder, path) = file(&[("Chart", false, None)]);
    let findings = read_trial(&path, &ReadOptions::default()).expect_err("no sheet").findings;
    finding(&findings, "no-sheet-with-header");
}

#[test]
fn other_logs_and_hidden_sheets_are_told() {
    let levels: &[&[&str]] = &[&["station_mm", "roll_mm_per_m"], &["10", "0.1"]];
    let notes: &[&[&str]] = &[&["oil the ways"]];
    let trial =
        read(&[("Notes", false, Some(notes)), ("Monday", true, Some(LOG)), ("Tuesday", false, Some(LOG)), ("Level", false, Some(levels))]);
    let found = finding(&trial.findings, "sheets-not-read");
    assert!(found.severity == Severity::Warning && found.found.ends_with("not: Tuesday, Level"), "{found:?}");
    let found = finding(&trial.findings, "hidden-sheet");
    assert!(found.severity == Severity::Warning && found.found.contains("`Monday`"), "{found:?}");
    let trial = read(&[("Notes", false, Some(notes)), ("Tuesday", false, Some(LOG))]);
    assert!(trial.findings.iter().all(|f| f.severity == Severity::Note), "{:?}", trial.findings);
}

#[test]
fn a_cell_that_begins_with_a_hash_leaves_its_row_in_use() {
    let rows: &[&[&str]] =
        &[&["edge", "station_mm", "diameter_mm"], &["#1", "10", "38.021"], &["#1", "190", "38.034"], &["# tea"], &["#1", "100", "38.03"]];
    let trial = read(&[("Log", false, Some(rows))]);
    assert_eq!(trial.diameters.len(), 3);
    assert_eq!(trial.diameters.first().and_then(|r| r.edge.map(|edge| edge.to_string())).as_deref(), Some("#1"));
}

#[test]
fn an_empty_cell_of_a_sheet_needs_no_separator() {
    let rows: &[&[&str]] = &[&["station_mm", "diameter_mm"], &["10", "38.021"], &["190"], &["200", "38.1", "5"]];
    let (_folder, path) = file(&[("Log", false, Some(rows))]);
    let findings = read_trial(&path, &ReadOptions::default()).expect_err("an empty cell").findings;
    for (code, right) in [("row-too-short", "fill the empty cells"), ("row-too-long", "a name in the header")] {
        let help = &finding(&findings, code).help;
        assert!(help.contains(right) && !help.contains("separator"), "{help}");
    }
}

/// Rows that a filter or a hand hid, as a general-purpose program saved them; those of another sheet and empty ones are not told.
#[test]
fn hidden_rows_are_read_and_told() {
    for ending in ["xlsx", "ods"] {
        let path = PathBuf::from(format!("tests/sheets/hidden-rows.{ending}"));
        let trial = read_trial(&path, &ReadOptions::default()).expect("a log");
        let found = finding(&trial.findings, "hidden-rows");
        assert_eq!((found.severity, found.row, trial.diameters.len()), (Severity::Warning, Some(3), 5), "{ending}");
        assert!(found.found.contains("rows 3 to 4, 7 are read") && !found.found.contains('5'), "{ending}: {found:?}");
        let shown = read_trial(&PathBuf::from(format!("tests/sheets/two-sheets.{ending}")), &ReadOptions::default()).expect("a log");
        assert!(shown.findings.iter().all(|finding| finding.code != "hidden-rows"), "{ending}");
    }
}

/// What stands above the header is not read, hidden or not.
#[test]
fn hidden_rows_above_the_header_are_not_told() {
    let rows: &[&[&str]] = &[&["Bar notes"], &["oil the ways"], &["station_mm", "diameter_mm"], &["10", "38.021"], &["190", "38.034"]];
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("week.xlsx");
    let told = |hides: &[usize]| {
        std::fs::write(&path, workbook_hiding(&[("Log", false, Some(rows))], hides)).unwrap();
        let findings = read_trial(&path, &ReadOptions::default()).expect("a log").findings;
        findings.iter().find(|found| found.code == "hidden-rows").and_then(|found| found.row)
    };
    assert_eq!(told(&[1, 2]), None);
    assert_eq!(told(&[1, 2, 5]), Some(5));
}

/// A note may say anything; a reference in a tag may not.
#[test]
fn a_note_that_looks_like_a_reference_refuses_no_sheet() {
    let rows: &[&[&str]] = &[&["station_mm", "diameter_mm", "note"], &["10", "38.021", "see r=\"ABCDEFG1\" it's"], &["190", "38.034", ""]];
    let trial = read(&[("Log", false, Some(rows))]);
    let note = trial.diameters.first().and_then(|reading| reading.note);
    assert_eq!(note.as_deref(), Some("see r=\"ABCDEFG1\" it's"));
    let mut bytes = workbook(&[("Log", false, Some(rows))]);
    let at = bytes.windows(6).position(|part| part == b"r=\"A2\"").expect("a reference");
    bytes.splice(at..at + 6, *b"r=\"ABCDEFG2\"");
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("week.xlsx");
    std::fs::write(&path, bytes).unwrap();
    finding(&read_trial(&path, &ReadOptions::default()).expect_err("no such cell").findings, "spreadsheet-unreadable");
}

/// A text among numbers is named as one; what stands between the cells of a sheet is no character that nobody knows.
#[test]
fn texts_among_numbers_are_named() {
    let rows: &[&[&str]] = &[&["station_mm", "diameter_mm"], &["10", "38,02"], &["100", "38.021"], &["190", "38.034"]];
    let (_folder, path) = file(&[("Log", false, Some(rows))]);
    let findings = read_trial(&path, &ReadOptions::default()).expect_err("a text").findings;
    assert!(finding(&findings, "mixed-decimal-marks").help.contains("look like numbers are text"), "{findings:?}");
    let rows: &[&[&str]] = &[&["station_mm", "diameter_mm"], &["10", "38.02", "38.03"], &["190", "38.034"]];
    let (_folder, path) = file(&[("Log", false, Some(rows))]);
    let findings = read_trial(&path, &ReadOptions::default()).expect_err("a cell too many").findings;
    assert!(finding(&findings, "row-too-long").found.contains("`10 | 38.02 | 38.03`"), "{findings:?}");
}
