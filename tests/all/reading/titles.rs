//! Lines above a header: a title is passed over, and one that says what the readings mean is refused.

use super::bench::{finding, good, read_bytes, read_folder};
use taperwright::findings::{Finding, Severity};
use taperwright::ingest::ReadOptions;

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
