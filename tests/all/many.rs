//! A folder of trials: runs that are stopped and made again, texts that look like formulas, and what other programs read in the tables.

use assert_cmd::Command;
use parquet::file::reader::{FileReader, SerializedFileReader};
use parquet::record::Field;
use scraper::{Html, Selector};
use std::collections::BTreeMap;
use std::fs;
use std::path::Path;
use std::time::{Duration, Instant};
use tempfile::TempDir;

/// Two stations and one pass: a trial as small as can be.
fn put_trials(folder: &Path, count: usize) {
    for number in 0..count {
        let log = format!("station_mm,diameter_mm\n10,38.02{number}\n190,38.034\n");
        fs::create_dir_all(folder.join("trials")).unwrap();
        fs::write(folder.join(format!("trials/t{number}.csv")), log).unwrap();
    }
}

fn report(folder: &Path, arguments: &[&str]) -> (i32, String, String) {
    let output = Command::cargo_bin("taperwright").unwrap().current_dir(folder).arg("report").args(arguments).output().unwrap();
    let text = |bytes: Vec<u8>| String::from_utf8(bytes).unwrap();
    (output.status.code().unwrap(), text(output.stdout), text(output.stderr))
}

fn files(folder: &Path) -> BTreeMap<String, Vec<u8>> {
    let entries = fs::read_dir(folder).unwrap().map(|entry| entry.unwrap().path());
    entries.map(|path| (path.file_name().unwrap().to_string_lossy().into_owned(), fs::read(&path).unwrap())).collect()
}

/// Whether every finished file in `folder` is whole.
fn half_written(folder: &Path) -> Vec<String> {
    let whole = |name: &str, bytes: &[u8]| match name.rsplit('.').next() {
        Some("json") => serde_json::from_slice::<serde_json::Value>(bytes).is_ok(),
        Some("html") => bytes.trim_ascii_end().ends_with(b"</html>"),
        _ => true,
    };
    files(folder)
        .into_iter()
        .filter(|(name, bytes)| !name.starts_with(".unfinished") && !whole(name, bytes))
        .map(|(name, _)| name)
        .collect()
}

#[test]
fn a_killed_run_leaves_whole_files_and_running_again_completes_the_rest() {
    let place = TempDir::new().unwrap();
    put_trials(place.path(), 8);
    assert_eq!(report(place.path(), &["trials", "--out", "whole", "-q"]).0, 0);
    let mut child = std::process::Command::new(assert_cmd::cargo::cargo_bin("taperwright"))
        .args(["report", "trials", "--out", "killed", "--jobs", "2", "-q"])
        .current_dir(place.path())
        .spawn()
        .unwrap();
    let killed = place.path().join("killed");
    let begun = Instant::now();
    let pages = || if killed.exists() { files(&killed).keys().filter(|name| name.ends_with(".html")).count() } else { 0 };
    while pages() < 2 && begun.elapsed() < Duration::from_secs(120) {
        std::thread::sleep(Duration::from_millis(2));
    }
    child.kill().unwrap();
    child.wait().unwrap();
    assert!(pages() >= 2 && !killed.join("index.html").exists(), "it was stopped half-way: {} pages", pages());
    assert_eq!(half_written(&killed), [] as [&str; 0]);
    fs::write(killed.join(".unfinished-left"), b"{\"half").unwrap();
    assert_eq!(report(place.path(), &["trials", "--out", "killed", "-q"]).0, 0);
    assert!(files(&killed) == files(&place.path().join("whole")), "the second run leaves what one run would have left");

    fs::write(killed.join("t0.json"), b"{\"half").unwrap();
    assert_eq!(half_written(&killed), ["t0.json"], "the comparison sees half a file");
}

/// A limit on the size of files stands in for a full disk: both refuse a write half-way.
#[cfg(unix)]
#[test]
fn a_disk_that_is_full_leaves_whole_files_and_an_index_that_says_so() {
    let place = TempDir::new().unwrap();
    put_trials(place.path(), 2);
    assert_eq!(report(place.path(), &["trials", "--out", "whole", "-q"]).0, 0);
    let sizes: BTreeMap<String, usize> = files(&place.path().join("whole")).into_iter().map(|(name, bytes)| (name, bytes.len())).collect();
    let page = sizes["t0.html"].min(sizes["t1.html"]);
    let room = page / 1024 - 1;
    assert!(sizes["index.html"] / 1024 < room && sizes["t0.json"] / 1024 < room, "the limit lets all but the pages through: {sizes:?}");
    let script = format!("trap '' XFSZ; ulimit -f {room}; exec \"$0\" report trials --out full");
    let output = std::process::Command::new("bash")
        .args(["-c", &script])
        .arg(assert_cmd::cargo::cargo_bin("taperwright"))
        .current_dir(place.path())
        .output()
        .unwrap();
    let err = String::from_utf8(output.stderr).unwrap();
    assert_eq!(output.status.code(), Some(4), "{err}");
    assert!(err.contains("t0.html cannot be written") && err.contains("t1.html cannot be written"), "{err}");
    let full = place.path().join("full");
    let names: Vec<String> = files(&full).into_keys().collect();
    assert_eq!(names, ["index.html", "summary.csv", "summary.parquet"], "no page, no result file without its page, nothing unfinished");
    assert_eq!(half_written(&full), [] as [&str; 0]);
    let index = fs::read_to_string(full.join("index.html")).unwrap();
    assert!(index.contains("0 reported, 2 failed") && !index.contains("href=\"t0.html\""), "no link to a page that is not there");
    assert!(fs::read_to_string(full.join("summary.csv")).unwrap().lines().skip(1).all(|line| line.split(',').nth(1) == Some("failed")));
    assert_eq!(report(place.path(), &["trials", "--out", "full", "-q"]).0, 0);
    assert!(files(&full) == files(&place.path().join("whole")));
}

#[test]
fn texts_like_formulas_are_neutralised_and_numbers_stay_numbers() {
    let place = TempDir::new().unwrap();
    let names = ["=HYPERLINK(1)", "+2", "-1", "@SUM(1)", "plain"];
    for (number, name) in names.iter().enumerate() {
        let folder = place.path().join(format!("trials/{number}"));
        fs::create_dir_all(&folder).unwrap();
        fs::write(folder.join("diameters.csv"), "station_mm,diameter_mm\n10,38.051\n190,38.034\n").unwrap();
        fs::write(folder.join("trial.toml"), format!("[trial]\nname = \"{name}\"\n[machine]\nname = \"{name} lathe\"\n")).unwrap();
    }
    let (status, out, err) = report(place.path(), &["trials", "--out", "pages"]);
    assert_eq!(status, 0, "{err}");
    assert!(out.contains("summary.parquet") && !err.contains('\r'), "no progress in a pipe: {err}");
    let pages = place.path().join("pages");
    let mut table = csv::Reader::from_path(pages.join("summary.csv")).unwrap();
    let heads: Vec<String> = table.headers().unwrap().iter().map(str::to_owned).collect();
    let rows: Vec<csv::StringRecord> = table.records().map(Result::unwrap).collect();
    let column = |name: &str| heads.iter().position(|head| head == name).unwrap();
    assert_eq!(rows.len(), 7 * names.len(), "a row a setting and cause");
    let mut seen: Vec<&str> = rows.iter().map(|row| &row[column("trial")]).collect();
    seen.dedup();
    assert_eq!(seen, ["'=HYPERLINK(1)", "'+2", "'-1", "'@SUM(1)", "plain"]);
    assert!(rows.iter().all(|row| !row.iter().any(|cell| cell.starts_with(['=', '+', '@']))));
    let tapers: Vec<f64> = rows.iter().map(|row| row[column("taper_mm")].parse().unwrap()).collect();
    assert!(tapers.iter().all(|taper| (taper + 0.017).abs() < 1e-9), "a negative number is no text: {tapers:?}");

    // the other file has the texts as they are, and the same numbers
    let packed = SerializedFileReader::new(fs::File::open(pages.join("summary.parquet")).unwrap()).unwrap();
    let packed: Vec<BTreeMap<String, Field>> = packed
        .get_row_iter(None)
        .unwrap()
        .map(|row| row.unwrap().get_column_iter().map(|(name, field)| (name.clone(), field.clone())).collect())
        .collect();
    assert_eq!(packed.len(), rows.len());
    for (row, packed) in rows.iter().zip(&packed) {
        for (name, cell) in heads.iter().zip(row) {
            let agrees = match &packed[name] {
                Field::Null => cell.is_empty(),
                Field::Str(text) => cell == text || cell == format!("'{text}"),
                Field::Long(count) => cell.parse() == Ok(*count),
                Field::Double(number) => cell.parse() == Ok(*number),
                _ => false,
            };
            assert!(agrees, "{name}: {cell} and {:?}", packed[name]);
        }
    }
    assert_eq!(packed[0]["trial"], Field::Str("=HYPERLINK(1)".into()));
}

#[test]
fn the_index_is_whole_without_its_script() {
    let place = TempDir::new().unwrap();
    put_trials(place.path(), 2);
    fs::write(place.path().join("trials/bad.csv"), "station_mm,diameter_mm\n10,38.O21\n").unwrap();
    assert_eq!(report(place.path(), &["trials", "--out", "pages", "-q"]).0, 3);
    let html = fs::read_to_string(place.path().join("pages/index.html")).unwrap();
    let page = Html::parse_document(&html);
    assert!(page.errors.is_empty(), "{:?}", page.errors);
    let all = |selector: &str| page.select(&Selector::parse(selector).unwrap()).collect::<Vec<_>>();
    assert!(all("form[hidden]").len() == 1 && all("th button, [aria-sort]").is_empty(), "what needs the script is made by the script");
    assert_eq!(all("table.sorts").len(), 2, "reported and rejected");
    let (heads, rows) = (all("main section:first-of-type thead th").len(), all("main section:first-of-type tbody tr"));
    assert_eq!(rows.len(), 2);
    assert!(rows.iter().all(|row| row.children().filter(|child| child.value().is_element()).count() == heads), "a cell a column");
    assert!(!html.contains("://") && all("script[src], link, img").is_empty(), "nothing from outside");
    let policy = all("meta[http-equiv='Content-Security-Policy']")[0].attr("content").unwrap();
    assert!(policy.starts_with("default-src 'none'; ") && !policy.contains("script-src 'unsafe"), "{policy}");
}

/// The taper's interval reads in the index as on the trial's own page; a bar cut both ways is marked, one cut one way is not.
#[test]
fn the_index_rounds_as_its_pages_do() {
    let place = TempDir::new().unwrap();
    let samples = Path::new(env!("CARGO_MANIFEST_DIR")).join("sample-data");
    let trials = [("first-move", true), ("notebook-in-inches", false)];
    let paths = trials.map(|(name, _)| samples.join(name).to_string_lossy().into_owned());
    assert_eq!(report(place.path(), &[&paths[0], &paths[1], "--out", "pages", "-q"]).0, 0);
    let parsed = |name: &str| Html::parse_document(&fs::read_to_string(place.path().join("pages").join(name)).unwrap());
    let index = parsed("index.html");
    let texts = |page: &Html, selector: &str| -> Vec<String> {
        page.select(&Selector::parse(selector).unwrap()).map(|found| found.text().collect::<String>()).collect()
    };
    let said =
        |page: &Html, setting: usize, end: usize| texts(page, &format!("#found [data-key='shape.{setting}.taper.interval95.{end}']"));
    let (mut rows, same) = (0, |row: usize, place: usize| {
        texts(&index, &format!("tbody tr:nth-child({row}) [data-page-key={}]", ["low", "high"][place])).concat()
    });
    for (name, both_ways) in trials {
        let page = parsed(&format!("{name}.html"));
        for setting in 0..if both_ways { 2 } else { 1 } {
            rows += 1;
            for end in 0..2 {
                let shown = same(rows, end);
                assert!(
                    said(&page, setting, end).contains(&shown),
                    "{name}, setting {setting}: {shown} is not among {:?}",
                    said(&page, setting, end)
                );
                assert!(!said(&page, setting, end).contains(&format!("{shown}0")), "the comparison accepts anything");
            }
            let marked = texts(&index, &format!("tbody tr:nth-child({rows})")).concat().contains('‡');
            assert_eq!(marked, both_ways, "{name}");
        }
    }
    assert!(texts(&index, "header").concat().contains("limits judge the passes cut to the headstock"));
}
