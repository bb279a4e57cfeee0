use super::{judged, page, with_record};
use taperwright::verify::{Compared, compare_numbers};

/// The page as if an earlier version had made it.
fn earlier(page: &str) -> String {
    let now = env!("CARGO_PKG_VERSION");
    let page = with_record(page, |record| record.version = "0.0.7".into());
    page.replace(&format!("taperwright {now}"), "taperwright 0.0.7")
        .replace("Measure only with the spindle stopped", "Measure with the spindle stopped")
}

#[test]
fn a_page_of_another_version_is_compared_by_its_printed_numbers_and_never_agrees() {
    let page = page();
    let old = earlier(page);
    let verdict = judged(&old).unwrap();
    assert!(verdict.differences.is_empty(), "{:#?}", verdict.differences);
    assert!(!verdict.agrees, "its words are not compared");
    assert_eq!((verdict.compared, verdict.made_by.as_str(), verdict.version), (Compared::Numbers, "0.0.7", env!("CARGO_PKG_VERSION")));
    let why = verdict.cannot_vouch.unwrap();
    assert!(
        why.starts_with("made by version 0.0.7: this version") && why.ends_with("cannot vouch for its words; use that version"),
        "{why}"
    );
    assert!(verdict.numbers > 60);
    assert_eq!(judged(page).unwrap().cannot_vouch, None);

    let key = "data-key=\"shape.0.taper.value\">0.0";
    assert!(old.contains(key));
    let digit = compare_numbers(&old.replacen(key, "data-key=\"shape.0.taper.value\">0.1", 1), page);
    assert_eq!(digit.differences.len(), 1);
    assert_eq!(digit.differences[0].key.as_deref(), Some("shape.0.taper.value"));

    let stripped = judged(&old.replace("data-key=", "data-was=").replace("data-page-key=", "data-was=")).unwrap();
    assert!(!stripped.agrees && stripped.numbers == 0, "a page without numbers shows nothing");

    let posing = judged(&with_record(page, |record| record.version = "0.0.7".into())).unwrap();
    assert!(!posing.agrees, "a page that only says so in what it carries");
    assert!(posing.differences[0].place.contains("version"));
}

/// Who changes the version, strips a number of its key and writes another, is found out by the number that the page lacks.
#[test]
fn a_number_without_its_key_is_lacking() {
    let old = earlier(page());
    let start = old.find("<data value=\"").unwrap();
    let (tag, rest) = (&old[start..], old[start..].find("</data>").unwrap());
    let shown = tag[..rest].split_once('>').unwrap().1;
    let forged = old.replacen(&tag[..rest + "</data>".len()], "\u{2212}0.0001", 1);
    assert!(!shown.is_empty() && forged != old);
    let verdict = judged(&forged).unwrap();
    assert_eq!(verdict.differences.len(), 1, "{:#?}", verdict.differences);
    let lacking = &verdict.differences[0];
    assert!(lacking.key.is_some() && lacking.page.is_none() && lacking.logs.as_deref().is_some_and(|logs| logs.starts_with(shown)));
}

#[test]
fn the_command_says_which_version_to_use_and_exits_with_one() {
    let place = tempfile::TempDir::new().unwrap();
    let run = |page: &str, format: &str| {
        std::fs::write(place.path().join("page.html"), page).unwrap();
        let mut command = assert_cmd::Command::cargo_bin("taperwright").unwrap();
        let output = command.current_dir(place.path()).args(["verify", "page.html", "--format", format]).output().unwrap();
        (output.status.code(), String::from_utf8(output.stdout).unwrap())
    };
    let old = earlier(page());
    let (status, told) = run(&old, "text");
    assert_eq!(status, Some(1), "{told}");
    assert!(told.contains("made by version 0.0.7: this version") && told.contains("none differs") && !told.contains("agree"), "{told}");
    let (status, told) = run(&old.replacen("data-key=\"shape.0.taper.value\">0.0", "data-key=\"shape.0.taper.value\">0.1", 1), "json");
    let said: serde_json::Value = serde_json::from_str(&told).unwrap();
    assert_eq!((status, &said["verdict"]["agrees"]), (Some(1), &false.into()));
    assert!(said["verdict"]["cannot_vouch"].as_str().is_some_and(|why| why.contains("use that version")), "{told}");
    assert_eq!(said["verdict"]["differences"][0]["key"], "shape.0.taper.value");
    assert_eq!(run(page(), "text").0, Some(0));
}

#[test]
fn numbers_are_found_by_key_wherever_they_stand() {
    let made = "<p><data value=\"0.0123\" data-key=\"a\">0.012</data> and <data value=\"0.0123\" data-key=\"a\">0.0123</data>, <data value=\"2\" data-key=\"b\">2</data> <data value=\"7\" data-page-key=\"c\">7</data></p>";
    let moved = "<ul><li><data value=\"7\" data-page-key=\"c\">7</data><li><data value=\"2\" data-key=\"b\">2</data><li><data value=\"0.0123\" data-key=\"a\">0.0123</data><li><data value=\"0.0123\" data-key=\"a\">0.012</data></ul>";
    let outcome = compare_numbers(moved, made);
    assert_eq!((outcome.compared, outcome.differences.len()), (4, 0));
    for (from, to) in [("\">2<", "\">3<"), ("value=\"0.0123\"", "value=\"0.0124\""), (">0.012<", ">0.013<"), (">7<", ">8<")] {
        assert_eq!(compare_numbers(&moved.replacen(from, to, 1), made).differences.len(), 1, "{to}");
    }
    // printed once where the logs give it twice, and the other way round
    let once = moved.replacen("<data value=\"0.0123\" data-key=\"a\">0.0123</data>", "0.0125", 1);
    let (less, more) = (compare_numbers(&once, made), compare_numbers(made, &once));
    assert_eq!((less.differences.len(), more.differences.len()), (1, 1));
    assert!(less.differences[0].page.is_none() && more.differences[0].logs.is_none());
    // a key of one page only
    let other = compare_numbers(&moved.replace("\"b\"", "\"d\""), made);
    assert_eq!((other.compared, other.only_on_page, other.only_from_logs, other.differences.len()), (3, 1, 1, 2));
    let keys: Vec<&str> = other.differences.iter().filter_map(|each| each.key.as_deref()).collect();
    assert_eq!(keys, ["d", "b"], "both are named");
}
