//! The program as a user runs it, in temporary folders.

use assert_cmd::Command;
use std::collections::BTreeMap;
use std::fs;
use std::path::Path;
use tempfile::TempDir;

const LOG: &str = "\
station_mm,diameter_mm,pass,direction
10,38.021,1,to-headstock
60,38.026,1,to-headstock
110,38.030,1,to-headstock
160,38.032,1,to-headstock
210,38.037,1,to-headstock
10,37.922,2,to-tailstock
60,37.924,2,to-tailstock
110,37.930,2,to-tailstock
160,37.931,2,to-tailstock
210,37.936,2,to-tailstock
";

const BAD_LOG: &str = "station_mm,diameter_mm\n10,38.021\n60,38.O26\n110,38.030\n";

fn program(folder: &Path) -> Command {
    let mut command = Command::cargo_bin("taperwright").unwrap();
    command.current_dir(folder).env_remove("NO_COLOR");
    command
}

/// Runs the program in `folder`: exit status, standard output, standard error.
fn run(folder: &Path, arguments: &[&str]) -> (i32, String, String) {
    let output = program(folder).args(arguments).output().unwrap();
    let text = |bytes: Vec<u8>| String::from_utf8(bytes).unwrap();
    (output.status.code().unwrap(), text(output.stdout), text(output.stderr))
}

fn put(folder: &Path, file: &str, text: &str) {
    let path = folder.join(file);
    fs::create_dir_all(path.parent().unwrap()).unwrap();
    fs::write(path, text).unwrap();
}

/// Every file below `folder` with its bytes.
fn all_files(folder: &Path) -> BTreeMap<String, Vec<u8>> {
    fn walk(root: &Path, folder: &Path, files: &mut BTreeMap<String, Vec<u8>>) {
        for entry in fs::read_dir(folder).unwrap() {
            let path = entry.unwrap().path();
            if path.is_dir() {
                walk(root, &path, files);
            } else {
                files.insert(path.strip_prefix(root).unwrap().to_string_lossy().replace('\\', "/"), fs::read(&path).unwrap());
            }
        }
    }
    let mut files = BTreeMap::new();
    walk(folder, folder, &mut files);
    files
}

fn names(folder: &Path) -> Vec<String> {
    all_files(folder).into_keys().collect()
}

#[test]
fn a_lone_log_becomes_a_page_and_a_result_file() {
    let place = TempDir::new().unwrap();
    put(place.path(), "a/spring.csv", LOG);
    let (status, out, err) = run(place.path(), &["report", "a/spring.csv"]);
    assert_eq!((status, err.as_str()), (0, ""));
    assert_eq!(names(place.path()), ["a/spring.csv", "reports/spring.html", "reports/spring.json"]);
    for path in ["reports/spring.html", "reports/spring.json"] {
        assert!(out.contains(path), "the summary must name {path}:\n{out}");
    }
    assert!(out.contains("larger at the tailstock end"), "{out}");
    let result: serde_json::Value = serde_json::from_slice(&fs::read(place.path().join("reports/spring.json")).unwrap()).unwrap();
    assert_eq!(result["schema"], "taperwright-result/1");
    let taper = result["shape"][0]["taper"]["value"].as_f64().unwrap();
    assert!((0.010..0.020).contains(&taper), "about 0.015 mm by eye, not {taper}");
    assert_eq!(fs::read_to_string(place.path().join("a/spring.csv")).unwrap(), LOG, "the log must stay as it was");
    #[cfg(unix)]
    for name in ["spring.html", "spring.json"] {
        use std::os::unix::fs::PermissionsExt;
        let mode = fs::metadata(place.path().join("reports").join(name)).unwrap().permissions().mode();
        assert_eq!(mode & 0o777, 0o644, "{name} is for others to read too");
    }
}

#[test]
fn a_rejected_log_says_where_and_what_and_writes_nothing() {
    let place = TempDir::new().unwrap();
    put(place.path(), "bad.csv", BAD_LOG);
    for command in ["report", "check"] {
        let (status, _, err) = run(place.path(), &[command, "bad.csv"]);
        assert_eq!(status, 3, "{command}: {err}");
        for part in ["bad.csv", "row 3", "diameter", "38.O26", "help:"] {
            assert!(err.contains(part), "{command} must say {part}:\n{err}");
        }
        assert!(err.contains("60,38.O26"), "{command} must show the line:\n{err}");
        assert!(!err.contains('\u{1b}'), "no colour in a pipe:\n{err}");
    }
    assert_eq!(names(place.path()), ["bad.csv"]);
    let (_, _, coloured) = run(place.path(), &["check", "bad.csv", "--color", "always"]);
    assert!(coloured.contains('\u{1b}'), "colour when it is asked for");
}

#[test]
fn a_bad_trial_does_not_stop_the_others() {
    let place = TempDir::new().unwrap();
    put(place.path(), "trials/a/diameters.csv", LOG);
    put(place.path(), "trials/b/diameters.csv", BAD_LOG);
    put(place.path(), "trials/c.csv", LOG);
    let (status, out, err) = run(place.path(), &["report", "trials", "--out", "pages"]);
    assert_eq!(status, 3, "{err}");
    assert_eq!(
        names(&place.path().join("pages")),
        ["a.html", "a.json", "c.html", "c.json", "index.html", "summary.csv", "summary.parquet"]
    );
    assert!(out.contains("index.html") && out.contains("summary.csv"), "{out}");
    let table = fs::read_to_string(place.path().join("pages/summary.csv")).unwrap();
    let states: Vec<(&str, &str)> = table
        .lines()
        .skip(1)
        .map(|line| line.split_once(',').unwrap())
        .map(|(trial, rest)| (trial, rest.split(',').next().unwrap()))
        .collect();
    let expected = [vec![("a", "reported"); 7], vec![("b", "rejected")], vec![("c", "reported"); 7]].concat();
    assert_eq!(states, expected, "one row a cause:\n{table}");
    let index = fs::read_to_string(place.path().join("pages/index.html")).unwrap();
    assert!(index.contains("a.html") && index.contains("38.O26"), "the index shows pages and faults");
}

#[test]
fn check_writes_nothing() {
    let place = TempDir::new().unwrap();
    put(place.path(), "trials/a/diameters.csv", LOG);
    put(place.path(), "trials/b/diameters.csv", BAD_LOG);
    let before = all_files(place.path());
    let (status, out, _) = run(place.path(), &["check", "trials"]);
    assert_eq!(status, 3);
    assert!(out.contains('a') && out.contains("rejected"), "{out}");
    assert_eq!(run(place.path(), &["check", "trials/a"]).0, 0);
    let (status, out, _) = run(place.path(), &["check", "trials", "--format", "json"]);
    assert_eq!(status, 3);
    let lines: Vec<serde_json::Value> = out.lines().map(|line| serde_json::from_str(line).unwrap()).collect();
    assert_eq!(lines.len(), 2);
    assert_eq!((&lines[0]["accepted"], &lines[1]["accepted"]), (&true.into(), &false.into()));
    assert_eq!(lines[1]["findings"][0]["row"], 3);
    assert_eq!(all_files(place.path()), before);
}

#[test]
fn the_exit_status_tells_what_happened() {
    let place = TempDir::new().unwrap();
    put(place.path(), "good.csv", LOG);
    put(place.path(), "bad.csv", BAD_LOG);
    put(place.path(), "a-file", "x");
    fs::create_dir(place.path().join("empty")).unwrap();
    let cases: [(i32, &[&str]); 16] = [
        (0, &["report", "good.csv"]),
        (0, &["check", "good.csv"]),
        (0, &["--version"]),
        (0, &["help", "report"]),
        (1, &["report", "good.csv", "--require-conformity"]),
        (2, &[]),
        (2, &["measure"]),
        (2, &["report"]),
        (2, &["report", "good.csv", "--units", "furlong"]),
        (2, &["report", "good.csv", "--jobs", "0"]),
        (2, &["report", "-", "good.csv"]),
        (3, &["report", "missing.csv"]),
        (3, &["report", "empty"]),
        (3, &["report", "good.csv", "bad.csv", "--require-conformity"]),
        (4, &["report", "good.csv", "--out", "a-file"]),
        (4, &["report", "good.csv", "bad.csv", "--out", "a-file/below"]),
    ];
    for (expected, arguments) in cases {
        let (status, out, err) = run(place.path(), arguments);
        assert_eq!(status, expected, "{arguments:?}\n{out}\n{err}");
        assert_eq!(err.is_empty(), expected == 0, "{arguments:?} must explain itself, and only when need be:\n{err}");
    }
}

#[test]
fn help_teaches_and_warns() {
    let place = TempDir::new().unwrap();
    for arguments in [&["--help"][..], &["report", "--help"]] {
        let (_, out, _) = run(place.path(), arguments);
        assert!(out.contains("taperwright report") && out.contains("spindle stopped"), "{out}");
        assert!(out.lines().all(|line| line.chars().count() <= 100), "{out}");
    }
}

#[test]
fn the_same_bytes_come_out_whatever_the_jobs_and_the_places() {
    let place = TempDir::new().unwrap();
    let other = TempDir::new().unwrap();
    for root in [place.path().to_owned(), other.path().join("deep/down")] {
        for (index, trial) in ["a", "b"].iter().enumerate() {
            put(&root, &format!("trials/{trial}/diameters.csv"), &LOG.replace("38.030", &format!("38.03{index}")));
        }
        put(&root, "trials/e.csv", BAD_LOG);
    }
    let made = |folder: &Path, arguments: &[&str], out: &str| {
        let (status, text, _) = run(folder, arguments);
        assert_eq!(status, 3);
        (all_files(&folder.join(out)), text)
    };
    let (first, text) = made(place.path(), &["report", "trials", "--jobs", "1", "--format", "json"], "reports");
    assert_eq!(first.len(), 7);
    let absolute = other.path().join("deep/down/trials");
    let again = made(place.path(), &["report", "trials", "--jobs", "4", "--format", "json", "--out", "x/y"], "x/y");
    assert_eq!(again, (first.clone(), text.clone()), "other jobs and out folder");
    let elsewhere = made(other.path(), &["report", absolute.to_str().unwrap(), "--format", "json", "--out", "z"], "z");
    assert_eq!(elsewhere, (first.clone(), text), "another place");
    let (other_seed, _) = made(place.path(), &["report", "trials", "--seed", "2", "--out", "s"], "s");
    assert_ne!(other_seed, first, "the comparison must be able to see a difference");
}

#[test]
fn a_file_that_cannot_be_written_leaves_nothing_half_done() {
    let place = TempDir::new().unwrap();
    put(place.path(), "spring.csv", LOG);
    fs::create_dir_all(place.path().join("reports/spring.json/in-the-way")).unwrap();
    let (status, _, err) = run(place.path(), &["report", "spring.csv"]);
    assert_eq!(status, 4);
    assert!(err.contains("spring.json"), "{err}");
    assert_eq!(names(place.path()), ["spring.csv"], "no page without its result file, no unfinished file");
}

#[test]
fn running_again_replaces_a_report() {
    let place = TempDir::new().unwrap();
    put(place.path(), "spring.csv", LOG);
    put(place.path(), "reports/spring.json", "old");
    assert_eq!(run(place.path(), &["report", "spring.csv", "-q"]).0, 0);
    assert!(fs::read(place.path().join("reports/spring.json")).unwrap().starts_with(b"{"));
}

#[test]
fn reports_never_lie_among_or_on_the_inputs() {
    let place = TempDir::new().unwrap();
    put(place.path(), "trials/a/diameters.csv", LOG);
    put(place.path(), "summary.csv", LOG);
    put(place.path(), "b.csv", LOG);
    for (path, out) in [("trials", "trials"), ("trials/a", "trials/a"), ("trials", "trials/a"), (".", "trials")] {
        let (status, _, err) = run(place.path(), &["report", path, "--out", out]);
        assert_eq!(status, 2, "{path} {out}: {err}");
        assert!(err.contains("--out"), "{err}");
    }
    assert_eq!(names(place.path()), ["b.csv", "summary.csv", "trials/a/diameters.csv"]);
    let (status, _, err) = run(place.path(), &["report", "summary.csv", "b.csv", "--out", "."]);
    assert_eq!(status, 2, "{err}");
    assert_eq!(fs::read_to_string(place.path().join("summary.csv")).unwrap(), LOG);
    assert_eq!(run(place.path(), &["report", "b.csv", "--out", "."]).0, 0, "beside a lone log is a fair place");
}

#[test]
fn quiet_says_nothing_but_errors() {
    let place = TempDir::new().unwrap();
    put(place.path(), "good.csv", LOG);
    put(place.path(), "bad.csv", BAD_LOG);
    assert_eq!(run(place.path(), &["report", "good.csv", "--quiet"]), (0, String::new(), String::new()));
    let (status, out, err) = run(place.path(), &["-q", "report", "good.csv", "bad.csv"]);
    assert_eq!((status, out.as_str()), (3, ""));
    assert!(err.contains("38.O26"));
}

#[test]
fn json_is_one_compact_result_a_line() {
    let place = TempDir::new().unwrap();
    put(place.path(), "b.csv", LOG);
    put(place.path(), "a.csv", LOG);
    let (status, out, err) = run(place.path(), &["report", "b.csv", "a.csv", "--format", "json"]);
    assert_eq!((status, err.as_str()), (0, ""));
    let results: Vec<serde_json::Value> = out.lines().map(|line| serde_json::from_str(line).unwrap()).collect();
    let trials: Vec<&str> = results.iter().map(|result| result["trial"]["name"].as_str().unwrap()).collect();
    assert_eq!(trials, ["b", "a"], "in the order of the paths");
    let file: serde_json::Value = serde_json::from_slice(&fs::read(place.path().join("reports/b.json")).unwrap()).unwrap();
    assert_eq!(file, results[0]);
}

#[test]
fn a_log_may_come_from_standard_input() {
    let place = TempDir::new().unwrap();
    let output = program(place.path()).args(["report", "-", "--format", "json"]).write_stdin(LOG).output().unwrap();
    assert_eq!(output.status.code(), Some(0), "{}", String::from_utf8_lossy(&output.stderr));
    assert_eq!(names(place.path()).len(), 2);
    let output = program(place.path()).args(["check", "-"]).write_stdin(BAD_LOG).output().unwrap();
    assert_eq!(output.status.code(), Some(3));
    assert!(String::from_utf8_lossy(&output.stderr).contains("38.O26"));
}

#[test]
fn trials_of_one_name_get_their_parents_name() {
    let place = TempDir::new().unwrap();
    put(place.path(), "t/monday/spring/diameters.csv", LOG);
    put(place.path(), "t/friday/Spring.csv", LOG);
    let (status, _, err) = run(place.path(), &["report", "t", "-o", "pages", "-q"]);
    assert_eq!((status, err.as_str()), (0, ""));
    let pages: Vec<String> = names(&place.path().join("pages")).into_iter().filter(|name| name.ends_with(".html")).collect();
    assert_eq!(pages, ["friday-Spring.html", "index.html", "monday-spring.html"]);
}

#[test]
fn a_reader_that_goes_away_is_no_fault() {
    use std::process::Stdio;
    let place = TempDir::new().unwrap();
    for number in 0..3 {
        put(place.path(), &format!("t/{number}.csv"), LOG);
    }
    let mut child = std::process::Command::new(assert_cmd::cargo::cargo_bin("taperwright"))
        .args(["report", "t", "--format", "json"])
        .current_dir(place.path())
        .stdout(Stdio::piped())
        .stderr(Stdio::piped())
        .spawn()
        .unwrap();
    drop(child.stdout.take());
    let output = child.wait_with_output().unwrap();
    assert_eq!(output.status.code(), Some(0));
    assert_eq!(String::from_utf8_lossy(&output.stderr), "");
    assert_eq!(names(&place.path().join("reports")).len(), 9, "all reports are written all the same");
}

#[test]
fn simulated_logs_can_be_reported_and_are_not_replaced() {
    let place = TempDir::new().unwrap();
    let settings = "[trial]\nname = \"taught\"\n[bar]\ndiameter_mm = 38.0\nlength_mm = 220.0\n\
                    [simulate]\nlogs = [\"diameters\", \"levels\"]\npasses = 2\n[simulate.truth]\nyaw_mm_per_m = 0.06\n";
    put(place.path(), "quay.toml", settings);
    put(place.path(), "plain.toml", "[bar]\ndiameter_mm = 38.0\nlength_mm = 220.0\n");
    let simulated = ["simulate", "quay.toml", "--out", "demo"];
    let (status, out, err) = run(place.path(), &simulated);
    assert_eq!((status, err.as_str()), (0, ""));
    let files = all_files(&place.path().join("demo"));
    assert_eq!(files.keys().collect::<Vec<_>>(), ["diameters.csv", "levels.csv", "trial.toml", "truth.json"]);
    assert!(files.keys().all(|name| out.contains(name.as_str())), "{out}");
    let (status, _, err) = run(place.path(), &simulated);
    assert_eq!(status, 4);
    assert!(err.contains("demo/trial.toml") && err.contains("--force"), "{err}");
    assert_eq!(all_files(&place.path().join("demo")), files);
    assert_eq!(run(place.path(), &["simulate", "quay.toml", "--out", "demo", "--force", "--seed", "2"]).0, 0);
    assert_ne!(all_files(&place.path().join("demo")), files, "another seed, other noise");
    assert_eq!(run(place.path(), &["report", "demo", "-q"]), (0, String::new(), String::new()));
    assert_eq!(names(&place.path().join("reports")), ["taught.html", "taught.json"]);
    let (status, _, err) = run(place.path(), &["simulate", "plain.toml"]);
    assert_eq!(status, 3);
    assert!(err.contains("[simulate]"), "{err}");
}

#[test]
fn what_a_killed_run_left_is_taken_away_by_the_next() {
    let place = TempDir::new().unwrap();
    put(place.path(), "good.csv", LOG);
    put(place.path(), "out/.unfinished-killed", "half");
    put(place.path(), "out/.unfinished-alive", "half");
    let alive = fs::File::options().write(true).open(place.path().join("out/.unfinished-alive")).unwrap();
    alive.lock().unwrap();
    assert_eq!(run(place.path(), &["report", "good.csv", "--out", "out"]).0, 0);
    let left: Vec<String> = all_files(&place.path().join("out")).into_keys().collect();
    assert_eq!(left, [".unfinished-alive", "good.html", "good.json"], "what another run is writing stays");
}

#[cfg(unix)]
#[test]
fn an_interrupted_run_leaves_whole_files_and_says_so_by_its_status() {
    for (signal, expected) in [("INT", 130), ("TERM", 143)] {
        let place = TempDir::new().unwrap();
        for trial in 0..200 {
            put(place.path(), &format!("many/{trial:03}.csv"), LOG);
        }
        let mut running = std::process::Command::new(env!("CARGO_BIN_EXE_taperwright"))
            .args(["report", "many", "--out", "out", "--jobs", "2", "--quiet"])
            .current_dir(place.path())
            .spawn()
            .unwrap();
        let out = place.path().join("out");
        let begun = std::time::Instant::now();
        // What is still being written has a name with a dot in front.
        let whole =
            || fs::read_dir(&out).map_or(0, |all| all.flatten().filter(|e| !e.file_name().as_encoded_bytes().starts_with(b".")).count());
        while whole() < 3 && begun.elapsed().as_secs() < 60 {
            std::thread::sleep(std::time::Duration::from_millis(2));
        }
        assert!(std::process::Command::new("kill").args([&format!("-{signal}"), &running.id().to_string()]).status().unwrap().success());
        assert_eq!(running.wait().unwrap().code(), Some(expected));
        let left = all_files(&out);
        assert!(left.len() > 1 && left.len() < 400, "it was at work: {} files", left.len());
        for (name, bytes) in left {
            let whole = match name.rsplit('.').next() {
                Some("json") => serde_json::from_slice::<serde_json::Value>(&bytes).is_ok(),
                Some("html") => bytes.ends_with(b"</html>\n") || bytes.ends_with(b"</html>"),
                _ => false,
            };
            assert!(whole, "{name} is left half-way");
        }
    }
}
