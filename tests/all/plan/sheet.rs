//! The sheet and the blank logs as a user gets them.

use super::{COLLARS, settings};
use assert_cmd::Command;
use scraper::{Html, Selector};
use std::fs;
use std::path::Path;
use std::sync::OnceLock;
use taperwright::plan::{BlankLog, Plan, blank_logs, plan_trial};
use taperwright::report::{PageOptions, Units, plan_sheet_html};
use taperwright::simulate::{Chance, Nature, read_off};
use taperwright::trial::{Trial, Truth};
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

/// The text of a blank log with `values` written into its empty cells.
fn filled(blank: &str, values: impl IntoIterator<Item = f64>) -> String {
    let mut values = values.into_iter();
    let mut out = String::new();
    for line in blank.lines() {
        out.push_str(line);
        if line.ends_with(',') {
            out.push_str(&format!("{:.4}", values.next().expect("a value for every box")));
        }
        out.push('\n');
    }
    assert_eq!(values.next(), None, "a box for every value");
    out
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
    let logs = blank_logs(&plan.planned);
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
