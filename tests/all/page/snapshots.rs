//! Whole texts of frozen analyses: a change of wording or layout shows as a difference. No number lives only here.

use super::frozen;
use scraper::{Html, Selector};
use taperwright::analysis::Analysis;
use taperwright::report::{PageOptions, Units, page_html, result_json, terminal_summary};

/// The page without pictures and style, and the program's version by name.
fn skeleton(analysis: &Analysis, units: Units) -> String {
    let html = page_html(analysis, &PageOptions { units }).unwrap();
    let without_style = cut(&html, "<style>", "</style>");
    cut(&without_style, "<svg", "</svg>").replace(env!("CARGO_PKG_VERSION"), "VERSION")
}

fn cut(text: &str, from: &str, to: &str) -> String {
    let mut rest = text;
    let mut kept = String::new();
    while let Some(start) = rest.find(from) {
        kept.push_str(&rest[..start]);
        rest = rest[start..].split_once(to).map_or("", |(_, after)| after);
    }
    kept + rest
}

/// What a reader sees of the first section.
fn found_text(analysis: &Analysis, units: Units) -> String {
    let page = Html::parse_document(&page_html(analysis, &PageOptions { units }).unwrap());
    let lines: Vec<String> = page
        .select(&Selector::parse("#found p, #found dt, #found dd, #found li, #found summary").unwrap())
        .map(|element| element.text().collect::<String>().trim().to_owned())
        .collect();
    lines.join("\n")
}

#[test]
fn the_page_of_two_collars() {
    insta::assert_snapshot!(skeleton(&frozen::two_collars(), Units::Millimetre));
}

#[test]
fn the_page_of_two_collars_in_inches() {
    insta::assert_snapshot!(found_text(&frozen::two_collars(), Units::Inch));
}

#[test]
fn what_was_found_in_four_trials() {
    insta::assert_snapshot!("found_both_ways", found_text(&frozen::both_ways(), Units::Millimetre));
    insta::assert_snapshot!("found_all_equal", found_text(&frozen::all_equal(), Units::Millimetre));
    insta::assert_snapshot!("found_long_bar", found_text(&frozen::long_bar(), Units::Millimetre));
    insta::assert_snapshot!("found_two_settings", found_text(&frozen::two_settings(), Units::Inch));
}

#[test]
fn the_terminal_summaries() {
    let all: String = [frozen::both_ways(), frozen::two_collars(), frozen::all_equal(), frozen::long_bar(), frozen::two_settings()]
        .iter()
        .map(|analysis| terminal_summary(analysis, Units::Millimetre))
        .collect();
    insta::assert_snapshot!(all);
}

#[test]
fn the_result_file_of_two_collars() {
    insta::assert_snapshot!(result_json(&frozen::two_collars()).replace(env!("CARGO_PKG_VERSION"), "VERSION"));
}

#[test]
fn the_picture_of_two_collars() {
    let html = page_html(&frozen::two_collars(), &PageOptions::default()).unwrap();
    let page = Html::parse_document(&html);
    insta::assert_snapshot!(page.select(&Selector::parse("#diameters svg").unwrap()).next().unwrap().html());
}

#[test]
fn the_same_analysis_makes_the_same_bytes() {
    let page = || page_html(&frozen::long_bar(), &PageOptions::default()).unwrap();
    assert_eq!(page(), page());
}

/// Writes the frozen pages into the folder named by `PAGES_INTO` (`target/pages`), to look at them: `cargo test write_pages -- --ignored`.
#[test]
#[ignore = "writes files for a human to look at"]
fn write_pages() {
    let folder = std::path::PathBuf::from(std::env::var_os("PAGES_INTO").unwrap_or_else(|| "target/pages".into()));
    std::fs::create_dir_all(&folder).unwrap();
    let analyses = [frozen::both_ways(), frozen::two_collars(), frozen::all_equal(), frozen::long_bar(), frozen::two_settings()];
    for analysis in analyses.into_iter().chain(frozen::all_live()) {
        for units in [Units::Millimetre, Units::Inch] {
            let html = page_html(&analysis, &PageOptions { units }).unwrap();
            std::fs::write(folder.join(format!("{}-{units:?}.html", analysis.trial.identity.name)), html).unwrap();
        }
    }
}
