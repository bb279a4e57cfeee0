//! Levels whose slope along the bed changes where the bar was turned: ways worn there would do that, and uniform twist cannot.

use super::material_threshold_um;
use crate::quantities::Told;
use crate::statistics::distributions::normal_sf;
use crate::trial::{LevelReading, Trial};
use nalgebra::{DMatrix, DVector};

/// Two-sided probability below which the change of slope is no chance.
const CHANCE: f64 = 0.01;

/// A change of slope in the levels of one setting.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct LevelBend {
    /// Slope of the roll over the part of the bed along which the bar was turned, (mm/m)/m.
    pub near_mm_per_m_per_m: f64,
    /// Slope beyond it, (mm/m)/m.
    pub far_mm_per_m_per_m: f64,
    /// Standard uncertainty of their difference, (mm/m)/m.
    pub standard_uncertainty: f64,
}

impl LevelBend {
    /// What the levels show, as a clause.
    #[must_use]
    pub fn words(&self) -> String {
        let way = |slope: f64| format!("{} by {}", if slope < 0.0 { "fall" } else { "rise" }, Told::twist(slope.abs()));
        format!(
            "the levels are no straight line: over the part where the bar was turned they {}, further on they {} (their difference is known to ±{}), as ways worn \
             near the headstock make them, or a bed twisted in one place",
            way(self.near_mm_per_m_per_m),
            way(self.far_mm_per_m_per_m),
            Told::twist(2.0 * self.standard_uncertainty)
        )
    }
}

/// The change of slope at `tested_to_mm` on the bed in the levels of `setting`; `None` where it may be chance, is too small to matter, or cannot be seen.
///
/// Least squares of `c ± z₀ + s·Z/1000 + Δ·(Z − Z_t)₊/1000` to the rolls less the second level's where there is one, with the data sheet's noise or the
/// residuals', whichever is larger. A bed that is twisted from foot to foot has `Δ = 0`. It counts where `Δ` lies beyond chance (two-sided 0.01, normal)
/// and the taper `2h|Δ|L/10⁶` that it makes over the tested length `L = tested_to_mm − tested_from_mm` is large enough to matter. The straight part of
/// worn ways cannot be told from twist by diameters, nor by levels over the tested part alone.
#[must_use]
pub fn level_bend(trial: &Trial, setting: u32, tested_from_mm: f64, tested_to_mm: f64) -> Option<LevelBend> {
    let own: Vec<&LevelReading> = trial.levels.iter().filter(|level| level.setting == setting).collect();
    let turned = own.iter().any(|l| l.reversed) && own.iter().any(|l| !l.reversed);
    let columns = if turned { 4 } else { 3 };
    if own.len() < columns {
        return None;
    }
    let design = DMatrix::from_fn(own.len(), columns, |row, column| {
        let z = own[row].station_mm;
        match column {
            0 => 1.0,
            1 => z / 1000.0,
            2 => (z - tested_to_mm).max(0.0) / 1000.0,
            _ => {
                if own[row].reversed {
                    -1.0
                } else {
                    1.0
                }
            }
        }
    });
    let roll = DVector::from_iterator(own.len(), own.iter().map(|l| l.roll_mm_per_m - l.reference_roll_mm_per_m.unwrap_or(0.0)));
    let normal = design.transpose() * &design;
    // places that do not tell the slopes apart: the columns, brought to one length, nearly depend on each other
    let length: Vec<f64> = (0..columns).map(|c| normal[(c, c)].sqrt()).collect();
    if length.iter().any(|l| *l <= 0.0) {
        return None;
    }
    let scaled = DMatrix::from_fn(columns, columns, |a, b| normal[(a, b)] / (length[a] * length[b]));
    if scaled.symmetric_eigenvalues().min() < 1e-6 {
        return None;
    }
    let inverse = normal.try_inverse()?;
    let fitted = &inverse * design.transpose() * &roll;
    let residual = &roll - &design * &fitted;
    let dof = own.len() - columns;
    let scatter = if dof > 0 { (residual.norm_squared() / dof as f64).sqrt() } else { 0.0 };
    let standard_uncertainty = scatter.max(trial.gauge.level.u_mm_per_m) * inverse[(2, 2)].max(0.0).sqrt();
    let change = fitted[2];
    if !(change.is_finite() && standard_uncertainty > 0.0) || 2.0 * normal_sf(change.abs() / standard_uncertainty)? > CHANCE {
        return None;
    }
    let taper_um = 2e-3 * trial.machine.roll_arm_mm * change.abs() * (tested_to_mm - tested_from_mm);
    let matters = taper_um > material_threshold_um(trial, tested_to_mm - tested_from_mm);
    matters.then_some(LevelBend { near_mm_per_m_per_m: fitted[1], far_mm_per_m_per_m: fitted[1] + change, standard_uncertainty })
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::causes::fixture;
    use crate::trial::{Holding, Limit, Quantity};

    /// Levels at these places, turned end for end at each, with a zero of 0.05 mm/m and this roll.
    fn levelled(places: &[f64], roll: impl Fn(f64) -> f64) -> Trial {
        let mut trial = fixture::bar(Holding::Chuck);
        trial.machine.roll_arm_mm = 150.0;
        trial.gauge.level.u_mm_per_m = 0.005;
        let one = |z: f64, reversed: bool| {
            let roll_mm_per_m = roll(z) + if reversed { -0.05 } else { 0.05 };
            LevelReading { station_mm: z, roll_mm_per_m, reversed, ..fixture::straight_levels()[0].clone() }
        };
        trial.levels = places.iter().flat_map(|z| [one(*z, false), one(*z, true)]).collect();
        trial
    }

    const PLACES: [f64; 8] = [0.0, 100.0, 200.0, 300.0, 400.0, 500.0, 600.0, 700.0];

    /// A kink at 200 mm of −0.3 to 0.1 (mm/m)/m is found as it is, with the error that a normal equation solved elsewhere gives.
    #[test]
    fn a_kink_is_found_with_its_slopes() {
        let found = level_bend(&levelled(&PLACES, |z| -0.3e-3 * z + 0.4e-3 * (z - 200.0).max(0.0)), 0, 10.0, 200.0).unwrap();
        assert!((found.near_mm_per_m_per_m + 0.3).abs() < 1e-9 && (found.far_mm_per_m_per_m - 0.1).abs() < 1e-9, "{found:?}");
        // 0.005 times the root of the third diagonal element, 28.965 517, of numpy.linalg.inv(X'X) (numpy 2)
        assert!((found.standard_uncertainty - 0.026_909_81).abs() < 1e-7, "{}", found.standard_uncertainty);
    }

    /// Ways worn by 25 µm·e^(−z/150) on the diameter roll the carriage by w/2h: levels over the whole bed show it, over the tested part they cannot.
    #[test]
    fn worn_ways_bend_the_levels_and_uniform_twist_does_not() {
        let worn = |z: f64| 25.0 * (-z / 150.0_f64).exp() / 300.0;
        let found = level_bend(&levelled(&PLACES, worn), 0, 10.0, 208.0).unwrap();
        assert!(found.near_mm_per_m_per_m < -0.2 && found.far_mm_per_m_per_m.abs() < 0.05, "{found:?}");
        assert_eq!(level_bend(&levelled(&PLACES[..3], worn), 0, 10.0, 208.0), None, "nothing lies beyond");
        assert_eq!(level_bend(&levelled(&PLACES, |z| 0.5e-3 * z), 0, 10.0, 208.0), None, "uniform twist");
        assert_eq!(level_bend(&levelled(&PLACES, |z| 0.03 * worn(z)), 0, 10.0, 208.0), None, "less than the level sees");
        assert_eq!(level_bend(&levelled(&PLACES, worn), 1, 10.0, 208.0), None, "another setting");
        let mut coarse = levelled(&PLACES, worn);
        coarse.gauge.level.u_mm_per_m = 0.1;
        assert_eq!(level_bend(&coarse, 0, 10.0, 208.0), None, "it may be chance");
    }

    /// Scatter beyond the data sheet's counts: deviations of 0.03 mm/m in this pattern leave 0.034 175 mm/m on 12 degrees of freedom, and 0.183 929 of the kink (numpy.linalg.lstsq).
    #[test]
    fn the_residuals_count_where_they_are_larger() {
        let mut scattered = levelled(&PLACES, |z| -0.3e-3 * z + 4e-3 * (z - 200.0).max(0.0));
        let signs = [1.0, -1.0, -1.0, 1.0, 1.0, 1.0, -1.0, -1.0];
        scattered.levels.iter_mut().enumerate().for_each(|(k, level)| level.roll_mm_per_m += 0.03 * signs[k % 8]);
        let found = level_bend(&scattered, 0, 10.0, 200.0).unwrap();
        assert!((found.standard_uncertainty - 0.183_928_59).abs() < 1e-6, "{found:?}");
        let change = found.far_mm_per_m_per_m - found.near_mm_per_m_per_m;
        assert!((change - 3.921_379).abs() < 1e-4, "{found:?}");
    }

    /// Not turned, as few places as there are unknowns, and a second level on the headstock that tilts with the carriage: the kink is the same.
    #[test]
    fn a_kink_is_found_without_turning_and_beside_a_second_level() {
        let roll = |z: f64| -0.3e-3 * z + 0.4e-3 * (z - 200.0).max(0.0);
        let mut plain = levelled(&[0.0, 200.0, 700.0], roll);
        plain.levels.retain(|level| !level.reversed);
        assert_eq!(plain.levels.len(), 3);
        let kink = |trial: &Trial| level_bend(trial, 0, 10.0, 200.0).map(|bend| bend.far_mm_per_m_per_m - bend.near_mm_per_m_per_m);
        assert!(kink(&plain).is_some_and(|change| (change - 0.4).abs() < 1e-9), "{:?}", kink(&plain));
        let mut tilting = levelled(&PLACES, roll);
        for level in &mut tilting.levels {
            let tilt = 0.1 - 0.2e-3 * (level.station_mm - 200.0).max(0.0);
            level.reference_roll_mm_per_m = Some(tilt);
            level.roll_mm_per_m += tilt;
        }
        assert!(kink(&tilting).is_some_and(|change| (change - 0.4).abs() < 1e-9), "{:?}", kink(&tilting));
        plain.levels.pop();
        assert_eq!(kink(&plain), None, "fewer than the unknowns");
    }

    fn taper_limit(limit_mm: f64, over_mm: f64) -> Limit {
        Limit { over_mm: Some(over_mm), ..Limit::either_way(Quantity::Taper, limit_mm) }
    }

    /// 2·150 mm·0.4 (mm/m)/m·190 mm are 22.8 µm of taper: it counts above 2u of one reading and above a fifth of the limit over that length.
    #[test]
    fn a_kink_counts_where_its_taper_matters() {
        let bent = |gauge_u_um: f64, limit_um: Option<f64>| {
            let mut trial = levelled(&PLACES, |z| -0.3e-3 * z + 0.4e-3 * (z - 200.0).max(0.0));
            trial.gauge.diameter.u_mm = gauge_u_um / 1000.0;
            trial.acceptance.limit = limit_um.map(|limit_um| taper_limit(limit_um / 1000.0, 190.0)).into_iter().collect();
            level_bend(&trial, 0, 10.0, 200.0).is_some()
        };
        assert!(bent(11.3, None) && !bent(11.5, None), "22.6 and 23.0 µm");
        assert!(bent(1.0, Some(113.0)) && !bent(1.0, Some(115.0)), "a fifth of 113 and of 115 µm");
    }

    /// Levels close together see a sharp kink as they see a long one, and a level of which nothing is known to be uncertain shows none.
    #[test]
    fn a_short_bed_is_judged_like_a_long_one() {
        let short: Vec<f64> = PLACES.iter().map(|z| z / 35.0).collect();
        let bent = |turned: bool, u_mm_per_m: f64| {
            let mut trial = levelled(&short, |z| 0.04 * (z - 10.0).max(0.0));
            trial.gauge.level.u_mm_per_m = u_mm_per_m;
            if !turned {
                trial.levels.retain(|level| !level.reversed && [0, 4, 7].map(|i| short[i]).contains(&level.station_mm));
            }
            level_bend(&trial, 0, 0.0, 10.0).map(|bend| bend.far_mm_per_m_per_m - bend.near_mm_per_m_per_m)
        };
        assert!(bent(true, 0.005).is_some_and(|change| (change - 40.0).abs() < 1e-6), "{:?}", bent(true, 0.005));
        assert!(bent(false, 0.005).is_some_and(|change| (change - 40.0).abs() < 1e-6), "{:?}", bent(false, 0.005));
        assert_eq!(bent(false, 0.0), None, "three readings and no data sheet leave no uncertainty");
    }

    /// All levels read one way have no zero to tell: as many as there are unknowns without it are enough, whichever way that is.
    #[test]
    fn levels_read_reversed_alone_are_not_turned() {
        let mut trial = levelled(&[0.0, 200.0, 700.0], |z| 0.4e-3 * (z - 200.0).max(0.0));
        trial.levels.retain(|level| level.reversed);
        let found = level_bend(&trial, 0, 10.0, 200.0).unwrap();
        assert!((found.far_mm_per_m_per_m - 0.4).abs() < 1e-9, "{found:?}");
    }
}
