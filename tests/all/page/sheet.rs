//! The sheet for signing: what a buyer doubts is answered there, and only where it is so.

use scraper::{Html, Selector};
use std::path::Path;
use taperwright::analysis::{Analysis, Options, analyse};
use taperwright::ingest::{ReadOptions, read_trial};
use taperwright::report::{PageOptions, Units, page_html};
use taperwright::trial::{CriteriaFile, Direction, LimitStated, Prior, Provenance, Quantity, Sense, Trial, UnlikeBuiltIn};

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

/// The words of one section of the page.
fn section(analysis: &Analysis, selector: &str, units: Units) -> String {
    let page = Html::parse_document(&page_html(analysis, &PageOptions { units }).unwrap());
    let text: String = page.select(&Selector::parse(selector).unwrap()).flat_map(|element| element.text()).collect();
    text.split_whitespace().collect::<Vec<_>>().join(" ")
}

#[test]
fn what_could_mislead_whoever_signs_stands_on_the_sheet_and_by_the_limits() {
    let options = Options { monte_carlo_draws: 0, ..Options::default() };
    let mut analysis = analyse(trial(), options);
    let whole = sheet(&analysis).unwrap();
    for unsaid in ["Limits from the file", "The settings change a prior", "Nothing is known of the bar", "not in the log"] {
        assert!(!whole.contains(unsaid), "{unsaid}: {whole}");
    }
    // limits from a file that calls itself as a built-in set
    let stated = |limit_mm| LimitStated { limit_mm, over_mm: Some(300.0), sense: Sense::LargerAtHeadstock, floor_mm: 0.005 };
    analysis.trial.acceptance.file = Some(CriteriaFile {
        name: "mycrit.toml".into(),
        called_as: Some("iso-1708-general".into()),
        unlike: vec![UnlikeBuiltIn { quantity: Quantity::Taper, file: Some(stated(0.2)), built_in: Some(stated(0.04)) }],
        ..CriteriaFile::default()
    });
    analysis.trial.prior = Prior { yaw_mm_per_m: 0.0001, ..Prior::default() };
    for selector in ["#sheet", "#limits"] {
        let text = section(&analysis, selector, Units::Millimetre);
        let lead = "Limits from the file mycrit.toml supplied with the trial, not a built-in set. It calls itself by the name of the built-in set iso-1708-general and has other limits:";
        let place = text.find(lead).unwrap_or_else(|| panic!("{selector}: {text}"));
        assert!(text.find("ISO 1708:1989").is_none_or(|source| source > place), "whose limits they are comes first: {text}");
        assert!(text.contains("taper: 0.200 mm over 300 mm") && text.contains("built in: 0.040 mm over 300 mm"), "{selector}: {text}");
        let prior = "The settings change a prior: yaw_mm_per_m (headstock out of line: standard deviation of its yaw) is 0.0001 mm/m, not 0.08, the default.";
        assert!(text.contains(prior), "{selector}: {text}");
    }
}

#[test]
fn untested_stretches_and_missing_passes_are_named() {
    let options = Options { monte_carlo_draws: 0, ..Options::default() };
    let log = |stations: &[f64], passes: &[u32]| {
        let folder = tempfile::TempDir::new().unwrap();
        let settings = "[trial]\npurpose = \"sale\"\n[bar]\nlength_mm = 220.0\ndiameter_mm = 45.0\n";
        let rows = passes.iter().flat_map(|pass| stations.iter().map(move |station| format!("{pass},{station},45.01\n")));
        std::fs::write(folder.path().join("trial.toml"), settings).unwrap();
        std::fs::write(folder.path().join("diameters.csv"), format!("pass,station_mm,diameter_mm\n{}", rows.collect::<String>())).unwrap();
        analyse(read_trial(folder.path(), &ReadOptions::default()).unwrap(), options)
    };
    let short = log(&[10.0, 35.0, 60.0], &[1, 3, 5]);
    let text = sheet(&short).unwrap();
    assert!(text.contains("Nothing is known of the bar from 60 mm to 220 mm: no diameter was read there."), "{text}");
    assert!(text.contains("Passes 2, 4 are not in the log: deleted, or never measured"), "{text}");
    let inches = section(&short, "#sheet", Units::Inch);
    assert!(inches.contains("Nothing is known of the bar from 2.362 in to 8.661 in"), "{inches}");
    let holes = sheet(&log(&[100.0, 110.0, 225.0 - 5.0], &[1])).unwrap();
    assert!(holes.contains("from 0 mm to 100 mm") && !holes.contains("from 110 mm to 220 mm"), "110 of 220 mm is half: {holes}");
    let wide = sheet(&log(&[10.0, 20.0, 210.0], &[1, 2])).unwrap();
    assert!(wide.contains("from 20 mm to 210 mm") && !wide.contains("from 0 mm"), "{wide}");
    let sound = sheet(&log(&[10.0, 110.0, 205.0], &[1, 2])).unwrap();
    assert!(!sound.contains("Nothing is known") && !sound.contains("not in the log"), "{sound}");
}
