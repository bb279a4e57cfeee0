//! The sheet and the blank logs as a user gets them.

use super::{COLLARS, settings};
use assert_cmd::Command;
use scraper::{Html, Selector};
use std::fs;
use std::path::Path;
use std::sync::OnceLock;
use taperwright::ingest::{ReadOptions, read_trial};
use taperwright::plan::{BlankLog, Plan, blank_logs, plan_trial};
use taperwright::report::{PageOptions, Units, plan_sheet_html};
use taperwright::simulate::{Chance, Nature, read_off};
use taperwright::trial::{LogUnits, Trial, Truth};
use tempfile::TempDir;

const WANTS: &str = "[plan]\nsettle = [\"headstock-yaw\", \"bed-twist\"]\ntarget_expanded_mm = 0.012\n";

/// One plan for all tests: the search takes a while without optimisation.
fn planned() -> &'static Plan {
    static PLAN: OnceLock<Plan> = OnceLock::new();
    PLAN.get_or_init(|| plan_trial(&settings(&format!("{COLLARS}{WANTS}")), 1).unwrap())
}

fn taperwright(folder: &Path) -> Command {
    let mut command = Command::cargo_bin("taperwright").unwrap();
    command.current_dir(folder).env("NO_COLOR", "1");
    command
}

/// The text of a blank log with `values` written into its empty cells, to so many decimals.
fn filled_to(decimals: usize, blank: &str, values: impl IntoIterator<Item = f64>) -> String {
    let mut values = values.into_iter();
    let mut out = String::new();
    for line in blank.lines() {
        out.push_str(line);
        if line.ends_with(',') {
            out.push_str(&format!("{:.decimals$}", values.next().expect("a value for every box")));
        }
        out.push('\n');
    }
    assert_eq!(values.next(), None, "a box for every value");
    out
}

fn filled(blank: &str, values: impl IntoIterator<Item = f64>) -> String {
    filled_to(4, blank, values)
}

fn values(trial: &Trial, log: &BlankLog) -> Vec<f64> {
    match log.kind.name() {
        "diameters" => trial.diameters.iter().map(|reading| reading.read_mm).collect(),
        "levels" => trial.levels.iter().map(|reading| reading.roll_mm_per_m).collect(),
        _ => trial.indicator.iter().map(|reading| reading.reading_mm).collect(),
    }
}

#[test]
fn a_plan_is_made_filled_and_reported() {
    let place = TempDir::new().unwrap();
    fs::create_dir(place.path().join("quay")).unwrap();
    let text = format!("{COLLARS}{WANTS}");
    fs::write(place.path().join("quay/trial.toml"), &text).unwrap();
    taperwright(place.path()).args(["plan", "quay/trial.toml"]).assert().success();
    let sheet = fs::read_to_string(place.path().join("reports/quay-lathe-before-plan.html")).unwrap();
    assert!(sheet.contains("draw-level") || sheet.contains("draw-indicator"));
    // the logs are blank: nothing to report yet, and every open box is named
    let unfilled = taperwright(place.path()).args(["check", "quay"]).assert().code(3);
    assert!(String::from_utf8_lossy(&unfilled.get_output().stderr).contains("an empty cell"));
    // nothing is written over
    taperwright(place.path()).args(["plan", "quay/trial.toml"]).assert().code(4);
    let plan = planned();
    let truth = Truth { yaw_mm_per_m: Some(0.05), twist_mm_per_m_per_m: Some(-0.2), ..Truth::default() };
    let nature = Nature::stated(&plan.planned, &truth, 1.0, &mut Chance::new(5, 0));
    let read = read_off(&plan.planned, &nature, 5);
    let logs = blank_logs(&plan.planned, LogUnits::Millimetre);
    assert!(logs.len() >= 2, "diameters and what separates yaw from twist");
    for log in &logs {
        let path = place.path().join("quay").join(&log.name);
        assert_eq!(fs::read_to_string(&path).unwrap(), log.text);
        fs::write(&path, filled(&log.text, values(&read, log))).unwrap();
    }
    taperwright(place.path()).args(["report", "quay", "--out", "out"]).assert().success();
    let result: serde_json::Value =
        serde_json::from_str(&fs::read_to_string(place.path().join("out/quay-lathe-before.json")).unwrap()).unwrap();
    assert_eq!(result["shape"][0]["readings"].as_u64().unwrap() as usize, plan.planned.diameters.len());
    let used: u64 = result["inputs"].as_array().unwrap().iter().map(|input| input["used"].as_u64().unwrap()).sum();
    assert_eq!(used as usize, plan.option().unwrap().scheme.readings(), "every box is used");
}

#[test]
fn an_out_folder_gets_the_sheet_the_logs_and_the_settings() {
    let place = TempDir::new().unwrap();
    fs::write(place.path().join("t.toml"), format!("{COLLARS}[plan]\ntarget_expanded_mm = 0.03\n")).unwrap();
    let made = taperwright(place.path()).args(["plan", "t.toml", "--out", "new", "--units", "in"]).assert().success();
    let told = String::from_utf8_lossy(&made.get_output().stdout).into_owned();
    for file in ["quay-lathe-before-plan.html", "trial.toml", "diameters-plan.csv"] {
        assert!(place.path().join("new").join(file).is_file() && told.contains(file), "{file}: {told}");
    }
    taperwright(place.path()).args(["plan", "missing.toml"]).assert().code(3);
    fs::write(place.path().join("bare.toml"), "[trial]\nname = \"bare\"\n").unwrap();
    let refused = taperwright(place.path()).args(["plan", "bare.toml"]).assert().code(3);
    assert!(String::from_utf8_lossy(&refused.get_output().stderr).contains("length_mm"));
}

#[test]
fn the_sheet_has_a_box_for_every_reading_in_the_order_of_the_logs() {
    let plan = planned();
    for units in [Units::Millimetre, Units::Inch] {
        let page = Html::parse_document(&plan_sheet_html(plan, &PageOptions { units }).unwrap());
        assert!(page.errors.is_empty(), "{:?}", page.errors);
        let numbers: Vec<usize> =
            page.select(&Selector::parse("td.box span").unwrap()).map(|cell| cell.text().collect::<String>().parse().unwrap()).collect();
        let expected: Vec<usize> = [plan.planned.levels.len(), plan.planned.indicator.len(), plan.planned.diameters.len()]
            .into_iter()
            .flat_map(|count| 1..=count)
            .collect();
        assert_eq!(numbers, expected);
        let text: String = page.root_element().text().collect();
        assert!(!text.contains("NaN") && !text.contains("{{") && text.contains("Isolate the machine"));
        for svg in page.select(&Selector::parse("svg").unwrap()) {
            assert_eq!(svg.value().attr("role"), Some("img"));
        }
    }
    // names of the user's are text, not markup
    let mut hostile = plan.clone();
    hostile.planned.identity.name = "<b>&quay".to_owned();
    let page = plan_sheet_html(&hostile, &PageOptions::default()).unwrap();
    assert!(page.contains("&lt;b&gt;") && !page.contains("<b>"), "escaped");
}

#[test]
fn the_same_settings_and_seed_give_the_same_plan() {
    let again = plan_trial(&settings(&format!("{COLLARS}{WANTS}")), 1).unwrap();
    let page = |plan: &Plan| plan_sheet_html(plan, &PageOptions::default()).unwrap();
    assert_eq!(page(&again), page(planned()));
    let mut other = again.clone();
    other.options[0].expanded_mm *= 1.5;
    assert_ne!(page(&other), page(&again), "another forecast must show");
}

/// The rows of a log below its header, and the header.
fn table(text: &str) -> (String, Vec<Vec<String>>) {
    let mut lines = text.lines().filter(|line| !line.starts_with('#'));
    let header = lines.next().unwrap().to_owned();
    (header, lines.map(|line| line.split(',').map(str::to_owned).collect()).collect())
}

/// With `--units in` sheet and blank logs are both in inches, and inches written into them mean what millimetres do in the others.
#[test]
fn a_plan_in_inches_has_logs_in_inches() {
    let plan = planned();
    let inch = blank_logs(&plan.planned, LogUnits::Inch);
    let headers: Vec<(&str, String)> = inch.iter().map(|log| (log.kind.name(), table(&log.text).0)).collect();
    let expected = [
        ("diameters", "setting,pass,direction,depth_in,feed_in_per_rev,edge,station_in,repeat,diameter_in"),
        ("levels", "setting,station_in,reversed,roll_in_per_ft"),
        ("indicator", "setting,station_in,spindle_deg,plane,reading_in"),
    ];
    for (kind, header) in &headers {
        assert!(expected.contains(&(kind, header.as_str())), "{kind}: {header}");
    }
    assert!(headers.len() >= 2 && inch.iter().all(|log| !log.text.contains("_mm")), "no millimetre is left in {headers:?}");
    // the sheet names the same places, depth and feed in the same units
    let sheet = plan_sheet_html(plan, &PageOptions { units: Units::Inch }).unwrap();
    assert!(!sheet.contains("in place of") && sheet.contains("They are in inches like this sheet"));
    let page = Html::parse_document(&sheet);
    let texts = |selector: &str| -> Vec<String> {
        page.select(&Selector::parse(selector).unwrap())
            .map(|element| element.text().collect::<String>().replace('\u{202f}', " "))
            .collect()
    };
    let boxes = texts("#boxes").concat();
    assert!(!boxes.contains("millimetre") && !boxes.contains("mm/m") && !boxes.contains(" mm"), "{boxes}");
    let places = texts("table.boxes th[scope=row]");
    for log in &inch {
        let (header, rows) = table(&log.text);
        let at = header.split(',').position(|name| name == "station_in").unwrap();
        for row in &rows {
            assert!(places.contains(&row[at]), "{} is on no table of the sheet: {places:?}", row[at]);
            assert!(row[at].split('.').nth(1).is_none_or(|decimals| decimals.len() <= 3), "{}: finer than a thou", row[at]);
        }
        if log.kind.name() == "diameters" {
            let title = format!("depth {} in (radial), feed {} in a revolution", rows[0][3], rows[0][4]);
            assert!(texts("table.boxes caption").iter().any(|caption| caption.ends_with(&title)), "{title}");
        }
        if log.kind.name() == "levels" {
            assert!(texts("table.boxes caption").iter().any(|caption| caption.contains("in in/ft,")));
        }
    }
    // the same readings, written in inches and in millimetres, are read alike
    let truth = Truth { yaw_mm_per_m: Some(0.05), twist_mm_per_m_per_m: Some(-0.2), ..Truth::default() };
    let read = read_off(&plan.planned, &Nature::stated(&plan.planned, &truth, 1.0, &mut Chance::new(5, 0)), 5);
    let read_back = |units: LogUnits| -> Trial {
        let place = TempDir::new().unwrap();
        fs::write(place.path().join("trial.toml"), format!("{COLLARS}{WANTS}")).unwrap();
        for log in blank_logs(&plan.planned, units) {
            let unit = match (units, log.kind.name()) {
                (LogUnits::Millimetre, _) => 1.0,
                (LogUnits::Inch, "levels") => 1000.0 / 12.0,
                (LogUnits::Inch, _) => 25.4,
            };
            let text = filled_to(8, &log.text, values(&read, &log).into_iter().map(|value| value / unit));
            fs::write(place.path().join(&log.name), text).unwrap();
        }
        read_trial(place.path(), &ReadOptions::default()).unwrap()
    };
    let (metric, inches) = (read_back(LogUnits::Millimetre), read_back(LogUnits::Inch));
    let near = |a: f64, b: f64, within: f64| (a - b).abs() <= within;
    assert!(near(1.0, 1.01, 0.02) && !near(1.0, 1.03, 0.02) && !near(f64::NAN, 1.0, 0.02));
    assert!(metric.diameters.len() > 3 && metric.diameters.len() == inches.diameters.len());
    for (a, b) in metric.diameters.iter().zip(inches.diameters.iter()) {
        assert!(near(a.read_mm, b.read_mm, 1e-6) && near(a.station_mm, b.station_mm, 0.0128), "{a:?} {b:?}");
        assert!(near(a.depth_mm, b.depth_mm, 0.0013) && near(a.feed_mm_per_rev, b.feed_mm_per_rev, 0.0013), "{a:?} {b:?}");
        assert_eq!((a.pass, a.direction, a.repeat), (b.pass, b.direction, b.repeat));
    }
    assert!(metric.levels.len() == inches.levels.len() && metric.indicator.len() == inches.indicator.len());
    for (a, b) in metric.levels.iter().zip(&inches.levels) {
        assert!(near(a.roll_mm_per_m, b.roll_mm_per_m, 1e-6) && near(a.station_mm, b.station_mm, 0.0128) && a.reversed == b.reversed);
    }
    for (a, b) in metric.indicator.iter().zip(&inches.indicator) {
        assert!(near(a.reading_mm, b.reading_mm, 1e-6) && near(a.station_mm, b.station_mm, 0.0128) && a.spindle_deg == b.spindle_deg);
    }
}

/// A bar that must not be cut as planned: that is said first, on the page and on the terminal, and nothing to be cut is handed out.
#[test]
fn a_refused_bar_gets_its_refusal_and_no_boxes() {
    let place = TempDir::new().unwrap();
    let bar = "[trial]\nname = \"slender\"\n[bar]\ndiameter_mm = 20.0\nlength_mm = 130.0\n[cutting]\ndepth_mm = 0.5\n";
    fs::write(place.path().join("t.toml"), format!("{bar}[plan]\nsettle = [\"deflection\"]\n")).unwrap();
    let made = taperwright(place.path()).args(["plan", "t.toml", "--out", "new"]).assert().success();
    let told = String::from_utf8_lossy(&made.get_output().stderr).into_owned();
    assert!(told.starts_with("Do not cut this bar as it is held.") && told.contains("6.5") && told.contains("120"), "{told}");
    let files: Vec<String> =
        fs::read_dir(place.path().join("new")).unwrap().map(|one| one.unwrap().file_name().into_string().unwrap()).collect();
    assert_eq!(files, ["slender-plan.html"], "a sheet and no log");
    let sheet = fs::read_to_string(place.path().join("new/slender-plan.html")).unwrap();
    let page = Html::parse_document(&sheet);
    let select =
        |selector: &str| page.select(&Selector::parse(selector).unwrap()).map(|e| e.text().collect::<String>()).collect::<Vec<_>>();
    assert!(select("main section p").first().is_some_and(|first| first.starts_with("Do not cut this bar as it is held.")));
    assert!(select("#boxes, #schemes, #causes, #then, .box").is_empty());
    assert!(
        !sheet.contains("Measure a") && !sheet.contains("cut no deeper than") && !sheet.contains("heavy pass beside the light ones shows")
    );
    // the same bar, shorter, is planned and gets its logs
    fs::write(place.path().join("t.toml"), bar.replace("130.0", "75.0").replace("0.5", "0.05")).unwrap();
    taperwright(place.path()).args(["plan", "t.toml", "--out", "short"]).assert().success();
    assert!(place.path().join("short/diameters-plan.csv").is_file());
    let sheet = fs::read_to_string(place.path().join("short/slender-plan.html")).unwrap();
    assert!(sheet.contains("id=\"boxes\"") && !sheet.contains("Do not cut"));
}

/// Where station 0 is, and that tool and carriage keep clear of what turns there.
#[test]
fn the_sheet_says_where_station_nought_is() {
    let sheet = |trial: &Trial| {
        let html = plan_sheet_html(&plan_trial(trial, 1).unwrap(), &PageOptions::default()).unwrap();
        let boxes = Html::parse_document(&html).select(&Selector::parse("#boxes").unwrap()).next().unwrap().text().collect::<String>();
        boxes.replace('\u{202f}', " ")
    };
    let wants = "[plan]\ntarget_expanded_mm = 0.03\n";
    let collars = sheet(&settings(&format!("{COLLARS}{wants}")));
    for said in [
        "Station 0 is where the bar leaves the chuck’s jaws",
        "length is counted from there too",
        "stands 15 mm from the jaws, never less",
        "clear of the chuck’s jaws",
        "by hand once",
    ] {
        assert!(collars.contains(said), "{said}: {collars}");
    }
    let near = sheet(&settings(&format!("{}{wants}", COLLARS.replace("[5.0, 25.0]", "[2.0, 12.0]"))));
    assert!(near.contains("stands 7 mm from the jaws. That is near."), "{near}");
    let centres = sheet(&settings(&format!("{COLLARS}holding = \"centres\"\n{wants}")));
    assert!(centres.contains("headstock centre") && centres.contains("clear of the carrier") && !centres.contains("jaws"), "{centres}");
}
