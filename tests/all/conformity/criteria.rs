//! Sets of limits: the built-in ones, files, the machine's swing, the command line.

use assert_cmd::Command;
use std::fs;
use std::path::Path;
use taperwright::conformity::Allowed;
use taperwright::ingest::{BUILT_IN, CriteriaChoice, ReadOptions, TrialFiles, read_built_in, read_files, read_trial};
use taperwright::trial::{LeftOut, Origin, Provenance, Quantity, Trial, TrialSource, WhyLeftOut};
use tempfile::TempDir;

const LOG: &str = "station_mm,diameter_mm\n10,38.021\n190,38.020\n";

fn folder(files: &[(&str, &str)]) -> TempDir {
    let folder = TempDir::new().unwrap();
    for (name, text) in files {
        fs::write(folder.path().join(name), text).unwrap();
    }
    folder
}

fn with(settings: &str) -> Trial {
    let folder = folder(&[("trial.toml", settings), ("diameters.csv", LOG)]);
    read_trial(folder.path(), &ReadOptions::default()).unwrap()
}

#[test]
fn every_built_in_set_reads_and_every_value_says_where_it_comes_from() {
    for set in &BUILT_IN {
        let read = read_built_in(set.name).unwrap().unwrap();
        assert_eq!(read.criteria.as_deref(), Some(set.name));
        assert!(read.title.is_some() && read.source.is_some() && !read.limit.is_empty(), "{}", set.name);
        for limit in &read.limit {
            assert!(limit.clause.is_some() && limit.source.is_some() && limit.provenance.is_some(), "{} {:?}", set.name, limit.quantity);
            assert_eq!(limit.criterion.as_deref(), Some(set.name));
            // a perfectly parallel machine conforms to every limit
            assert!(Allowed::of(limit, Some(200.0)).contains(0.0));
        }
        // none was compared with its source, so none is `read`
        assert!(read.limit.iter().all(|limit| limit.provenance == Some(Provenance::FromMemory)), "{}", set.name);
        if set.name.starts_with("iso") {
            assert!(read.title.as_deref().unwrap().contains("remembered"), "never presented as the standard's own text");
        }
    }
    assert!(read_built_in("iso-1708").is_none());
}

/// A report carries what it read: limits that a trial names are read in its folder only.
#[test]
fn criteria_that_lead_out_of_the_folder_are_refused() {
    let limits = "[[limit]]\nquantity = \"taper\"\nlimit_mm = 0.02\n";
    let outer = folder(&[("outside.toml", limits)]);
    let read = |criteria: &str| {
        let trial = outer.path().join("trial");
        fs::create_dir_all(trial.join("limits")).unwrap();
        fs::write(trial.join("diameters.csv"), LOG).unwrap();
        fs::write(trial.join("limits").join("own.toml"), limits).unwrap();
        fs::write(trial.join("trial.toml"), format!("[acceptance]\ncriteria = {criteria:?}\n")).unwrap();
        read_trial(&trial, &ReadOptions::default())
    };
    let outside = outer.path().join("outside.toml").to_string_lossy().into_owned();
    assert_eq!(read("limits/own.toml").unwrap().acceptance.limit.len(), 1, "below the folder is inside it");
    for out in ["../outside.toml", "limits/../../outside", outside.as_str()] {
        let rejected = read(out).unwrap_err();
        let finding = rejected.findings.iter().find(|f| f.code == "criteria-outside").unwrap_or_else(|| panic!("{out}: {rejected:?}"));
        assert!(finding.help.contains("--criteria"), "{finding:?}");
    }
    #[cfg(unix)]
    {
        std::os::unix::fs::symlink(&outside, outer.path().join("trial").join("limits").join("link.toml")).unwrap();
        let rejected = read("limits/link.toml").unwrap_err();
        assert!(rejected.findings.iter().any(|f| f.code == "criteria-outside"), "{rejected:?}");
    }
}

#[test]
fn the_swing_chooses_the_limits() {
    let horizontal = |settings: &str| -> Vec<f64> {
        let trial = with(&format!("{settings}\n[acceptance]\ncriteria = \"ISO-1708-general\"\n"));
        trial.acceptance.limit.iter().filter(|l| l.quantity == Quantity::SpindleParallelismHorizontal).map(|l| l.limit_mm).collect()
    };
    assert_eq!(horizontal("[machine]\ncentre_height_mm = 115.0"), [0.015]);
    assert_eq!(horizontal("[machine]\nswing_mm = 1000.0"), [0.03]);
    assert_eq!(horizontal("[machine]\nname = \"Quay Lathe 3\""), [0.015, 0.03], "an unknown swing leaves none out");
    let trial = with("[machine]\nswing_mm = 3000.0\n[acceptance]\ncriteria = \"iso-1708-general\"\n");
    assert!(trial.acceptance.limit.is_empty() && trial.acceptance.left_out == 12);
    assert!(trial.findings.iter().any(|finding| finding.code == "no-limit-for-swing"));
}

#[test]
fn the_option_takes_the_place_of_the_set_and_the_trials_own_limits_stay() {
    let settings = "[machine]\nswing_mm = 230.0\n[acceptance]\ncriteria = \"iso-1708-general\"\n[[acceptance.limit]]\nquantity = \"taper\"\nlimit_mm = 0.01\n";
    let folder = folder(&[("trial.toml", settings), ("diameters.csv", LOG)]);
    let options = ReadOptions { criteria: Some(CriteriaChoice::asked("common-practice").unwrap()), ..ReadOptions::default() };
    let trial = read_trial(folder.path(), &options).unwrap();
    let from: Vec<Option<&str>> = trial.acceptance.limit.iter().map(|limit| limit.criterion.as_deref()).collect();
    assert_eq!(from, [Some("common-practice"), Some("common-practice"), Some("common-practice"), None]);
    let lone = read_trial(&folder.path().join("diameters.csv"), &options).unwrap();
    assert_eq!(lone.acceptance.limit.len(), 3, "a lone log is judged too");
}

#[test]
fn faults_of_a_criteria_file_have_their_place() {
    let good = "name = \"quay\"\n[[limit]]\nquantity = \"taper\"\nlimit_mm = 0.02\nover_mm = 300\nsense = \"either\"\n";
    for (from, to, code, row, help) in [
        ("over_mm", "ovr_mm", "unknown-key", 5, "over_mm"),
        ("0.02", "-0.02", "not-positive", 4, ""),
        ("either", "upwards", "sense-does-not-fit", 6, "larger-at-headstock"),
        ("\"taper\"", "\"tapr\"", "unknown-word", 3, "taper"),
        ("limit_mm = 0.02\n", "", "missing-key", 3, "limit_mm"),
        ("[[limit]]\nquantity = \"taper\"\nlimit_mm = 0.02\nover_mm = 300\nsense = \"either\"\n", "", "no-limit", 0, "[[limit]]"),
        ("name = \"quay\"\n", "probability = 0.4\n", "probability-out-of-range", 1, "0.95"),
        ("sense", "swing_from_mm = 500\nswing_to_mm = 400\nsense", "swing-order", 6, "smaller"),
    ] {
        let bad = good.replace(from, to);
        let settings = "[machine]\nswing_mm = 230.0\n[acceptance]\ncriteria = \"quay.toml\"\n";
        let folder = folder(&[("trial.toml", settings), ("quay.toml", &bad), ("diameters.csv", LOG)]);
        let rejected = read_trial(folder.path(), &ReadOptions::default()).expect_err(&bad);
        let found =
            rejected.findings.iter().find(|finding| finding.code == code).unwrap_or_else(|| panic!("{code}: {:?}", rejected.findings));
        assert_eq!((found.file.as_deref(), found.row.unwrap_or(0)), (Some("quay.toml"), row), "{found:?}");
        assert!(found.help.contains(help), "{found:?}");
    }
    let folder = folder(&[
        ("trial.toml", "[machine]\nswing_mm = 230.0\n[acceptance]\ncriteria = \"quay.toml\"\n"),
        ("quay.toml", good),
        ("diameters.csv", LOG),
    ]);
    assert_eq!(read_trial(folder.path(), &ReadOptions::default()).unwrap().acceptance.limit.len(), 1);
}

/// Exit status of `report --require-conformity` on a log, with these settings.
fn status(settings: &str, log: &str) -> (i32, String) {
    let folder = folder(&[("trial.toml", settings), ("diameters.csv", log)]);
    let out = folder.path().join("out");
    let mut command = Command::cargo_bin("taperwright").unwrap();
    let ran = command.arg("report").arg(folder.path()).arg("--out").arg(&out).arg("--require-conformity").output().unwrap();
    (ran.status.code().unwrap(), String::from_utf8_lossy(&ran.stderr).into_owned())
}

#[test]
fn the_exit_status_answers() {
    let limit = |mm: f64| format!("[[acceptance.limit]]\nquantity = \"taper\"\nlimit_mm = {mm}\n");
    assert_eq!(status(&limit(0.3), LOG).0, 0);
    let (code, told) = status(&limit(0.003), LOG);
    assert!(code == 1 && told.contains("not proven: taper"), "{told}");
    let (code, told) = status(&limit(0.003), &LOG.replace("38.020", "38.220"));
    assert!(code == 1 && told.contains("does not conform: taper"), "{told}");
    let (code, told) = status("", LOG);
    assert!(code == 1 && told.contains("no limit is judged"), "{told}");
}

/// What page, sheet and terminal say of a value: of one at second hand that nobody compared it, of one that was read that it was.
#[test]
fn a_value_at_second_hand_is_nowhere_called_read() {
    let told = |criteria: &str| -> (String, String) {
        let own = "name = \"own\"\n[[limit]]\nquantity = \"taper\"\nlimit_mm = 0.02\nsource = \"workshop rule 3\"\nprovenance = \"read\"\n";
        let settings = format!("[trial]\npaper = \"acceptance\"\n[machine]\nswing_mm = 230.0\n[acceptance]\ncriteria = \"{criteria}\"\n");
        let folder = folder(&[("trial.toml", &settings), ("own.toml", own), ("diameters.csv", LOG)]);
        let out = folder.path().join("out");
        let ran = Command::cargo_bin("taperwright").unwrap().arg("report").arg(folder.path()).arg("--out").arg(&out).output().unwrap();
        assert_eq!(ran.status.code(), Some(0), "{}", String::from_utf8_lossy(&ran.stderr));
        let pages = fs::read_dir(&out).unwrap().map(|entry| entry.unwrap().path());
        let page = pages.into_iter().find(|path| path.extension().is_some_and(|end| end == "html")).unwrap();
        // the settings that the page carries are packed, its words are not
        (String::from_utf8_lossy(&ran.stdout).into_owned(), fs::read_to_string(page).unwrap())
    };
    let (terminal, page) = told("schlesinger-quoted");
    assert!(terminal.contains("Limits (schlesinger-quoted, values not compared with their source)"), "{terminal}");
    for said in [
        "Values marked † were not compared with their source:",
        "† Value not compared with its source, written down from memory or at second hand",
        "value not compared with its source: written down from memory or at second hand",
        "spindle along carriage (horizontal)&nbsp;†",
    ] {
        assert!(page.contains(said), "{said}");
    }
    assert!(!page.contains("value read there"));
    let (terminal, page) = told("own");
    assert!(terminal.contains("Limits (the file own.toml): "), "{terminal}");
    assert!(page.contains("the file says that its value was read there") && !page.contains("Values marked †") && !page.contains("&nbsp;†"));
}

#[test]
fn criteria_are_listed_and_printed() {
    let run = |arguments: &[&str]| {
        let ran = Command::cargo_bin("taperwright").unwrap().args(arguments).output().unwrap();
        (ran.status.code().unwrap(), String::from_utf8_lossy(&ran.stdout).into_owned())
    };
    let (code, list) = run(&["criteria"]);
    assert!(
        code == 0
            && BUILT_IN.iter().all(|set| list.contains(set.name))
            && list.matches("values not compared with their source").count() == BUILT_IN.len(),
        "{list}"
    );
    assert!(!list.contains("read there"), "{list}");
    let (code, one) = run(&["criteria", "iso-1708-precision"]);
    assert_eq!((code, one.matches("provenance = \"from-memory\"").count()), (0, 8));
    let (code, lines) = run(&["criteria", "--format", "json"]);
    assert_eq!((code, lines.lines().count()), (0, BUILT_IN.len()));
    let first: serde_json::Value = serde_json::from_str(lines.lines().next().unwrap()).unwrap();
    assert_eq!(first["name"], "common-practice");
    assert_eq!(run(&["criteria", "iso-1701"]).0, 2);
    // what is printed is a criteria file
    let folder = folder(&[("mine.toml", &one), ("diameters.csv", LOG)]);
    let (log, file) = (folder.path().join("diameters.csv"), folder.path().join("mine.toml"));
    let trial = read_trial(
        &log,
        &ReadOptions { criteria: Some(CriteriaChoice::asked(&file.to_string_lossy()).unwrap()), ..ReadOptions::default() },
    )
    .unwrap();
    assert_eq!(trial.acceptance.limit.len(), 8);
    assert!(trial.inputs.iter().any(|input| input.file == "mine.toml"), "no path of this machine: {:?}", trial.inputs);
    assert!(Path::new(&file).exists());
}

#[test]
fn photographs_stand_on_the_page_of_a_sale_and_nothing_is_followed_out_of_the_folder() {
    let picture: Vec<u8> = [b"\x89PNG\r\n\x1a\n".as_slice(), &[7; 90]].concat();
    let elsewhere = folder(&[]);
    fs::write(elsewhere.path().join("secret.png"), &picture).unwrap();
    let sale = "[trial]\npurpose = \"sale\"\n[acceptance]\ncriteria = \"common-practice\"\n";
    let folder = folder(&[("trial.toml", sale), ("diameters.csv", LOG), ("notes.jpg", "no picture")]);
    fs::write(folder.path().join("stand.PNG"), &picture).unwrap();
    fs::write(folder.path().join("huge.jpg"), vec![0xff; 3 << 20]).unwrap();
    #[cfg(unix)]
    std::os::unix::fs::symlink(elsewhere.path().join("secret.png"), folder.path().join("link.png")).unwrap();
    let trial = read_trial(folder.path(), &ReadOptions::default()).unwrap();
    let names: Vec<&str> = trial.photographs.iter().map(|picture| picture.file.as_str()).collect();
    assert_eq!(names, ["stand.PNG"]);
    for code in ["not-a-photograph", "photograph-too-large", "photograph-is-a-link"] {
        assert!(cfg!(not(unix)) || trial.findings.iter().any(|finding| finding.code == code), "{code}: {:?}", trial.findings);
    }
    for number in 0..7 {
        fs::write(folder.path().join(format!("many-{number}.png")), &picture).unwrap();
    }
    let many = read_trial(folder.path(), &ReadOptions::default()).unwrap();
    assert!(many.photographs.len() == 6 && many.findings.iter().any(|finding| finding.code == "too-many-photographs"));
    let lost = LeftOut { file: "lost.png".into(), why: WhyLeftOut::Unreadable("no leave".into()) };
    let origin = Origin { source: TrialSource::Folder, left_out: vec![lost], ..Origin::default() };
    let files = [("trial.toml", sale), ("diameters.csv", LOG)].map(|(name, text)| (name.to_owned(), Some(text.as_bytes().to_vec())));
    let again = read_files(&TrialFiles::in_memory(&origin, files.into_iter().collect()), &ReadOptions::default()).unwrap();
    assert!(again.findings.iter().any(|finding| finding.code == "photograph-unreadable" && finding.found.contains("no leave")));
    (0..7).for_each(|number| fs::remove_file(folder.path().join(format!("many-{number}.png"))).unwrap());
    let out = folder.path().join("out");
    let mut command = Command::cargo_bin("taperwright").unwrap();
    assert_eq!(command.args(["report", "--quiet", "--out"]).arg(&out).arg(folder.path()).output().unwrap().status.code(), Some(0));
    let page = fs::read_dir(&out)
        .unwrap()
        .map(|entry| entry.unwrap().path())
        .find(|path| path.extension().is_some_and(|end| end == "html"))
        .unwrap();
    let html = fs::read_to_string(&page).unwrap();
    assert_eq!(html.matches("src=\"data:image/png;base64,").count(), 1);
    // the page is made again from itself, photograph, limits and remarks included; a changed picture is seen
    let verify = |path: &Path| Command::cargo_bin("taperwright").unwrap().arg("verify").arg(path).output().unwrap();
    let told = verify(&page);
    assert_eq!(told.status.code(), Some(0), "{}", String::from_utf8_lossy(&told.stdout));
    let other = out.join("other.html");
    fs::write(&other, html.replace("BwcHBwcH", "BwcHCAcH")).unwrap();
    assert_ne!(fs::read_to_string(&other).unwrap(), html);
    assert_eq!(verify(&other).status.code(), Some(1), "a changed photograph must be seen");
    let plain = sale.replace("sale", "spring check");
    fs::write(folder.path().join("trial.toml"), plain).unwrap();
    assert!(read_trial(folder.path(), &ReadOptions::default()).unwrap().photographs.is_empty(), "no paper, no photographs");
}

/// A file that calls itself as a built-in set goes by its own name, and what it changed is told.
#[test]
fn a_file_cannot_pose_as_a_built_in_set() {
    let built_in = BUILT_IN.iter().find(|set| set.name == "iso-1708-general").unwrap();
    let settings = "[machine]\nswing_mm = 230.0\n[acceptance]\ncriteria = \"mycrit.toml\"\n";
    let read = |text: &str| {
        let folder = folder(&[("trial.toml", settings), ("diameters.csv", LOG), ("mycrit.toml", text)]);
        read_trial(folder.path(), &ReadOptions::default()).unwrap().acceptance
    };
    let forged = built_in.text.replace("from-memory", "read").replace("limit_mm = 0.04", "limit_mm = 0.2").replace("guard-band", "simple");
    let acceptance = read(&forged);
    let file = acceptance.file.unwrap();
    assert_eq!((file.name.as_str(), file.called_as.as_deref(), file.chosen), ("mycrit.toml", Some("iso-1708-general"), false));
    assert_eq!(acceptance.criteria.as_deref(), Some("mycrit.toml"));
    assert!(acceptance.limit.iter().all(|limit| limit.criterion.as_deref() == Some("mycrit.toml")));
    assert!(file.other_rule && !file.unlike.is_empty(), "{file:?}");
    for unlike in &file.unlike {
        assert_eq!((unlike.file.unwrap().limit_mm, unlike.built_in.unwrap().limit_mm), (0.2, 0.04));
    }
    let copy = read(built_in.text).file.unwrap();
    assert!(copy.called_as.is_some() && copy.unlike.is_empty() && !copy.other_rule);
    let level = "[[limit]]\nquantity = \"level-variation\"\nlimit_mm = 0.04\nclause = \"G1 b)\"\nprovenance = \"from-memory\"\nswing_to_mm = 1600.0\n";
    assert!(built_in.text.contains(level));
    assert!(
        read(&built_in.text.replace(level, "")).file.unwrap().unlike.iter().any(|unlike| unlike.file.is_none()),
        "a limit that was left out"
    );
    let own = read(&forged.replace("iso-1708-general", "ours"));
    assert_eq!((own.criteria.as_deref(), own.file.unwrap().called_as), (Some("ours"), None));
    assert_eq!(with("[acceptance]\ncriteria = \"iso-1708-general\"\n").acceptance.file, None);
}
