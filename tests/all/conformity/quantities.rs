//! What the logs know of each quantity, on sample trials.

use std::path::Path;
use taperwright::analysis::{Analysis, Options, analyse};
use taperwright::conformity::{Decision, Judgement};
use taperwright::ingest::{ReadOptions, read_trial};
use taperwright::trial::{Limit, Quantity, Sense};

pub fn limit(quantity: Quantity, limit_mm: f64, over_mm: Option<f64>, sense: Sense) -> Limit {
    Limit {
        criterion: None,
        quantity,
        limit_mm,
        over_mm,
        sense,
        floor_mm: 0.005,
        clause: None,
        source: None,
        provenance: None,
        swing_from_mm: None,
        swing_to_mm: None,
    }
}

fn judged(sample: &str, limits: Vec<Limit>) -> Analysis {
    let folder = Path::new(env!("CARGO_MANIFEST_DIR")).join("sample-data").join(sample);
    let mut trial = read_trial(&folder, &ReadOptions::default()).unwrap();
    trial.acceptance.limit = limits;
    analyse(trial, Options { monte_carlo_draws: 1000, ..Options::default() })
}

fn only(analysis: &Analysis, quantity: Quantity) -> &Judgement {
    analysis.conformity.iter().find(|judged| judged.quantity == quantity).unwrap()
}

/// Every quantity once, with limits as small lathes have them.
fn all() -> Vec<Limit> {
    Quantity::ALL
        .iter()
        .map(|quantity| limit(*quantity, if *quantity == Quantity::AdjacentBands { 0.75 } else { 0.02 }, None, Sense::Either))
        .collect()
}

#[test]
fn each_quantity_is_judged_or_says_what_would_tell() {
    let analysis = judged("headstock-only", all());
    assert_eq!(analysis.conformity.len(), 10);
    for judged in &analysis.conformity {
        assert!(!judged.note.is_empty(), "{:?}", judged.quantity);
        if let (None, Some(decision)) = (judged.value, judged.decision) {
            assert_eq!(decision, Decision::NotProven);
            assert!(judged.note.contains("would tell"), "{}", judged.note);
            assert!(judged.probability.is_none() && judged.expanded_uncertainty.is_none());
        }
        if let Some(probability) = judged.probability {
            assert!((0.0..=1.0).contains(&probability));
        }
    }
    // the taper judged is that of the passes cut to the headstock
    let taper = only(&analysis, Quantity::Taper);
    let row = &analysis.shape[0].by_direction[0];
    assert_eq!((taper.value, taper.standard_uncertainty), (Some(row.value), Some(row.standard_uncertainty)));
    // the largest difference of a bar with a plain taper is that taper, give or take
    let consistency = only(&analysis, Quantity::DiameterConsistency);
    let (largest, u) = (consistency.value.unwrap(), consistency.standard_uncertainty.unwrap());
    assert!((largest - row.value.abs()).abs() < 2.0 * u, "{largest} {u}");
    assert!(only(&analysis, Quantity::AdjacentBands).value.is_some_and(|share| share < 0.75));
    assert_eq!(only(&analysis, Quantity::Roundness).value, None);
    assert!(only(&analysis, Quantity::Roundness).note.contains("odd lobes"));
}

#[test]
fn parallelism_is_what_the_truth_says() {
    // sample-data/headstock-only/truth.json: yaw 0.065 mm/m, no twist; over 300 mm 0.0195 mm away from the tool
    let limits = vec![limit(Quantity::SpindleParallelismHorizontal, 0.015, Some(300.0), Sense::TowardsTool)];
    let analysis = judged("headstock-only", limits);
    let found = &analysis.conformity[0];
    let truth: serde_json::Value = serde_json::from_str(
        &std::fs::read_to_string(Path::new(env!("CARGO_MANIFEST_DIR")).join("sample-data/headstock-only/truth.json")).unwrap(),
    )
    .unwrap();
    let yaw = truth["parameters"]["yaw_mm_per_m"].as_f64().unwrap_or_else(|| panic!("{}", truth["parameters"]));
    let (value, u) = (found.value.unwrap(), found.standard_uncertainty.unwrap());
    assert!((value - 0.3 * yaw).abs() < 3.0 * u && u < 0.005, "{value} ± {u}, truth {}", 0.3 * yaw);
    assert_eq!(found.decision, Some(Decision::DoesNotConform));
    assert!(found.note.contains("the way that is not allowed"), "{}", found.note);
    assert!(found.producers_risk.unwrap() < 0.05 && found.consumers_risk.is_none());
}

#[test]
fn three_equal_bands_do_not_break_the_adjacent_rule() {
    let folder = tempfile::TempDir::new().unwrap();
    let log = "station_mm,diameter_mm,pass\n10,38.001,1\n100,38.003,1\n190,38.000,1\n10,37.902,2\n100,37.900,2\n190,37.901,2\n";
    std::fs::write(folder.path().join("diameters.csv"), log).unwrap();
    let mut trial = read_trial(folder.path(), &ReadOptions::default()).unwrap();
    trial.acceptance.limit = vec![
        limit(Quantity::AdjacentBands, 0.75, None, Sense::Either),
        limit(Quantity::DiameterConsistency, 0.04, Some(300.0), Sense::Either),
    ];
    let analysis = analyse(trial, Options { monte_carlo_draws: 1000, ..Options::default() });
    let bands = only(&analysis, Quantity::AdjacentBands);
    assert_eq!((bands.value, bands.probability, bands.decision), (None, None, None), "{}", bands.note);
    assert!(
        taperwright::conformity::shows_conformity(&analysis.conformity).is_err()
            || only(&analysis, Quantity::DiameterConsistency).decision == Some(Decision::Conforms)
    );
}

#[test]
fn a_not_proven_limit_says_what_would_settle_it() {
    let row = judged("both-with-level", vec![]).shape[0].by_direction[0].clone();
    let analysis =
        judged("both-with-level", vec![limit(Quantity::Taper, row.value.abs() + 1.0 * row.standard_uncertainty, None, Sense::Either)]);
    let taper = &analysis.conformity[0];
    assert_eq!(taper.decision, Some(Decision::NotProven));
    let (needed, own) = (taper.uncertainty_needed.unwrap(), taper.standard_uncertainty.unwrap());
    // one limit active: the needed u is the distance over the t quantile, of which the own u is one distance
    assert!((1.6..2.2).contains(&(own / needed)), "{}", own / needed);
    assert!(taper.note.contains("standard uncertainty has to come down"), "{}", taper.note);
}
