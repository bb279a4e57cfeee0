//! `new`: the settings and logs that a newcomer starts from say all that reading knows, and are read back without a fault.

use assert_cmd::Command;
use std::fs;
use std::path::Path;
use taperwright::ingest::{KEYS, LogKind, ReadOptions, blank_log, blank_settings, read_settings, read_trial};
use taperwright::trial::Trial;
use tempfile::TempDir;

fn taperwright() -> Command {
    let mut command = Command::cargo_bin("taperwright").unwrap();
    command.env("NO_COLOR", "1");
    command
}

/// The settings with the `#` of each line taken away for which `wanted` says so; explanations begin with `# ` and stay.
fn uncommented(text: &str, mut wanted: impl FnMut(&str) -> bool) -> String {
    let mut out = String::new();
    for line in text.lines() {
        let setting = line.strip_prefix('#').filter(|rest| !rest.is_empty() && !rest.starts_with(' '));
        out.push_str(setting.filter(|setting| wanted(setting)).unwrap_or(line));
        out.push('\n');
    }
    out
}

fn settings_of(text: &str) -> Trial {
    let folder = TempDir::new().unwrap();
    fs::write(folder.path().join("trial.toml"), text).unwrap();
    fs::write(folder.path().join("workshop.toml"), "name = \"workshop\"\n[[limit]]\nquantity = \"taper\"\nlimit_mm = 0.02\n").unwrap();
    let trial = read_settings(&folder.path().join("trial.toml"), &ReadOptions::default());
    let trial = trial.unwrap_or_else(|rejected| panic!("{:#?}\n{text}", rejected.findings));
    assert!(trial.findings.is_empty(), "{:#?}", trial.findings);
    trial
}

/// Dotted paths of all keys of a TOML text, arrays of tables as `[]`.
fn paths(value: &toml::Value, at: &str, found: &mut Vec<String>) {
    let below = |name: &str| if at.is_empty() { name.to_owned() } else { format!("{at}.{name}") };
    match value {
        toml::Value::Table(table) => table.iter().for_each(|(name, inner)| paths(inner, &below(name), found)),
        toml::Value::Array(items) if items.iter().any(toml::Value::is_table) => {
            items.iter().for_each(|item| paths(item, &format!("{at}[]"), found));
        }
        _ => found.push(at.to_owned()),
    }
}

/// Keys of the table that `text` does not show.
fn missing(text: &str) -> Vec<&'static str> {
    let mut found = Vec::new();
    paths(&text.parse::<toml::Table>().unwrap().into(), "", &mut found);
    let found: Vec<String> = found.iter().map(|path| path.replace("gauge.diameter.comparator.", "gauge.diameter.*.")).collect();
    KEYS.iter().map(|key| key.path).filter(|path| !found.iter().any(|known| known == path)).collect()
}

#[test]
fn every_key_is_shown_and_read_back_without_a_fault() {
    let text = uncommented(&blank_settings("quay"), |_| true);
    assert_eq!(missing(&text), [""; 0]);
    settings_of(&text);
    // the search itself must miss a key that is not there
    let without = text.replace("finest_turn_deg = ", "# finest_turn_deg = ");
    assert_eq!(missing(&without), ["machine.feet.finest_turn_deg"]);
}

#[test]
fn values_that_are_no_examples_are_those_taken_when_nothing_is_stated() {
    // what only a folder or readings would tell is stated in both
    let mut blank = blank_settings("quay");
    for told in ["name = \"quay\" ", "diameter_mm = 40.0 ", "length_mm = 160.0 "] {
        blank = blank.replacen(&format!("#{told}"), told, 1);
    }
    let tables = ["[machine.feet]", "[testbar]", "[simulate]", "[simulate.truth]", "[plan]"];
    let bare = |text: &str| {
        let with_tables = uncommented(text, |line| tables.contains(&line) || line.starts_with("spacing_"));
        settings_of(&with_tables)
    };
    let mut taken = 0;
    let stated = uncommented(&blank, |line| {
        let is_default = !line.starts_with('[') && !line.contains("(example)");
        taken += usize::from(is_default);
        is_default || tables.contains(&line) || line.starts_with("spacing_")
    });
    assert!(taken > 50, "only {taken} defaults");
    let tables_of = |trial: Trial| serde_json::to_value(trial).unwrap();
    let (nothing, everything) = (tables_of(bare(&blank)), tables_of(settings_of(&stated)));
    assert_eq!(nothing, everything);
    let other = stated.replace("yaw_mm_per_m = 0.08 ", "yaw_mm_per_m = 0.09 ");
    assert_ne!(nothing, tables_of(settings_of(&other)), "another value must show");
}

#[test]
fn blank_logs_are_read_once_they_are_filled() {
    let rows = [
        (LogKind::Diameters, "10,38.01,0,1,to-headstock\n190,38.02,0,1,to-headstock\n"),
        (LogKind::Levels, "100,0.02,0,no\n500,0.03,0,yes\n"),
        (LogKind::Indicator, "20,0.001,0,0,side\n180,0.004,0,180,side\n"),
        (LogKind::Clamp, "headstock-front,20,0.001,0\n"),
        (LogKind::Moves, "0,1,tailstock-rear,0.05,\n"),
    ];
    let folder = TempDir::new().unwrap();
    for (kind, rows) in rows {
        let blank = blank_log(kind);
        assert!(blank.lines().rev().skip(1).all(|line| line.starts_with("# ")), "only the header is no comment: {blank}");
        fs::write(folder.path().join(format!("{}.csv", kind.name())), blank + rows).unwrap();
    }
    let trial = read_trial(folder.path(), &ReadOptions::default()).unwrap();
    let counts = [trial.diameters.len(), trial.levels.len(), trial.indicator.len(), trial.clamp.len(), trial.moves.len()];
    assert_eq!(counts, [2, 2, 2, 1, 1]);
    assert_eq!(trial.diameters.to_vec()[1].read_mm, 38.02);
}

#[test]
fn the_files_of_a_new_trial_say_where_stations_begin_and_that_loose_nuts_need_support() {
    let tidy = |text: String| text.replace("\n# ", " ");
    assert!(blank_log(LogKind::Diameters).contains("from the chuck face, the front of its jaws"));
    let settings = blank_settings("quay");
    let line = |key: &str| settings.lines().find(|line| line.starts_with(&format!("#{key} "))).unwrap().to_owned();
    assert!(line("length_mm").contains("out of the chuck's jaws, from where stations are counted too"), "{}", line("length_mm"));
    assert!(line("headstock_feet_to_chuck_face_mm").contains("front of the jaws: where stations are 0"));
    let clamp = tidy(blank_log(LogKind::Clamp));
    for caution in
        ["all feet loose", "Isolate the machine first", "cannot tip while nuts are loose", "never loosen hold-downs under a machine"]
    {
        assert!(clamp.contains(caution), "{caution}: {clamp}");
    }
    assert!(!tidy(blank_log(LogKind::Levels)).contains("Isolate"), "only where nuts are loosened");
}

fn names(folder: &Path) -> Vec<String> {
    let mut names: Vec<String> =
        fs::read_dir(folder).unwrap().map(|entry| entry.unwrap().file_name().to_string_lossy().into_owned()).collect();
    names.sort();
    names
}

#[test]
fn a_new_folder_is_never_written_over() {
    let place = TempDir::new().unwrap();
    let folder = place.path().join("quay-spring");
    taperwright().arg("new").arg(&folder).assert().success();
    assert_eq!(names(&folder), ["clamp.csv", "diameters.csv", "indicator.csv", "levels.csv", "moves.csv", "trial.toml"]);
    fs::write(folder.join("levels.csv"), "mine").unwrap();
    fs::remove_file(folder.join("moves.csv")).unwrap();
    let again = taperwright().arg("new").arg(&folder).assert().code(4);
    let told = String::from_utf8_lossy(&again.get_output().stderr).into_owned();
    assert!(told.contains("--force"), "{told}");
    assert_eq!(fs::read_to_string(folder.join("levels.csv")).unwrap(), "mine");
    assert!(!folder.join("moves.csv").exists(), "nothing is written where something stands in the way");
    taperwright().args(["new", "--force"]).arg(&folder).assert().success();
    assert!(fs::read_to_string(folder.join("levels.csv")).unwrap().contains("rear way high is positive"));
}

#[test]
fn a_new_folder_is_checked_with_advice_and_reported_once_filled() {
    let place = TempDir::new().unwrap();
    let folder = place.path().join("quay-spring");
    taperwright().arg("new").arg(&folder).assert().success();
    let checked = taperwright().arg("check").arg(&folder).assert().code(3);
    let told = String::from_utf8_lossy(&checked.get_output().stderr).into_owned();
    assert!(told.contains("no readings of diameters yet") && told.contains("under the header"), "{told}");
    let mut log = fs::read_to_string(folder.join("diameters.csv")).unwrap();
    log.push_str("10,38.021,0,1\n190,38.034,0,1\n");
    fs::write(folder.join("diameters.csv"), log).unwrap();
    taperwright().arg("report").arg(&folder).arg("--out").arg(place.path().join("out")).assert().success();
    assert!(place.path().join("out/quay-spring.html").is_file());
}
