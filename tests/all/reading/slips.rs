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
        (again(-0.1, "\n", ",pass", [",3", ",3"], false), 8, ["pass 3 of setting 0", "smaller"]),
    ] {
        let rejected = faults(&text);
        says(finding(&rejected, "pass-starts-over"), row, "station", &parts).unwrap_or_else(|wrong| panic!("{text}: {wrong}"));
    }
    // less than a bar may be out of round, and more than its gauge explains: asked about, not refused
    let asked = good(&again(0.025, "\n", "", ["", ""], false));
    says(finding(&asked.findings, "pass-starts-over"), 8, "station", &["0.025 mm larger", "column pass", "temperature_c"]).unwrap();
    assert!(good(&again(0.015, "\n", "", ["", ""], false)).findings.iter().all(|found| found.code != "pass-starts-over"));
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
