//! Classes of trials whose truths are drawn from the estimate's own prior.

use crate::made::trial;
use taperwright::shape::StraightErrors;
use taperwright::simulate::{Chance, Nature, TrueContribution, laid_out, read_off, true_contributions, true_diameters};
use taperwright::trial::*;

/// A class of trials.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub enum Class {
    AllEvidence,
    NoLevels,
    OneDirection,
    TwoCollars,
    SpreadBetweenPasses,
    BetweenCentres,
    ChuckAndCentre,
}

impl Class {
    pub const ALL: [Self; 7] = [
        Self::AllEvidence,
        Self::NoLevels,
        Self::OneDirection,
        Self::TwoCollars,
        Self::SpreadBetweenPasses,
        Self::BetweenCentres,
        Self::ChuckAndCentre,
    ];
}

/// A steel bar, 34 mm by 200 mm (within six diameters), in a lathe of the workshop at Saltmarsh Quay.
pub fn bar(holding: Holding) -> Trial {
    let mut trial = trial(holding);
    trial.identity.name = "calibration".into();
    trial.bar.diameter_mm = 34.0;
    trial.bar.length_mm = 200.0;
    trial.testbar =
        Some(TestBar { taper_um: 0.0, u_um: 1.0, length_mm: 200.0, diameter_mm: None, holding: Holding::Chuck, turned_here: false });
    trial
}

/// Which readings a class takes.
pub fn request(class: Class) -> (Trial, SimulationRequest) {
    let both = vec![Direction::ToHeadstock, Direction::ToTailstock];
    let eight: Vec<f64> = (0..8).map(|i| 12.0 + 25.0 * f64::from(i)).collect();
    let base = SimulationRequest { passes: 2, stations_mm: eight, directions: both.clone(), ..SimulationRequest::default() };
    match class {
        Class::AllEvidence => (
            bar(Holding::Chuck),
            SimulationRequest {
                logs: ["diameters", "levels", "indicator", "clamp", "moves"].map(String::from).to_vec(),
                settings: 2,
                passes: 2,
                depths_mm: vec![0.05, 0.05, 0.2, 0.2],
                level_stations_mm: vec![0.0, 150.0, 300.0, 450.0],
                levels_reversed: true,
                moves: vec![SimulatedMove { from_setting: 0, to_setting: 1, foot: Foot::TailstockRear, raise_mm: -0.03 }],
                ..base
            },
        ),
        Class::NoLevels => (bar(Holding::Chuck), base),
        Class::OneDirection => (bar(Holding::Chuck), SimulationRequest { passes: 3, directions: vec![Direction::ToHeadstock], ..base }),
        Class::TwoCollars => (
            bar(Holding::Chuck),
            SimulationRequest { passes: 1, directions: vec![Direction::ToHeadstock], stations_mm: vec![15.0, 185.0], ..base },
        ),
        Class::SpreadBetweenPasses => {
            (bar(Holding::Chuck), SimulationRequest { passes: 4, stations_mm: vec![15.0, 70.0, 130.0, 185.0], ..base })
        }
        Class::BetweenCentres => (bar(Holding::Centres), base),
        Class::ChuckAndCentre => (bar(Holding::ChuckAndCentre), base),
    }
}

/// Quantile of the half-t distribution with 3 degrees of freedom by bisection on its distribution function.
fn half_t3(uniform: f64) -> f64 {
    let distribution = |t: f64| {
        let v = t / 3.0_f64.sqrt();
        2.0 / std::f64::consts::PI * (v.atan() + v / (1.0 + v * v))
    };
    let (mut low, mut high) = (0.0, 1e6);
    for _ in 0..200 {
        let middle = 0.5 * (low + high);
        if distribution(middle) < uniform { low = middle } else { high = middle }
    }
    0.5 * (low + high)
}

/// Standard errors of the first two Legendre coefficients of one pass for unit noise; the second is 0 with two stations.
fn standard_errors(stations: &[f64]) -> (f64, f64) {
    let (from, to) = (stations[0], stations[stations.len() - 1]);
    let x: Vec<f64> = stations.iter().map(|z| (2.0 * z - from - to) / (to - from)).collect();
    let p: Vec<f64> = x.iter().map(|x| 1.5 * x * x - 0.5).collect();
    let n = x.len() as f64;
    let (mx, mp) = (x.iter().sum::<f64>() / n, p.iter().sum::<f64>() / n);
    let xx: f64 = x.iter().map(|x| (x - mx).powi(2)).sum();
    let pp: f64 = p.iter().map(|p| (p - mp).powi(2)).sum();
    let xp: f64 = x.iter().zip(&p).map(|(x, p)| (x - mx) * (p - mp)).sum();
    if stations.len() < 3 {
        return (xx.recip().sqrt(), 0.0);
    }
    let determinant = xx * pp - xp * xp;
    ((pp / determinant).sqrt(), (xx / determinant).sqrt())
}

/// Lines that no cause makes, as the taper's budget has them: the bar out of line vertically, the same in all settings, and bar and gauge at unlike
/// temperatures, anew in each.
fn straight_errors(trial: &mut Trial, request: &SimulationRequest, chance: &mut Chance) {
    let (from, to) = (request.stations_mm[0], request.stations_mm[request.stations_mm.len() - 1]);
    let errors = StraightErrors::of(trial, (from, to), trial.bar.diameter_mm, false);
    let vertical = errors.vertical_mm() * chance.normal();
    let warmth: Vec<f64> = (0..request.settings.max(1)).map(|_| errors.gradient_mm.hypot(errors.warming_mm) * chance.normal()).collect();
    trial.diameters.change(|_, reading| {
        let rise = (vertical + warmth.get(reading.setting as usize).copied().unwrap_or(0.0)) * (reading.station_mm - from) / (to - from);
        reading.diameter_mm += rise;
        reading.read_mm += rise;
    });
}

/// A trial of a class with its truth.
pub struct Drawn {
    pub trial: Trial,
    pub nature: Nature,
    pub contributions: Vec<TrueContribution>,
}

/// Draws a truth from the prior and reads it; `noise` fixes the noise of diameters at a multiple of the data sheet.
pub fn draw(class: Class, seed: u64, noise: Option<f64>) -> Drawn {
    let (trial, request) = request(class);
    let laid = laid_out(&trial, &request);
    let mut chance = Chance::new(seed, 0);
    let mut nature = Nature::drawn(&laid, &mut chance);
    if let Some(noise) = noise {
        nature.spread.diameter_factor = noise;
    }
    // Wear and the extra wear of a fresh edge share one presence; a fresh edge shows with two passes or more.
    let prior = &laid.prior;
    let wear = if chance.uniform() < prior.presence { 1.0 } else { 0.05 };
    let edges: Vec<_> = nature.wear_um_per_m.keys().cloned().collect();
    for edge in edges {
        nature.wear_um_per_m.insert(edge, wear * prior.wear_um_per_m * chance.half_normal());
    }
    let passes = request.passes as usize * request.directions.len() * request.settings as usize;
    nature.fresh_edge_um = if passes >= 2 { wear * prior.fresh_edge_um * chance.half_normal() } else { 0.0 };
    // Spread between passes: half-t(3) of scale twice the standard error of one pass's slope (barrel).
    let gauge = &laid.gauge.diameter;
    let sigma = ((gauge.u_mm * nature.spread.diameter_factor).powi(2) + gauge.resolution_mm.powi(2) / 12.0).sqrt();
    let (slope, barrel) = standard_errors(&request.stations_mm);
    nature.spread.between_pass_um = 2000.0 * 2.0 * slope * sigma * half_t3(chance.uniform());
    nature.spread.between_pass_barrel_um = 1500.0 * 2.0 * barrel * sigma * half_t3(chance.uniform());
    // Steps of a clamp log: the first three as the estimate takes them, the fourth what is left.
    if !laid.clamp.is_empty() {
        let total = nature.twist(0) - nature.free_twist_mm_per_m_per_m;
        let mut left = total;
        for foot in &Foot::ALL[..3] {
            let step = chance.normal();
            nature.clamp_twist.insert(*foot, step);
            left -= step;
        }
        nature.clamp_twist.insert(Foot::ALL[3], left);
    }
    let mut trial = read_off(&laid, &nature, seed);
    straight_errors(&mut trial, &request, &mut chance);
    let truths = true_diameters(&laid, &nature, seed);
    let contributions = true_contributions(&laid, &truths);
    Drawn { trial, nature, contributions }
}
