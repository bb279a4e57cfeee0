//! The guide under `reports/guide`: its commands run, what it quotes is said, its links and pictures are there.

use assert_cmd::Command;
use std::collections::BTreeMap;
use std::fs;
use std::path::{Path, PathBuf};
use taperwright::ingest::sha256_hex;
use tempfile::TempDir;

fn folder() -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).join("reports/guide")
}

fn guide() -> String {
    fs::read_to_string(folder().join("guide.md")).unwrap()
}

/// The fenced blocks: language and lines.
fn blocks(text: &str) -> Vec<(&str, Vec<&str>)> {
    let mut found = Vec::new();
    let mut open: Option<(&str, Vec<&str>)> = None;
    for line in text.lines() {
        match (line.strip_prefix("```"), open.as_mut()) {
            (Some(language), None) => open = Some((language, Vec::new())),
            (Some(_), Some(_)) => found.extend(open.take()),
            (None, Some((_, lines))) => lines.push(line),
            (None, None) => {}
        }
    }
    found
}

/// A line with every number taken out, and the numbers, each with one unit of its last digit.
fn parted(line: &str) -> (String, Vec<(f64, f64)>) {
    let (mut words, mut numbers, mut number) = (String::new(), Vec::new(), String::new());
    for letter in line.replace('−', "-").replace(['\u{a0}', '\u{202f}'], " ").chars().chain(" ".chars()) {
        if letter.is_ascii_digit() || (letter == '.' && !number.is_empty()) {
            number.push(letter);
            continue;
        }
        if !number.is_empty() {
            let whole = number.trim_end_matches('.');
            let decimals = whole.split_once('.').map_or(0, |(_, after)| after.len());
            numbers.push((whole.parse().unwrap(), 0.1_f64.powi(i32::try_from(decimals).unwrap())));
            words.push('#');
            number.clear();
        }
        words.push(letter);
    }
    (words.trim().to_owned(), numbers)
}

/// Whether two lines say the same: the same words, and numbers within a tenth of each other or one unit of the last digit. A quoted line that
/// ends in `…` is the beginning of what is said.
///
/// The tenth lets last digits move with the statistics without the guide telling something else.
fn says_the_same(quoted: &str, said: &str) -> bool {
    let ((words, numbers), (other_words, others)) = (parted(quoted), parted(said));
    let (the_same_words, compared) = match words.strip_suffix('…') {
        Some(beginning) => (other_words.starts_with(beginning.trim_end()), numbers.len()),
        None => (words == other_words, numbers.len().max(others.len())),
    };
    the_same_words
        && compared <= others.len()
        && compared == numbers.len()
        && numbers
            .iter()
            .zip(&others)
            .all(|((one, unit), (other, _))| (one - other).abs() <= (0.1 * one.abs().max(other.abs())).max(*unit) + 1e-12)
}

#[test]
fn the_comparison_of_lines_sees_other_words_and_other_numbers() {
    let line = "  Raise the front foot by 0.083 mm: turn its screw 20° (−0.056 turn).";
    assert!(says_the_same(line, "  Raise the front foot by 0.085 mm: turn its screw 20° (−0.057 turn)."));
    assert!(!says_the_same(line, "  Raise the front foot by 0.095 mm: turn its screw 20° (−0.056 turn)."));
    assert!(says_the_same("  Raise the front foot by 0.08 mm: turn its …", line));
    assert!(!says_the_same("  Raise the front foot by 0.06 mm: turn its …", line));
    assert!(!says_the_same(line, "  Raise the front foot"));
    assert!(!says_the_same(line, "  Raise the rear foot by 0.083 mm: turn its screw 20° (−0.056 turn)."));
    assert!(!says_the_same(line, "  Raise the front foot by 0.083 mm: turn its screw 20° (0.056 turn)."));
}

#[test]
fn its_commands_run_and_say_what_it_quotes() {
    let place = TempDir::new().unwrap();
    for entry in fs::read_dir(folder()).unwrap().map(|entry| entry.unwrap().path()).filter(|path| path.is_file()) {
        fs::copy(&entry, place.path().join(entry.file_name().unwrap())).unwrap();
    }
    let text = guide();
    let (mut said, mut ran, mut quoted) = (String::new(), 0, 0);
    for (language, lines) in blocks(&text) {
        if language == "sh" {
            said.clear();
            for line in lines {
                let words: Vec<&str> = line.split(' ').collect();
                assert_eq!(words[0], "taperwright", "{line}");
                let output = Command::cargo_bin("taperwright").unwrap().current_dir(place.path()).args(&words[1..]).output().unwrap();
                assert_eq!(output.status.code(), Some(0), "{line}: {}", String::from_utf8_lossy(&output.stderr));
                said.push_str(&String::from_utf8_lossy(&output.stdout));
                ran += 1;
            }
        } else if language == "text" {
            for line in lines {
                assert!(said.lines().any(|one| says_the_same(line, one)), "the guide quotes:\n{line}\nbut it was said:\n{said}");
                quoted += 1;
            }
        } else if language == "toml" || language == "csv" {
            let named = lines.join("\n");
            let files =
                ["delivered.toml", "trials/levelled/moves.csv"].map(|file| fs::read_to_string(place.path().join(file)).unwrap_or_default());
            let foreseen = files.iter().any(|file| file.contains(&named))
                || language == "csv" && text.find(&named) < text.find("simulate levelled.toml");
            assert!(foreseen, "{named}");
        }
    }
    assert!(ran >= 10 && quoted >= 8, "{ran} commands, {quoted} lines");
    the_trial_is_what_the_plan_asks_for(place.path(), &text);
    assert_eq!(
        fs::read_to_string(place.path().join("trials/levelled/moves.csv")).unwrap(),
        "from_setting,to_setting,foot,raise_mm\n0,1,tailstock-front,0.083\n",
        "the move that the guide writes down"
    );
    let made = fs::read_to_string(Path::new(env!("CARGO_MANIFEST_DIR")).join("tests/browser/pictures.json")).unwrap();
    let stale = stale_pictures(&made, place.path(), &folder().join("pictures"));
    let advice = "make them again: node tests/browser/pictures.mjs chromium target/debug/taperwright, and look at them";
    assert!(stale.is_empty(), "pictures of the guide are stale: {stale:?}; {advice}");
    // Another word in what a picture shows is seen, and so is another picture.
    let page = place.path().join("reports/delivered.html");
    let html = fs::read_to_string(&page).unwrap();
    fs::write(&page, html.replacen("class=\"lead\">", "class=\"lead\">Perhaps ", 1)).unwrap();
    assert_eq!(stale_pictures(&made, place.path(), &folder().join("pictures")), ["found"]);
    fs::write(&page, html.replacen("<style>", "<style>p { color: red; }", 1)).unwrap();
    assert_eq!(stale_pictures(&made, place.path(), &folder().join("pictures")), ["adjust", "causes", "found"]);
    fs::write(&page, html).unwrap();
    assert_eq!(stale_pictures(&made, place.path(), place.path()).len(), 6);
}

/// The guide says what its plan advises, and the log of its trial has the plan's readings, row by row.
fn the_trial_is_what_the_plan_asks_for(place: &Path, text: &str) {
    let sheet = fs::read_to_string(place.join("plan/delivered-plan.html")).unwrap();
    let lead = part(&sheet, &serde_json::json!(["<p class=\"lead\">", "</p>"])).unwrap();
    let strong: Vec<&str> = lead.split("<strong>").skip(1).filter_map(|rest| rest.split("</strong>").next()).collect();
    assert!(strong.len() >= 2, "{lead}");
    for advised in strong {
        assert!(text.contains(&format!("**{advised}**")), "the plan advises `{advised}`");
    }
    let rows = |file: &str, columns: &[&str]| -> Vec<Vec<String>> {
        let log = fs::read_to_string(place.join(file)).unwrap();
        let mut lines =
            log.lines().filter(|line| !line.starts_with('#')).map(|line| line.split(',').map(str::to_owned).collect::<Vec<_>>());
        let header = lines.next().unwrap();
        let places: Vec<usize> = columns.iter().map(|name| header.iter().position(|one| one == name).unwrap()).collect();
        lines.map(|cells| places.iter().map(|place| cells[*place].clone()).collect()).collect()
    };
    let cut = ["setting", "pass", "direction", "depth_mm", "feed_mm_per_rev", "station_mm", "repeat"];
    let planned = rows("plan/diameters-plan.csv", &cut);
    assert!(planned.len() > 30);
    assert_eq!(planned, rows("trials/delivered/diameters.csv", &cut));
    let level = ["setting", "station_mm", "reversed"];
    assert_eq!(rows("plan/levels-plan.csv", &level), rows("trials/delivered/levels.csv", &level));
}

/// The pictures that were made from something else than the pages below `place` show, or that are not those that were made; `made` is what
/// `tests/browser/pictures.mjs` writes beside them.
fn stale_pictures(made: &str, place: &Path, pictures: &Path) -> Vec<String> {
    let made: BTreeMap<String, serde_json::Value> = serde_json::from_str(made).unwrap();
    let is_stale = |(name, about): &(String, serde_json::Value)| {
        let html = fs::read_to_string(place.join(about["page"].as_str().unwrap())).unwrap();
        let mut parts = vec![serde_json::json!(["<style", "</style>"])];
        parts.extend(about["parts"].as_array().unwrap().iter().cloned());
        let shown: Option<Vec<&str>> = parts.iter().map(|words| part(&html, words)).collect();
        let png = fs::read(pictures.join(format!("{name}.png"))).unwrap_or_default();
        shown.is_none_or(|shown| sha256_hex(shown.join("\n").as_bytes()) != about["shown"].as_str().unwrap())
            || sha256_hex(&png) != about["png"].as_str().unwrap()
    };
    made.into_iter().filter(is_stale).map(|(name, _)| name).collect()
}

/// From the first of some words to the end of the last, looked for one after the other.
fn part<'h>(html: &'h str, words: &serde_json::Value) -> Option<&'h str> {
    let (mut from, mut to) = (None, 0);
    for word in words.as_array()?.iter().map(|word| word.as_str().unwrap()) {
        let at = to + html.get(to..)?.find(word)?;
        from = from.or(Some(at));
        to = at + word.len();
    }
    html.get(from?..to)
}

#[test]
fn its_links_and_pictures_are_there_and_small() {
    let text = guide();
    let anchors: Vec<String> = text
        .lines()
        .filter_map(|line| line.strip_prefix("## "))
        .map(|title| title.to_lowercase().chars().filter(|letter| letter.is_alphanumeric() || " -".contains(*letter)).collect::<String>())
        .map(|title| title.replace(' ', "-"))
        .collect();
    let links: Vec<&str> = text.split("](").skip(1).filter_map(|rest| rest.split(')').next()).collect();
    assert!(links.len() > 15);
    for link in &links {
        let there =
            link.strip_prefix('#').map_or_else(|| folder().join(link).is_file(), |anchor| anchors.iter().any(|known| known == anchor));
        assert!(there, "{link} leads nowhere");
    }
    let mut whole = 0;
    for entry in fs::read_dir(folder().join("pictures")).unwrap() {
        let path = entry.unwrap().path();
        let bytes = fs::read(&path).unwrap();
        let name = format!("pictures/{}", path.file_name().unwrap().to_string_lossy());
        assert!(links.contains(&name.as_str()), "{name} is in no sentence");
        assert!(bytes.starts_with(b"\x89PNG") && bytes.len() < 130_000, "{name}: {} bytes", bytes.len());
        whole += bytes.len();
    }
    assert!(whole < 500_000, "{whole} bytes of pictures");
}

#[test]
fn the_usual_cautions_come_first() {
    let text = guide();
    let (before, _) = text.split_once("\n## 1. ").unwrap();
    for caution in [
        "Isolate the machine",
        "only with the spindle stopped",
        "overhang within what the chuck can hold",
        "Never loosen hold-downs under a machine",
    ] {
        assert!(before.contains(caution), "{caution}");
    }
}

/// A row of the table of units: what stands in the first column, the metric value and the use.
fn unit_row<'t>(text: &'t str, english: &str) -> Option<[&'t str; 2]> {
    let row = text.lines().find_map(|line| line.strip_prefix(&format!("| {english} | ")))?;
    let mut cells = row.trim_end_matches('|').split('|').map(str::trim);
    Some([cells.next()?, cells.next()?])
}

/// Divisions of levels: 1 in/ft is 1000/12 mm/m, and 1 mm/m is 206.265 seconds of arc (arithmetic).
#[test]
fn its_levels_have_the_divisions_that_levels_have() {
    let text = guide();
    for (inches, kind) in [(0.005, "common machinist's level"), (0.0005, "precision (master) level"), (0.00024, "0.02 mm/m")] {
        let [metric, used] = unit_row(&text, &format!("{inches} in/ft")).expect("the row");
        assert!(used.contains(kind) && used.contains("one division"), "{inches}: {used}");
        let (slope, arc) = metric.split_once(" mm/m, ").unwrap();
        let (slope, arc): (f64, f64) = (slope.parse().unwrap(), arc.trim_end_matches('″').parse().unwrap());
        assert!((slope / (inches * 1000.0 / 12.0) - 1.0).abs() < 0.01, "{inches}: {slope}");
        assert!((arc / (inches * 1000.0 / 12.0 * 206.264_8) - 1.0).abs() < 0.01, "{inches}: {arc}");
    }
    assert!(!unit_row(&text, "0.0005 in/ft").unwrap()[1].contains("a machinist's level"));
}

#[test]
fn guide_and_readme_say_where_station_nought_is() {
    let readme = fs::read_to_string(Path::new(env!("CARGO_MANIFEST_DIR")).join("README.md")).unwrap();
    let paper = fs::read_to_string(folder().join("blank-log.html")).unwrap();
    for (name, text) in [("guide", guide()), ("readme", readme), ("paper", paper)] {
        assert!(text.contains("front of the jaws"), "{name}");
    }
    assert!(guide().contains("clear of the jaws"));
    let glossary = guide();
    let row = glossary.lines().find(|line| line.starts_with("| **conforms, ")).unwrap();
    for rule in ["95 % or more", "one side of it is broken with such a probability", "a spread wider than the limits proves nothing"] {
        assert!(row.contains(rule), "{row}");
    }
    let row = glossary.lines().find(|line| line.starts_with("| **station** |")).unwrap();
    assert!(row.contains("front of the jaws"), "{row}");
}
