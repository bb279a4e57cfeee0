//! Diameter logs made in a test: a trial with the defaults of a lone log.

use rand::{Rng, SeedableRng};
use rand_chacha::ChaCha20Rng;
use std::collections::BTreeMap;
use taperwright::trial::{
    Acceptance, Bar, Conditions, Cutting, DiameterGauge, DiameterReading, Direction, Gauges, Holding, Identity, IndicatorGauge, LevelGauge,
    Machine, Material, Place, Prior, Trial,
};

/// One reading by pass, direction, station and diameter, cut with the finishing depth and feed.
pub fn reading(row: u64, pass: u32, direction: Direction, station_mm: f64, diameter_mm: f64) -> DiameterReading {
    DiameterReading {
        place: Place { file: 0, row },
        setting: 0,
        pass,
        direction,
        station_mm,
        diameter_mm,
        read_mm: diameter_mm,
        repeat: None,
        angle_deg: None,
        depth_mm: 0.1,
        feed_mm_per_rev: 0.1,
        edge: None,
        time_min: None,
        measured_at: None,
        tool_shift_mm: 0.0,
        temperature_c: None,
        operator: None,
        gauge: None,
        excluded: None,
        note: None,
    }
}

/// A trial of a 50 mm steel bar with the defaults of the settings file, a 0.002 mm gauge that reads to `resolution_mm`.
pub fn trial(readings: Vec<DiameterReading>, resolution_mm: f64) -> Trial {
    let length = readings.iter().fold(1.0_f64, |most, r| most.max(r.station_mm));
    Trial {
        identity: Identity { name: "bench".into(), ..Identity::default() },
        machine: Machine {
            name: None,
            serial: None,
            class: None,
            centre_height_mm: None,
            swing_mm: None,
            between_centres_mm: None,
            roll_arm_mm: 150.0,
            roll_arm_u_mm: 40.0,
            feet: None,
        },
        bar: Bar {
            material: Some(Material::MildSteel),
            youngs_modulus_gpa: 206.0,
            expansion_um_per_m_k: 11.5,
            k_c1_mpa: 1780.0,
            kienzle_exponent: 0.17,
            diameter_mm: 50.0,
            length_mm: length,
            collars_mm: Vec::new(),
            relief_diameter_mm: None,
            holding: Holding::Chuck,
        },
        cutting: Cutting {
            depth_mm: 0.1,
            feed_mm_per_rev: 0.1,
            rpm: None,
            nose_radius_mm: 0.4,
            tool_height_u_mm: 0.3,
            tool_height_mm: None,
        },
        gauge: Gauges {
            diameter: DiameterGauge {
                name: None,
                serial: None,
                calibrated: None,
                certificate: None,
                resolution_mm,
                u_mm: 0.002,
                calibration_u_mm: 0.001,
            },
            diameter_named: BTreeMap::new(),
            level: LevelGauge { name: None, serial: None, calibrated: None, certificate: None, u_mm_per_m: 0.01, division_mm_per_m: None },
            indicator: IndicatorGauge { name: None, serial: None, calibrated: None, certificate: None, u_mm: 0.001 },
        },
        testbar: None,
        conditions: Conditions { temperature_c: 20.0, temperature_spread_c: 2.0 },
        prior: Prior::default(),
        acceptance: Acceptance::default(),
        simulate: None,
        plan: None,
        diameters: readings.into(),
        levels: Vec::new(),
        indicator: Vec::new(),
        clamp: Vec::new(),
        moves: Vec::new(),
        assumed: Vec::new(),
        inputs: vec![taperwright::trial::InputFile {
            file: "diameters.csv".into(),
            sha256: String::new(),
            bytes: 0,
            rows: 0,
            used: 0,
            flagged: 0,
            excluded: 0,
            packed: None,
        }],
        origin: taperwright::trial::Origin::default(),
        photographs: Vec::new(),
        findings: Vec::new(),
    }
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
