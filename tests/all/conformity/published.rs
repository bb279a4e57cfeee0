//! JCGM 106:2012 and ISO 14253-1, from `tests/published`.

use std::fs;
use std::path::Path;
use taperwright::conformity::{Allowed, Decision, Knowledge, Rule};
use taperwright::statistics::distributions::ln_gamma;
use taperwright::trial::DecisionRule;

/// Rows of a published table without comments and header.
fn rows(file: &str) -> Vec<Vec<String>> {
    let path = Path::new(env!("CARGO_MANIFEST_DIR")).join("tests/published").join(file);
    let text = fs::read_to_string(path).unwrap();
    let lines = text.lines().filter(|line| !line.starts_with('#')).skip(1);
    lines.map(|line| line.split(',').map(str::to_owned).collect()).collect()
}

/// Half a unit of the last printed digit.
fn half_digit(printed: &str) -> f64 {
    let decimals = printed.split_once('.').map_or(0, |(_, digits)| digits.len());
    0.5 * 10f64.powi(-i32::try_from(decimals).unwrap())
}

fn known(value: f64, u: f64) -> Knowledge {
    Knowledge::Spread { value, standard_uncertainty: u, dof: None }
}

fn number(cell: &str) -> Option<f64> {
    cell.parse().ok()
}

/// Whether a probability agrees with what is printed and what was recomputed.
fn agrees(found: f64, printed: &str, recomputed: f64) -> bool {
    let as_printed = number(printed).is_none_or(|value| (found - value).abs() <= half_digit(printed) + 1e-9);
    as_printed && (found - recomputed).abs() < 1e-9
}

#[test]
fn probabilities_of_the_worked_examples() {
    let examples = rows("jcgm-106-2012/examples.csv");
    assert_eq!(examples.len(), 3);
    for row in examples {
        let [y, u] = [2, 3].map(|column: usize| number(&row[column]).unwrap());
        let (low, high) = (number(&row[4]).unwrap_or(f64::NEG_INFINITY), number(&row[5]).unwrap_or(f64::INFINITY));
        let found = known(y, u).probability_within(low, high);
        let recomputed = number(&row[7]).unwrap();
        assert!(agrees(found, &row[6], recomputed), "{}: {found}", row[0]);
        let perturbed = known(y + 0.01 * u, u).probability_within(low, high);
        assert!(!agrees(perturbed, &row[6], recomputed), "{}: a perturbed value must be rejected", row[0]);
    }
}

#[test]
fn one_limit_has_the_guard_band_of_table_1() {
    for row in rows("jcgm-106-2012/table-1.csv") {
        let [pc, printed, z] = [0, 1, 2].map(|column: usize| number(&row[column]).unwrap());
        assert!((z - printed).abs() <= half_digit(&row[1]) + 1e-9);
        let rule = Rule { rule: DecisionRule::Probability, asked: pc };
        let allowed = Allowed { low: f64::NEG_INFINITY, high: 10.0 };
        for u in [0.3, 2.0] {
            let decide = |bands: f64| rule.decide(&known(10.0 - bands * u, u), allowed);
            assert_eq!(decide(z), Decision::Conforms);
            assert_eq!(decide(z - 1e-4), Decision::NotProven, "a little nearer than the guard band");
            assert_eq!(decide(-z), Decision::DoesNotConform);
            assert_eq!(decide(-z + 1e-4), Decision::NotProven);
        }
    }
}

#[test]
fn constructed_decisions_with_values_on_the_boundaries() {
    let allowed = Allowed { low: f64::NEG_INFINITY, high: 0.040 };
    let word = |decision: Decision| serde_json::to_value(decision).unwrap().as_str().unwrap().to_owned();
    let cases = rows("iso-14253-1/constructed.csv");
    assert_eq!(cases.len(), 8);
    for row in &cases {
        let y = number(&row[0]).unwrap();
        let found = known(y, 0.004);
        assert!((found.probability_within(allowed.low, allowed.high) - number(&row[1]).unwrap()).abs() < 1e-9, "{y}");
        assert_eq!(word(Rule::default().decide(&found, allowed)), row[2], "{y}");
        let simple = Rule { rule: DecisionRule::Simple, asked: 0.95 };
        assert_eq!(word(simple.decide(&found, allowed)), row[3], "{y}");
    }
    // half a micrometre beyond either boundary of the guard band the decision is another
    for (y, decision) in [(0.0339, Decision::NotProven), (0.0461, Decision::NotProven), (0.0401, Decision::NotProven)] {
        assert_eq!(Rule::default().decide(&known(y, 0.004), allowed), decision);
    }
    assert_eq!(Rule { rule: DecisionRule::Simple, asked: 0.95 }.decide(&known(0.0401, 0.004), allowed), Decision::DoesNotConform);
}

#[test]
fn with_few_degrees_of_freedom_the_guard_band_is_that_of_student() {
    // One-sided 95 % points of t, e.g. Abramowitz & Stegun (1964), Table 26.10: 2.353 at 3, 1.812 at 10 degrees of freedom.
    let allowed = Allowed { low: f64::NEG_INFINITY, high: 0.0 };
    for (dof, t) in [(3.0, 2.353), (10.0, 1.812)] {
        let decide =
            |bands: f64| Rule::default().decide(&Knowledge::Spread { value: -bands, standard_uncertainty: 1.0, dof: Some(dof) }, allowed);
        assert_eq!(decide(t + 0.001), Decision::Conforms);
        assert_eq!(decide(t - 0.001), Decision::NotProven);
    }
}

#[test]
fn two_near_limits_count_together() {
    // u of half the interval: each tail alone leaves 0.977 inside, both together 0.954; at 0.51 they leave less than 0.95.
    let allowed = Allowed { low: -1.0, high: 1.0 };
    assert_eq!(Rule::default().decide(&known(0.0, 0.50), allowed), Decision::Conforms);
    assert_eq!(Rule::default().decide(&known(0.0, 0.52), allowed), Decision::NotProven);
    assert_eq!(Rule::default().decide(&known(0.0, 0.0), allowed), Decision::Conforms);
    assert_eq!(Rule::default().decide(&known(1.5, 0.0), allowed), Decision::DoesNotConform);
}

/// Non-conformity is proven by a value 1.645 u outside (ISO 14253-1:2017, from memory), not by a gauge so coarse that little of its spread lies between the limits.
#[test]
fn a_coarse_gauge_breaks_no_limit() {
    let (allowed, u) = (Allowed { low: -1.0, high: 1.0 }, 50.0);
    for (value, decision) in [
        (0.0, Decision::NotProven),
        (1.5, Decision::NotProven),
        (1.0 + 1.644 * u, Decision::NotProven),
        (1.0 + 1.646 * u, Decision::DoesNotConform),
        (-1.0 - 1.644 * u, Decision::NotProven),
        (-1.0 - 1.646 * u, Decision::DoesNotConform),
    ] {
        let found = known(value, u);
        assert!(found.probability_within(-1.0, 1.0) < 0.05, "{value}");
        assert_eq!(Rule::default().decide(&found, allowed), decision, "{value}");
    }
    let draws = Knowledge::of_draws((0..1000).map(|i| f64::from(i) - 499.5).collect()).unwrap();
    assert!(draws.probability_within(-1.0, 1.0) < 0.05);
    assert_eq!(Rule::default().decide(&draws, allowed), Decision::NotProven);
}

/// Global risks of the bearings with an acceptance limit: measured values conform up to `accept`, true values up to 2 µm.
struct Risks {
    nonconforming: f64,
    consumer: f64,
    producer: f64,
}

/// Integrates the gamma prior against the probability that a measured value `N(η, 0.25²)` is accepted, which is the program's own probability.
fn risks(accept: f64) -> Risks {
    let (steps, top) = (40_000, 8.0);
    let mut sum = Risks { nonconforming: 0.0, consumer: 0.0, producer: 0.0 };
    for i in 0..steps {
        let eta = (f64::from(i) + 0.5) * top / f64::from(steps);
        let density = (4.0 * 4f64.ln() + 3.0 * eta.ln() - 4.0 * eta - ln_gamma(4.0).unwrap()).exp() * top / f64::from(steps);
        let accepted = known(eta, 0.25).probability_within(f64::NEG_INFINITY, accept);
        if eta > 2.0 {
            sum.nonconforming += density;
            sum.consumer += density * accepted;
        } else {
            sum.producer += density * (1.0 - accepted);
        }
    }
    sum
}

#[test]
fn global_risks_of_the_bearings() {
    let rows = rows("jcgm-106-2012/bearings.csv");
    let expected = |place: usize| number(&rows[place][2]).unwrap();
    let close = |found: f64, place: usize| {
        let printed = number(&rows[place][1]).is_none_or(|value| (found - value).abs() <= half_digit(&rows[place][1]) + 1e-9);
        printed && (found - expected(place)).abs() < 2e-6
    };
    let plain = risks(2.0);
    assert!(
        close(plain.nonconforming, 0) && close(plain.consumer, 1) && close(plain.producer, 2),
        "{} {} {}",
        plain.nonconforming,
        plain.consumer,
        plain.producer
    );
    let (mut low, mut high) = (1.0, 2.0);
    for _ in 0..40 {
        let middle = 0.5 * (low + high);
        if risks(middle).consumer < 0.001 { low = middle } else { high = middle }
    }
    assert!((low - expected(3)).abs() < 2e-5, "{low}");
    assert!(close(risks(expected(3)).producer, 4));
    assert!(!close(plain.consumer + 5e-6, 1) && !close(plain.nonconforming + 0.001, 0), "a perturbed value must be rejected");
}
