//! How far to move: the move after which no further cut is most likely to be needed.

use super::values::Expected;
use super::window::Window;
use crate::statistics::distributions::normal_sf;
use crate::statistics::minimum;

/// Parts into which the range of a move is divided to find the neighbourhood of the best.
const GRID: u32 = 40;
/// Draws over which the neighbourhood is looked for, at least.
const GRID_DRAWS: usize = 256;

/// Part of a step to which the best move is found before the whole steps beside it are compared.
const OF_A_STEP: f64 = 0.05;

/// A window with the taper in every draw, now.
#[derive(Debug, Clone, Copy)]
pub(super) struct Aim<'a> {
    /// What is allowed.
    pub(super) window: Window,
    /// Taper now, mm, one entry a draw.
    pub(super) taper_mm: &'a [f64],
    /// Taper that one unit of the move adds, mm.
    pub(super) per_unit_mm: &'a [f64],
    /// Standard uncertainty of the taper that draws do not carry, mm.
    pub(super) unseen_mm: f64,
    /// Standard uncertainty of the taper when it is measured again, mm.
    pub(super) measured_u_mm: f64,
}

/// Probability that a normal with mean `value` and standard deviation `sd` lies above `bound`.
fn above(value: f64, bound: f64, sd: f64) -> f64 {
    if sd > 0.0 { normal_sf((bound - value) / sd).unwrap_or(0.0) } else { f64::from(u8::from(value > bound)) }
}

impl Aim<'_> {
    fn after(&self, units: f64) -> impl Iterator<Item = f64> + '_ {
        self.taper_mm.iter().zip(self.per_unit_mm).map(move |(taper, unit)| taper + unit * units)
    }

    fn mean(&self, units: f64, f: impl Fn(f64) -> f64) -> f64 {
        self.after(units).map(f).sum::<f64>() / self.taper_mm.len().max(1) as f64
    }

    /// Probability that the taper conforms after a move of `units`.
    pub(super) fn inside(&self, units: f64) -> f64 {
        let Window { low_mm, high_mm, .. } = self.window;
        let outside = self.mean(units, |t| above(t, high_mm, self.unseen_mm) + above(-t, -low_mm, self.unseen_mm));
        (1.0 - outside).clamp(0.0, 1.0)
    }

    /// Probability that a move of `units` goes too far: the taper leaves the window on the side to which it was moved.
    pub(super) fn beyond(&self, units: f64) -> f64 {
        let Window { low_mm, high_mm, .. } = self.window;
        let up = self.per_unit_mm.iter().sum::<f64>() * units > 0.0;
        self.mean(units, |t| if up { above(t, high_mm, self.unseen_mm) } else { above(-t, -low_mm, self.unseen_mm) }).clamp(0.0, 1.0)
    }

    /// Mean and standard uncertainty of the taper after a move of `units`.
    pub(super) fn expected(&self, units: f64) -> Expected {
        let mean = self.mean(units, |t| t);
        let variance = self.mean(units, |t| (t - mean).powi(2)) + self.unseen_mm.powi(2);
        Expected { value: mean, standard_uncertainty: variance.sqrt() }
    }

    /// Chance that the next measurement reads outside the window after a move of `units`, over every `every`-th draw: another cut would be needed.
    ///
    /// Mean over draws of the two tails of a normal about the taper with the variance of what is unseen and of the next measurement; a
    /// sum of tails, so that it still tells good moves from better ones where the chance of conforming is 1 to all digits.
    fn another_cut(&self, units: f64, every: usize) -> f64 {
        let sd = self.unseen_mm.hypot(self.measured_u_mm).max(1e-7);
        let Window { low_mm, high_mm, .. } = self.window;
        let tails = |t: f64| {
            let [far, near] = if t > 0.0 { [(t, high_mm), (-t, -low_mm)] } else { [(-t, -low_mm), (t, high_mm)] };
            let most = above(far.0, far.1, sd);
            // Beside a whole 1 the other tail is below the last place.
            if most == 1.0 { most } else { most + above(near.0, near.1, sd) }
        };
        let draws = self.taper_mm.len().div_ceil(every);
        self.after(units).step_by(every).map(tails).sum::<f64>() / draws.max(1) as f64
    }

    /// The move, in units between `least` and `most`, with the smallest chance of another cut; a whole number of `step` where there is one.
    ///
    /// A coarse grid over a part of the draws finds the neighbourhood (the chance need not have one minimum only), Brent's method over all
    /// of them the place: to a ten-thousandth of the range, or to a twentieth of a step.
    pub(super) fn best(&self, least: f64, most: f64, step: Option<f64>) -> f64 {
        if !(least.is_finite() && most.is_finite() && most > least) {
            return 0.0;
        }
        let step = step.filter(|s| *s > 0.0);
        let width = (most - least) / f64::from(GRID);
        let every = (self.taper_mm.len() / GRID_DRAWS).max(1);
        let mut place = (f64::INFINITY, 0.0);
        for i in 0..=GRID {
            let units = least + width * f64::from(i);
            let chance = self.another_cut(units, every);
            if chance < place.0 {
                place = (chance, units);
            }
        }
        let chance = |units: f64| self.another_cut(units, 1);
        let (low, high) = ((place.1 - width).max(least), (place.1 + width).min(most));
        let tolerance = (0.5e-4 * (most - least)).max(step.map_or(0.0, |step| OF_A_STEP * step));
        let best = minimum(chance, low, high, place.1, tolerance);
        let Some(step) = step else { return best };
        let allowed = |k: &f64| k * step >= least - 0.5 * step && k * step <= most + 0.5 * step;
        let whole = [(best / step).floor(), (best / step).ceil()].into_iter().filter(allowed).map(|k| (chance(k * step), k));
        whole.min_by(|a, b| a.0.total_cmp(&b.0)).map_or(0.0, |(_, k)| k * step)
    }

    /// Moves that would bring each draw to `target_mm` exactly; draws that no move changes are left out.
    pub(super) fn needed(&self, target_mm: f64) -> Vec<f64> {
        let pairs = self.taper_mm.iter().zip(self.per_unit_mm).filter(|(_, unit)| unit.abs() > 1e-12);
        pairs.map(|(taper, unit)| (target_mm - taper) / unit).collect()
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    const WINDOW: Window = Window { low_mm: -0.0133, high_mm: 0.0133, assumed: false };

    fn aim<'a>(taper_mm: &'a [f64], per_unit_mm: &'a [f64]) -> Aim<'a> {
        Aim { window: WINDOW, taper_mm, per_unit_mm, unseen_mm: 0.001, measured_u_mm: 0.001 }
    }

    /// Known taper, known effect: the move that makes the bar parallel, whatever its sign.
    #[test]
    fn without_doubt_the_bar_becomes_parallel() {
        let (taper, unit) = ([0.040; 8], [-0.1; 8]);
        let sure = aim(&taper, &unit);
        assert!((sure.best(-1.0, 1.0, None) - 0.4).abs() < 1e-3);
        assert!((sure.best(-1.0, 1.0, Some(0.15)) - 0.45).abs() < 1e-12);
        assert!(sure.inside(0.4) > 0.999_999 && sure.inside(0.0) < 1e-6);
        assert!((sure.expected(0.4).value).abs() < 1e-12 && (sure.expected(0.4).standard_uncertainty - 0.001).abs() < 1e-12);
        assert!(sure.beyond(0.4) < 1e-9 && sure.beyond(0.8) > 0.999);
        // A one-sided window is aimed at its middle.
        let one_sided = Aim { window: Window { low_mm: -0.013, high_mm: 0.005, assumed: false }, ..sure };
        assert!((one_sided.expected(one_sided.best(-1.0, 1.0, None)).value + 0.004).abs() < 1e-4);
    }

    /// Unknown effect, log-normal: among all moves none has a larger chance to conform, within what the next measurement blurs.
    #[test]
    fn in_doubt_the_chance_of_conforming_is_the_largest() {
        let gain: Vec<f64> = (0..999)
            .map(|i| 0.8 * 1.5_f64.powf(crate::statistics::distributions::normal_quantile((f64::from(i) + 0.5) / 999.0).unwrap()))
            .collect();
        let unit: Vec<f64> = gain.iter().map(|g| -0.1 * g).collect();
        let taper = vec![0.045; 999];
        let doubtful = aim(&taper, &unit);
        let best = doubtful.best(0.0, 3.0, None);
        let reached = doubtful.inside(best);
        for i in 0..300 {
            assert!(doubtful.inside(0.01 * f64::from(i)) < reached + 0.01);
        }
        // The mean would be brought to zero by a smaller move than the median: mean error alone is not the aim.
        let mean_gain = gain.iter().sum::<f64>() / 999.0;
        assert!((best - 0.45 / mean_gain).abs() > 0.01, "{best}");
        // Undershoot and overshoot together are what is not inside.
        assert!(doubtful.beyond(best) < 1.0 - reached);
    }

    /// Looking over a part of the draws first misses nothing: the move is as good as the best of a fine search over all of them, and a chance
    /// with two minima ends in the lower one.
    #[test]
    fn a_part_of_the_draws_finds_the_neighbourhood() {
        let n = 4096;
        let taper: Vec<f64> = (0..n).map(|i| 0.045 + 0.004 * ((f64::from(i) * 0.618).fract() - 0.5)).collect();
        // Two fifths of the draws move three times as far.
        let unit: Vec<f64> = (0..n).map(|i| if (f64::from(i) * 0.414).fract() < 0.4 { -0.3 } else { -0.1 }).collect();
        let split = aim(&taper, &unit);
        let best = split.another_cut(split.best(0.0, 1.0, None), 1);
        let searched = (0..=2000).map(|i| split.another_cut(f64::from(i) / 2000.0, 1)).fold(f64::INFINITY, f64::min);
        assert!(best < searched + 1e-4, "{best} {searched}");
        assert!(split.another_cut(0.15, 1) > searched + 1e-2, "the other minimum is told apart");
    }
}
