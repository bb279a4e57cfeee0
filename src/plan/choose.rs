//! Which scheme: first what separates the wanted causes, then what makes the taper sure enough, cheapest first.

use super::scheme::stations;
use super::{PlanOption, Purpose, Scatter, Scheme, Target, forecast_taper};
use crate::causes::{CauseKind, Foreseen, foresee, heavy_times};
use crate::simulate::{Chance, Nature, read_off};
use crate::trial::{Holding, Trial, Truth};

/// Numbers of stations that are tried on a plain bar.
const COUNTS: [u32; 4] = [2, 3, 5, 9];
/// Readings at a station that are tried.
const REPEATS: [u32; 3] = [1, 2, 3];
/// Most passes in one direction that are tried.
const MOST_PASSES: u32 = 8;
/// Stations from which the fit can show that it misses something: one more than its three terms.
pub const ENOUGH_STATIONS: usize = 4;
/// Schemes that are less sure than the surest by no more than this share count as equally sure (common practice, no source): no verdict hangs on it.
const NEARLY: f64 = 0.05;
/// Standard errors by which a forecast must keep below what is wanted before its scheme counts as enough; in the search it may be above by as many.
pub const MARGIN: f64 = 2.0;
/// Options that are shown at most.
const SHOWN: usize = 6;

/// What is measured besides the plain passes.
#[derive(Debug, Clone, Copy, Default, PartialEq)]
pub struct Extras {
    both_ways: bool,
    heavy: Option<f64>,
    levels: bool,
    indicator: bool,
}

impl Extras {
    /// All combinations that the way of holding allows; a heavy pass only as deep as the bar bears.
    fn all(trial: &Trial) -> Vec<Self> {
        let choices = |allowed: bool| if allowed { &[false, true][..] } else { &[false][..] };
        let mut all = Vec::new();
        let held = trial.bar.holding;
        let heavy = heavy_times(trial, trial.cutting.depth_mm, trial.cutting.feed_mm_per_rev);
        let heavy: &[Option<f64>] = if heavy.is_some() { &[None, heavy] } else { &[None] };
        for &both_ways in choices(true) {
            for &heavy in heavy {
                for &levels in choices(held != Holding::Centres) {
                    for &indicator in choices(true) {
                        all.push(Self { both_ways, heavy, levels, indicator });
                    }
                }
            }
        }
        all
    }

    fn scheme(self, stations_mm: Vec<f64>, passes: u32, repeats: u32) -> Scheme {
        let Self { both_ways, heavy, levels, indicator } = self;
        Scheme { stations_mm, passes, both_ways, repeats, heavy, levels, indicator }
    }
}

/// What the readings of `scheme` would tell of each cause.
#[must_use]
pub fn foresee_scheme(trial: &Trial, scheme: &Scheme) -> Vec<Foreseen> {
    let empty = scheme.lay_out(trial);
    let nature = Nature::stated(&empty, &Truth::default(), 0.0, &mut Chance::new(0, 0));
    foresee(&read_off(&empty, &nature, 0))
}

/// The cheapest extras with which every wanted cause is told from the others; failing that, those that separate most of them.
#[must_use]
pub fn extras_for(trial: &Trial, wanted: &[CauseKind]) -> Extras {
    if wanted.is_empty() {
        return Extras::default();
    }
    let mut best: Option<(usize, f64, Extras)> = None;
    for extras in Extras::all(trial) {
        let scheme = extras.scheme(stations(trial, 5), 2, 1);
        let foreseen = foresee_scheme(trial, &scheme);
        let separated = wanted.iter().filter(|cause| foreseen.iter().any(|one| one.cause == **cause && one.separate)).count();
        let minutes = scheme.minutes(trial.plan.as_ref());
        if best.is_none_or(|(most, least, _)| separated > most || (separated == most && minutes < least)) {
            best = Some((separated, minutes, extras));
        }
    }
    best.map_or_else(Extras::default, |(_, _, extras)| extras)
}

/// Schemes with `extras`, cheapest first, and which of them is advised.
///
/// The search leaves those that may be enough. Then the one that would be advised is forecast anew, from logs that had no part in the search, until the one that is advised
/// stands by that: where it is not enough after all, a pass more is tried as well.
#[must_use]
pub fn options(trial: &Trial, extras: Extras, scatter: Scatter, seed: u64) -> (Vec<PlanOption>, usize) {
    let collars = !trial.bar.collars_mm.is_empty();
    let new = |scheme: &Scheme, purpose: Purpose| option(trial, scheme.clone(), scatter, purpose, seed);
    let mut options = searched(trial, extras, scatter, seed);
    let hoped = options.iter().any(|one| one.meets == Some(true));
    // where none is enough, only the surest and the one that is nearly as sure and shows a curve are worth a row
    if options.iter().all(|one| one.meets == Some(false)) {
        options = options.iter().filter_map(|one| new(&one.scheme, Purpose::Search { wanted_mm: None })).collect();
        let kept = [surest(&options), nearly_surest(&options, collars)].map(|place| place.and_then(|at| options.get(at)).cloned());
        options.retain(|one| kept.iter().flatten().any(|other| other == one));
    } else {
        options.retain(|one| one.meets != Some(false));
    }
    let chosen = loop {
        sort(&mut options);
        let place = advised(&options, collars);
        let Some(one) = options.get_mut(place) else { return (options, 0) };
        if one.promised {
            break one.scheme.clone();
        }
        let Some(sure) = new(&one.scheme, Purpose::Promise) else { return (options, place) };
        *one = sure;
        let more = Scheme { passes: one.scheme.passes + 1, ..one.scheme.clone() };
        let too_few = hoped && one.meets == Some(false) && more.passes <= MOST_PASSES;
        if too_few && !options.iter().any(|one| one.scheme == more) {
            options.extend(new(&more, Purpose::Search { wanted_mm: wanted_mm(trial, &more) }));
        }
    };
    drop_too_few(&mut options);
    let options = shortened(options, &chosen);
    let anew = |one: PlanOption| if one.promised { Some(one) } else { new(&one.scheme, Purpose::Beside) };
    let mut options: Vec<PlanOption> = options.into_iter().filter_map(anew).map(|one| with_spread(trial, one, scatter, seed)).collect();
    drop_too_few(&mut options);
    let place = options.iter().position(|one| one.scheme == chosen).unwrap_or(0);
    (options, place)
}

/// The schemes that the search comes to, in no order: of each number of stations and readings the fewest passes that may be enough, one pass beside it; or, where
/// nothing is wanted, a few usual ones.
fn searched(trial: &Trial, extras: Extras, scatter: Scatter, seed: u64) -> Vec<PlanOption> {
    let counts = if trial.bar.collars_mm.is_empty() { &COUNTS[..] } else { &COUNTS[..1] };
    let mut found = Vec::new();
    for &count in counts {
        for repeats in REPEATS {
            let scheme = |passes| extras.scheme(stations(trial, count), passes, repeats);
            let wanted_mm = wanted_mm(trial, &scheme(1));
            let search = |passes| option(trial, scheme(passes), scatter, Purpose::Search { wanted_mm }, seed);
            if wanted_mm.is_none() {
                found.extend((1..=MOST_PASSES).filter(|passes| usual(count, *passes, repeats, trial)).filter_map(search));
                continue;
            }
            found.extend(search(1).filter(|one| one.meets == Some(true)));
            found.extend(fewest_passes(search));
        }
    }
    found
}

/// Where some schemes are enough, those that are not are dropped.
fn drop_too_few(options: &mut Vec<PlanOption>) {
    if options.iter().any(|one| one.meets == Some(true)) {
        options.retain(|one| one.meets != Some(false));
    }
}

/// Of two passes and more the fewest that are enough, by halving; the most when none is.
fn fewest_passes(option: impl Fn(u32) -> Option<PlanOption>) -> Option<PlanOption> {
    let (mut low, mut high) = (2, MOST_PASSES);
    let mut best = option(high)?;
    if best.meets != Some(true) {
        return Some(best);
    }
    while low < high {
        let middle = low.midpoint(high);
        let tried = option(middle)?;
        if tried.meets == Some(true) {
            (high, best) = (middle, tried);
        } else {
            low = middle + 1;
        }
    }
    Some(best)
}

/// Cheapest first.
fn sort(options: &mut [PlanOption]) {
    options.sort_by(|a, b| {
        let cheaper = a.minutes.total_cmp(&b.minutes).then(a.metal_mm.total_cmp(&b.metal_mm));
        cheaper.then(a.expanded_mm.total_cmp(&b.expanded_mm))
    });
}

/// Without those that cost more and give less than another, and at most [`SHOWN`], the `chosen` one among them.
fn shortened(mut options: Vec<PlanOption>, chosen: &Scheme) -> Vec<PlanOption> {
    let all = options.clone();
    let better = |one: &PlanOption, other: &PlanOption| {
        other.minutes <= one.minutes
            && other.metal_mm <= one.metal_mm
            && other.expanded_mm < one.expanded_mm
            && other.scheme.stations_mm.len() >= one.scheme.stations_mm.len()
    };
    options.retain(|one| one.scheme == *chosen || !all.iter().any(|other| better(one, other)));
    let place = options.iter().position(|one| one.scheme == *chosen).unwrap_or(0);
    if options.len() > SHOWN {
        let from = (place + 3).saturating_sub(SHOWN).min(options.len() - SHOWN);
        options.drain(from + SHOWN..);
        options.drain(..from);
    }
    options
}

/// The option with its forecast for passes that differ.
fn with_spread(trial: &Trial, one: PlanOption, scatter: Scatter, seed: u64) -> PlanOption {
    let between_pass_um = scatter.between_pass_um.max(one_pass_um(trial, &one.scheme));
    let spread = forecast_taper(trial, &one.scheme, Scatter { between_pass_um, ..scatter }, Purpose::Beside, seed);
    PlanOption { expanded_with_spread_mm: spread.map_or(one.expanded_with_spread_mm, |spread| spread.expanded_mm), ..one }
}

/// The expanded uncertainty that is wanted of a scheme, mm.
fn wanted_mm(trial: &Trial, scheme: &Scheme) -> Option<f64> {
    Target::of(trial, tested_mm(scheme)).expanded_mm
}

fn tested_mm(scheme: &Scheme) -> f64 {
    scheme.stations_mm.last().zip(scheme.stations_mm.first()).map_or(0.0, |(last, first)| last - first)
}

fn usual(count: u32, passes: u32, repeats: u32, trial: &Trial) -> bool {
    let collars = !trial.bar.collars_mm.is_empty();
    let plain = if collars { count == COUNTS[0] } else { count == 5 || (count == 2 && passes == 1) };
    plain && matches!((passes, repeats), (1, 1) | (3, 1) | (3, 2) | (5, 2))
}

/// Whether a scheme has two cuts and, on a plain bar, enough stations to show that a curve is missed.
fn full(one: &PlanOption, collars: bool) -> bool {
    one.scheme.cuts() >= 2 && (collars || one.scheme.stations_mm.len() >= ENOUGH_STATIONS)
}

/// The place of the surest scheme.
fn surest(options: &[PlanOption]) -> Option<usize> {
    let by_sureness = |a: &(usize, &PlanOption), b: &(usize, &PlanOption)| a.1.expanded_mm.total_cmp(&b.1.expanded_mm);
    options.iter().enumerate().min_by(by_sureness).map(|(place, _)| place)
}

/// The place of the cheapest of the [`full`] schemes that are [`NEARLY`] as sure as the surest of all.
fn nearly_surest(options: &[PlanOption], collars: bool) -> Option<usize> {
    let least = options.get(surest(options)?)?.expanded_mm;
    let near = options.iter().enumerate().filter(|(_, one)| one.expanded_mm <= (1.0 + NEARLY) * least && full(one, collars));
    near.min_by(|a, b| a.1.minutes.total_cmp(&b.1.minutes)).map(|(place, _)| place)
}

/// The scheme that is advised, of some that stand cheapest first.
///
/// The cheapest that meets the target with two cuts and, on a plain bar, enough stations to show that a curve is missed; failing that, the
/// cheapest that meets it. Where none meets it, the cheapest with two cuts and enough stations that is less sure than the surest by no more than [`NEARLY`]; failing
/// that, the surest. Where nothing is wanted, three passes with two readings.
fn advised(options: &[PlanOption], collars: bool) -> usize {
    let wanted = options.iter().any(|one| one.meets.is_some());
    let found = if wanted {
        options
            .iter()
            .position(|one| one.meets == Some(true) && full(one, collars))
            .or_else(|| options.iter().position(|one| one.meets == Some(true)))
    } else {
        options.iter().position(|one| full(one, collars) && one.scheme.passes == 3 && one.scheme.repeats == 2)
    };
    found.or_else(|| nearly_surest(options, collars)).or_else(|| surest(options)).unwrap_or(0)
}

/// A scheme with its price and forecast; that with passes that differ is still open.
///
/// What may be enough counts in the search; otherwise what is enough with [`MARGIN`] standard errors to spare.
fn option(trial: &Trial, scheme: Scheme, scatter: Scatter, purpose: Purpose, seed: u64) -> Option<PlanOption> {
    let forecast = forecast_taper(trial, &scheme, scatter, purpose, seed)?;
    let margin = if matches!(purpose, Purpose::Search { .. }) { -MARGIN } else { MARGIN };
    let judged_mm = forecast.expanded_mm * (1.0 + margin * forecast.relative_error);
    Some(PlanOption {
        minutes: scheme.minutes(trial.plan.as_ref()),
        metal_mm: scheme.metal_mm(trial.cutting.depth_mm),
        standard_uncertainty_mm: forecast.standard_uncertainty_mm,
        expanded_mm: forecast.expanded_mm,
        relative_error: forecast.relative_error,
        scatter_mm: forecast.scatter_mm,
        logs: forecast.logs,
        promised: purpose == Purpose::Promise,
        expanded_with_spread_mm: forecast.expanded_mm,
        effective_dof: forecast.effective_dof,
        meets: Target::of(trial, tested_mm(&scheme)).met_by(judged_mm),
        scheme,
    })
}

/// Standard error of the taper of one pass alone by the gauge's data sheet, µm: `1000·u·L/√(r·Σ(z − z̄)²)`, the standard error of a straight
/// line's slope (Draper and Smith, 1998, section 1.4) times the tested length.
#[must_use]
pub fn one_pass_um(trial: &Trial, scheme: &Scheme) -> f64 {
    let count = scheme.stations_mm.len().max(1) as f64;
    let mean = scheme.stations_mm.iter().sum::<f64>() / count;
    let square: f64 = scheme.stations_mm.iter().map(|z| (z - mean).powi(2)).sum();
    if square <= 0.0 {
        return 0.0;
    }
    1000.0 * trial.gauge.diameter.u_mm * tested_mm(scheme) / (f64::from(scheme.repeats) * square).sqrt()
}

#[cfg(test)]
mod tests {
    use super::*;

    fn with(stations: u32, passes: u32, minutes: f64, expanded_mm: f64, meets: bool) -> PlanOption {
        let stations_mm = (0..stations).map(f64::from).collect();
        let scheme = Scheme { stations_mm, passes, both_ways: false, repeats: 1, heavy: None, levels: false, indicator: false };
        PlanOption {
            scheme,
            minutes,
            metal_mm: 0.1,
            standard_uncertainty_mm: 0.5 * expanded_mm,
            expanded_mm,
            relative_error: 0.01,
            scatter_mm: 0.1 * expanded_mm,
            logs: 24,
            promised: false,
            expanded_with_spread_mm: expanded_mm,
            effective_dof: None,
            meets: Some(meets),
        }
    }

    #[test]
    fn nearly_as_sure_and_showing_a_curve_is_better() {
        let least = || with(2, 7, 20.0, 0.00200, false);
        let place = |five_mm: f64, collars: bool| advised(&[least(), with(5, 8, 40.0, five_mm, false)], collars);
        assert_eq!(place(0.00209, false), 1);
        let near = [least(), with(9, 5, 76.0, 0.00201, false), with(5, 8, 40.0, 0.00209, false)];
        assert_eq!(advised(&near, false), 2, "the cheaper of two");
        assert_eq!(place(0.00211, false), 0, "less sure by more than a twentieth");
        assert_eq!(place(0.00209, true), 0, "two collars have two stations");
        // three stations cannot show that a curve is missed, nor can one pass show whether another would agree
        assert_eq!(advised(&[least(), with(3, 8, 30.0, 0.00201, false), with(9, 1, 30.0, 0.00201, false)], false), 0);
        // where the wanted uncertainty is reached, the cheapest that shows a curve, at whatever price
        let reached = [with(2, 3, 10.0, 0.0010, true), with(5, 3, 30.0, 0.0014, true), with(5, 8, 60.0, 0.0009, true)];
        assert_eq!(advised(&reached, false), 1);
        assert_eq!(advised(&reached[..1], false), 0);
    }
}
