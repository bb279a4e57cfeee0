//! A taper that no usual machine makes.

use taperwright::analysis::{Options, analyse};
use taperwright::causes::Steep;
use taperwright::ingest::{ReadOptions, read_trial};
use taperwright::trial::Trial;

fn read(settings: &str, log: &str) -> Trial {
    let folder = tempfile::tempdir().unwrap();
    std::fs::write(folder.path().join("trial.toml"), settings).unwrap();
    std::fs::write(folder.path().join("diameters.csv"), log).unwrap();
    read_trial(folder.path(), &ReadOptions::default()).unwrap()
}

/// A log of one straight pass: diameters rise by `rise_mm` from the first of `stations` to the last.
fn straight(diameter_mm: f64, stations: &[f64], rise_mm: f64) -> String {
    let (first, last) = (stations[0], stations[stations.len() - 1]);
    let row = |z: &f64| format!("{z},{:.4}\n", diameter_mm + rise_mm * (z - first) / (last - first));
    format!("station_mm,diameter_mm\n{}", stations.iter().map(row).collect::<String>())
}

/// Readings on a straight line have its slope, whatever the priors are: what the causes make together is the taper that was read, within two of its standard
/// uncertainties. The line is arithmetic.
#[test]
fn the_causes_together_make_a_steep_taper() {
    let long = [20.0, 95.0, 170.0, 245.0, 320.0];
    for (diameter_mm, stations, rise_mm, times) in [
        (40.0, &[0.0, 50.0, 100.0][..], 0.1, "5"),
        (40.0, &[0.0, 50.0, 100.0][..], -0.1, "5"),
        (40.0, &long[..], 1.0, "16.7"),
        (40.0, &long[..], -1.0, "16.7"),
    ] {
        let analysis = analyse(read("", &straight(diameter_mm, stations, rise_mm)), Options { seed: 1, monte_carlo_draws: 1000 });
        let balance = &analysis.balance[0];
        assert!((balance.end_difference_um - 1000.0 * rise_mm).abs() < 1e-6, "{balance:?}");
        assert!(balance.unexplained_um.abs() < 2.0 * balance.standard_uncertainty_um, "{rise_mm}: {balance:?}");
        assert!(balance.unexplained_um.abs() < 0.1 * balance.end_difference_um.abs(), "{rise_mm}: {balance:?}");
        assert!(analysis.contradictions.is_empty(), "{rise_mm}");
        let found = analysis.findings.iter().find(|found| found.code == "steep-taper").unwrap();
        let length = stations[stations.len() - 1] - stations[0];
        let begin = format!("a taper of {} mm over {length} mm, {times} times", rise_mm.abs());
        assert!(found.found.starts_with(&begin) && found.help.contains("units"), "{found:?}");
        assert!(analysis.warnings.iter().any(|told| told.contains("far more than usual machines make")), "{:?}", analysis.warnings);
        // it is told what was let be larger, and by how much: times / 1.5 of the default, 0.08 mm/m
        let assumed = analysis.trial.assumed.iter().find(|each| each.key == "prior.yaw_mm_per_m").unwrap();
        let expected = 0.08 * times.parse::<f64>().unwrap() / 1.5;
        assert!((analysis.trial.prior.yaw_mm_per_m - expected).abs() < 0.01 * expected && assumed.why.contains("widened"), "{assumed:?}");
    }
}

#[test]
fn a_usual_taper_a_slip_and_stated_priors_widen_nothing() {
    let stations = [0.0, 50.0, 100.0];
    let steep = |settings: &str, log: &str| Steep::of(&read(settings, log), 1);
    assert!(steep("", &straight(40.0, &stations, 0.1)).is_some());
    assert_eq!(steep("[prior]\nyaw_mm_per_m = 0.3\n", &straight(40.0, &stations, 0.1)), None);
    for rise_mm in [0.0, 0.03, -0.045, 0.65, -0.7] {
        assert_eq!(steep("", &straight(40.0, &stations, rise_mm)), None, "{rise_mm}");
    }
    // a bar that gives way by so much may have done so
    assert_eq!(steep("", &straight(20.0, &[20.0, 95.0, 170.0, 245.0, 320.0], 0.4)), None);
    // a slip of a digit among five readings leaves the middle slope
    assert_eq!(steep("", "station_mm,diameter_mm\n0,40.00\n25,40.001\n50,40.52\n75,40.003\n100,40.004\n"), None);
    // without two stations there is no slope
    let mut none = read("", &straight(40.0, &stations, 0.1));
    none.diameters = none.diameters.iter().take(1).collect();
    assert_eq!(Steep::of(&none, 1), None);
}
