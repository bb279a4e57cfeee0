//! Disks that are full, places that nobody may write in, logs that nobody may read: what is whole stays, what is not vanishes, and running again completes the rest.

use std::collections::BTreeMap;
use std::fs;
use std::os::unix::fs::{MetadataExt as _, PermissionsExt as _, symlink};
use std::path::{Path, PathBuf};
use std::process::Command;
use tempfile::TempDir;

const LOG: &str = "\
station_mm,diameter_mm,pass,direction
10,38.021,1,to-headstock
110,38.030,1,to-headstock
210,38.037,1,to-headstock
10,37.922,2,to-tailstock
110,37.930,2,to-tailstock
210,37.936,2,to-tailstock
";

type Files = BTreeMap<String, Vec<u8>>;

fn put(folder: &Path, file: &str, text: &str) {
    let path = folder.join(file);
    fs::create_dir_all(path.parent().unwrap()).unwrap();
    fs::write(path, text).unwrap();
}

/// A log whose page is larger than that of [`LOG`].
fn longer() -> String {
    let row = |pass: usize, station: usize| {
        format!("{},{:.3},{pass},to-headstock\n", 10 * station, 38.0 + 0.001 * ((7 * pass + station) % 5) as f64)
    };
    let rows: String = (1..=12).flat_map(|pass| (1..=20).map(move |station| row(pass, station))).collect();
    format!("station_mm,diameter_mm,pass,direction\n{rows}")
}

/// Every file below `folder` with its bytes; none where there is no folder.
fn all_files(folder: &Path) -> Files {
    fn walk(root: &Path, folder: &Path, files: &mut Files) {
        for entry in fs::read_dir(folder).into_iter().flatten() {
            let path = entry.unwrap().path();
            if path.is_dir() {
                walk(root, &path, files);
            } else {
                files.insert(path.strip_prefix(root).unwrap().to_string_lossy().into_owned(), fs::read(&path).unwrap_or_default());
            }
        }
    }
    let mut files = Files::new();
    walk(folder, folder, &mut files);
    files
}

/// What `found` has that an undisturbed run does not leave so: files that are unfinished, half, or not of it at all.
fn faults(found: &Files, undisturbed: &Files) -> Vec<String> {
    found.iter().filter(|(name, bytes)| undisturbed.get(*name) != Some(bytes)).map(|(name, _)| name.clone()).collect()
}

fn outcome(command: &mut Command) -> (i32, String) {
    let output = command.output().unwrap();
    (output.status.code().unwrap(), String::from_utf8(output.stderr).unwrap())
}

/// Runs the program in `folder`: exit status and standard error.
fn run(folder: &Path, arguments: &[&str]) -> (i32, String) {
    outcome(Command::new(env!("CARGO_BIN_EXE_taperwright")).current_dir(folder).args(arguments))
}

/// Runs the program where no file can grow beyond `bytes` (rounded down to half a kilobyte): as on a full disk, a write is refused half-way.
fn run_without_room(folder: &Path, bytes: usize, arguments: &[&str]) -> (i32, String) {
    let script = format!("trap '' XFSZ; ulimit -f {}; exec \"$0\" \"$@\"", bytes / 512);
    let mut shell = Command::new("sh");
    outcome(shell.args(["-c", &script, env!("CARGO_BIN_EXE_taperwright")]).args(arguments).current_dir(folder))
}

/// Whether permissions say nothing to this user.
fn is_root(folder: &Path) -> bool {
    fs::metadata(folder).unwrap().uid() == 0
}

#[test]
fn the_comparison_sees_what_should_not_be_there() {
    let whole = Files::from([("a.json".to_owned(), b"{}".to_vec()), ("a.html".to_owned(), b"<p>".to_vec())]);
    let with = |name: &str, bytes: &[u8]| Files::from([("a.json".to_owned(), b"{}".to_vec()), (name.to_owned(), bytes.to_vec())]);
    assert_eq!(faults(&whole, &whole), [] as [&str; 0]);
    assert_eq!(faults(&with("a.html", b"<"), &whole), ["a.html"]);
    assert_eq!(faults(&with(".unfinished-x", b"<p>"), &whole), [".unfinished-x"]);
}

/// Every command that writes, once with room and once with room for all but its largest file.
#[test]
fn without_room_every_command_leaves_nothing_or_what_was_there() {
    let place = TempDir::new().unwrap();
    let simulate = "[bar]\ndiameter_mm = 38.0\nlength_mm = 220.0\n[simulate]\nlogs = [\"diameters\", \"levels\"]\nstations_mm = [10.0, 110.0, 210.0]\n";
    put(place.path(), "spring.csv", LOG);
    put(place.path(), "quay.toml", simulate);
    for year in ["2024", "2025"] {
        put(place.path(), &format!("years/{year}/diameters.csv"), LOG);
        put(
            place.path(),
            &format!("years/{year}/trial.toml"),
            &format!("[trial]\ndate = {year}-03-01\n[machine]\nname = \"Quay Lathe 1\"\n"),
        );
    }
    let inputs = all_files(place.path());
    let commands: [(&str, &[&str]); 5] = [
        ("out", &["report", "spring.csv", "--out", "out"]),
        ("out", &["history", "years", "--out", "out"]),
        ("out", &["plan", "quay.toml", "--out", "out"]),
        ("out", &["simulate", "quay.toml", "--out", "out"]),
        ("out", &["new", "out"]),
    ];
    for (out, arguments) in commands {
        let folder = place.path().join(out);
        let (status, err) = run(place.path(), arguments);
        assert_eq!(status, 0, "{arguments:?}: {err}");
        let undisturbed = all_files(&folder);
        fs::remove_dir_all(&folder).unwrap();
        let (largest, size) = undisturbed.iter().map(|(name, bytes)| (name.as_str(), bytes.len())).max_by_key(|(_, size)| *size).unwrap();

        let (status, err) = run_without_room(place.path(), size - 1, arguments);
        assert_eq!(status, 4, "{arguments:?}: {err}");
        let told = err.lines().filter(|line| line.starts_with("error:") && line.contains(largest) && line.contains("make room"));
        assert_eq!(told.count(), 1, "{arguments:?} names the file and what to do: {err}");
        assert_eq!(all_files(&folder), Files::new(), "{arguments:?} leaves nothing: no temporary, no part of a set");

        let (status, err) = run(place.path(), arguments);
        assert_eq!((status, all_files(&folder) == undisturbed), (0, true), "{arguments:?} with room again, without --force: {err}");
        // with room for the largest file to the byte, the limit is none
        fs::remove_dir_all(&folder).unwrap();
        assert_eq!(run_without_room(place.path(), size + 511, arguments).0, 0, "{arguments:?}: the limit is what made it fail");
        fs::remove_dir_all(&folder).unwrap();
        assert_eq!(all_files(place.path()), inputs, "{arguments:?} leaves its inputs alone");
    }

    // an older report stays whole, both files of it
    put(place.path(), "out/spring.json", "older");
    put(place.path(), "out/spring.html", "older page");
    let older = all_files(&place.path().join("out"));
    assert_eq!(run_without_room(place.path(), 50_000, &["report", "spring.csv", "--out", "out"]).0, 4);
    assert_eq!(all_files(&place.path().join("out")), older);
}

#[test]
fn of_a_batch_the_trial_that_has_no_room_stops_no_other() {
    let place = TempDir::new().unwrap();
    put(place.path(), "trials/a.csv", LOG);
    put(place.path(), "trials/b.csv", &longer());
    put(place.path(), "trials/c.csv", LOG);
    let inputs = all_files(&place.path().join("trials"));
    assert_eq!(run(place.path(), &["report", "trials", "--out", "whole"]).0, 0);
    let whole = all_files(&place.path().join("whole"));
    let size = |name: &str| whole[name].len();
    assert!(size("a.html") + 1024 < size("b.html") && size("index.html") < size("a.html"), "the limit stops one page only");

    let (status, err) = run_without_room(place.path(), size("b.html") - 1, &["report", "trials", "--out", "out"]);
    assert_eq!(status, 4, "{err}");
    assert!(err.contains("b.html cannot be written") && !err.contains("a.html") && !err.contains("c.html"), "{err}");
    let out = place.path().join("out");
    let left = all_files(&out);
    let overview = ["index.html", "summary.csv", "summary.parquet"];
    assert_eq!(left.keys().filter(|name| !overview.contains(&name.as_str())).collect::<Vec<_>>(), ["a.html", "a.json", "c.html", "c.json"]);
    assert_eq!(faults(&left, &whole), overview, "what is told of all differs, what is of one does not");
    assert!(String::from_utf8_lossy(&left["index.html"]).contains("2 reported, 1 failed"));
    assert_eq!(run(place.path(), &["report", "trials", "--out", "out"]).0, 0);
    assert!(all_files(&out) == whole, "the second run completes it");
    assert_eq!(all_files(&place.path().join("trials")), inputs);
}

#[test]
fn a_place_that_refuses_is_named_and_nothing_is_left() {
    let place = TempDir::new().unwrap();
    put(place.path(), "spring.csv", LOG);
    put(place.path(), "trials/a.csv", LOG);
    put(place.path(), "trials/b.csv", LOG);
    let inputs = all_files(place.path());
    let mut places = vec!["spring.csv/reports".to_owned(), "spring.csv".to_owned()];
    if cfg!(target_os = "linux") {
        places.push("/proc/self/reports".to_owned());
    }
    let closed = place.path().join("closed");
    fs::create_dir(&closed).unwrap();
    if !is_root(&closed) {
        fs::set_permissions(&closed, fs::Permissions::from_mode(0o500)).unwrap();
        places.push("closed".to_owned());
        places.push("closed/below".to_owned());
    }
    for out in &places {
        for arguments in [vec!["report", "trials/a.csv", "--out", out], vec!["report", "trials", "--out", out], vec!["new", out]] {
            let (status, err) = run(place.path(), &arguments);
            assert_eq!(status, 4, "{arguments:?}: {err}");
            let told: Vec<&str> = err.lines().filter(|line| line.starts_with("error:")).collect();
            assert!(
                !told.is_empty() && told.iter().all(|line| line.contains(out.as_str()) && line.contains("choose")),
                "{arguments:?}: {err}"
            );
            assert_eq!(all_files(place.path()), inputs, "{arguments:?}");
        }
    }
    fs::set_permissions(&closed, fs::Permissions::from_mode(0o700)).unwrap();
    assert_eq!(run(place.path(), &["report", "trials/a.csv", "--out", "closed"]).0, 0, "the same folder, opened");
}

#[test]
fn a_log_that_cannot_be_read_is_named_and_stops_no_other() {
    let place = TempDir::new().unwrap();
    put(place.path(), "trials/good/diameters.csv", LOG);
    fs::create_dir_all(place.path().join("trials/folder/diameters.csv")).unwrap();
    put(place.path(), "trials/folder/trial.toml", "[trial]\nname = \"folder\"\n");
    assert_eq!(run(place.path(), &["report", "trials/good", "--out", "alone"]).0, 0);
    let alone = all_files(&place.path().join("alone"));

    let mut bad = vec![("trials/folder", "folder")];
    let aside = PathBuf::from("/proc/self/mem");
    if aside.exists() {
        put(place.path(), "trials/link/trial.toml", "[trial]\nname = \"link\"\n");
        symlink(&aside, place.path().join("trials/link/diameters.csv")).unwrap();
        bad.push(("trials/link", "link"));
    }
    let shut = place.path().join("trials/shut/diameters.csv");
    if !is_root(place.path()) {
        put(place.path(), "trials/shut/diameters.csv", LOG);
        fs::set_permissions(&shut, fs::Permissions::from_mode(0o000)).unwrap();
        bad.push(("trials/shut", "shut"));
    }
    for (path, name) in &bad {
        let (status, err) = run(place.path(), &["report", path, "--out", "one"]);
        assert_eq!(status, 3, "{path}: {err}");
        assert!(err.contains(path) && err.contains("diameters.csv"), "{path} is named with its log: {err}");
        assert!(err.contains("help"), "and what would be right: {err}");
        assert_eq!(all_files(&place.path().join("one")), Files::new(), "{name}");
    }
    let (status, err) = run(place.path(), &["report", "trials", "--out", "all"]);
    assert_eq!(status, 3, "{err}");
    let all = all_files(&place.path().join("all"));
    assert_eq!((&all["good.json"], &all["good.html"]), (&alone["good.json"], &alone["good.html"]), "the good one is as if alone");
    assert!(bad.iter().all(|(_, name)| !all.contains_key(&format!("{name}.json"))), "{:?}", all.keys());
    if shut.exists() {
        fs::set_permissions(&shut, fs::Permissions::from_mode(0o644)).unwrap();
        assert_eq!(run(place.path(), &["report", "trials/shut", "--out", "one"]).0, 0, "the same log, readable");
    }
}

/// Runs the program with a standard output that has no room for a single byte, or none of the two outputs has.
#[cfg(target_os = "linux")]
fn run_into_full(folder: &Path, arguments: &[&str], messages_too: bool) -> (i32, String) {
    let full = || fs::OpenOptions::new().write(true).open("/dev/full").unwrap();
    let mut command = Command::new(env!("CARGO_BIN_EXE_taperwright"));
    command.current_dir(folder).args(arguments).stdout(full());
    if messages_too {
        command.stderr(full());
        return (command.status().unwrap().code().unwrap(), String::new());
    }
    outcome(command.stderr(std::process::Stdio::piped()))
}

#[cfg(target_os = "linux")]
#[test]
fn results_that_cannot_be_told_are_no_success() {
    let place = TempDir::new().unwrap();
    put(place.path(), "spring.csv", LOG);
    put(place.path(), "bad.csv", &LOG.replace("38.030", "38.O30"));
    assert_eq!(run(place.path(), &["report", "spring.csv", "--out", "whole"]).0, 0);
    let whole = all_files(&place.path().join("whole"));
    let commands: [&[&str]; 11] = [
        &["report", "spring.csv", "--out", "out"],
        &["report", "spring.csv", "--out", "out", "--format", "json"],
        &["check", "spring.csv"],
        &["check", "spring.csv", "--format", "json"],
        &["verify", "whole/spring.html"],
        &["criteria"],
        &["schema", "trial"],
        &["completions", "bash"],
        &["man"],
        &["--help"],
        &["--version"],
    ];
    for arguments in commands {
        let (status, err) = run_into_full(place.path(), arguments, false);
        assert_eq!(status, 4, "{arguments:?}: {err}");
        let told = err.lines().filter(|line| line.starts_with("error: standard output cannot be written: "));
        assert_eq!(told.count(), 1, "{arguments:?} says it once: {err}");
    }
    assert!(all_files(&place.path().join("out")) == whole, "the report is written all the same");
    // Nor does a full standard error stop it, and what else is wrong counts as ever, the first of 2, 4, 3.
    assert_eq!(run_into_full(place.path(), &["check", "spring.csv"], true).0, 4);
    assert_eq!(run_into_full(place.path(), &["nobodys-command"], true).0, 2);
    assert_eq!(run_into_full(place.path(), &["check", "bad.csv"], true).0, 4);
}

/// Paths that lead through a file, to a folder, a device or memory in place of every file that a command takes: root cannot read them either.
#[test]
fn a_file_that_cannot_be_read_is_named_by_its_own_path_and_nothing_is_written() {
    let place = TempDir::new().unwrap();
    put(place.path(), "spring.csv", LOG);
    put(place.path(), "trial/diameters.csv", LOG);
    for folder in ["folder.csv", "folder.toml", "folder.html", "empty/below"] {
        fs::create_dir_all(place.path().join(folder)).unwrap();
    }
    put(place.path(), "shut.csv", LOG);
    put(place.path(), "shut.toml", "[bar]\ndiameter_mm = 38.0\nlength_mm = 220.0\n");
    put(place.path(), "shut.html", "<p>");
    let inputs = all_files(place.path());
    let mut paths = vec![("spring.csv/x", "spring.csv/x"), ("folder", "folder"), ("missing", "missing")];
    if cfg!(target_os = "linux") {
        paths.push(("/proc/self/mem", "/proc/self/mem"));
        paths.push(("/dev/null", "/dev/null"));
    }
    let shut = ["shut.csv", "shut.toml", "shut.html"].map(|name| place.path().join(name));
    if !is_root(place.path()) {
        shut.iter().for_each(|path| fs::set_permissions(path, fs::Permissions::from_mode(0o000)).unwrap());
        paths.push(("shut", "shut"));
    }
    for (path, named) in paths {
        let whole = path.starts_with('/');
        let of = |ending: &str| if whole { path.to_owned() } else { format!("{path}{ending}") };
        let (log, settings, page) = (of(".csv"), of(".toml"), of(".html"));
        let commands: [(i32, Vec<&str>); 7] = [
            (3, vec!["report", &log, "--out", "out"]),
            (3, vec!["check", &log]),
            (3, vec!["history", &log, "--out", "out"]),
            (3, vec!["plan", &settings, "--out", "out"]),
            (3, vec!["simulate", &settings, "--out", "out"]),
            (3, vec!["verify", &page]),
            (2, vec!["report", "trial", "--criteria", &settings, "--out", "out"]),
        ];
        for (expected, arguments) in commands {
            let (status, err) = run(place.path(), &arguments);
            assert_eq!(status, expected, "{arguments:?}: {err}");
            assert!(err.contains(named), "{arguments:?} names it: {err}");
            assert!(!err.contains(&format!("{named}.toml/{named}.toml")), "{arguments:?} names it once: {err}");
            assert!(!all_files(place.path()).keys().any(|name| name.starts_with("out")), "{arguments:?} writes nothing");
        }
    }
    shut.iter().for_each(|path| fs::set_permissions(path, fs::Permissions::from_mode(0o644)).unwrap());
    assert_eq!(all_files(place.path()), inputs);
    // A folder without settings: the file that is missing in it.
    let (status, err) = run(place.path(), &["plan", "empty/below", "--out", "out"]);
    assert_eq!(status, 3, "{err}");
    assert!(err.contains(" empty/below/trial.toml: ") && err.contains("mend the path"), "{err}");
}
