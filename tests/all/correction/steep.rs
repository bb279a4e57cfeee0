//! A taper that no usual machine makes.

use taperwright::analysis::{Options, allow_steep_taper, analyse};
use taperwright::causes::Steep;
use taperwright::ingest::{ReadOptions, read_trial};
use taperwright::report::{PageOptions, Units, page_html};
use taperwright::trial::Trial;

fn read(settings: &str, log: &str) -> Trial {
    let folder = tempfile::tempdir().unwrap();
    std::fs::write(folder.path().join("trial.toml"), settings).unwrap();
    std::fs::write(folder.path().join("diameters.csv"), log).unwrap();
    read_trial(folder.path(), &ReadOptions::default()).unwrap()
}

const LIMIT: &str = "[[acceptance.limit]]\nquantity = \"taper\"\nlimit_mm = 0.02\nover_mm = 300\n";

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
    let short = [20.0, 70.0, 120.0, 170.0, 220.0];
    for (diameter_mm, stations, rise_mm, times) in [
        (40.0, &[0.0, 50.0, 100.0][..], 0.1, "5"),
        (40.0, &[0.0, 50.0, 100.0][..], -0.1, "5"),
        (40.0, &[0.0, 50.0, 100.0][..], -0.09, "4.5"),
        (60.0, &short[..], -0.2, "5"),
        (60.0, &short[..], 0.2, "5"),
        (60.0, &short[..], 2.0, "50"),
        (40.0, &long[..], 0.3, "5"),
        (40.0, &long[..], 1.0, "16.7"),
        (40.0, &long[..], -1.0, "16.7"),
    ] {
        let analysis = analyse(read(LIMIT, &straight(diameter_mm, stations, rise_mm)), Options { seed: 1, monte_carlo_draws: 1000 });
        let balance = &analysis.balance[0];
        assert!((balance.end_difference_um - 1000.0 * rise_mm).abs() < 1e-6, "{balance:?}");
        assert!(balance.unexplained_um.abs() < 2.0 * balance.standard_uncertainty_um, "{rise_mm}: {balance:?}");
        assert!(balance.unexplained_um.abs() < 0.1 * balance.end_difference_um.abs(), "{rise_mm}: {balance:?}");
        assert!(analysis.contradictions.is_empty(), "{rise_mm}");
        let found = analysis.findings.iter().find(|found| found.code == "steep-taper").unwrap();
        let length = stations[stations.len() - 1] - stations[0];
        let end = if rise_mm > 0.0 { "tailstock" } else { "headstock" };
        let begin = format!("a taper of {:.3} mm over {length} mm, the bar larger at the {end} end: {times} times", rise_mm.abs());
        assert!(found.found.starts_with(&begin) && found.help.contains("units") && !found.help.contains("tailstock set over"), "{found:?}");
        assert!(analysis.warnings.iter().any(|told| told.contains("times what usual machines make")), "{:?}", analysis.warnings);
        // it is told what was let be larger, and by how much: times / 1.5 of the default, 0.08 mm/m
        let assumed = |key: &str| analysis.trial.assumed.iter().find(|each| each.key == key);
        let expected = 0.08 * times.parse::<f64>().unwrap() / 1.5;
        let yaw = assumed("prior.yaw_mm_per_m").unwrap();
        assert!((analysis.trial.prior.yaw_mm_per_m - expected).abs() < 0.01 * expected && yaw.why.contains("by the program"), "{yaw:?}");
        assert_eq!(assumed("prior").unwrap().value, "defaults, but for what is widened");
        // no tailstock acts on a bar in the chuck alone
        assert_eq!((assumed("prior.offset_mm"), analysis.trial.prior.offset_mm), (None, 0.05));
        let page = page_html(&analysis, &PageOptions { units: Units::Millimetre }).unwrap();
        assert!(page.contains("The program widened a prior") && !page.contains("The settings change a prior"));
        // what was read comes before a foot
        let correction = analysis.correction.unwrap();
        let is_far = times.parse::<f64>().unwrap() > 6.0;
        assert_eq!(correction.why.contains("far more than usual machines make"), is_far, "{}", correction.why);
        assert!(correction.moves.is_empty(), "{}", correction.why);
    }
}

/// A tailstock set over by `e` between centres `ℓ` apart makes a taper of `2eL/ℓ` over `L` (arithmetic).
#[test]
fn a_tailstock_set_over_is_found_however_far() {
    for offset_mm in [0.4, -1.0, 2.5] {
        let rise_mm = -2.0 * offset_mm * 300.0 / 400.0;
        let log = straight(40.0, &[50.0, 125.0, 200.0, 275.0, 350.0], rise_mm);
        let trial = read("[bar]\nholding = \"centres\"\nlength_mm = 400\n", &log);
        let analysis = analyse(trial, Options { seed: 1, monte_carlo_draws: 1000 });
        let found = analysis.findings.iter().find(|found| found.code == "steep-taper").unwrap();
        assert!(found.help.contains("tailstock set over"), "{found:?}");
        let balance = &analysis.balance[0];
        assert!(balance.unexplained_um.abs() < 0.1 * balance.end_difference_um.abs(), "{offset_mm}: {balance:?}");
        assert_eq!(analysis.trial.prior.yaw_mm_per_m, 0.08);
        assert!(analysis.trial.prior.offset_mm > 0.05);
    }
}

#[test]
fn a_usual_taper_a_slip_and_stated_priors_widen_nothing() {
    let stations = [0.0, 50.0, 100.0];
    let of = |settings: &str, log: &str| Steep::of(&read(settings, log), 1);
    let widened = |settings: &str, log: &str| of(settings, log).and_then(|steep| steep.widened);
    assert!(widened("", &straight(40.0, &stations, 0.1)).is_some());
    for rise_mm in [0.0, 0.03, -0.045] {
        assert_eq!(of("", &straight(40.0, &stations, rise_mm)), None, "{rise_mm}");
    }
    // two stations: told beyond 30 standard deviations of 0.02 mm, and no more widened
    let two = |rise_mm: f64| of("", &straight(40.0, &[0.0, 100.0], rise_mm)).map(|steep| steep.widened.is_some());
    assert_eq!((two(0.04), two(-0.3), two(0.7), two(-0.7)), (None, Some(true), Some(false), Some(false)));
    // what is stated stays, written as the default or not; what is not is widened
    let prior = |settings: &str| {
        let mut trial = read(settings, &straight(40.0, &stations, 0.1));
        assert!(allow_steep_taper(&mut trial, 1).is_some());
        (trial.prior.yaw_mm_per_m, trial.prior.twist_mm_per_m_per_m, trial.has_widened("yaw_mm_per_m"), trial.widened_by() > 1.0)
    };
    assert_eq!(prior("[prior]\nyaw_mm_per_m = 0.08\ntwist_mm_per_m_per_m = 0.4\n"), (0.08, 0.4, false, false));
    let (yaw, twist, of_yaw, any) = prior("[prior]\nyaw_mm_per_m = 0.08\n");
    assert!(yaw == 0.08 && twist > 1.0 && !of_yaw && any);
    let (yaw, _, of_yaw, _) = prior("[prior]\nwear_um_per_m = 10\n");
    assert!(yaw > 0.2 && of_yaw);
    // a slender bar that gave way by so much: a beam's z³
    let bent: String =
        [20.0, 95.0, 170.0, 245.0, 320.0_f64].iter().map(|z| format!("{z},{:.4}\n", 20.0 + 0.4 * (z / 320.0).powi(3))).collect();
    assert_eq!(of("", &format!("station_mm,diameter_mm\n{bent}")), None);
    // by z², and measured far from the chuck, where that is nearly a line; a line there is steep
    let far = |power: i32, rise_mm: f64| {
        let at = |z: f64| (z / 320.0).powi(power);
        let row = |z: &f64| format!("{z},{:.4}\n", 20.0 + rise_mm * (at(*z) - at(160.0)) / (1.0 - at(160.0)));
        of("", &format!("station_mm,diameter_mm\n{}", [160.0, 200.0, 240.0, 280.0, 320.0].iter().map(row).collect::<String>()))
    };
    assert_eq!((far(2, 0.2), far(3, 0.2)), (None, None));
    assert!(far(1, 0.2).is_some_and(|steep| steep.widened.is_some()));
    // a slip of a digit among five readings leaves the middle slope, at whichever end it is and with either sign; of four it is told and widens nothing
    for (slip, of_four) in [("40.52", "40.3"), ("39.48", "39.7")] {
        assert_eq!(of("", &format!("station_mm,diameter_mm\n0,40.00\n25,40.001\n50,{slip}\n75,40.003\n100,40.004\n")), None);
        for four in [[of_four, "40.001", "40.002", "40.003"], ["40.00", "40.001", "40.002", of_four]] {
            let rows: String = four.iter().zip([0, 33, 66, 99]).map(|(read, at)| format!("{at},{read}\n")).collect();
            assert_eq!(widened("", &format!("station_mm,diameter_mm\n{rows}")), None, "{four:?}");
        }
    }
    // of two settings the one that is steeper for its length
    let rows = |setting: u32, stations: &[f64], rise_mm: f64| -> String {
        let log = straight(40.0, stations, rise_mm);
        log.lines().skip(1).map(|line| format!("{line},{setting}\n")).collect()
    };
    let both = format!("station_mm,diameter_mm,setting\n{}{}", rows(0, &[0.0, 100.0, 200.0], 0.095), rows(1, &[0.0, 25.0, 50.0], 0.069));
    let steep = of("", &both).unwrap();
    assert!((steep.taper_mm - 0.069).abs() < 1e-9 && steep.length_mm == 50.0, "{steep:?}");
    // of two steep ones as well, whichever comes first
    for (first, second) in [(0, 1), (1, 0)] {
        let log = format!(
            "station_mm,diameter_mm,setting\n{}{}",
            rows(first, &[0.0, 100.0, 200.0], 0.35),
            rows(second, &[20.0, 45.0, 70.0], 0.069)
        );
        let steep = of("", &log).unwrap();
        // 0.35 mm over 200 mm is 8.75 times 0.04 mm, 0.069 over 50 is 6.9 times 0.01
        assert!((steep.times - 8.75).abs() < 1e-9 && (steep.taper_mm - 0.35).abs() < 1e-9 && steep.length_mm == 200.0, "{steep:?}");
        let alone = of("", &format!("station_mm,diameter_mm,setting\n{}", rows(0, &[20.0, 45.0, 70.0], 0.069))).unwrap();
        assert!((alone.length_mm - 50.0).abs() < 1e-9 && (alone.times - 6.9).abs() < 1e-9, "{alone:?}");
    }
    // readings again are averaged
    let again = of("", &format!("{0}0,40.002,\n50,40.05,\n100,40.098,\n", straight(40.0, &stations, 0.1).replace('\n', ",\n"))).unwrap();
    assert!((again.taper_mm - 0.098).abs() < 1e-9, "{again:?}");
    // a tailstock set over by 0.4 mm on 400 mm: 0.6 mm over 300 mm, and 0.05 mm makes 0.075
    let centres = of("[bar]\nholding = \"centres\"\nlength_mm = 400\n", &straight(40.0, &[50.0, 200.0, 350.0], -0.6)).unwrap();
    assert!((centres.times - 8.0).abs() < 1e-9 && centres.taper_mm < 0.0, "{centres:?}");
    // without two stations there is no slope
    let mut none = read("", &straight(40.0, &stations, 0.1));
    none.diameters = none.diameters.iter().take(1).collect();
    assert_eq!(Steep::of(&none, 1), None);
}
