//! What is true in a simulated workshop.

use super::{Chance, WornWays};
use crate::physics::moves;
use crate::physics::support::{MM_PER_N_OF_UM_PER_N, RAD_PER_NMM_OF_URAD_PER_NM};
use crate::physics::{Compliances, ForceFactors, Support};
use crate::trial::{Foot, Holding, Trial, Truth};
use serde::Serialize;
use std::collections::BTreeMap;
use std::sync::Arc;

/// A negligible cause has this share of the scale of a present one.
const NEGLIGIBLE: f64 = 0.05;
/// Factor of the log-normal by which a pass to the tailstock has another radial force (common practice, no source).
const TRAILING_EDGE_FACTOR: f64 = 1.3;

/// The true parameters of everything that shapes the readings of one trial.
#[derive(Debug, Clone, PartialEq)]
pub struct Nature {
    /// Roll arm `h`, mm.
    pub roll_arm_mm: f64,
    /// Headstock yaw `ψ`, mm/m: of the machine.
    pub yaw_mm_per_m: f64,
    /// Bed twist `τ` of each setting, (mm/m)/m.
    pub twist_mm_per_m_per_m: BTreeMap<u32, f64>,
    /// Tailstock offset `e` of each setting, mm.
    pub offset_mm: BTreeMap<u32, f64>,
    /// Wear `w` of each edge, µm of radius per metre of metal at the trial's feed.
    pub wear_um_per_m: BTreeMap<Option<Arc<str>>, f64>,
    /// Extra wear of a fresh edge `w₀`, µm.
    pub fresh_edge_um: f64,
    /// Path over which it settles `s₀`, m.
    pub fresh_edge_m: f64,
    /// Force factors; 0 means that nothing bends.
    pub force: ForceFactors,
    /// What yields besides the bar.
    pub compliances: Compliances,
    /// Firmness `λ` of the chuck; `None`: from the chuck's tilt.
    pub firmness: Option<f64>,
    /// Thermal drift `κ`, µm/min, signed.
    pub thermal_drift_um_per_min: f64,
    /// Worn ways.
    pub worn_ways: WornWays,
    /// Twist of the bed with its feet free, (mm/m)/m.
    pub free_twist_mm_per_m_per_m: f64,
    /// Twist that each foot adds when its nut is tightened in the first setting, (mm/m)/m.
    pub clamp_twist: BTreeMap<Foot, f64>,
    /// Gain `G` of a move.
    pub move_gain: f64,
    /// Vertical misalignment `v`, mm/m.
    pub vertical_mm_per_m: f64,
    /// Zero error of the level, mm/m.
    pub level_zero_mm_per_m: f64,
    /// Run-out of the test bar, mm.
    pub run_out_mm: f64,
    /// True taper of the test bar over its length, µm.
    pub test_bar_taper_um: f64,
    /// Scatter.
    pub spread: Spread,
}

/// Standard deviations of what is not systematic.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct Spread {
    /// Factor on the data sheet's noise of the diameter gauges (touch, and the error of calibration common to a gauge).
    pub diameter_factor: f64,
    /// Factor on the level's.
    pub level_factor: f64,
    /// Factor on the indicator's.
    pub indicator_factor: f64,
    /// Between passes, of the taper over the tested length, µm.
    pub between_pass_um: f64,
    /// Between passes, of the barrel, µm.
    pub between_pass_barrel_um: f64,
    /// Of the cross slide's setting from pass to pass, mm of diameter.
    pub infeed_mm: f64,
}

impl Nature {
    /// Nature as a `[simulate.truth]` table states it; what the table leaves out is absent (0; a rigid chuck and centres; gain 1).
    ///
    /// `trial` is laid out ([`super::laid_out`]): its settings, edges and moves are used. Twist of later settings follows the moves. Where the bar runs
    /// on a tailstock centre, moving feet also shifts that centre by a random amount (`[prior] offset_mm`), as it does in a shop. Scatter is
    /// `noise_factor` times the data sheets; the cross slide then repeats to 10 µm.
    #[must_use]
    pub fn stated(trial: &Trial, truth: &Truth, noise_factor: f64, chance: &mut Chance) -> Self {
        let prior = &trial.prior;
        let noise = noise_factor * truth.gauge_noise_factor.unwrap_or(1.0);
        let wear = truth.wear_um_per_m.unwrap_or(0.0);
        let move_gain = truth.move_gain.unwrap_or(1.0);
        let first_twist = truth.twist_mm_per_m_per_m.unwrap_or(0.0);
        let free_twist = truth.free_twist_mm_per_m_per_m.unwrap_or(0.0);
        let mut offset_mm = BTreeMap::new();
        let mut offset = truth.offset_mm.unwrap_or(0.0);
        for setting in settings(trial) {
            let moved = trial.moves.iter().any(|logged| logged.to_setting == setting);
            if moved && trial.bar.holding != Holding::Chuck {
                offset += prior.offset_mm * chance.normal();
            }
            offset_mm.insert(setting, offset);
        }
        let test_bar = trial.testbar.as_ref();
        Self {
            roll_arm_mm: trial.machine.roll_arm_mm,
            yaw_mm_per_m: truth.yaw_mm_per_m.unwrap_or(0.0),
            twist_mm_per_m_per_m: twists(trial, first_twist, move_gain),
            offset_mm,
            wear_um_per_m: edges(trial).into_iter().map(|edge| (edge, wear)).collect(),
            fresh_edge_um: truth.fresh_edge_um.unwrap_or(0.0),
            fresh_edge_m: truth.fresh_edge_m.unwrap_or(prior.fresh_edge_m),
            force: ForceFactors { all: truth.force_factor.unwrap_or(0.0), to_tailstock: truth.to_tailstock_force_factor.unwrap_or(1.0) },
            compliances: Compliances::from_prior_units(
                truth.chuck_tilt_urad_per_nm.unwrap_or(0.0),
                truth.centre_compliance_um_per_n.unwrap_or(0.0),
            ),
            firmness: None,
            thermal_drift_um_per_min: truth.thermal_drift_um_per_min.unwrap_or(0.0),
            worn_ways: match truth.way_wear_um {
                Some(worst_um) => {
                    WornWays::Exponential { worst_um, length_mm: truth.way_wear_length_mm.unwrap_or(prior.way_wear_length_mm) }
                }
                None => WornWays::None,
            },
            free_twist_mm_per_m_per_m: free_twist,
            clamp_twist: clamp_twists(first_twist - free_twist, chance),
            move_gain,
            vertical_mm_per_m: truth.vertical_mm_per_m.unwrap_or(0.0),
            level_zero_mm_per_m: truth.level_zero_mm_per_m.unwrap_or(0.0),
            run_out_mm: truth.run_out_mm.unwrap_or(0.0),
            test_bar_taper_um: test_bar.map_or(0.0, |bar| bar.taper_um + noise_factor * bar.u_um * chance.normal()),
            spread: Spread {
                diameter_factor: noise,
                level_factor: noise,
                indicator_factor: noise,
                between_pass_um: truth.between_pass_um.unwrap_or(0.0),
                between_pass_barrel_um: 0.0,
                infeed_mm: 0.01 * noise_factor,
            },
        }
    }

    /// Nature drawn from the priors of a laid-out trial: what the joint estimate believes before it sees a reading.
    ///
    /// Yaw, first twist, each setting's offset, drift and worn ways are normal, wear half-normal for each edge; each cause is negligible (1/20 of its scale)
    /// with probability `1 − presence`, all edges together. Compliances are half-normal; force, gain, the force factor to the tailstock (1.3) and the noise of each
    /// instrument log-normal; the roll arm normal. Later twists follow the moves. Fresh edge and spread between passes are left out: set the fields.
    #[must_use]
    pub fn drawn(trial: &Trial, chance: &mut Chance) -> Self {
        let prior = &trial.prior;
        let yaw_mm_per_m = prior.yaw_mm_per_m * presence(prior.presence, chance) * chance.normal();
        let first_twist = prior.twist_mm_per_m_per_m * presence(prior.presence, chance) * chance.normal();
        let thermal_drift_um_per_min = prior.thermal_drift_um_per_min * presence(prior.presence, chance) * chance.normal();
        let offset_mm = settings(trial)
            .into_iter()
            .map(|setting| (setting, prior.offset_mm * presence(prior.presence, chance) * chance.normal()))
            .collect();
        let wear_scale = prior.wear_um_per_m * presence(prior.presence, chance);
        let wear_um_per_m = edges(trial).into_iter().map(|edge| (edge, wear_scale * chance.half_normal())).collect();
        let ways_scale = presence(prior.presence, chance);
        let worn_ways = WornWays::drawn(trial, ways_scale, chance);
        let free_twist = prior.free_twist_mm_per_m_per_m * chance.normal();
        let move_gain = prior.move_gain * chance.log_normal(prior.move_gain_factor);
        let centre = prior.centre_compliance_um_per_n * MM_PER_N_OF_UM_PER_N;
        Self {
            roll_arm_mm: trial.machine.roll_arm_mm + trial.machine.roll_arm_u_mm * chance.normal(),
            yaw_mm_per_m,
            twist_mm_per_m_per_m: twists(trial, first_twist, move_gain),
            offset_mm,
            wear_um_per_m,
            fresh_edge_um: 0.0,
            fresh_edge_m: prior.fresh_edge_m,
            force: ForceFactors { all: chance.log_normal(prior.force_factor), to_tailstock: chance.log_normal(TRAILING_EDGE_FACTOR) },
            compliances: Compliances {
                chuck_tilt_rad_per_nmm: prior.chuck_tilt_urad_per_nm * RAD_PER_NMM_OF_URAD_PER_NM * chance.half_normal(),
                headstock_centre_mm_per_n: centre * chance.half_normal(),
                tailstock_centre_mm_per_n: centre * chance.half_normal(),
            },
            firmness: None,
            thermal_drift_um_per_min,
            worn_ways,
            free_twist_mm_per_m_per_m: free_twist,
            clamp_twist: clamp_twists(first_twist - free_twist, chance),
            move_gain,
            vertical_mm_per_m: 0.0,
            level_zero_mm_per_m: 0.05 * chance.normal(),
            run_out_mm: 0.005 * chance.half_normal(),
            test_bar_taper_um: trial.testbar.as_ref().map_or(0.0, |bar| bar.taper_um + bar.u_um * chance.normal()),
            spread: Spread {
                diameter_factor: chance.log_normal(prior.gauge_noise_factor),
                level_factor: chance.log_normal(prior.gauge_noise_factor),
                indicator_factor: chance.log_normal(prior.gauge_noise_factor),
                between_pass_um: 0.0,
                between_pass_barrel_um: 0.0,
                infeed_mm: 0.01,
            },
        }
    }

    /// The bar as it is held.
    #[must_use]
    pub fn support(&self, trial: &Trial) -> Support {
        let support = Support::of_bar(&trial.bar, self.compliances);
        match self.firmness {
            Some(firmness) => support.with_firmness(firmness),
            None => support,
        }
    }

    /// Twist of a setting, (mm/m)/m; 0 for a setting that the trial does not have.
    #[must_use]
    pub fn twist(&self, setting: u32) -> f64 {
        self.twist_mm_per_m_per_m.get(&setting).copied().unwrap_or(0.0)
    }

    /// Tailstock offset of a setting, mm.
    #[must_use]
    pub fn offset(&self, setting: u32) -> f64 {
        self.offset_mm.get(&setting).copied().unwrap_or(0.0)
    }
}

/// 1 where a cause is present, else the share of its scale that is negligible.
fn presence(probability: f64, chance: &mut Chance) -> f64 {
    if chance.uniform() < probability { 1.0 } else { NEGLIGIBLE }
}

/// All settings that any reading or move of the trial names, rising.
fn settings(trial: &Trial) -> Vec<u32> {
    let mut all: Vec<u32> = trial.diameters.iter().map(|reading| reading.setting).collect();
    all.extend(trial.levels.iter().map(|reading| reading.setting));
    all.extend(trial.indicator.iter().map(|reading| reading.setting));
    all.extend(trial.clamp.iter().map(|reading| reading.setting));
    all.extend(trial.moves.iter().flat_map(|logged| [logged.from_setting, logged.to_setting]));
    all.sort_unstable();
    all.dedup();
    all
}

/// All edges of the trial's passes, in name order.
fn edges(trial: &Trial) -> Vec<Option<Arc<str>>> {
    let mut all: Vec<Option<Arc<str>>> = trial.diameters.iter().map(|reading| reading.edge.clone()).collect();
    all.sort();
    all.dedup();
    all
}

/// Twist of each setting: the first as given, the later ones by the moves from the setting that they start from.
fn twists(trial: &Trial, first: f64, gain: f64) -> BTreeMap<u32, f64> {
    let mut twists: BTreeMap<u32, f64> = BTreeMap::new();
    let mut last = first;
    for setting in settings(trial) {
        let into: Vec<_> = trial.moves.iter().filter(|logged| logged.to_setting == setting).collect();
        let start = into.first().and_then(|logged| twists.get(&logged.from_setting)).copied().unwrap_or(last);
        let change: f64 = into
            .iter()
            .filter_map(|logged| {
                let feet = trial.machine.feet.as_ref()?;
                moves::twist_per_gain(logged.foot, moves::raise_mm(logged, Some(feet))?, feet)
            })
            .sum();
        last = start + gain * change;
        twists.insert(setting, last);
    }
    twists
}

/// The clamped twist shared among the feet at random, adding up to `total`.
fn clamp_twists(total: f64, chance: &mut Chance) -> BTreeMap<Foot, f64> {
    let shares: Vec<f64> = Foot::ALL.iter().map(|_| 0.5 + chance.uniform()).collect();
    let sum: f64 = shares.iter().sum();
    Foot::ALL.into_iter().zip(shares).map(|(foot, share)| (foot, total * share / sum)).collect()
}
