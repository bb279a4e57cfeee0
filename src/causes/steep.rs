//! A taper far beyond what usual machines make: their priors would take it for a difference between passes, or for a force that no cut has.

use super::design::design_of;
use super::extent::{MOST_PLACES, fitted};
use super::values::CauseKind;
use super::verdict::prior_end_bound_um;
use crate::trial::{Direction, Holding, Trial};
use std::collections::BTreeMap;

/// A taper this many times the standard deviation of what bed, headstock and tailstock of usual machines make together is steep; this and the numbers below
/// are our own, without a source.
const STEEP: f64 = 2.5;
/// Beyond this, unless the bar is straight, a slip is likelier than a machine out of line.
const ABSURD: f64 = 30.0;
/// Of the widened standard deviation the taper is this many times.
const WITHIN: f64 = 1.5;
/// Slope of the half near the chuck over that of the other half where no slip stands at an end.
const STRAIGHT: std::ops::Range<f64> = 0.6..1.7;
/// Share of the way from the bar that gives way least unlike a straight line, by `z²` (a chuck that tilts; a beam by `z³`), to the straight line, of that ratio of
/// slopes: beyond it bending makes less than about half of the taper.
const UNBENT: f64 = 0.5;
/// Most readings that are looked at, evenly chosen, and most stations of a pass.
const READINGS: usize = 100_000;
const STATIONS: usize = 40;

/// A steep taper.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Steep {
    /// Median of the slopes between two stations of a pass times the tested length, mm on diameter, positive = larger at the tailstock end: the mean over the
    /// directions, in the steepest setting.
    pub taper_mm: f64,
    /// Length over which it is, mm.
    pub length_mm: f64,
    /// How many standard deviations of what usual machines make that is.
    pub times: f64,
    /// What the standard deviations of yaw, twist and offset are to be multiplied by; `None` where a slip may be the taper.
    pub widened: Option<f64>,
}

impl Steep {
    /// The steepest taper of the settings of `trial`, if any is steep.
    ///
    /// `|taper| > 2.5σ`, `σ² = (2ψL/1000)² + (2hτL/10⁶)²` in a chuck, `(2eL/ℓ)²` between centres, their sum for a bar in the chuck and on a centre, from the
    /// standard deviations of yaw `ψ` (mm/m), twist `τ` ((mm/m)/m) and offset `e` (mm), the roll arm `h` and the bar's length `ℓ`; and the pass is straight
    /// (halves of like slope, and nearer to a line than to `z²`), or
    /// what all other causes may add in this way, to 97.5 % of their priors, leaves more than 2.5σ. The slope is the median of those between two stations of a
    /// pass (Theil 1950, Sen 1968), which a slip among several readings leaves. Nothing is widened where three stations or more are not straight, nor for two
    /// beyond 30σ.
    #[must_use]
    pub fn of(trial: &Trial, seed: u64) -> Option<Self> {
        let steep = tapers(trial).into_iter().filter_map(|(setting, taper)| taper.steep(trial, setting, seed));
        let rank = |one: &Self| (one.widened.is_some(), one.times);
        steep.reduce(|one, other| if rank(&other) > rank(&one) { other } else { one })
    }
}

/// The causes that a machine out of line makes a taper by, with the key of their prior, as the bar is held.
#[must_use]
pub fn out_of_line(holding: Holding) -> &'static [(CauseKind, &'static str)] {
    const ALL: [(CauseKind, &str); 3] = [
        (CauseKind::HeadstockYaw, "prior.yaw_mm_per_m"),
        (CauseKind::BedTwist, "prior.twist_mm_per_m_per_m"),
        (CauseKind::TailstockOffset, "prior.offset_mm"),
    ];
    match holding {
        Holding::Chuck => &ALL[..2],
        Holding::Centres => &ALL[2..],
        Holding::ChuckAndCentre => &ALL,
    }
}

/// Standard deviation of the taper over `length_mm` that bed, headstock and tailstock of usual machines make, mm.
fn usual_mm(trial: &Trial, length_mm: f64) -> f64 {
    let prior = &trial.prior;
    let of = |cause: &CauseKind| match cause {
        CauseKind::HeadstockYaw => 2.0 * prior.yaw_mm_per_m * length_mm / 1e3,
        CauseKind::BedTwist => 2.0 * trial.machine.roll_arm_mm * prior.twist_mm_per_m_per_m * length_mm / 1e6,
        _ => 2.0 * prior.offset_mm * length_mm / trial.bar.length_mm,
    };
    out_of_line(trial.bar.holding).iter().map(|(cause, _)| of(cause)).fold(0.0, f64::hypot)
}

/// The taper of a setting by the medians of its slopes.
#[derive(Debug, Clone, Copy, PartialEq)]
struct Median {
    taper_mm: f64,
    length_mm: f64,
    /// Slope of the near half over that of the far one; `None` with two stations.
    halves: Option<f64>,
    /// Where that lies between what `z²` leaves at the same stations, 0, and a straight line, 1.
    unbent: Option<f64>,
}

impl Median {
    fn steep(self, trial: &Trial, setting: u32, seed: u64) -> Option<Steep> {
        let usual_mm = usual_mm(trial, self.length_mm);
        let times = self.taper_mm.abs() / usual_mm;
        if times.is_nan() || times <= STEEP {
            return None;
        }
        let straight = self.halves.is_some_and(|halves| STRAIGHT.contains(&halves));
        if !straight || self.unbent.is_none_or(|unbent| unbent <= UNBENT) {
            let fitted = fitted(&trial.diameters, MOST_PLACES)?;
            let design = design_of(&trial.with_diameters(fitted.diameters), fitted.together)?;
            let machine: Vec<CauseKind> = out_of_line(trial.bar.holding).iter().map(|(cause, _)| *cause).collect();
            let others_mm = 1e-3 * prior_end_bound_um(&design, setting, seed, &machine, self.taper_mm).max(0.0);
            if self.taper_mm.abs() - others_mm <= STEEP * usual_mm {
                return None;
            }
        }
        let is_slip = !straight && (self.halves.is_some() || times > ABSURD);
        let widened = (!is_slip).then_some(times / WITHIN);
        Some(Steep { taper_mm: self.taper_mm, length_mm: self.length_mm, times, widened })
    }
}

/// The middle value, of an even number the mean of the two in the middle.
fn median(mut values: Vec<f64>) -> Option<f64> {
    values.sort_by(f64::total_cmp);
    let (low, high) = (values.get(values.len().checked_sub(1)? / 2)?, values.get(values.len() / 2)?);
    Some(0.5 * (low + high))
}

/// Sum and number of the readings of a pass by station.
type Stations = BTreeMap<u32, (f64, f64)>;

/// The slopes of a setting.
#[derive(Debug, Default)]
struct Slopes {
    by_direction: BTreeMap<Direction, Vec<f64>>,
    /// Of each pass the slope of the near half over that of the far one.
    halves: Vec<f64>,
    /// And where that lies between `z²` and a straight line.
    unbent: Vec<f64>,
    /// First and last station, mm.
    ends: Option<(f64, f64)>,
}

impl Slopes {
    /// Adds a pass: its stations, in order, and its mean diameters there, mm.
    fn add(&mut self, direction: Direction, means: &[(f64, f64)]) {
        let slope = |near: (f64, f64), far: (f64, f64)| (far.1 - near.1) / (far.0 - near.0);
        let (Some(first), Some(last)) = (means.first(), means.last()) else { return };
        let (from, to) = self.ends.unwrap_or((first.0, last.0));
        self.ends = Some((from.min(first.0), to.max(last.0)));
        for (index, near) in means.iter().enumerate() {
            let far = means.iter().skip(index + 1).filter(|far| far.0 > near.0);
            self.by_direction.entry(direction).or_default().extend(far.map(|far| slope(*near, *far)));
        }
        if let Some(middle) = means.get(means.len() / 2).filter(|_| means.len() > 2) {
            let halves = slope(*first, *middle) / slope(*middle, *last);
            // slopes of z² between two stations are their sum
            let bent = (first.0 + middle.0) / (middle.0 + last.0);
            self.halves.push(halves);
            self.unbent.push((halves - bent) / (1.0 - bent));
        }
    }

    fn median(self) -> Option<Median> {
        let medians: Vec<f64> = self.by_direction.into_values().filter_map(median).collect();
        let length_mm = self.ends.map(|(from, to)| to - from)?;
        // not a number without two stations in a pass, and then not steep
        let taper_mm = length_mm * medians.iter().sum::<f64>() / medians.len() as f64;
        Some(Median { taper_mm, length_mm, halves: median(self.halves), unbent: median(self.unbent) })
    }
}

/// The tapers of every setting with two stations in a pass.
fn tapers(trial: &Trial) -> Vec<(u32, Median)> {
    let log = &trial.diameters;
    let stride = log.len().div_ceil(READINGS).max(1);
    let mut passes: BTreeMap<u32, Stations> = BTreeMap::new();
    for row in (0..log.len()).step_by(stride).filter(|row| log.is_used(*row)) {
        let (sum, count) = passes.entry(log.cut_number(row)).or_default().entry(log.station_number(row)).or_insert((0.0, 0.0));
        (*sum, *count) = (*sum + log.diameter_mm(row), *count + 1.0);
    }
    let station = |number: &u32| log.stations().get(*number as usize).map_or(0.0, |station| station.0);
    let mut settings: BTreeMap<u32, Slopes> = BTreeMap::new();
    for (number, pass) in &passes {
        let Some(cut) = log.cuts().get(*number as usize) else { continue };
        let step = pass.len().div_ceil(STATIONS).max(1);
        let mut means: Vec<(f64, f64)> = pass.iter().step_by(step).map(|(number, (sum, count))| (station(number), sum / count)).collect();
        means.sort_by(|one, other| one.0.total_cmp(&other.0));
        settings.entry(cut.setting).or_default().add(cut.direction, &means);
    }
    settings.into_iter().filter_map(|(setting, slopes)| Some((setting, slopes.median()?))).collect()
}
