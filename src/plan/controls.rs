//! What of a simulated log's errors decides the fit's uncertainty, measured against what is expected of it.

use crate::statistics::{LegendreRange, least_squares};
use crate::trial::Direction;
use nalgebra::{DMatrix, DVector};

/// Logs from which the squares of the controls are used beside the controls themselves.
const ENOUGH_FOR_SQUARES: usize = 32;

/// The errors of one pass about the straight bar, mm, and its stations, mm. A height common to a pass counts for nothing.
#[derive(Debug, Clone, PartialEq)]
pub struct PassErrors {
    /// Direction of the pass.
    pub direction: Direction,
    /// Stations, one a reading.
    pub stations_mm: Vec<f64>,
    /// Errors in the same order.
    pub errors_mm: Vec<f64>,
}

/// Control variates of one log: mean squares of its errors, each over its expectation, less 1. So each has the mean 0 over all logs.
///
/// Errors of a pass are parted into level, slope, bend and rest by the orthogonal polynomials of its stations. The controls are the mean square of the rest, and that of
/// the slopes and of the bends about their mean in each direction. With errors of variance `u²` and passes whose tapers differ by `τ` over the tested length they are
/// expected to be `u²`, `u² + τ²Σx²/4` and `u²` (`x` from −1 to 1 along the stations, less its mean), and are near enough chi-square over their degrees of freedom. One without
/// degrees of freedom is left out.
#[derive(Debug, Clone, PartialEq)]
pub struct Controls {
    /// Each control with twice the inverse of its degrees of freedom: the expectation of its square.
    values: Vec<(f64, f64)>,
}

impl Controls {
    /// Controls of one log with errors of variance `variance_mm2` and tapers that differ by `between_pass_mm`; none where no reading errs.
    #[must_use]
    pub fn of(passes: &[PassErrors], variance_mm2: f64, between_pass_mm: f64) -> Self {
        let mut rest = (0.0, 0.0);
        // slope and bend of each pass, and what each slope is expected to vary by
        let mut terms: [Vec<(Direction, f64)>; 2] = [Vec::new(), Vec::new()];
        let mut slopes_vary = variance_mm2;
        for pass in passes {
            let Some(range) = LegendreRange::spanning(&pass.stations_mm) else { continue };
            let mut different = pass.stations_mm.clone();
            different.sort_by(f64::total_cmp);
            different.dedup();
            let columns = different.len().min(3);
            let basis = range.design(&pass.stations_mm, columns - 1).qr().q();
            let errors = DVector::from_column_slice(&pass.errors_mm);
            let parts = basis.transpose() * &errors;
            rest.0 += (&errors - &basis * &parts).norm_squared();
            rest.1 += (errors.len() - columns) as f64;
            for (own, part) in terms.iter_mut().zip(parts.iter().skip(1)) {
                own.push((pass.direction, *part));
            }
            let scaled: Vec<f64> = pass.stations_mm.iter().map(|z| range.scaled(*z)).collect();
            let mean = scaled.iter().sum::<f64>() / scaled.len() as f64;
            let square: f64 = scaled.iter().map(|x| (x - mean).powi(2)).sum();
            slopes_vary = variance_mm2 + 0.25 * between_pass_mm.powi(2) * square;
        }
        let [slopes, bends] = terms.map(|own| about_means(&own));
        let values = [(rest, variance_mm2), (slopes, slopes_vary), (bends, variance_mm2)]
            .into_iter()
            .filter(|((_, dof), expected)| *dof > 0.0 && *expected > 0.0)
            .map(|((square, dof), expected)| (square / dof / expected - 1.0, 2.0 / dof))
            .collect();
        Self { values }
    }
}

/// Sum of squares about the mean of each direction, and its degrees of freedom.
fn about_means(terms: &[(Direction, f64)]) -> (f64, f64) {
    [Direction::ToHeadstock, Direction::ToTailstock].into_iter().fold((0.0, 0.0), |(square, dof), direction| {
        let own: Vec<f64> = terms.iter().filter(|one| one.0 == direction).map(|one| one.1).collect();
        let mean = own.iter().sum::<f64>() / own.len().max(1) as f64;
        (square + own.iter().map(|term| (term - mean).powi(2)).sum::<f64>(), dof + own.len().saturating_sub(1) as f64)
    })
}

/// Mean over all logs and its standard error, from what some logs gave and their controls: the value at controls of 0 of a straight line through them
/// (Cochran, 1977, chapter 7: the regression estimator), with a term for the square of each control from `ENOUGH_FOR_SQUARES` logs up. Its bias is of the order of the inverse of the
/// number of logs times what the line leaves. The plain mean where nothing varies with the controls; `None` below two logs, or for what is not finite.
#[must_use]
pub fn controlled_mean(values: &[f64], controls: &[Controls]) -> Option<(f64, f64)> {
    let squares = values.len() >= ENOUGH_FOR_SQUARES;
    let count = controls.iter().map(|one| one.values.len()).min().unwrap_or(0);
    let columns = 1 + count * if squares { 2 } else { 1 };
    let design = DMatrix::from_fn(values.len(), columns, |row, column| {
        let control = |place: usize| controls.get(row).and_then(|one| one.values.get(place)).copied().unwrap_or((0.0, 0.0));
        match column {
            0 => 1.0,
            _ if column <= count => control(column - 1).0,
            _ => {
                let (value, expected) = control(column - 1 - count);
                value * value - expected
            }
        }
    });
    let fit = least_squares(&design, values).ok()?;
    Some((fit.coefficient(0)?, fit.standard_error(0)?))
}

#[cfg(test)]
mod tests {
    use super::*;

    fn near(found: f64, wanted: f64) -> bool {
        (found - wanted).abs() < 1e-9
    }

    /// Two passes at −1, 0, 1, read twice. Errors of the first are `1 + 2x` with ±1 about it at each station, of the second `5` and nothing else. Slopes along
    /// `x/2` are 4 and 0: 8 about their mean with one degree of freedom; no bend; the rest is 6 with 6.
    #[test]
    fn controls_by_hand() {
        let stations_mm = vec![10.0, 10.0, 20.0, 20.0, 30.0, 30.0];
        let pass = |errors_mm: [f64; 6]| PassErrors {
            direction: Direction::ToHeadstock,
            stations_mm: stations_mm.clone(),
            errors_mm: errors_mm.to_vec(),
        };
        let passes = [pass([-2.0, 0.0, 0.0, 2.0, 2.0, 4.0]), pass([5.0; 6])];
        let found = Controls::of(&passes, 2.0, 0.0).values;
        let expected = [(6.0 / 6.0 / 2.0 - 1.0, 2.0 / 6.0), (8.0 / 2.0 - 1.0, 2.0), (-1.0, 2.0)];
        assert_eq!(found.len(), 3);
        for (one, other) in found.iter().zip(expected) {
            assert!(near(one.0, other.0) && near(one.1, other.1), "{found:?}");
        }
        // tapers that differ by 2 over the length add 1 to each slope per x, 4 to its square
        assert!(near(Controls::of(&passes, 2.0, 2.0).values[1].0, 8.0 / 6.0 - 1.0));
        // passes of unlike direction are not compared
        let turned = [passes[0].clone(), PassErrors { direction: Direction::ToTailstock, ..passes[1].clone() }];
        assert_eq!(Controls::of(&turned, 2.0, 0.0).values.len(), 1);
        assert!(Controls::of(&passes, 0.0, 0.0).values.is_empty());
    }

    /// Values on the line `7 + 3c` give 7 without error wherever the controls lie; their plain mean is 13.
    #[test]
    fn the_mean_is_that_at_controls_of_nothing() {
        let controls: Vec<Controls> = [1.0, 2.0, 3.0].map(|value| Controls { values: vec![(value, 0.5)] }).to_vec();
        let (mean, error) = controlled_mean(&[10.0, 13.0, 16.0], &controls).unwrap();
        assert!(near(mean, 7.0) && near(error, 0.0), "{mean} {error}");
        // without controls the plain mean: 13, and 3/√3
        let none = vec![Controls { values: Vec::new() }; 3];
        let (mean, error) = controlled_mean(&[10.0, 13.0, 16.0], &none).unwrap();
        assert!(near(mean, 13.0) && near(error, 3.0_f64.sqrt()), "{mean} {error}");
        assert_eq!(controlled_mean(&[f64::NAN, 1.0, 2.0], &none), None);
        // with 32 logs a square is seen too: `7 + c²` less its expectation of 0.5
        let values: Vec<f64> = (0..32).map(|place| f64::from(place) / 10.0).collect();
        let controls: Vec<Controls> = values.iter().map(|value| Controls { values: vec![(*value, 0.5)] }).collect();
        let squares: Vec<f64> = values.iter().map(|value| 7.0 + value * value).collect();
        assert!(near(controlled_mean(&squares, &controls).unwrap().0, 7.5));
    }
}
