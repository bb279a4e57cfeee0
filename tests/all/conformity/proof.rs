//! How often a decision is wrong, by simulation: of machines outside a limit at most 5 % may be called conforming, of those inside at most 5 % not
//! conforming, for every quantity and sense, drawn around the limit and just beyond it. Figures of the whole run: `tests/proofs/conformity.md`.

use super::quantities::limit;
use std::path::Path;
use taperwright::causes::{Posterior, VerticalMisalignment, estimate_causes, vertical_misalignment};
use taperwright::conformity::{Decision, Joint, judge};
use taperwright::ingest::{ReadOptions, read_trial};
use taperwright::shape::fit_shapes;
use taperwright::simulate::Chance;
use taperwright::trial::{
    DiameterReading, Direction, Holding, IndicatorReading, LevelReading, Limit, Place, Plane, Quantity, Sense, TestBar, Trial,
};

/// Length tested, mm, and the stations of every log of diameters.
const LENGTH_MM: f64 = 200.0;
const STATIONS: [f64; 5] = [0.0, 50.0, 100.0, 150.0, 200.0];

/// One quantity with a limit and a machine whose true value can be chosen.
struct Bench {
    limit: Limit,
    /// Logs of a machine with this true value, in the limit's unit.
    logs: fn(&Trial, f64, &mut Chance) -> Trial,
    /// Whether the joint estimate of causes is needed.
    joint: bool,
}

/// The settings of a sample trial without logs, limits and simulation.
fn bench_settings() -> Trial {
    let folder = Path::new(env!("CARGO_MANIFEST_DIR")).join("sample-data/headstock-only");
    let mut trial = read_trial(&folder, &ReadOptions::default()).unwrap();
    trial.diameters.truncate(1);
    trial.levels.clear();
    trial.indicator.clear();
    trial.acceptance.limit.clear();
    trial.simulate = None;
    trial.bar.length_mm = 220.0;
    trial
}

/// Three passes to the headstock with the curve `curve_mm`: noise of the data sheet, slopes that differ from pass to pass, a bar and a gauge of uneven
/// temperature within their half-widths.
fn turned(base: &Trial, angles: &[f64], curve_mm: &dyn Fn(f64, f64) -> f64, chance: &mut Chance) -> Trial {
    turned_often(base, 3, angles, curve_mm, chance)
}

/// The same with as many passes as are asked for.
fn turned_often(base: &Trial, passes: u32, angles: &[f64], curve_mm: &dyn Fn(f64, f64) -> f64, chance: &mut Chance) -> Trial {
    let mut trial = base.clone();
    let pattern = base.diameters.to_vec()[0].clone();
    let diameter = trial.bar.diameter_mm;
    let wide = trial.conditions.temperature_spread_c * trial.bar.expansion_um_per_m_k + 11.5;
    let unlike_mm = (2.0 * chance.uniform() - 1.0) * wide * 1e-6 * diameter * 0.7;
    trial.diameters.clear();
    for pass in 1..=passes {
        let level = 40.0 + 0.05 * chance.normal();
        let slope_mm = 0.0008 * chance.normal();
        for station in STATIONS {
            for (repeat, angle) in angles.iter().enumerate() {
                let along = station / LENGTH_MM;
                let read = level + curve_mm(station, *angle) + (unlike_mm + slope_mm) * along + trial.gauge.diameter.u_mm * chance.normal();
                let read = (1000.0 * read).round() / 1000.0;
                trial.diameters.push(DiameterReading {
                    place: Place { file: 0, row: trial.diameters.len() as u64 + 2 },
                    setting: 0,
                    pass,
                    direction: Direction::ToHeadstock,
                    station_mm: station,
                    diameter_mm: read,
                    read_mm: read,
                    repeat: Some(u32::try_from(repeat).unwrap() + 1),
                    angle_deg: (angles.len() > 2).then_some(*angle),
                    tool_shift_mm: 0.0,
                    ..pattern.clone()
                });
            }
        }
    }
    trial
}

const TWICE: [f64; 2] = [0.0, 90.0];

fn plain(base: &Trial, chance: &mut Chance) -> Trial {
    turned(base, &TWICE, &|_, _| 0.0, chance)
}

/// An indicator run at 0° and 180° of the spindle along a test bar, mm of deviation at the far end.
fn indicated(base: &Trial, plane: Plane, holding: Holding, rise_mm_per_m: f64, chance: &mut Chance) -> Trial {
    let mut trial = plain(base, chance);
    let bar = TestBar { taper_um: 0.0, u_um: 0.8, length_mm: 300.0, diameter_mm: Some(40.0), holding, turned_here: false };
    let bar_taper_mm = 0.0008 * chance.normal();
    let (throw, phase) = (0.004 * chance.normal(), std::f64::consts::TAU * chance.uniform());
    for degrees in [0.0_f64, 180.0] {
        for station in [10.0, 90.0, 170.0, 250.0, 290.0] {
            let taper = 0.5 * bar_taper_mm * station / bar.length_mm;
            let sag =
                if plane == Plane::Top { taperwright::physics::vertical_misalignment::test_bar_sag_mm(station, &bar, 40.0) } else { 0.0 };
            let reading = rise_mm_per_m * station / 1000.0 - sag + taper + throw * (degrees.to_radians() - phase).cos();
            trial.indicator.push(IndicatorReading {
                place: Place { file: 0, row: 2 },
                setting: 0,
                station_mm: station,
                reading_mm: reading + trial.gauge.indicator.u_mm * chance.normal(),
                spindle_deg: degrees,
                plane,
                note: None,
            });
        }
    }
    trial.testbar = Some(bar);
    trial
}

/// Three bands, the ends 0.03 mm apart, the middle at this share of it: the larger of share and 1 − share is judged.
fn stepped(share: f64) -> impl Fn(f64, f64) -> f64 {
    move |z, _| {
        if z < 75.0 {
            0.0
        } else if z < 125.0 {
            0.03 * share
        } else {
            0.03
        }
    }
}

fn benches() -> Vec<Bench> {
    let bench = |limit, logs, joint| Bench { limit, logs, joint };
    let taper: fn(&Trial, f64, &mut Chance) -> Trial = |base, t, chance| turned(base, &TWICE, &|z, _| t * z / LENGTH_MM, chance);
    let barrel: fn(&Trial, f64, &mut Chance) -> Trial =
        |base, b, chance| turned(base, &TWICE, &|z, _| b * (1.0 - (2.0 * z / LENGTH_MM - 1.0).powi(2)), chance);
    let level: fn(&Trial, f64, &mut Chance) -> Trial = |base, range, chance| {
        let mut trial = plain(base, chance);
        let zero = 0.02 * chance.normal();
        for (place, station) in [0.0, 150.0, 300.0, 450.0, 600.0].into_iter().enumerate() {
            for reversed in [false, true] {
                let roll = range * station / 600.0 + if reversed { -zero } else { zero };
                let roll_mm_per_m = roll + trial.gauge.level.u_mm_per_m * chance.normal();
                trial.levels.push(LevelReading {
                    place: Place { file: 0, row: place as u64 + 2 },
                    setting: 0,
                    station_mm: station,
                    roll_mm_per_m,
                    reversed,
                    reference_roll_mm_per_m: None,
                    note: None,
                });
            }
        }
        trial
    };
    let vertical: fn(&Trial, f64, &mut Chance) -> Trial = |base, v, chance| indicated(base, Plane::Top, Holding::Chuck, v / 0.3, chance);
    let height: fn(&Trial, f64, &mut Chance) -> Trial = |base, e, chance| indicated(base, Plane::Top, Holding::Centres, e / 0.3, chance);
    let horizontal: fn(&Trial, f64, &mut Chance) -> Trial = |base, q, chance| {
        // away from the tool: the reading falls along the bar, and the bar turned there is larger at its free end
        let mut trial = indicated(base, Plane::Side, Holding::Chuck, -q / 0.3, chance);
        trial.diameters = turned(base, &TWICE, &|z, _| 2.0 * q * z / 300.0, chance).diameters;
        trial
    };
    let offset: fn(&Trial, f64, &mut Chance) -> Trial = |base, e, chance| {
        let mut centres = base.clone();
        centres.bar.holding = Holding::Centres;
        // both ways: of passes cut one way nobody can tell the offset from the wear of the tool but by its prior
        let mut trial = turned_often(&centres, 4, &TWICE, &|z, _| 2.0 * e * z / 220.0, chance);
        let back = |reading: DiameterReading| match reading.pass {
            3.. => DiameterReading { direction: Direction::ToTailstock, ..reading },
            _ => reading,
        };
        trial.diameters = trial.diameters.iter().map(back).collect();
        trial
    };
    let roundness: fn(&Trial, f64, &mut Chance) -> Trial =
        |base, r, chance| turned(base, &[0.0, 45.0, 90.0, 135.0], &|_, angle: f64| 0.5 * r * (2.0 * angle.to_radians()).cos(), chance);
    let bands: fn(&Trial, f64, &mut Chance) -> Trial = |base, share, chance| turned(base, &TWICE, &stepped(share), chance);
    let directed = |quantity, mm, sense| limit(quantity, mm, None, sense);
    let over = |quantity, mm, sense| limit(quantity, mm, Some(300.0), sense);
    vec![
        bench(directed(Quantity::Taper, 0.010, Sense::Either), taper, false),
        bench(directed(Quantity::Taper, 0.020, Sense::LargerAtHeadstock), taper, false),
        bench(directed(Quantity::Taper, 0.020, Sense::LargerAtTailstock), taper, false),
        bench(directed(Quantity::Barrel, 0.006, Sense::Either), barrel, false),
        bench(directed(Quantity::Barrel, 0.010, Sense::Barrel), barrel, false),
        bench(directed(Quantity::Barrel, 0.010, Sense::Hourglass), barrel, false),
        bench(directed(Quantity::DiameterConsistency, 0.010, Sense::Either), taper, false),
        bench(directed(Quantity::AdjacentBands, 0.75, Sense::Either), bands, false),
        bench(directed(Quantity::Roundness, 0.006, Sense::Either), roundness, false),
        bench(directed(Quantity::LevelVariation, 0.04, Sense::Either), level, false),
        bench(over(Quantity::SpindleParallelismVertical, 0.020, Sense::Upwards), vertical, false),
        bench(over(Quantity::SpindleParallelismVertical, 0.020, Sense::Downwards), vertical, false),
        bench(directed(Quantity::TailstockHeight, 0.020, Sense::Upwards), height, false),
        bench(directed(Quantity::TailstockHeight, 0.020, Sense::Either), height, false),
        bench(over(Quantity::SpindleParallelismHorizontal, 0.015, Sense::TowardsTool), horizontal, true),
        bench(over(Quantity::SpindleParallelismHorizontal, 0.015, Sense::AwayFromTool), horizontal, true),
        bench(directed(Quantity::TailstockOffset, 0.010, Sense::Either), offset, true),
        bench(directed(Quantity::TailstockOffset, 0.010, Sense::AwayFromTool), offset, true),
    ]
}

/// The bounds of a limit that belongs to its own length.
fn bounds(limit: &Limit) -> (f64, f64) {
    let allowed = taperwright::conformity::Allowed::of(limit, limit.over_mm);
    (allowed.low, allowed.high)
}

fn decided(bench: &Bench, base: &Trial, truth: f64, stream: u64) -> Option<Decision> {
    let mut chance = Chance::new(50_260_912 + other_seed(), stream);
    let mut trial = (bench.logs)(base, truth, &mut chance);
    trial.acceptance.limit = vec![bench.limit.clone()];
    let shapes = fit_shapes(&trial, 1, 0).shapes;
    let posterior: Option<Posterior> = if bench.joint { estimate_causes(&trial, 1).posterior } else { None };
    let rises: Vec<VerticalMisalignment> = vertical_misalignment(&trial).settings;
    judge(&trial, &shapes, Joint { posterior: posterior.as_ref(), ..Joint::default() }, &rises, stream)
        .first()
        .and_then(|judged| judged.decision)
}

/// `SEED`, added to the generators' seeds: machines that nobody looked at before. 0 where it is not set.
fn other_seed() -> u64 {
    std::env::var("SEED").ok().and_then(|seed| seed.parse().ok()).unwrap_or(0)
}

/// Counts of one cell.
#[derive(Debug, Default, Clone, Copy)]
struct Count {
    outside: u32,
    passed: u32,
    inside: u32,
    failed: u32,
    conforms: u32,
}

impl Count {
    fn add(&mut self, inside: bool, decision: Option<Decision>) {
        let (all, wrong) = if inside { (&mut self.inside, &mut self.failed) } else { (&mut self.outside, &mut self.passed) };
        *all += 1;
        let mistaken = if inside { Decision::DoesNotConform } else { Decision::Conforms };
        *wrong += u32::from(decision == Some(mistaken));
        self.conforms += u32::from(inside && decision == Some(Decision::Conforms));
    }
}

/// Whether `wrong` of `all` is more than `share` would bring about by chance once in a thousand times (normal approximation with a half).
fn too_many(wrong: u32, all: u32, share: f64) -> bool {
    let expected = share * f64::from(all);
    f64::from(wrong) > expected + 0.5 + 3.09 * (expected * (1.0 - share)).sqrt()
}

/// Runs `around` machines with true values uniform over twice the limits and `edge` just outside (and inside) each limit; prints and judges the counts.
fn run(benches: &[Bench], around: u32, edge: u32) -> Vec<String> {
    let base = bench_settings();
    let mut faults = Vec::new();
    for (place, bench) in benches.iter().enumerate() {
        let (low, high) = bounds(&bench.limit);
        let share = bench.limit.quantity == Quantity::AdjacentBands;
        let from = if share {
            0.5
        } else if low.is_finite() {
            2.0 * low
        } else {
            0.0
        };
        let to = if share { 1.0 } else { 2.0 * high };
        let mut chance = Chance::new(912 + other_seed(), place as u64);
        let stream = |number: u32| (place as u64) << 32 | u64::from(number);
        let mut drawn = Count::default();
        for number in 0..around {
            let truth = from + (to - from) * chance.uniform();
            drawn.add((low..=high).contains(&truth), decided(bench, &base, truth, stream(number)));
        }
        let mut beyond = Count::default();
        let mut within = Count::default();
        let sides = if low.is_finite() { vec![low, high] } else { vec![high] };
        for (side, bound) in sides.iter().enumerate() {
            for number in 0..edge {
                let at = stream(1_000_000 * (side as u32 + 1) + number);
                beyond.add(false, decided(bench, &base, bound * 1.001, at));
                within.add(true, decided(bench, &base, bound * 0.999, at + 500_000));
            }
        }
        let limit = &bench.limit;
        println!(
            "| {} | {} | {} of {} | {} of {} | {} of {} | {} of {} | {} of {} |",
            limit.quantity.name(),
            limit.sense.name(),
            drawn.passed,
            drawn.outside,
            drawn.failed,
            drawn.inside,
            beyond.passed,
            beyond.outside,
            within.failed,
            within.inside,
            drawn.conforms,
            drawn.inside
        );
        for (what, wrong, all) in [
            ("outside called conforming", drawn.passed, drawn.outside),
            ("inside called not conforming", drawn.failed, drawn.inside),
            ("just outside called conforming", beyond.passed, beyond.outside),
            ("just inside called not conforming", within.failed, within.inside),
        ] {
            if too_many(wrong, all, 0.05) {
                faults.push(format!("{} {}: {wrong} of {all} {what}", limit.quantity.name(), limit.sense.name()));
            }
        }
        if around > 50 && 4 * drawn.conforms < drawn.inside {
            faults.push(format!("{} {}: a rule that proves nothing", limit.quantity.name(), limit.sense.name()));
        }
    }
    faults
}

#[test]
fn few_wrong_decisions_of_the_cheap_quantities() {
    let cheap: Vec<Bench> = benches()
        .into_iter()
        .filter(|bench| matches!(bench.limit.quantity, Quantity::Taper | Quantity::SpindleParallelismVertical))
        .collect();
    let faults = run(&cheap, 60, 20);
    assert!(faults.is_empty(), "{faults:#?}");
}

/// Machines drawn around the limit, and at each bound, of the quantities that need no joint estimate; and of those that do.
const DIRECT: (u32, u32) = (400, 300);
const JOINT: (u32, u32) = (100, 50);

/// The counts, or as many as `MACHINES` says for both: a shorter run.
fn counts(usual: (u32, u32)) -> (u32, u32) {
    std::env::var("MACHINES").ok().and_then(|machines| machines.parse().ok()).map_or(usual, |machines| (machines, machines))
}

#[test]
#[ignore = "a proof: some minutes"]
fn at_most_one_in_twenty_decisions_is_wrong() {
    let direct: Vec<Bench> = benches().into_iter().filter(|bench| !bench.joint).collect();
    let (around, edge) = counts(DIRECT);
    let faults = run(&direct, around, edge);
    assert!(faults.is_empty(), "{faults:#?}");
}

#[test]
#[ignore = "a proof: a minute"]
fn at_most_one_in_twenty_decisions_on_bands_is_wrong_however_they_were_read() {
    let bench = |logs| Bench { limit: limit(Quantity::AdjacentBands, 0.75, None, Sense::Either), logs, joint: false };
    let (around, edge) = counts(DIRECT);
    for (design, logs) in [
        (
            "one pass, single readings",
            (|base, share, chance| turned_often(base, 1, &[0.0], &stepped(share), chance)) as fn(&Trial, f64, &mut Chance) -> Trial,
        ),
        ("one pass, two readings", |base, share, chance| turned_often(base, 1, &TWICE, &stepped(share), chance)),
        ("two passes, single readings", |base, share, chance| turned_often(base, 2, &[0.0], &stepped(share), chance)),
        ("six passes, single readings", |base, share, chance| turned_often(base, 6, &[0.0], &stepped(share), chance)),
    ] {
        println!("{design}");
        // whether a design this small can prove anything is not asked
        let faults: Vec<String> = run(&[bench(logs)], around, edge).into_iter().filter(|fault| !fault.contains("proves nothing")).collect();
        assert!(faults.is_empty(), "{design}: {faults:#?}");
    }
}

#[test]
#[ignore = "a proof: some minutes with optimisation"]
fn at_most_one_in_twenty_decisions_on_the_joint_estimate_is_wrong() {
    let joint: Vec<Bench> = benches().into_iter().filter(|bench| bench.joint).collect();
    let (around, edge) = counts(JOINT);
    let faults = run(&joint, around, edge);
    assert!(faults.is_empty(), "{faults:#?}");
}

#[test]
fn the_judge_of_the_counts_rejects_a_rule_that_leaks() {
    assert!(!too_many(5, 100, 0.05) && too_many(20, 100, 0.05) && too_many(80, 1000, 0.05) && !too_many(60, 1000, 0.05));
    // simple acceptance lets about half of what lies just outside pass: the same count must reject it
    let base = bench_settings();
    let bench = &benches()[1];
    let (low, _) = bounds(&bench.limit);
    let mut trial = base.clone();
    trial.acceptance.decision_rule = Some(taperwright::trial::DecisionRule::Simple);
    let passed = (0..60).filter(|number| decided(bench, &trial, low * 1.001, *number) == Some(Decision::Conforms)).count();
    assert!(too_many(u32::try_from(passed).unwrap(), 60, 0.05), "{passed} of 60");
}
