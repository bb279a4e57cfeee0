//! Text from logs is data: payloads in every text field must come out as text.

use super::frozen;
use scraper::{Html, Selector};
use std::sync::Arc;
use taperwright::analysis::Analysis;
use taperwright::findings::{Finding, Severity};
use taperwright::report::{PageOptions, Units, page_html, result_json, terminal_summary};
use taperwright::trial::Assumption;

const PAYLOADS: [&str; 5] = [
    "<script>alert(1)</script>",
    "\"><img src=x onerror=alert(1)>",
    "</style></svg><svg onload=alert(1)>",
    "{{ 7 * 1907 }}{% raw %}'&amp;\u{202e}",
    "]]>--><!--\u{1b}[31m\u{0}",
];

/// Every text that a log or settings can put into an analysis is `payload`.
fn poisoned(payload: &str) -> Analysis {
    let mut analysis = frozen::long_bar();
    let text = || Some(payload.to_owned());
    let shared = || Some(Arc::<str>::from(payload));
    let trial = &mut analysis.trial;
    trial.identity.name = payload.into();
    trial.identity.date = text();
    trial.identity.purpose = text();
    trial.identity.paper = Some("acceptance".into());
    trial.identity.measured_by = text();
    trial.identity.witness = text();
    trial.identity.notes = text();
    trial.machine.name = text();
    trial.machine.serial = text();
    trial.machine.class = text();
    let gauge = &mut trial.gauge.diameter;
    (gauge.name, gauge.serial, gauge.calibrated, gauge.certificate) = (text(), text(), text(), text());
    trial.assumed = vec![Assumption { key: payload.into(), value: payload.into(), why: payload.into() }];
    for input in &mut trial.inputs {
        input.file = payload.into();
        input.sha256 = payload.into();
    }
    trial.diameters.change(|row, reading| {
        (reading.note, reading.operator, reading.gauge, reading.edge) = (shared(), shared(), shared(), shared());
        reading.measured_at = shared();
        reading.excluded = reading.excluded.take().or_else(|| shared().filter(|_| row == 3));
    });
    for shape in &mut analysis.shape {
        shape.taper.robust.method = payload.into();
        shape.cannot_tell = vec![payload.into()];
        for test in &mut shape.tests {
            test.interpretation = payload.into();
        }
        for outlier in &mut shape.outliers {
            outlier.file = payload.into();
        }
        for row in &mut shape.budget {
            row.component = payload.into();
            row.how = payload.into();
        }
    }
    for test in &mut analysis.next_tests {
        test.why = payload.into();
    }
    for cause in &mut analysis.causes {
        cause.reason = payload.into();
    }
    for log in &mut analysis.evidence {
        log.refused = vec![payload.into()];
    }
    for fit in &mut analysis.predictions {
        fit.gauge = format!("diameter.{payload}");
        fit.interpretation = payload.into();
    }
    analysis.findings =
        vec![Finding::new("unknown-key", Severity::Warning, payload, payload).in_file(payload).at_row(3).in_column(payload)];
    analysis.warnings = vec![payload.into()];
    analysis
}

/// What of `html` could run or reach outside.
fn dangers(html: &str) -> Vec<String> {
    let page = Html::parse_document(html);
    let mut found: Vec<String> = page
        .select(&Selector::parse("script, img, iframe, object, embed, foreignObject").unwrap())
        .map(|element| element.value().name().to_owned())
        .collect();
    for element in page.select(&Selector::parse("*").unwrap()) {
        found.extend(element.value().attrs().filter(|(name, _)| name.starts_with("on")).map(|(name, _)| name.to_owned()));
    }
    found
}

#[test]
fn payloads_in_every_field_stay_text() {
    for (payload, units) in PAYLOADS.into_iter().zip([Units::Millimetre, Units::Inch].into_iter().cycle()) {
        let html = page_html(&poisoned(payload), &PageOptions { units }).unwrap();
        assert!(dangers(&html).is_empty(), "{payload}: {:?}", dangers(&html));
        let page = Html::parse_document(&html);
        assert!(page.errors.is_empty(), "{payload}: {:?}", page.errors);
        assert_eq!(page.select(&Selector::parse("svg").unwrap()).count(), 10, "{payload}");
        assert_eq!(page.select(&Selector::parse("style").unwrap()).count(), 1);
        assert!(!html.contains("13349"), "a template ran text of a log");
    }
}

#[test]
fn the_search_for_dangers_finds_them() {
    assert_eq!(dangers("<p onclick='x'>").len(), 1);
    assert_eq!(dangers("<script></script>").len(), 1);
}

#[test]
fn the_result_file_keeps_the_text_as_it_was() {
    for payload in PAYLOADS {
        let file: serde_json::Value = serde_json::from_str(&result_json(&poisoned(payload))).unwrap();
        assert_eq!(file["trial"]["name"], payload);
        assert_eq!(file["findings"][0]["found"], payload);
    }
}

#[test]
fn the_terminal_gets_no_control_characters() {
    for payload in PAYLOADS {
        let summary = terminal_summary(&poisoned(payload), Units::Millimetre);
        assert!(summary.chars().all(|letter| letter == '\n' || !letter.is_control()), "{summary:?}");
    }
}
