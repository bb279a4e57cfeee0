//! What the model says of readings of every kind, by the formulas of levels, indicator, clamp and diameters.

use super::super::block::Spread;
use super::super::design::{Log, LoggedRows};
use super::super::hyper::Values;
use super::super::integrate::integrate;
use super::super::outcome::expected;
use super::super::posterior::posterior;
use super::super::unknowns::Meaning;
use super::super::values::CauseKind;
use super::{Design, close, designed, fixture, medians, reading};
use crate::trial::*;

const H: Direction = Direction::ToHeadstock;
const T: Direction = Direction::ToTailstock;

/// Unknowns by what they are: each has a size of its own.
fn size(meaning: &Meaning) -> f64 {
    match meaning {
        Meaning::LevelZero => 0.7,
        Meaning::BarTaper => 3.0,
        Meaning::ClampStep { foot, .. } => 0.1 * (1.0 + *foot as f64),
        Meaning::FreeTwist { .. } => 0.05,
        Meaning::WayWear { index } => 0.5 - 0.2 * *index as f64,
        Meaning::Twist { .. } => 0.3,
        Meaning::Yaw => 0.04,
        Meaning::Drift => 0.15,
        Meaning::Offset { setting } => 0.02 + 0.01 * f64::from(*setting),
        Meaning::Wear { .. } => 9.0,
        Meaning::FreshEdge { .. } => 1.5,
        Meaning::Vertical => 2e-5,
        Meaning::Warmth { setting, .. } => 0.003 + 0.001 * f64::from(*setting),
    }
}

/// Values with next to no force, an arm of 160 mm, a gain of 0.9, a grip of 0.6; and the unknowns above.
fn state(design: &Design) -> (Values, Vec<f64>) {
    let values = Values { force: 1e-12, roll_arm: 160.0, gain: 0.9, grip: 0.6, ..medians(design) };
    (values, design.model.unknowns.iter().map(|u| size(&u.meaning)).collect())
}

/// Each block of a log: setting, pass, stations, what the model says.
fn says(design: &Design, log: Log) -> Vec<(&LoggedRows, Vec<f64>)> {
    let (values, unknowns) = state(design);
    let mut bending = design.model.bending.clone();
    bending.fill(&values);
    design.logged.iter().filter(|l| l.log == log).map(|l| (l, expected(&l.rows, &values, &unknowns, &bending))).collect()
}

/// Twist of a setting of the trial of every log: 0.3, and in setting 1 what −0.03 mm at the tailstock's rear foot does, 0.9 times 10⁶/(700·150).
fn twist(setting: u32) -> f64 {
    0.3 - if setting == 1 { 0.9 * 0.03 * 1e6 / (700.0 * 150.0) } else { 0.0 }
}

/// Curve of worn ways at a place on the bed, mm.
fn worn(design: &Design, z: f64) -> f64 {
    let ways = design.ways.as_ref().unwrap();
    (0..ways.len()).map(|c| size(&Meaning::WayWear { index: c }) * ways.value(c, z)).sum()
}

#[test]
fn levels_indicator_and_clamp() {
    let trial = fixture::everything(Holding::Chuck);
    let design = designed(&trial);
    let levels = says(&design, Log::Levels);
    assert_eq!(levels.len(), 2);
    for (own, said) in &levels {
        let readings: Vec<&LevelReading> = trial.levels.iter().filter(|r| r.setting == own.setting).collect();
        assert_eq!((own.rows.readings.len(), own.pass), (readings.len(), None));
        for (at, r) in readings.iter().enumerate() {
            let turned = if r.reversed { -0.7 } else { 0.7 };
            // a larger bar by g is a tool that leaned out by g/2: the carriage rolled by 1000·g/(2h)
            let roll = 1000.0 * worn(&design, r.station_mm) / (2.0 * 160.0);
            let wanted = turned + twist(own.setting) * r.station_mm / 1000.0;
            close(said[at], wanted + roll, 1e-9);
            assert_eq!((own.rows.readings[at], own.rows.variance[at], own.stations[at]), (r.roll_mm_per_m, 1.0, r.station_mm));
        }
    }
    let indicator = says(&design, Log::Indicator);
    for (own, said) in &indicator {
        let readings: Vec<&IndicatorReading> = trial.indicator.iter().filter(|r| r.setting == own.setting).collect();
        for (at, r) in readings.iter().enumerate() {
            let z = r.station_mm;
            // the certificate's 1 µm and the 3 µm that it is wrong by, over 200 mm
            let wanted =
                -(0.04 / 1000.0 + 160.0 * twist(own.setting) / 1e6) * z - 0.5 * worn(&design, z) + 0.5 * (1.0 + 3.0) / 1000.0 / 200.0 * z;
            close(said[at], wanted, 1e-9);
            let (sin, cos) = r.spindle_deg.to_radians().sin_cos();
            let run_out: Vec<f64> = own.rows.random.iter().map(|(_, v)| v[at]).collect();
            for (found, wanted) in run_out.iter().zip([cos, sin, z * cos, z * sin]) {
                assert!((found - wanted).abs() < 1e-9, "{run_out:?}");
            }
        }
        let sd: Vec<Spread> = own.rows.random.iter().map(|term| term.0).collect();
        assert_eq!(sd, [Spread::Known(0.01), Spread::Known(0.01), Spread::Known(0.02 / 300.0), Spread::Known(0.02 / 300.0)]);
    }
    let clamp = says(&design, Log::Clamp);
    assert_eq!(clamp.len(), 4);
    for (own, said) in &clamp {
        let foot = trial.clamp.iter().find(|r| r.place == own.places[0]).unwrap().foot;
        let place = Foot::ALL.iter().position(|f| *f == foot).unwrap();
        // three feet with steps of 0.1, 0.2 and 0.3; the last brings what is left of the setting's twist less the free bed's 0.05
        let step = if place < 3 { 0.1 * (1.0 + place as f64) } else { twist(own.setting) - 0.05 - 0.6 };
        for (z, found) in own.stations.iter().zip(said) {
            close(*found, -160.0 * step * (z + 120.0) / 1e6, 1e-9);
        }
    }
    let mut second = trial;
    second.levels.iter_mut().for_each(|r| r.reference_roll_mm_per_m = Some(0.25));
    let design = designed(&second);
    let own = design.logged.iter().find(|l| l.log == Log::Levels).unwrap();
    assert_eq!((own.rows.readings[0], own.rows.variance[0]), (second.levels[0].roll_mm_per_m - 0.25, 2.0));
}

/// Diameters in the chuck, between centres, and held by both; passes both ways, an edge that has cut before.
#[test]
fn diameters_however_the_bar_is_held() {
    for holding in [Holding::Chuck, Holding::Centres, Holding::ChuckAndCentre] {
        let mut trial = fixture::everything(holding);
        trial.prior.fresh_edge_um = 0.0;
        let design = designed(&trial);
        let (length, grip) = (220.0, 0.6);
        let mut seen = 0;
        for (own, said) in says(&design, Log::Diameters) {
            let direction = trial.diameters.iter().find(|r| r.setting == own.setting && Some(r.pass) == own.pass).unwrap().direction;
            let mut wanted = Vec::new();
            for z in &own.stations {
                let along = if direction == H { length - z } else { *z };
                let zeta = z / length;
                // (3ζ² − ζ³)/2 of a bar that the chuck holds firmly, ζ of one that it does not
                let share = grip * 0.5 * (3.0 * zeta.powi(2) - zeta.powi(3)) + (1.0 - grip) * zeta;
                let lean = 2.0 * 0.04 / 1000.0 + 2.0 * 160.0 * twist(own.setting) / 1e6;
                let offset = 2.0 * (0.02 + 0.01 * f64::from(own.setting));
                let geometry = match holding {
                    Holding::Chuck => lean * z,
                    Holding::Centres => offset * zeta,
                    Holding::ChuckAndCentre => lean * grip * (z - length * 0.5 * (3.0 * zeta.powi(2) - zeta.powi(3))) + offset * share,
                };
                let wear = 2.0 * 9.0 * along / 1e6;
                let drift = 2.0 * 0.15 * along / (0.1 * 500.0) / 1000.0;
                let fresh = own.fresh(&design, direction);
                // common to all passes: a rise per mm, and one over the 180 mm that are tested
                let line = (2e-5 + (0.003 + 0.001 * f64::from(own.setting)) / 180.0) * z;
                wanted.push(geometry + line + wear + drift + worn(&design, *z) + fresh.map_or(0.0, |fresh| fresh(*z)));
            }
            for (at, found) in said.iter().enumerate() {
                let (found, wanted) = (found - said[0], wanted[at] - wanted[0]);
                assert!((found - wanted).abs() < 1e-9, "{holding:?} {direction:?} {}: {found} {wanted}", own.stations[at]);
                seen += usize::from(wanted.abs() > 1e-4);
            }
        }
        assert!(seen > 6, "{seen}");
    }
}

impl LoggedRows {
    /// Fresh wear has no prior spread here, but its unknown is set all the same: `2·w₀(1 − e^(−s/s₀))/1000` after the path of all passes before.
    fn fresh(&self, design: &Design, direction: Direction) -> Option<impl Fn(f64) -> f64> {
        let has = design.model.unknowns.iter().any(|u| matches!(u.meaning, Meaning::FreshEdge { .. }));
        let before = f64::from(2 * self.setting + u32::from(direction == T));
        has.then_some(move |z: f64| {
            let along = if direction == H { 220.0 - z } else { z };
            let path_m = std::f64::consts::PI * 38.0 * (before * 220.0 + along) / 0.1 / 1000.0;
            2.0 * 1.5 * (1.0 - (-path_m / 20.0).exp()) / 1000.0
        })
    }
}

/// Spread between passes: twice the standard error of one pass's slope and bend; repeats count, a setting with one station has none.
#[test]
fn spread_between_passes() {
    let mut trial = fixture::bar(Holding::Chuck);
    let rows = [(0, 1, 0.0), (0, 1, 100.0), (0, 1, 200.0), (0, 2, 0.0), (0, 2, 200.0), (0, 2, 200.0), (1, 3, 50.0), (1, 3, 50.0)];
    trial.diameters =
        rows.iter().zip(2..).map(|((setting, pass, z), row)| reading(row, *setting, *pass, H, *z, 38.0)).collect::<Vec<_>>().into();
    let reduced = trial.with_diameters(trial.diameters.reduced());
    let design = designed(&reduced);
    let terms = |place: usize| &design.logged[place].rows.random;
    // −1, 0, 1 in one pass: Σx² = 2 and the bends 1, −½, 1 have Σ(p − p̄)² = 3/2; the other pass has two stations and no bend, and is left out of both
    let factor = |spread: &Spread| match spread {
        Spread::Slope { factor, noise: 0 } | Spread::Barrel { factor, noise: 0 } => *factor,
        other => panic!("{other:?}"),
    };
    for place in [0, 1] {
        close(factor(&terms(place)[0].0), 2.0 * 0.5_f64.sqrt(), 1e-9);
        close(factor(&terms(place)[1].0), 2.0 * (2.0_f64 / 3.0).sqrt(), 1e-9);
    }
    assert_eq!((terms(0)[0].1.as_slice(), terms(0)[1].1.as_slice()), ([-1.0, 0.0, 1.0].as_slice(), [1.0, -0.5, 1.0].as_slice()));
    assert_eq!((design.logged[1].rows.variance.as_slice(), design.logged[1].rows.repeats.len()), ([1.0, 0.5].as_slice(), 1));
    assert_eq!((terms(2).len(), terms(2)[0].1.as_slice(), factor(&terms(2)[0].0)), (1, [0.0].as_slice(), 0.0));
    trial.diameters.retain(|r| r.station_mm != 100.0);
    let two = trial.with_diameters(trial.diameters.reduced());
    let design = designed(&two);
    // slopes alone: 1/Σ(x − x̄)² is ½ of two readings, and ⅜ of one at an end and two at the other
    let line = 2.0 * (0.5 * (0.5 + 0.375_f64)).sqrt();
    close(factor(&design.logged[0].rows.random[0].0), line, 1e-9);
    assert_eq!(design.logged[0].rows.random.len(), 1);
}

/// Minutes known from the log's times alone lie on a straight line through the pass's own readings against metal cut.
#[test]
fn minutes_from_the_times_of_a_log() {
    let mut trial = fixture::bar(Holding::Chuck);
    trial.cutting.rpm = None;
    // to the headstock, 2 mm a minute from 200 mm on, in the log from 30 minutes on; the middle one read a little late
    let rows = [(200.0, 30.0), (120.0, 71.0), (20.0, 120.0)];
    trial.diameters = rows
        .iter()
        .zip(2..)
        .map(|((z, minute), row)| DiameterReading { time_min: Some(*minute), ..reading(row, 0, 1, H, *z, 38.0) })
        .collect::<Vec<_>>()
        .into();
    let design = designed(&trial);
    assert!(design.timed);
    let reference = &design.references[0];
    let unknowns: Vec<f64> = design.model.unknowns.iter().map(|u| f64::from(u8::from(u.meaning == Meaning::Drift))).collect();
    let curve = reference.curve(CauseKind::ThermalDrift, &medians(&design), &unknowns);
    for (at, z) in [20.0, 120.0, 200.0].into_iter().enumerate() {
        // 2κt/1000 with κ = 1 µm/min
        assert!((curve[at] - curve[2] - 2.0 * (200.0 - z) / 2.0 / 1000.0).abs() < 1e-12, "{z}: {curve:?}");
    }
}

/// Draws of the posterior: a setting's twist carries what moves did, contributions are the ends and peaks of the draws' curves.
#[test]
fn draws_hang_together() {
    let trial = fixture::everything(Holding::ChuckAndCentre);
    let design = designed(&trial);
    let found = posterior(&design, &integrate(&design.model, 3), 3);
    let index = |meaning: &Meaning| design.model.unknowns.iter().position(|u| u.meaning == *meaning).unwrap();
    let (yaw, root) = (index(&Meaning::Yaw), index(&Meaning::Twist { root: 0 }));
    let offset = index(&Meaning::Offset { setting: 1 });
    for (i, draw) in found.draws.iter().enumerate().step_by(117) {
        assert_eq!(
            (found.yaw_mm_per_m[i], found.roll_arm_mm[i], found.move_gain[i]),
            (draw.unknowns[yaw], draw.values.roll_arm, draw.values.gain)
        );
        assert_eq!((found.force_factor[i], found.offset_mm[&1][i]), (draw.values.force, draw.unknowns[offset]));
        assert_eq!(found.twist_mm_per_m_per_m[&0][i], draw.unknowns[root]);
        close(found.twist_mm_per_m_per_m[&1][i], draw.unknowns[root] - draw.values.gain * 0.03 * 1e6 / 105_000.0, 1e-9);
        for reference in design.references.iter().filter(|r| r.main) {
            let own = &found.contributions[&(reference.setting, CauseKind::Deflection)];
            let curve = reference.curve(CauseKind::Deflection, &draw.values, &draw.unknowns);
            let (first, last) = (curve[reference.ends.0], curve[reference.ends.1]);
            let most = curve.iter().fold(f64::MIN, |m, v| m.max(*v)) - curve.iter().fold(f64::MAX, |m, v| m.min(*v));
            assert!((own.end_difference_um[i] - 1000.0 * (last - first)).abs() < 1e-9 && (own.peak_um[i] - 1000.0 * most).abs() < 1e-9);
        }
    }
    assert!(found.pareto_k.is_none_or(|k| k < 0.7) && found.points > 1_000 && found.effective_points > 100.0);
}
