//! A simulated lathe whose feet can be turned, and what is true of it.

use std::path::Path;
use taperwright::causes::CausesOutcome;
use taperwright::conformity::{Joint, judge};
use taperwright::correction::{Beside, Correction, advise, contradictions};
use taperwright::ingest::{ReadOptions, read_trial};
use taperwright::physics::moves::twist_per_gain;
use taperwright::physics::{Compliances, ForceFactors};
use taperwright::shape::Shape;
use taperwright::simulate::{Chance, Nature, WornWays, laid_out, read_off, true_diameters};
use taperwright::statistics::LegendreRange;
use taperwright::trial::{Assumption, Direction, Foot, Move, Place, SimulationRequest, Trial};

/// A sample trial.
pub fn sample(name: &str) -> Trial {
    read_trial(&Path::new(env!("CARGO_MANIFEST_DIR")).join("sample-data").join(name), &ReadOptions::default())
        .unwrap_or_else(|e| panic!("{e:?}"))
}

/// The settings of a sample trial, without readings.
pub fn settings_of(name: &str) -> Trial {
    let mut trial = sample(name);
    trial.diameters.clear();
    trial.levels.clear();
    trial.indicator.clear();
    trial.moves.clear();
    trial
}

/// The advice as the program gives it: with what the limits say and where the logs contradict each other.
pub fn advice_on(trial: &Trial, shapes: &[Shape], outcome: &CausesOutcome) -> Option<Correction> {
    let judged = judge(trial, shapes, Joint { posterior: outcome.posterior.as_ref(), ..Joint::default() }, &[], 1);
    let contradictions = contradictions(shapes, outcome);
    advise(trial, shapes, outcome, &Beside { judged: &judged, contradictions: &contradictions })
}

/// The loop's fixed routine of measurement in every setting.
#[derive(Clone, Copy)]
pub struct Routine {
    pub passes: u32,
    pub stations: u32,
    pub levels: bool,
}

/// Noise 2 µm a reading, tolerance 0.02 mm in 300 mm either way.
pub struct Machine {
    pub base: Trial,
    pub nature: Nature,
    routine: Routine,
    seed: u64,
    /// Moves as the hand was told, which is what the log has.
    pub told: Vec<Move>,
    hand: Chance,
}

impl Machine {
    /// A machine whose gain, roll arm, wear, yaw and twist are drawn from the priors, its bed twisted in any case; bar and chuck yield a little, the
    /// ways are good. The program knows none of this.
    pub fn drawn(number: u64, routine: Routine) -> Self {
        let mut base = settings_of("twist-only");
        base.gauge.diameter.u_mm = 0.002;
        base.simulate = None;
        let laid = laid_out(&base, &request(routine, 1));
        let mut chance = Chance::new(20_260, number);
        let mut nature = Nature::drawn(&laid, &mut chance);
        nature.twist_mm_per_m_per_m.insert(0, base.prior.twist_mm_per_m_per_m * chance.normal());
        nature.spread.diameter_factor = 1.0;
        nature.force = ForceFactors { all: 0.6, to_tailstock: 1.0 };
        nature.compliances = Compliances::from_prior_units(2.0, 0.0);
        nature.worn_ways = WornWays::None;
        nature.thermal_drift_um_per_min = 0.0;
        Self { base, nature, routine, seed: 77_000 + number, told: Vec::new(), hand: Chance::new(31_007, number) }
    }

    fn settings(&self) -> u32 {
        u32::try_from(self.told.len()).unwrap() + 1
    }

    fn laid(&self) -> Trial {
        laid_out(&self.base, &request(self.routine, self.settings()))
    }

    /// The log so far: all settings measured, moves as told.
    pub fn log(&self) -> Trial {
        let mut log = read_off(&self.laid(), &self.nature, self.seed);
        log.moves = self.told.clone();
        let why = "common practice, no source".to_owned();
        log.assumed.push(Assumption { key: "prior".to_owned(), value: "defaults".into(), why });
        log
    }

    /// Turns a foot; the hand does it with 3 % error.
    pub fn turn(&mut self, foot: Foot, raise_mm: f64) {
        let from_setting = self.settings() - 1;
        let feet = self.base.machine.feet.as_ref().unwrap();
        let done = raise_mm * (1.0 + 0.03 * self.hand.normal());
        let twist = self.nature.twist(from_setting) + self.nature.move_gain * twist_per_gain(foot, done, feet).unwrap();
        self.nature.twist_mm_per_m_per_m.insert(from_setting + 1, twist);
        self.told.push(Move {
            place: Place { file: 0, row: u64::from(from_setting) + 2 },
            from_setting,
            to_setting: from_setting + 1,
            foot,
            raise_mm: Some(raise_mm),
            turns: None,
            note: None,
        });
    }

    /// The true taper of the latest setting as cut to the headstock, mm: `2a₁` of the order-2 fit to what the causes make of the bar.
    pub fn true_taper_mm(&self) -> f64 {
        let last = self.settings() - 1;
        let laid = self.laid();
        let truths = true_diameters(&laid, &self.nature, self.seed);
        let curve: Vec<(f64, f64)> = laid
            .diameters
            .iter()
            .zip(&truths)
            .filter(|(r, _)| r.setting == last && r.pass == 1 && r.direction == Direction::ToHeadstock)
            .map(|(r, t)| (r.station_mm, t.parts_um.iter().sum::<f64>() / 1000.0))
            .collect();
        let stations: Vec<f64> = curve.iter().map(|c| c.0).collect();
        let design = LegendreRange::spanning(&stations).unwrap().design(&stations, 2);
        let values = nalgebra::DVector::from_iterator(curve.len(), curve.iter().map(|c| c.1));
        let inverse = (design.transpose() * &design).try_inverse().unwrap();
        2.0 * (inverse * design.transpose() * values)[1]
    }

    /// The limit on the tested length, mm.
    pub fn limit_mm(&self) -> f64 {
        let laid = self.laid();
        let z = || laid.diameters.iter().map(|r| r.station_mm);
        0.02 / 300.0 * (z().fold(0.0, f64::max) - z().fold(f64::INFINITY, f64::min))
    }
}

fn request(routine: Routine, settings: u32) -> SimulationRequest {
    let count = routine.stations;
    SimulationRequest {
        logs: if routine.levels { vec!["diameters".into(), "levels".into()] } else { vec!["diameters".into()] },
        settings,
        passes: routine.passes,
        directions: vec![Direction::ToHeadstock, Direction::ToTailstock],
        stations_mm: (0..count).map(|i| 10.0 + 198.0 * f64::from(i) / f64::from(count - 1)).collect(),
        level_stations_mm: vec![40.0, 160.0, 280.0, 400.0],
        levels_reversed: true,
        ..SimulationRequest::default()
    }
}

/// What was measured before a move is what the log still says after it.
#[test]
fn later_settings_leave_earlier_readings_alone() {
    let mut machine = Machine::drawn(3, Routine { passes: 1, stations: 4, levels: true });
    let before = machine.log();
    let taper = machine.true_taper_mm();
    machine.turn(Foot::TailstockRear, 0.05);
    let after = machine.log();
    assert_eq!(before.diameters.to_vec(), after.diameters.to_vec()[..before.diameters.len()]);
    assert_eq!(before.levels[..], after.levels[..before.levels.len()]);
    assert!(machine.true_taper_mm() > taper, "rear foot at the tailstock end up: larger at the tailstock end");
    assert!((machine.limit_mm() - 0.0132).abs() < 1e-12);
}
