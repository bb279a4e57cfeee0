//! Numbers of the page: each agrees with the result file, whatever units are shown.

use super::{frozen, frozen_correction};
use scraper::{Html, Selector};
use serde_json::Value;
use taperwright::analysis::Analysis;
use taperwright::report::{PageOptions, Units, decimals_for_uncertainty, fixed, in_inches, page_html, probability, result_json};

/// Numbers of `html` that differ from `file`, and how many were compared.
fn differences(html: &str, file: &Value) -> (Vec<String>, usize) {
    let page = Html::parse_document(html);
    let selector = Selector::parse("data[data-key]").unwrap();
    let mut wrong = Vec::new();
    let mut compared = 0;
    for element in page.select(&selector) {
        let key = element.attr("data-key").unwrap();
        let shown: Value = serde_json::from_str(element.attr("value").unwrap()).unwrap();
        let kept = file.pointer(&format!("/{}", key.replace('.', "/")));
        compared += 1;
        if kept.and_then(Value::as_f64) != shown.as_f64() || shown.as_f64().is_none() {
            wrong.push(format!("{key}: page {shown}, file {kept:?}"));
        }
    }
    (wrong, compared)
}

#[test]
fn every_number_with_a_key_agrees_with_the_result_file() {
    let mut analyses = vec![frozen::both_ways(), frozen::two_collars(), frozen::long_bar(), frozen::two_settings()];
    analyses.extend([frozen_correction::advised(), frozen_correction::tailstock(), frozen_correction::settled()]);
    analyses.extend(frozen::all_live());
    for analysis in analyses {
        let file: Value = serde_json::from_str(&result_json(&analysis)).unwrap();
        for units in [Units::Millimetre, Units::Inch] {
            let html = page_html(&analysis, &PageOptions { units }).unwrap();
            let (wrong, compared) = differences(&html, &file);
            assert!(wrong.is_empty(), "{wrong:#?}");
            assert!(compared > 60, "only {compared} numbers carry a key");
        }
    }
}

#[test]
fn the_comparison_notices_a_changed_value_and_an_unknown_key() {
    let analysis = frozen::both_ways();
    let html = page_html(&analysis, &PageOptions::default()).unwrap();
    let mut file: Value = serde_json::from_str(&result_json(&analysis)).unwrap();
    file["shape"][0]["taper"]["value"] = Value::from(0.021_200_001);
    assert!(!differences(&html, &file).0.is_empty());
    let mut file: Value = serde_json::from_str(&result_json(&analysis)).unwrap();
    file["shape"][0].as_object_mut().unwrap().remove("expanded");
    assert!(!differences(&html, &file).0.is_empty());
}

#[test]
fn the_main_results_are_all_on_the_page() {
    let analysis = frozen::both_ways();
    let page = Html::parse_document(&page_html(&analysis, &PageOptions::default()).unwrap());
    for key in [
        "shape.0.taper.value",
        "shape.0.expanded.value",
        "shape.0.taper.interval95.0",
        "shape.0.taper.plain_t_interval95.1",
        "shape.0.taper.robust.value",
        "shape.0.monte_carlo.interval95.0",
        "shape.0.barrel.value",
        "shape.0.budget.4.standard_uncertainty",
        "shape.0.tests.9.p",
        "shape.0.between_pass",
        "causes.1.contribution_um.estimate",
        "causes.1.peak_um.interval95.1",
        "causes.1.material_probability",
        "causes.1.interval95.0",
        "causes.1.variance_removed",
        "balance.0.unexplained_um",
        "balance.1.sum_um",
        "next_tests.0.uncertainty_after_um",
        "trial.prior.presence",
        "inputs.1.bytes",
    ] {
        let selector = Selector::parse(&format!("data[data-key='{key}']")).unwrap();
        assert!(page.select(&selector).next().is_some(), "{key} is not on the page");
    }
}

#[test]
fn inches_change_what_is_shown_and_nothing_else() {
    let analysis = frozen::both_ways();
    let lead = |units: Units| {
        let page = Html::parse_document(&page_html(&analysis, &PageOptions { units }).unwrap());
        page.select(&Selector::parse(".lead").unwrap()).next().unwrap().text().collect::<String>()
    };
    assert_eq!(
        lead(Units::Millimetre),
        "The bar is 0.021\u{202f}mm larger at the tailstock end over 200\u{202f}mm, give or take 0.004\u{202f}mm. That is the mean of both directions of cut. \
         As cut to the headstock, the usual way, by which causes, limits and adjustment go, it is 0.022\u{202f}mm larger at the tailstock end."
    );
    assert_eq!(
        lead(Units::Inch),
        "The bar is 0.83\u{202f}thou larger at the tailstock end over 7.874\u{202f}in, give or take 0.16\u{202f}thou. That is the mean of both directions of cut. \
         As cut to the headstock, the usual way, by which causes, limits and adjustment go, it is 0.88\u{202f}thou larger at the tailstock end."
    );
}

#[test]
fn figures_follow_the_uncertainty() {
    // JCGM 100:2008, 7.2.6: at most two figures of an uncertainty; 10,47 Ω with u = 27 mΩ is stated as 10,47(3) there with one figure kept.
    for (u, decimals) in [(0.0041, 3), (0.0184, 3), (0.0299, 2), (0.0096, 3), (0.000_22, 5), (1.4, 1), (3.0, 0), (250.0, 0)] {
        assert_eq!(decimals_for_uncertainty(u), decimals, "u = {u}");
    }
    assert_ne!(decimals_for_uncertainty(0.0041), decimals_for_uncertainty(0.0184 / 10.0));
}

#[test]
fn numbers_are_written_with_a_proper_minus_and_no_signed_zero() {
    assert_eq!(fixed(-0.0004, 3), "0.000");
    assert_eq!(fixed(-0.0006, 3), "\u{2212}0.001");
    assert_eq!(fixed(9_999.0, 0), "9999");
    assert_eq!(fixed(1_234_567.25, 1), "1\u{202f}234\u{202f}567.2");
    assert_eq!(fixed(f64::NAN, 2), "–");
    assert_eq!(probability(0.000_4), "<\u{202f}0.001");
    assert_eq!(probability(0.25), "0.25");
}

#[test]
fn a_page_in_inches_has_no_millimetres_in_its_sentences() {
    assert_eq!(in_inches("rounding to 0.001 mm, on 38 mm of steel"), "rounding to 0.000039 in, on 1.5 in of steel");
    assert_eq!(in_inches("by 0.08 mm/m, at 20 °C, 3 mm² and 7 passes"), "by 0.00096 in/ft, at 68 °F, 3 mm² and 7 passes");
    assert_eq!(in_inches("ends. 5"), "ends. 5");
    let millimetres = |analysis: &Analysis, units: Units| {
        let page = Html::parse_document(&page_html(analysis, &PageOptions { units }).unwrap());
        let sections = "#causes dl, #causes ul, #causes > p, #reproduced, #checks, #budget, #unknown, #diameters, #residuals, #found .lead, #found > p";
        let text: String = page.select(&Selector::parse(sections).unwrap()).flat_map(|section| section.text()).collect();
        text.split(|letter: char| !letter.is_alphabetic()).filter(|word| matches!(*word, "mm" | "µm")).count()
    };
    for analysis in [&frozen::all_live()[4], &frozen::two_settings()] {
        assert!(millimetres(analysis, Units::Millimetre) > 20);
        assert_eq!(millimetres(analysis, Units::Inch), 0);
    }
}

#[test]
fn an_interval_that_excludes_nought_does_not_show_it() {
    let analysis = frozen::analysis(&frozen::Recipe { taper_mm: 0.023_4, u_mm: 0.010_9, ..frozen::Recipe::default() });
    let interval = analysis.shape[0].taper.interval95;
    assert!(interval.low > 0.0 && interval.low < 0.000_5, "{interval:?}");
    let page = Html::parse_document(&page_html(&analysis, &PageOptions::default()).unwrap());
    let selector = Selector::parse(".facts data[data-key='shape.0.taper.interval95.0']").unwrap();
    let shown = page.select(&selector).next().unwrap().text().collect::<String>();
    assert!(shown.contains(['1', '2', '3', '4']), "{shown}");
}

#[test]
fn a_robust_fit_that_was_not_made_claims_no_agreement() {
    let mut analysis = frozen::two_collars();
    let text = |analysis: &Analysis| {
        let page = Html::parse_document(&page_html(analysis, &PageOptions::default()).unwrap());
        page.select(&Selector::parse("#found p").unwrap()).flat_map(|sentence| sentence.text()).collect::<String>()
    };
    assert!(text(&analysis).contains("robust fit"));
    analysis.shape[0].taper.robust.method = "least squares: too few readings for a robust fit".into();
    assert!(!text(&analysis).contains("which gives stray readings little weight"));
}
