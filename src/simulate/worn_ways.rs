//! Worn ways of a simulated machine.

use super::Chance;
use crate::physics::way_wear;
use crate::trial::Trial;
use nalgebra::{DMatrix, DVector};

/// The true curve of worn ways.
#[derive(Debug, Clone, PartialEq)]
pub enum WornWays {
    /// No wear.
    None,
    /// `A·e^(−Z/ℓ)`: A in µm of diameter, ℓ in mm.
    Exponential {
        /// At its worst place, µm of diameter.
        worst_um: f64,
        /// Length over which it falls, mm.
        length_mm: f64,
    },
    /// Places on the bed (mm, rising) and diameters there (mm), straight lines between, constant outside.
    Tabulated(Vec<[f64; 2]>),
}

impl WornWays {
    /// Change of diameter at a place on the bed, mm.
    #[must_use]
    pub fn diameter_mm(&self, bed_mm: f64) -> f64 {
        match self {
            Self::None => 0.0,
            Self::Exponential { worst_um, length_mm } => way_wear::exponential_mm(bed_mm, *worst_um, *length_mm),
            Self::Tabulated(table) => {
                let mut before: Option<[f64; 2]> = None;
                for &[place, value] in table {
                    if bed_mm <= place {
                        return match before {
                            Some([low, from]) if place > low => from + (value - from) * (bed_mm - low) / (place - low),
                            _ => value,
                        };
                    }
                    before = Some([place, value]);
                }
                before.map_or(0.0, |[_, value]| value)
            }
        }
    }

    /// A smooth curve of worn ways drawn at all places on the bed where anything is read.
    ///
    /// Gaussian process with Matérn covariance of order 5/2 over the prior's length, standard deviation that of the prior at the chuck face, falling as
    /// `e^(−Z/4ℓ)`; its mean and straight part over the places of the diameters are taken out, since they count as yaw and twist.
    #[must_use]
    pub fn drawn(trial: &Trial, scale: f64, chance: &mut Chance) -> Self {
        let distinct = |mut places: Vec<f64>| {
            places.sort_by(f64::total_cmp);
            places.dedup_by(|a, b| (*a - *b).abs() < 1e-6);
            places
        };
        let tested = distinct(trial.diameters.iter().map(|reading| reading.station_mm - reading.tool_shift_mm).collect());
        let mut places = tested.clone();
        places.extend(trial.levels.iter().map(|reading| reading.station_mm));
        places.extend(trial.indicator.iter().map(|reading| reading.station_mm));
        let places = distinct(places);
        let (length, sd_mm) = (trial.prior.way_wear_length_mm, scale * trial.prior.way_wear_um / 1000.0);
        if tested.len() < 3 || length <= 0.0 || sd_mm <= 0.0 {
            return Self::None;
        }
        let covariance = |a: f64, b: f64| {
            let distance = 5f64.sqrt() * (a - b).abs() / length;
            let fall = (-(a.max(0.0) + b.max(0.0)) / (4.0 * length)).exp();
            sd_mm * sd_mm * fall * (1.0 + distance + distance * distance / 3.0) * (-distance).exp()
        };
        let size = places.len();
        let matrix = DMatrix::from_fn(size, size, |i, j| match (places.get(i), places.get(j)) {
            (Some(a), Some(b)) => covariance(*a, *b) + if i == j { 1e-9 * sd_mm * sd_mm } else { 0.0 },
            _ => 0.0,
        });
        let Some(factor) = matrix.cholesky() else { return Self::None };
        let curve = factor.l() * DVector::from_fn(size, |_, _| chance.normal());
        let mut table: Vec<[f64; 2]> = places.iter().copied().zip(curve.iter().copied()).map(|(place, mm)| [place, mm]).collect();
        let on_bar: Vec<[f64; 2]> = table.iter().copied().filter(|[place, _]| tested.iter().any(|z| (z - place).abs() < 1e-6)).collect();
        let count = on_bar.len() as f64;
        let mean = |column: usize| on_bar.iter().filter_map(|row| row.get(column)).sum::<f64>() / count;
        let (place_mean, mm_mean) = (mean(0), mean(1));
        let squares: f64 = on_bar.iter().map(|[place, _]| (place - place_mean).powi(2)).sum();
        let slope = on_bar.iter().map(|[place, mm]| (place - place_mean) * (mm - mm_mean)).sum::<f64>() / squares;
        for [place, mm] in &mut table {
            *mm -= mm_mean + slope * (*place - place_mean);
        }
        Self::Tabulated(table)
    }
}
