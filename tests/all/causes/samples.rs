//! The stories of the sample trials: what is found against the truth that made their logs.

use std::path::Path;
use taperwright::causes::*;
use taperwright::ingest::{ReadOptions, read_trial};
use taperwright::trial::Trial;

pub fn sample(name: &str) -> Trial {
    read_trial(&Path::new(env!("CARGO_MANIFEST_DIR")).join("sample-data").join(name), &ReadOptions::default())
        .unwrap_or_else(|e| panic!("{e:?}"))
}

#[test]
#[ignore = "prints what the samples give"]
fn show_samples() {
    let only = std::env::var("SAMPLE").unwrap_or_default();
    let mut names: Vec<_> = std::fs::read_dir(Path::new(env!("CARGO_MANIFEST_DIR")).join("sample-data")).unwrap().flatten().collect();
    names.sort_by_key(|e| e.file_name());
    for entry in names.iter().filter(|e| e.path().join("trial.toml").is_file()) {
        let name = entry.file_name().into_string().unwrap();
        if !name.contains(&only) {
            continue;
        }
        let trial = sample(&name);
        let start = std::time::Instant::now();
        let out = estimate_causes(&trial, 1);
        let took = start.elapsed();
        println!("\n== {name}: {} readings, {took:.1?}", trial.diameters.len());
        if let Some(p) = &out.posterior {
            println!("points {} effective {:.0} k {:?}", p.points, p.effective_points, p.pareto_k);
        }
        for c in &out.causes {
            let f = |c: Option<ContributionUm>| {
                c.map_or(String::new(), |c| {
                    format!("{:7.2} ± {:5.2} [{:6.1}, {:6.1}]", c.estimate, c.standard_uncertainty, c.interval95.low, c.interval95.high)
                })
            };
            println!(
                "{} {:16} {:9.4} ± {:8.4} {:8} end {} presence {:.2} material {:.3} of {:.1} removed {:.2} {:?}: {}",
                c.setting,
                format!("{:?}", c.cause),
                c.estimate.unwrap_or(f64::NAN),
                c.standard_uncertainty.unwrap_or(f64::NAN),
                c.unit,
                f(c.contribution_um),
                c.presence_probability.unwrap_or(f64::NAN),
                c.material_probability.unwrap_or(f64::NAN),
                c.material_threshold_um.unwrap_or(f64::NAN),
                c.variance_removed.unwrap_or(f64::NAN),
                c.verdict,
                c.reason
            );
        }
        for g in &out.confounded {
            println!("together {} {:?} {:?}", g.setting, g.causes, g.sum_um);
        }
        for b in &out.balance {
            println!("{b:?}");
        }
        for t in &out.next_tests {
            println!("{t:?}");
        }
        for w in &out.warnings {
            println!("! {w}");
        }
        if let Ok(truth) = std::fs::read_to_string(entry.path().join("truth.json")) {
            println!("{}", truth.lines().filter(|l| l.contains('{') || l.contains("um")).take(60).collect::<Vec<_>>().join(" "));
        }
    }
}

fn cause(out: &CausesOutcome, setting: u32, kind: CauseKind) -> &CauseEstimate {
    out.causes.iter().find(|c| c.setting == setting && c.cause == kind).unwrap()
}

/// The commonest test of small shops: every cause is a straight line there, so nothing is settled but what physics rules out, and one
/// group holds the rest.
#[test]
fn two_collars_cannot_tell() {
    let trial = sample("two-collars");
    let out = estimate_causes(&trial, 1);
    assert_eq!(out.causes.len(), 7);
    assert_eq!(out.confounded.len(), 1);
    assert!(out.confounded[0].causes.contains(&CauseKind::HeadstockYaw) && out.confounded[0].causes.contains(&CauseKind::BedTwist));
    for kind in [CauseKind::HeadstockYaw, CauseKind::BedTwist, CauseKind::Deflection] {
        assert_eq!(cause(&out, 0, kind).verdict, Verdict::NotSettled, "{kind:?}");
    }
    assert_eq!(cause(&out, 0, CauseKind::WayWear).verdict, Verdict::NotApplicable);
    // The sum is known far better than its parts.
    let yaw = cause(&out, 0, CauseKind::HeadstockYaw).contribution_um.unwrap();
    assert!(out.confounded[0].sum_um.standard_uncertainty < yaw.standard_uncertainty);
    // The same trial and seed give the same numbers.
    assert_eq!(out, estimate_causes(&trial, 1));
}

/// A bar just turned there is no evidence, and the reason is said.
#[test]
fn a_bar_turned_here_is_refused_as_test_bar() {
    let mut trial = sample("two-collars");
    trial.indicator = sample("headstock-only").indicator;
    assert!(!trial.indicator.is_empty());
    trial.testbar = Some(taperwright::trial::TestBar {
        taper_um: 0.0,
        u_um: 1.0,
        length_mm: 200.0,
        diameter_mm: None,
        holding: taperwright::trial::Holding::Chuck,
        turned_here: true,
    });
    let out = estimate_causes(&trial, 1);
    assert!(out.warnings.iter().any(|w| w.contains("just turned")), "{:?}", out.warnings);
    assert_eq!(cause(&out, 0, CauseKind::HeadstockYaw).verdict, Verdict::NotSettled);
}

#[test]
fn headstock_only_is_the_headstock() {
    let trial = sample("headstock-only");
    let truth = trial.simulate.as_ref().unwrap().truth.yaw_mm_per_m.unwrap();
    let out = estimate_causes(&trial, 1);
    let yaw = cause(&out, 0, CauseKind::HeadstockYaw);
    assert_eq!(yaw.verdict, Verdict::Present);
    assert!(yaw.interval95.unwrap().contains(truth));
    assert_eq!(cause(&out, 0, CauseKind::BedTwist).verdict, Verdict::Absent);
    assert_eq!(cause(&out, 0, CauseKind::TailstockOffset).verdict, Verdict::NotApplicable);
    for row in &out.balance {
        assert!(row.unexplained_um.abs() < 3.0 * row.standard_uncertainty_um, "{row:?}");
    }
}
