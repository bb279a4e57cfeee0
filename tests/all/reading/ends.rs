//! A trial folder and a lone log, read end to end.

use super::bench::{good, read_folder, readings};
use taperwright::trial::{Direction, Foot, Holding, Material, Plane};

const SETTINGS: &str = r#"
[trial]
name = "quay-lathe-spring"
date = 2026-03-14
purpose = "sale"
[machine]
name = "Quay Lathe 2"
centre_height_mm = 115.0
[machine.feet]
spacing_along_mm = 700.0
spacing_across_mm = 150.0
screw_threads_per_inch = 20
clockwise = "lowers"
[bar]
diameter_in = 1.5
length_mm = 220.0
holding = "chuck"
[gauge.level]
division_mm_per_m = 0.02
[conditions]
temperature_f = 68.0
temperature_spread_f = 3.6
[[acceptance.limit]]
quantity = "taper"
limit_mm = 0.02
over_mm = 300.0
sense = "either"
"#;

const DIAMETERS: &str = "setting,pass,direction,station_mm,diameter_mm,temperature_c,exclude\n\
    0,1,to-headstock,10,38.012,20,\n0,1,to-headstock,110,38.018,20,\n0,1,to-headstock,210,38.024,20,chip under anvil\n\
    0,2,to-tailstock,10,38.010,30,\n0,2,to-tailstock,110,38.016,30,no\n0,2,to-tailstock,210,38.022,30,\n";

#[test]
fn a_trial_folder_is_read_whole() {
    let trial = read_folder(&[
        ("trial.toml", SETTINGS),
        ("diameters.csv", DIAMETERS),
        ("levels.csv", "station_mm,roll_div,reversed\n0,1,no\n300,2.5,no\n300,1.5,yes\n"),
        ("indicator.csv", "station_mm,reading_um,spindle_deg,plane\n10,0,0,side\n200,5,180,top\n"),
        ("clamp.csv", "foot,station_mm,change_um\ntailstock-rear,200,-12\n"),
        ("moves.csv", "from_setting,to_setting,foot,turns\n0,1,tailstock-rear,0.5\n"),
    ])
    .unwrap_or_else(|rejected| panic!("{:#?}", rejected.findings));
    assert_eq!(trial.identity.name, "quay-lathe-spring");
    assert_eq!(trial.identity.date.as_deref(), Some("2026-03-14"));
    assert_eq!(trial.identity.paper.as_deref(), Some("acceptance"));
    assert!((trial.bar.diameter_mm - 38.1).abs() < 1e-12);
    assert!((trial.machine.roll_arm_mm - 143.75).abs() < 1e-12 && (trial.machine.roll_arm_u_mm - 28.75).abs() < 1e-12);
    assert!((trial.machine.feet.as_ref().and_then(|feet| feet.screw_pitch_mm).unwrap_or(0.0) - 1.27).abs() < 1e-12);
    assert!((trial.conditions.temperature_c - 20.0).abs() < 1e-12 && (trial.conditions.temperature_spread_c - 2.0).abs() < 1e-12);
    assert_eq!(trial.diameters.len(), 6);
    assert_eq!(trial.diameters.to_vec()[2].excluded.as_deref(), Some("chip under anvil"));
    assert_eq!((trial.diameters.to_vec()[2].place.row, trial.diameters.to_vec()[3].direction), (4, Direction::ToTailstock));
    // 10 K on 38.010 mm of steel at 11.5e-6/K: 4.4 um
    assert!((trial.diameters.to_vec()[3].read_mm - trial.diameters.to_vec()[3].diameter_mm - 38.010 * 11.5e-5).abs() < 1e-5);
    assert!((trial.levels[1].roll_mm_per_m - 0.05).abs() < 1e-12 && trial.levels[2].reversed);
    assert_eq!((trial.indicator[1].plane, trial.indicator[1].spindle_deg), (Plane::Top, 180.0));
    assert_eq!(trial.clamp[0].foot, Foot::TailstockRear);
    // half a turn clockwise of a screw of 20 threads an inch, which lowers: -0.635 mm
    assert!((trial.moves[0].raise_mm.unwrap_or(0.0) + 0.635).abs() < 1e-12);
    let files: Vec<&str> = trial.inputs.iter().map(|input| input.file.as_str()).collect();
    assert_eq!(files, ["trial.toml", "clamp.csv", "diameters.csv", "indicator.csv", "levels.csv", "moves.csv"]);
    let log = &trial.inputs[2];
    assert_eq!((log.rows, log.used, log.excluded, log.bytes), (6, 5, 1, DIAMETERS.len() as u64));
}

#[test]
fn a_lone_log_is_read_with_the_contracts_defaults() {
    let trial = good("station_mm,diameter_mm\n10,38.012\n110,38.018\n210,38.030\n");
    assert_eq!(readings(&trial), [(10.0, 38.012, 1), (110.0, 38.018, 1), (210.0, 38.03, 1)]);
    assert_eq!(
        (trial.identity.name.as_str(), trial.bar.holding, trial.bar.material),
        ("spring", Holding::Chuck, Some(Material::MildSteel))
    );
    assert!((trial.bar.diameter_mm - 38.02).abs() < 1e-12);
    assert_eq!((trial.bar.length_mm, trial.machine.roll_arm_mm, trial.machine.roll_arm_u_mm), (210.0, 150.0, 40.0));
    assert_eq!((trial.gauge.diameter.u_mm, trial.gauge.diameter.calibration_u_mm), (0.002, 0.001));
    assert!((trial.gauge.diameter.resolution_mm - 0.001).abs() < 1e-15);
    assert_eq!((trial.gauge.level.u_mm_per_m, trial.gauge.indicator.u_mm, trial.conditions.temperature_spread_c), (0.010, 0.001, 2.0));
    assert_eq!((trial.diameters.to_vec()[0].depth_mm, trial.diameters.to_vec()[0].feed_mm_per_rev), (0.1, 0.1));
    let assumed: Vec<&str> = trial.assumed.iter().map(|assumption| assumption.key.as_str()).collect();
    for key in
        ["machine.roll_arm_mm", "machine.feet", "bar.holding", "bar.material", "bar.diameter_mm", "bar.length_mm", "cutting.depth_mm"]
    {
        assert!(assumed.contains(&key), "{key} is missing in {assumed:?}");
    }
    assert!(assumed.contains(&"diameters.direction") && assumed.contains(&"gauge.diameter.resolution_mm"));
}
