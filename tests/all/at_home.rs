//! At home on the command line: schemas, completions, manual page, slips of the pen, exit statuses, colour.

use assert_cmd::Command;
use serde_json::Value;
use std::fs;
use std::path::Path;
use taperwright::ingest::{CRITERIA_KEYS, KEYS, Key};
use tempfile::TempDir;

const LOG: &str = "station_mm,diameter_mm\n10,38.021\n110,38.030\n190,38.034\n";

fn run(folder: &Path, arguments: &[&str]) -> (i32, String, String) {
    let output = Command::cargo_bin("taperwright").unwrap().current_dir(folder).env_remove("NO_COLOR").args(arguments).output().unwrap();
    let text = |bytes: Vec<u8>| String::from_utf8(bytes).unwrap();
    (output.status.code().unwrap(), text(output.stdout), text(output.stderr))
}

fn schema(of: &str) -> Value {
    let place = TempDir::new().unwrap();
    let (status, out, err) = run(place.path(), &["schema", of]);
    assert_eq!((status, err.as_str()), (0, ""));
    serde_json::from_str(&out).unwrap()
}

/// The schema of the key, or of its twin, in the table at `path`.
fn described<'s>(schema: &'s Value, path: &str, name: &str) -> &'s Value {
    let mut at = schema;
    for table in path.split('.').filter(|table| !table.is_empty()) {
        at = match (table, table.strip_suffix("[]")) {
            ("*", _) => &at["additionalProperties"],
            (_, Some(array)) => &at["properties"][array]["items"],
            _ => &at["properties"][table],
        };
    }
    &at["properties"][name]
}

#[test]
fn every_key_and_every_inch_twin_is_in_its_schema() {
    let all = |schema: &Value, keys: &[Key]| {
        for key in keys {
            assert_eq!(described(schema, key.table(), key.name())["description"], key.about, "{}", key.path);
            if let Some(twin) = key.inch_twin() {
                assert!(described(schema, key.table(), &twin)["description"].as_str().unwrap().contains(key.name()), "{twin}");
            }
        }
    };
    let trial = schema("trial");
    all(&trial, KEYS);
    all(&schema("criteria"), CRITERIA_KEYS);
    assert_eq!(trial, schema("settings"), "its other name");
    assert_eq!(described(&trial, "machine", "moon"), &Value::Null, "the search itself must be able to miss a key");
    assert_eq!(described(&trial, "prior", "yaw_mm_per_m")["default"], 0.08, "the default that reading takes");
    assert_eq!(
        described(&trial, "trial", "name")["default"],
        Value::Null,
        "the default is the folder's name, which nobody knows beforehand"
    );
}

/// Keys of `value` that `schema` does not describe, and keys that it requires and `value` lacks, as paths.
fn unlike(whole: &Value, schema: &Value, value: &Value, at: &str, found: &mut Vec<String>) {
    if let Some(name) = schema["$ref"].as_str() {
        return unlike(whole, &whole["$defs"][name.trim_start_matches("#/$defs/")], value, at, found);
    }
    let either = schema["anyOf"].as_array().and_then(|all| all.iter().find(|one| one["type"] != "null"));
    if let (Some(one), false) = (either, value.is_null()) {
        return unlike(whole, one, value, at, found);
    }
    match value {
        Value::Object(object) if schema["properties"].is_object() => {
            for (key, part) in object {
                match &schema["properties"][key] {
                    Value::Null => found.push(format!("{at}.{key}")),
                    described => unlike(whole, described, part, &format!("{at}.{key}"), found),
                }
            }
            let required = schema["required"].as_array().into_iter().flatten().filter_map(Value::as_str);
            found.extend(required.filter(|key| !object.contains_key(*key)).map(|key| format!("{at} lacks {key}")));
        }
        Value::Array(items) => items.iter().for_each(|item| unlike(whole, &schema["items"], item, &format!("{at}[]"), found)),
        _ => {}
    }
}

#[test]
fn every_key_of_a_result_is_in_its_schema() {
    let schema = schema("result");
    let mut looked_at = 0;
    for file in fs::read_dir(Path::new(env!("CARGO_MANIFEST_DIR")).join("reports")).unwrap() {
        let path = file.unwrap().path();
        if path.extension().is_none_or(|extension| extension != "json") {
            continue;
        }
        let mut result: Value = serde_json::from_slice(&fs::read(&path).unwrap()).unwrap();
        let mut found = Vec::new();
        unlike(&schema, &schema, &result, "", &mut found);
        assert_eq!(found, [""; 0], "{}", path.display());
        result["shape"][0]["taper"].as_object_mut().unwrap().remove("dof");
        result["trial"]["machine"]["moon"] = 1.into();
        unlike(&schema, &schema, &result, "", &mut found);
        found.sort();
        assert_eq!(found, [".shape[].taper lacks dof", ".trial.machine.moon"], "the comparison must see both");
        looked_at += 1;
    }
    assert!(looked_at > 5, "only {looked_at} results");
    assert!(!schema.to_string().contains("`None`"), "descriptions are for people who read JSON");
}

#[test]
fn completions_know_every_command_and_bash_takes_them() {
    let place = TempDir::new().unwrap();
    for shell in ["bash", "zsh", "fish", "powershell", "elvish"] {
        let (status, out, err) = run(place.path(), &["completions", shell]);
        assert_eq!((status, err.as_str()), (0, ""), "{shell}");
        for word in ["report", "criteria", "schema", "require-conformity"] {
            assert!(out.contains(word), "{shell}: {word}");
        }
        fs::write(place.path().join(shell), out).unwrap();
    }
    let complete = |typed: &str| {
        let script = format!(
            "source ./bash; COMP_WORDS=(taperwright {typed}); COMP_CWORD=$((${{#COMP_WORDS[@]}} - 1)); _taperwright taperwright \"{last}\" x; echo \"${{COMPREPLY[@]}}\"",
            last = typed.split(' ').next_back().unwrap_or_default()
        );
        let output = std::process::Command::new("bash").args(["-c", &script]).current_dir(place.path()).output();
        output.ok().map(|output| String::from_utf8_lossy(&output.stdout).trim().to_owned())
    };
    if let Some(answer) = complete("cri") {
        assert_eq!(answer, "criteria");
        assert_eq!(complete("report --req").unwrap(), "--require-conformity");
        assert_eq!(complete("schema res").unwrap(), "result");
    }
}

#[test]
fn the_manual_page_has_every_command_with_its_options_and_examples() {
    let place = TempDir::new().unwrap();
    let (status, page, err) = run(place.path(), &["man"]);
    assert_eq!((status, err.as_str()), (0, ""));
    assert_eq!(page, run(place.path(), &["manual"]).1, "its other name");
    assert_eq!(page.matches(".TH ").count(), 1);
    let (_, help, _) = run(place.path(), &["--help"]);
    let (_, commands) = help.split_once("Commands:\n").unwrap();
    // a line that goes on from the one before is indented further
    let names = commands.lines().take_while(|line| !line.is_empty()).filter_map(|line| line.strip_prefix("  "));
    let commands: Vec<&str> = names.filter(|line| !line.starts_with(' ')).filter_map(|line| line.split(' ').next()).collect();
    assert!(commands.len() > 10, "{commands:?}");
    for command in commands.iter().filter(|command| **command != "help") {
        let heading = format!(".SH {}\n", command.to_uppercase());
        let (_, section) = page.split_once(&heading).unwrap_or_else(|| panic!("no section on {command}"));
        let section = section.split("\n.SH ").next().unwrap();
        let (_, help, _) = run(place.path(), &[command, "--help"]);
        for option in help.split_whitespace().filter(|word| word.starts_with("--")).map(|word| word.trim_end_matches([',', '.', ';'])) {
            assert!(section.contains(&option.replace('-', "\\-")), "{command} {option}:\n{section}");
        }
        assert!(section.contains(&format!("taperwright {command}")), "an example of {command}");
    }
}

#[test]
fn help_gives_an_example_of_every_command_that_fits_the_window() {
    let place = TempDir::new().unwrap();
    for command in ["report", "check", "criteria", "new", "plan", "simulate", "history", "verify", "schema", "completions", "man"] {
        let (status, out, _) = run(place.path(), &["help", command]);
        assert_eq!(status, 0);
        let (_, examples) = out.split_once("Example").unwrap_or_else(|| panic!("{command} shows no example:\n{out}"));
        assert!(examples.contains(&format!("\n  taperwright {command}")), "{out}");
        assert!(out.lines().all(|line| line.chars().count() <= 100), "{out}");
    }
}

#[test]
fn a_slip_of_the_pen_is_answered_with_what_was_meant() {
    let place = TempDir::new().unwrap();
    let at = place.path();
    fs::write(at.join("good.csv"), LOG).unwrap();
    fs::write(at.join("column.csv"), LOG.replace("diameter_mm", "diamater_mm")).unwrap();
    for (trial, text) in [
        ("key", "[machine]\nnaem = \"Quay Lathe 1\"\n"),
        ("table", "[machin]\nname = \"Quay Lathe 1\"\n"),
        ("word", "[bar]\nmaterial = \"mild-stel\"\n"),
        ("set", "[acceptance]\ncriteria = \"iso-1708-generl\"\n"),
    ] {
        fs::create_dir(at.join(trial)).unwrap();
        fs::write(at.join(trial).join("trial.toml"), text).unwrap();
        fs::write(at.join(trial).join("diameters.csv"), LOG).unwrap();
    }
    let cases: [(i32, &[&str], &str); 11] = [
        (2, &["reprot", "good.csv"], "'report'"),
        (2, &["report", "good.csv", "--jbos", "2"], "'--jobs'"),
        (2, &["report", "good.csv", "--format", "jsn"], "'json'"),
        (2, &["schema", "trail"], "'trial'"),
        (2, &["completions", "bsh"], "'bash'"),
        (2, &["criteria", "iso-1708-generl"], "perhaps iso-1708-general"),
        (2, &["report", "good.csv", "--criteria", "iso-1708-generl"], "perhaps iso-1708-general"),
        (3, &["check", "column.csv"], "perhaps `diamater_mm` is `diameter`"),
        (3, &["check", "key"], "the nearest known key is `name`"),
        (3, &["check", "table"], "the nearest known key is `machine`"),
        (3, &["check", "word"], "perhaps mild-steel"),
    ];
    for (expected, arguments, meant) in cases {
        let (status, out, err) = run(at, arguments);
        assert_eq!(status, expected, "{arguments:?}\n{out}\n{err}");
        assert!(err.contains(meant), "{arguments:?} must suggest {meant}:\n{err}");
    }
    let (status, _, err) = run(at, &["check", "set"]);
    assert!(status == 3 && err.contains("perhaps iso-1708-general"), "{err}");
}

#[test]
fn faults_of_every_kind_of_input_show_the_line() {
    let place = TempDir::new().unwrap();
    let at = place.path();
    let files = [
        ("log/diameters.csv", "station_mm,diameter_mm\n10,38.021\n60,38.O26\n", "60,38.O26"),
        ("levels/levels.csv", "station_mm,roll_mm_per_m\n100,O.02\n", "100,O.02"),
        ("key/trial.toml", "[bar]\ndiameter = 38.0\n", "diameter = 38.0"),
        ("value/trial.toml", "[bar]\nmaterial = 7\n", "material = 7"),
        ("syntax/trial.toml", "[bar\nmaterial = \"brass\"\n", "[bar"),
        ("limits/limits.toml", "[[limit]]\nquantity = \"tapir\"\nlimit_mm = 0.02\n", "quantity = \"tapir\""),
    ];
    for (file, text, line) in files {
        let path = at.join(file);
        let folder = path.parent().unwrap();
        fs::create_dir_all(folder).unwrap();
        if !folder.join("diameters.csv").exists() && !file.ends_with("diameters.csv") {
            fs::write(folder.join("diameters.csv"), LOG).unwrap();
        }
        if file.ends_with("limits.toml") {
            fs::write(folder.join("trial.toml"), "[acceptance]\ncriteria = \"limits.toml\"\n").unwrap();
        }
        fs::write(&path, text).unwrap();
        let (status, _, err) = run(at, &["check", folder.to_str().unwrap()]);
        assert_eq!(status, 3, "{file}: {err}");
        let pictured = err.lines().any(|shown| shown.contains('│') && shown.ends_with(line));
        assert!(pictured && err.contains("help:"), "{file} must show `{line}` and help:\n{err}");
    }
}

#[test]
fn every_command_has_its_exit_statuses() {
    let place = TempDir::new().unwrap();
    let at = place.path();
    let dated = |day: &str| format!("[trial]\ndate = \"{day}\"\n[machine]\nname = \"Quay Lathe 1\"\n");
    for (trial, day) in [("years/a", "2025-01-31"), ("years/b", "2026-01-31")] {
        fs::create_dir_all(at.join(trial)).unwrap();
        fs::write(at.join(trial).join("trial.toml"), dated(day)).unwrap();
        fs::write(at.join(trial).join("diameters.csv"), LOG).unwrap();
    }
    let bar = "[bar]\ndiameter_mm = 38.0\nlength_mm = 220.0\n";
    for (file, text) in [
        ("good.csv", LOG.to_owned()),
        ("bad.csv", LOG.replace("38.030", "38.O30")),
        ("a-file", "x".to_owned()),
        ("page.html", "<p>no report</p>".to_owned()),
        ("plan.toml", format!("{}[plan]\ntarget_expanded_mm = 0.02\n", bar.replace("220.0", "180.0"))),
        ("too-far-out.toml", bar.replace("220.0", "260.0")),
        ("simulate.toml", format!("{bar}[simulate]\nlogs = [\"diameters\"]\npasses = 1\n")),
    ] {
        fs::write(at.join(file), text).unwrap();
    }
    assert_eq!(run(at, &["report", "good.csv", "--out", "made", "-q"]).0, 0);
    let page = fs::read_to_string(at.join("made/good.html")).unwrap();
    fs::write(at.join("altered.html"), page.replacen("38.0210", "38.0219", 1).replacen("38.021<", "38.029<", 1)).unwrap();
    let cases: [(i32, &[&str]); 34] = [
        (0, &["criteria"]),
        (2, &["criteria", "nobodys-set"]),
        (0, &["new", "begun"]),
        (4, &["new", "begun"]),
        (0, &["new", "begun", "--force"]),
        (4, &["new", "a-file"]),
        (2, &["new"]),
        (0, &["plan", "plan.toml", "--out", "planned"]),
        (4, &["plan", "plan.toml", "--out", "planned"]),
        (0, &["plan", "too-far-out.toml", "--out", "refused"]),
        (3, &["plan", "missing.toml"]),
        (4, &["plan", "plan.toml", "--out", "a-file"]),
        (0, &["simulate", "simulate.toml", "--out", "simulated"]),
        (4, &["simulate", "simulate.toml", "--out", "simulated"]),
        (3, &["simulate", "plan.toml", "--out", "nothing"]),
        (3, &["simulate", "missing.toml"]),
        (0, &["history", "years", "--out", "past"]),
        (3, &["history", "good.csv", "bad.csv", "--out", "past"]),
        (3, &["history", "missing"]),
        (4, &["history", "years", "--out", "a-file"]),
        (2, &["history"]),
        (0, &["verify", "made/good.html"]),
        (1, &["verify", "altered.html"]),
        (3, &["verify", "page.html"]),
        (3, &["verify", "missing.html"]),
        (3, &["verify", "altered.html", "page.html"]),
        (2, &["verify"]),
        (0, &["schema", "result"]),
        (2, &["schema"]),
        (0, &["completions", "fish"]),
        (2, &["completions", "dos"]),
        (0, &["man"]),
        (3, &["check", "bad.csv"]),
        (3, &["check", "missing.csv"]),
    ];
    for (expected, arguments) in cases {
        let (status, out, err) = run(at, arguments);
        assert_eq!(status, expected, "{arguments:?}\n{out}\n{err}");
        assert!(expected < 2 || !err.is_empty(), "{arguments:?} must say why");
    }
}

const ESCAPE: char = '\u{1b}';

#[test]
fn pipes_get_no_colour_whatever_is_printed() {
    let place = TempDir::new().unwrap();
    fs::write(place.path().join("bad.csv"), LOG.replace("38.030", "38.O30")).unwrap();
    let cases: [&[&str]; 7] = [&["--help"], &["help", "plan"], &["reprot"], &["check", "bad.csv"], &["report"], &["criteria"], &["man"]];
    for arguments in cases {
        let (_, out, err) = run(place.path(), arguments);
        assert!(!out.contains(ESCAPE) && !err.contains(ESCAPE), "{arguments:?}:\n{out}{err}");
    }
}

/// What the program says on a terminal, which `script` makes; `None` where there is no such tool.
#[cfg(target_os = "linux")]
fn on_a_terminal(folder: &Path, arguments: &str, no_color: Option<&str>) -> Option<String> {
    let program = assert_cmd::cargo::cargo_bin("taperwright");
    let mut command = std::process::Command::new("script");
    command.args(["-qec", &format!("'{}' {arguments}", program.display()), "/dev/null"]).current_dir(folder).env_remove("NO_COLOR");
    command.env("TERM", "xterm").stdin(std::process::Stdio::null());
    if let Some(value) = no_color {
        command.env("NO_COLOR", value);
    }
    let output = command.output().ok()?;
    Some(String::from_utf8_lossy(&output.stdout).into_owned())
}

#[cfg(target_os = "linux")]
#[test]
fn terminals_get_colour_unless_no_color_or_the_option_forbids_it() {
    let place = TempDir::new().unwrap();
    fs::write(place.path().join("bad.csv"), LOG.replace("38.030", "38.O30")).unwrap();
    for arguments in ["check bad.csv", "reprot", "--help"] {
        let Some(plain) = on_a_terminal(place.path(), arguments, Some("1")) else { return };
        assert!(plain.contains("taperwright") || plain.contains("38.O30"), "{plain}");
        assert!(!plain.contains(ESCAPE), "NO_COLOR: {arguments}\n{plain}");
        assert!(on_a_terminal(place.path(), arguments, None).unwrap().contains(ESCAPE), "colour: {arguments}");
        assert!(
            on_a_terminal(place.path(), arguments, Some("")).unwrap().contains(ESCAPE),
            "an empty NO_COLOR forbids nothing: {arguments}"
        );
    }
    let plain = on_a_terminal(place.path(), "check bad.csv --color never", None).unwrap();
    assert!(plain.contains("38.O30") && !plain.contains(ESCAPE), "{plain}");
    let plain = on_a_terminal(place.path(), "--color never reprot", None).unwrap();
    assert!(plain.contains("report") && !plain.contains(ESCAPE), "{plain}");
}
