//! Lines above a header: a title is passed over, and one that says what the readings mean is refused.

use super::bench::{finding, good, read_bytes, read_folder};
use taperwright::findings::{Finding, Severity};
use taperwright::ingest::ReadOptions;
use taperwright::trial::Direction;

const WIDE: &str = "Station (mm),Pass 1,Pass 2\n20,38.001,37.902\n60,38.006,37.894\n100,38.010,37.890\n";
const LONG: &str = "Station (mm),Diameter (mm)\n20,38.001\n60,38.006\n100,38.010\n";

fn fault(text: &str, code: &str) -> Finding {
    let findings = read_bytes(text.as_bytes(), &ReadOptions::default()).err().map(|rejected| rejected.findings).unwrap_or_default();
    finding(&findings, code).clone()
}

fn refused(text: &str, found: &str, help: &str) {
    let fault = fault(text, "meaning-above-header");
    assert!(fault.severity == Severity::Error && fault.found.contains(found) && fault.help.contains(help), "{text}: {fault:?}");
    assert!(fault.help.ends_with("then take this line out, or put # before it"), "{fault:?}");
}

#[test]
fn a_second_header_line_that_parts_the_passes_is_refused() {
    for (title, found, help) in [
        (",To headstock,To tailstock", "`To tailstock` over `Pass 2`", "as in `Pass 2 to-tailstock`"),
        (",from TS,from HS", "`from HS` over `Pass 2`", "`Pass 2 to-tailstock`"),
        ("Station,From tailstock,From headstock", "`From headstock` over `Pass 2`", "`Pass 2 to-tailstock`"),
        ("Direction,to headstock,to tailstock", "`to tailstock`", "`Pass 2 to-tailstock`"),
        ("Cut:,HS,TS", "`TS` over `Pass 2`", "`Pass 2 to-tailstock`"),
        ("Pass 1 to headstock, pass 2 to tailstock", "above the header", "to-tailstock`"),
        (",Setting 0,Setting 1", "`Setting 0 | Setting 1` above the header", "pass and setting"),
        ("Setting,0,1", "`Setting | 0 | 1`", "pass and setting"),
        (",Before adjustment,After adjustment", "Before adjustment", "pass and setting"),
        (",,After adjustment", "After adjustment", "pass and setting"),
        (",0.25 mm deep,0.05 mm deep", "0.25 mm deep", "pass and depth"),
        ("Depth of cut,0.25,0.05", "0.25", "pass and depth"),
        (",Heavy cut,Light cut", "Heavy cut", "pass and depth"),
        ("Feed,0.1,0.2", "Feed", "pass and feed"),
        (",Bar A,Bar B", "Bar A | Bar B", "a log for each bar"),
        ("Bar no.,1,2", "Bar no.", "a log for each bar"),
        (",Radius,", "Radius", "write twice each"),
    ] {
        refused(&format!("{title}\n{WIDE}"), found, help);
        // below another title, and apart by semicolons
        refused(&format!("Quay Lathe 2\n{title}\n{WIDE}").replace(',', ";"), &found.replace(',', ";"), help);
    }
    let in_unit = "Direction,HS,TS\nStation (mm),Pass 1 (mm),Pass 2 (mm)\n20,38.001,37.902\n60,38.006,37.894\n";
    refused(in_unit, "`TS`", "`Pass 2 to-tailstock (mm)`");
}

#[test]
fn a_title_that_says_what_readings_mean_is_refused() {
    for log in [WIDE, LONG] {
        for (title, help) in [
            ("Passes cut towards the tailstock", "counts as cut to the headstock"),
            ("Direction: TS", "counts as cut to the headstock"),
            ("Stations from the tailstock end", "200 − 10 = 190"),
            ("From tailstock", "200 − 10 = 190"),
            ("Stations measured from tailstock; readings in mm", "200 − 10 = 190"),
            ("Stations from the end", "200 − 10 = 190"),
            ("Bar test. Readings in inches", "another unit"),
            ("Units: inch", "another unit"),
            ("in,in", "another unit"),
        ] {
            refused(&format!("{title}\n{log}"), "above the header", help);
        }
    }
    let both = format!("Stations measured from tailstock; readings in inches\n{LONG}");
    let rejected = read_bytes(both.as_bytes(), &ReadOptions::default()).expect_err("two faults");
    let helps: Vec<&str> = rejected.findings.iter().map(|finding| finding.help.as_str()).collect();
    assert!(helps.len() == 2 && helps[0].contains("200 − 10 = 190") && helps[1].contains("another unit"), "{helps:?}");
    for (file, text) in [
        ("levels.csv", "Stations from the tailstock end\nstation_mm,roll_mm_per_m\n10,0.01\n100,0.02\n"),
        ("indicator.csv", "Readings in thou\nstation_mm,reading_mm\n10,0.01\n100,0.02\n"),
    ] {
        let rejected = read_folder(&[("diameters.csv", LONG), (file, text)]).expect_err(text);
        assert!(rejected.findings.iter().any(|finding| finding.code == "meaning-above-header"), "{text}: {rejected:?}");
    }
}

/// Numbers of readings over bare numbers: each is read as a pass, which is said.
#[test]
fn readings_above_bare_numbers_are_asked_about() {
    let bare = WIDE.replace("Pass ", "");
    for title in [",Reading 1,Reading 2", ",Repeat readings,", "Reading,1,2", ",Repeat 1,Repeat 2"] {
        let trial = good(&format!("{title}\n{bare}"));
        let found = finding(&trial.findings, "meaning-above-header");
        assert!(found.severity == Severity::Warning && found.help.contains("diameter, pass and repeat"), "{title}: {found:?}");
        assert_eq!(trial.diameters.len(), 6, "{title}");
        let named = good(&format!("{title}\n{WIDE}"));
        assert!(named.findings.iter().all(|finding| finding.severity == Severity::Note), "{title}: {:?}", named.findings);
    }
    for title in ["Readings by AB", ",Readings (mm),", "Diameter (mm),,", ",Diameter (mm),"] {
        for log in [WIDE, &bare] {
            let trial = good(&format!("{title}\n{log}"));
            assert!(trial.findings.iter().all(|finding| finding.severity == Severity::Note), "{title}: {:?}", trial.findings);
        }
    }
    refused(&format!("Diameter (in),,\n{WIDE}"), "`Diameter (in)` above the header", "another unit");
    // a table without stations above a table is no title
    let named =
        fault("note,Diameter (mm)\nAB 1,38\nAB 2,39\nnote,Station (mm),Diameter (mm)\nAB,20,38.001\nAB,60,38.006\n", "missing-column");
    assert_eq!(named.row, Some(1));
    let two = fault("Diameter (mm),note\n38,\nStation (mm),Diameter (mm)\n20,38.001\n60,38.006\n", "missing-column");
    assert_eq!(two.row, Some(1));
}

/// Titles that name ends, units, bars and cuts, and say nothing of the readings that is not read anyway.
#[test]
fn an_honest_title_is_passed_over() {
    for title in [
        "Quay Lathe 2, bar test, 12 March",
        "Machine: L2",
        "Operator: AB",
        "Operator,AB,CD",
        "Bar 40 mm EN1A, stick-out 150 mm",
        "Bar,40 mm,EN1A",
        "Bar,B12",
        "Bar A, before and after adjustment",
        "Lathe 2, bar test, after adjustment",
        "Taper test between headstock and tailstock",
        "Holding,chuck",
        "Supported by,tailstock",
        "Tailstock,removed",
        "Bar between chuck and tailstock centre",
        "Distance from headstock to tailstock 600 mm",
        "Stations from the headstock towards the tailstock",
        "Stations from the chuck jaws, in mm",
        "Passes cut towards the headstock",
        "Direction,to headstock",
        ",To headstock,To headstock",
        "Cut from the tailstock to the headstock",
        "Setting,0",
        "Setting 1, after adjustment",
        "Temperature before,20,after,21",
        "Depth of cut,0.1",
        "Depth of cut 0.1 mm, feed 0.1 mm",
        "Feed,0.1 mm/rev",
        "Nose radius,0.4",
        "Micrometer 25-50 mm, readings in mm",
        "Units,mm",
        "mm,mm",
        "Micrometer graduated in inches, readings converted to mm",
        "Readings in inches converted to mm",
        "Lathe of 6 inch, 1 in. toolpost",
        "Time,9:00,9:30",
        "First cut begun 5 mm from the end of the bar",
    ] {
        for log in [WIDE, LONG] {
            let trial = good(&format!("{title}\n{log}"));
            assert!(trial.findings.iter().all(|finding| finding.severity == Severity::Note), "{title}: {:?}", trial.findings);
        }
    }
    // what the log states itself is read
    let stated = "Station (mm),Pass 1 to-headstock,Pass 2 to-tailstock\n20,38.001,37.902\n60,38.006,37.894\n";
    let column = "station_mm,diameter_mm,direction\n20,38.001,to-tailstock\n60,38.006,to-tailstock\n";
    for text in [
        format!(",To headstock,To tailstock\n{stated}"),
        format!("Pass 2 cut to the tailstock\n{stated}"),
        format!("Passes cut towards the tailstock\n{column}"),
    ] {
        let trial = good(&text);
        assert!(trial.findings.iter().all(|finding| finding.severity == Severity::Note), "{text}: {:?}", trial.findings);
    }
}

/// What stands over a pass of a wide sheet in other words is told as a pass is headed: the diameter's own header would lose the pass.
#[test]
fn words_over_a_pass_are_told_how_a_pass_is_headed() {
    let log = |pass: &str| format!("Station (mm),{pass}\n20,38.001\n60,38.006\n");
    for (pass, code, right) in [
        ("Pass 2 repeat (mm)", "words-in-header", "`pass 2 (mm)`, with the way of the tool `pass 2 to-headstock (mm)`"),
        ("Pass 1 to-tailstock front (in)", "words-in-header", "write `pass 1 to-tailstock (in)`"),
        ("Pass 1 radius (mm)", "words-in-header", "twice the radius each; then write `pass 1 (mm)`"),
        ("Pass 1 tailstock end", "unknown-log", "`pass 1 to-tailstock`"),
        ("Pass 3 HS-TS", "unknown-log", "`pass 3 to-headstock`"),
        ("2nd cut (mm)", "unknown-log", "`pass 2 to-headstock (mm)`"),
        ("Pass 1a", "unknown-log", "`pass 1`"),
        ("Pass 1 heavy", "unknown-log", "station, diameter, pass and depth"),
    ] {
        let found = fault(&log(pass), code);
        assert!(found.column.as_deref() == Some(pass) && found.help.contains(right), "{pass}: {found:?}");
        assert!(!found.help.contains("diameter_"), "{pass}: {found:?}");
    }
    let two = fault("Station (mm),Pass 1 heavy (mm),Pass 2 light (mm)\n20,38.001,37.9\n60,38.006,37.9\n", "words-in-header");
    assert!(two.help.contains("`pass 1 to-headstock (mm)`"), "{two:?}");
    for (pass, direction) in [
        ("Pass 1 from tailstock to headstock", Direction::ToHeadstock),
        ("Pass 1 (HS to TS)", Direction::ToTailstock),
        ("Pass 1 (from TS) mm", Direction::ToHeadstock),
        ("1 head to tail (mm)", Direction::ToTailstock),
        ("Pass 1 tool to chuck", Direction::ToHeadstock),
        ("Pass 1 to the tailstock end", Direction::ToTailstock),
        ("Pass No. 1", Direction::ToHeadstock),
        ("Pass no. 1 to-tailstock (mm)", Direction::ToTailstock),
        ("Cut number 1 (HS to TS)", Direction::ToTailstock),
    ] {
        let trial = good(&log(pass));
        assert!(
            trial.findings.is_empty() && trial.diameters.iter().all(|reading| reading.direction == direction),
            "{pass}: {:?}",
            trial.findings
        );
    }
}

#[test]
fn a_direction_between_two_ends_is_read() {
    let log = |cell: &str| format!("station_mm,diameter_mm,direction\n20,38.001,{cell}\n60,38.006,{cell}\n");
    for (cells, direction) in [
        (
            [
                "TS to HS",
                "TS-HS",
                "tailstock to headstock",
                "from TS",
                "Tailstock – Chuck",
                "from the tailstock to the headstock",
                "to the headstock end",
                "to chuck end",
            ],
            Direction::ToHeadstock,
        ),
        (
            [
                "HS to TS",
                "hs-ts",
                "away from chuck",
                "from HS",
                "from the chuck towards the tailstock",
                "tool to tailstock",
                "to the tailstock end",
                "from headstock end to tailstock end",
            ],
            Direction::ToTailstock,
        ),
    ] {
        for cell in cells {
            let trial = good(&log(cell));
            assert!(trial.diameters.iter().all(|reading| reading.direction == direction), "{cell}");
        }
    }
    for cell in ["HS/TS", "HS TS", "HS to HS", "HS & TS", "both", "headstock and tailstock", "T-H-T", "tailstock end"] {
        let found = fault(&log(cell), "unknown-word");
        assert!(found.help.ends_with("the way the tool goes as it cuts"), "{cell}: {found:?}");
    }
}

#[test]
fn numbers_of_passes_and_settings_stand_in_every_row() {
    for (column, name) in [("pass", "pass"), ("setting", "setting"), ("Pass no.", "pass")] {
        let found = fault(&format!("station_mm,diameter_mm,{column}\n20,38.001,1\n60,38.006,\n100,38.01,\n"), "missing-value");
        assert!(found.row == Some(3) && found.help.starts_with(&format!("write the number of the {name} in every row")), "{found:?}");
    }
}

/// A cell spread over two passes has its text in its first row: the second pass would count as cut to the headstock without a word.
#[test]
fn a_direction_left_blank_behind_a_pass_filled_in_part_is_told() {
    let log = |cells: [&str; 6]| {
        let rows = [(20, 1), (60, 1), (100, 1), (20, 2), (60, 2), (100, 2)].iter().zip(cells);
        let rows: String = rows.map(|((station, pass), cell)| format!("{station},38.00{pass},{pass},{cell}\n")).collect();
        good(&format!("station_mm,diameter_mm,pass,direction\n{rows}"))
    };
    let trial = log(["to-tailstock", "", "", "", "", ""]);
    let found = finding(&trial.findings, "direction-left-blank");
    assert_eq!((found.severity, found.row, found.column.as_deref()), (Severity::Warning, Some(5), Some("direction")));
    for cells in [
        ["to-tailstock", "to-tailstock", "to-tailstock", "", "", ""],
        ["to-tailstock", "", "", "to-headstock", "", ""],
        ["to-headstock", "", "", "", "", ""],
        ["", "", "", "to-tailstock", "", ""],
        ["", "", "", "", "", ""],
    ] {
        let trial = log(cells);
        assert!(trial.findings.is_empty(), "{cells:?}: {:?}", trial.findings);
    }
}

#[test]
fn an_indicator_s_reading_is_told_from_a_diameter() {
    let alone = fault("Station (mm),Reading (mm)\n20,38.001\n60,38.006\n", "no-readings");
    assert!(alone.found.contains("taken for that of an indicator") && alone.help.contains("head the column `diameter_mm`"), "{alone:?}");
    let several = fault("Station (mm),Reading 1 (mm),Reading 2 (mm)\n20,38.001,38.002\n60,38.006,38.006\n", "words-in-header");
    assert!(several.help.contains("`pass 1 (mm)`") && several.help.contains("station, diameter and repeat"), "{several:?}");
}

#[test]
fn a_column_that_excludes_every_reading_is_named_with_its_text() {
    let found = fault("station_mm,diameter_mm,Reject\n20,38.001,✓\n60,38.006,✓\n", "too-few-stations");
    assert!(found.column.as_deref() == Some("Reject") && found.found.contains("the first by `✓`"), "{found:?}");
    assert!(found.help.contains("leave the cell empty where a reading stays"), "{found:?}");
    for word in ["N/A", "n.a.", "na", "0.0", "No.", "none.", "accepted"] {
        let trial = good(&format!("station_mm,diameter_mm,exclude\n20,38.001,{word}\n60,38.006,{word}\n100,38.3,chip\n"));
        assert_eq!((trial.inputs[0].used, trial.inputs[0].excluded), (2, 1), "{word}");
    }
    for word in ["1.0", ".", "...", "n/a chip", "nap", "00"] {
        let trial = good(&format!("station_mm,diameter_mm,exclude\n20,38.001,\n60,38.006,\n100,38.3,{word}\n"));
        assert_eq!(trial.inputs[0].excluded, 1, "{word}");
    }
}

#[test]
fn a_bar_is_no_separator_and_a_length_may_be_the_station() {
    let bar = fault("Station (mm)|Pass 1|Pass 2\n20|38.001|37.902\n60|38.006|37.904\n", "unknown-log");
    assert!(bar.help.contains("`|` parts no cells"), "{bar:?}");
    let noted = good("station_mm,diameter_mm,note\n20,38.001,a|b\n60,38.006,c\n");
    assert_eq!(noted.diameters.len(), 2);
    for (column, right) in [("Length (mm)", "`station_mm`"), ("Axial position (in)", "`station_in`"), ("X (mm)", "`station_mm`")] {
        let found = fault(&format!("{column};Diameter (mm)\n20;38.001\n60;38.006\n"), "missing-column");
        assert!(found.help.contains(&format!("if `{column}` is that head it {right}")), "{found:?}");
    }
    let none = fault("Diameter (mm),note\n38.001,a\n38.006,b\n", "missing-column");
    assert_eq!(none.help, "add a column `station_mm`");
}
