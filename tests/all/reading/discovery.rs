//! Finding trials below paths, and the names under which they are written.

use super::bench::{finding, write};
use taperwright::ingest::{TrialSource, file_name_for, find_trials};

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
