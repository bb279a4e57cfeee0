//! Inputs larger or other than any that is read are refused soon, with what was found and what would be right.

use super::bench::{finding, read_bytes, read_folder};
use std::path::{Path, PathBuf};
use std::process::Command;
use std::sync::mpsc::channel;
use std::time::Duration;
use taperwright::findings::Finding;
use taperwright::ingest::{CriteriaChoice, ReadOptions, find_trials, read_trial};

const LOG: &str = "station_mm,diameter_mm,note\n10,38.01,a\n90,38.02,b\n170,38.04,c\n";

/// What comes back within 20 s: a reader that waits for a pipe or goes through an input again and again is found out.
fn soon<T: Send + 'static>(work: impl FnOnce() -> T + Send + 'static) -> Option<T> {
    let (sender, receiver) = channel();
    std::thread::spawn(move || sender.send(work()));
    receiver.recv_timeout(Duration::from_secs(20)).ok()
}

fn of_log(text: String) -> Vec<Finding> {
    let refused = soon(move || read_bytes(text.as_bytes(), &ReadOptions::default()).map(|trial| trial.diameters.len()));
    refused.expect("an answer in time").expect_err("a log that is too large").findings
}

fn of_settings(text: String) -> Vec<Finding> {
    let refused = soon(move || read_folder(&[("diameters.csv", LOG), ("trial.toml", &text)]).map(|trial| trial.identity));
    refused.expect("an answer in time").expect_err("settings that are too large").findings
}

fn of_path(path: &Path) -> Vec<Finding> {
    let path = path.to_owned();
    let refused = soon(move || read_trial(&path, &ReadOptions::default()).map(|trial| trial.identity));
    refused.expect("an answer in time").expect_err("what is no file").findings
}

fn says(findings: &[Finding], code: &str, row: u64, found: &str, help: &str) {
    let first = finding(findings, code);
    assert!(first.row == Some(row) && first.found.contains(found) && first.help.contains(help), "{first:?}");
    assert!(first.found.len() < 500, "{}", first.found.len());
}

#[test]
fn cells_lines_and_headers_have_a_longest() {
    let row = |note: String| format!("{LOG}180,38.0,{note}\n");
    assert!(read_bytes(row("x".repeat(10_000)).as_bytes(), &ReadOptions::default()).is_ok());
    says(&of_log(row("x".repeat(10_001))), "cell-too-long", 5, "10001 bytes, which begins `xxx", "10000 bytes");
    assert_eq!(finding(&of_log(row("x".repeat(10_001))), "cell-too-long").column.as_deref(), Some("note"));
    says(&of_log(row("x".repeat(10_000_000))), "line-too-long", 5, "65536 bytes, which begins `180,38.0,xxx", "line end");
    says(&of_log(row("1,".repeat(1_000_000))), "line-too-long", 5, "begins `180,38.0,1,1", "one reading a line");
    says(&of_log("x".repeat(3_000_000)), "line-too-long", 1, "begins `xxx", "line end");
    let columns = |count: usize| (0..count).map(|pass| format!(",{}", pass + 1)).collect::<String>();
    says(&of_log(format!("station_mm{}\n10,38.01\n", columns(1_000_000))), "line-too-long", 1, "begins `station_mm,1,2", "");
    says(&of_log(format!("station_mm{}\n10,38.01\n", columns(2_000))), "too-many-columns", 1, "2001 columns", "1024");
    let wide = format!("station_mm{}\n10,38.01\n90,38.02\n", columns(1_000));
    assert!(read_bytes(wide.as_bytes(), &ReadOptions::default()).is_ok());
    // Separators without a header above them are trailing ones, as spreadsheet programs leave them.
    let empty = format!("station_mm,diameter_mm{}\n10,38.01\n90,38.02\n", ",".repeat(16_000));
    assert!(read_bytes(empty.as_bytes(), &ReadOptions::default()).is_ok());
    assert_eq!(of_log("\0".repeat(1_000_000)).first().map(|first| first.code), Some("not-text"));
}

#[test]
fn a_long_log_with_a_line_without_end_is_refused_in_its_row() {
    let mut text = LOG.to_owned();
    text.push_str("180,38.0,");
    text.push_str(&"é".repeat(20_000_000)); // above 32 MiB, so read block by block
    text.push_str("\n190,abc,d\n");
    let findings = of_log(text);
    says(&findings, "line-too-long", 5, "begins `180,38.0,éé", "");
    says(&findings, "not-a-number", 6, "abc", "");
    let zeros = of_log("\0".repeat(34_000_000));
    assert_eq!(zeros.first().map(|first| first.code), Some("not-text"), "{zeros:?}");
}

#[test]
fn settings_have_a_largest_size_and_depth() {
    let deep = 100_000;
    for text in [
        format!("name = {}{}", "[".repeat(deep), "]".repeat(deep)),
        format!("a = {}1{}", "{a = ".repeat(deep), "}".repeat(deep)),
        format!("a{} = 1", ".a".repeat(deep)),
        format!("[{}a]\nb = 1", "a.".repeat(deep)),
        format!("[[{}a]]\nb = 1", "a.".repeat(deep)),
        format!("a = {}", "[".repeat(deep)),
    ] {
        let findings = of_settings(text);
        says(&findings, "toml-too-deep", 1, "without end", "three tables deep");
    }
    let findings = of_settings("#".repeat(50_000_000));
    assert!(finding(&findings, "file-too-large").found.starts_with("50000000 bytes"), "{findings:?}");
    says(&of_settings(format!("[trial]\nname = \"{}\"\n", "x".repeat(10_001))), "text-too-long", 2, "`name`", "10000 bytes");
    says(&of_settings(format!("[gauge.diameter.{}]\nu_mm = 0.002\n", "g".repeat(201))), "key-too-long", 1, "ggg", "200 bytes");
    let limits = "[[acceptance.limit]]\nquantity = \"taper\"\nlimit_mm = 0.02\n".repeat(1_001);
    says(&of_settings(limits), "too-many-tables", 1, "1001 tables", "1000");
    let gauges: String = (0..1_001).map(|index| format!("[gauge.diameter.g{index}]\nu_mm = 0.002\n")).collect();
    says(&of_settings(gauges), "too-many-tables", 2001, "1001 names in [gauge.diameter]", "1000");
    // Every line or letter a fault: the first are told, all are counted.
    for text in ["k =\n".repeat(200_000), "=".repeat(400_000), "\"\n".repeat(400_000), "k".repeat(1_000_000)] {
        assert_eq!(of_settings(text).first().map(|first| first.code), Some("toml-syntax"));
    }
}

/// A folder with a log and a criteria file that its settings name.
fn trial_folder() -> (tempfile::TempDir, PathBuf) {
    let place = tempfile::tempdir().expect("a temporary folder");
    let folder = place.path().join("spring");
    std::fs::create_dir(&folder).expect("a folder");
    std::fs::write(folder.join("diameters.csv"), LOG).expect("a log");
    (place, folder)
}

#[cfg(unix)]
#[test]
fn what_is_no_file_is_never_waited_for() {
    use std::os::unix::fs::symlink;
    let pipe = |path: &Path| assert!(Command::new("mkfifo").arg(path).status().expect("mkfifo").success());
    let named = "[acceptance]\ncriteria = \"limits.toml\"\n";

    for (name, settings) in [("trial.toml", None), ("limits.toml", Some(named))] {
        let (_place, folder) = trial_folder();
        if let Some(settings) = settings {
            std::fs::write(folder.join("trial.toml"), settings).expect("settings");
        }
        pipe(&folder.join(name));
        let findings = of_path(&folder);
        assert!(finding(&findings, "not-a-file").found.contains("neither a file nor a folder"), "{findings:?}");
        std::fs::remove_file(folder.join(name)).expect("the pipe");

        symlink("/dev/zero", folder.join(name)).expect("a link");
        let code = if settings.is_some() { "criteria-outside" } else { "outside" };
        assert!(finding(&of_path(&folder), code).found.contains("leads out"));
    }

    let (_place, folder) = trial_folder();
    std::fs::create_dir(folder.join("trial.toml")).expect("a folder");
    assert_eq!(finding(&of_path(&folder), "not-a-file").file.as_deref(), Some("trial.toml"));

    // Looking for trials opens no pipe either, nor a device that is given by name.
    let place = tempfile::tempdir().expect("a temporary folder");
    pipe(&place.path().join("diameters.csv"));
    let paths = [place.path().to_owned(), PathBuf::from("/dev/zero")];
    let found = soon(move || find_trials(&paths, None)).expect("an answer in time");
    let codes: Vec<&str> = found.findings.iter().map(|finding| finding.code).collect();
    assert_eq!((found.trials.len(), codes), (0, vec!["not-a-file", "no-trial", "not-a-file"]));

    let choice = soon(|| CriteriaChoice::asked("/dev/zero")).expect("an answer in time");
    assert_eq!(choice.expect_err("a device").code, "not-a-file");
}

#[test]
fn a_reader_that_waits_is_found_out() {
    assert_eq!(soon(|| 1), Some(1));
    let never = || std::thread::sleep(Duration::from_secs(30));
    assert_eq!(soon(never), None);
}
