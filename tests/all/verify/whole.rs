//! Whole runs: report, then verify, in temporary folders.

use assert_cmd::Command;
use std::fs;
use std::path::Path;
use taperwright::ingest::sha256_hex;
use taperwright::report::{Carried, shown_photograph};
use tempfile::TempDir;

const LOG: &str = "station_mm,diameter_mm\n10,38.021\n100,38.027\n190,38.034\n";

fn run(place: &Path, arguments: &[&str], input: Option<&str>) -> (i32, String, String) {
    let mut command = Command::cargo_bin("taperwright").unwrap();
    command.current_dir(place).args(arguments);
    if let Some(input) = input {
        command.write_stdin(input);
    }
    let output = command.output().unwrap();
    let text = |bytes: &[u8]| String::from_utf8_lossy(bytes).into_owned();
    (output.status.code().unwrap(), text(&output.stdout), text(&output.stderr))
}

fn put(place: &Path, path: &str, text: &str) {
    let path = place.join(path);
    fs::create_dir_all(path.parent().unwrap()).unwrap();
    fs::write(path, text).unwrap();
}

/// The example reports, by the names of their files.
fn example_pages() -> Vec<String> {
    let reports = Path::new(env!("CARGO_MANIFEST_DIR")).join("reports");
    let names = fs::read_dir(&reports).unwrap().map(|entry| entry.unwrap().file_name().to_string_lossy().into_owned());
    let mut pages: Vec<String> =
        names.filter(|name| name.ends_with(".html") && !matches!(name.as_str(), "index.html" | "history.html")).collect();
    pages.sort();
    assert!(pages.len() > 10);
    pages
}

/// `verify` must agree on these example reports.
fn agree(pages: &[String]) {
    let reports = Path::new(env!("CARGO_MANIFEST_DIR")).join("reports");
    let place = TempDir::new().unwrap();
    for page in pages {
        fs::copy(reports.join(page), place.path().join(page)).unwrap();
    }
    let arguments: Vec<&str> = ["verify"].into_iter().chain(pages.iter().map(String::as_str)).collect();
    let (status, out, err) = run(place.path(), &arguments, None);
    assert_eq!((status, err.as_str()), (0, ""), "{out}");
    assert_eq!(out.matches(": agrees.").count(), pages.len(), "{out}");
    assert!(out.contains("not whether the logs are true"));
}

#[test]
fn example_reports_agree_with_what_they_carry() {
    agree(&["notebook-in-inches.html".to_owned(), "headstock-only.html".to_owned()]);
}

/// All of them: `.ci/run` does this with the program itself.
#[test]
#[ignore = "takes half a minute in an unoptimised build: every report once more"]
fn every_example_report_agrees_with_what_it_carries() {
    agree(&example_pages());
}

/// That a page is what its files give is shown by the comparison of the example reports; that these files are the samples' own, here.
#[test]
fn every_example_report_carries_the_files_of_its_sample() {
    let root = Path::new(env!("CARGO_MANIFEST_DIR"));
    for page in example_pages() {
        let html = fs::read_to_string(root.join("reports").join(&page)).unwrap();
        let record = Carried::on_page(&html).unwrap();
        assert_eq!((record.seed, record.draws, record.version.as_str()), (1, 100_000, env!("CARGO_PKG_VERSION")), "{page}");
        assert!(record.files.len() > 1, "{page}");
        let mut below = vec![root.join("sample-data")];
        let folder = loop {
            let folder = below.pop().unwrap_or_else(|| panic!("no sample of {page}"));
            if folder.file_name().unwrap().to_string_lossy() == record.origin.name {
                break folder;
            }
            below.extend(fs::read_dir(folder).unwrap().map(|entry| entry.unwrap().path()).filter(|path| path.is_dir()));
        };
        for file in &record.files {
            let bytes = fs::read(folder.join(&file.file)).unwrap();
            let carried = file.unpacked().or_else(|| shown_photograph(&html, &file.file));
            assert_eq!(carried.as_deref(), Some(bytes.as_slice()), "{page}: {}", file.file);
            assert_eq!((file.sha256.as_str(), file.bytes), (sha256_hex(&bytes).as_str(), bytes.len() as u64), "{page}: {}", file.file);
        }
    }
}

#[test]
fn pages_of_every_kind_of_input_are_made_again_whatever_the_place() {
    let place = TempDir::new().unwrap();
    let place = place.path();
    put(place, "trials/spring/diameters.csv", LOG);
    put(place, "trials/spring/notes.csv", "not,a,log\n");
    put(place, "trials/spring/trial.toml", "[trial]\nnotes = \"</template><b>&amp; 'x' \\\"y\\\"\"\n[acceptance]\ncriteria = \"ours\"\n");
    put(
        place,
        "trials/spring/ours.toml",
        "name = \"ours\"\ntitle = \"t\"\nsource = \"s\"\n[[limit]]\nquantity = \"taper\"\nlimit_mm = 0.02\nover_mm = 300.0\n",
    );
    put(place, "trials/inches.csv", "station,diameter\n1,1.5001\n7,1.5004\n");
    let arguments = ["report", "trials", "--out", "pages", "--log-units", "in", "--seed", "7", "--units", "in", "--jobs", "2", "-q"];
    let (status, _, err) = run(place, &arguments, None);
    assert_eq!(status, 0, "{err}");
    put(place, "elsewhere/trial.toml", "");
    put(place, "elsewhere/log.csv", LOG);
    assert_eq!(run(place, &["report", "elsewhere/log.csv", "-q", "--out", "pages"], None).0, 0);
    assert_eq!(run(place, &["report", "-", "-q", "--out", "pages"], Some(LOG)).0, 0);

    // the logs are gone and the pages lie elsewhere
    fs::remove_dir_all(place.join("trials")).unwrap();
    fs::remove_dir_all(place.join("elsewhere")).unwrap();
    fs::rename(place.join("pages"), place.join("moved")).unwrap();
    for page in ["spring", "inches", "log", "standard-input"] {
        let (status, out, err) = run(place, &["verify", &format!("moved/{page}.html"), "--format", "json"], None);
        assert_eq!((status, err.as_str(), out.lines().count()), (0, "", 1), "{page}: {out}");
        let said: serde_json::Value = serde_json::from_str(&out).unwrap();
        assert_eq!((&said["verdict"]["agrees"], &said["verdict"]["compared"]), (&true.into(), &"bytes".into()), "{out}");
    }
    let (status, _, err) = run(place, &["verify", "moved/index.html", "gone.html"], None);
    assert_eq!(status, 3);
    assert!(err.contains("index.html: not a report") && err.contains("gone.html: not a report"), "{err}");
}

#[test]
fn a_difference_is_told_and_exits_with_one() {
    let place = TempDir::new().unwrap();
    let place = place.path();
    put(place, "spring.csv", LOG);
    assert_eq!(run(place, &["report", "spring.csv", "-q"], None).0, 0);
    let page = fs::read_to_string(place.join("reports/spring.html")).unwrap();
    let bent = page.replacen("data-key=\"shape.0.taper.value\">0.0", "data-key=\"shape.0.taper.value\">0.1", 1).replace("</td>", " </td>");
    assert_ne!(bent, page);
    put(place, "bent.html", &bent);
    let (status, out, err) = run(place, &["verify", "bent.html"], None);
    assert_eq!((status, err.as_str()), (1, ""), "{out}");
    assert!(out.contains("bent.html: differs in ") && out.contains("shape.0.taper.value, under “What was found”"), "{out}");
    assert!(out.lines().count() < 25 && out.contains(" more\n"), "{out}");
}

#[test]
fn a_log_too_large_to_be_carried_is_supplied_from_a_folder() {
    let place = TempDir::new().unwrap();
    let place = place.path();
    // a comment of letters without a pattern, which hardly packs, makes the log large
    let mut state = 1_u64;
    let mut letter = || {
        state = state.wrapping_mul(6_364_136_223_846_793_005).wrapping_add(1_442_695_040_888_963_407);
        char::from(b'0' + (state >> 58) as u8)
    };
    let comment: String = (0..1_600_000).map(|_| letter()).collect();
    let log = format!("# {comment}\n{LOG}");
    put(place, "logs/large.csv", &log);
    let (status, _, err) = run(place, &["report", "logs/large.csv", "-q"], None);
    assert_eq!(status, 0, "{err}");
    let page = fs::read_to_string(place.join("reports/large.html")).unwrap();
    assert!(page.contains("--logs"), "the page says that its log must be supplied");
    let (status, _, err) = run(place, &["verify", "reports/large.html"], None);
    assert_eq!(status, 3);
    assert!(err.contains("large.csv") && err.contains("--logs"), "{err}");
    let (status, out, err) = run(place, &["verify", "reports/large.html", "--logs", "logs"], None);
    assert_eq!((status, err.as_str()), (0, ""), "{out}");
    assert!(out.contains("large.csv (supplied)"), "{out}");
    put(place, "logs/large.csv", &log.replacen("38.021", "38.022", 1));
    let (status, out, _) = run(place, &["verify", "reports/large.html", "--logs", "logs"], None);
    assert_eq!(status, 1);
    assert!(out.contains("the file large.csv that was supplied is not the one that was reported"), "{out}");
}
