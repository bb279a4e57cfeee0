//! The section on the next move: one large sentence, cautions beside it, what the moves taught, the settings so far.

use super::frozen;
use super::frozen_correction::{advised, settled, tailstock};
use scraper::{Html, Selector};
use taperwright::analysis::Analysis;
use taperwright::causes::CauseKind;
use taperwright::conformity::Decision;
use taperwright::correction::{Judged, Reason};
use taperwright::report::{PageOptions, Units, page_html, terminal_summary};

fn page(analysis: &Analysis, units: Units) -> Html {
    Html::parse_document(&page_html(analysis, &PageOptions { units }).unwrap())
}

fn texts(page: &Html, selector: &str) -> Vec<String> {
    let tidy = |text: String| text.split_whitespace().collect::<Vec<_>>().join(" ");
    page.select(&Selector::parse(selector).unwrap()).map(|element| tidy(element.text().collect())).collect()
}

#[test]
fn the_next_move_is_one_large_sentence() {
    let lead = |analysis: &Analysis, units: Units| texts(&page(analysis, units), "#next-move .lead.move");
    assert_eq!(
        lead(&advised(), Units::Millimetre),
        [
            "Lower the front foot at the tailstock end by 0.156 mm: turn its screw 37.5° anticlockwise seen from above (0.104 turn). Then cut and measure again."
        ]
    );
    assert!(lead(&advised(), Units::Inch)[0].contains("by 6.14 thou: turn its screw 37.5°"), "{:?}", lead(&advised(), Units::Inch));
    assert!(lead(&tailstock(), Units::Millimetre)[0].starts_with("Set the tailstock over by 0.009 mm to the front, leave the feet alone"));
    assert!(lead(&settled(), Units::Millimetre)[0].starts_with("Nothing to adjust"));
    let mut interim = advised();
    interim.correction.as_mut().unwrap().interim = true;
    assert!(lead(&interim, Units::Millimetre)[0].starts_with("For the time being, lower the front foot"));
    assert!(texts(&page(&frozen::two_settings(), Units::Millimetre), "#next-move").is_empty(), "no advice, no section");
}

#[test]
fn cautions_stand_beside_every_move_and_only_there() {
    for analysis in [advised(), tailstock()] {
        let note = texts(&page(&analysis, Units::Millimetre), "#next-move [role=note]").join(" ");
        for caution in [
            "Isolate the machine",
            "Support the machine",
            "never loosen hold-downs",
            "slacken the nut of that foot’s hold-down",
            "tighten it again before anything is measured",
            "feet must be seated",
            "same torque",
            "measure again",
            "own manual",
        ] {
            assert!(note.contains(caution), "{caution} is missing: {note}");
        }
    }
    assert!(texts(&page(&settled(), Units::Millimetre), "#next-move [role=note]").is_empty());
}

/// “Lies inside the limit” is said only where that is decided, and the probability beside it is that of the limits.
#[test]
fn not_proven_is_not_told_as_inside() {
    let judged = |decision: Decision, probability: f64| {
        let mut analysis = settled();
        let correction = analysis.correction.as_mut().unwrap();
        (correction.probability_in_tolerance, correction.judged) = (Some(0.967), Some(Judged { place: 0, decision, probability }));
        texts(&page(&analysis, Units::Millimetre), "#next-move .lead.move, #next-move dd").join(" | ")
    };
    let proven = judged(Decision::Conforms, 0.981);
    assert!(proven.starts_with("Nothing to adjust: the taper lies inside the limit. |") && proven.contains("98 %"), "{proven}");
    let open = judged(Decision::NotProven, 0.934);
    assert!(
        open.starts_with("Nothing to adjust for now: the best estimate lies inside the limit, though it is not proven (93 %)."),
        "{open}"
    );
    assert!(open.matches("93 %").count() == 2 && !open.contains("97 %"), "{open}");
    let mut usual = settled();
    usual.correction.as_mut().unwrap().window.assumed = true;
    assert!(!texts(&page(&usual, Units::Millimetre), "#next-move .lead.move")[0].contains("inside the limit"));
}

/// Where nothing is moved because causes are not told apart, the sentence names them and no others.
#[test]
fn what_keeps_the_feet_still_is_named() {
    let mut analysis = settled();
    let correction = analysis.correction.as_mut().unwrap();
    (correction.reason, correction.open) =
        (Reason::CausesNotSeparated, vec![CauseKind::BedTwist, CauseKind::ToolWear, CauseKind::Deflection]);
    assert_eq!(
        texts(&page(&analysis, Units::Millimetre), "#next-move .lead.move"),
        ["Move nothing yet: this log cannot tell the bed, the wear of the tool and the bending under the cut apart."]
    );
}

/// The terminal has the caution in a line beside everything that is to be moved, feet without a description included, and nowhere else.
#[test]
fn the_terminal_cautions_beside_every_move() {
    let mut described = settled();
    described.correction.as_mut().unwrap().feet_to_turn = true;
    for analysis in [advised(), tailstock(), described] {
        let lines = terminal_summary(&analysis, Units::Millimetre);
        for caution in ["isolate the machine", "never loosen hold-downs under an unsupported machine", "manual"] {
            assert!(lines.contains(caution), "{caution}: {lines}");
        }
        assert!(!texts(&page(&analysis, Units::Millimetre), "#next-move [role=note]").is_empty());
    }
    assert!(!terminal_summary(&settled(), Units::Millimetre).contains("Caution"));
}

#[test]
fn what_the_moves_taught_is_told_with_its_interval() {
    let learned = texts(&page(&advised(), Units::Millimetre), "#next-move > p").join(" ");
    assert!(
        learned.contains(
            "A whole turn of a foot changes the taper by 0.18 mm (95 % interval 0.14 mm to 0.23 mm), learned from the moves so far"
        ),
        "{learned}"
    );
    assert!(learned.contains("Of a move at a foot, the share 0.71 (95 % interval 0.55 to 0.88) reaches the bed as twist."), "{learned}");
    let mut unlearned = advised();
    unlearned.correction.as_mut().unwrap().gain = None;
    let learned = texts(&page(&unlearned, Units::Millimetre), "#next-move > p").join(" ");
    assert!(learned.contains("so far only what feet and beds usually do") && !learned.contains("reaches the bed as twist"), "{learned}");
}

#[test]
fn the_settings_so_far_are_drawn_and_tabled_with_the_move_between() {
    let page = page(&advised(), Units::Millimetre);
    let points = Selector::parse("#next-move figure svg g.setting").unwrap();
    let limit = Selector::parse("#next-move figure svg g.limit").unwrap();
    assert_eq!((page.select(&points).count(), page.select(&limit).count()), (2, 1));
    let rows = texts(&page, "#next-move tbody tr");
    assert_eq!(rows.len(), 2, "{rows:?}");
    let moved = texts(&page, "#next-move tbody td.words");
    assert_eq!(moved, ["–", "from setting 0: rear foot at the tailstock end up 0.300 mm"]);
    let mut single = advised();
    single.shape.truncate(1);
    single.correction.as_mut().unwrap().setting = 0;
    let page = Html::parse_document(&page_html(&single, &PageOptions::default()).unwrap());
    assert_eq!(page.select(&points).count(), 0, "one setting has no history");
}

#[test]
fn a_probability_is_never_a_certainty() {
    let facts = |in_tolerance: f64| {
        let mut analysis = advised();
        analysis.correction.as_mut().unwrap().probability_in_tolerance = Some(in_tolerance);
        texts(&page(&analysis, Units::Millimetre), "#next-move dl dd").remove(1)
    };
    assert_eq!([facts(0.964), facts(1.0), facts(0.0)], ["96 %", "above 99 %", "below 1 %"]);
}

/// The price of an interim move is told in the page's unit.
#[test]
fn an_interim_move_tells_its_price_in_inches() {
    let folder = std::path::Path::new(env!("CARGO_MANIFEST_DIR")).join("sample-data/chuck-both-ways");
    let trial = taperwright::ingest::read_trial(&folder, &Default::default()).unwrap();
    let options = taperwright::analysis::Options { monte_carlo_draws: 0, ..Default::default() };
    let analysis = taperwright::analysis::analyse(trial, options);
    let why = |units: Units| texts(&page(&analysis, units), "#next-move").join(" ");
    assert!(why(Units::Millimetre).contains(" (mm/m)/m to hide another cause"), "{}", why(Units::Millimetre));
    assert!(
        !why(Units::Inch).contains("(mm/m)/m") && why(Units::Inch).contains(" (in/ft)/ft to hide another cause"),
        "{}",
        why(Units::Inch)
    );
}

/// A number of a sentence is converted and then rounded; rounded in millimetres first, 0.0203 mm would be 0.787 thou.
#[test]
fn a_page_in_inches_rounds_once() {
    let folder = std::path::Path::new(env!("CARGO_MANIFEST_DIR")).join("sample-data/notebook-in-inches");
    let trial = taperwright::ingest::read_trial(&folder, &Default::default()).unwrap();
    let options = taperwright::analysis::Options { monte_carlo_draws: 0, ..Default::default() };
    let analysis = taperwright::analysis::analyse(trial, options);
    let why = texts(&page(&analysis, Units::Inch), "#next-move").join(" ");
    let correction = analysis.correction.as_ref().unwrap();
    let length = analysis.shape[0].tested_length.length / 25.4;
    assert!((length - 7.0).abs() < 1e-9 && why.contains("over the 7 in tested"), "{why}");
    let thou = |value_mm: f64| format!("{:.2} thou", (value_mm / 0.0254).abs());
    let taper = correction.present.value;
    assert_ne!(thou(taper), thou((1e3 * taper).round() / 1e3), "a value that shows the difference");
    let now = format!("All logs together make the taper {} larger at the tailstock end", thou(taper));
    assert!(why.contains(&now), "{now}: {why}");
    assert!(why.contains(&format!("give or take {};", thou(2.0 * correction.present.standard_uncertainty))), "{why}");
    assert!(!why.contains("(mm/m)/m"), "{why}");
    // the same sentence in millimetres stays as it was
    assert!(correction.why.contains("mm larger at the tailstock end, give or take") && !correction.why.contains('\u{91}'));
}
