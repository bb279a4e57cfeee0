//! Consistency of diameter and the adjacent-band rule, on draws of the true diameters.

use super::Knowledge;
use super::judge::stays_from;
use super::measured::{Known, Measured};
use super::profile::{Common, Means, Noise, draw_profiles, draw_unsmoothed, generator, normal, range};
use super::scatter::{Cell, CutPass, Gauge, Scatter, scatter};
use super::settle::Shrinks;
use crate::quantities::Told;
use crate::shape::{
    DirectionTaper, FittedContrast, NoiseSource, Shape, StationReadings, TaperFit, fit_setting, gauge_zeros, station_readings,
};
use crate::statistics::LegendreRange;
use crate::trial::{Direction, Trial};
use rand::Rng;
use std::collections::{BTreeMap, BTreeSet};

/// Draws of the true diameters of one setting at its stations, up to a constant.
pub(super) struct TrueDiameters {
    stations_mm: Vec<f64>,
    /// With a smooth curve expected between stations.
    draws: Vec<Vec<f64>>,
    /// With nothing expected of the shape: each station for itself.
    unsmoothed: Vec<Vec<f64>>,
    /// The mean readings less what the zeros of unlike gauges may make of them, in the same draws; none with one gauge.
    zeros: Vec<Vec<f64>>,
    length_mm: f64,
    passes: usize,
    readings_part: f64,
    /// Standard uncertainty of the curve's slope that no reading shows, mm over half the length.
    tilt_mm: f64,
    /// What most of that and of the zeros comes from, in words.
    stays_from: String,
    /// Whether the log holds more than two stations.
    several: bool,
}

/// The taper that is judged: that of the passes to the headstock, or of the others where those show none.
pub(super) fn judged_taper(shape: &Shape) -> Option<&DirectionTaper> {
    shape.by_direction.iter().min_by_key(|row| row.direction != Direction::ToHeadstock)
}

/// The true diameters of the finishing cut in the judged direction; `None` when there is no fit.
///
/// Smooth curve of order 2 (1 with two stations) with departures at each station, by [`draw_profiles`]; the spread of slopes and bends between passes
/// and the rows of the taper's budget that no reading shows are added to the curve. The zeros of unlike gauges ([`gauge_zeros`]) are drawn once a profile for each gauge and
/// taken from the stations that it read, as far as its readings make their means.
pub(super) fn true_diameters(trial: &Trial, shape: &Shape, seed: u64) -> Option<TrueDiameters> {
    let fit = fit_setting(trial, shape.setting)?;
    let direction = judged_taper(shape)?.direction;
    let read = station_readings(trial, shape.setting)?;
    let levels: BTreeMap<(u32, Direction), f64> =
        shape.pass_summaries.iter().filter(|pass| pass.in_shape).map(|pass| ((pass.pass, pass.direction), pass.level_mm)).collect();
    let judged = || read.iter().filter(|cell| cell.direction == direction);
    let stations = distinct(judged().map(|cell| cell.station_mm));
    let span = LegendreRange::spanning(&stations)?;
    // sum of deviations from the passes' levels, and number of readings, at each station
    let mut sums = vec![(0.0, 0.0); stations.len()];
    for cell in judged() {
        let (Some(level), Some(sum)) = (levels.get(&(cell.pass, cell.direction)), sums.get_mut(place_of(cell.station_mm, &stations)))
        else {
            continue;
        };
        *sum = (sum.0 + cell.readings * (cell.mean_mm - level), sum.1 + cell.readings);
    }
    if sums.iter().any(|(_, count)| *count <= 0.0) {
        return None;
    }
    let means = Means {
        at: stations.iter().map(|station| span.scaled(*station)).collect(),
        mean: sums.iter().map(|(sum, count)| sum / count).collect(),
        count: sums.iter().map(|(_, count)| *count).collect(),
    };
    let moves = moved_by_zeros(trial, shape, &read, direction, &stations);
    let own = fit.by_direction.iter().find(|(d, _, _)| *d == direction).map_or(&fit.taper, |(_, _, contrast)| contrast);
    let passes = judged().map(|cell| cell.pass).collect::<BTreeSet<_>>().len();
    let all = distinct(read.iter().map(|cell| cell.station_mm));
    let at: Vec<f64> = all.iter().map(|station| span.scaled(*station)).collect();
    let gauge = &trial.gauge.diameter;
    let gauge = Gauge { u_mm: gauge.u_mm, resolution_mm: gauge.resolution_mm, noise_factor: trial.prior.gauge_noise_factor };
    let Scatter { noise, common } =
        scatter(&cut_passes(&read, &levels, direction, &all), &at, gauge).unwrap_or_else(|| of_the_fit(&fit, own, gauge.resolution_mm));
    let slope_normal = 0.5 * shape.beside_the_fit();
    let common = Common { slope_normal, ..common };
    let order = if stations.len() > 2 { 2 } else { 1 };
    let mut rng = generator(seed, shape.setting, 1);
    let mut draws = draw_profiles(&means, order, noise, common, &mut rng)?;
    let mut unsmoothed = draw_unsmoothed(&means, noise, common, &mut generator(seed, shape.setting, 5));
    let mut zeros = Vec::new();
    if !moves.is_empty() {
        // one draw of the zeros for each of the three, so that they are the same bar
        zeros = vec![means.mean.clone(); draws.len()];
        let mut rng = generator(seed, shape.setting, 6);
        for ((curved, plain), mean) in draws.iter_mut().zip(&mut unsmoothed).zip(&mut zeros) {
            take_zeros(&moves, &mut [curved, plain, mean], &mut rng);
        }
    }
    Some(TrueDiameters {
        length_mm: stations.last()? - stations.first()?,
        several: stations.len() > 2,
        stations_mm: stations,
        draws,
        unsmoothed,
        zeros,
        passes,
        readings_part: own.standard_error,
        tilt_mm: slope_normal,
        stays_from: stays_from(shape, judged_taper(shape)?.calibration),
    })
}

/// By gauge, how the mean of each station, all of them read in `direction`, moves with the gauge's zero, times the standard uncertainty of its calibration, mm; none with one gauge.
fn moved_by_zeros(trial: &Trial, shape: &Shape, read: &[StationReadings], direction: Direction, stations: &[f64]) -> Vec<Vec<f64>> {
    let mean = |moves: &[f64]| -> Vec<f64> {
        let mut sums = vec![(0.0, 0.0); stations.len()];
        for (cell, moved) in read.iter().zip(moves).filter(|(cell, _)| cell.direction == direction) {
            if let Some(sum) = sums.get_mut(place_of(cell.station_mm, stations)) {
                *sum = (sum.0 + cell.readings * moved, sum.1 + cell.readings);
            }
        }
        sums.iter().map(|(sum, count)| sum / count).collect()
    };
    let zeros = gauge_zeros(trial, shape);
    zeros.iter().map(|zero| mean(&zero.moves).iter().map(|moved| moved * zero.standard_uncertainty_mm).collect()).collect()
}

/// Takes one draw of the gauges' zeros from some profiles of one bar.
fn take_zeros(moves: &[Vec<f64>], profiles: &mut [&mut Vec<f64>], rng: &mut impl Rng) {
    for moved in moves {
        let zero = normal(rng);
        for profile in profiles.iter_mut() {
            profile.iter_mut().zip(moved).for_each(|(value, moved)| *value -= zero * moved);
        }
    }
}

/// Stations, rising; those nearer than rounding count once.
fn distinct(stations: impl Iterator<Item = f64>) -> Vec<f64> {
    let mut stations: Vec<f64> = stations.collect();
    stations.sort_by(f64::total_cmp);
    stations.dedup_by(|a, b| (*a - *b).abs() < 1e-9);
    stations
}

fn place_of(station_mm: f64, stations: &[f64]) -> usize {
    stations.partition_point(|station| *station < station_mm - 1e-9)
}

/// The finishing passes with their readings by station, the judged direction as 0.
fn cut_passes(read: &[StationReadings], levels: &BTreeMap<(u32, Direction), f64>, judged: Direction, stations: &[f64]) -> Vec<CutPass> {
    let mut cells: BTreeMap<(u32, Direction), BTreeMap<usize, Cell>> = BTreeMap::new();
    for own in read {
        let key = (own.pass, own.direction);
        let Some(level) = levels.get(&key) else { continue };
        let station = place_of(own.station_mm, stations);
        let cell = cells.entry(key).or_default().entry(station).or_insert_with(|| Cell::empty(station));
        cell.add_all(own.readings, own.mean_mm - level, own.squares_mm2);
    }
    cells
        .into_iter()
        .map(|((_, direction), cells)| CutPass { direction: usize::from(direction != judged), cells: cells.into_values().collect() })
        .collect()
}

/// Scatter about the taper's own smooth curve: all that the log has where no station was read twice, and more than the noise where rounding hides that.
fn of_the_fit(fit: &TaperFit, own: &FittedContrast, resolution_mm: f64) -> Scatter {
    let between = |contrast: &FittedContrast| contrast.standard_error * (1.0 - contrast.within_share.clamp(0.0, 1.0)).sqrt();
    let common =
        Common { slope_t: 0.5 * between(own), slope_normal: 0.0, bend_t: fit.barrel.as_ref().map_or(0.0, between) / 1.5, dof: own.dof };
    let dof = match fit.noise {
        NoiseSource::Log => Some(fit.within_dof),
        NoiseSource::LogAndDataSheet => Some(fit.within_dof + fit.prior_dof),
        NoiseSource::DataSheet => None,
    };
    let sigma = fit.sigma_mm.max(resolution_mm / 12.0_f64.sqrt()).max(1e-7);
    Scatter { noise: Noise { sigma, dof, departures: 1.0 }, common }
}

/// The largest difference of true diameters over the tested stations.
pub(super) fn consistency(found: Option<&TrueDiameters>) -> Measured {
    let Some(found) = found else {
        return Measured::Unknown(
            "No setting has a fit from which true diameters could be drawn: read two stations or more after one cut.".to_owned(),
        );
    };
    let draws = found.draws.iter().map(|profile| range(profile)).collect();
    let Some(knowledge) = Knowledge::of_draws(draws) else {
        return Measured::Unknown("The diameters of this setting do not determine their largest difference.".to_owned());
    };
    let u = knowledge.standard_uncertainty();
    let stays = (u * u - found.readings_part * found.readings_part).max(0.0).sqrt();
    let mut note =
        "Largest difference of the true diameters at the stations, on draws of what the readings leave open; a difference between \
        stations that were not read is not seen."
            .to_owned();
    if !found.several {
        note.push_str(" Two stations: a bar that is thicker or thinner between them is not seen.");
    }
    let shrinks = Some(Shrinks { passes: found.passes, by_passes: found.readings_part.min(u), stays, from: found.stays_from.clone() });
    Measured::Known(Known { knowledge, length_mm: Some(found.length_mm), shrinks, note })
}

/// The largest difference of adjacent bands as a share of the difference of the end bands.
///
/// Bands are the collars, where the bar has any; the stations, where there are three; else the first station, the middle one and the last. Without meaning for
/// two bands, and unless the end difference exceeds twice its standard uncertainty with a probability of 0.95: three equal bands break the
/// rule by noise alone.
pub(super) fn adjacent_bands(trial: &Trial, found: Option<&TrueDiameters>) -> Measured {
    let Some(found) = found else {
        return Measured::Unknown(
            "No setting has a fit from which true diameters could be drawn: read three bands or more after one cut.".to_owned(),
        );
    };
    let groups = bands(&trial.bar.collars_mm, &found.stations_mm);
    if groups.len() < 3 {
        return Measured::DoesNotApply(
            "The rule compares adjacent bands with the end bands and has no meaning with fewer than three bands.".to_owned(),
        );
    }
    let of_draw = |profile: &Vec<f64>| -> Vec<f64> {
        let mean = |group: &Vec<usize>| group.iter().filter_map(|i| profile.get(*i)).sum::<f64>() / group.len().max(1) as f64;
        groups.iter().map(mean).collect()
    };
    let drawn: Vec<Vec<f64>> = found.unsmoothed.iter().map(of_draw).collect();
    let ends_of = |drawn: &[Vec<f64>]| -> Vec<f64> {
        drawn.iter().map(|bands| bands.last().zip(bands.first()).map_or(0.0, |(last, first)| last - first)).collect()
    };
    let ends = ends_of(&drawn);
    let Some(end) = Knowledge::of_draws(ends.clone()) else {
        return Measured::Unknown("The diameters of this setting do not determine the difference of the end bands.".to_owned());
    };
    let twice = 2.0 * end.standard_uncertainty();
    let clear = 1.0 - end.probability_within(-twice, twice);
    if clear < 0.95 {
        return Measured::DoesNotApply(format!(
            "The end bands differ by no more than the log can see ({}, standard uncertainty {}): a share of that would be chance. The rule \
             says nothing against a bar whose ends are alike.",
            Told::fine(end.value().abs()),
            Told::fine(0.5 * twice)
        ));
    }
    let ratio = |(bands, end): (&Vec<f64>, &f64)| {
        let largest = bands.windows(2).map(|pair| (pair[1] - pair[0]).abs()).fold(0.0, f64::max);
        (largest / end.abs().max(1e-12)).min(1e3)
    };
    match Knowledge::of_draws(drawn.iter().zip(&ends).map(ratio).collect()) {
        Some(knowledge) => {
            let note = format!(
                "Largest difference of neighbours among {} bands over the difference of the end bands, on draws of the true diameters.",
                groups.len()
            );
            // what tilts all passes alike changes the ends' difference, and with it the share, in proportion
            let u = knowledge.standard_uncertainty();
            let tilted = knowledge.value() * 2.0 * found.tilt_mm / end.value().abs().max(1e-12);
            let zeroed: Vec<Vec<f64>> = found.zeros.iter().map(of_draw).collect();
            let of_zeros = Knowledge::of_draws(zeroed.iter().zip(&ends_of(&zeroed)).map(ratio).collect());
            let stays = tilted.hypot(of_zeros.map_or(0.0, |zeros| zeros.standard_uncertainty())).min(u);
            let shrinks = Some(Shrinks {
                passes: found.passes,
                by_passes: (u * u - stays * stays).max(0.0).sqrt(),
                stays,
                from: found.stays_from.clone(),
            });
            Measured::Known(Known { knowledge, length_mm: None, shrinks, note })
        }
        None => Measured::Unknown("The diameters of this setting do not determine the share.".to_owned()),
    }
}

/// Places of `stations` that make each band.
fn bands(collars_mm: &[[f64; 2]], stations: &[f64]) -> Vec<Vec<usize>> {
    let within = |span: &[f64; 2]| -> Vec<usize> {
        stations.iter().enumerate().filter(|(_, z)| **z >= span[0] - 1e-6 && **z <= span[1] + 1e-6).map(|(i, _)| i).collect()
    };
    let collars: Vec<Vec<usize>> = collars_mm.iter().map(within).filter(|group| !group.is_empty()).collect();
    if !collars.is_empty() {
        return collars;
    }
    if stations.len() <= 3 {
        return (0..stations.len()).map(|i| vec![i]).collect();
    }
    let (first, last) = (stations[0], stations[stations.len() - 1]);
    let off = |z: f64| (z - 0.5 * (first + last)).abs();
    let middle = (1..stations.len() - 1).min_by(|a, b| off(stations[*a]).total_cmp(&off(stations[*b]))).unwrap_or(1);
    vec![vec![0], vec![middle], vec![stations.len() - 1]]
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::shape::{Spread, SpreadSource};
    use nalgebra::Matrix2;

    #[test]
    fn bands_are_collars_or_first_middle_and_last() {
        assert_eq!(bands(&[[5.0, 15.0], [95.0, 105.0]], &[10.0, 96.0, 104.0]), [vec![0], vec![1, 2]]);
        assert_eq!(bands(&[], &[10.0, 50.0, 90.0]).len(), 3);
        assert_eq!(bands(&[], &[0.0, 20.0, 45.0, 60.0, 100.0]), [vec![0], vec![2], vec![4]]);
        assert_eq!(bands(&[], &[10.0, 50.0]).len(), 2);
    }

    fn contrast(standard_error: f64, within_share: f64) -> FittedContrast {
        FittedContrast { value: 0.0, standard_error, dof: Some(4.5), half_width95: 2.0 * standard_error, within_share }
    }

    /// A fit of which each figure is another one.
    fn fit(noise: NoiseSource, sigma_mm: f64) -> TaperFit {
        TaperFit {
            taper: contrast(0.1, 0.0),
            barrel: Some(contrast(0.006, 0.75)),
            direction_difference: None,
            barrel_by_direction: false,
            by_direction: Vec::new(),
            lost_directions: Vec::new(),
            plain_t: None,
            sigma_mm,
            within_dof: 5.0,
            prior_dof: 3.0,
            noise,
            between_pass_mm: None,
            relative_spread: Matrix2::zeros(),
            spread: Spread {
                source: SpreadSource::PriorAndPasses,
                prior_scale_mm: None,
                between_standard_error_mm: 0.2,
                within_standard_error_mm: 0.3,
            },
            mean_coefficients: [0.0; 2],
            mean_covariance: Matrix2::zeros(),
            pass_tapers: Vec::new(),
        }
    }

    /// By hand: a taper of standard error 5 µm of which 0.64 of the square is the readings' own leaves 3 µm between passes, 1.5 over half the length; a barrel of 6 µm
    /// and 0.75 leaves 3 µm, which is one and a half times the bend. Rounding to 12 µm scatters by 12/√12.
    #[test]
    fn the_scatter_of_the_fit_is_its_own_less_what_repeats_would_lessen() {
        let near = |found: f64, expected: f64| (found - expected).abs() < 1e-12;
        let own = contrast(0.005, 0.64);
        let found = of_the_fit(&fit(NoiseSource::LogAndDataSheet, 0.001), &own, 0.012);
        assert!(near(found.common.slope_t, 0.0015) && near(found.common.bend_t, 0.002), "{found:?}");
        assert!(!near(found.common.slope_t, 0.0015 + 1e-9), "the comparison sees a thousandth of a nanometre");
        assert_eq!((found.common.slope_normal, found.common.dof, found.noise.dof), (0.0, Some(4.5), Some(8.0)));
        assert!(near(found.noise.sigma, 12.0_f64.sqrt() / 1000.0) && found.noise.departures == 1.0);
        let wide = of_the_fit(&fit(NoiseSource::Log, 0.02), &contrast(0.005, 1.2), 0.012);
        assert_eq!((wide.common.slope_t, wide.noise.sigma, wide.noise.dof), (0.0, 0.02, Some(5.0)));
        let sheet = of_the_fit(&TaperFit { barrel: None, ..fit(NoiseSource::DataSheet, 0.0) }, &own, 0.0);
        assert_eq!((sheet.common.bend_t, sheet.noise.sigma, sheet.noise.dof), (0.0, 1e-7, None));
    }
}
