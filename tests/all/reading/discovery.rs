//! Finding trials below paths, and the names under which they are written.

use super::bench::{finding, write};
use taperwright::findings::Severity;
use taperwright::ingest::{ReadOptions, TrialSource, file_name_for, find_trials, read_trial};

const LOG: &str = "station_mm,diameter_mm\n10,38.01\n100,38.02\n";

#[test]
fn folders_are_searched_but_not_hidden_ones_links_or_the_reports() {
    let folder = tempfile::tempdir().expect("a temporary folder");
    let root = folder.path();
    write(root, "a/spring.csv", LOG);
    write(root, "b/trial.toml", "[trial]\nname = \"Quay 2\"\n");
    write(root, "b/diameters.csv", LOG);
    write(root, "c/deep/diameters-monday.csv", LOG);
    write(root, ".old/diameters.csv", LOG);
    write(root, "reports/summary.csv", LOG);
    write(root, "a/readme.txt", "not a log\n");
    #[cfg(unix)]
    std::os::unix::fs::symlink(root.join("a"), root.join("link")).expect("a link");
    let found = find_trials(&[root.to_owned()], Some(&root.join("reports")));
    let names: Vec<(&str, TrialSource)> = found.trials.iter().map(|trial| (trial.name.as_str(), trial.source)).collect();
    assert_eq!(names, [("spring", TrialSource::LoneLog), ("Quay-2", TrialSource::Folder), ("deep", TrialSource::Folder)]);
    assert_eq!(finding(&found.findings, "file-left-out").severity, taperwright::findings::Severity::Note);
}

#[test]
fn names_that_agree_take_their_parents_and_what_still_agrees_is_rejected() {
    let folder = tempfile::tempdir().expect("a temporary folder");
    let root = folder.path();
    write(root, "a/spring.csv", LOG);
    write(root, "b/Spring.csv", LOG);
    let found = find_trials(&[root.to_owned()], None);
    let names: Vec<&str> = found.trials.iter().map(|trial| trial.name.as_str()).collect();
    assert_eq!(names, ["a-spring", "b-Spring"]);
    write(root, "x/a/spring.csv", LOG);
    let found = find_trials(&[root.to_owned()], None);
    let names: Vec<&str> = found.trials.iter().map(|trial| trial.name.as_str()).collect();
    assert_eq!(names, ["b-Spring"]);
    assert_eq!(found.findings.iter().filter(|finding| finding.code == "same-name").count(), 2);
}

/// A name that no other trial had stays, also where another becomes that by its parent.
#[test]
fn a_name_that_was_unique_is_kept() {
    let folder = tempfile::tempdir().expect("a temporary folder");
    let root = folder.path();
    for log in ["a/x.csv", "b/x.csv", "c/a-x.csv"] {
        write(root, log, LOG);
    }
    let found = find_trials(&[root.to_owned()], None);
    let named: Vec<(&str, bool)> = found.trials.iter().map(|trial| (trial.name.as_str(), trial.path.starts_with(root.join("c")))).collect();
    assert_eq!(named, [("b-x", false), ("a-x", true)]);
    let rejected = finding(&found.findings, "same-name");
    assert!(rejected.file.as_ref().is_some_and(|file| file.ends_with("a/x.csv")), "{rejected:?}");
    assert_eq!(found.findings.len(), 1);
}

/// Paths inside others, and other spellings of one path: each trial once, nothing said.
#[test]
fn a_trial_taken_before_is_no_fault() {
    let folder = tempfile::tempdir().expect("a temporary folder");
    let root = folder.path();
    write(root, "v/a/diameters.csv", LOG);
    write(root, "v/b/diameters.csv", LOG);
    let (v, a) = (root.join("v"), root.join("v/a"));
    let spelled = [root.join("v/../v/./a"), root.join("v//a/")];
    for (paths, names) in [
        (vec![v.clone(), a.clone()], vec!["a", "b"]),
        (vec![a.clone(), v.clone()], vec!["a", "b"]),
        (vec![root.to_owned(), v.clone(), a.clone(), root.join("v/b")], vec!["a", "b"]),
        (vec![a.clone(), spelled[0].clone(), spelled[1].clone()], vec!["a"]),
    ] {
        let found = find_trials(&paths, None);
        assert_eq!(found.trials.iter().map(|trial| trial.name.as_str()).collect::<Vec<_>>(), names, "{paths:?}");
        assert!(found.findings.is_empty(), "{paths:?}: {:?}", found.findings);
    }
    // every folder, that of the reports among them
    write(root, "reports/summary.csv", "a,b\n");
    let (out, every) = (root.join("reports"), [root.to_owned(), root.join("reports"), v.clone()]);
    let found = find_trials(&every, Some(&out));
    assert!(found.trials.len() == 2 && found.findings.is_empty(), "{:?}", found.findings);
    finding(&find_trials(&every[1..2], Some(&out)).findings, "no-trial");
    std::fs::create_dir(root.join("v/empty")).expect("a folder");
    finding(&find_trials(&[v, root.join("v/empty")], None).findings, "no-trial");
}

#[test]
fn a_path_without_a_trial_is_a_finding() {
    let folder = tempfile::tempdir().expect("a temporary folder");
    let found = find_trials(&[folder.path().to_owned(), folder.path().join("nowhere")], None);
    assert!(found.trials.is_empty());
    finding(&found.findings, "no-trial");
    finding(&found.findings, "missing-file");
    #[cfg(unix)]
    finding(&find_trials(&["/dev/null".into()], None).findings, "not-a-file");
}

#[test]
fn file_names_are_safe_everywhere() {
    for (name, safe) in [
        ("quay-lathe-spring", "quay-lathe-spring"),
        ("a/b\\c:d", "a-b-c-d"),
        ("Summary", "Summary-trial"),
        ("history", "history-trial"),
        ("COM1", "COM1-trial"),
        ("com10", "com10"),
        ("lpt9.old", "lpt9-old-trial"),
        ("..", "trial"),
        (".hidden", "hidden"),
        ("", "trial"),
        ("Brücke 3", "Brücke-3"),
    ] {
        assert_eq!(file_name_for(name), safe);
    }
}

#[test]
fn a_path_is_taken_once_and_standard_input_has_a_name() {
    let folder = tempfile::tempdir().expect("a temporary folder");
    write(folder.path(), "spring/trial.toml", "[trial]\n");
    write(folder.path(), "spring/diameters.csv", LOG);
    let spring = folder.path().join("spring");
    let found = find_trials(&[spring.clone(), spring.join("trial.toml"), "-".into(), folder.path().to_owned()], None);
    let names: Vec<(&str, TrialSource)> = found.trials.iter().map(|trial| (trial.name.as_str(), trial.source)).collect();
    assert_eq!(names, [("spring", TrialSource::Folder), ("standard-input", TrialSource::StandardInput)]);
}

#[test]
fn files_with_nearly_the_name_of_a_log_are_told() {
    let files = ["diameters (2).csv", "diameters 2.csv", "diameters - Kopie.csv", "levels (1).csv", "levels_1.txt", "Trial.toml"];
    let folder = tempfile::tempdir().expect("a temporary folder");
    for file in files {
        write(folder.path(), file, if file == "Trial.toml" { "[trial]\n" } else { LOG });
    }
    write(folder.path(), "diameters.csv", LOG);
    write(folder.path(), "notes.csv", "a,b\n");
    write(folder.path(), "readme.txt", "tea\n");
    let warned = |folder: &std::path::Path| -> Vec<String> {
        let trial = read_trial(folder, &ReadOptions::default()).expect("a trial");
        let told = trial.findings.iter().filter(|f| f.severity == Severity::Warning && f.code == "file-not-read");
        let mut names: Vec<String> = told.filter_map(|f| f.file.clone()).collect();
        names.sort();
        names
    };
    let mut wanted = files.to_vec();
    wanted.sort_unstable();
    assert_eq!(warned(folder.path()), wanted);
    // where the settings are there, another file of nearly their name is a copy
    write(folder.path(), "trial.toml", "[trial]\n");
    assert_eq!(warned(folder.path()).len(), files.len() - 1);
    #[cfg(unix)]
    {
        std::os::unix::fs::symlink("nowhere.csv", folder.path().join("diameters-9.csv")).expect("a link");
        assert!(warned(folder.path()).contains(&"diameters-9.csv".to_owned()));
    }
}

#[test]
fn no_readings_names_what_is_not_read() {
    let folder = tempfile::tempdir().expect("a temporary folder");
    write(folder.path(), "trial.toml", "[trial]\n");
    write(folder.path(), "diameter.csv", LOG);
    let findings = read_trial(folder.path(), &ReadOptions::default()).expect_err("no readings").findings;
    let found = finding(&findings, "no-readings");
    assert!(found.found.contains("`diameter.csv`") && found.help.contains("diameters.csv"), "{found:?}");
    write(folder.path(), "monday.csv", "station_mm,diameter_mm\n");
    let findings = read_trial(&folder.path().join("monday.csv"), &ReadOptions::default()).expect_err("no readings").findings;
    let found = finding(&findings, "no-readings");
    assert!(found.help.contains("one reading a row") && found.file.as_deref() == Some("monday.csv"), "{found:?}");
}

#[cfg(unix)]
#[test]
fn a_folder_with_only_a_link_to_a_log_says_so() {
    let folder = tempfile::tempdir().expect("a temporary folder");
    let root = folder.path();
    write(root, "elsewhere/monday.csv", LOG);
    write(root, "trial/readme.txt", "tea\n");
    std::os::unix::fs::symlink(root.join("elsewhere/monday.csv"), root.join("trial/diameters.csv")).expect("a link");
    let found = find_trials(&[root.join("trial")], None);
    let fault = finding(&found.findings, "no-trial");
    assert!(fault.found.contains("diameters.csv` is a link") && fault.help.contains("the log itself"), "{fault:?}");
    std::fs::remove_file(root.join("trial/diameters.csv")).expect("removed");
    let found = find_trials(&[root.join("trial")], None);
    assert!(!finding(&found.findings, "no-trial").found.contains("link"));
}
