//! Slips of a digit or a unit, rows that sum up others, passes that nobody numbered: told, and never read as if nothing were wrong.

use super::bench::{finding, good, read_bytes, read_folder};
use taperwright::analysis::{Options, analyse};
use taperwright::findings::{Finding, Severity};
use taperwright::ingest::ReadOptions;
use taperwright::report::{PageOptions, Units, page_html, terminal_summary};
use taperwright::trial::Trial;

/// Five stations with one diameter replaced.
fn with(odd: &str) -> String {
    format!("station_mm,diameter_mm\n25,40.021\n55,{odd}\n85,40.028\n115,40.031\n145,40.034\n")
}

fn faults(text: &str) -> Vec<Finding> {
    read_bytes(text.as_bytes(), &ReadOptions::default()).err().map(|rejected| rejected.findings).unwrap_or_default()
}

/// What a finding says of its place, its column and what was meant.
fn says(found: &Finding, row: u64, column: &str, parts: &[&str]) -> Result<(), String> {
    let text = format!("{} {}", found.found, found.help);
    let whole = found.row == Some(row) && found.column.as_deref() == Some(column) && parts.iter().all(|part| text.contains(part));
    if whole { Ok(()) } else { Err(format!("{found:?}")) }
}

#[test]
fn a_diameter_that_is_many_times_the_others_is_told() {
    for (odd, code, meant) in [
        ("400.24", "digit-slip", "40.024 mm"),
        ("4002.4", "digit-slip", "40.024 mm"),
        ("4.0024", "digit-slip", "40.024 mm"),
        ("0.40024", "digit-slip", "40.024 mm"),
        ("1.5757", "unit-slip", "40.0228 mm"),
        ("1016.6", "unit-slip", "40.0236 mm"),
        ("300.24", "diameters-far-apart", "perhaps a slip, or a second bar"),
        ("5.3", "diameters-far-apart", "perhaps a slip, or a second bar"),
    ] {
        let trial = good(&with(odd));
        let found = finding(&trial.findings, code);
        assert_eq!(found.severity, Severity::Warning);
        says(found, 3, "diameter", &[odd, meant, "it is used as logged"]).unwrap_or_else(|wrong| panic!("{odd}: {wrong}"));
        assert!(says(found, 4, "diameter", &[odd]).is_err() && says(found, 3, "diameter", &["41.024"]).is_err(), "the comparison must see");
    }
    for (odd, meant) in [("40024", "40.024 mm"), ("0.040024", "40.024 mm"), ("12345.6", "a slip")] {
        let rejected = faults(&with(odd));
        says(finding(&rejected, "absurd-size"), 3, "diameter", &[odd, meant, "thinner than 0.1 mm or thicker than 10 m"])
            .unwrap_or_else(|wrong| panic!("{odd}: {wrong}"));
        assert_eq!(rejected.len(), 1, "{rejected:?}");
        // with a reason it may stay
        let excluded = with(odd).replace("_mm\n", "_mm,exclude\n").replace(odd, &format!("{odd},slip"));
        assert_eq!(good(&excluded).inputs[0].excluded, 1);
    }
    for good_one in ["9.0", "199.0"] {
        assert!(good(&with(good_one)).findings.iter().all(|f| !f.code.ends_with("slip") && f.row != Some(3)), "{good_one}");
    }
    let two = faults(&with("40024").replace("115,40.031", "115,40031"));
    assert_eq!(two.iter().map(|f| (f.code, f.row)).collect::<Vec<_>>(), [("absurd-size", Some(3)), ("absurd-size", Some(5))]);
}

#[test]
fn of_two_diameters_the_bar_tells_which_is_the_slip() {
    let log = "station_mm,diameter_mm\n25,40.021\n145,400.34\n";
    let alone = good(log);
    says(finding(&alone.findings, "digit-slip"), 2, "diameter", &["400.21 mm", "or the slip is in the other"]).unwrap();
    let known = read_folder(&[("trial.toml", "[bar]\ndiameter_mm = 40\nlength_mm = 160\n"), ("diameters.csv", log)]).expect("a trial");
    let found = finding(&known.findings, "digit-slip");
    says(found, 3, "diameter", &["on a bar of 40 mm", "40.034 mm"]).unwrap();
    assert!(!found.help.contains("other"), "{found:?}");
    let rejected = faults("station_mm,diameter_mm\n25,40.021\n145,40034\n");
    says(finding(&rejected, "absurd-size"), 3, "diameter", &["40.034 mm"]).unwrap();
}

#[test]
fn a_station_out_of_all_order_is_told() {
    let log = |stations: [&str; 5]| {
        let rows = stations.iter().zip([40.021, 40.024, 40.028, 40.031, 40.034]).map(|(station, read)| format!("{station},{read}\n"));
        good(&format!("station_mm,diameter_mm\n{}", rows.collect::<String>()))
    };
    for (stations, row, parts) in [
        (["25", "55", "85000", "115", "145"], 4, ["85000 mm where the others end at 145 mm", "85 mm"]),
        (["25", "55", "46162", "115", "145"], 4, ["46.162 mm; or a date", "counts"]),
        (["25", "55", "850", "115", "145"], 4, ["out of the order", "85 mm"]),
        (["145", "115", "8.5", "55", "25"], 4, ["out of the order", "85 mm"]),
        (["25", "55", "3.346", "115", "145"], 4, ["a reading in inches", "84.9884 mm"]),
    ] {
        let trial = log(stations);
        let parts = if stations[2] == "46162" { ["46.162 mm; or a date", "spreadsheet programs count in days"] } else { parts };
        says(finding(&trial.findings, "station-slip"), row, "station", &parts).unwrap_or_else(|wrong| panic!("{stations:?}: {wrong}"));
        assert!(trial.findings.iter().all(|f| f.code != "overhang"), "{:?}", trial.findings);
    }
    // in any order, far from one another, and there and back
    for stations in [
        ["25", "55", "85", "115", "145"],
        ["85", "25", "145", "55", "115"],
        ["5", "10", "230", "235", "240"],
        ["10", "125", "45", "150", "160"],
        ["25", "85", "145", "85", "25"],
    ] {
        assert!(log(stations).findings.iter().all(|f| f.code != "station-slip"), "{stations:?}");
    }
}

/// Where the taper may be metres either way the page speaks neither of a parallel bar nor of what is too small to see.
#[test]
fn a_log_that_tells_nothing_is_not_called_parallel() {
    let told = |text: &str| {
        let settings = "[bar]\ndiameter_mm = 40\nlength_mm = 160\n[[acceptance.limit]]\nquantity = \"taper\"\nlimit_mm = 0.02\n";
        let trial = read_folder(&[("trial.toml", settings), ("diameters.csv", text)]).expect("a trial");
        let analysis = analyse(trial, Options { seed: 1, monte_carlo_draws: 1000 });
        let page = page_html(&analysis, &PageOptions { units: Units::Millimetre }).expect("a page");
        let document = scraper::Html::parse_document(&page);
        let found = scraper::Selector::parse("#found p, #correction p, .lead").expect("a selector");
        let text: String = document.select(&found).flat_map(|element| element.text()).collect();
        (text, terminal_summary(&analysis, Units::Millimetre), analysis.correction.map(|correction| correction.why.to_string()))
    };
    let (page, terminal, why) = told(&with("4002.4"));
    let why = why.expect("advice");
    for text in [&page, &terminal] {
        assert!(text.contains("This log does not tell the taper"), "{text}");
        assert!(!text.contains("parallel within") && !text.contains("less than can be seen"), "{text}");
    }
    assert!(why.contains("holds a slip") && !why.contains("chasing noise"), "{why}");
    let (page, terminal, _) = told(&with("40.024"));
    assert!(!page.contains("does not tell the taper") && !terminal.contains("does not tell the taper"), "a log without a slip: {terminal}");
}

#[test]
fn a_row_that_sums_up_others_is_told() {
    for (word, column) in [("mean", "note"), ("Average:", "note"), ("TOTAL", "note"), ("Mittelwert", "note")] {
        let cells = format!(",{word}");
        let text = with("40.024").replace("_mm\n", "_mm,operator,note\n").replace('\n', ",,\n").replace("note,,", "note");
        let trial = good(&format!("{text}85,40.0276,{cells}\n"));
        says(finding(&trial.findings, "summary-row"), 7, column, &["40.0276", "take the row out"])
            .unwrap_or_else(|wrong| panic!("{word}: {wrong}"));
    }
    // initials and names of people are none, and the thickest place may be noted
    let people = with("40.024").replace("_mm\n", "_mm,operator\n").replace('\n', ",max\n").replace("operator,max", "operator");
    assert!(good(&people.replacen(",max", ",sd", 2)).findings.iter().all(|found| found.code != "summary-row"));
    for quiet in ["meant", "dry", "max", "sd", ""] {
        let trial = good(&format!("station_mm,diameter_mm,note\n25,40.021,{quiet}\n55,40.024,\n85,40.028,\n115,40.031,\n145,40.034,\n"));
        assert!(trial.findings.is_empty(), "{quiet}: {:?}", trial.findings);
    }
    // where all readings are means none is the odd one
    let means = good("station_mm,diameter_mm,note\n25,40.021,mean\n55,40.024,mean\n85,40.028,mean\n");
    assert!(means.findings.is_empty(), "{:?}", means.findings);
}

const FIRST: [(u32, f64); 5] = [(25, 40.021), (55, 40.024), (85, 40.028), (115, 40.031), (145, 40.034)];

/// The first pass and, below it, its stations again with diameters larger by so much; further cells of the second behind each row.
fn again(by: f64, between: &str, columns: &str, cells: [&str; 2], back: bool) -> String {
    let row = |(station, read): (u32, f64), by: f64, cells: &str| format!("{station},{:.3}{cells}\n", read + by);
    let mut second: Vec<String> = FIRST.iter().map(|one| row(*one, by, cells[1])).collect();
    if back {
        second.reverse();
    }
    let first: String = FIRST.iter().map(|one| row(*one, 0.0, cells[0])).collect();
    format!("station_mm,diameter_mm{columns}\n{first}{between}{}", second.concat())
}

#[test]
fn a_pass_whose_stations_start_over_at_other_diameters_is_refused() {
    for (text, row, parts) in [
        (again(-0.1, "\n", "", ["", ""], false), 8, ["rows 2 to 6 again", "0.1 mm smaller"]),
        (again(-0.1, "\n", "", ["", ""], true), 8, ["rows 2 to 6 again", "0.1 mm smaller"]),
        (again(-0.1, "", "", ["", ""], false), 7, ["rows 2 to 6 again", "column pass"]),
        (again(-0.1, "# pass 2\n", "", ["", ""], false), 8, ["rows 2 to 6 again", "column pass"]),
        (again(0.05, "\n", "", ["", ""], false), 8, ["0.05 mm larger", "column repeat"]),
    ] {
        let rejected = faults(&text);
        says(finding(&rejected, "pass-starts-over"), row, "station", &parts).unwrap_or_else(|wrong| panic!("{text}: {wrong}"));
    }
    // less than a bar may be out of round, and more than its gauge explains: asked about, not refused
    let asked = good(&again(0.025, "\n", "", ["", ""], false));
    says(finding(&asked.findings, "pass-starts-over"), 8, "station", &["0.025 mm larger", "column pass", "temperature_c"]).unwrap();
    assert!(good(&again(0.015, "\n", "", ["", ""], false)).findings.iter().all(|found| found.code != "pass-starts-over"));
    // a log that numbers its passes is asked
    let numbered = good(&again(-0.1, "\n", ",pass", [",3", ",3"], false));
    says(finding(&numbered.findings, "pass-starts-over"), 8, "station", &["pass 3 of setting 0", "0.1 mm smaller", "column pass"]).unwrap();
    // fewer stations the second time
    let short: String = again(-0.1, "\n", "", ["", ""], false).lines().take(10).map(|line| format!("{line}\n")).collect();
    assert_eq!(finding(&faults(&short), "pass-starts-over").row, Some(8));
    let quiet = |text: &str| -> Trial { good(text) };
    for text in [
        again(0.003, "\n", "", ["", ""], false),
        again(-0.004, "\n", "", ["", ""], true),
        again(-0.1, "\n", ",pass", [",1", ",2"], false),
        again(-0.1, "\n", ",setting", [",0", ",1"], false),
        again(0.03, "\n", ",angle_deg", [",0", ",90"], false),
        again(0.03, "\n", ",repeat", [",1", ",2"], false),
        again(0.03, "\n", ",gauge", [",one", ",two"], false),
    ] {
        assert!(quiet(&text).findings.iter().all(|f| !f.is_error()), "{text}");
    }
    // a reading of one station again is no pass
    assert_eq!(good(&format!("{}25,40.1\n", with("40.024"))).diameters.len(), 6);
    // one slip among readings that agree is no pass either
    let slip = again(0.0, "\n", "", ["", ""], false).replace("115,40.031\n145,40.034\n\n", "115,40.531\n145,40.034\n\n");
    assert_eq!(good(&slip).diameters.len(), 10);
    // a gauge of hundredths: what differs by two of its steps may be one cut
    let coarse = "station_mm,diameter_mm\n25,40.02\n85,40.03\n145,40.03\n25,40.00\n85,40.01\n145,40.01\n";
    assert_eq!(good(coarse).diameters.len(), 6);
}

/// The least pass of three columns: stations, their readings and a cell each.
fn rows(stations: &[&str], read: &[f64], cell: &str) -> String {
    stations.iter().zip(read).map(|(station, read)| format!("{station},{read:.3}{cell}\n")).collect()
}

#[test]
fn a_station_slip_at_an_end_is_told() {
    let read = [38.001, 38.006, 38.010, 38.014, 38.019];
    let log = |stations: [&str; 5]| good(&format!("station_mm,diameter_mm\n{}", rows(&stations, &read, "")));
    for (stations, row, part) in [
        (["200", "60", "100", "140", "180"], 2, "20 mm"),
        (["20", "60", "100", "140", "18"], 6, "180 mm"),
        (["20", "60", "100", "140", "1800"], 6, "180 mm"),
    ] {
        says(finding(&log(stations).findings, "station-slip"), row, "station", &["out of the order", part])
            .unwrap_or_else(|wrong| panic!("{stations:?}: {wrong}"));
    }
    // the far end first, back to the first place, a last long step, inches among whole tens
    for stations in [
        ["180", "20", "60", "100", "140"],
        ["20", "60", "100", "140", "20"],
        ["20", "60", "100", "140", "300"],
        ["50", "100", "5", "150", "200"],
    ] {
        assert!(log(stations).findings.iter().all(|found| found.code != "station-slip"), "{stations:?}");
    }
    // the other passes have the station that was meant, or the odd one too
    let passes = |third: [&str; 5]| {
        let usual = ["20", "60", "100", "140", "180"];
        let passes: String =
            [("1", usual), ("2", third), ("3", usual)].iter().map(|(pass, at)| rows(at, &read, &format!(",{pass}"))).collect();
        good(&format!("station_mm,diameter_mm,pass\n{passes}"))
    };
    says(finding(&passes(["20", "60", "100", "140", "18"]).findings, "station-slip"), 11, "station", &["180 mm"]).unwrap();
    let back = passes(["180", "140", "100", "60", "20"]);
    assert!(back.findings.iter().all(|found| found.code != "station-slip"), "{:?}", back.findings);
}

#[test]
fn readings_that_no_round_bar_has_are_told() {
    const AT: [&str; 5] = ["20", "60", "100", "140", "180"];
    const FIRST: [f64; 5] = [38.001, 38.006, 38.010, 38.014, 38.019];
    let by = |by: [f64; 5]| -> [f64; 5] { std::array::from_fn(|index| FIRST[index] + by[index]) };
    let other = by([-0.1; 5]);
    let two = |header: &str, first: &str, second: &str| {
        format!("station_mm,diameter_mm{header}\n{}{}", rows(&AT, &FIRST, first), rows(&AT, &other, second))
    };
    // told apart by what cannot tell cuts apart
    for (header, first, second) in [(",repeat", ",1", ",2"), (",angle_deg", ",0", ",90"), (",operator", ",A", ",B"), (",gauge", ",A", ",B")]
    {
        let trial = good(&two(header, first, second));
        let parts = ["0.1 mm off that of row", "5 stations that were read more than once 5 are so", "column pass"];
        let found = finding(&trial.findings, "readings-apart");
        says(found, found.row.expect("a row"), "diameter", &parts).unwrap_or_else(|wrong| panic!("{header}: {wrong}"));
    }
    assert!(good(&two(",pass", ",1", ",2")).findings.is_empty());
    // by turns, station for station
    let turns: String = AT.iter().zip(FIRST).map(|(at, read)| format!("{at},{read:.3}\n{at},{:.3}\n", read - 0.1)).collect();
    says(finding(&faults(&format!("station_mm,diameter_mm\n{turns}")), "readings-apart"), 3, "diameter", &["pass 1", "20 mm"]).unwrap();
    // a wrong number of one pass
    let wrong = format!("station_mm,diameter_mm,pass\n{}20,37.901,1\n{}", rows(&AT, &FIRST, ",1"), rows(&AT[1..], &other[1..], ",2"));
    let parts = ["0.1 mm off that of row 2", "slip"];
    says(finding(&good(&wrong).findings, "readings-apart"), 7, "diameter", &parts).unwrap();
    // out of round by what a chuck may do, and a burr in one place
    for cell in ["", ",90"] {
        let text = format!(
            "station_mm,diameter_mm{}\n{}{}",
            if cell.is_empty() { "" } else { ",angle_deg" },
            rows(&AT, &FIRST, &cell.replace("90", "0")),
            rows(&AT, &by([0.02, -0.03, 0.01, 0.02, -0.02]), cell)
        );
        let trial = good(&text);
        assert!(trial.findings.iter().all(|found| found.code != "readings-apart"), "{text}: {:?}", trial.findings);
    }
    // a slip of a digit is told as one, once
    let slip = good(&format!("station_mm,diameter_mm\n{}100,380.1\n", rows(&AT, &FIRST, "")));
    assert!(
        slip.findings.iter().any(|found| found.code == "digit-slip") && slip.findings.iter().all(|found| found.code != "readings-apart")
    );
}

#[test]
fn a_pass_is_compared_with_the_last_that_was_read_alike() {
    const AT: [&str; 5] = ["20", "60", "100", "140", "180"];
    const FIRST: [f64; 5] = [38.001, 38.006, 38.010, 38.014, 38.019];
    let by = |by: [f64; 5]| -> [f64; 5] { std::array::from_fn(|index| FIRST[index] + by[index]) };
    // two cuts, each along the bar at two angles
    let log: String =
        [(0.0, ",0"), (0.001, ",90"), (-0.1, ",0"), (-0.099, ",90")].iter().map(|(off, cell)| rows(&AT, &by([*off; 5]), cell)).collect();
    let rejected = faults(&format!("station_mm,diameter_mm,angle_deg\n{log}"));
    says(finding(&rejected, "pass-starts-over"), 12, "station", &["rows 2 to 6 again", "0.1 mm smaller"]).unwrap();
    // a burr in the second cut; another taper in it, with and without a side
    for (second, part) in [
        ([-0.1, -0.1, -0.02, -0.1, -0.1], "0.1 mm smaller"),
        ([-0.04, -0.09, -0.14, -0.19, -0.24], "0.14 mm smaller"),
        ([0.09, 0.05, 0.04, -0.05, -0.09], "off by 0.05 mm or more at most of them"),
    ] {
        let rejected = faults(&format!("station_mm,diameter_mm\n{}{}", rows(&AT, &FIRST, ""), rows(&AT, &by(second), "")));
        says(finding(&rejected, "pass-starts-over"), 7, "station", &[part]).unwrap_or_else(|wrong| panic!("{second:?}: {wrong}"));
    }
    // most stations agree
    let mostly = good(&format!("station_mm,diameter_mm\n{}{}", rows(&AT, &FIRST, ""), rows(&AT, &by([0.0, 0.001, -0.1, 0.0, -0.1]), "")));
    assert!(mostly.findings.iter().all(|found| found.code != "pass-starts-over"), "{:?}", mostly.findings);
}

#[test]
fn a_column_in_another_unit_than_its_header_is_asked_about() {
    let log = |header: &str, stations: [f64; 4], diameter: f64| {
        let rows: String = stations.iter().map(|at| format!("{at},{diameter}\n")).collect();
        good(&format!("{header}\n{rows}"))
    };
    let near = [1.0, 3.0, 5.0, 7.0];
    let far = [20.0, 60.0, 100.0, 140.0];
    for (header, stations, diameter, column, part) in [
        ("station_in,diameter_in", far, 38.01, "diameter_in", "if they are millimetres, near 38.01 mm"),
        ("station_in,diameter_in", far, 16.01, "diameter_in", "if they are millimetres, near 16.01 mm"),
        ("station_mm,diameter_mm", near, 1.5012, "diameter_mm", "if they are inches, near 1.501 in, which is 38.13 mm"),
        ("station_mm,diameter_mm", near, 38.01, "station", "if they are inches, from 25.4 to 177.8 mm"),
    ] {
        let trial = log(header, stations, diameter);
        says(finding(&trial.findings, "unlikely-value"), 2, column, &[part]).unwrap_or_else(|wrong| panic!("{header} {diameter}: {wrong}"));
    }
    for (header, stations, diameter) in [
        ("station_in,diameter_in", near, 1.5012),
        ("station_in,diameter_in", [1.0, 20.0, 40.0, 59.0], 19.685),
        ("station_mm,diameter_mm", far, 500.0),
        ("station_mm,diameter_mm", far, 4.0),
        ("station_mm,diameter_mm", [5.0, 15.0, 20.0, 25.0], 38.01),
        ("station_mm,diameter_mm", [2.0, 6.0, 10.0, 14.0], 12.0),
    ] {
        let trial = log(header, stations, diameter);
        assert!(trial.findings.iter().all(|found| found.code != "unlikely-value"), "{header} {diameter}: {:?}", trial.findings);
    }
}
