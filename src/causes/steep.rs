//! A taper far beyond what usual machines make: their priors would take it for a difference between passes, or for a force that no cut has.

use super::design::design_of;
use super::extent::{MOST_PLACES, fitted};
use super::values::CauseKind;
use super::verdict::prior_bounds_um;
use crate::trial::{Holding, Prior, Trial};
use std::collections::BTreeMap;

/// A taper this many times the standard deviation of what bed, headstock and tailstock of usual machines make together is steep.
const STEEP: f64 = 2.5;
/// Beyond this no machine is out of line: a slip is likelier.
const ABSURD: f64 = 30.0;
/// Of the widened standard deviation the taper is this many times.
const WITHIN: f64 = 1.5;
/// Most readings that are looked at, evenly chosen, and most stations of a pass.
const READINGS: usize = 100_000;
const STATIONS: usize = 40;

/// A steep taper and what the priors of yaw, twist and offset are multiplied by for it.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Steep {
    /// Median of the slopes between two stations of a pass times the tested length, mm on diameter; of the steepest setting.
    pub taper_mm: f64,
    /// Length over which it is, mm.
    pub length_mm: f64,
    /// How many standard deviations of what usual machines make that is.
    pub times: f64,
    /// What the standard deviations of yaw, twist and offset are multiplied by.
    pub widened: f64,
}

impl Steep {
    /// The taper of `trial` where it is steep and nothing but a machine far out of line explains it.
    ///
    /// `|slope|·L − B > 2.5σ`, `σ² = (2ψL/1000)² + (2hτL/10⁶)²` in a chuck and, with a centre, `+ (2eL/ℓ)²`, from the standard deviations of yaw `ψ` (mm/m), twist `τ`
    /// ((mm/m)/m) and offset `e` (mm), the roll arm `h` and the bar's length `ℓ`; `B` is what the other causes may add, the root of the sum of the squares of
    /// their prior bounds of 97.5 %. The slope is the median of those between two stations of a pass (Theil 1950, Sen 1968), which a slip among several readings
    /// leaves. `None` beyond 30σ, where no machine is out of line so far, and where the trial states priors of its own.
    #[must_use]
    pub fn of(trial: &Trial, seed: u64) -> Option<Self> {
        if trial.prior != Prior::default() {
            return None;
        }
        let usual = |length_mm: f64| {
            let Prior { yaw_mm_per_m, twist_mm_per_m_per_m, offset_mm, .. } = trial.prior;
            let yaw = 2.0 * yaw_mm_per_m * length_mm / 1e3;
            let twist = 2.0 * trial.machine.roll_arm_mm * twist_mm_per_m_per_m * length_mm / 1e6;
            let offset = if trial.bar.holding == Holding::Chuck { 0.0 } else { 2.0 * offset_mm * length_mm / trial.bar.length_mm };
            yaw.hypot(twist).hypot(offset)
        };
        let steepest = |one: (u32, f64, f64), other: (u32, f64, f64)| if other.1.abs() > one.1.abs() { other } else { one };
        let (setting, taper_mm, length_mm) = tapers(trial).into_iter().reduce(steepest)?;
        let usual_mm = usual(length_mm);
        let times = taper_mm.abs() / usual_mm;
        if !(STEEP..=ABSURD).contains(&times) {
            return None;
        }
        let fitted = fitted(&trial.diameters, MOST_PLACES)?;
        let bounds = prior_bounds_um(&design_of(&trial.with_diameters(fitted.diameters), fitted.together)?, setting, seed);
        let of_machine = [CauseKind::HeadstockYaw, CauseKind::BedTwist, CauseKind::TailstockOffset];
        let others = bounds.iter().filter(|(cause, bound)| !of_machine.contains(cause) && bound.is_finite());
        let others_mm = 1e-3 * others.map(|(_, bound)| bound * bound).sum::<f64>().sqrt();
        (taper_mm.abs() - others_mm > STEEP * usual_mm).then_some(Self { taper_mm, length_mm, times, widened: times / WITHIN })
    }
}

/// Setting, taper and tested length of every setting with two stations in a pass, mm.
fn tapers(trial: &Trial) -> Vec<(u32, f64, f64)> {
    let log = &trial.diameters;
    let stride = log.len().div_ceil(READINGS).max(1);
    let mut passes: BTreeMap<(u32, u32), BTreeMap<u32, (f64, f64)>> = BTreeMap::new();
    for row in (0..log.len()).step_by(stride).filter(|row| log.is_used(*row)) {
        let pass = passes.entry((log.cut(row).setting, log.cut_number(row))).or_default();
        let (sum, count) = pass.entry(log.station_number(row)).or_insert((0.0, 0.0));
        (*sum, *count) = (*sum + log.diameter_mm(row), *count + 1.0);
    }
    let station = |number: &u32| log.stations().get(*number as usize).map_or(0.0, |station| station.0);
    let mut settings: BTreeMap<u32, (Vec<f64>, f64, f64)> = BTreeMap::new();
    for ((setting, _), pass) in &passes {
        let step = pass.len().div_ceil(STATIONS).max(1);
        let means: Vec<(f64, f64)> = pass.iter().step_by(step).map(|(number, (sum, count))| (station(number), sum / count)).collect();
        let (slopes, from, to) = settings.entry(*setting).or_insert((Vec::new(), f64::INFINITY, f64::NEG_INFINITY));
        for (index, (near, there)) in means.iter().enumerate() {
            (*from, *to) = (from.min(*near), to.max(*near));
            slopes.extend(means.iter().skip(index + 1).filter(|(far, _)| far != near).map(|(far, read)| (read - there) / (far - near)));
        }
    }
    let median = |mut slopes: Vec<f64>| {
        let middle = slopes.len() / 2;
        (!slopes.is_empty()).then(|| *slopes.select_nth_unstable_by(middle, f64::total_cmp).1)
    };
    let of = |(setting, (slopes, from, to)): (u32, (Vec<f64>, f64, f64))| Some((setting, median(slopes)? * (to - from), to - from));
    settings.into_iter().filter_map(of).collect()
}
