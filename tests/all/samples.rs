//! The sample trials and what is made from them: example reports by `cargo run -- report sample-data --out reports`, an example plan by
//! `cargo run -- plan sample-data/before-cutting.toml --out reports/plan --force`.

use assert_cmd::Command;
use std::collections::BTreeMap;
use std::fs;
use std::path::Path;
use tempfile::TempDir;

fn files(folder: &Path) -> BTreeMap<String, Vec<u8>> {
    fs::read_dir(folder)
        .unwrap()
        .map(|entry| entry.unwrap())
        .filter(|entry| entry.path().is_file())
        .map(|entry| (entry.file_name().to_string_lossy().into_owned(), fs::read(entry.path()).unwrap()))
        .collect()
}

/// Names of files that differ or are on one side only.
fn differing(kept: &BTreeMap<String, Vec<u8>>, made: &BTreeMap<String, Vec<u8>>) -> Vec<String> {
    let names: std::collections::BTreeSet<&String> = kept.keys().chain(made.keys()).collect();
    names.into_iter().filter(|name| kept.get(*name) != made.get(*name)).cloned().collect()
}

#[test]
fn the_example_reports_are_those_of_the_sample_data() {
    let root = Path::new(env!("CARGO_MANIFEST_DIR"));
    let place = TempDir::new().unwrap();
    let out = place.path().join("reports");
    let output = Command::cargo_bin("taperwright")
        .unwrap()
        .current_dir(root)
        .args(["report", "sample-data", "--quiet", "--out"])
        .arg(&out)
        .output()
        .unwrap();
    assert_eq!(output.status.code(), Some(0), "{}", String::from_utf8_lossy(&output.stderr));
    let mut kept = files(&root.join("reports"));
    assert!(kept.remove("history.html").is_some(), "its own test watches it: history.rs");
    let mut made = files(&out);
    let advice = "these reports are stale: run `cargo run -- report sample-data --out reports` and look at the difference";
    assert_eq!(differing(&kept, &made), [""; 0], "{advice}");
    let pages = kept.keys().filter(|name| name.ends_with(".html")).count();
    assert!(pages > 5, "only {pages} pages");
    made.get_mut("index.html").unwrap().push(b' ');
    assert_eq!(differing(&kept, &made), ["index.html"], "the comparison must see one changed byte");
}

#[test]
fn the_example_plan_is_that_of_its_settings() {
    let root = Path::new(env!("CARGO_MANIFEST_DIR"));
    let place = TempDir::new().unwrap();
    let out = place.path().join("plan");
    let output = Command::cargo_bin("taperwright")
        .unwrap()
        .current_dir(root)
        .args(["plan", "sample-data/before-cutting.toml", "--quiet", "--out"])
        .arg(&out)
        .output()
        .unwrap();
    assert_eq!(output.status.code(), Some(0), "{}", String::from_utf8_lossy(&output.stderr));
    let kept = files(&root.join("reports/plan"));
    let mut made = files(&out);
    let advice =
        "this plan is stale: run `cargo run -- plan sample-data/before-cutting.toml --out reports/plan --force` and look at the difference";
    assert_eq!(differing(&kept, &made), [""; 0], "{advice}");
    let names: Vec<&str> = kept.keys().map(String::as_str).collect();
    assert_eq!(names, ["before-cutting-plan.html", "diameters-plan.csv", "indicator-plan.csv", "levels-plan.csv", "trial.toml"]);
    made.get_mut("levels-plan.csv").unwrap().push(b' ');
    assert_eq!(differing(&kept, &made), ["levels-plan.csv"], "the comparison must see one changed byte");
}
