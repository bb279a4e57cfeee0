//! The place of a minimum along a line.

/// Golden section's share: `(3 − √5)/2`.
const GOLDEN: f64 = 0.381_966_011_250_105_1;
/// Places tried at most: golden section alone narrows by `0.618⁸⁰ = 2·10⁻¹⁷`.
const MOST_PLACES: usize = 80;

/// A place between `low` and `high` where `f` has a minimum, to `tolerance`, looked for from `start` on.
///
/// R. P. Brent (1973), chapter 5: the minimum of a parabola through the three best places
/// where that lies within the bracket and the steps shrink, golden section where not. One of the minima where there are several; an end
/// of the bracket, to the tolerance, where there is none between. Places at which `f` is not a number count as worse than any other.
///
/// ```
/// # use taperwright::statistics::minimum;
/// let place = minimum(|x| (x - 2.0) * (x - 2.0), 0.0, 5.0, 1.0, 1e-6);
/// assert!((place - 2.0).abs() < 1e-6);
/// ```
pub fn minimum(mut f: impl FnMut(f64) -> f64, low: f64, high: f64, start: f64, tolerance: f64) -> f64 {
    let (mut low, mut high) = (low, high);
    let tolerance = tolerance.max(f64::EPSILON * low.abs().max(high.abs()));
    let mut value = |x: f64| Some(f(x)).filter(|v| !v.is_nan()).unwrap_or(f64::INFINITY);
    // The best place, the second best, and the second best before that.
    let mut best = (start, value(start));
    let (mut second, mut third) = (best, best);
    let (mut step, mut step_before) = (0.0_f64, 0.0_f64);
    for _ in 0..MOST_PLACES {
        let middle = 0.5 * (low + high);
        if (best.0 - middle).abs() <= 2.0 * tolerance - 0.5 * (high - low) {
            break;
        }
        let parabola = parabola_step(best, second, third).filter(|along| {
            let to = best.0 + along;
            along.abs() < 0.5 * step_before.abs() && to > low && to < high
        });
        (step_before, step) = match parabola {
            Some(along) if best.0 + along - low < 2.0 * tolerance || high - best.0 - along < 2.0 * tolerance => {
                (step, tolerance.copysign(middle - best.0))
            }
            Some(along) => (step, along),
            None => {
                let longer = if best.0 < middle { high - best.0 } else { low - best.0 };
                (longer, GOLDEN * longer)
            }
        };
        let place = best.0 + if step.abs() >= tolerance { step } else { tolerance.copysign(step) };
        let tried = (place, value(place));
        if tried.1 <= best.1 {
            *(if tried.0 >= best.0 { &mut low } else { &mut high }) = best.0;
            (third, second, best) = (second, best, tried);
        } else {
            *(if tried.0 < best.0 { &mut low } else { &mut high }) = tried.0;
            if tried.1 <= second.1 || second.0 == best.0 {
                (third, second) = (second, tried);
            } else if tried.1 <= third.1 || third.0 == best.0 || third.0 == second.0 {
                third = tried;
            }
        }
    }
    best.0
}

/// From the best place to the lowest of the parabola through three; `None` where they have none.
fn parabola_step(best: (f64, f64), second: (f64, f64), third: (f64, f64)) -> Option<f64> {
    let r = (best.0 - second.0) * (best.1 - third.1);
    let q = (best.0 - third.0) * (best.1 - second.1);
    let numerator = (best.0 - third.0) * q - (best.0 - second.0) * r;
    let denominator = 2.0 * (q - r);
    let along = -numerator / denominator;
    along.is_finite().then_some(along)
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Functions whose minima are known in closed form, with places tried: far fewer than by golden section (some 30 for 1e-6).
    #[test]
    fn known_minima_are_found() {
        type Case = (fn(f64) -> f64, f64, f64, f64, f64);
        let cases: [Case; 5] = [
            // x − ln x at 1; x⁴ − 2x² + x/4 has its lower minimum at the least root of 4x³ − 4x + 1/4 (numpy.roots: −1.02989599)
            (|x| x - x.ln(), 0.1, 5.0, 3.0, 1.0),
            (|x| x.powi(4) - 2.0 * x * x + 0.25 * x, -2.0, 0.0, -0.5, -1.029_895_99),
            (|x| (x - 0.3).abs(), -1.0, 1.0, 0.9, 0.3),
            (|x| -(-(x - 7.0) * (x - 7.0)).exp(), 5.0, 10.0, 6.0, 7.0),
            (f64::cos, 0.0, 6.0, 1.0, std::f64::consts::PI),
        ];
        for (f, low, high, start, expected) in cases {
            let mut tried = 0;
            let found = minimum(
                |x| {
                    tried += 1;
                    f(x)
                },
                low,
                high,
                start,
                1e-6,
            );
            assert!((found - expected).abs() < 4e-6, "{found} {expected}");
            assert!((found + 1e-5 - expected).abs() > 4e-6, "a hundred-thousandth is told apart");
            assert!(tried < 30, "{tried}");
            assert!((minimum(f, low, high, start, 0.1) - expected).abs() < 0.3, "{expected}");
        }
    }

    /// A slope without a minimum ends at the bracket's lower side; a level one anywhere in it; what is no number is left alone.
    #[test]
    fn brackets_without_a_minimum_end_at_their_lower_side() {
        assert!((minimum(|x| x, 1.0, 2.0, 1.7, 1e-4) - 1.0).abs() < 3e-4);
        assert!((minimum(|x| -x, 1.0, 2.0, 1.2, 1e-4) - 2.0).abs() < 3e-4);
        let level = minimum(|_| 3.0, 1.0, 2.0, 1.2, 1e-4);
        assert!((1.0..=2.0).contains(&level));
        let half = minimum(|x| if x > 0.5 { f64::NAN } else { (x - 0.4) * (x - 0.4) }, 0.0, 1.0, 0.2, 1e-5);
        assert!((half - 0.4).abs() < 1e-4, "{half}");
    }
}
