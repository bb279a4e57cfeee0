//! Diameter logs made in a test: a trial with the defaults of a lone log.

use crate::made;
use rand::{Rng, SeedableRng};
use rand_chacha::ChaCha20Rng;
use taperwright::trial::{DiameterReading, Direction, Holding, InputFile, Place, Trial};

/// One reading by pass, direction, station and diameter, cut with the finishing depth and feed.
pub fn reading(row: u64, pass: u32, direction: Direction, station_mm: f64, diameter_mm: f64) -> DiameterReading {
    DiameterReading {
        pass,
        direction,
        depth_mm: 0.1,
        feed_mm_per_rev: 0.1,
        ..DiameterReading::bare(Place { file: 0, row }, station_mm, diameter_mm)
    }
}

/// A trial of a 50 mm steel bar with the defaults of the settings file, a 0.002 mm gauge that reads to `resolution_mm`.
pub fn trial(readings: Vec<DiameterReading>, resolution_mm: f64) -> Trial {
    let length = readings.iter().fold(1.0_f64, |most, r| most.max(r.station_mm));
    let mut trial = made::trial(Holding::Chuck);
    trial.identity.name = "bench".into();
    trial.machine.centre_height_mm = None;
    trial.machine.feet = None;
    (trial.machine.roll_arm_mm, trial.machine.roll_arm_u_mm) = (150.0, 40.0);
    (trial.bar.diameter_mm, trial.bar.length_mm) = (50.0, length);
    trial.cutting.depth_mm = 0.1;
    trial.gauge.diameter.resolution_mm = resolution_mm;
    trial.diameters = readings.into();
    trial.inputs = vec![InputFile {
        file: "diameters.csv".into(),
        sha256: String::new(),
        bytes: 0,
        rows: 0,
        used: 0,
        flagged: 0,
        excluded: 0,
        packed: None,
    }];
    trial
}

/// What to draw a log from, diameters in mm.
#[derive(Debug, Clone, Copy)]
pub struct Truth {
    pub taper: f64,
    pub barrel: f64,
    pub sigma: f64,
    /// Standard deviation between passes of the taper.
    pub between: f64,
}

/// Normal draws by Box and Muller.
pub struct Normals(ChaCha20Rng);

impl Normals {
    pub fn new(seed: u64, stream: u64) -> Self {
        let mut rng = ChaCha20Rng::seed_from_u64(seed);
        rng.set_stream(stream);
        Self(rng)
    }

    pub fn draw(&mut self) -> f64 {
        let (u, v): (f64, f64) = (1.0 - self.0.random::<f64>(), self.0.random());
        (-2.0 * u.ln()).sqrt() * (std::f64::consts::TAU * v).cos()
    }
}

/// Readings at evenly spaced stations over `length` mm: `passes` one way, then `back` the other way.
pub fn drawn(rng: &mut Normals, truth: Truth, passes: u32, back: u32, stations: u32, repeats: u32, length: f64) -> Vec<DiameterReading> {
    let mut readings = Vec::new();
    for pass in 0..passes + back {
        let direction = if pass < passes { Direction::ToHeadstock } else { Direction::ToTailstock };
        let taper = truth.taper + truth.between * rng.draw();
        let level = 50.0 - 0.2 * f64::from(pass);
        for station in 0..stations {
            let x = -1.0 + 2.0 * f64::from(station) / f64::from(stations - 1);
            for _ in 0..repeats {
                let diameter = level + 0.5 * taper * x + truth.barrel * (1.0 - x * x) + truth.sigma * rng.draw();
                let row = readings.len() as u64 + 2;
                readings.push(reading(row, pass + 1, direction, 10.0 + 0.5 * length * (x + 1.0), diameter));
            }
        }
    }
    readings
}
