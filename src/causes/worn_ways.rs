//! A smooth curve of worn ways, by place on the bed, with its straight part taken out.
//!
//! The curve is a Gaussian process: Matérn covariance of order 5/2 (a penalty on roughness) over `way_wear_length_mm`, standard deviation
//! `way_wear_um` at the chuck face falling slowly towards the tailstock as `e^(−Z/4ℓ)`, since ways wear most where most is turned. Constant and
//! straight part over the tested places cannot be told from yaw and twist, so they are taken out of the curve and count as yaw
//! and twist: worn ways never take slope from them. What is left is spanned by a few principal curves.

use nalgebra::DMatrix;

/// At most this many principal curves.
const MOST_CURVES: usize = 6;
/// Places at most; between them the curve is interpolated.
const MOST_PLACES: usize = 64;

/// Principal curves over places on the bed, mm of diameter per standard deviation of their weight.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct WornWays {
    places: Vec<f64>,
    /// Curve-major.
    curves: Vec<Vec<f64>>,
}

/// The curves for diameters tested at `tested` (mm on the bed) that are also needed at `elsewhere` (levels, indicator).
///
/// `None` with fewer than three distinct tested places, or no wear to speak of: there is nothing but a straight line.
pub(super) fn worn_ways(tested: &[f64], elsewhere: &[f64], worst_um: f64, length_mm: f64) -> Option<WornWays> {
    let distinct = |values: &mut Vec<f64>| {
        values.sort_by(f64::total_cmp);
        values.dedup_by(|a, b| (*a - *b).abs() < 1e-6);
    };
    let mut tested = tested.to_vec();
    distinct(&mut tested);
    let mut places: Vec<f64> = tested.iter().chain(elsewhere).copied().collect();
    distinct(&mut places);
    if tested.len() < 3 || worst_um <= 0.0 || length_mm <= 0.0 {
        return None;
    }
    if places.len() > MOST_PLACES {
        let (first, last) = (places[0], places[places.len() - 1]);
        places = (0..MOST_PLACES).map(|i| first + (last - first) * i as f64 / (MOST_PLACES - 1) as f64).collect();
        let (from, to) = (tested[0], tested[tested.len() - 1]);
        tested = places.iter().copied().filter(|z| (from..=to).contains(z)).collect();
        if tested.len() < 3 {
            return None;
        }
    }
    let n = places.len();
    let covariance = DMatrix::from_fn(n, n, |a, b| {
        let distance = 5.0_f64.sqrt() * (places[a] - places[b]).abs() / length_mm;
        let fall = (-(places[a].max(0.0) + places[b].max(0.0)) / (4.0 * length_mm)).exp();
        (worst_um / 1000.0).powi(2) * fall * (1.0 + distance + distance * distance / 3.0) * (-distance).exp()
    });
    // Residual from the least-squares line over the tested places: R = I − X(X_tᵀX_t)⁻¹X_tᵀS, S picking the tested ones.
    let mean = tested.iter().sum::<f64>() / tested.len() as f64;
    let squares: f64 = tested.iter().map(|z| (z - mean).powi(2)).sum();
    let residual = DMatrix::from_fn(n, n, |a, b| {
        let line = if tested.iter().any(|z| (z - places[b]).abs() < 1e-6) {
            1.0 / tested.len() as f64 + (places[a] - mean) * (places[b] - mean) / squares
        } else {
            0.0
        };
        f64::from(u8::from(a == b)) - line
    });
    let left = &residual * covariance * residual.transpose();
    let left = (&left + left.transpose()) * 0.5;
    let eigen = left.symmetric_eigen();
    let mut order: Vec<usize> = (0..n).collect();
    order.sort_by(|a, b| eigen.eigenvalues[*b].total_cmp(&eigen.eigenvalues[*a]));
    let largest = eigen.eigenvalues[order[0]];
    let curves: Vec<Vec<f64>> = order
        .into_iter()
        .take(MOST_CURVES)
        .filter(|c| eigen.eigenvalues[*c] > 1e-4 * largest)
        .map(|c| {
            let column = eigen.eigenvectors.column(c);
            // A sign that does not depend on the eigenvalue routine: the largest entry is positive.
            let sign = column.iter().copied().fold(0.0_f64, |m, v| if v.abs() > m.abs() + 1e-9 { v } else { m }).signum();
            column.iter().map(|v| sign * v * eigen.eigenvalues[c].sqrt()).collect()
        })
        .collect();
    (!curves.is_empty()).then_some(WornWays { places, curves })
}

impl WornWays {
    /// Number of principal curves.
    pub(super) fn len(&self) -> usize {
        self.curves.len()
    }

    /// Value of a curve at a place on the bed, mm of diameter; between places by straight lines, beyond them the last value.
    pub(super) fn value(&self, curve: usize, bed_mm: f64) -> f64 {
        let values = &self.curves[curve];
        let above = self.places.partition_point(|z| *z < bed_mm);
        if above == 0 {
            return values[0];
        }
        if above == self.places.len() {
            return values[above - 1];
        }
        let share = (bed_mm - self.places[above - 1]) / (self.places[above] - self.places[above - 1]);
        values[above - 1] + share * (values[above] - values[above - 1])
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn curves_have_no_straight_part_over_the_tested_places() {
        let tested: Vec<f64> = (0..12).map(|i| 10.0 + 20.0 * i as f64).collect();
        let ways = worn_ways(&tested, &[400.0, 600.0], 10.0, 150.0).unwrap();
        assert!(ways.len() >= 3);
        for c in 0..ways.len() {
            let curve: Vec<f64> = tested.iter().map(|z| ways.value(c, *z)).collect();
            let difference = crate::physics::way_wear::straight_end_difference(&tested, &curve).unwrap();
            assert!(difference.abs() < 1e-9, "curve {c}: {difference}");
            assert!(curve.iter().sum::<f64>().abs() < 1e-9);
        }
    }

    /// Of 20 µm·e^(−z/80), 17.5 µm of end difference is straight (over 220 mm), so only the rest can be seen here.
    #[test]
    fn two_places_leave_nothing() {
        assert_eq!(worn_ways(&[10.0, 200.0, 10.0], &[], 10.0, 150.0), None);
        assert_eq!(worn_ways(&[10.0, 200.0, 10.0], &[400.0, 600.0], 10.0, 150.0), None);
        // three places leave one way to depart from a line
        assert_eq!(worn_ways(&[10.0, 100.0, 200.0], &[], 10.0, 150.0).unwrap().len(), 1);
        assert_eq!(worn_ways(&[10.0, 100.0, 200.0], &[], -10.0, 150.0), None);
    }

    /// Covariance of what is left at two places when the line through the tested ones is taken off, by its definition: Matérn 5/2 with the scale that
    /// falls along the bed, and `f(z) − Σ wₜ(z)·f(t)` with the weights of a least-squares line.
    fn left(tested: &[f64], a: f64, b: f64, worst_mm: f64, length: f64) -> f64 {
        let covariance = |p: f64, q: f64| {
            let r = 5f64.sqrt() * (p - q).abs() / length;
            let scale = |z: f64| worst_mm * (-z.max(0.0) / (4.0 * length)).exp();
            scale(p) * scale(q) * (1.0 + r + r * r / 3.0) * (-r).exp()
        };
        let mean = tested.iter().sum::<f64>() / tested.len() as f64;
        let squares: f64 = tested.iter().map(|t| (t - mean).powi(2)).sum();
        let weights = |z: f64| -> Vec<(f64, f64)> {
            let line = tested.iter().map(|t| (*t, -1.0 / tested.len() as f64 - (z - mean) * (t - mean) / squares));
            std::iter::once((z, 1.0)).chain(line).collect()
        };
        weights(a).iter().map(|(p, v)| weights(b).iter().map(|(q, w)| v * w * covariance(*p, *q)).sum::<f64>()).sum()
    }

    fn spanned(ways: &WornWays, a: f64, b: f64) -> f64 {
        (0..ways.len()).map(|c| ways.value(c, a) * ways.value(c, b)).sum()
    }

    #[test]
    fn curves_span_the_covariance_that_the_line_leaves() {
        let tested = [-30.0, 60.0, 170.0, 200.0];
        let ways = worn_ways(&tested, &[320.0, 500.0], 12.0, 90.0).unwrap();
        for a in [-30.0, 60.0, 170.0, 320.0, 500.0] {
            for b in [-30.0, 200.0, 500.0] {
                let (found, expected) = (spanned(&ways, a, b), left(&tested, a, b, 0.012, 90.0));
                assert!((found - expected).abs() < 1e-9, "{a} {b}: {found} {expected}");
            }
        }
        let top = |c: usize| {
            [-30.0, 60.0, 170.0, 200.0, 320.0, 500.0]
                .map(|z| ways.value(c, z))
                .into_iter()
                .fold(0.0_f64, |m, v| if v.abs() > m.abs() { v } else { m })
        };
        assert!((0..ways.len()).all(|c| top(c) > 0.0), "the largest entry is positive");
        assert!(worn_ways(&tested, &[], 0.0, 90.0).is_none() && worn_ways(&tested, &[], 12.0, 0.0).is_none());
    }

    #[test]
    fn between_places_lines_and_beyond_them_the_last_value() {
        let ways = worn_ways(&[0.0, 100.0, 200.0], &[], 10.0, 150.0).unwrap();
        let at = |z: f64| ways.value(0, z);
        assert!((at(25.0) - 0.75 * at(0.0) - 0.25 * at(100.0)).abs() < 1e-12 && (at(150.0) - 0.5 * (at(100.0) + at(200.0))).abs() < 1e-12);
        assert!((at(-50.0) - at(0.0)).abs() < 1e-15 && (at(900.0) - at(200.0)).abs() < 1e-15);
    }

    /// Sixty-four places are kept as they are, and of more those that lie within the tested length take the part of the tested ones: three at least.
    #[test]
    fn as_many_places_as_are_kept() {
        let uneven: Vec<f64> = (0..64).map(|i| 0.1 * f64::from(i * i)).collect();
        let ways = worn_ways(&uneven, &[], 10.0, 150.0).unwrap();
        for c in 0..ways.len() {
            let curve: Vec<f64> = uneven.iter().map(|z| ways.value(c, *z)).collect();
            assert!(curve.iter().sum::<f64>().abs() < 1e-9, "curve {c}");
        }
        let elsewhere: Vec<f64> = (1..=70).map(|i| 90.0 * f64::from(i)).collect();
        // the grid's step is 100 mm
        assert!(worn_ways(&[0.0, 90.0, 210.0], &elsewhere, 10.0, 150.0).is_some());
        assert!(worn_ways(&[0.0, 90.0, 190.0], &elsewhere, 10.0, 150.0).is_none());
    }

    /// Of many places 64 are kept; six curves hold all but little of what is left there.
    #[test]
    fn many_places_are_thinned_evenly() {
        let all: Vec<f64> = (0..300).map(|i| 20.0 + f64::from(i)).collect();
        let ways = worn_ways(&all, &[450.0], 10.0, 150.0).unwrap();
        assert_eq!(ways.len(), MOST_CURVES);
        let kept: Vec<f64> = (0..64).map(|i| 20.0 + 430.0 * f64::from(i) / 63.0).collect();
        let tested: Vec<f64> = kept.iter().copied().filter(|z| *z <= 319.0).collect();
        for z in [kept[0], kept[20], kept[43], kept[63]] {
            let (found, expected) = (spanned(&ways, z, z), left(&tested, z, z, 0.010, 150.0));
            assert!(found <= expected * (1.0 + 1e-9) && found > 0.97 * expected, "{z}: {found} {expected}");
        }
    }
}
