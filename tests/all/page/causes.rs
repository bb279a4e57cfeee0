//! The section on causes: what a machinist sees first, what stands in the picture, and that nothing is lost on the way.

use super::frozen;
use super::frozen_causes::{Story, tell};
use scraper::{Html, Selector};
use taperwright::analysis::Analysis;
use taperwright::causes::{CauseKind, Verdict};
use taperwright::quantities::Interval;
use taperwright::report::{PageOptions, Units, page_html, terminal_summary};

fn page(analysis: &Analysis, units: Units) -> Html {
    Html::parse_document(&page_html(analysis, &PageOptions { units }).unwrap())
}

fn texts(page: &Html, selector: &str) -> Vec<String> {
    let tidy = |text: String| text.split_whitespace().collect::<Vec<_>>().join(" ");
    page.select(&Selector::parse(selector).unwrap()).map(|element| tidy(element.text().collect())).collect()
}

fn story(story: Story) -> Analysis {
    let mut analysis = frozen::both_ways();
    (analysis.causes, analysis.confounded, analysis.balance) = (Vec::new(), Vec::new(), Vec::new());
    tell(&mut analysis, 0, story);
    analysis
}

/// The rule of each headline: see the table of words on the page.
#[test]
fn the_headline_names_bed_headstock_or_tool_or_says_that_it_cannot() {
    let strong = |told: Story| texts(&page(&story(told), Units::Millimetre), "#found .lead.cause strong");
    assert_eq!(strong(Story::Bed), ["It is the bed"]);
    assert_eq!(strong(Story::CannotTell), ["This log cannot tell the headstock from the bed"]);
    // the tailstock makes the other end larger than it was measured to be
    assert_eq!(strong(Story::Tailstock), ["It is the bending under the cut"]);
    let lead = texts(&page(&story(Story::Tailstock), Units::Millimetre), "#found .lead.cause");
    assert!(lead[0].contains(". The tailstock works against it: "), "{lead:?}");
    let mut turned = story(Story::Tailstock);
    for shape in &mut turned.shape {
        let whole = std::iter::once(&mut shape.taper.interval95).chain(shape.by_direction.iter_mut().map(|row| &mut row.interval95));
        whole.for_each(|interval| *interval = Interval { low: -interval.high, high: -interval.low });
        shape.taper.value = -shape.taper.value;
        shape.by_direction.iter_mut().for_each(|row| row.value = -row.value);
    }
    let lead = texts(&page(&turned, Units::Millimetre), "#found .lead.cause");
    assert!(lead[0].starts_with("It is the tailstock and the bending under the cut: ") && !lead[0].contains("against it"), "{lead:?}");
    assert_eq!(strong(Story::Nothing), ["None of the causes looked for is large enough to matter here"]);
    assert_eq!(strong(Story::Open), ["This log cannot tell"]);
}

#[test]
fn the_headline_follows_the_verdicts_and_nothing_else() {
    let mut analysis = story(Story::Bed);
    analysis.causes[1].verdict = Verdict::NotSettled;
    let lead = texts(&page(&analysis, Units::Millimetre), "#found .lead.cause");
    assert!(lead[0].starts_with("This log cannot tell. No cause is shown to be large enough"), "{lead:?}");
    analysis.causes[0].verdict = Verdict::Present;
    let lead = texts(&page(&analysis, Units::Millimetre), "#found .lead.cause");
    assert!(lead[0].starts_with("It is the headstock"), "{lead:?}");
}

/// Worn ways lead, and the page says what their straight part hides; without them it says no such thing.
#[test]
fn worn_ways_come_first_and_warn_of_their_straight_part() {
    let mut analysis = story(Story::Bed);
    let warns = |lead: &[String]| lead[0].contains("do not set the bed by it");
    assert!(!warns(&texts(&page(&analysis, Units::Millimetre), "#found .lead.cause")));
    let ways = analysis.causes.iter_mut().find(|c| c.cause == CauseKind::WayWear).unwrap();
    ways.verdict = Verdict::Present;
    let lead = texts(&page(&analysis, Units::Millimetre), "#found .lead.cause");
    assert!(lead[0].starts_with("It is the wear of the ways and the bed"), "{lead:?}");
    assert!(warns(&lead), "{lead:?}");
}

#[test]
fn a_cause_at_work_in_a_bar_without_taper_is_not_called_its_reason() {
    let mut analysis = frozen::all_equal();
    (analysis.causes, analysis.confounded, analysis.balance) = (Vec::new(), Vec::new(), Vec::new());
    tell(&mut analysis, 0, Story::Bed);
    let lead = texts(&page(&analysis, Units::Millimetre), "#found .lead.cause");
    assert!(lead[0].starts_with("No taper shows over the whole length, but the bed is at work"), "{lead:?}");
}

#[test]
fn every_cause_has_its_verdict_and_reason_and_those_ruled_out_are_compact() {
    for told in [Story::Bed, Story::CannotTell, Story::Tailstock, Story::Nothing, Story::Open] {
        let analysis = story(told);
        let page = page(&analysis, Units::Millimetre);
        let terms = texts(&page, "#causes dl.checks dt");
        let out = analysis.causes.iter().filter(|cause| cause.verdict == Verdict::NotApplicable).count();
        assert_eq!(terms.len() + out, 7);
        assert!(terms.iter().all(|term| ["present", "too small to matter", "not settled"].iter().any(|word| term.ends_with(word))));
        assert_eq!(page.select(&Selector::parse("#causes p.small strong").unwrap()).count(), out);
        for cause in &analysis.causes {
            let reason = &cause.reason[1..];
            assert!(texts(&page, "#causes").concat().contains(reason), "{reason}");
        }
        assert!(texts(&page, "#causes").concat().contains("what was not detected is not thereby fine"));
    }
}

/// Where no cause was estimated the page says so and explains no verdict.
#[test]
fn causes_that_were_not_estimated_are_not_explained() {
    let mut analysis = story(Story::Bed);
    for cause in &mut analysis.causes {
        (cause.verdict, cause.reason) = (Verdict::NotSettled, "the log has more passes than the joint estimate takes".into());
        (cause.contribution_um, cause.peak_um, cause.material_probability, cause.presence_probability) = (None, None, None, None);
    }
    (analysis.confounded, analysis.balance) = (Vec::new(), Vec::new());
    let said = texts(&page(&analysis, Units::Millimetre), "#causes").concat();
    assert!(said.contains("The causes were not estimated: the log has more passes than the joint estimate takes."), "{said}");
    assert!(!said.contains("Too small to matter") && !said.contains("what was not detected"), "{said}");
}

/// Neighbouring stations that were taken together are told as what they are, in the page's unit; a log of many readings has its thousands apart.
#[test]
fn a_joined_log_says_how_wide_a_stretch_is() {
    let mut analysis = story(Story::Bed);
    let fit = analysis.predictions.first_mut().unwrap();
    (fit.total, fit.means, fit.stretch_mm) = (1_000_000, true, Some(0.080_12));
    analysis.evidence[0].readings = 1_000_000;
    let said = |units| texts(&page(&analysis, units), "main").concat();
    assert!(said(Units::Millimetre).contains("means of the readings of one pass in a stretch of 0.080 mm are drawn and listed"));
    assert!(said(Units::Inch).contains("in a stretch of 0.0031 in are drawn and listed"));
    assert!(texts(&page(&analysis, Units::Millimetre), "#causes td").contains(&"1 000 000".to_owned()));
}

#[test]
fn a_group_is_bracketed_and_its_sum_has_a_mark_of_its_own() {
    let count = |analysis: &Analysis, selector: &str| page(analysis, Units::Millimetre).select(&Selector::parse(selector).unwrap()).count();
    let analysis = story(Story::CannotTell);
    assert_eq!(count(&analysis, "#causes .broad svg g.together"), 1);
    assert_eq!(count(&analysis, "#causes .broad svg g.cause"), 5);
    assert_eq!(count(&analysis, "#causes .broad svg g.sum"), 1);
    assert_eq!(count(&analysis, "#causes .broad svg g.measured"), 1);
    assert_eq!(count(&story(Story::Bed), "#causes .broad svg g.together"), 0);
    let group = texts(&page(&analysis, Units::Millimetre), "#causes > ul li");
    assert_eq!(
        group,
        [
            "Headstock out of line and twisted bed together make the bar 0.0194 mm larger at the tailstock end, give or take 0.0027 mm; this log cannot split them."
        ]
    );
}

/// The numbers beside the picture add up as shown: causes without group sums to the sum of the balance.
#[test]
fn the_numbers_beside_the_picture_add_up() {
    for told in [Story::Bed, Story::CannotTell, Story::Tailstock, Story::Nothing] {
        let page = page(&story(told), Units::Millimetre);
        let last = |selector: &str| -> Vec<f64> {
            page.select(&Selector::parse(selector).unwrap())
                .map(|group| {
                    let text = group.select(&Selector::parse("text").unwrap()).last().unwrap().text().collect::<String>();
                    text.replace('\u{2212}', "-").parse().unwrap()
                })
                .collect()
        };
        let (parts, sum) = (last("#causes .broad svg g.cause"), last("#causes .broad svg g.sum"));
        assert!((parts.iter().sum::<f64>() - sum[0]).abs() <= 0.05 * parts.len() as f64 + 0.05, "{parts:?} {sum:?}");
        assert!((parts.iter().sum::<f64>() + 1.0 - sum[0]).abs() > 0.05 * parts.len() as f64 + 0.05, "a sum that is 1 µm off is noticed");
    }
}

#[test]
fn a_balance_that_does_not_close_is_said() {
    let sentences = texts(&page(&story(Story::Bed), Units::Millimetre), "#causes > p");
    let about = |start: &str| sentences.iter().find(|sentence| sentence.starts_with(start)).unwrap().clone();
    assert!(about("Do they add up?").ends_with("the causes account for it."));
    assert!(about("Of passes cut to the tailstock").ends_with("something that is not in the model moves the diameters."));
}

#[test]
fn the_latest_setting_comes_first_and_the_others_in_a_table() {
    let page = page(&frozen::two_settings(), Units::Millimetre);
    let headings = texts(&page, "#causes h3");
    assert_eq!(headings.first().map(String::as_str), Some("Setting 1, the latest"));
    assert_eq!(headings.last().map(String::as_str), Some("Earlier settings"));
    assert_eq!(page.select(&Selector::parse("#causes .broad svg").unwrap()).count(), 1);
}

#[test]
fn the_terminal_has_one_line_about_causes() {
    let summary = terminal_summary(&frozen::two_collars(), Units::Millimetre);
    let lines: Vec<&str> = summary.lines().filter(|line| line.contains("cannot tell the headstock from the bed")).collect();
    assert_eq!(lines.len(), 1, "{summary}");
    assert!(lines[0].contains("a level along the bed"), "{summary}");
}

#[test]
fn refused_evidence_is_named_with_its_reason() {
    let told = texts(&page(&frozen::both_ways(), Units::Millimetre), "#causes td.told");
    assert_eq!(told.len(), 2);
    assert!(told[0].contains("tool wear: ± 9.4 µm without it, ± 0.6 µm with it"), "{told:?}");
    assert!(told[1].starts_with("Not evidence: A bar just turned"), "{told:?}");
}

#[test]
fn a_prior_that_the_settings_changed_is_marked() {
    let mut analysis = frozen::both_ways();
    analysis.trial.prior.wear_um_per_m = 3.5;
    let rows = texts(&page(&analysis, Units::Millimetre), "#method tbody tr");
    let marked: Vec<&String> = rows.iter().filter(|row| row.contains("settings, default")).collect();
    assert_eq!(marked.len(), 1);
    assert!(marked[0].starts_with("wear_um_per_m") && marked[0].contains("3.5") && marked[0].ends_with("default 12"), "{marked:?}");
}

#[test]
fn wear_and_warming_known_only_together_are_the_tool_when_their_sum_matters() {
    let mut analysis = story(Story::CannotTell);
    analysis.confounded[0].causes = vec![CauseKind::ToolWear, CauseKind::ThermalDrift];
    let strong = |analysis: &Analysis| texts(&page(analysis, Units::Millimetre), "#found .lead.cause strong");
    assert_eq!(strong(&analysis), ["It is the tool"]);
    analysis.confounded[0].sum_um.interval95.low = 3.9;
    assert_eq!(strong(&analysis), ["This log cannot tell the wear of the tool from the warming of the tool"]);
    analysis.confounded[0].sum_um.interval95.low = -0.1;
    assert_eq!(strong(&analysis), ["This log cannot tell"]);
}
