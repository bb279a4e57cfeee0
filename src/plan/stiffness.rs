//! Is the bar stiff enough for the cut?

use super::Target;
use crate::causes::{deepest_cut_mm, heavy_times, material_threshold_um};
use crate::physics::cutting_force::radial_force_n;
use crate::physics::deflection::steady_mm;
use crate::physics::{Compliances, Support};
use crate::statistics::distributions::NORMAL_975;
use crate::trial::{MOST_OVERHANG, Trial};

/// Median of a half-normal of scale 1: a compliance's prior median as a share of its scale.
const HALF_NORMAL_MEDIAN: f64 = 0.674_489_750_196_081_7;

/// How far the cut bends the bar, against what matters.
#[derive(Debug, Clone, PartialEq)]
pub struct Stiffness {
    /// Unsupported length over diameter; `None` where a centre carries the free end.
    pub overhang: Option<f64>,
    /// Radial force by Kienzle's formula at the planned depth and feed, N.
    pub force_n: f64,
    /// Largest minus smallest diameter that the bar's own bending leaves along the stations, mm: chuck and centres rigid, force factor 1.
    pub deflection_mm: f64,
    /// Central 95 % range of the same by the force's own uncertainty (log-normal), mm.
    pub range_mm: [f64; 2],
    /// What chuck and centres add to that at the prior's median of their yielding, mm.
    pub support_adds_mm: f64,
    /// What a cause may add before it matters, mm.
    pub threshold_mm: f64,
    /// What follows.
    pub verdict: Stiff,
    /// Largest radial depth of cut at which the upper end of the range stays below the threshold, mm; `None` when it does already, or nothing is cut.
    pub depth_that_fits_mm: Option<f64>,
    /// Largest free length at which it does, mm, the stations moved in proportion; `None` likewise.
    pub length_that_fits_mm: Option<f64>,
    /// How many times as deep as planned a heavy pass may be; `None` where the bar bears none, or nothing is cut.
    pub heavy_times: Option<f64>,
    /// Why the bar must not be cut as planned; `None` where it may.
    pub refusal: Option<Refusal>,
}

/// Why a bar must not be cut as planned.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Refusal {
    /// It stands out of the chuck by more than [`MOST_OVERHANG`] diameters without a centre.
    Overhang {
        /// How many.
        diameters: f64,
    },
    /// The planned depth is more than the bar bears as it is held, see [`deepest_cut_mm`].
    Depth {
        /// The planned radial depth, mm.
        planned_mm: f64,
        /// The deepest that the bar bears, mm.
        deepest_mm: f64,
    },
}

impl Refusal {
    /// What of the planned cut the bar of `trial` does not bear.
    #[must_use]
    pub fn of(trial: &Trial) -> Option<Self> {
        if let Some(diameters) = trial.bar.overhang().filter(|ratio| *ratio > MOST_OVERHANG) {
            return Some(Self::Overhang { diameters });
        }
        let (planned_mm, deepest_mm) = (trial.cutting.depth_mm, deepest_cut_mm(trial, trial.cutting.feed_mm_per_rev));
        (planned_mm > deepest_mm * (1.0 + 1e-9)).then_some(Self::Depth { planned_mm, deepest_mm })
    }
}

/// Whether a bar is stiff enough.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Stiff {
    /// Even the upper end of the range does not matter.
    Enough,
    /// The median does not matter, the upper end does.
    Perhaps,
    /// The median matters.
    No,
}

impl Stiffness {
    /// The bending of the trial's bar under its planned cut, read at `stations_mm`.
    ///
    /// Diameter left over by a steady cut `2·F·C(z)` (see `physics::deflection`), `F` after Kienzle with a log-normal factor of median 1, `C` of
    /// the bar alone; what chuck and centres add is told apart, since nobody knows it beforehand. The threshold is that of a material cause.
    #[must_use]
    pub fn of(trial: &Trial, stations_mm: &[f64]) -> Self {
        let bar = &trial.bar;
        let tested = stations_mm.last().zip(stations_mm.first()).map_or(0.0, |(last, first)| last - first);
        let threshold_mm = 1e-3 * material_threshold_um(trial, tested);
        let force_n = radial_force_n(bar, trial.cutting.depth_mm, trial.cutting.feed_mm_per_rev, trial.cutting.nose_radius_mm);
        let deflection_mm = bending_mm(trial, stations_mm, force_n, Compliances::RIGID);
        let prior = &trial.prior;
        let yielding = Compliances::from_prior_units(
            HALF_NORMAL_MEDIAN * prior.chuck_tilt_urad_per_nm,
            HALF_NORMAL_MEDIAN * prior.centre_compliance_um_per_n,
        );
        let support_adds_mm = bending_mm(trial, stations_mm, force_n, yielding) - deflection_mm;
        let factor = trial.prior.force_factor.powf(NORMAL_975);
        let range_mm = [deflection_mm / factor, deflection_mm * factor];
        let verdict = if range_mm[1] <= threshold_mm {
            Stiff::Enough
        } else if deflection_mm <= threshold_mm {
            Stiff::Perhaps
        } else {
            Stiff::No
        };
        let soft = verdict != Stiff::Enough && range_mm[1] > 0.0;
        Self {
            overhang: bar.overhang(),
            force_n,
            deflection_mm,
            range_mm,
            support_adds_mm,
            threshold_mm,
            verdict,
            depth_that_fits_mm: soft.then(|| trial.cutting.depth_mm * threshold_mm / range_mm[1]),
            length_that_fits_mm: if soft { shorter_mm(trial, stations_mm, force_n, factor) } else { None },
            heavy_times: heavy_times(trial, trial.cutting.depth_mm, trial.cutting.feed_mm_per_rev),
            refusal: Refusal::of(trial),
        }
    }

    /// Whether the overhang is more than a chuck holds without a centre.
    #[must_use]
    pub fn hangs_out_too_far(&self) -> bool {
        self.overhang.is_some_and(|ratio| ratio > MOST_OVERHANG)
    }

    /// The deflection as a share of the taper limit, when there is one.
    #[must_use]
    pub fn share_of_limit(&self, target: &Target) -> Option<f64> {
        target.limit_mm.filter(|limit| *limit > 0.0).map(|limit| self.deflection_mm / limit)
    }
}

/// Largest minus smallest diameter left along the stations, mm.
fn bending_mm(trial: &Trial, stations_mm: &[f64], force_n: f64, yielding: Compliances) -> f64 {
    let support = Support::of_bar(&trial.bar, yielding);
    let curve = stations_mm.iter().map(|z| steady_mm(force_n, support.compliance_mm_per_n(*z)));
    let (low, high) = curve.fold((f64::INFINITY, f64::NEG_INFINITY), |(low, high), left| (low.min(left), high.max(left)));
    if high > low { high - low } else { 0.0 }
}

/// The free length at which the upper end of the range meets the threshold of that length, by halving, to a whole millimetre downwards.
fn shorter_mm(trial: &Trial, stations_mm: &[f64], force_n: f64, factor: f64) -> Option<f64> {
    let fits = |share: f64| {
        let mut shorter = trial.clone();
        shorter.bar.length_mm *= share;
        shorter.bar.collars_mm = shorter.bar.collars_mm.iter().map(|span| span.map(|end| end * share)).collect();
        let stations: Vec<f64> = stations_mm.iter().map(|z| z * share).collect();
        let tested = stations.last().zip(stations.first()).map_or(0.0, |(last, first)| last - first);
        factor * bending_mm(&shorter, &stations, force_n, Compliances::RIGID) <= 1e-3 * material_threshold_um(&shorter, tested)
    };
    let (mut low, mut high) = (0.1, 1.0);
    if !fits(low) {
        return None;
    }
    for _ in 0..30 {
        let middle = 0.5 * (low + high);
        if fits(middle) { low = middle } else { high = middle }
    }
    Some((low * trial.bar.length_mm).floor())
}
