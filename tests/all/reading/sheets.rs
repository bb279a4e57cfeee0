//! Logs in spreadsheet files, as a general-purpose spreadsheet program saved them (tests/sheets/make.sh).

use super::bench::{finding, read_folder, readings};
use std::path::{Path, PathBuf};
use taperwright::findings::Severity;
use taperwright::ingest::{ReadOptions, read_trial};
use taperwright::trial::Trial;

fn file(name: &str) -> PathBuf {
    Path::new("tests/sheets").join(name)
}

fn read(name: &str) -> Trial {
    read_trial(&file(name), &ReadOptions::default()).unwrap_or_else(|rejected| panic!("{name}: {:#?}", rejected.findings))
}

/// What a reading says, without where it stands.
fn said(trial: &Trial) -> Vec<String> {
    let line = |r: taperwright::trial::DiameterReading| {
        format!("{} {} {} {:?} {:?} {:?}", r.station_mm, r.diameter_mm, r.pass, r.direction, r.time_min, r.note)
    };
    trial.diameters.iter().map(line).collect()
}

#[test]
fn a_sheet_says_what_its_text_says_in_either_language_and_format() {
    let text = said(&read("english.csv"));
    assert_eq!(text.len(), 8);
    for name in ["german.csv", "english.xlsx", "english.ods", "german.xlsx", "german.ods"] {
        assert_eq!(said(&read(name)), text, "{name}");
    }
    let mut other = text.clone();
    other.swap(0, 1);
    assert_ne!(said(&read("english.ods")), other, "the comparison must see an exchange");
}

#[test]
fn the_sheet_with_a_header_is_read_and_the_others_are_named() {
    for ending in ["xlsx", "ods"] {
        let trial = read(&format!("two-sheets.{ending}"));
        assert_eq!(readings(&trial), [(20.0, 30.012, 1), (65.1, 30.014, 1), (110.0, 30.017, 1)], "{ending}");
        assert_eq!(trial.diameters.first().and_then(|r| r.note.map(|note| note.to_string())).as_deref(), Some("light cut, fresh edge"));
        let rows: Vec<u64> = trial.diameters.iter().map(|r| r.place.row).collect();
        assert_eq!(rows, [5, 6, 7], "rows are those of the sheet");
        let note = finding(&trial.findings, "sheet-read");
        assert!(note.severity == Severity::Note && note.found.contains("`Monday`") && note.found.ends_with("not: Notes"), "{note:?}");
        // By name; the other sheet is no log, and a third is not there.
        assert_eq!(readings(&read(&format!("two-sheets.{ending}:Monday"))).len(), 3);
        let rejected = |sheet: &str| {
            let path = file(&format!("two-sheets.{ending}:{sheet}"));
            read_trial(&path, &ReadOptions::default()).expect_err("a sheet that is no log").findings
        };
        assert!(finding(&rejected("Tuesday"), "no-such-sheet").help.contains("Notes, Monday"));
        assert!(rejected("Notes").iter().all(|f| f.code != "no-such-sheet"));
    }
}

#[test]
fn a_number_that_became_a_date_is_told() {
    for ending in ["xlsx", "ods"] {
        let findings = read_trial(&file(&format!("dates.{ending}")), &ReadOptions::default()).expect_err("a date").findings;
        let found = finding(&findings, "date-for-number");
        assert_eq!((found.row, &*found.found), (Some(2), "`2026-05-20`"));
        assert!(found.help.contains("date of a number"), "{}", found.help);
    }
}

#[test]
fn a_sheet_in_a_trial_folder_is_one_of_its_logs() {
    let folder = tempfile::tempdir().expect("a folder");
    std::fs::copy(file("english.ods"), folder.path().join("diameters-monday.ods")).expect("a copy");
    let more = "station_mm,diameter_mm,pass\n20,29.811,3\n65.5,29.813,3\n";
    std::fs::write(folder.path().join("diameters-tuesday.csv"), more).expect("a log");
    let trial = read_trial(folder.path(), &ReadOptions::default()).expect("a trial");
    assert_eq!(trial.diameters.len(), 10);
}

#[test]
fn damaged_files_are_refused() {
    let whole = std::fs::read(file("english.xlsx")).expect("a sheet");
    let ods = std::fs::read(file("english.ods")).expect("a sheet");
    for bytes in [&whole, &ods] {
        // Every cut and many a changed byte: never a panic, and never readings that the whole file does not have.
        for share in 1..40 {
            let cut = bytes.get(..bytes.len() * share / 40).expect("a part");
            let folder = tempfile::tempdir().expect("a folder");
            let path = folder.path().join("cut.xlsx");
            std::fs::write(&path, cut).expect("a file");
            assert!(read_trial(&path, &ReadOptions::default()).is_err(), "{share}/40 of a file");
            let mut changed = bytes.clone();
            let at = bytes.len() * share / 40;
            changed[at] ^= 0x5a;
            std::fs::write(&path, &changed).expect("a file");
            if let Ok(trial) = read_trial(&path, &ReadOptions::default()) {
                assert!(trial.diameters.len() <= 8, "byte {at}");
            }
        }
    }
}

#[test]
fn a_sheet_of_another_kind_and_one_that_swells_are_refused() {
    let folder = tempfile::tempdir().expect("a folder");
    std::fs::copy(file("english.ods"), folder.path().join("levels.ods")).expect("a copy");
    std::fs::copy(file("english.csv"), folder.path().join("diameters.csv")).expect("a copy");
    let findings = read_trial(folder.path(), &ReadOptions::default()).expect_err("no levels").findings;
    assert!(finding(&findings, "no-sheet-with-header").found.contains("a log of levels"), "{findings:?}");
    // A few hundred bytes that state five thousand million cells.
    let cell = "<table:table-cell table:number-columns-repeated=\"16000\"><text:p>38</text:p></table:table-cell>";
    let content = format!(
        "<table:table table:name=\"a\"><table:table-row table:number-rows-repeated=\"350000\">{cell}</table:table-row></table:table>"
    );
    let package = stored(&[("mimetype", "application/vnd.oasis.opendocument.spreadsheet"), ("content.xml", &content)]);
    let path = folder.path().join("swollen.ods");
    std::fs::write(&path, package).expect("a file");
    let findings = read_trial(&path, &ReadOptions::default()).expect_err("too large").findings;
    assert!(finding(&findings, "spreadsheet-too-large").found.contains("more cells"), "{findings:?}");
}

/// A ZIP package of files that are not packed.
fn stored(files: &[(&str, &str)]) -> Vec<u8> {
    let (mut out, mut directory) = (Vec::new(), Vec::new());
    for (name, text) in files {
        let size = u32::try_from(text.len()).expect("small").to_le_bytes();
        let length = u16::try_from(name.len()).expect("short").to_le_bytes();
        let about = [&[20, 0, 0, 0, 0, 0, 0, 0, 0, 0][..], &[0; 4], &size, &size, &length, &[0, 0]].concat();
        directory
            .extend([b"PK\x01\x02\x14\x00", about.as_slice(), &[0; 10], &u32::try_from(out.len()).expect("small").to_le_bytes()].concat());
        directory.extend(name.as_bytes());
        out.extend([b"PK\x03\x04", about.as_slice(), name.as_bytes(), text.as_bytes()].concat());
    }
    let (at, size) = (u32::try_from(out.len()).expect("small"), u32::try_from(directory.len()).expect("small"));
    let count = u16::try_from(files.len()).expect("few").to_le_bytes();
    out.extend(directory);
    out.extend([b"PK\x05\x06\0\0\0\0", &count[..], &count, &size.to_le_bytes(), &at.to_le_bytes(), &[0, 0]].concat());
    out
}

#[cfg(unix)]
#[test]
fn a_link_out_of_the_folder_is_not_followed() {
    let elsewhere = tempfile::tempdir().expect("a folder");
    std::fs::write(elsewhere.path().join("secret.csv"), "station_mm,diameter_mm\n10,38\n20,38\n").expect("a file");
    let folder = tempfile::tempdir().expect("a folder");
    std::os::unix::fs::symlink(elsewhere.path().join("secret.csv"), folder.path().join("diameters.csv")).expect("a link");
    let findings = read_trial(folder.path(), &ReadOptions::default()).expect_err("a link").findings;
    assert!(finding(&findings, "outside").found.contains("out of the trial's folder"), "{findings:?}");
    // Within the folder a link is as good as a file.
    std::fs::remove_file(folder.path().join("diameters.csv")).expect("removed");
    std::fs::write(folder.path().join("monday.csv"), "station_mm,diameter_mm\n10,38\n20,38\n").expect("a file");
    std::os::unix::fs::symlink("monday.csv", folder.path().join("diameters.csv")).expect("a link");
    assert_eq!(read_trial(folder.path(), &ReadOptions::default()).expect("a trial").diameters.len(), 2);
}

#[test]
fn two_tables_in_one_file_are_refused_with_the_reason() {
    let again = "station_mm,diameter_mm\n20,30.012\n65,30.014\n\nstation_mm,diameter_mm\n20,30.112\n65,30.114\n";
    let findings = read_folder(&[("diameters.csv", again)]).expect_err("two tables").findings;
    let found = finding(&findings, "two-tables");
    assert!(found.row == Some(5) && found.help.contains("column pass"), "{found:?}");
    let other = "station_mm,diameter_mm\n20,30.012\n65,30.014\n\nstation_mm,roll_mm_per_m\n20,0.01\n65,0.02\n";
    let findings = read_folder(&[("diameters.csv", other)]).expect_err("two tables").findings;
    assert!(finding(&findings, "two-tables").found.contains("roll_mm_per_m"));
    assert!(findings.iter().all(|f| f.row.is_none_or(|row| row <= 5)), "what stands below is not read: {findings:?}");
}

#[test]
fn rows_pasted_twice_are_flagged_and_used() {
    let rows = "20,30.012\n65,30.014\n110,30.017\n155,30.019\n";
    let trial = super::bench::good(&format!("station_mm,diameter_mm\n{rows}{rows}"));
    let found = finding(&trial.findings, "pasted-twice");
    assert!(found.row == Some(6) && found.found.contains("row 2") && found.severity == Severity::Warning, "{found:?}");
    assert_eq!(trial.diameters.len(), 8);
    let again = rows.replace("30.017", "30.016");
    let trial = super::bench::good(&format!("station_mm,diameter_mm\n{rows}{again}"));
    assert!(trial.findings.iter().all(|f| f.code != "pasted-twice"), "one digit differs: {:?}", trial.findings);
}

/// A pass that is a copy of another, with repeats numbered and without; after a pass without depth the same readings may well come again.
#[test]
fn a_pass_copied_under_another_number_is_flagged() {
    let rows = |pass: u32, depth: &str, with: &str| {
        [(20, "30.012"), (65, "30.014"), (110, "30.017"), (155, "30.019")]
            .map(|(station, diameter)| format!("{pass},{station},{diameter},{depth}{with}\n"))
            .concat()
    };
    let log = |depth: &str, column: &str, with: &str| {
        let columns = format!("pass,station_mm,diameter_mm,depth_mm{column}\n");
        super::bench::good(&format!("{columns}{}{}", rows(1, "0.1", with), rows(2, depth, with)))
    };
    for trial in [log("0.1", "", ""), log("0.1", ",repeat", ",1")] {
        let found = finding(&trial.findings, "pasted-twice");
        assert!(found.row == Some(6) && found.found.contains("row 2 on in another pass"), "{found:?}");
    }
    let spring = log("0", "", "");
    assert!(spring.findings.iter().all(|f| f.code != "pasted-twice"), "{:?}", spring.findings);
    // a depth that is assumed is no cut; one that trial.toml states is
    let columns = "pass,station_mm,diameter_mm";
    let bare = |pass: u32| rows(pass, "", "").replace(",\n", "\n");
    let undepthed = format!("{columns}\n{}{}", bare(1), bare(2));
    let told = |settings: &str| {
        let trial = super::bench::read_folder(&[("trial.toml", settings), ("diameters.csv", &undepthed)]).expect("a trial");
        trial.findings.iter().any(|f| f.code == "pasted-twice")
    };
    assert!(!told("") && told("[cutting]\ndepth_mm = 0.1\n") && !told("[cutting]\ndepth_mm = 0\n"));
    // as often as a gauge of that noise reads the same again nothing is proven
    assert!(!told("[cutting]\ndepth_mm = 0.1\n[gauge.diameter]\nu_mm = 0.0005\n"));
}

/// A gauge that shows hundredths reads a place the same again; twice as many stations with a finer one are a copy.
#[test]
fn a_coarse_gauge_that_reads_the_same_again_proves_nothing() {
    let log = |digits: usize, stations: u32| {
        let rows =
            |pass: u32| (0..stations).map(move |k| format!("{pass},{},{:.digits$},0.1\n", 20 + 10 * k, 30.012 + 0.011 * f64::from(k)));
        super::bench::good(&format!("pass,station_mm,diameter_mm,depth_mm\n{}", rows(1).chain(rows(2)).collect::<String>()))
    };
    let told = |trial: &Trial| trial.findings.iter().any(|f| f.code == "pasted-twice");
    assert!(told(&log(3, 4)) && told(&log(4, 4)));
    assert!(!told(&log(2, 4)) && !told(&log(2, 20)));
    // in ten-thousandths of an inch a reading comes again in a third of cases: four prove nothing, seven do
    let inch = |stations: u32| {
        let rows = |pass: u32| (0..stations).map(move |k| format!("{pass},{},{:.4},0.004\n", 1 + k, 1.5 + 0.0003 * f64::from(k)));
        super::bench::good(&format!("pass,station_in,diameter_in,depth_in\n{}", rows(1).chain(rows(2)).collect::<String>()))
    };
    assert!(!told(&inch(4)) && told(&inch(7)));
}

/// A bar at 27 °C, said in the first row of a pass alone: all of the pass is brought to 20 °C, and a warning says so; a pass that states none stays as read.
#[test]
fn a_temperature_stands_for_the_rest_of_its_pass() {
    let log = |cells: [&str; 6]| {
        let rows = cells.iter().enumerate().map(|(row, cell)| format!("{},{},38.000,{cell}\n", row / 3 + 1, 10 + 50 * (row % 3)));
        super::bench::good(&format!("pass,station_mm,diameter_mm,temperature_c\n{}", rows.collect::<String>()))
    };
    let at = |trial: &Trial| (0..6).map(|row| trial.diameters.diameter_mm(row)).collect::<Vec<f64>>();
    let whole = log(["27", "27", "27", "", "", ""]);
    assert!(whole.findings.iter().all(|f| f.code != "temperature-carried") && at(&whole)[3] == 38.0 && at(&whole)[0] < 37.998);
    for (cells, row, count) in [
        (["27", "", "", "", "", ""], 3, "2 in all"),
        (["", "", "27", "", "", ""], 2, "2 in all"),
        (["27", "27", "", "", "", ""], 4, "1 in all"),
    ] {
        let trial = log(cells);
        assert_eq!(at(&trial), at(&whole), "{cells:?}");
        let found = finding(&trial.findings, "temperature-carried");
        assert!(found.row == Some(row) && found.found.contains(count) && found.severity == Severity::Warning, "{found:?}");
        assert_eq!(
            (0..6).filter(|row| trial.diameters.temperature_c(*row).is_some()).count(),
            cells.iter().filter(|c| !c.is_empty()).count()
        );
    }
    assert_eq!(at(&log(["27", "", "25", "", "", ""]))[1], at(&whole)[1], "the row above counts");
}

#[test]
fn a_slip_of_ten_says_what_it_might_have_been() {
    let trial = super::bench::good("station_mm,diameter_mm\n10,38.01\n20,380.1\n30,38.01\n40,1.4965\n");
    assert!(finding(&trial.findings, "digit-slip").help.contains("38.01 mm"));
    assert!(finding(&trial.findings, "unit-slip").help.contains("38.0111 mm"));
}
