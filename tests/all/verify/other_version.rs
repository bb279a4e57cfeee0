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
fn a_page_of_another_version_is_compared_by_its_printed_numbers() {
    let page = page();
    let old = earlier(page);
    let verdict = judged(&old).unwrap();
    assert!(verdict.agrees, "{:#?}", verdict.differences);
    assert_eq!((verdict.compared, verdict.made_by.as_str(), verdict.version), (Compared::Numbers, "0.0.7", env!("CARGO_PKG_VERSION")));
    assert!(verdict.numbers > 60);

    let key = "data-key=\"shape.0.taper.value\">0.0";
    assert!(old.contains(key));
    let digit = compare_numbers(&old.replacen(key, "data-key=\"shape.0.taper.value\">0.1", 1), page);
    assert_eq!(digit.differences.len(), 1);
    assert_eq!(digit.differences[0].key.as_deref(), Some("shape.0.taper.value"));

    let stripped = judged(&old.replace("data-key=", "data-was=")).unwrap();
    assert!(!stripped.agrees && stripped.numbers == 0, "a page without numbers shows nothing");

    let posing = judged(&with_record(page, |record| record.version = "0.0.7".into())).unwrap();
    assert!(!posing.agrees, "a page that only says so in what it carries");
    assert!(posing.differences[0].place.contains("version"));
}

#[test]
fn numbers_are_found_by_key_wherever_they_stand() {
    let made = "<p><data value=\"0.0123\" data-key=\"a\">0.012</data> and <data value=\"0.0123\" data-key=\"a\">0.0123</data>, <data value=\"2\" data-key=\"b\">2</data></p>";
    let moved = "<ul><li><data value=\"2\" data-key=\"b\">2</data><li><data value=\"0.0123\" data-key=\"a\">0.012</data></ul>";
    let outcome = compare_numbers(moved, made);
    assert_eq!((outcome.compared, outcome.differences.len()), (2, 0));
    for (from, to) in [("\">2<", "\">3<"), ("value=\"0.0123\"", "value=\"0.0124\""), (">0.012<", ">0.013<")] {
        assert_eq!(compare_numbers(&moved.replace(from, to), made).differences.len(), 1, "{to}");
    }
    let other = compare_numbers(&moved.replace("\"b\"", "\"c\""), made);
    assert_eq!((other.compared, other.only_on_page, other.only_from_logs), (1, 1, 1));
}
