//! The advised scheme keeps its promise: logs of exactly that scheme, simulated anew, report the expanded uncertainty that was promised.

use super::{COLLARS, agree, settings};
use taperwright::plan::{Plan, plan_trial};
use taperwright::shape::taper_uncertainty;
use taperwright::simulate::{Chance, Nature, read_off};
use taperwright::trial::{Trial, Truth};

/// Root mean square of the expanded uncertainty that `logs` simulated logs of the advised scheme report, mm, and its relative standard error.
///
/// Gauges scatter as their data sheets say and passes are alike; the machine is straight, or `drawn` from the priors.
fn reported(plan: &Plan, logs: u64, drawn: bool) -> (f64, f64) {
    let empty = &plan.planned;
    let squares: Vec<f64> = (0..logs)
        .map(|log| {
            let seed = 70_000_000_000 + log;
            let mut chance = Chance::new(seed, 0);
            let mut nature =
                if drawn { Nature::drawn(empty, &mut chance) } else { Nature::stated(empty, &Truth::default(), 1.0, &mut chance) };
            (nature.spread.diameter_factor, nature.spread.between_pass_um) = (1.0, 0.0);
            taper_uncertainty(&read_off(empty, &nature, seed), 0).unwrap().expanded_mm.powi(2)
        })
        .collect();
    let mean = squares.iter().sum::<f64>() / logs as f64;
    let variance = squares.iter().map(|square| (square - mean).powi(2)).sum::<f64>() / (logs - 1) as f64;
    (mean.sqrt(), 0.5 * (variance / logs as f64).sqrt() / mean)
}

/// Whether a plan's promise agrees with what was reported, within `share`, and that is not above what was wanted but for two of its standard errors.
fn keeps(promised_mm: f64, wanted_mm: f64, (reported_mm, error): (f64, f64), share: f64) -> bool {
    agree(promised_mm, reported_mm, share) && reported_mm * (1.0 - 2.0 * error) <= wanted_mm
}

/// A collared bar in a chuck: two stations make short fits.
fn collared(wanted_mm: f64) -> Trial {
    settings(&format!("{COLLARS}[gauge.diameter]\nu_mm = 0.0015\n[plan]\ntarget_expanded_mm = {wanted_mm}\n"))
}

#[test]
fn the_advised_scheme_reports_what_was_promised() {
    let wanted_mm = 0.0028;
    let plan = plan_trial(&collared(wanted_mm), 1).unwrap();
    let option = plan.option().unwrap();
    assert!(option.promised && option.meets == Some(true) && option.relative_error <= 0.005, "{option:?}");
    let got = reported(&plan, 600, false);
    assert!(keeps(option.expanded_mm, wanted_mm, got, 0.05), "promised {}, reported {got:?}", option.expanded_mm);
    // a promise that is a twelfth too good, as a search over few logs makes it, is seen; and so is what is not enough
    assert!(!keeps(0.92 * option.expanded_mm, wanted_mm, got, 0.05) && !keeps(option.expanded_mm, 0.9 * got.0, got, 0.05));
}

#[test]
fn the_seed_seldom_changes_the_advice() {
    let advice = |seed| plan_trial(&collared(0.0028), seed).unwrap().option().unwrap().scheme.clone();
    let first = advice(1);
    assert!((2..=6).all(|seed| advice(seed) == first));
    let scheme = &plan_trial(&collared(0.0040), 1).unwrap().option().unwrap().scheme.clone();
    assert_ne!(*scheme, first, "another wish is another scheme");
}

/// Machines of the long proofs: name and settings. Each has a limit or a wish.
fn machines() -> Vec<(&'static str, Trial)> {
    let limit = "[[acceptance.limit]]\nquantity = \"taper\"\nlimit_mm = 0.02\nover_mm = 300.0\n";
    let sample = std::fs::read_to_string(concat!(env!("CARGO_MANIFEST_DIR"), "/sample-data/before-cutting.toml")).unwrap();
    let guide = std::fs::read_to_string(concat!(env!("CARGO_MANIFEST_DIR"), "/reports/guide/delivered.toml")).unwrap();
    let bar = |size: &str, gauge: &str, more: &str| settings(&format!("[bar]\n{size}\n[gauge.diameter]\n{gauge}\n{more}"));
    let even = "[conditions]\ntemperature_spread_c = 0.5\n";
    // what the guide states of its own machine is left out: passes are alike here
    let guide = guide.split("# In place of a machine").next().unwrap().to_owned();
    vec![
        ("sample data, 40 × 150", settings(&sample)),
        ("guide, 42 × 200", settings(&guide)),
        ("38 × 180 in a chuck", bar("diameter_mm = 38.0\nlength_mm = 180.0", "u_mm = 0.0015", &format!("{even}{limit}"))),
        (
            "40 × 300 between centres",
            bar(
                "diameter_mm = 40.0\nlength_mm = 300.0\nholding = \"centres\"",
                "u_mm = 0.002",
                &format!("{limit}[plan]\nsettle = [\"tailstock-offset\"]\n"),
            ),
        ),
        (
            "50 × 240, chuck and centre, step 10 µm",
            bar(
                "diameter_mm = 50.0\nlength_mm = 240.0\nholding = \"chuck-and-centre\"",
                "resolution_mm = 0.01\nu_mm = 0.004",
                "[plan]\ntarget_expanded_mm = 0.006\n",
            ),
        ),
        ("38 × 180, two collars", collared(0.0028)),
        (
            "60 × 200, fine gauge",
            bar(
                "diameter_mm = 60.0\nlength_mm = 200.0",
                "u_mm = 0.001",
                "[conditions]\ntemperature_spread_c = 0.2\n[plan]\ntarget_expanded_mm = 0.0015\n",
            ),
        ),
        ("40 × 150, usual gauge", bar("diameter_mm = 40.0\nlength_mm = 150.0", "u_mm = 0.002", limit)),
    ]
}

/// The long proof: 1,000 logs of the advised scheme of each machine; its figures are in `tests/proofs/plan.md`.
#[test]
#[ignore = "long: .ci/proof the_promise_of_each_machine"]
fn the_promise_of_each_machines_advised_scheme_comes_true() {
    println!(
        "| machine | advised | wanted U, µm | promised U, µm | logs | standard error | reported U, µm | standard error | promised / reported | reported by machines drawn from the priors, µm |"
    );
    assert!(agree(2.0, 2.19, 0.1) && !agree(2.0, 2.3, 0.1) && !agree(2.3, 2.0, 0.1), "the comparison must see a tenth");
    let mut wrong = Vec::new();
    for (name, trial) in machines() {
        let plan = plan_trial(&trial, 1).unwrap();
        let option = plan.option().unwrap();
        let (got, drawn) = (reported(&plan, 1000, false), reported(&plan, 1000, true));
        let wanted_mm = plan.target.expanded_mm.unwrap();
        let scheme = &option.scheme;
        println!(
            "| {name} | {} × {} × {}{} | {:.3} | {:.3} | {} | {:.2} % | {:.3} | {:.1} % | {:.3} | {:.3} |",
            scheme.passes,
            scheme.stations_mm.len(),
            scheme.repeats,
            if scheme.heavy.is_some() { " and a heavy pass" } else { "" },
            1000.0 * wanted_mm,
            1000.0 * option.expanded_mm,
            option.logs,
            100.0 * option.relative_error,
            1000.0 * got.0,
            100.0 * got.1,
            option.expanded_mm / got.0,
            1000.0 * drawn.0
        );
        if option.meets != Some(true) || !keeps(option.expanded_mm, wanted_mm, got, 0.05) || !agree(option.expanded_mm, drawn.0, 0.1) {
            wrong.push(name);
        }
    }
    assert!(wrong.is_empty(), "{wrong:?}");
}

/// Twenty seeds of each machine: how often the most frequent advice is given, and how far the promises of one scheme differ.
#[test]
#[ignore = "long: .ci/proof the_seed_changes_the_advice"]
fn the_seed_changes_the_advice_of_few_plans() {
    println!("| machine | schemes advised by 20 seeds | most frequent | standard deviation of its promise |");
    let (mut usual, mut all) = (0, 0);
    for (name, trial) in machines() {
        let mut advice: Vec<(String, Vec<f64>)> = Vec::new();
        for seed in 1..=20 {
            let plan = plan_trial(&trial, seed).unwrap();
            let option = plan.option().unwrap();
            let scheme = format!("{:?}", option.scheme);
            match advice.iter_mut().find(|known| known.0 == scheme) {
                Some(known) => known.1.push(option.expanded_mm),
                None => advice.push((scheme, vec![option.expanded_mm])),
            }
        }
        let most = advice.iter().max_by_key(|known| known.1.len()).unwrap();
        let mean = most.1.iter().sum::<f64>() / most.1.len() as f64;
        let spread = (most.1.iter().map(|one| (one / mean - 1.0).powi(2)).sum::<f64>() / (most.1.len() as f64 - 1.0)).sqrt();
        println!("| {name} | {} | {} of 20 | {:.2} % |", advice.len(), most.1.len(), 100.0 * spread);
        assert!(spread < 0.01, "{name}: promises of one scheme differ by {spread}");
        (usual, all) = (usual + most.1.len(), all + 20);
    }
    assert!(f64::from(usual as u32) >= 0.9 * f64::from(all), "{usual} of {all}");
}
