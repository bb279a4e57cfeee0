//! Does the joint model reproduce each log?

use super::design::{Design, Log};
use super::hyper::Hyper;
use super::outcome::{expected, random_part};
use super::posterior::Posterior;
use super::values::{PredictedReading, Prediction};

/// Draws over which predictions are averaged.
const DRAWS: usize = 48;

/// One prediction for each log and gauge, in the logs' order.
pub(super) fn predictions(design: &Design, posterior: &Posterior) -> Vec<Prediction> {
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
            for (logged, mean) in design.logged.iter().zip(&means).filter(|(l, _)| l.log == log) {
                for i in (0..mean.len()).filter(|i| logged.rows.noise[*i] == noise) {
                    readings.push(PredictedReading {
                        place: logged.places[i],
                        setting: logged.setting,
                        pass: logged.pass,
                        station_mm: logged.stations[i],
                        reading: logged.rows.readings[i],
                        predicted: mean[i],
                        residual: logged.rows.readings[i] - mean[i],
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
            let rms = (readings.iter().map(|r| r.residual * r.residual).sum::<f64>() / readings.len() as f64).sqrt();
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
                rms_residual: rms,
                noise: estimate,
                data_sheet,
                interpretation,
            });
        }
    }
    list
}
