use super::{judged, page, with_record};
use base64::Engine as _;
use base64::engine::general_purpose::STANDARD;
use taperwright::ingest::{pack, sha256_hex};
use taperwright::verify::{Difference, FileState, differences};

/// `text` with its first digit raised by one.
fn raised(text: &str) -> String {
    let place = text.find(|letter: char| letter.is_ascii_digit()).expect("a digit");
    let digit = text.as_bytes()[place] - b'0';
    format!("{}{}{}", &text[..place], (digit + 1) % 10, &text[place + 1..])
}

/// `page` with the first digit after `after`, from `from` on, raised by one.
fn tampered(page: &str, from: &str, after: &str) -> String {
    let start = page.find(from).unwrap_or_else(|| panic!("no {from}"));
    let place = start + page[start..].find(after).unwrap_or_else(|| panic!("no {after}")) + after.len();
    format!("{}{}", &page[..place], raised(&page[place..]))
}

fn only(page: &str, made: &str) -> Difference {
    let mut found = differences(page, made);
    assert_eq!(found.len(), 1, "{found:#?}");
    found.remove(0)
}

#[test]
fn a_digit_changed_anywhere_is_one_difference_with_its_place() {
    let made = page();
    assert_eq!(differences(made, made), []);

    let number = only(&tampered(made, "class=\"lead\"", "data-key=\"shape.0.taper.value\">"), made);
    assert_eq!(number.key.as_deref(), Some("shape.0.taper.value"));
    assert_eq!(number.place, "under “What was found”, in the words");
    assert_ne!(number.page, number.logs);

    let attribute = only(&tampered(made, "class=\"lead\"", "<data value=\""), made);
    assert_eq!(attribute.place, "under “What was found”, in the words, attribute value");
    assert_eq!(attribute.key.as_deref(), Some("shape.0.taper.value"));

    let both = tampered(&tampered(made, "class=\"lead\"", "<data value=\""), "class=\"lead\"", "data-key=\"shape.0.taper.value\">");
    assert_eq!(only(&both, made).key.as_deref(), Some("shape.0.taper.value"), "a number whose text and value are changed is told once");

    let table = only(&tampered(made, "<caption>Diameters in the log", "<td class=\"n\">"), made);
    assert!(table.place.contains("in the table “Diameters in the log") && table.place.contains("row “"), "{}", table.place);

    let drawing = only(&tampered(made, "<svg", " d=\"M"), made);
    assert!(drawing.place.contains("in the drawing “") && drawing.place.ends_with("attribute d"), "{}", drawing.place);

    let words = only(&made.replacen("Measure only with the spindle stopped", "Measure only with the spindle turning", 1), made);
    assert!(words.place.contains("in the words"), "{}", words.place);
    assert!(words.page.is_some_and(|text| text.contains("turning")) && words.logs.is_some_and(|text| text.contains("stopped")));

    let style = only(&tampered(made, "<style>", "max-width: "), made);
    assert_eq!(style.place, "in the style sheet");
}

#[test]
fn what_is_added_or_taken_away_is_named() {
    let made = page();
    let caution = made.find("<li>Isolate").unwrap();
    let end = caution + made[caution..].find("</li>").unwrap() + 5;
    let without = format!("{}{}", &made[..caution], &made[end..]);
    let lost = differences(&without, made);
    assert_eq!(lost.len(), 1, "{lost:#?}");
    assert_eq!(lost[0].page, None);
    let added = made.replacen("<li>", "<li>The lathe is as new.</li><li>", 1);
    let gained = differences(&added, made);
    assert_eq!(gained.len(), 1, "{gained:#?}");
    assert!(gained[0].page.as_deref().is_some_and(|text| text.contains("as new")) && gained[0].logs.is_none());
    let crlf = made.replace('\n', "\r\n");
    assert_eq!(only(&crlf, made).place, "in its line ends");
}

#[test]
fn a_page_made_again_from_what_it_carries_shows_what_was_altered() {
    let page = page();
    let sound = judged(page).unwrap();
    assert!(sound.agrees && sound.differences.is_empty() && sound.numbers > 60, "{sound:#?}");
    assert!(sound.files.iter().all(|file| file.state == FileState::Carried));

    let hash = only(&tampered(page, "<code class=\"hash\">", ">"), page);
    assert!(hash.place.contains("in the table “Files that were read”"), "{hash:?}");
}

#[test]
fn an_altered_log_is_named_with_the_figures_that_it_changes() {
    let page = page();
    let alter = |packed: &mut Option<String>| {
        let bytes = taperwright::ingest::unpack(&STANDARD.decode(packed.as_ref().unwrap()).unwrap(), 1 << 20).unwrap();
        let text = String::from_utf8(bytes).unwrap();
        let last = text.rfind("42.").unwrap();
        let altered = format!("{}{}", &text[..last], text[last..].replacen("42.0", "42.1", 1));
        assert_ne!(altered, text);
        *packed = pack(altered.as_bytes(), 1 << 20).map(|packed| STANDARD.encode(packed));
        altered
    };
    let log = |page: &taperwright::report::Carried| page.files.iter().position(|file| file.file == "diameters.csv").unwrap();
    let altered = judged(&with_record(page, |record| {
        let place = log(record);
        alter(&mut record.files[place].packed);
    }))
    .unwrap();
    assert!(!altered.agrees);
    assert!(altered.differences[0].place.starts_with("the file diameters.csv that the page carries is not the one that was reported"));
    assert!(altered.differences.iter().any(|each| each.key.as_deref() == Some("shape.0.taper.value")), "{:#?}", altered.differences);

    // whoever mends the hash in the record too still meets the page's own hash and figures
    let rehashed = judged(&with_record(page, |record| {
        let place = log(record);
        let text = alter(&mut record.files[place].packed);
        record.files[place].sha256 = sha256_hex(text.as_bytes());
    }))
    .unwrap();
    assert!(rehashed.differences.iter().any(|each| each.place.contains("Files that were read")), "{:#?}", rehashed.differences);
    assert!(rehashed.differences.iter().any(|each| each.key.as_deref() == Some("shape.0.taper.value")));

    let hash = judged(&with_record(page, |record| record.files[0].sha256 = raised(&record.files[0].sha256))).unwrap();
    assert_eq!(hash.differences.len(), 1, "{:#?}", hash.differences);
    assert_eq!(hash.files[0].state, FileState::Altered);

    let damaged = judged(&with_record(page, |record| record.files[1].packed = Some("AAAA".into()))).unwrap();
    assert!(!damaged.agrees);
    assert_eq!(damaged.files[1].state, FileState::Damaged);
}
