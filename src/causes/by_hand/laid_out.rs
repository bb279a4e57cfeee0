//! What a trial's logs make of the model: unknowns with their priors, quantities that are integrated, passes that contributions are read from.

use super::super::block::{Known, Scale};
use super::super::hyper::Hyper;
use super::super::unknowns::{Meaning, Unknown};
use super::super::values::CauseKind;
use super::{Design, close, designed, fixture, medians, reading};
use crate::trial::*;

const H: Direction = Direction::ToHeadstock;
const T: Direction = Direction::ToTailstock;

/// Setting, pass, direction and edge of passes over three stations.
fn cut(passes: &[(u32, u32, Direction, &str)]) -> Trial {
    let mut trial = fixture::bar(Holding::Chuck);
    let rows = passes.iter().flat_map(|pass| [20.0, 110.0, 200.0].map(|z| (pass, z)));
    let rows = rows.zip(2..).map(|((pass, z), row)| DiameterReading {
        edge: (!pass.3.is_empty()).then(|| pass.3.into()),
        ..reading(row, pass.0, pass.1, pass.2, z, 38.0)
    });
    trial.diameters = rows.collect::<Vec<_>>().into();
    trial
}

fn unknowns(design: &Design) -> Vec<(Meaning, f64, Option<usize>)> {
    design.model.unknowns.iter().map(|Unknown { meaning, sd, flag }| (meaning.clone(), *sd, *flag)).collect()
}

fn ways(count: usize, flag: usize) -> impl Iterator<Item = (Meaning, f64, Option<usize>)> {
    (0..count).map(move |index| (Meaning::WayWear { index }, 1.0, Some(flag)))
}

#[test]
fn unknowns_with_their_priors_and_presences() {
    let design = designed(&fixture::everything(Holding::Chuck));
    let clamp_setting = design.logged.iter().find(|l| l.log.name() == "clamp").unwrap().setting;
    let wear = Meaning::Wear {
        edge: design
            .model
            .unknowns
            .iter()
            .find_map(|u| if let Meaning::Wear { edge } = &u.meaning { Some(edge.clone()) } else { None })
            .unwrap(),
    };
    let mut expected =
        vec![(Meaning::LevelZero, 10.0, None), (Meaning::BarTaper, 1.0, None), (Meaning::FreeTwist { setting: clamp_setting }, 0.2, None)];
    expected.extend((0..3).map(|foot| (Meaning::ClampStep { setting: clamp_setting, foot }, 1.0, None)));
    // how large the lines common to all passes are beforehand is the budget's, and tested against it
    let line = |wanted: Meaning| design.model.unknowns.iter().find(|u| u.meaning == wanted).map(|u| (wanted, u.sd, None)).unwrap();
    expected.extend(
        [Meaning::Vertical, Meaning::Warmth { setting: 0, longer: false }, Meaning::Warmth { setting: 1, longer: false }].map(line),
    );
    expected.extend(ways(design.ways.as_ref().unwrap().len(), 0));
    expected.extend([
        (Meaning::Twist { root: 0 }, 0.4, Some(1)),
        (Meaning::Yaw, 0.08, Some(2)),
        (Meaning::Drift, 0.2, Some(3)),
        (wear.clone(), 12.0, Some(4)),
    ]);
    let found: Vec<_> = unknowns(&design).into_iter().filter(|u| !matches!(u.0, Meaning::FreshEdge { .. })).collect();
    assert_eq!((found, design.model.flags), (expected, 5));
    let design = designed(&fixture::everything(Holding::Centres));
    let flags = |design: &Design, wanted: &dyn Fn(&Meaning) -> bool| {
        design.model.unknowns.iter().filter(|u| wanted(&u.meaning)).map(|u| u.flag).collect::<Vec<_>>()
    };
    // between centres neither yaw nor twist is seen by diameters, but by levels and by the test bar in the chuck
    assert_eq!(flags(&design, &|m| *m == Meaning::Yaw), [Some(2)]);
    assert_eq!(flags(&design, &|m| matches!(m, Meaning::Offset { .. })), [Some(4), Some(5)]);
    let mut bare = cut(&[(0, 1, H, "")]);
    bare.bar.holding = Holding::Centres;
    (bare.prior.offset_mm, bare.cutting.rpm) = (0.0, None);
    let design = designed(&bare);
    let lines = unknowns(&design).into_iter().take(2);
    let mut expected: Vec<_> = lines.chain(ways(design.ways.as_ref().unwrap().len(), 0)).collect();
    assert_eq!([&expected[0].0, &expected[1].0], [&Meaning::Vertical, &Meaning::Warmth { setting: 0, longer: false }]);
    expected.extend([(Meaning::Offset { setting: 0 }, 1e-9, Some(1)), (Meaning::Wear { edge: None }, 12.0, Some(2))]);
    assert_eq!((unknowns(&design), design.model.flags), (expected, 3));
}

/// Nine presences are held apart: settings without a common move share one where they would be more, as do edges beyond six rates of wear.
#[test]
fn too_many_settings_or_edges_share() {
    let settings = |count: u32, holding: Holding| {
        let passes: Vec<(u32, u32, Direction, &str)> = (0..count).map(|i| (i, i + 1, H, "")).collect();
        let mut trial = cut(&passes);
        trial.bar.holding = holding;
        let design = designed(&trial);
        let flags = |wanted: &dyn Fn(&Meaning) -> bool| {
            let mut flags: Vec<_> = design.model.unknowns.iter().filter(|u| wanted(&u.meaning)).filter_map(|u| u.flag).collect();
            flags.dedup();
            flags.len()
        };
        (flags(&|m| matches!(m, Meaning::Twist { .. })), flags(&|m| matches!(m, Meaning::Offset { .. })), design.model.flags)
    };
    // ways, yaw, drift and wear leave room for five twists; with offsets one less each
    assert_eq!([settings(5, Holding::Chuck), settings(6, Holding::Chuck)], [(5, 0, 9), (1, 0, 5)]);
    assert_eq!([settings(5, Holding::Centres), settings(6, Holding::Centres)], [(0, 5, 8), (0, 1, 4)]);
    assert_eq!(
        [settings(1, Holding::ChuckAndCentre), settings(4, Holding::ChuckAndCentre), settings(5, Holding::ChuckAndCentre)],
        [(1, 1, 6), (4, 4, 12), (1, 1, 6)]
    );
    let names = ["a", "b", "c", "d", "e", "f", "g"];
    let edges = |edges: usize, twice: usize| {
        let once = (0..edges).map(|i| (0, i as u32 + 1, H, names[i]));
        let passes: Vec<(u32, u32, Direction, &str)> = once.chain((0..twice).map(|i| (0, 20 + i as u32, H, names[i]))).collect();
        let design = designed(&cut(&passes));
        let count = |wanted: &dyn Fn(&Meaning) -> bool| design.model.unknowns.iter().filter(|u| wanted(&u.meaning)).count();
        (count(&|m| matches!(m, Meaning::Wear { .. })), count(&|m| matches!(m, Meaning::FreshEdge { .. })), design.warnings.len())
    };
    assert_eq!(
        [edges(1, 0), edges(1, 1), edges(3, 3), edges(4, 1), edges(4, 3), edges(6, 1), edges(7, 0)],
        [(1, 0, 0), (1, 1, 0), (3, 3, 0), (4, 1, 0), (4, 0, 0), (6, 0, 0), (1, 0, 1)]
    );
}

#[test]
fn quantities_that_are_integrated() {
    let kinds = |trial: &Trial| designed(trial).model.hypers.kinds;
    let plain = cut(&[(0, 1, H, "")]);
    let arm = Hyper::RollArm { mean: 143.75, sd: 28.75 };
    let noise = Hyper::Noise { index: 0, median: 0.002, factor: 1.5, rounding_variance: 1e-8 / 12.0 };
    assert_eq!(
        kinds(&plain),
        [Hyper::Force { factor: 2.0 }, Hyper::ChuckTilt { scale: 20.0 }, arm, noise, Hyper::SlopeSpread, Hyper::BarrelSpread]
    );
    let mut centres = cut(&[(0, 1, H, ""), (0, 2, T, "")]);
    centres.bar.holding = Holding::Centres;
    let expected = [Hyper::ForceToTailstock, Hyper::HeadstockCentre { scale: 0.05 }, Hyper::TailstockCentre { scale: 0.05 }];
    assert_eq!(kinds(&centres)[1..4], expected);
    centres.bar.holding = Holding::ChuckAndCentre;
    assert_eq!(kinds(&centres)[2..4], [Hyper::ChuckTilt { scale: 20.0 }, Hyper::TailstockCentre { scale: 0.05 }]);
    let mut ends = plain;
    ends.diameters.retain(|r| r.station_mm != 110.0);
    (ends.prior.force_factor, ends.prior.gauge_noise_factor, ends.gauge.diameter.u_mm) = (0.5, 0.5, 0.0);
    let least = 1.0 + 1e-9;
    let noise = Hyper::Noise { index: 0, median: 1e-7, factor: least, rounding_variance: 1e-8 / 12.0 };
    assert_eq!(kinds(&ends), [Hyper::Force { factor: least }, Hyper::ChuckTilt { scale: 20.0 }, arm, noise, Hyper::SlopeSpread]);
    let all = kinds(&fixture::everything(Holding::Chuck));
    assert!(all.contains(&Hyper::MoveGain { median: 0.8, factor: 1.5 }));
    let rest = |index: usize, median: f64| Hyper::Noise { index, median, factor: 1.5, rounding_variance: 0.0 };
    assert!(all.contains(&rest(1, 0.01)) && all.contains(&rest(2, 0.001)));
    let names = designed(&fixture::everything(Holding::Chuck)).noise_names;
    assert_eq!(names, ["diameter", "level", "indicator"]);
}

/// What multiplies a column; an arm within a millimetre of zero counts as one.
#[test]
fn scales_by_hand() {
    let design = designed(&cut(&[(0, 1, H, "")]));
    let mut values = medians(&design);
    (values.roll_arm, values.grip, values.gain) = (120.0, 0.25, 0.8);
    let of =
        [Scale::One, Scale::RollArm, Scale::Grip, Scale::Slack, Scale::RollArmGrip, Scale::InverseRollArm].map(|scale| values.scale(scale));
    assert_eq!(of, [1.0, 120.0, 0.25, 0.75, 30.0, 1.0 / 120.0]);
    assert_eq!([Known::None, Known::Constant(3.0), Known::Gain(5.0)].map(|known| values.known(known)), [0.0, 3.0, 4.0]);
    for (arm, inverse) in [(0.5, 1.0), (-0.5, -1.0), (1.0, 1.0), (2.0, 0.5), (-4.0, -0.25)] {
        values.roll_arm = arm;
        assert_eq!(values.scale(Scale::InverseRollArm), inverse, "{arm}");
    }
}

/// The lightest pass of each way, and the length that all settings have in common.
#[test]
fn passes_that_contributions_are_read_from() {
    let mut trial = cut(&[(0, 1, H, ""), (0, 2, H, ""), (0, 3, T, ""), (0, 4, T, ""), (1, 5, T, ""), (1, 6, T, ""), (2, 7, H, "")]);
    trial.diameters.change(|_, r| {
        (r.depth_mm, r.feed_mm_per_rev) = match r.pass {
            2 => (0.05, 0.05),
            3 => (0.0, 0.01),
            5 => (0.02, 0.2),
            6 => (0.02, 0.2),
            _ => (0.05, 0.1),
        };
        if r.setting == 1 {
            r.station_mm = 40.0 + 0.5 * r.station_mm;
        }
        if r.setting == 2 {
            r.station_mm = 70.0;
        }
    });
    let design = designed(&trial);
    let told: Vec<(u32, u32, Direction, bool)> = design.references.iter().map(|r| (r.setting, r.pass, r.direction, r.main)).collect();
    assert_eq!(told, [(0, 2, H, true), (0, 4, T, false), (1, 5, T, true)]);
    // setting 1 reaches from 50 to 140 mm
    assert_eq!(design.references[0].stations, [20.0, 50.0, 110.0, 140.0, 200.0]);
    assert_eq!((design.references[0].ends, design.references[2].ends), ((1, 3), (0, 2)));
    assert_eq!(design.references[2].ends_in(&[50.0, 60.0, 140.0]), Some((0, 2)));
    assert_eq!(design.references[2].ends_in(&[50.0, 60.0]), None);
    // 2ψz over the 90 mm, and the whole curve
    let values = medians(&design);
    let unknowns: Vec<f64> = design.model.unknowns.iter().map(|u| f64::from(u8::from(u.meaning == Meaning::Yaw))).collect();
    close(design.references[0].end_difference_of(CauseKind::HeadstockYaw, &values, &unknowns), 2.0 * 90.0 / 1000.0, 1e-12);
    // lengths that do not meet: each setting has its own
    trial.diameters.change(|_, r| {
        if r.setting == 1 {
            r.station_mm += 200.0
        }
    });
    trial.bar.length_mm = 400.0;
    let design = designed(&trial);
    assert_eq!((design.references[0].ends, design.references[2].ends, design.references[2].stations.len()), ((0, 2), (0, 2), 3));
}

/// A bar that could be cut next reaches beyond the present one: metal, path and minutes begin at its own end.
#[test]
fn a_pass_along_a_longer_bar() {
    let mut trial = cut(&[(0, 1, H, ""), (0, 2, H, ""), (0, 3, T, "")]);
    trial.prior.way_wear_um = 0.0;
    trial.diameters.change(|_, r| {
        if r.pass > 1 {
            r.station_mm *= 1.5
        }
    });
    let design = designed(&trial);
    let (values, index) = (medians(&design), |m: &Meaning| design.model.unknowns.iter().position(|u| u.meaning == *m).unwrap());
    let along = |pass: usize, cause: CauseKind, unknown: usize| -> Vec<f64> {
        let column = design.logged[pass].rows.columns.iter().find(|c| c.cause == Some(cause) && c.targets[0].0 == unknown).unwrap();
        column.values.iter().map(|v| values.scale(column.scale) * v).collect()
    };
    let wear = index(&Meaning::Wear { edge: None });
    for (pass, metal) in [(0, [200.0, 110.0, 20.0]), (1, [270.0, 135.0, 0.0]), (2, [30.0, 165.0, 300.0])] {
        let (worn, warm) = (along(pass, CauseKind::ToolWear, wear), along(pass, CauseKind::ThermalDrift, index(&Meaning::Drift)));
        for (at, metal) in metal.into_iter().enumerate() {
            assert!((worn[at] - 2.0 * metal / 1e6).abs() < 1e-12, "pass {pass}: {worn:?}");
            assert!((warm[at] - 2.0 * metal / 50.0 / 1000.0).abs() < 1e-12, "pass {pass}: {warm:?}");
        }
    }
}

/// Logs that are no evidence are refused with the reason.
#[test]
fn logs_that_are_no_evidence() {
    let refused = |change: &dyn Fn(&mut Trial)| {
        let mut trial = fixture::everything(Holding::Chuck);
        change(&mut trial);
        designed(&trial).refused.iter().map(|(log, why)| format!("{} {why}", log.name())).collect::<Vec<_>>()
    };
    assert!(refused(&|_| ()).is_empty());
    assert!(refused(&|t| t.testbar.as_mut().unwrap().turned_here = true)[0].contains("indicator a bar just turned"));
    assert!(
        refused(&|t| t.testbar.as_mut().unwrap().holding = Holding::ChuckAndCentre)[0]
            .contains("indicator a test bar held by chuck and centre")
    );
    assert!(refused(&|t| t.clamp.retain(|r| r.foot != Foot::ALL[2]))[0].contains("all four feet"));
    let one_place = refused(&|t| {
        let z = t.clamp[0].station_mm;
        t.clamp.retain(|r| r.foot != Foot::ALL[3] || (r.station_mm - z).abs() < 1e-9);
    });
    assert!(one_place[0].contains("two stations or more for each foot"), "{one_place:?}");
    let warned = |change: &dyn Fn(&mut Trial)| {
        let mut trial = fixture::everything(Holding::Chuck);
        change(&mut trial);
        designed(&trial).warnings.concat()
    };
    assert!(warned(&|_| ()).contains("without a second level on the headstock") && !warned(&|_| ()).contains("certificate"));
    assert!(!warned(&|t| t.levels[0].reference_roll_mm_per_m = Some(0.0)).contains("second level"));
    assert!(!warned(&|t| t.levels.clear()).contains("second level") && warned(&|t| t.testbar = None).contains("a certificate"));
}
