//! `history`: trials of a machine over time, on analyses made by hand and on the sample trials.

use super::conformity::quantities::limit;
use super::page::frozen::{Recipe, analysis, two_settings};
use assert_cmd::Command;
use scraper::{Html, Selector};
use serde_json::Value;
use std::fs;
use std::path::Path;
use taperwright::analysis::Analysis;
use taperwright::conformity::{Decision, Joint, judge};
use taperwright::history::{Cutover, History, Verdict, history};
use taperwright::report::{PageOptions, Units, history_html, history_json, history_summary};
use taperwright::trial::{Holding, Quantity, Sense};
use tempfile::TempDir;

/// A trial of `date` with a taper in mm over 200 mm, whose standard uncertainty is 0.0019 mm.
fn trial(name: &str, date: Option<&str>, taper_mm: f64) -> Analysis {
    let mut made = analysis(&Recipe { name: name.into(), taper_mm, scatter_mm: 0.0, ..Recipe::default() });
    made.trial.identity.date = date.map(Into::into);
    made.trial.machine.name = Some("Quay Lathe 2".into());
    made.trial.machine.serial = None;
    made.trial.acceptance.limit.clear();
    made
}

/// The same trial judged by a limit of `limit_mm` either way over its own length.
fn judged(mut made: Analysis, limit_mm: f64) -> Analysis {
    made.trial.acceptance.limit = vec![limit(Quantity::Taper, limit_mm, None, Sense::Either)];
    made.conformity = judge(&made.trial, &made.shape, Joint::default(), &[], 1);
    made
}

fn drifting() -> Vec<Analysis> {
    let mut all: Vec<Analysis> =
        [("a", "2022-04-01", 0.002), ("b", "2023-04-01", 0.012), ("c", "2024-04-01", 0.022), ("d", "2025-04-01", 0.003)]
            .into_iter()
            .map(|(name, date, taper)| trial(name, Some(date), taper))
            .collect();
    all[3].trial.identity.repair = Some("feet re-seated".into());
    all
}

#[test]
fn a_drift_is_shown_and_a_repair_compared_whatever_the_order_of_the_trials() {
    let mut all = drifting();
    let told = history(&all);
    all.reverse();
    assert_eq!(history(&all), told);
    let machine = &told.machines[0];
    assert_eq!((told.machines.len(), machine.visits.len(), machine.stretches.len(), machine.changes.len()), (1, 4, 2, 1));
    let drift = machine.stretches[0].drift.unwrap();
    // 0.010 mm a year but for the leap day, by construction
    assert!((drift.per_year - 0.010).abs() < 2e-5 && drift.interval95.low > 0.0, "{drift:?}");
    assert_eq!(machine.stretches[0].verdict, Verdict::Drifts);
    assert_eq!((machine.stretches[1].verdict, machine.stretches[1].drift), (Verdict::CannotSay, None), "one trial after the repair");
    let change = &machine.changes[0];
    assert_eq!((change.kind, change.before, change.after), (Cutover::Repair, 2, 3));
    let taper = &change.differences[0];
    assert_eq!(taper.quantity, "taper");
    assert!((taper.difference.value + 0.019).abs() < 1e-9 && taper.shown);
    let (before, after) = (machine.visits[2].left.taper, machine.visits[3].found.taper);
    let quadrature = before.standard_uncertainty.hypot(after.standard_uncertainty);
    assert!((taper.difference.standard_uncertainty - quadrature).abs() < 1e-12, "a calibration that is in neither taper cancels nothing");
}

#[test]
fn a_steady_machine_shows_no_drift_and_a_step_is_unsteady() {
    let steady: Vec<Analysis> =
        [("a", "2022-04-01", 0.010), ("b", "2023-04-01", 0.011), ("c", "2024-04-01", 0.010)].map(|(n, d, t)| trial(n, Some(d), t)).into();
    assert_eq!(history(&steady).machines[0].stretches[0].verdict, Verdict::NoDriftShown);
    let swing: Vec<Analysis> = [
        ("a", "2022-04-01", 0.0),
        ("b", "2022-10-01", 0.04),
        ("c", "2023-04-01", 0.04),
        ("d", "2023-10-01", 0.0),
        ("e", "2024-04-01", 0.0),
    ]
    .map(|(n, d, t)| trial(n, Some(d), t))
    .into();
    let told = history(&swing);
    assert_eq!(told.machines[0].stretches[0].verdict, Verdict::Unsteady);
    assert!(history_summary(&told, Units::Millimetre).contains("something stepped or swung"));
    let close: Vec<Analysis> = [("a", "2022-04-01", 0.0), ("b", "2022-04-20", 0.001)].map(|(n, d, t)| trial(n, Some(d), t)).into();
    assert_eq!(history(&close).machines[0].stretches[0].drift, None, "three weeks are not scaled up to a year");
}

#[test]
fn decisions_are_those_of_each_trial_and_changes_of_them_are_said() {
    // tapers 0.002, 0.012, 0.022 and 0.003 mm, standard uncertainty 0.0019 mm, against 0.012 mm either way
    let all: Vec<Analysis> = drifting().into_iter().map(|made| judged(made, 0.012)).collect();
    let machine = &history(&all).machines[0];
    for (visit, analysis) in machine.visits.iter().zip(&all) {
        assert_eq!(visit.left.conformity, analysis.conformity);
    }
    let changed: Vec<_> =
        machine.decision_changes.iter().map(|change| (change.before.visit, change.after.visit, change.was, change.is)).collect();
    let (yes, no, open) = (Some(Decision::Conforms), Some(Decision::DoesNotConform), Some(Decision::NotProven));
    assert_eq!(changed, [(0, 1, yes, open), (1, 2, open, no), (2, 3, no, yes)]);
    assert!(machine.decision_changes.iter().all(|change| !change.restated && change.after.as_left));
    assert_eq!(machine.remarks.iter().filter(|remark| remark.contains("same limits")).count(), 0);
    let said = history_summary(&history(&all), Units::Millimetre);
    assert!(
        said.contains("Taper: does not conform on 2024-04-01, conforms on 2025-04-01.")
            && said.contains("as left on 2025-04-01: Conforms: taper."),
        "{said}"
    );

    // another limit in the last trial alone: the decision changes, and it is said why that may be
    let mut restated: Vec<Analysis> = all[..2].iter().cloned().map(|made| judged(made, 0.05)).collect();
    restated[1] = judged(restated[1].clone(), 0.012);
    let told = history(&restated);
    assert!(told.machines[0].decision_changes[0].restated && told.machines[0].remarks.iter().any(|remark| remark.contains("same limits")));
    let page = history_html(&told, &PageOptions::default()).unwrap();
    assert!(page.contains("Limits and decisions") && page.contains("the limit or the rule is another one, too"));
    assert!(!history_html(&history(&drifting()), &PageOptions::default()).unwrap().contains("Limits and decisions"), "no limit, no table");
}

#[test]
fn machines_and_ways_of_holding_are_kept_apart_and_undated_trials_left_out() {
    let mut all = drifting();
    all[0].trial.machine.name = Some("  quay lathe 2 ".into());
    all[1].trial.machine.serial = Some("SQ-02".into());
    all.push(trial("undated", None, 0.01));
    all.push(trial("ill-dated", Some("spring"), 0.01));
    let mut other = trial("other", Some("2024-05-01"), 0.0);
    other.trial.machine.name = Some("Quay Lathe 1".into());
    all.push(other);
    let mut centres = trial("centres", Some("2024-06-01"), 0.0);
    centres.trial.bar.holding = Holding::Centres;
    all.push(centres);
    let told = history(&all);
    let counts: Vec<usize> = told.machines.iter().map(|machine| machine.visits.len()).collect();
    assert_eq!(counts, [1, 4, 1], "Lathe 1; Lathe 2 in the chuck, one serial number for all; Lathe 2 between centres");
    let names: Vec<&str> = told.left_out.iter().map(|each| each.trial.as_str()).collect();
    assert_eq!(names, ["undated", "ill-dated"]);
    all[2].trial.machine.serial = Some("SQ-99".into());
    assert_eq!(history(&all).machines.len(), 5, "two serial numbers are two machines, and who states none is neither");
}

#[test]
fn another_tested_length_is_scaled_and_the_latest_setting_stands_for_the_trial() {
    let mut all = drifting();
    let tested = &mut all[0].shape[0].tested_length;
    (tested.from, tested.length) = (110.0, 100.0);
    let told = history(&all);
    let machine = &told.machines[0];
    assert!(machine.scaled && (machine.length_mm - 200.0).abs() < 1e-9);
    let unscaled = history(&drifting()).machines[0].visits[0].left.taper;
    let scaled = machine.visits[0].left.taper;
    assert!((scaled.value - 2.0 * unscaled.value).abs() < 1e-12, "what is found over 100 mm is twice as much over 200");
    assert!((scaled.standard_uncertainty - 2.0 * unscaled.standard_uncertainty).abs() < 1e-12);

    let mut moved = two_settings();
    moved.trial.identity.date = Some("2024-04-01".into());
    let told = history(&[moved.clone()]);
    let visit = &told.machines[0].visits[0];
    let settings: Vec<u32> = moved.shape.iter().map(|shape| shape.setting).collect();
    assert_eq!((visit.found.setting, visit.left.setting), (settings[0], settings[1]));
    assert_eq!(told.machines[0].changes[0].kind, Cutover::Moves);
    assert_eq!(told.machines[0].stretches.len(), 2, "a move ends a stretch");
}

/// Numbers of the page that are not what the JSON has under their key, and how many were compared.
fn differing(html: &str, file: &Value) -> (Vec<String>, usize) {
    let page = Html::parse_document(html);
    assert!(page.errors.is_empty(), "{:?}", page.errors);
    let selector = Selector::parse("data[data-key]").unwrap();
    let numbers: Vec<_> =
        page.select(&selector).map(|each| (each.attr("data-key").unwrap().to_owned(), each.attr("value").unwrap().to_owned())).collect();
    // both are read by the same parser: another may differ in the last digit
    let number = |text: &str| serde_json::from_str::<Value>(text).ok().and_then(|value| value.as_f64());
    let wrong =
        |(key, value): &&(String, String)| file.pointer(&format!("/{}", key.replace('.', "/"))).and_then(Value::as_f64) != number(value);
    (numbers.iter().filter(wrong).map(|(key, value)| format!("{key}: {value}")).collect(), numbers.len())
}

#[test]
fn every_number_of_the_page_is_what_the_json_has_under_its_key() {
    let mut all: Vec<Analysis> = drifting().into_iter().map(|made| judged(made, 0.012)).collect();
    all.push(two_settings());
    all[4].trial.identity.date = Some("2026-01-01".into());
    all[1].trial.identity.name = "<script>&".into();
    let told: History = history(&all);
    let mut file: Value = serde_json::from_str(&history_json(&told)).unwrap();
    assert_eq!(file["schema"], "taperwright-history/1");
    for units in [Units::Millimetre, Units::Inch] {
        let html = history_html(&told, &PageOptions { units }).unwrap();
        let (wrong, compared) = differing(&html, &file);
        assert!(wrong.is_empty(), "{wrong:#?}");
        assert!(compared > 60, "only {compared}");
        assert!(!html.contains("<script"), "text of a trial is text");
        for picture in Html::parse_document(&html).select(&Selector::parse("svg").unwrap()) {
            assert_eq!(picture.attr("role"), Some("img"));
        }
    }
    file["machines"][0]["visits"][0]["left"]["taper"]["value"] = Value::from(1.0);
    assert!(!differing(&history_html(&told, &PageOptions::default()).unwrap(), &file).0.is_empty(), "another number must be seen");
}

fn run(place: &Path, arguments: &[&str]) -> (i32, String, String) {
    let output = Command::cargo_bin("taperwright").unwrap().current_dir(place).args(arguments).output().unwrap();
    let text = |bytes: &[u8]| String::from_utf8_lossy(bytes).into_owned();
    (output.status.code().unwrap(), text(&output.stdout), text(&output.stderr))
}

#[test]
fn the_example_history_is_that_of_its_trials() {
    let root = Path::new(env!("CARGO_MANIFEST_DIR"));
    let place = TempDir::new().unwrap();
    let samples = root.join("sample-data/quay-lathe-2-years");
    let (status, out, err) = run(place.path(), &["history", samples.to_str().unwrap(), "--out", "pages"]);
    assert_eq!((status, err.as_str()), (0, ""), "{out}");
    assert!(out.contains("the taper drifts towards larger at the tailstock end") && out.contains("pages/history.html"), "{out}");
    let made = fs::read_to_string(place.path().join("pages/history.html")).unwrap();
    let kept = fs::read_to_string(root.join("reports/history.html")).unwrap();
    let advice =
        "reports/history.html is stale: run `cargo run -- history sample-data/quay-lathe-2-years --out reports` and look at the difference";
    assert!(made == kept, "{advice}");
}

#[test]
fn a_trial_without_a_date_is_left_out_with_the_reason_and_status_three() {
    let place = TempDir::new().unwrap();
    fs::write(place.path().join("spring.csv"), "station_mm,diameter_mm\n10,38.021\n190,38.034\n").unwrap();
    let (status, out, err) = run(place.path(), &["history", "spring.csv"]);
    assert_eq!((status, out.as_str()), (3, ""));
    assert!(err.contains("spring is left out: it states no date") && err.contains("nothing is written"), "{err}");
    assert!(!place.path().join("reports").exists());
}
