//! Headers and cells as people write them: read where only one thing can be meant, refused with what would be right where not.

use super::bench::{finding, good, read_bytes, read_folder};
use taperwright::findings::{Finding, Severity};
use taperwright::ingest::ReadOptions;
use taperwright::trial::Direction;

fn fault(text: &str, code: &str) -> Finding {
    let findings = read_bytes(text.as_bytes(), &ReadOptions::default()).err().map(|rejected| rejected.findings).unwrap_or_default();
    finding(&findings, code).clone()
}

const ROWS: &str = "10,38.021\n190,38.034\n";
const LOG: (&str, &str) = ("diameters.csv", "station_mm,diameter_mm\n10,38.021\n190,38.034\n");

/// An arrow points where its writer stood: none is read, in no column whose meaning it could turn.
#[test]
fn signs_of_a_direction_in_a_header_are_refused() {
    for (header, sign) in [
        ("Station mm,Pass 1 HS→", "`→`"),
        ("Station mm,Pass 1 ->HS", "`->`"),
        ("Station mm,Pass 1 <- TS", "`<-`"),
        ("Station mm,Pass 1 ← tailstock", "`←`"),
        ("Station mm,1 ←", "`←`"),
        ("Station mm,Pass 1 mm ⇒", "`⇒`"),
        ("Station mm,Pass 1 to-headstock ←", "`←`"),
        ("Station ← (mm),diameter_mm", "`←`"),
        ("station_mm,Diameter ↓ (mm)", "`↓`"),
    ] {
        let found = fault(&format!("{header}\n{ROWS}"), "words-in-header");
        assert!(found.found.contains(sign) && found.row == Some(1), "{header}: {found:?}");
        assert!(found.help.starts_with("signs of a direction are not read"), "{header}: {found:?}");
    }
    for header in ["pass →", "direction →"] {
        let found = fault(&format!("station_mm,diameter_mm,{header}\n10,38.021,1\n190,38.034,1\n"), "words-in-header");
        assert!(found.help.contains("column direction"), "{found:?}");
    }
    let moves = |header: &str| ("moves.csv", format!("from_setting,to_setting,foot,{header}\n0,1,tailstock-rear,0.1\n"));
    let levels = |header: &str| ("levels.csv", format!("station_mm,{header}\n10,0.1\n"));
    let indicator = |header: &str| ("indicator.csv", format!("station_mm,{header}\n10,0.1\n"));
    for ((file, text), right) in [
        (levels("roll (mm/m) ↓rear"), "turn the sign of each; then write `roll_mm_per_m`"),
        (levels("roll ↓ (mm/m)"), "rear high is positive"),
        (levels("roll (mm/m) <-"), "rear high is positive"),
        (moves("turns ↺"), "clockwise, seen from above, is positive"),
        (moves("turns ⟲"), "turn the sign"),
        (moves("raise ↓ (mm)"), "lowered negative"),
        (indicator("reading ▼ (mm)"), "as the plunger is pushed in"),
    ] {
        let rejected = read_folder(&[LOG, (file, &text)]).expect_err(&text);
        let found = finding(&rejected.findings, "words-in-header");
        assert!(found.help.contains(right), "{text}: {found:?}");
    }
    // beside a remark it changes nothing
    let noted = good("station_mm,diameter_mm,note →\n10,38.021,a\n190,38.034,b\n");
    assert!(noted.findings.is_empty(), "{:?}", noted.findings);
}

#[test]
fn other_names_of_a_diameter_are_read() {
    for header in [
        "Pos (mm),OD (mm)",
        "Station mm,O.D. mm",
        "Station mm,Mean diameter mm",
        "Station mm,Average dia. (mm)",
        "Station mm,Measured dia (mm)",
        "Station mm,Actual diameter [mm]",
        "station <mm>,diameter <mm>",
        "Station mm,«Diameter» mm",
        "Station mm,Outside diameter mm",
        "Station mm,Micrometer reading (mm)",
        "“Station mm”,“Diameter mm”",
        "\"Station\n(mm)\",\"Diameter\n(mm)\"",
        "\"Station\r\n(mm)\",\"Diameter\r\n(mm)\"",
    ] {
        let trial = good(&format!("{header}\n{ROWS}"));
        let read: Vec<_> = trial.diameters.iter().map(|r| (r.station_mm, r.read_mm)).collect();
        assert_eq!(read, [(10.0, 38.021), (190.0, 38.034)], "{header}");
        assert!(trial.findings.is_empty(), "{header}: {:?}", trial.findings);
    }
    // rows stay those of an editor
    let trial = good(&format!("# tea\n\"Station\n(mm)\",diameter_mm\n{ROWS}"));
    assert_eq!(trial.diameters.iter().map(|r| r.place.row).collect::<Vec<_>>(), [4, 5]);
    // a mean beside the readings is passed over, whichever comes first
    for (header, wide) in [
        ("station_mm,diameter_mm,mean dia mm", 1),
        ("station_mm,diameter_mm,bar_diameter_mm", 1),
        ("station_mm,diameter_mm,OD mm", 1),
        ("station_mm,Dia mm,Final diameter mm", 1),
        ("station_mm,mean diameter (mm),diameter_mm", 2),
    ] {
        let trial = good(&format!("{header}\n10,38.021,38.5\n190,38.034,38.5\n"));
        assert_eq!(finding(&trial.findings, "unread-column").severity, Severity::Warning);
        assert_eq!(trial.diameters.to_vec()[0].read_mm, if wide == 1 { 38.021 } else { 38.5 });
    }
    // a line above the header that states a value is no header
    let titled = good(&format!("Bar diameter mm:,40\nstation_mm,diameter_mm\n{ROWS}"));
    assert_eq!((titled.diameters.len(), finding(&titled.findings, "lines-above-header").row), (2, Some(1)));
}

/// A stock size read as the diameter would be a bar without taper: where more than one column may hold the diameters the user is asked.
#[test]
fn a_size_of_the_stock_is_not_read_for_the_diameter() {
    for (header, code, asked) in [
        ("Bar diameter (mm),Measured (mm)", "unknown-log", "`Bar diameter (mm)`, `Measured (mm)`"),
        ("Bar dia (mm),Micrometer (mm)", "unknown-log", "`Micrometer (mm)`"),
        ("Bar diameter (mm),Actual (mm)", "unknown-log", "`Actual (mm)`"),
        ("Nominal (mm),Size (mm)", "unknown-log", "`Size (mm)`"),
        ("OD (mm),Measured size (mm)", "duplicate-column", "`OD (mm)`, `Measured size (mm)`"),
        ("Outside diameter (mm),Measured (mm)", "duplicate-column", "`Measured (mm)`"),
        ("Final diameter (mm),Reading 1 (mm)", "duplicate-column", "`Reading 1 (mm)`"),
        ("Turned diameter (mm),Reading (um)", "duplicate-column", "`Reading (um)`"),
        ("OD (mm),Pass 1 (mm)", "duplicate-column", "`Pass 1 (mm)`"),
        ("Diameter (mm),Measured diameter (mm)", "duplicate-column", "`Diameter (mm)`"),
    ] {
        let text = format!("Station (mm),{header}\n15,40,40.012\n45,40,40.021\n");
        let found = fault(&text, code);
        assert!(found.found.contains(asked) && found.help.contains("which of them did the gauge read"), "{header}: {found:?}");
        let rejected = read_folder(&[("diameters.csv", &text)]).expect_err(header);
        assert!(rejected.findings.iter().any(|found| found.found.contains(asked)), "{header}: {:?}", rejected.findings);
    }
    for column in ["Time (mm)", "Measured (mm)", "Micrometer (in)", "Note (mm)"] {
        let found = fault(&format!("station_mm,diameter_mm,{column}\n15,40,40.012\n45,40,40.021\n"), "unknown-unit");
        assert!(found.column.as_deref() == Some(column) && found.help.contains("`diameter_mm`"), "{found:?}");
    }
    let stock = fault("Station (mm),Bar dia (mm)\n15,40\n45,40\n", "unknown-log");
    assert!(stock.help.contains("if it is the diameter write `diameter_mm`"), "{stock:?}");
    let wide = good("Station (mm),Bar diameter (mm),Pass 1 (mm)\n15,40,40.012\n45,40,40.021\n");
    assert_eq!(wide.diameters.iter().map(|reading| reading.read_mm).collect::<Vec<_>>(), [40.012, 40.021]);
    // a table of the bar above the log's
    for above in ["Bar dia (mm),Material\n40,steel", "Machine,Bar dia (mm)\nL2,40", "Final diameter (mm),Bar length (mm)\n40,150"] {
        let trial = good(&format!("{above}\nStation (mm),Diameter (mm)\n{ROWS}"));
        assert_eq!((trial.diameters.len(), finding(&trial.findings, "lines-above-header").row), (2, Some(1)), "{above}");
    }
}

/// An inch mark in the header takes no readings into it.
#[test]
fn an_inch_mark_joins_no_lines() {
    for (text, rows) in [
        ("Station (in),Dia \",Tool\n0.6,1.5012,CCMT\n1.8,1.5010,1/2\" bar\n3.0,1.5001,\n", 3),
        ("Station (in),Dia \",remark\n0.6,1.5012,3/8\" bit\n1.8,1.5010,\n3.0,1.5001,\n", 3),
        ("station_mm,diameter_mm,remark 1\"\n15,40.012,3/8\" bit\n45,40.010,\n75,40.001,\n", 3),
        ("station_mm;diameter_mm;1\" bar note\n15;40,012;chip, 3/8\" bit\n45;40,010;\n75;40,001;\n", 3),
        ("Station (in),Diameter (\")\n0.6,1.5012\"\n1.8,1.5010\"\n3.0,1.5001\"\n", 3),
        ("Station (mm),\"Diameter\n(mm)\",remark 5\"\n15,40,a\n45,40.01,b\n75,40.02,c 3\"\n", 3),
        ("\"Station\n(mm)\",1,2\n15,40,39.9\n45,40.01,39.91\n", 4),
    ] {
        let trial = good(text);
        assert_eq!(trial.diameters.len(), rows, "{text}: {:?}", trial.findings);
    }
    // readings stand inside the quotes: no header
    for (unit, code) in [("in", "unclosed-quote"), ("\"", "unknown-log")] {
        let text = format!("note,Station ({unit}),Diameter (in),\"remark\n0.6 x,1,1.5012,a\"\nn,1.8,1.5000,\nn,3.0,1.5001,\n");
        assert_eq!(fault(&text, code).row, Some(1), "{text}");
    }
}

#[test]
fn an_arrow_with_its_goal_in_words_is_read() {
    for (header, direction) in [
        ("Pass 1 → headstock", Direction::ToHeadstock),
        ("Pass 1 -> Tailstock (mm)", Direction::ToTailstock),
        ("1 (⇒ tailstock)", Direction::ToTailstock),
    ] {
        let trial = good(&format!("Station mm,{header}\n{ROWS}"));
        assert!(trial.findings.is_empty() && trial.diameters.iter().all(|reading| reading.direction == direction), "{header}");
        assert!(trial.assumed.iter().all(|assumed| assumed.key != "diameters.direction"), "{header}");
    }
}

#[test]
fn a_header_that_no_log_has_names_the_word() {
    for (header, column, right) in [
        ("Station mm,Durchmesser (mm)", "Durchmesser (mm)", "if it is the diameter write `diameter_mm`"),
        ("Station in,Actual size (in)", "Actual size (in)", "if it is the diameter write `diameter_in`"),
        ("Station mm,Radius (mm)", "Radius (mm)", "twice the radius each; then write `diameter_mm`"),
        ("Note,Station mm,Radius (in)", "Radius (in)", "twice the radius each; then write `diameter_in`"),
        ("Station mm,Diamter (mm)", "Diamter (mm)", "perhaps `Diamter (mm)` is `diameter`"),
    ] {
        let found = fault(&format!("{header}\n10,38.021,1\n190,38.034,1\n"), "unknown-log");
        assert_eq!(found.column.as_deref(), Some(column), "{header}");
        assert!(found.help.contains(right) && found.found.contains(column), "{header}: {found:?}");
    }
}

#[test]
fn a_wide_sheet_reads_directions_in_brackets_and_tells_other_columns() {
    let trial =
        good("Station mm;Pass 1 (to headstock);Pass 2 (to tailstock, mm);3 (to the headstock)\n10;38,1;38;37,9\n200;38,2;38,1;38\n");
    let directions: Vec<_> = trial.diameters.iter().take(3).map(|r| (r.pass, r.direction)).collect();
    assert_eq!(directions, [(1, Direction::ToHeadstock), (2, Direction::ToTailstock), (3, Direction::ToHeadstock)]);
    assert!(trial.findings.is_empty() && trial.assumed.iter().all(|a| a.key != "diameters.direction"), "{:?}", trial.findings);
    let wide = |column: &str| format!("Station mm,Pass 1,Pass 2,{column}\n10,38.021,37.921,1\n190,38.034,37.934,1\n");
    for column in ["mean", "Average (mm)", "Mean diameter (mm)", "colour"] {
        let trial = good(&wide(column));
        let found = finding(&trial.findings, "unread-column");
        assert_eq!((found.severity, found.column.as_deref(), trial.diameters.len()), (Severity::Warning, Some(column), 4));
    }
    for (column, right) in [
        ("Temp", "what `temperature` says would be lost"),
        ("exclude", "a line for each reading"),
        ("pas 3", "`pass 1 to-headstock`"),
        ("cut three", "no header of a pass"),
    ] {
        let found = fault(&wide(column), "unknown-column");
        assert!(found.column.as_deref() == Some(column) && found.help.contains(right), "{found:?}");
    }
}

#[test]
fn cells_that_hold_no_reading_say_what_is_right() {
    let long = |cell: &str| format!("station_mm,diameter_mm,temperature_c\n10,38.021,20\n190,38.034,20\n{cell}\n");
    for (row, code, right) in [
        ("mm,mm,C", "not-a-number", "write the unit into the header, as in `station (mm)`, and take this row out"),
        ("(mm),[mm],20", "not-a-number", "write the unit into the header"),
        ("Mean,38.028,20", "not-a-number", "no reading: take the line out, or put # before it"),
        ("Total:,76,20", "not-a-number", "no reading: take the line out"),
        ("-----,-----,20", "not-a-number", "no reading: take the line out"),
        ("Pass 2,38.021,20", "not-a-number", "if this line is no reading take the line out, or put # before it"),
        ("25%,38.021,20", "not-a-number", "a share of what? Write the station itself"),
        ("２５,38.021,20", "not-a-number", "perhaps 25: write it in the digits 0 to 9"),
        ("٢٥,38.021,20", "not-a-number", "perhaps 25:"),
        ("“25”,38.021,20", "not-a-number", "write 25, without the quotation marks"),
        ("25,-,20", "not-a-number", "write the number itself, or take the line out"),
        ("25,38.021,-", "not-a-number", "write the number itself, or leave the cell empty"),
        ("25,38.021,nan", "not-finite", "leave the cell empty"),
        ("25,38.021,- 4", "gap-in-number", "close the gap after the sign"),
        ("2½,38.021,20", "fraction", "2.5"),
    ] {
        let found = fault(&long(row), code);
        assert!(found.row == Some(4) && found.help.contains(right), "{row}: {found:?}");
    }
    for cell in ["-", "n/a", "–", "none"] {
        let found = fault(&format!("station mm;pass 1;pass 2\n10;38,021;37,921\n190;38,034;{cell}\n"), "not-a-number");
        assert!(found.help.ends_with("leave the cell empty") && found.column.as_deref() == Some("pass 2"), "{cell}: {found:?}");
    }
    let inch = fault("station_in,dia_in\n1,1.5\n4½\",1.5\n", "fraction");
    assert!(inch.help.ends_with("4.5"), "{inch:?}");
    // a length of three inches has no tail of its conversion
    let settings = "[bar]\nlength_in = 3\ndiameter_in = 1.5\n";
    let rejected = read_folder(&[("trial.toml", settings), LOG]).expect_err("off the bar");
    let found = finding(&rejected.findings, "station-outside-bar");
    assert!(found.help.contains("the bar is 76.2 mm long"), "{found:?}");
}

#[test]
fn words_for_no_exclude_nothing() {
    let log = |column: &str, word: &str| format!("station_mm,diameter_mm,{column}\n10,38,{word}\n20,38,\n30,38.01,\n");
    for word in ["n", "N", "-", "–", "none", "None", "nein", "Non", "nej", "nee", "não", "keep", "ok", "OK", " no ", "0", "false"] {
        assert_eq!(good(&log("exclude", word)).inputs[0].excluded, 0, "{word}");
    }
    for word in ["y", "x", "yes", "nick", "no swarf brushed off", "ja", "1", ".", "notch"] {
        assert_eq!(good(&log("exclude", word)).inputs[0].excluded, 1, "{word}");
    }
    for (word, reversed) in [("n", false), ("-", false), ("nein", false), ("y", true), ("yes", true), ("", false)] {
        let trial = read_folder(&[LOG, ("levels.csv", &format!("station_mm,roll_mm_per_m,reversed\n10,0.1,{word}\n"))]).expect("a trial");
        assert_eq!(trial.levels[0].reversed, reversed, "{word}");
    }
}

#[test]
fn times_of_a_clock_of_twelve_hours_and_dates_between_dots_are_read() {
    let minutes = |times: [&str; 2]| -> Vec<f64> {
        let trial = good(&format!("station_mm,diameter_mm,time\n10,38,\"{}\"\n20,38,\"{}\"\n", times[0], times[1]));
        trial.diameters.iter().filter_map(|reading| reading.time_min).collect()
    };
    assert_eq!(minutes(["11:50 am", "12:10 PM"]), [0.0, 20.0]);
    assert_eq!(minutes(["09:30:00 AM", "13:00"]), [0.0, 210.0]);
    assert_eq!(minutes(["20.05.2026 09:30", "2026-05-21 09:30"]), [0.0, 1440.0]);
    for time in ["9.30", "0930", "13:30 pm", "5/20/2026 9:30", "20.05.26 9:30", "31.04.2026 09:30"] {
        let found = fault(&format!("station_mm,diameter_mm,time\n10,38,{time}\n20,38,\n"), "not-a-time");
        assert!(found.help.contains("9:30 pm and 14.03.2026 09:30 are read too"), "{time}");
    }
}

/// A blank log has columns for settings and passes; who cuts once fills neither in.
#[test]
fn columns_of_settings_and_passes_that_nobody_filled_in_are_none() {
    let rows = |header: &str, end: &str| format!("{header}\n15,40.012{end}\n45,40.010{end}\n75,40.001{end}\n");
    for (header, end) in [
        ("station_mm,diameter_mm,setting,pass", ",,"),
        ("station_mm,diameter_mm,pass", ","),
        ("station_mm,diameter_mm,setting", ""),
        ("station_mm,diameter_mm,setting,pass,note", ",,,dry"),
    ] {
        let trial = good(&rows(header, end));
        assert_eq!(trial.diameters.len(), 3, "{header}");
        assert_eq!((trial.diameters.cut(0).setting, trial.diameters.cut(0).pass), (0, 1), "{header}");
        assert!(trial.findings.is_empty(), "{header}: {:?}", trial.findings);
    }
    let levels = "station_mm,roll_mm_per_m,setting\n0,0.01,\n300,0.02,\n";
    let trial = read_folder(&[("diameters.csv", &rows("station_mm,diameter_mm", "")), ("levels.csv", levels)]).expect("a trial");
    assert_eq!(trial.levels.iter().map(|level| level.setting).collect::<Vec<_>>(), [0, 0]);
    // filled in part it is asked for in every row
    let some = fault("station_mm,diameter_mm,pass\n15,40.012,\n45,40.010,\n75,40.001,2\n", "missing-value");
    assert!(some.row == Some(2) && some.help.contains("in every row"), "{some:?}");
}

#[test]
fn a_fault_in_a_cell_is_not_told_as_a_missing_station_too() {
    let rejected = |text: &str| read_bytes(text.as_bytes(), &ReadOptions::default()).expect_err("a fault").findings;
    assert_eq!(rejected("station_mm,diameter_mm\n15,40.012\n75,NaN\n").iter().map(|found| found.code).collect::<Vec<_>>(), ["not-finite"]);
    assert_eq!(rejected("station_mm,diameter_mm\n15,40.012\n").first().map(|found| found.code), Some("too-few-stations"));
}
