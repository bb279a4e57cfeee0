//! Pages that are none of ours, or made to do harm.

use super::{judged, page, with_record};
use assert_cmd::Command;
use base64::Engine as _;
use base64::engine::general_purpose::STANDARD;
use proptest::prelude::*;
use std::fs;
use taperwright::ingest::pack;
use taperwright::report::Carried;
use taperwright::verify::{FileState, Refusal, compare_numbers, differences};
use tempfile::TempDir;

#[test]
fn what_is_no_report_is_refused_with_a_reason() {
    for text in ["", "<!doctype html><title>x</title>", "\u{0}\u{1}", "<template id=\"carried\">", "<template id=\"carried\">{}</template>"]
    {
        assert!(matches!(judged(text), Err(Refusal::NotAReport(_))), "{text}");
    }
    let twice = format!("{0}{0}", page());
    assert!(matches!(judged(&twice), Err(Refusal::NotAReport(_))), "two records");
    let layout = with_record(page(), |record| record.layout = "taperwright-carried/2".into());
    assert!(matches!(judged(&layout), Err(Refusal::NotAReport(why)) if why.contains("carried/2")));
    let greedy = with_record(page(), |record| record.draws = 2_000_000_000);
    assert!(matches!(judged(&greedy), Err(Refusal::NotAReport(_))));
    let many = with_record(page(), |record| record.files = vec![record.files[0].clone(); 5_000]);
    assert!(matches!(judged(&many), Err(Refusal::NotAReport(_))));
}

#[test]
fn a_stream_that_swells_is_cut_off_at_the_stated_size() {
    let blanks = pack(&vec![b' '; 1 << 20], 1 << 20).unwrap();
    assert!(blanks.len() < 10_000);
    let swollen = with_record(page(), |record| record.files[1].packed = Some(STANDARD.encode(&blanks)));
    let verdict = judged(&swollen).unwrap();
    assert!(!verdict.agrees);
    assert_eq!(verdict.files[1].state, FileState::Damaged);
    for bytes in [1 << 40, u64::MAX] {
        let greedy = with_record(page(), |record| record.files.iter_mut().for_each(|file| file.bytes = bytes));
        assert!(matches!(judged(&greedy), Err(Refusal::NotAReport(_))), "{bytes}");
    }
}

#[test]
fn a_page_cannot_ask_for_files_outside_the_folder_of_logs() {
    let place = TempDir::new().unwrap();
    fs::create_dir(place.path().join("logs")).unwrap();
    fs::write(place.path().join("secret.csv"), "station_mm,diameter_mm\n10,38.0\n190,38.1\n").unwrap();
    let asking = with_record(page(), |record| {
        for (file, name) in record.files.iter_mut().zip(["../secret.csv", "/etc/hostname", "..", "logs/"]) {
            (file.packed, file.file) = (None, name.into());
        }
    });
    fs::write(place.path().join("page.html"), &asking).unwrap();
    let before: Vec<_> = fs::read_dir(place.path()).unwrap().map(|entry| entry.unwrap().file_name()).collect();
    let output = Command::cargo_bin("taperwright")
        .unwrap()
        .current_dir(place.path())
        .args(["verify", "page.html", "--logs", "logs"])
        .output()
        .unwrap();
    assert_eq!(output.status.code(), Some(3), "{}", String::from_utf8_lossy(&output.stdout));
    let said = String::from_utf8_lossy(&output.stderr).into_owned();
    assert!(said.contains("--logs") && said.contains("../secret.csv"), "{said}");
    let after: Vec<_> = fs::read_dir(place.path()).unwrap().map(|entry| entry.unwrap().file_name()).collect();
    assert_eq!(before, after, "nothing is written");
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 60, failure_persistence: None, ..ProptestConfig::default() })]

    #[test]
    fn a_page_cut_or_garbled_differs_and_never_panics(place in 0.0..1.0_f64, garbage in "[<>\"&/a-z0-9{}\\u{0}]{1,12}", cut in any::<bool>()) {
        let page = page();
        let mut at = (place * page.len() as f64) as usize;
        while !page.is_char_boundary(at) {
            at -= 1;
        }
        let garbled = if cut { page[..at].to_owned() } else { format!("{}{garbage}{}", &page[..at], &page[at..]) };
        prop_assert!(!differences(&garbled, page).is_empty());
        let _ = compare_numbers(&garbled, page);
        let _ = Carried::on_page(&garbled);
    }

    #[test]
    fn a_garbled_record_is_refused_or_another(place in 0.0..1.0_f64, garbage in "[\"a-z0-9{}:,]{1,3}") {
        let (before, rest) = page().split_once("<template id=\"carried\">").unwrap();
        let (text, after) = rest.split_once("</template>").unwrap();
        let at = (place * text.len() as f64) as usize;
        let garbled = format!("{before}<template id=\"carried\">{}{garbage}{}</template>{after}", &text[..at], &text[at..]);
        prop_assert_ne!(Carried::on_page(&garbled).ok(), Carried::on_page(page()).ok());
    }
}
