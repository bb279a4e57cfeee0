//! The page as a document: whole, self-contained, and readable without seeing it.

use super::{frozen, frozen_correction};
use scraper::{ElementRef, Html, Selector};
use std::collections::BTreeSet;
use std::sync::OnceLock;
use taperwright::analysis::Analysis;
use taperwright::report::{PageOptions, Units, page_html};

/// The pages, made once: millimetres and inches in turn.
fn pages() -> Vec<(&'static str, Html)> {
    static MADE: OnceLock<Vec<String>> = OnceLock::new();
    let made = MADE.get_or_init(|| {
        let mut analyses: Vec<Analysis> = vec![
            frozen::both_ways(),
            frozen::two_collars(),
            frozen::long_bar(),
            frozen::all_equal(),
            frozen::two_settings(),
            frozen_correction::advised(),
        ];
        analyses.extend(frozen::all_live());
        let units = [Units::Millimetre, Units::Inch].into_iter().cycle();
        analyses.iter().zip(units).map(|(analysis, units)| page_html(analysis, &PageOptions { units }).unwrap()).collect()
    });
    made.iter().map(|html| (html.as_str(), Html::parse_document(html))).collect()
}

fn all<'a>(page: &'a Html, selector: &str) -> Vec<ElementRef<'a>> {
    page.select(&Selector::parse(selector).unwrap()).collect()
}

#[test]
fn it_parses_without_an_error() {
    for (_, page) in pages() {
        assert!(page.errors.is_empty(), "{:?}", page.errors);
    }
    assert!(!Html::parse_document("<!doctype html><p><table><p></table>").errors.is_empty(), "the parser reports errors");
}

#[test]
fn it_needs_nothing_from_outside() {
    for (html, page) in pages() {
        assert!(all(&page, "script, link, img, iframe, object, embed, base, form, audio, video").is_empty());
        assert!(!html.contains("@import") && !html.contains("url("));
        assert!(!html.contains("://"), "an address");
        let policy = all(&page, "meta[http-equiv='Content-Security-Policy']");
        assert_eq!(
            policy[0].attr("content"),
            Some("default-src 'none'; base-uri 'none'; form-action 'none'; style-src 'unsafe-inline'; img-src data:")
        );
        for link in all(&page, "[href]") {
            assert!(link.attr("href").unwrap().starts_with('#'));
        }
    }
}

#[test]
fn headings_are_in_order_and_landmarks_are_there() {
    for (_, page) in pages() {
        let levels: Vec<u32> =
            all(&page, "h1, h2, h3, h4, h5, h6").iter().map(|heading| heading.value().name()[1..].parse().unwrap()).collect();
        assert_eq!(levels[0], 1);
        assert_eq!(levels.iter().filter(|level| **level == 1).count(), 1);
        assert!(levels.windows(2).all(|pair| pair[1] <= pair[0] + 1), "{levels:?}");
        for landmark in ["header", "main", "footer", "html[lang]", "title"] {
            assert_eq!(
                all(&page, landmark)
                    .iter()
                    .filter(
                        |found| found.value().name() != "title" || found.parent().unwrap().value().as_element().unwrap().name() == "head"
                    )
                    .count(),
                1,
                "{landmark}"
            );
        }
        let skip = all(&page, "a.skip")[0].attr("href").unwrap().to_owned();
        assert_eq!(all(&page, &skip).len(), 1);
    }
}

#[test]
fn pictures_have_title_and_description_and_ids_are_unique() {
    for (_, page) in pages() {
        let ids: Vec<&str> = all(&page, "[id]").iter().map(|element| element.attr("id").unwrap()).collect();
        assert_eq!(ids.iter().collect::<BTreeSet<_>>().len(), ids.len(), "{ids:?}");
        let pictures = all(&page, "svg");
        assert!(pictures.len() >= 6);
        for picture in pictures {
            assert_eq!(picture.attr("role"), Some("img"));
            for id in picture.attr("aria-labelledby").unwrap().split(' ') {
                let named = all(&page, &format!("#{id}"));
                assert!(named[0].text().collect::<String>().len() > 10, "{id}");
            }
            assert!(picture.select(&Selector::parse("path").unwrap()).next().is_some(), "an empty picture");
        }
        for label in all(&page, "[aria-labelledby]") {
            for id in label.attr("aria-labelledby").unwrap().split(' ') {
                assert!(ids.contains(&id), "{id}");
            }
        }
    }
}

#[test]
fn tables_have_captions_and_headers_and_scroll_by_keyboard() {
    for (_, page) in pages() {
        let tables = all(&page, "table");
        assert!(tables.len() >= 8);
        for table in tables {
            assert_eq!(table.select(&Selector::parse("caption").unwrap()).count(), 1);
            assert!(table.select(&Selector::parse("thead th").unwrap()).all(|header| header.attr("scope") == Some("col")));
            assert!(table.select(&Selector::parse("tbody th").unwrap()).all(|header| header.attr("scope") == Some("row")));
            let columns = table.select(&Selector::parse("thead th").unwrap()).count();
            for row in table.select(&Selector::parse("tbody tr").unwrap()) {
                assert_eq!(row.child_elements().count(), columns, "a row with other columns than its head");
                assert_eq!(row.child_elements().filter(|cell| cell.value().name() == "th").count(), 1);
            }
        }
        for region in all(&page, ".scroll, .plot.wide") {
            assert_eq!(region.attr("tabindex"), Some("0"));
            assert!(region.attr("aria-label").is_some());
        }
    }
}

#[test]
fn points_of_a_series_are_one_path() {
    let html = page_html(&frozen::long_bar(), &PageOptions::default()).unwrap();
    let page = Html::parse_document(&html);
    let passes = all(&page, "#diameters svg g.pass");
    assert_eq!(passes.len(), 6);
    for pass in passes {
        assert_eq!(pass.select(&Selector::parse("path").unwrap()).count(), 1);
    }
    assert!(html.len() < 400_000, "{} bytes", html.len());
}

/// Relative luminance of an sRGB colour `#rrggbb` (WCAG 2.1, "relative luminance").
fn luminance(colour: &str) -> f64 {
    let channel = |place: usize| {
        let value = f64::from(u8::from_str_radix(&colour[place..place + 2], 16).unwrap()) / 255.0;
        if value <= 0.03928 { value / 12.92 } else { ((value + 0.055) / 1.055).powf(2.4) }
    };
    0.2126 * channel(1) + 0.7152 * channel(3) + 0.0722 * channel(5)
}

/// Contrast of two colours (WCAG 2.1, "contrast ratio"): 1 to 21.
fn contrast(one: &str, other: &str) -> f64 {
    let (light, dark) = (luminance(one).max(luminance(other)), luminance(one).min(luminance(other)));
    (light + 0.05) / (dark + 0.05)
}

#[test]
fn the_contrast_of_black_on_white_is_twenty_one() {
    assert!((contrast("#000000", "#ffffff") - 21.0).abs() < 1e-9);
    assert!((contrast("#777777", "#ffffff") - 4.48).abs() < 0.005, "the known near miss of 4.5");
}

#[test]
fn colours_stand_out_from_the_paper_in_light_and_dark() {
    let html = page_html(&frozen::two_collars(), &PageOptions::default()).unwrap();
    let schemes: Vec<&str> = html.split(":root {").skip(1).map(|rest| rest.split('}').next().unwrap()).collect();
    let colour = |scheme: &str, name: &str| {
        let after = scheme.split(&format!("--{name}: ")).nth(1).unwrap();
        after[..7].to_owned()
    };
    for scheme in &schemes[..2] {
        let paper = colour(scheme, "paper");
        for (name, least) in [("ink", 7.0), ("quiet", 7.0), ("accent", 4.5), ("fit", 4.5)] {
            let ratio = contrast(&colour(scheme, name), &paper);
            assert!(ratio >= least, "{name}: {ratio}");
        }
        for series in 0..6 {
            let ratio = contrast(&colour(scheme, &format!("s{series}")), &paper);
            assert!(ratio >= 4.5, "s{series}: {ratio}");
        }
    }
}
