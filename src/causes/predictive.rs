//! Does the joint model reproduce each log?

use super::block::Contrasts;
use super::design::{Design, Log};
use super::hyper::Hyper;
use super::outcome::{expected, random_part};
use super::posterior::{Draw, Posterior};
use super::values::{PredictedReading, Prediction};
use crate::trial::{Diameters, Place};
use std::collections::BTreeMap;

/// Draws over which predictions are averaged.
const DRAWS: usize = 48;

/// Readings up to which each is told with its residual.
const MOST_READINGS: usize = 3_000;
/// Of more, the means of repeated readings with the least and the greatest residual in each of so many equal stretches.
const STRETCHES: usize = 300;

/// One prediction for each log and gauge, in the logs' order.
///
/// `diameters` are those that were logged, repeats one by one; `None` where neighbouring ones are joined, in stretches of `stretch_mm`.
pub(super) fn predictions(
    diameters: Option<&Diameters>,
    stretch_mm: Option<f64>,
    design: &Design,
    posterior: &Posterior,
) -> Vec<Prediction> {
    let step = (posterior.len() / DRAWS).max(1);
    let draws: Vec<_> = posterior.draws.iter().step_by(step).collect();
    let mut bending = design.model.bending.clone();
    let mut means: Vec<Vec<f64>> = design.logged.iter().map(|l| vec![0.0; l.rows.readings.len()]).collect();
    for draw in &draws {
        bending.fill(&draw.values);
        for (logged, mean) in design.logged.iter().zip(&mut means) {
            let says = expected(&logged.rows, &draw.values, &draw.unknowns, &bending);
            // Readings of unlike gauges in one pass have constants of their own, as in the estimate.
            let mut levels = logged.rows.noise.clone();
            levels.sort_unstable();
            levels.dedup();
            for level in levels {
                let old: Vec<usize> = (0..says.len()).filter(|i| logged.rows.noise[*i] == level).collect();
                let residual: Vec<f64> = logged.rows.readings.iter().zip(&says).map(|(y, s)| y - s).collect();
                // The constant is taken out first, so that it does not lose digits against the random terms.
                let shift = old.iter().map(|i| residual[*i]).sum::<f64>() / old.len() as f64;
                let centred: Vec<f64> = residual.iter().map(|r| r - shift).collect();
                let random = random_part(&logged.rows, &old, &centred, &draw.values).map(|(m, _)| m);
                for i in old {
                    let own: f64 = random
                        .as_ref()
                        .map_or(0.0, |m| m[0] + logged.rows.random.iter().enumerate().map(|(t, (_, v))| m[t + 1] * v[i]).sum::<f64>());
                    mean[i] += (says[i] + shift + own) / draws.len() as f64;
                }
            }
        }
    }
    let mut list: Vec<Prediction> = Vec::new();
    for log in [Log::Diameters, Log::Levels, Log::Indicator, Log::Clamp] {
        for (noise, gauge) in design.noise_names.iter().enumerate() {
            let mut readings = Vec::new();
            let (mut total, mut square) = (0.0, 0.0);
            for (logged, mean) in design.logged.iter().zip(&means).filter(|(l, _)| l.log == log) {
                square += logged.rows.repeats.iter().filter(|r| r.0 == noise).map(|r| r.2).sum::<f64>();
                square += logged.block.contrasts().filter(|c| c.noise == noise).map_or(0.0, |c| beyond_the_mean(c, &draws));
                total += logged.rows.repeats.iter().filter(|r| r.0 == noise).map(|r| r.1).sum::<f64>();
                for i in (0..mean.len()).filter(|i| logged.rows.noise[*i] == noise) {
                    let residual = logged.rows.readings[i] - mean[i];
                    // a mean of n readings has variance 1/n; elsewhere the variance is that of a difference
                    square += residual * residual * if log == Log::Diameters { 1.0 / logged.rows.variance[i] } else { 1.0 };
                    total += 1.0;
                    readings.push(PredictedReading {
                        place: logged.places[i],
                        setting: logged.setting,
                        pass: logged.pass,
                        station_mm: logged.stations[i],
                        reading: logged.rows.readings[i],
                        predicted: mean[i],
                        residual,
                    });
                }
            }
            if readings.is_empty() {
                continue;
            }
            let sheet = design.model.hypers.kinds.iter().find_map(|k| match *k {
                Hyper::Noise { index, median, factor, rounding_variance } if index == noise => {
                    Some(((median * median + rounding_variance).sqrt(), factor))
                }
                _ => None,
            });
            let (data_sheet, factor) = sheet.unwrap_or((1.0, 1.5));
            let estimate = posterior.draws.iter().map(|d| d.values.noise[noise].sqrt()).sum::<f64>() / posterior.len().max(1) as f64;
            let rms = (square / total).sqrt();
            let total = total as usize;
            let own = diameters.filter(|_| total <= MOST_READINGS);
            let means = log == Log::Diameters && own.is_none();
            if let Some(diameters) = own.filter(|_| log == Log::Diameters) {
                readings = one_by_one(diameters, &readings);
            }
            let readings = if readings.len() > MOST_READINGS { bounding(readings) } else { readings };
            let surprise = (estimate / data_sheet).ln() / factor.ln();
            let times = estimate / data_sheet;
            let interpretation = if surprise > 2.0 {
                format!(
                    "The readings scatter {times:.1} times as much as the data sheet says: either the gauge is worse in this hand, or something \
                     that is not in the model moves the readings."
                )
            } else if surprise < -2.0 {
                format!("The readings scatter {times:.2} times as much as the data sheet says: the gauge is better than its data sheet.")
            } else {
                format!("The joint model reproduces these readings: they scatter {times:.2} times as much as the data sheet says.")
            };
            list.push(Prediction {
                log: log.name(),
                gauge: gauge.clone(),
                unit: if log == Log::Levels { "mm/m" } else { "mm" },
                readings,
                total,
                means,
                stretch_mm: stretch_mm.filter(|_| log == Log::Diameters),
                rms_residual: rms,
                noise: estimate,
                data_sheet,
                interpretation,
            });
        }
    }
    list
}

/// Squares of what passes taken together say beyond their mean, each pass's own slope and bend taken out as predicted.
fn beyond_the_mean(contrasts: &Contrasts, draws: &[&Draw]) -> f64 {
    let mut mean = [[0.0; 2]; 2];
    for draw in draws {
        let own = contrasts.shrinkage(&draw.values);
        mean.iter_mut().flatten().zip(own.iter().flatten()).for_each(|(sum, own)| *sum += own / draws.len() as f64);
    }
    contrasts.left(&mean)
}

/// Every reading that the `means` stand for, in their order.
fn one_by_one(diameters: &Diameters, means: &[PredictedReading]) -> Vec<PredictedReading> {
    let (reduced, of_row) = diameters.reduced_rows();
    let known: BTreeMap<Place, &PredictedReading> = means.iter().map(|mean| (mean.place, mean)).collect();
    let mut readings: Vec<PredictedReading> = of_row
        .iter()
        .enumerate()
        .filter_map(|(row, place)| {
            let mean = known.get(&reduced.place(*place as usize))?;
            let reading = diameters.diameter_mm(row);
            Some(PredictedReading { place: diameters.place(row), reading, residual: reading - mean.predicted, ..**mean })
        })
        .collect();
    readings.sort_by_key(|reading| (reading.setting, reading.pass));
    readings
}

/// The readings with the least and the greatest residual in each of [`STRETCHES`] equal stretches of the list.
fn bounding(readings: Vec<PredictedReading>) -> Vec<PredictedReading> {
    let size = readings.len().div_ceil(STRETCHES);
    let ends = |(stretch, list): (usize, &[PredictedReading])| {
        let by_residual = |a: &(usize, &PredictedReading), b: &(usize, &PredictedReading)| a.1.residual.total_cmp(&b.1.residual);
        let (least, most) = (list.iter().enumerate().min_by(by_residual), list.iter().enumerate().max_by(by_residual));
        let mut places: Vec<usize> = [least, most].into_iter().flatten().map(|(place, _)| stretch * size + place).collect();
        places.sort_unstable();
        places.dedup();
        places
    };
    let kept: Vec<usize> = readings.chunks(size).enumerate().flat_map(ends).collect();
    kept.into_iter().filter_map(|place| readings.get(place).cloned()).collect()
}
