//! The sheet for signing: what a buyer doubts is answered there, and only where it is so.

use scraper::{Html, Selector};
use std::path::Path;
use taperwright::analysis::{Analysis, Options, analyse};
use taperwright::ingest::{ReadOptions, read_trial};
use taperwright::report::{PageOptions, Units, page_html};
use taperwright::trial::{Direction, Provenance, Trial};

fn trial() -> Trial {
    read_trial(&Path::new(env!("CARGO_MANIFEST_DIR")).join("sample-data/lathe-3-for-sale"), &ReadOptions::default()).unwrap()
}

/// The words of the sheet; `None` when the page has none.
fn sheet(analysis: &Analysis) -> Option<String> {
    let page = Html::parse_document(&page_html(analysis, &PageOptions { units: Units::Millimetre }).unwrap());
    let text: String = page.select(&Selector::parse("#sheet").unwrap()).next()?.text().collect();
    Some(text.split_whitespace().collect::<Vec<_>>().join(" "))
}

const BOTH_WAYS: &str = "That is the mean of both directions of cut.";
const REMEMBERED: &str = "Value not compared with its source, written down from memory or at second hand";

#[test]
fn the_sheet_answers_what_a_buyer_doubts() {
    let options = Options { monte_carlo_draws: 0, ..Options::default() };
    let mut analysis = analyse(trial(), options);
    let text = sheet(&analysis).unwrap();
    for wanted in [
        "Quay Lathe 3, serial number SQ-03", // which machine
        "SQM-7",                             // with what
        "SQ-C-118",
        "2026-02-03",
        "workshop volunteer",                              // who
        "They were measured from 2026-09-12T09:24",        // when
        "with the reason “swarf under the anvil”",         // what was left out and why
        BOTH_WAYS,                                         // two tapers on one sheet, told apart
        "Height of the tailstock, not tested.",            // what was not tested
        "Not looked at in any test of this kind: run-out", // nor ever is
        REMEMBERED,                                        // whose limits
        "measure only with the spindle stopped",           // cautions
        "Seller",
        "Buyer",
    ] {
        assert!(text.contains(wanted), "{wanted}: {text}");
    }
    // What is not so is not said.
    analysis.trial.acceptance.limit.iter_mut().for_each(|limit| limit.provenance = Some(Provenance::Read));
    analysis.conformity.iter_mut().for_each(|judged| judged.provenance = Some(Provenance::Read));
    assert!(!sheet(&analysis).unwrap().contains(REMEMBERED));
    analysis.trial.identity.purpose = Some("yearly check".to_owned());
    assert!(!sheet(&analysis).unwrap().contains("Buyer"), "an acceptance that is no sale has neither");
    analysis.trial.identity.paper = None;
    assert_eq!(sheet(&analysis), None);

    let mut one_way = trial();
    one_way.diameters.retain(|reading| reading.direction == Direction::ToHeadstock);
    assert!(!sheet(&analyse(one_way, options)).unwrap().contains(BOTH_WAYS));
}
