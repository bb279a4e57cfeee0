//! `plan`: stiffness against beam tables, schemes against textbook designs, and promises against what comes out.

mod advised;
mod outcome;
mod power;
mod sheet;

use std::f64::consts::PI;
use taperwright::causes::CauseKind;
use taperwright::ingest::{ReadOptions, read_settings};
use taperwright::plan::{
    CLEAR_OF_JAWS_MM, Plan, Refusal, Scheme, Stiff, Stiffness, Target, foresee_scheme, one_pass_um, plan_trial, stations,
};
use taperwright::trial::Trial;
use tempfile::TempDir;

/// Two collars keep the search short.
const COLLARS: &str = "\
[trial]
name = \"quay-lathe-before\"
[bar]
diameter_mm = 38.0
length_mm = 180.0
collars_mm = [[5.0, 25.0], [155.0, 175.0]]
";

pub fn settings(text: &str) -> Trial {
    let folder = TempDir::new().unwrap();
    std::fs::write(folder.path().join("trial.toml"), text).unwrap();
    read_settings(&folder.path().join("trial.toml"), &ReadOptions::default()).unwrap()
}

pub fn plain(stations_mm: Vec<f64>, passes: u32, repeats: u32) -> Scheme {
    Scheme { stations_mm, passes, both_ways: false, repeats, heavy: None, levels: false, indicator: false }
}

/// Whether two numbers agree to a share of the second.
pub fn agree(found: f64, expected: f64, share: f64) -> bool {
    (found - expected).abs() <= share * expected.abs()
}

#[test]
fn the_comparator_rejects_what_differs() {
    assert!(agree(1.0, 1.0, 1e-12) && agree(1.09, 1.0, 0.1));
    assert!(!agree(1.11, 1.0, 0.1) && !agree(0.89, 1.0, 0.1) && !agree(f64::NAN, 1.0, 0.1));
}

/// W. C. Young, R. G. Budynas, *Roark's Formulas for Stress and Strain*, 7th edition, 2002, table 8.1: cantilever with an end load, case 1a,
/// deflection at the load `W·l³/(3EI)`; two simple supports, case 1e, at the load `W·a²(l − a)²/(3EIl)`.
#[test]
fn bending_agrees_with_beam_tables() {
    let second_moment = PI * 38.0_f64.powi(4) / 64.0;
    let flexural = 206_000.0 * second_moment;
    let chuck = settings("[bar]\ndiameter_mm = 38.0\nlength_mm = 180.0\n");
    let found = Stiffness::of(&chuck, &[10.0, 90.0, 170.0]);
    let force = found.force_n;
    // Kienzle for mild steel at 0.1 mm and 0.1 mm/rev with a 0.4 mm nose: 0.7 · 1780 · 0.1 · 0.1^0.83
    assert!(agree(force, 0.7 * 1780.0 * 0.1 * 0.1_f64.powf(0.83), 1e-12), "{force}");
    let expected = 2.0 * force * (170.0_f64.powi(3) - 10.0_f64.powi(3)) / (3.0 * flexural);
    assert!(agree(found.deflection_mm, expected, 1e-9), "{} for {expected}", found.deflection_mm);
    assert!(!agree(found.deflection_mm, 1.001 * expected, 1e-9));
    let centres = settings("[bar]\ndiameter_mm = 38.0\nlength_mm = 180.0\nholding = \"centres\"\n");
    let found = Stiffness::of(&centres, &[10.0, 90.0]);
    let at = |a: f64| 2.0 * force * (a * (180.0 - a)).powi(2) / (3.0 * flexural * 180.0);
    assert!(agree(found.deflection_mm, at(90.0) - at(10.0), 1e-9));
    assert_eq!(found.overhang, None, "centres carry both ends");
}

#[test]
fn a_slender_bar_is_told_from_a_stout_one_and_the_advice_holds() {
    let bar = |diameter: f64, length: f64, depth: f64| {
        settings(&format!("[bar]\ndiameter_mm = {diameter}\nlength_mm = {length}\n[cutting]\ndepth_mm = {depth}\n"))
    };
    let verdict = |trial: &Trial| Stiffness::of(trial, &stations(trial, 5));
    let stout = verdict(&bar(50.0, 150.0, 0.05));
    assert_eq!((stout.verdict, stout.depth_that_fits_mm, stout.hangs_out_too_far(), stout.refusal), (Stiff::Enough, None, false, None));
    let slender = verdict(&bar(16.0, 160.0, 0.1));
    assert_eq!((slender.verdict, slender.hangs_out_too_far()), (Stiff::No, true));
    // six diameters out of a chuck are the most, as for reading and the cautions
    let out = |length: f64| verdict(&bar(40.0, length, 0.05)).hangs_out_too_far();
    assert_eq!([220.0, 240.0, 241.0].map(out), [false, false, true]);
    // what is advised is enough, and a little more is not
    let depth = slender.depth_that_fits_mm.unwrap();
    assert_eq!(verdict(&bar(16.0, 160.0, 0.999 * depth)).verdict, Stiff::Enough);
    assert_ne!(verdict(&bar(16.0, 160.0, 1.01 * depth)).verdict, Stiff::Enough);
    let length = slender.length_that_fits_mm.unwrap();
    assert_eq!(verdict(&bar(16.0, length, 0.1)).verdict, Stiff::Enough);
    assert_ne!(verdict(&bar(16.0, 1.03 * length, 0.1)).verdict, Stiff::Enough);
}

/// N. R. Draper, H. Smith, *Applied Regression Analysis*, 3rd edition, 1998, section 1.4: the variance of a slope is `σ²/Σ(x − x̄)²`; D. C. Montgomery,
/// *Design and Analysis of Experiments*, 8th edition, 2013: half of the readings at each end make it least (D-optimal for a straight line; both from memory).
/// With `n` readings evenly spread it is `3(n − 1)/(n + 1)` times as large.
#[test]
fn readings_at_the_ends_make_the_surest_slope() {
    let trial = settings("[bar]\ndiameter_mm = 38.0\nlength_mm = 200.0\n");
    let ends = one_pass_um(&trial, &plain(vec![10.0, 190.0], 1, 5));
    let spread = one_pass_um(&trial, &plain((0..10).map(|i| 10.0 + 20.0 * f64::from(i)).collect(), 1, 1));
    // σ²/S with S = 10 · 90², times the length of 180: 2 · 180/√81000 µm
    assert!(agree(ends, 2.0 * 180.0 / 81_000.0_f64.sqrt(), 1e-12), "{ends}");
    assert!(agree((spread / ends).powi(2), 27.0 / 11.0, 1e-12), "{}", (spread / ends).powi(2));
    assert!(!agree((spread / ends).powi(2), 2.5, 1e-3));
    // no other split of ten readings over the bar does better
    for middle in [50.0, 100.0, 150.0] {
        assert!(one_pass_um(&trial, &plain(vec![10.0, middle, 190.0], 1, 3)) > ends);
    }
}

#[test]
fn the_target_is_a_quarter_of_the_limit_brought_to_the_tested_length() {
    let limit = "[[acceptance.limit]]\nquantity = \"taper\"\nlimit_mm = 0.02\nover_mm = 300.0\n";
    let trial = settings(&format!("{COLLARS}{limit}"));
    let target = Target::of(&trial, 150.0);
    assert_eq!((target.limit_mm, target.expanded_mm, target.stated), (Some(0.01), Some(0.0025), false));
    // never below its floor
    assert_eq!(Target::of(&trial, 30.0).limit_mm, Some(0.005));
    let wished = settings(&format!("{COLLARS}{limit}[plan]\ntarget_expanded_mm = 0.004\n"));
    assert_eq!((Target::of(&wished, 150.0).expanded_mm, Target::of(&wished, 150.0).stated), (Some(0.004), true));
    let nothing = Target::of(&settings(COLLARS), 150.0);
    assert_eq!((nothing.expanded_mm, nothing.met_by(1.0)), (None, None));
}

#[test]
fn the_first_station_stands_clear_of_the_jaws() {
    let first = |more: &str, count: u32| {
        let places = stations(&settings(&format!("[bar]\ndiameter_mm = 40.0\n{more}")), count);
        places.first().copied()
    };
    for count in [2, 3, 5, 9] {
        assert_eq!(first("length_mm = 150.0\n", count), Some(CLEAR_OF_JAWS_MM), "5 % of 150 mm is 8 mm: among the jaws");
        assert_eq!(first("length_mm = 150.0\nholding = \"chuck-and-centre\"\n", count), Some(CLEAR_OF_JAWS_MM));
        assert_eq!(first("length_mm = 600.0\nholding = \"chuck-and-centre\"\n", count), Some(30.0), "5 % of a long bar is more");
        assert_eq!(first("length_mm = 150.0\nholding = \"centres\"\n", count), Some(8.0), "no jaws");
    }
    assert_eq!(stations(&settings("[bar]\ndiameter_mm = 40.0\nlength_mm = 150.0\n"), 3), [15.0, 79.0, 143.0]);
    // what is too short to be read clear of the jaws gets no plan
    let short = settings("[bar]\ndiameter_mm = 40.0\nlength_mm = 15.5\n");
    assert!(stations(&short, 5).is_empty() && plan_trial(&short, 1).is_none());
}

fn separated(trial: &Trial, scheme: &Scheme) -> Vec<CauseKind> {
    foresee_scheme(trial, scheme).into_iter().filter(|one| one.separate).map(|one| one.cause).collect()
}

#[test]
fn diameters_alone_know_yaw_and_twist_only_together() {
    let trial = settings("[bar]\ndiameter_mm = 38.0\nlength_mm = 180.0\n");
    let alone = plain(stations(&trial, 5), 8, 3);
    let foreseen = foresee_scheme(&trial, &alone);
    let yaw = foreseen.iter().find(|one| one.cause == CauseKind::HeadstockYaw).unwrap();
    assert!(!yaw.separate && yaw.only_with.contains(&CauseKind::BedTwist), "{yaw:?}");
    let with = Scheme { levels: true, indicator: true, ..alone };
    let both = separated(&trial, &with);
    assert!(both.contains(&CauseKind::HeadstockYaw) && both.contains(&CauseKind::BedTwist), "{both:?}");
}

#[test]
fn the_plan_adds_what_the_wanted_causes_need_and_admits_what_cannot_be() {
    let plan = |settle: &str, more: &str| -> Plan {
        let bar = COLLARS.replace("38.0", "46.0");
        plan_trial(&settings(&format!("{bar}{more}[plan]\nsettle = [{settle}]\ntarget_expanded_mm = 0.012\n")), 1).unwrap()
    };
    let nothing = plan("", "");
    let scheme = &nothing.option().unwrap().scheme;
    assert!(!scheme.levels && !scheme.indicator && scheme.heavy.is_none() && !scheme.both_ways, "{scheme:?}");
    assert!(nothing.options.windows(2).all(|pair| pair[0].minutes <= pair[1].minutes), "cheapest first");
    assert!(nothing.option().unwrap().meets == Some(true) && scheme.cuts() >= 2);
    let twist = plan("\"bed-twist\"", "");
    assert!(twist.not_separated().is_empty() && (twist.option().unwrap().scheme.levels || twist.option().unwrap().scheme.indicator));
    let bending = plan("\"deflection\"", "[cutting]\ndepth_mm = 0.2\n");
    assert!(bending.option().unwrap().scheme.heavy == Some(4.0), "{:?}", bending.foreseen);
    // between centres neither headstock nor bed can show
    let centres = plan("\"headstock-yaw\"", "holding = \"centres\"\n");
    assert_eq!(centres.not_separated(), [CauseKind::HeadstockYaw]);
}

/// A cut that the bar does not bear is refused, and no scheme has a heavy pass deeper than it bears.
#[test]
fn what_the_bar_does_not_bear_is_not_planned() {
    let bar = |diameter: f64, depth: f64, holding: &str| {
        let bar = format!("[bar]\ndiameter_mm = {diameter}\nlength_mm = 130.0\nholding = \"{holding}\"\n");
        settings(&format!("{bar}[cutting]\ndepth_mm = {depth}\n[plan]\nsettle = [\"deflection\"]\ntarget_expanded_mm = 0.05\n"))
    };
    let refused = plan_trial(&bar(20.0, 0.5, "chuck"), 1).unwrap();
    assert_eq!(refused.stiffness.refusal, Some(Refusal::Overhang { diameters: 6.5 }));
    assert!(refused.options.is_empty() && refused.option().is_none());
    assert_eq!((refused.planned.diameters.len(), refused.planned.levels.len(), refused.planned.indicator.len()), (0, 0, 0));
    // 4.5 diameters bear light cuts only
    let deep = plan_trial(&bar(29.0, 0.3, "chuck"), 1).unwrap();
    assert_eq!(deep.stiffness.refusal, Some(Refusal::Depth { planned_mm: 0.3, deepest_mm: 0.25 }));
    assert!(deep.options.is_empty());
    for (diameter, depth, holding, heavy) in
        [(29.0, 0.1, "chuck", Some(2.0)), (29.0, 0.2, "chuck", None), (20.0, 0.05, "chuck-and-centre", Some(4.0))]
    {
        let plan = plan_trial(&bar(diameter, depth, holding), 1).unwrap();
        assert_eq!((plan.stiffness.refusal, plan.stiffness.heavy_times), (None, heavy));
        let deepest = plan.planned.diameters.iter().map(|reading| reading.depth_mm).fold(0.0, f64::max);
        assert!(plan.options.iter().all(|one| one.scheme.heavy.is_none() || one.scheme.heavy == heavy), "{heavy:?}");
        assert!(deepest <= heavy.unwrap_or(1.0) * depth, "{deepest} at {depth}");
    }
}
