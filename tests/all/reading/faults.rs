//! One small bad input for every finding, with the place and the text that it must name.

use super::bench::{finding, read_bytes, read_folder, readings};
use taperwright::findings::{Finding, Severity};
use taperwright::ingest::ReadOptions;
use taperwright::trial::MOST_STATIONS;

/// What a finding must say: code, row, column, and a part of what was found and of the advice.
struct Expected {
    code: &'static str,
    row: u64,
    column: &'static str,
    found: &'static str,
    help: &'static str,
}

fn says(finding: &Finding, expected: &Expected) -> Result<(), String> {
    let place = (finding.row.unwrap_or(0), finding.column.as_deref().unwrap_or(""));
    if place != (expected.row, expected.column) {
        return Err(format!("{}: at {place:?}, not at {:?}", expected.code, (expected.row, expected.column)));
    }
    if !finding.found.contains(expected.found) || !finding.help.contains(expected.help) {
        return Err(format!("{}: {:?}, help {:?}", expected.code, finding.found, finding.help));
    }
    Ok(())
}

const fn expect(code: &'static str, row: u64, column: &'static str, found: &'static str, help: &'static str) -> Expected {
    Expected { code, row, column, found, help }
}

/// Lone logs that are rejected.
const BAD_LOGS: &[(&str, Expected)] = &[
    ("", expect("empty-file", 0, "", "nothing", "header")),
    ("# only\n\n# comments\n", expect("empty-file", 0, "", "comments", "header")),
    ("10,38.012\n20,38.014\n", expect("no-header", 1, "", "10,38.012", "station_mm,diameter_mm")),
    ("length_mm,weight_kg\n1,2\n", expect("unknown-log", 1, "1", "length_mm | weight_kg", "station and diameter")),
    ("station,diameter_mm\n10,38\n20,38\n", expect("missing-unit", 1, "station", "`station`", "--log-units")),
    ("station_mm,diameter_mm,temperature\n10,38,20\n20,38,20\n", expect("missing-unit", 1, "temperature", "temperature", "C or F")),
    ("station_furlong,diameter_mm\n10,38\n20,38\n", expect("unknown-unit", 1, "station_furlong", "furlong", "mm")),
    ("diameter_mm,note\n38,\n38,\n", expect("missing-column", 1, "station", "diameter_mm | note", "station_mm")),
    ("station_mm,diameter_mm,dia_in\n10,38,1\n20,38,1\n", expect("duplicate-column", 1, "dia_in", "diameter_mm", "one of them")),
    ("station_mm,diameter_mm,direcion\n10,38,\n20,38,\n", expect("unknown-column", 1, "direcion", "direcion", "direction")),
    ("station_mm,diameter_mm\n10,38.O12\n20,38.012\n", expect("not-a-number", 2, "diameter_mm", "38.O12", "38.012")),
    ("station_mm,diameter_mm\n\n# chips\n10,abc\n20,38.012\n", expect("not-a-number", 4, "diameter_mm", "abc", "38.012")),
    ("station_mm,diameter_mm\r\n10,38\r\n\r\n20,inf\r\n", expect("not-finite", 4, "diameter_mm", "inf", "finite")),
    ("station_mm,diameter_mm\r10,38\r20,NaN\r", expect("not-finite", 3, "diameter_mm", "NaN", "finite")),
    ("station_mm,diameter_mm\n10,38\n20,1e999\n", expect("not-finite", 3, "diameter_mm", "1e999", "finite")),
    ("station_mm,diameter_mm\n10,-38\n20,38\n", expect("not-positive", 2, "diameter_mm", "-38", "above 0")),
    ("station_mm,diameter_mm\n10,0\n20,38\n", expect("not-positive", 2, "diameter_mm", "0", "above 0")),
    ("station_mm,diameter_mm,depth_mm\n10,38,-0.1\n20,38,0\n", expect("negative", 2, "depth_mm", "-0.1", "0 or more")),
    ("station_mm,diameter_mm\n10,\n20,38\n", expect("missing-value", 2, "diameter_mm", "empty", "number")),
    ("station_mm;diameter_mm\n10;1.038,5\n20;38\n", expect("thousands-separator", 2, "diameter_mm", "1.038,5", "grouping")),
    ("station_mm;diameter_mm\n10;38,5\n20;38.4\n30;38,4\n", expect("mixed-decimal-marks", 3, "diameter_mm", "38.4", "commas")),
    ("station_mm,diameter_mm\n10,38.1\n20,1.5 in\n", expect("unit-in-cell", 3, "diameter_mm", "1.5 in", "header")),
    ("station_mm,diameter_mm\n10,5,38,012\n20,5,38,014\n", expect("comma-twice", 2, "3", "10,5,38,012", "semicolon")),
    ("station_mm,diameter_mm\n10,38.1,chip\n20,38.1\n", expect("row-too-long", 2, "3", "3 cells", "quotes")),
    ("pass,station_mm,diameter_mm\n1,10\n1,20,38.1\n", expect("row-too-short", 2, "3", "2 cells", "separator")),
    ("station_mm,diameter_mm,note\n10,38,\"swarf\n20,38,\n", expect("unclosed-quote", 2, "note", "quote", "one line")),
    ("station_mm,diameter_mm,pass\n10,38,1.5\n20,38,1\n", expect("not-whole", 2, "pass", "1.5", "whole")),
    (
        "station_mm,diameter_mm,direction\n10,38,to headstok\n20,38,\n",
        expect("unknown-word", 2, "direction", "to headstok", "to-headstock"),
    ),
    ("station_mm,diameter_mm,time\n10,38,half past nine\n20,38,\n", expect("not-a-time", 2, "time", "half past nine", "09:30")),
    ("station_mm,diameter_mm,time\n10,38,9:30\n20,38,2026-03-14T09:31\n", expect("mixed-times", 3, "time", "another kind", "date")),
    ("station_mm,diameter_mm,temperature_c\n10,38,200\n20,38,20\n", expect("out-of-range", 2, "temperature_c", "200", "150")),
    ("station_mm,diameter_mm\n10,1e-300\n20,38\n", expect("out-of-range", 2, "diameter_mm", "1e-300", "small")),
    ("station_m,diameter_mm\n10,38\n2e5,38\n", expect("out-of-range", 3, "station_m", "2e5", "large")),
    ("station_mm,diameter_mm\n10,\u{1b}[31m\n20,38\n", expect("not-a-number", 2, "diameter_mm", "\u{fffd}[31m", "38.012")),
    ("station_mm,diameter_mm\n-10,38\n20,38\n", expect("station-outside-bar", 2, "station", "-10", "0 or more")),
    ("station_mm,diameter_mm\n10,38\n10,38.1\n", expect("too-few-stations", 2, "", "one station", "two stations")),
    ("setting,station_mm,diameter_mm\n0,10,38\n0,20,38\n1,10,38\n", expect("too-few-stations", 4, "", "setting 1", "two stations")),
    (
        "station_mm,diameter_mm,exclude\n10,38,x\n20,38,x\n",
        expect("too-few-stations", 2, "exclude", "excluded, the first by `x`", "leave the cell empty"),
    ),
    ("station_mm,diameter_mm\n", expect("no-readings", 0, "", "no readings", "one reading a row")),
    ("station_mm,diameter_mm,depth_mm\n10,38,0.1\n20,38,0.2\n", expect("pass-not-one-cut", 3, "", "depth", "its own")),
    ("station_mm,diameter_mm\n38.01,10\n38.02,200\n", expect("swapped-columns", 2, "", "stations", "swapped")),
    ("station_mm,1,2,1\n10,38,38,38\n20,38,38,38\n", expect("duplicate-column", 1, "1", "pass 1", "of its own")),
    ("station_mm,roll_mm_per_m\n10,0.1\n", expect("no-readings", 0, "", "no readings", "diameters.csv")),
];

#[test]
fn every_fault_of_a_log_is_named_with_its_place() {
    for (text, expected) in BAD_LOGS {
        let rejected = read_bytes(text.as_bytes(), &ReadOptions::default()).expect_err(text);
        let found = finding(&rejected.findings, expected.code);
        assert!(found.is_error(), "{} is no error", expected.code);
        if let Err(difference) = says(found, expected) {
            panic!("{text:?}: {difference}");
        }
    }
}

#[test]
fn the_comparison_of_findings_can_fail() {
    let (text, expected) = &BAD_LOGS[10];
    let rejected = read_bytes(text.as_bytes(), &ReadOptions::default()).expect_err(text);
    let found = finding(&rejected.findings, expected.code);
    assert!(says(found, expected).is_ok());
    assert!(says(&Finding { row: Some(3), ..found.clone() }, expected).is_err());
    assert!(says(&Finding { column: Some("1".to_owned()), ..found.clone() }, expected).is_err());
    assert!(says(&Finding { found: "`38`".into(), ..found.clone() }, expected).is_err());
    assert!(says(&Finding { help: String::new(), ..found.clone() }, expected).is_err());
}

#[test]
fn bytes_that_are_no_text_are_refused() {
    for (bytes, code) in [(&b"PK\x03\x04more"[..], "spreadsheet"), (b"station_mm,diameter_mm\n1,\0\x01\n", "not-text")] {
        finding(&read_bytes(bytes, &ReadOptions::default()).expect_err(code).findings, code);
    }
    let rejected = read_folder(&[("diameters.xlsx", "anything")]).expect_err("no sheet");
    assert!(finding(&rejected.findings, "spreadsheet-unreadable").help.contains("CSV"));
}

/// Remarks that leave the log in use.
const REMARKS: &[(&str, Expected)] = &[
    ("station_mm,diameter_mm,colour\n10,38,\n20,38,\n", expect("unread-column", 1, "colour", "colour", "not read")),
    ("station_mm,diameter_mm\n10,38.01\n20,380.1\n30,38.01\n", expect("digit-slip", 3, "diameter", "380.1", "digit")),
    ("station_mm,diameter_mm\n10,38.1\n20,1.5\n30,38.1\n", expect("unit-slip", 3, "diameter", "1.5", "inch")),
    ("station_mm,diameter_mm,repeat\n10,38.1,1\n20,38.1,1\n20,38.1,1\n", expect("repeat-twice", 4, "repeat", "repeat 1", "used")),
    (
        "station_mm,diameter_mm,gauge\n10,38.1,mic 2\n20,38.1,mic 2\n",
        expect("unknown-gauge", 2, "gauge", "mic 2", "[gauge.diameter.mic 2]"),
    ),
    (
        "pass,direction,station_mm,diameter_mm\n1,to-headstock,10,38\n1,to-headstock,20,38\n1,to-tailstock,10,38\n",
        expect("pass-in-both-directions", 4, "", "pass 1", "number it"),
    ),
];

#[test]
fn remarks_leave_a_log_in_use() {
    for (text, expected) in REMARKS {
        let trial = super::bench::good(text);
        let found = finding(&trial.findings, expected.code);
        assert_eq!(found.severity, Severity::Warning);
        if let Err(difference) = says(found, expected) {
            panic!("{text:?}: {difference}");
        }
        assert_eq!(trial.diameters.len(), text.lines().count() - 1);
    }
    let both = super::bench::good(REMARKS[5].0);
    assert_eq!(readings(&both).iter().map(|reading| reading.2).collect::<Vec<_>>(), [1, 1, 2]);
}

const LOG: (&str, &str) = ("diameters.csv", "station_mm,diameter_mm\n10,38.01\n200,38.02\n");

/// Settings that are rejected, beside a good log.
const BAD_SETTINGS: &[(&str, Expected)] = &[
    ("[bar]\ndiametre_mm = 38.0\n", expect("unknown-key", 2, "1", "`diametre_mm` in [bar]", "`diameter_mm`")),
    ("[bar]\ncentre_height_mm = 115\n", expect("unknown-key", 2, "1", "centre_height_mm", "[machine]")),
    ("[machin]\nname = \"x\"\n", expect("unknown-key", 1, "2", "`machin` at the top", "`machine`")),
    ("[gauge.levle]\nu_mm_per_m = 0.01\n", expect("unknown-key", 1, "8", "levle", "`level`")),
    ("[prior]\noffset_in = 0.05\n", expect("unknown-key", 2, "1", "offset_in", "`offset_mm`")),
    ("[bar]\ndiameter_mm = 38.0\ndiameter_in = 1.5\n", expect("both-units", 3, "1", "diameter_in", "once")),
    ("[bar]\ndiameter_mm = \"38.0\"\n", expect("wrong-type", 2, "15", "\"38.0\"", "without quotes")),
    ("[bar]\ndiameter_mm = true\n", expect("wrong-type", 2, "15", "true", "number")),
    ("bar = 3\n", expect("wrong-type", 1, "1", "bar", "[bar]")),
    ("[[acceptance.limit]]\nquantity = \"taper\"\n", expect("missing-key", 2, "", "limit_mm", "limit_mm")),
    ("[acceptance]\nlimit = 3\n", expect("wrong-type", 2, "1", "limit", "[[acceptance.limit]]")),
    ("[bar]\nlength_mm = inf\n", expect("not-finite", 2, "13", "inf", "finite")),
    ("[bar]\nlength_mm = 0\n", expect("not-positive", 2, "13", "0", "above 0")),
    ("[cutting]\ndepth_mm = -0.1\n", expect("negative", 2, "12", "-0.1", "0 or more")),
    ("[prior]\npresence = 1.5\n", expect("out-of-range", 2, "12", "1.5", "0 to 1")),
    ("[prior]\nforce_factor = 0.5\n", expect("out-of-range", 2, "16", "0.5", "1 or more")),
    ("[bar]\nmaterial = \"mildsteel\"\n", expect("unknown-word", 2, "12", "mildsteel", "perhaps mild-steel")),
    ("[simulate]\nlogs = [\"diameter\"]\n", expect("unknown-word", 2, "8", "diameter", "diameters")),
    ("[simulate]\npasses = 0\n", expect("not-whole", 2, "10", "0", "from 1")),
    ("[simulate]\npasses = 1.5\n", expect("not-whole", 2, "10", "1.5", "whole")),
    ("[trial]\ndate = \"14/03/2026\"\n", expect("not-a-date", 2, "8", "14/03/2026", "2026-03-14")),
    ("[trial]\nname = spring\n", expect("toml-syntax", 2, "8", "name = spring", "double quotes")),
    ("[bar]\ndiameter_mm = 38,0\n", expect("toml-syntax", 2, "17", "`38,0` for `diameter_mm`", "write 38.0: TOML has decimal points")),
    ("[bar]\nlength_mm = -1.234,5 # long\n", expect("toml-syntax", 2, "19", "`-1.234,5` for `length_mm`", "write -1234.5: TOML")),
    ("[bar]\nlength_mm = 1,234\n", expect("toml-syntax", 2, "14", "`1,234`", "write 1.234, or 1234 if the comma parts thousands")),
    ("[bar]\nlength_mm = 220 mm\n", expect("toml-syntax", 2, "13", "`220 mm` for `length_mm`", "write 220: a number stands alone")),
    ("[trial]\ndate = 2026-3-9\n", expect("toml-syntax", 2, "8", "`2026-3-9` for `date`", "write 2026-03-09")),
    ("[trial]\ndate = 19-03-2026 # spring\n", expect("toml-syntax", 2, "8", "`19-03-2026` for `date`", "write 2026-03-19")),
    ("[trial]\ndate = 19.3.2026\n", expect("toml-syntax", 2, "12", "`19.3.2026` for `date`", "write 2026-03-19")),
    (
        "[trial]\ndate = 3/4/2026\n",
        expect("toml-syntax", 2, "8", "`3/4/2026`", "write 2026-04-03, or 2026-03-04 if the month stands first"),
    ),
    ("[trial]\ndate = 2026-02-30\n", expect("toml-syntax", 2, "8", "`2026-02-30`", "no such day")),
    ("[trial]\ndate = \"19-03-2026\"\n", expect("not-a-date", 2, "8", "19-03-2026", "write 2026-03-19")),
    (
        "[bar]\ndiameter_mm = 38\n[bar]\nlength_mm = 220\n",
        expect("toml-syntax", 3, "2", "`[bar]` a second time", "[bar] stands in row 1 already: write there what stands below this one"),
    ),
    (
        "[bar]\ndiameter_mm = 38\nlength_mm = 220\ndiameter_mm = 39\n",
        expect("toml-syntax", 4, "1", "`diameter_mm` a second time", "`diameter_mm` stands in row 2 already: keep one"),
    ),
    (
        "[bar]\nlength_mm = 220\n[[bar]]\n",
        expect("toml-syntax", 3, "3", "`[[bar]]` a second time", "[bar] stands in row 1 already: write there"),
    ),
    (
        "[[acceptance.limit]]\nquantity = \"taper\"\nlimit_mm = 0.02\n[acceptance.limit]\nquantity = \"barrel\"\n",
        expect("toml-syntax", 4, "13", "`[acceptance.limit]` a second time", "write [[acceptance.limit]] here and in row 1, once for each"),
    ),
    (
        "[acceptance.limit]\nquantity = \"taper\"\nlimit_mm = 0.02\n[[acceptance.limit]]\nquantity = \"barrel\"\n",
        expect(
            "toml-syntax",
            4,
            "14",
            "`[[acceptance.limit]]` a second time",
            "write [[acceptance.limit]] here and in row 1, once for each",
        ),
    ),
    (
        "[gauge]\ndiameter = 3\n[gauge.diameter] # mine\nu_mm = 0.002\n",
        expect("toml-syntax", 3, "8", "`[gauge.diameter] # mine` a second time", "`diameter` stands in row 2 already"),
    ),
    (
        "[[acceptance.limit]]\nquantity = \"taper\"\nlimit_mm = 0.02\n[[acceptance.limit]]\nquantity = \"barrel\"\nlimit_mm = 0.01\nlimit_mm = 0.02\n",
        expect("toml-syntax", 7, "1", "`limit_mm` a second time", "stands in row 6 already"),
    ),
    (
        "[gauge.diameter.\"mic 2.5\"]\nu_mm = 0.002\n[gauge.diameter.\"mic 2.5\"]\nu_mm = 0.001\n",
        expect("toml-syntax", 3, "17", "a second time", "[gauge.diameter.mic 2.5] stands in row 1 already"),
    ),
    ("[bar]\ncollars_mm = [[25.0, 5.0]]\n", expect("span-order", 2, "14", "[[25.0, 5.0]]", "smaller first")),
    ("[bar]\nlength_mm = 200\ncollars_mm = [[5, 25], [190, 210]]\n", expect("collar-outside-bar", 3, "14", "190", "length_mm")),
    ("[bar]\ncollars_mm = [[5, 25], [20, 210]]\n", expect("collar-order", 2, "14", "overlap", "outwards")),
    ("[bar]\ndiameter_mm = 38\nrelief_diameter_mm = 40\n", expect("relief-above-bar", 3, "22", "40", "smaller")),
    ("[machine.feet]\nspacing_along_mm = 700\n", expect("missing-key", 1, "", "spacing_across_mm", "front and rear")),
    (
        "[[acceptance.limit]]\nquantity = \"taper\"\nlimit_mm = 0.02\nsense = \"upwards\"\n",
        expect("sense-does-not-fit", 4, "9", "upwards", "larger-at-headstock"),
    ),
    ("[[acceptance.limit]]\nquantity = \"adjacent-bands\"\nlimit_in = 0.75\n", expect("no-inch-twin", 3, "12", "limit_in", "ratio")),
    ("[bar]\nlength_mm = 1e300\n", expect("out-of-range", 2, "13", "1e300", "large or small")),
    ("[conditions]\ntemperature_c = 293\n", expect("out-of-range", 2, "17", "293", "room")),
];

#[test]
fn every_fault_of_a_settings_file_is_named_with_its_place() {
    for (text, expected) in BAD_SETTINGS {
        let rejected = read_folder(&[("trial.toml", text), LOG]).expect_err(text);
        let found = finding(&rejected.findings, expected.code);
        assert_eq!(found.file.as_deref(), Some("trial.toml"));
        if let Err(difference) = says(found, expected) {
            panic!("{text:?}: {difference}");
        }
    }
}

/// A gauge that was calibrated after the trial is asked about, one calibrated long before it remarked on; no clock is asked.
#[test]
fn dates_of_calibration_are_held_against_the_date_of_the_trial() {
    let found = |date: &str, gauge: &str, calibrated: &str| {
        let text = format!("[trial]\ndate = {date}\n[{gauge}]\ncalibrated = {calibrated}\n");
        let trial = read_folder(&[("trial.toml", &text), LOG]).unwrap_or_else(|rejected| panic!("{text}: {rejected:?}"));
        let of = |finding: &&Finding| finding.code == "unlikely-value";
        trial.findings.iter().find(of).map(|finding| (finding.severity, finding.row, finding.found.to_string()))
    };
    for gauge in ["gauge.diameter", "gauge.level", "gauge.indicator", "gauge.diameter.comparator"] {
        assert_eq!(
            found("2026-11-01", gauge, "2027-01-01"),
            Some((Severity::Warning, Some(4), "a calibration of 2027-01-01, after the trial of 2026-11-01".to_owned()))
        );
        assert_eq!(
            found("2026-11-01", gauge, "\"2024-10-31\""),
            Some((Severity::Note, Some(4), "a calibration of 2024-10-31, more than two years before the trial of 2026-11-01".to_owned()))
        );
        for good in ["2026-11-01", "2024-11-01"] {
            assert_eq!(found("2026-11-01", gauge, good), None, "{good}");
        }
    }
    let undated = read_folder(&[("trial.toml", "[gauge.diameter]\ncalibrated = 2199-01-01\n"), LOG]).expect("a trial in use");
    assert!(undated.findings.is_empty(), "{:?}", undated.findings);
}

/// The floor of a limit that states none is assumed in the open, where it has a part in what is allowed.
#[test]
fn an_assumed_floor_is_said_where_it_counts() {
    let assumed = |limit: &str| {
        let text = format!("[[acceptance.limit]]\nquantity = \"taper\"\n{limit}\n");
        let trial = read_folder(&[("trial.toml", &text), LOG]).unwrap_or_else(|rejected| panic!("{text}: {rejected:?}"));
        let floor = trial.assumed.iter().find(|assumption| assumption.key == "acceptance.limit[0].floor_mm");
        floor.map(|assumption| assumption.value.as_f64())
    };
    assert_eq!(assumed("limit_mm = 0.02\nsense = \"larger-at-headstock\""), Some(Some(0.005)));
    assert_eq!(assumed("limit_mm = 0.02\nsense = \"larger-at-headstock\"\nfloor_mm = 0.004"), None);
    assert_eq!(assumed("limit_mm = 0.02"), None);
    // the log is 190 mm long: 0.0075 mm over 300 mm are 0.00475 mm there, less than the floor, and 0.0085 mm are more
    assert_eq!(assumed("limit_mm = 0.0075\nover_mm = 300"), Some(Some(0.005)));
    assert_eq!(assumed("limit_mm = 0.0085\nover_mm = 300"), None);
}

/// A tenth is a ratio that ten bands of an even taper keep; as a length it would be a limit of another quantity.
#[test]
fn a_small_ratio_is_asked_about_and_a_small_length_is_not() {
    let asked = |quantity: &str, limit: &str| {
        let text = format!("[[acceptance.limit]]\nquantity = \"{quantity}\"\nlimit_mm = {limit}\n");
        let trial = read_folder(&[("trial.toml", &text), LOG]).unwrap_or_else(|rejected| panic!("{text}: {rejected:?}"));
        trial.findings.iter().any(|finding| finding.code == "unlikely-value")
    };
    assert_eq!(["0.099", "0.1", "0.75", "1.0"].map(|limit| asked("adjacent-bands", limit)), [true, false, false, false]);
    assert!(!asked("taper", "0.005") && !asked("level-variation", "0.02"));
}

/// Settings that nobody is likely to mean: they are used, and asked about.
const UNLIKELY_SETTINGS: &[(&str, Expected)] = &[
    ("[gauge.diameter]\nu_mm = 2\n", expect("unlikely-value", 2, "8", "2 mm for `u_mm`", "is it in µm? Then write 0.002.")),
    (
        "[gauge.diameter]\nu_in = 0.08\n",
        expect(
            "unlikely-value",
            2,
            "8",
            "0.08 in for `u_in`",
            "of an inch? Then write 0.00008. A micrometer in a careful hand reads to 0.0001 in",
        ),
    ),
    (
        "[gauge.level]\nu_in_per_ft = 0.5\n",
        expect("unlikely-value", 2, "15", "0.5 in a foot for `u_in_per_ft`", "a foot? Then write 0.0005."),
    ),
    ("[gauge.diameter.comparator]\nresolution_mm = 1\n", expect("unlikely-value", 2, "17", "1 mm for `resolution_mm`", "write 0.001.")),
    ("[gauge.level]\nu_mm_per_m = 20\n", expect("unlikely-value", 2, "14", "20 mm/m for `u_mm_per_m`", "is it in µm/m? Then write 0.02.")),
    (
        "[cutting]\ndepth_mm = 5\n",
        expect("unlikely-value", 2, "12", "5 mm for `depth_mm`", "is it in hundredths of a millimetre? Then write 0.05."),
    ),
    ("[cutting]\ndepth_in = 5\n", expect("unlikely-value", 2, "12", "5 in for `depth_in`", "thousandths of an inch? Then write 0.005.")),
    (
        "[cutting]\nrpm = 600\nfeed_in_per_rev = 4\n",
        expect("unlikely-value", 3, "19", "4 in a revolution for `feed_in_per_rev`", "is it in thousandths of an inch? Then write 0.004."),
    ),
    (
        "[[acceptance.limit]]\nquantity = \"adjacent-bands\"\nlimit_mm = 0.005\n",
        expect(
            "unlikely-value",
            3,
            "12",
            "0.005 for `limit_mm`",
            "is it a length in mm? This quantity is the largest difference of neighbouring bands",
        ),
    ),
    (
        "[[acceptance.limit]]\nquantity = \"adjacent-bands\"\nlimit_mm = 75\n",
        expect("unlikely-value", 3, "12", "75 for `limit_mm`", "per cent? Then write 0.75: it is a ratio, 75 % is written 0.75"),
    ),
    (
        "[[acceptance.limit]]\nquantity = \"level-variation\"\nlimit_mm = 20\n",
        expect("unlikely-value", 3, "12", "20 mm/m for `limit_mm`", "in µm/m? Then write 0.02."),
    ),
    (
        "[machine.feet]\nspacing_along_mm = 700\nspacing_across_mm = 150\nscrew_threads_per_inch = 1.5\n",
        expect("unlikely-value", 4, "26", "1.5 threads an inch for `screw_threads_per_inch`", "in mm? Then write screw_pitch_mm = 1.5."),
    ),
    (
        "[machine.feet]\nspacing_along_mm = 700\nspacing_across_mm = 150\nscrew_threads_per_inch = 0.0625\n",
        expect("unlikely-value", 4, "26", "0.0625 threads an inch", "the pitch in inches? Then write 16."),
    ),
    (
        "[conditions]\ntemperature_spread_f = 36\n",
        expect("unlikely-value", 2, "24", "36 °F for `temperature_spread_f`", "Then write 4, without the 32."),
    ),
    ("[conditions]\ntemperature_spread_f = 68\n", expect("unlikely-value", 2, "24", "68 °F", "the room (temperature_f)? A difference")),
    (
        "[bar]\ndiameter_mm = 20\n[cutting]\ndepth_mm = 2.1\n",
        expect("unlikely-value", 4, "12", "2.1 mm for `depth_mm`", "takes 4.2 mm off the diameter"),
    ),
    (
        "[cutting]\nrpm = 560\nfeed_mm_per_rev = 80\n",
        expect("unlikely-value", 3, "19", "80 mm a revolution for `feed_mm_per_rev`", "a minute? Then at 560 rev/min write 0.143."),
    ),
    ("[cutting]\nfeed_mm_per_rev = 80\n", expect("unlikely-value", 2, "19", "80 mm a revolution", "divide it by the spindle")),
    (
        "[[acceptance.limit]]\nquantity = \"taper\"\nlimit_mm = 20\n",
        expect("unlikely-value", 3, "12", "20 mm for `limit_mm`", "is it in µm? Then write 0.02."),
    ),
    (
        "[machine.feet]\nspacing_along_mm = 700\nspacing_across_mm = 150\nscrew_pitch_mm = 12\n",
        expect("unlikely-value", 4, "18", "12 mm for `screw_pitch_mm`", "the screw’s diameter"),
    ),
    ("[conditions]\ntemperature_spread_c = 20\n", expect("unlikely-value", 2, "24", "20 °C", "temperature of the room")),
];

#[test]
fn settings_that_nobody_is_likely_to_mean_are_asked_about() {
    for (text, expected) in UNLIKELY_SETTINGS {
        let trial = read_folder(&[("trial.toml", text), LOG]).unwrap_or_else(|rejected| panic!("{text}: {rejected:?}"));
        let found = finding(&trial.findings, expected.code);
        assert_eq!((found.severity, found.file.as_deref()), (Severity::Warning, Some("trial.toml")));
        if let Err(difference) = says(found, expected) {
            panic!("{text:?}: {difference}");
        }
    }
    let at_the_bounds = "[gauge.diameter]\nu_mm = 0.1\nresolution_mm = 0.1\n[gauge.level]\nu_mm_per_m = 2\n[bar]\ndiameter_mm = 38\n[cutting]\n\
                         depth_mm = 3\nfeed_mm_per_rev = 2\n[[acceptance.limit]]\nquantity = \"taper\"\nlimit_mm = 1\n";
    let trial = read_folder(&[("trial.toml", at_the_bounds), LOG]).expect("a trial in use");
    assert!(trial.findings.is_empty(), "{:?}", trial.findings);
    // a criteria file is asked in the same way
    let limits = "[[limit]]\nquantity = \"taper\"\nlimit_mm = 20\n";
    let trial = read_folder(&[("trial.toml", "[acceptance]\ncriteria = \"own\"\n"), ("own.toml", limits), LOG]).expect("a trial in use");
    let found = finding(&trial.findings, "unlikely-value");
    assert_eq!((found.file.as_deref(), found.row), (Some("own.toml"), Some(3)));
    // and so is a logged pass, once, unless the settings say the same
    let log = "station_mm,diameter_mm,pass,depth_mm,feed_mm_per_rev\n10,38,1,0.1,0.1\n20,38,2,5,80\n30,38,2,5,80\n";
    let trial = super::bench::good(log);
    let found: Vec<_> = trial.findings.iter().filter(|finding| finding.code == "unlikely-value").collect();
    let places: Vec<_> = found.iter().map(|finding| (finding.row, finding.column.as_deref())).collect();
    assert_eq!(places, [(Some(3), Some("depth")), (Some(3), Some("feed"))]);
    assert!(found[0].found.contains("5 mm") && found[1].found.contains("80 mm a revolution"));
    let inches =
        super::bench::good("station_in,diameter_in,pass,depth_in,feed_thou_per_rev\n1,1.5,1,0.005,4\n2,1.5,2,5,400\n3,1.5,2,5,400\n");
    let found: Vec<_> = inches.findings.iter().filter(|finding| finding.code == "unlikely-value").collect();
    assert!(found[0].found.contains("a depth of 5 in") && found[0].help.contains("thousandths of an inch? Then write 0.005."), "{found:?}");
    assert!(found[1].found.contains("a feed of 400 thou a revolution") && found[1].row == Some(3), "{found:?}");
    let trial = read_folder(&[("trial.toml", "[cutting]\ndepth_mm = 5\nfeed_mm_per_rev = 80\n"), ("diameters.csv", log)]).expect("in use");
    assert_eq!(trial.findings.iter().filter(|finding| finding.code == "unlikely-value").count(), 2);
}

/// Reading warns where `plan` says not to cut: one bound.
#[test]
fn a_bar_that_hangs_out_too_far_is_told() {
    let told = |bar: &str, log: &str| -> Option<Finding> {
        let files = [("trial.toml", bar), ("diameters.csv", log)];
        let trial = read_folder(&files).unwrap_or_else(|rejected| panic!("{bar}: {rejected:?}"));
        trial.findings.into_iter().find(|finding| finding.code == "overhang")
    };
    let slender = "station_mm,diameter_mm\n10,20.01\n390,20.02\n";
    let found = told("[bar]\ndiameter_mm = 20\nlength_mm = 400\nholding = \"chuck\"\n", slender).expect("a warning");
    assert_eq!((found.severity, found.file.as_deref()), (Severity::Warning, Some("trial.toml")));
    assert!(found.found.contains("by 20 diameters: 400 mm of 20 mm"), "{}", found.found);
    for part in ["beyond 6 diameters do not cut", "beyond 4 lightly", "at most 120 mm", "a bar of 67 mm or more", "a centre under its end"]
    {
        assert!(found.help.contains(part), "{part}: {}", found.help);
    }
    assert!(!found.help.contains("holding"), "that is stated: {}", found.help);
    for held in ["centres", "chuck-and-centre"] {
        assert!(told(&format!("[bar]\ndiameter_mm = 20\nlength_mm = 400\nholding = \"{held}\"\n"), slender).is_none());
    }
    let bar = |length: f64| told(&format!("[bar]\ndiameter_mm = 38\nlength_mm = {length}\n"), LOG.1);
    assert!(bar(228.0).is_none() && bar(228.1).is_some(), "six diameters are within the bound");
    assert!(told("[bar]\ndiameter_in = 1.1\nlength_in = 6.6\n", "station_in,diameter_in\n1,1.1\n6,1.1\n").is_none(), "in inches too");
    // who states nothing is asked how the bar was held
    let found = told("", slender).expect("a warning");
    assert!(found.found.contains("390 mm") && found.help.contains("state holding in [bar]"), "{found:?}");
    let alone = super::bench::good(slender);
    assert_eq!(finding(&alone.findings, "overhang").file, None);
    // a length that wrong readings tell counts for nothing; one that is stated does, before anything is read
    let wrong = read_folder(&[("diameters.csv", "station_mm,diameter_mm\n10,20\n400,abc\n500,20\n")]).expect_err("no number");
    assert!(wrong.findings.iter().all(|finding| finding.code != "overhang"));
    let early = read_folder(&[("trial.toml", "[bar]\ndiameter_mm = 20\nlength_mm = 400\n")]).expect_err("no readings");
    finding(&early.findings, "overhang");
}

#[test]
fn no_sample_raises_a_false_alarm() {
    let root = std::path::Path::new(env!("CARGO_MANIFEST_DIR")).join("sample-data");
    let folders = |folder: &std::path::Path| -> Vec<std::path::PathBuf> {
        let entries = std::fs::read_dir(folder).expect("a folder").map(|entry| entry.expect("an entry").path());
        entries.filter(|path| path.is_dir()).collect()
    };
    let trials: Vec<_> = folders(&root).into_iter().flat_map(|one| [folders(&one), vec![one]].concat()).collect();
    let trials: Vec<_> = trials.into_iter().filter(|folder| folder.join("trial.toml").is_file()).collect();
    assert!(trials.len() > 20, "{trials:?}");
    for folder in trials {
        let trial = taperwright::ingest::read_trial(&folder, &ReadOptions::default()).expect("a sample");
        const SLIPS: [&str; 9] = [
            "overhang",
            "unlikely-value",
            "digit-slip",
            "unit-slip",
            "station-slip",
            "diameters-far-apart",
            "summary-row",
            "pass-starts-over",
            "readings-apart",
        ];
        let alarm = trial.findings.iter().find(|finding| SLIPS.contains(&finding.code));
        assert!(alarm.is_none(), "{}: {alarm:?}", folder.display());
    }
}

/// Of `1,200` the parser keeps the 1: a key with such a fault is not stated, and no log is judged by it.
#[test]
fn a_key_with_a_fault_is_not_stated() {
    let codes = |files: &[(&str, &str)]| -> Vec<&'static str> {
        read_folder(files).expect_err("a fault").findings.iter().map(|finding| finding.code).collect()
    };
    for settings in
        ["[bar]\nlength_mm = 1,200\n", "[bar]\ndiameter_mm = 40,0\n", "[bar]\nlength_mm = 160 mm\n", "[bar]\ncollars_mm = [[1,5, 2\n"]
    {
        assert_eq!(codes(&[("trial.toml", settings), LOG]), ["toml-syntax"], "{settings}");
    }
    assert_eq!(codes(&[("trial.toml", "[bar]\nlength_mm = 1\n"), LOG]), ["station-outside-bar"; 2], "what is stated counts");
    let levels = ("levels.csv", "station_mm,roll_div\n0,1\n");
    assert_eq!(codes(&[("trial.toml", "[gauge.level]\ndivision_mm_per_m = 0,02\n"), LOG, levels]), ["toml-syntax"]);
    assert_eq!(codes(&[("trial.toml", "[gauge.level]\nu_mm_per_m = 0,02\n"), LOG, levels]), ["toml-syntax", "missing-division"]);
    let limit = "[[acceptance.limit]]\nquantity = \"taper\"\nlimit_mm = ";
    assert_eq!(codes(&[("trial.toml", &format!("{limit}0,02\n")), LOG]), ["toml-syntax"]);
    assert_eq!(codes(&[("trial.toml", &format!("{limit}\"0.02\"\n")), LOG]), ["wrong-type"]);
    assert_eq!(codes(&[("trial.toml", limit.trim_end_matches("limit_mm = ")), LOG]), ["missing-key"]);
}

/// Faults that a folder's files show only together.
#[test]
fn faults_between_files_are_named() {
    let half = "station_mm,diameter_mm\n10,38.01\n200,38.02\n";
    let rejected = read_folder(&[("diameters.csv", half), ("diameters-2.csv", half)]).expect_err("a pass in two files");
    let found = finding(&rejected.findings, "pass-in-two-files");
    assert_eq!((found.file.as_deref(), found.row), (Some("diameters-2.csv"), Some(2)));
    let rejected = read_folder(&[("trial.toml", "[bar]\nlength_mm = 150\n"), LOG]).expect_err("a station off the bar");
    assert_eq!(finding(&rejected.findings, "station-outside-bar").row, Some(3));
    let rejected = read_folder(&[LOG, ("levels.csv", "station_mm,roll_div\n0,1\n")]).expect_err("divisions of unknown value");
    assert!(finding(&rejected.findings, "missing-division").help.contains("division_mm_per_m"));
    let moves = |row: &str| format!("from_setting,to_setting,foot,raise_mm,turns\n{row}\n");
    for (row, code) in
        [("0,1,tailstock rear,,", "raise-or-turns"), ("1,1,tailstock rear,0.1,", "same-setting"), ("0,1,rear,0.1,", "unknown-word")]
    {
        let rejected = read_folder(&[LOG, ("moves.csv", &moves(row))]).expect_err(code);
        let found = finding(&rejected.findings, code);
        assert_eq!((found.file.as_deref(), found.row), (Some("moves.csv"), Some(2)));
    }
    let rejected = read_folder(&[("trial.toml", "[trial]\nname = \"empty\"\n")]).expect_err("no log");
    finding(&rejected.findings, "no-readings");
}

#[test]
fn remarks_between_files_leave_the_trial_in_use() {
    let settings = "[bar]\ndiameter_mm = 76.0\nlength_mm = 220\ncollars_mm = [[5, 25], [100, 120]]\n";
    let moves = "from_setting,to_setting,foot,raise_mm\n0,1,tailstock rear,0.1\n";
    let trial = read_folder(&[("trial.toml", settings), LOG, ("moves.csv", moves), ("notes.csv", "a,b\n")]).expect("a trial in use");
    assert_eq!(finding(&trial.findings, "station-off-collar").row, Some(3));
    assert!(finding(&trial.findings, "diameter-unlike-bar").help.contains("radii"));
    assert!(finding(&trial.findings, "setting-not-measured").found.contains("setting 1"));
    assert_eq!(finding(&trial.findings, "file-not-read").severity, Severity::Note);
}

/// Levels, indicator and clamp rows of a setting without diameters are not used, and so it is said, once a setting, at its first row.
#[test]
fn rows_of_a_setting_without_diameters_are_told() {
    let levels = "setting,station_mm,roll_mm_per_m\n0,0,0.01\n1,0,0.02\n1,300,0.03\n2,0,0.01\n";
    let clamp = "setting,foot,station_mm,change_mm\n3,tailstock rear,100,0.01\n";
    let indicator = "setting,station_mm,reading_mm\n4,10,0\n4,100,0.01\n";
    let trial = read_folder(&[LOG, ("levels.csv", levels), ("clamp.csv", clamp), ("indicator.csv", indicator)]).expect("a trial in use");
    let told = |code: &str| -> Vec<(Option<&str>, Option<u64>)> {
        trial.findings.iter().filter(|finding| finding.code == code).map(|finding| (finding.file.as_deref(), finding.row)).collect()
    };
    let mut rows = told("setting-not-measured");
    rows.sort_unstable();
    assert_eq!(
        rows,
        [(Some("clamp.csv"), Some(2)), (Some("indicator.csv"), Some(2)), (Some("levels.csv"), Some(3)), (Some("levels.csv"), Some(5))]
    );
    let alike = read_folder(&[LOG, ("levels.csv", "station_mm,roll_mm_per_m\n0,0.01\n300,0.03\n")]).expect("a trial in use");
    assert!(alike.findings.iter().all(|finding| finding.code != "setting-not-measured"), "{:?}", alike.findings);
}

/// A bar turned in its chucking, and three of four feet, are told at the first row that is no evidence.
#[test]
fn evidence_that_is_refused_is_told() {
    let indicator = ("indicator.csv", "station_mm,reading_mm\n10,0\n100,0.01\n");
    let feet = |feet: &[&str]| {
        let rows: String = feet.iter().map(|foot| format!("{foot},100,0.01\n{foot},300,0.02\n")).collect();
        format!("foot,station_mm,change_mm\n{rows}")
    };
    let all = ["headstock front", "headstock rear", "tailstock front", "tailstock rear"];
    let refused = |turned_here: bool, clamp: &str| -> Vec<(Option<String>, Option<u64>)> {
        let settings = format!("[bar]\ndiameter_mm = 38\nlength_mm = 220\n[testbar]\nturned_here = {turned_here}\n");
        let trial = read_folder(&[("trial.toml", &settings), LOG, indicator, ("clamp.csv", clamp)]).expect("a trial in use");
        trial.findings.iter().filter(|finding| finding.code == "evidence-refused").map(|f| (f.file.clone(), f.row)).collect()
    };
    assert_eq!(refused(true, &feet(&all)), [(Some("indicator.csv".to_owned()), Some(2))]);
    assert_eq!(refused(false, &feet(&all[1..])), [(Some("clamp.csv".to_owned()), Some(2))]);
    assert_eq!(refused(false, &feet(&all)), []);
}

/// Passes that were deleted, or never measured, leave gaps in the numbers.
#[test]
fn numbers_that_no_pass_has_are_named() {
    let log = |passes: &[(u32, u32)]| {
        let rows = passes.iter().map(|(setting, pass)| format!("{setting},{pass},10,38\n{setting},{pass},20,38.01\n"));
        format!("setting,pass,station_mm,diameter_mm\n{}", rows.collect::<String>())
    };
    let found = |passes: &[(u32, u32)]| -> Vec<String> {
        let trial = super::bench::good(&log(passes));
        trial.findings.iter().filter(|finding| finding.code == "passes-missing").map(|finding| finding.found.to_string()).collect()
    };
    assert_eq!(found(&[(0, 1), (0, 3), (0, 5)]), ["passes 2, 4 are not in the log"]);
    assert_eq!(found(&[(0, 1), (0, 3)]), ["pass 2 is not in the log"]);
    assert_eq!(found(&[(0, 4), (0, 5)]), ["passes 1 to 3 are not in the log"]);
    // one numbering through both settings, and each with its own
    assert_eq!(found(&[(0, 1), (1, 2), (0, 3), (1, 4)]), Vec::<String>::new());
    assert_eq!(found(&[(0, 1), (0, 2), (1, 1), (1, 2), (1, 4)]), ["pass 3 of setting 1 is not in the log"]);
    // a setting may go on from the numbers of those before it
    let begun = [(0, 1), (0, 2), (0, 3), (1, 1), (1, 2), (1, 3)];
    assert_eq!(found(&[&begun[..], &[(2, 4), (2, 5)]].concat()), Vec::<String>::new());
    assert_eq!(found(&[&begun[..], &[(2, 3), (2, 4)]].concat()), Vec::<String>::new());
    assert_eq!(found(&[&begun[..], &[(2, 4), (2, 6)]].concat()), ["pass 5 of setting 2 is not in the log"]);
    assert_eq!(found(&[&begun[..], &[(2, 5), (2, 6)]].concat()), ["pass 4 of setting 2 is not in the log"]);
    // what is left out with a reason is in the log
    let left_out = "pass,station_mm,diameter_mm,exclude\n1,10,38,\n1,20,38,\n2,10,38,chips\n2,20,38,chips\n3,10,38,\n3,20,38,\n";
    assert!(super::bench::good(left_out).findings.iter().all(|finding| finding.code != "passes-missing"));
}

#[test]
fn titles_and_headers_once_more_are_noted() {
    let trial = super::bench::good("# tea\nQuay Lathe 2\nstation_mm,diameter_mm\n10,38\nstation_mm,diameter_mm\n20,38\n");
    for (code, row, severity) in [("lines-above-header", 2, Severity::Note), ("header-again", 5, Severity::Warning)] {
        let found = finding(&trial.findings, code);
        assert_eq!((found.severity, found.row), (severity, Some(row)));
    }
    assert_eq!((trial.inputs[0].rows, trial.diameters.to_vec()[1].place.row), (2, 6));
}

#[test]
fn what_is_excluded_need_not_be_readable() {
    let text = "station_mm,diameter_mm,exclude\n10,38,\n20,38,\n30,??,slipped\n,,x\n40,38.2,chip\n";
    let trial = super::bench::good(text);
    assert_eq!(trial.diameters.len(), 3);
    assert_eq!((trial.inputs[0].rows, trial.inputs[0].used, trial.inputs[0].excluded), (5, 2, 3));
    assert!((trial.bar.diameter_mm - 38.0).abs() < 1e-12, "the mean of what is used");
}

#[test]
fn a_trial_toml_beside_a_lone_log_is_not_read() {
    let folder = tempfile::tempdir().expect("a temporary folder");
    super::bench::write(folder.path(), "trial.toml", "[bar]\nlength_mm = 5\n");
    super::bench::write(folder.path(), LOG.0, LOG.1);
    let trial = taperwright::ingest::read_trial(&folder.path().join(LOG.0), &ReadOptions::default()).expect("a lone log");
    assert!(finding(&trial.findings, "settings-not-read").help.contains("folder"));
    assert_eq!((trial.bar.length_mm, trial.inputs.len()), (200.0, 1));
    let said = |trial: taperwright::trial::Trial| {
        let analysis = taperwright::analysis::analyse(trial, taperwright::analysis::Options { seed: 1, monte_carlo_draws: 100 });
        analysis.warnings.iter().any(|warning| warning.starts_with("A trial.toml beside the log, which is not read: give its folder"))
    };
    assert!(said(trial.clone()), "it stands at the page's top as well");
    std::fs::remove_file(folder.path().join("trial.toml")).expect("it is there");
    assert!(!said(taperwright::ingest::read_trial(&folder.path().join(LOG.0), &ReadOptions::default()).expect("a lone log")));
    let gone = taperwright::ingest::read_trial(&folder.path().join("gone.csv"), &ReadOptions::default()).expect_err("no file");
    finding(&gone.findings, "missing-file");
}

#[test]
fn settings_alone_must_state_the_bar() {
    let folder = tempfile::tempdir().expect("a temporary folder");
    let path = folder.path().join("trial.toml");
    super::bench::write(folder.path(), "trial.toml", "[bar]\nlength_mm = 200\n");
    let rejected = taperwright::ingest::read_settings(&path, &ReadOptions::default()).expect_err("no diameter");
    assert!(finding(&rejected.findings, "missing-key").help.contains("diameter_mm"));
    super::bench::write(folder.path(), "trial.toml", "[bar]\nlength_mm = 200\ndiameter_in = 1\n[plan]\nsettle = [\"bed-twist\"]\n");
    for path in [path.as_path(), folder.path()] {
        let trial = taperwright::ingest::read_settings(path, &ReadOptions::default()).expect("a bar");
        assert!((trial.bar.diameter_mm - 25.4).abs() < 1e-12 && trial.plan.is_some());
    }
}

#[test]
fn a_criteria_file_gives_limits_with_their_sources() {
    let criteria = "name = \"museum\"\nsource = \"workshop rule 3\"\ndecision_rule = \"guard-band\"\n[[limit]]\nquantity = \"taper\"\n\
        limit_in = 0.001\nover_in = 12\nclause = \"3.1\"\nprovenance = \"read\"\nswing_to_mm = 500\n";
    let settings =
        "[acceptance]\ncriteria = \"museum\"\n[[acceptance.limit]]\nquantity = \"barrel\"\nlimit_mm = 0.01\nsense = \"barrel\"\n";
    let trial = read_folder(&[("trial.toml", settings), ("museum.toml", criteria), LOG]).expect("good criteria");
    let [taper, barrel] = trial.acceptance.limit.as_slice() else { panic!("{:?}", trial.acceptance.limit) };
    assert!((taper.limit_mm - 0.0254).abs() < 1e-12 && (taper.over_mm.unwrap_or(0.0) - 304.8).abs() < 1e-9);
    assert_eq!((taper.clause.as_deref(), taper.source.as_deref(), taper.swing_to_mm), (Some("3.1"), Some("workshop rule 3"), Some(500.0)));
    assert_eq!((barrel.limit_mm, barrel.floor_mm, barrel.source.as_deref()), (0.01, 0.005, None));
    assert_eq!(trial.acceptance.decision_rule, Some(taperwright::trial::DecisionRule::GuardBand));
    let files: Vec<&str> = trial.inputs.iter().map(|input| input.file.as_str()).collect();
    assert_eq!(files, ["trial.toml", "museum.toml", "diameters.csv"]);
    let bad = criteria.replace("over_in", "over_inn");
    let rejected = read_folder(&[("trial.toml", settings), ("museum.toml", &bad), LOG]).expect_err("a slip");
    let found = finding(&rejected.findings, "unknown-key");
    assert_eq!((found.file.as_deref(), found.row, found.help.contains("over_in")), (Some("museum.toml"), Some(7), true));
    assert_eq!(finding(&trial.findings, "swing-not-stated").severity, Severity::Warning);
    let rejected = read_folder(&[("trial.toml", &settings.replace("museum", "iso-1708-generl")), LOG]).expect_err("no such criteria");
    let found = finding(&rejected.findings, "no-such-criteria");
    assert_eq!((found.row, found.help.starts_with("perhaps iso-1708-general;")), (Some(2), true), "{found:?}");
}

/// Every code that the reader can give stands in a test of this folder.
#[test]
fn every_code_has_its_bad_input() {
    let root = std::path::Path::new(env!("CARGO_MANIFEST_DIR"));
    let sources = |folder: &str| -> Vec<(String, String)> {
        let entries = std::fs::read_dir(root.join(folder)).expect("a folder");
        let files = entries.filter_map(Result::ok).map(|entry| entry.path()).filter(|path| path.extension().is_some_and(|end| end == "rs"));
        files.map(|path| (path.file_name().unwrap().to_string_lossy().into_owned(), std::fs::read_to_string(path).unwrap())).collect()
    };
    let mut tested = sources("tests/all/reading");
    tested.extend(sources("tests/all/conformity"));
    let tests: String = tested.into_iter().map(|(_, text)| text).collect();
    let mut reader = sources("src/ingest");
    reader.extend(sources("src/ingest/criteria").into_iter().filter(|(name, _)| name != "built_in.rs"));
    reader.extend(sources("src/ingest/settings"));
    // vocabulary, not codes
    reader.retain(|(name, _)| !["names.rs", "words.rs", "limits.rs", "requests.rs", "build.rs", "hidden_rows.rs"].contains(&name.as_str()));
    let missing = |tests: &str| -> Vec<String> {
        let words = reader.iter().flat_map(|(_, text)| text.split('"').skip(1).step_by(2));
        let codes = words.filter(|word| {
            word.contains('-') && word.split('-').all(|part| !part.is_empty() && part.bytes().all(|b| b.is_ascii_lowercase()))
        });
        codes.filter(|code| !tests.contains(&format!("\"{code}\""))).map(str::to_owned).collect()
    };
    assert_eq!(missing(&tests), Vec::<String>::new(), "codes without a test");
    assert!(missing("").len() > 40, "the search must see the codes");
}

/// One cell of thousands of words: naming it must not take time that grows with their square.
#[test]
fn a_header_of_thousands_of_words_is_refused_at_once() {
    let start = std::time::Instant::now();
    let line = "station_mm ".repeat(40_000);
    let rejected = read_bytes(format!("{line},{line}\n{line},{line}\n").as_bytes(), &ReadOptions::default()).expect_err("no log");
    assert!(rejected.errors > 0);
    assert!(start.elapsed() < std::time::Duration::from_secs(20), "{:?}", start.elapsed());
}

#[test]
fn twenty_faults_are_shown_and_all_are_counted() {
    let mut text = "station_mm,diameter_mm\n".to_owned();
    text.extend((0..75).map(|row| format!("{row},x{row}\n")));
    let rejected = read_bytes(text.as_bytes(), &ReadOptions::default()).expect_err("75 faults");
    assert_eq!((rejected.errors, rejected.findings.len()), (75, 20));
    assert_eq!(rejected.findings[19].row, Some(21));
}

/// As many stations as are kept apart stand as they were written; one more, and all are taken as read to a thousandth of a millimetre, which is said.
#[test]
fn more_stations_than_can_be_kept_apart_are_rounded_and_said() {
    for (number, rounded) in [(MOST_STATIONS, false), (MOST_STATIONS + 1, true)] {
        let mut text = "station_mm,diameter_mm\n".to_owned();
        text.extend((0..number).map(|row| format!("{:.6},38.01\n", 10.0 + 0.000_37 * row as f64)));
        let trial = read_bytes(text.as_bytes(), &ReadOptions::default()).expect("a log");
        let said = trial.findings.iter().any(|finding| finding.code == "stations-rounded" && finding.found.contains("262\u{202f}144"));
        assert_eq!(said, rounded, "{:?}", trial.findings);
        let station = trial.diameters.station_mm(4);
        assert_eq!(station, if rounded { 10.001 } else { 10.001_48 });
    }
}
