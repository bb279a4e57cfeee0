//! What is given changed inputs: every reader, as the ordinary test and the run that is guided by branches (`tests/fuzz`) call it.

use std::collections::{BTreeMap, BTreeSet};
use taperwright::analysis::{Options, analyse};
use taperwright::ingest::{CRITERIA_KEYS, KEYS, LogKind, ReadOptions, TrialFiles, TrialSource, blank_log, read_files};
use taperwright::trial::Origin;

/// The names under which a changed file is given to the reader. `lone.csv` is known by its header alone; `sheet1.xml` and `content.xml` are what the
/// two kinds of spreadsheet file hold, packed before they are read: few changes of a packed file get as far as its cells.
pub(crate) const NAMES: [&str; 12] = [
    "diameters.csv",
    "levels.csv",
    "indicator.csv",
    "clamp.csv",
    "moves.csv",
    "lone.csv",
    "trial.toml",
    "limits.toml",
    "diameters.xlsx",
    "diameters.ods",
    "sheet1.xml",
    "content.xml",
];
/// Longest input, bytes.
pub(crate) const LONGEST: usize = 60_000;
/// Words that readers treat in ways of their own.
pub(crate) const WORDS: [&str; 40] = [
    ",",
    ";",
    "\t",
    "\"",
    "\r",
    "\n",
    "\r\n",
    "#",
    "=",
    "[",
    "]]",
    "'''",
    "{",
    "\u{feff}",
    "\0",
    "−",
    "µ",
    "1e308",
    "-1e-308",
    "NaN",
    "inf",
    "0",
    "-0",
    "999999999999999999999",
    "1.5,2",
    "1 234",
    "٣",
    "20-May",
    "station_mm",
    "diameter_in",
    "pass",
    "exclude",
    "time",
    "14:05",
    "2026-02-30",
    "yes",
    "[[acceptance.limit]]",
    "[bar]",
    "length_mm = ",
    "collars_mm = [[0, 1e9]]",
];
/// Elements and attributes that sheets are made of.
const OF_SHEETS: [&str; 26] = [
    "<sheetData>",
    "<row r=\"2\">",
    "<c r=\"B3\" t=\"s\">",
    "<c r=\"A1\" t=\"inlineStr\"><is><t>",
    "</t></is></c>",
    "<v>",
    "</v></c>",
    "</row>",
    " t=\"str\"",
    " t=\"d\"",
    " t=\"b\"",
    " t=\"e\"",
    " s=\"1\"",
    "<f>",
    "<mergeCell ref=\"A1:B2\"/>",
    "XFD1048576",
    "<table:table table:name=\"",
    "<table:table-row>",
    "<table:table-cell office:value-type=\"float\" office:value=\"",
    "office:value-type=\"date\" office:date-value=\"",
    "office:value-type=\"time\" office:time-value=\"PT14H05M00S\"",
    "<text:p>",
    "<text:s text:c=\"9\"/>",
    " table:number-columns-repeated=\"",
    " table:number-rows-repeated=\"",
    "<table:covered-table-cell/>",
];

/// Every word worth writing into an input, each once: those above, the columns of every kind of log, the tables and keys of settings and of sets of limits.
pub(crate) fn words() -> BTreeSet<String> {
    let mut all: BTreeSet<String> = WORDS.iter().chain(&OF_SHEETS).map(|word| (*word).to_owned()).collect();
    for kind in LogKind::ALL {
        let blank = blank_log(kind);
        all.extend(blank.lines().filter(|line| !line.starts_with('#')).flat_map(|line| line.split(',')).map(str::to_owned));
    }
    for key in KEYS.iter().chain(CRITERIA_KEYS) {
        let (table, name) = key.path.rsplit_once('.').unwrap_or(("", key.path));
        all.insert(format!("{name} = "));
        all.insert(match table.strip_suffix("[]") {
            Some(table) => format!("[[{table}]]"),
            None => format!("[{}]", table.replace('*', "x")),
        });
    }
    all
}

/// What `NAMES[kind]` with these bytes is called among the files of a trial, and its bytes.
fn file_of(kind: usize, bytes: &[u8]) -> (&'static str, Vec<u8>) {
    match NAMES[kind] {
        "sheet1.xml" => ("diameters.xlsx", stored(&[XLSX, &[("xl/worksheets/sheet1.xml", bytes)]].concat())),
        "content.xml" => ("diameters.ods", stored(&[ODS, &[("content.xml", bytes)]].concat())),
        name => (name, bytes.to_vec()),
    }
}

/// How the reader answers: what the input is for, and the codes of its findings or that it is accepted. The trial is analysed when `whole`.
pub(crate) fn answer(kind: usize, bytes: &[u8], whole: bool) -> String {
    let log = b"station_mm,diameter_mm,pass,direction\n10,38.01,1,to-headstock\n90,38.02,1,to-headstock\n170,38.04,1,to-headstock\n\
        10,37.91,2,to-tailstock\n90,37.93,2,to-tailstock\n170,37.93,2,to-tailstock\n";
    let (name, bytes) = file_of(kind, bytes);
    let mut files = BTreeMap::from([("diameters.csv".to_owned(), Some(log.to_vec()))]);
    if name == "limits.toml" {
        files.insert("trial.toml".to_owned(), Some(b"[acceptance]\ncriteria = \"limits.toml\"\n".to_vec()));
    }
    let source = if name == "lone.csv" { TrialSource::LoneLog } else { TrialSource::Folder };
    if name == "lone.csv" || name.ends_with("xlsx") || name.ends_with("ods") {
        files.clear();
    }
    files.insert(name.to_owned(), Some(bytes));
    let origin = Origin { source, name: "changed".into(), ..Origin::default() };
    match read_files(&TrialFiles::in_memory(&origin, files), &ReadOptions::default()) {
        Ok(trial) => {
            let codes: BTreeSet<&str> = trial.findings.iter().map(|f| f.code).collect();
            let told = format!("{} accepted {codes:?}", NAMES[kind]);
            if whole && trial.diameters.len() < 400 {
                let analysis = analyse(trial, Options { monte_carlo_draws: 1_000, ..Options::default() });
                assert!(analysis.shape.iter().all(|s| s.taper.value.is_finite()), "a taper that is no number");
            }
            told
        }
        Err(rejected) => {
            let codes: BTreeSet<&str> = rejected.findings.iter().map(|f| f.code).collect();
            format!("{} rejected {codes:?}", NAMES[kind])
        }
    }
}

/// The files of a workbook beside its sheet, whose shared texts are columns.
const XLSX: &[(&str, &[u8])] = &[
    (
        "[Content_Types].xml",
        br#"<Types xmlns="http://schemas.openxmlformats.org/package/2006/content-types"><Default Extension="xml" ContentType="application/xml"/></Types>"#,
    ),
    (
        "_rels/.rels",
        br#"<Relationships xmlns="http://schemas.openxmlformats.org/package/2006/relationships"><Relationship Id="rId1" Type="http://schemas.openxmlformats.org/officeDocument/2006/relationships/officeDocument" Target="xl/workbook.xml"/></Relationships>"#,
    ),
    (
        "xl/workbook.xml",
        br#"<workbook xmlns="http://schemas.openxmlformats.org/spreadsheetml/2006/main" xmlns:r="http://schemas.openxmlformats.org/officeDocument/2006/relationships"><sheets><sheet name="Monday" sheetId="1" r:id="rId1"/></sheets></workbook>"#,
    ),
    (
        "xl/_rels/workbook.xml.rels",
        br#"<Relationships xmlns="http://schemas.openxmlformats.org/package/2006/relationships"><Relationship Id="rId1" Type="http://schemas.openxmlformats.org/officeDocument/2006/relationships/worksheet" Target="worksheets/sheet1.xml"/><Relationship Id="rId2" Type="http://schemas.openxmlformats.org/officeDocument/2006/relationships/sharedStrings" Target="sharedStrings.xml"/><Relationship Id="rId3" Type="http://schemas.openxmlformats.org/officeDocument/2006/relationships/styles" Target="styles.xml"/></Relationships>"#,
    ),
    (
        "xl/sharedStrings.xml",
        br#"<sst xmlns="http://schemas.openxmlformats.org/spreadsheetml/2006/main"><si><t>station_mm</t></si><si><t>diameter_mm</t></si><si><t>pass</t></si><si><r><t>dir</t></r><r><t>ection</t></r></si><si><t>time</t></si></sst>"#,
    ),
    (
        "xl/styles.xml",
        br#"<styleSheet xmlns="http://schemas.openxmlformats.org/spreadsheetml/2006/main"><cellXfs><xf numFmtId="0"/><xf numFmtId="14"/><xf numFmtId="20"/><xf numFmtId="46"/></cellXfs></styleSheet>"#,
    ),
];

/// The files of an OpenDocument sheet beside its content.
const ODS: &[(&str, &[u8])] = &[
    ("mimetype", b"application/vnd.oasis.opendocument.spreadsheet"),
    (
        "META-INF/manifest.xml",
        br#"<manifest:manifest xmlns:manifest="urn:oasis:names:tc:opendocument:xmlns:manifest:1.0"><manifest:file-entry manifest:full-path="content.xml" manifest:media-type="text/xml"/></manifest:manifest>"#,
    ),
];

/// A ZIP package of files that are not packed. They are small.
fn stored(files: &[(&str, &[u8])]) -> Vec<u8> {
    let (mut out, mut directory) = (Vec::new(), Vec::new());
    for (name, bytes) in files {
        let size = (bytes.len() as u32).to_le_bytes();
        let about = [
            &[20, 0, 0, 0, 0, 0, 0, 0, 0x21, 0][..],
            &check(bytes).to_le_bytes(),
            &size,
            &size,
            &(name.len() as u16).to_le_bytes(),
            &[0, 0],
        ];
        let about = about.concat();
        directory.extend([b"PK\x01\x02\x14\x00", about.as_slice(), &[0; 10], &(out.len() as u32).to_le_bytes()].concat());
        directory.extend(name.as_bytes());
        out.extend([b"PK\x03\x04", about.as_slice(), name.as_bytes(), bytes].concat());
    }
    let (at, size, count) = (out.len() as u32, directory.len() as u32, (files.len() as u16).to_le_bytes());
    out.extend(directory);
    out.extend([b"PK\x05\x06\0\0\0\0", &count[..], &count, &size.to_le_bytes(), &at.to_le_bytes(), &[0, 0]].concat());
    out
}

/// The CRC-32 of ISO/IEC 15948 (polynomial 0xEDB88320 as reflected), bit by bit.
fn check(bytes: &[u8]) -> u32 {
    let of_byte = |sum: u32, byte: &u8| (0..8).fold(sum ^ u32::from(*byte), |sum, _| (sum >> 1) ^ (0xEDB8_8320 * (sum & 1)));
    !bytes.iter().fold(u32::MAX, of_byte)
}

#[cfg(test)]
mod packing {
    use super::*;

    /// The check value that catalogues of such sums print for this text (from memory).
    #[test]
    fn the_check_of_a_known_text_is_known() {
        assert_eq!(check(b"123456789"), 0xCBF4_3926);
        assert_ne!(check(b"123456780"), 0xCBF4_3926);
    }

    #[test]
    fn packed_sheets_are_read() {
        let sheet = "<worksheet><sheetData><row r=\"1\"><c r=\"A1\" t=\"s\"><v>0</v></c><c r=\"B1\" t=\"s\"><v>1</v></c></row>\
            <row r=\"2\"><c r=\"A2\"><v>10</v></c><c r=\"B2\"><v>38.01</v></c></row><row r=\"3\"><c r=\"A3\"><v>90</v></c><c r=\"B3\"><v>38.02</v></c></row>\
            </sheetData></worksheet>";
        let cell = |value: &str| format!("<table:table-cell office:value-type=\"float\" office:value=\"{value}\"/>");
        let text = |text: &str| format!("<table:table-cell office:value-type=\"string\"><text:p>{text}</text:p></table:table-cell>");
        let row = |a: String, b: String| format!("<table:table-row>{a}{b}</table:table-row>");
        let content = format!(
            "<office:document-content><office:body><office:spreadsheet><table:table table:name=\"Monday\">{}{}{}</table:table></office:spreadsheet></office:body></office:document-content>",
            row(text("station_mm"), text("diameter_mm")),
            row(cell("10"), cell("38.01")),
            row(cell("90"), cell("38.02")),
        );
        let kind = |name: &str| NAMES.iter().position(|known| *known == name).expect("known");
        for (name, bytes) in [("sheet1.xml", sheet.as_bytes()), ("content.xml", content.as_bytes())] {
            let told = answer(kind(name), bytes, true);
            assert!(told.starts_with(&format!("{name} accepted")), "{told}");
            let spoiled = String::from_utf8_lossy(bytes).replace("38.02", "38.0x");
            let told = answer(kind(name), spoiled.as_bytes(), true);
            assert!(told.starts_with(&format!("{name} rejected")), "{told}");
        }
    }

    /// Found by changed inputs: a table and a remark without an end were waited for for ever, blanks by the thousand million filled memory, and a column of many letters
    /// was more than its number holds.
    #[test]
    fn sheets_that_do_not_end_or_name_cells_that_no_sheet_has_are_refused() {
        let kind = |name: &str| NAMES.iter().position(|known| *known == name).expect("known");
        let of = |body: &str| format!("<office:document-content><office:spreadsheet><table:table table:name=\"a\">{body}");
        let string = "<table:table-row><table:table-cell office:value-type=\"string\">";
        let cases = [
            ("content.xml", of(""), "spreadsheet-unreadable"),
            (
                "content.xml",
                of(&format!("{string}<office:annotation></table:table-cell></table:table-row></table:table>")),
                "spreadsheet-unreadable",
            ),
            (
                "content.xml",
                of(&format!(
                    "{string}<text:s text:c=\"99999999999\"/></table:table-cell></table:table-row></table:table></office:spreadsheet></office:document-content>"
                )),
                "spreadsheet-too-large",
            ),
            (
                "sheet1.xml",
                "<worksheet><sheetData><row r=\"1\"><c r=\"stationmm1\"><v>1</v></c></row></sheetData></worksheet>".to_owned(),
                "spreadsheet-unreadable",
            ),
            (
                "sheet1.xml",
                "<worksheet><sheetData><row r=\"99999999999\"><c r=\"A1\"><v>1</v></c></row></sheetData></worksheet>".to_owned(),
                "spreadsheet-unreadable",
            ),
        ];
        for (name, text, code) in cases {
            assert_eq!(answer(kind(name), text.as_bytes(), true), format!("{name} rejected {{{code:?}}}"), "{text}");
        }
    }

    #[test]
    fn words_are_those_of_columns_and_keys() {
        let words = words();
        for word in ["station_mm", "from_setting", "foot", "[bar]", "[[acceptance.limit]]", "collars_mm = ", "[gauge.diameter.x]"] {
            assert!(words.contains(word), "{word} in {words:?}");
        }
    }
}
