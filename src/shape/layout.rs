//! Which slopes and bends the mixed model has, and the groups of readings that follow them.

use super::cut::{Cut, Pass};
use crate::statistics::mixed::{Coefficients, Group, Repeated, Terms, evaluate};
use crate::trial::Direction;
use nalgebra::Matrix2;

/// How the fixed coefficients are laid out.
pub(super) struct Layout {
    /// Directions of which a pass has a slope.
    pub directions: Vec<Direction>,
    /// Bends: none, one for all or one a direction.
    pub bends: usize,
    /// Columns of a pass: its slope, and its bend.
    pub columns: usize,
}

impl Layout {
    pub fn fixed(&self) -> usize {
        self.directions.len() + self.bends
    }

    pub fn terms(&self, direction: Direction) -> Option<Terms> {
        let place = self.directions.iter().position(|&d| d == direction)?;
        let mut terms = Terms::zeros();
        terms[(0, place)] = 1.0;
        match self.bends {
            0 => {}
            1 => terms[(1, self.directions.len())] = 1.0,
            _ => terms[(1, self.directions.len() + place)] = 1.0,
        }
        Some(terms)
    }

    pub fn slope(&self, direction: Option<usize>) -> Coefficients {
        let mut contrast = Coefficients::zeros();
        let count = self.directions.len();
        for place in 0..count {
            if direction.is_none_or(|d| d == place) {
                contrast[place] = if direction.is_some() { 1.0 } else { 1.0 / count as f64 };
            }
        }
        contrast
    }

    pub fn bend(&self) -> Coefficients {
        let mut contrast = Coefficients::zeros();
        for place in 0..self.bends {
            contrast[self.directions.len() + place] = 1.0 / self.bends as f64;
        }
        contrast
    }
}

/// The runs of a pass, diameters relative to the cut's origin.
fn rows(cut: &Cut<'_>, pass: &Pass, columns: usize) -> Vec<Repeated> {
    let sums = cut.sums();
    rows_of(cut, pass, columns, |run| (sums.mean(run), sums.square(run)))
}

/// The runs of a pass with whatever mean and squares about it; Legendre `P₁ = x`, `P₂ = (3x² − 1)/2`.
pub(super) fn rows_of(cut: &Cut<'_>, pass: &Pass, columns: usize, of: impl Fn(usize) -> (f64, f64)) -> Vec<Repeated> {
    let row = |run: usize| {
        let (place, weight, count) = (cut.place(run), cut.weight(run), cut.of_run(run).len() as f64);
        let bend = if columns > 1 { 1.5 * place.x * place.x - 0.5 } else { 0.0 };
        let (mean, square) = of(run);
        Repeated { z: [place.x, bend], mean, weight: weight * count, count, square: weight * square }
    };
    pass.runs.clone().map(row).collect()
}

/// Whether a pass has two stations: the square of its slope's column about its mean, in half lengths, is more than rounding leaves of one station.
pub(super) fn carries_slope(group: &Group) -> bool {
    group.gram[(0, 0)] > 1e-12
}

/// Groups of the passes whose direction can carry a slope; a bend per direction where each can, else one for all.
pub(super) fn lay_out(cut: &Cut<'_>, columns: usize) -> Option<(Layout, Vec<Direction>, Vec<Group>)> {
    let mut directions = Vec::new();
    let mut lost = Vec::new();
    let mut full_rank = true;
    for direction in [Direction::ToHeadstock, Direction::ToTailstock] {
        let mut sum: Option<Group> = None;
        let mut carried = false;
        for pass in cut.finishing.iter().filter(|p| p.direction == direction) {
            let group = Group::repeated(&rows(cut, pass, columns), Terms::zeros());
            carried = carried || carries_slope(&group);
            match &mut sum {
                Some(sum) => sum.gram += group.gram,
                None => sum = Some(group),
            }
        }
        let Some(sum) = sum else { continue };
        if carried {
            directions.push(direction);
            full_rank &= sum.own_coefficients().0 as usize >= columns;
        } else {
            lost.push(direction);
        }
    }
    if directions.is_empty() {
        return None;
    }
    let bends = match (columns, full_rank) {
        (1, _) => 0,
        (_, true) => directions.len(),
        (_, false) => 1,
    };
    let layout = Layout { directions, bends, columns };
    let groups: Vec<Group> = cut
        .finishing
        .iter()
        .filter_map(|pass| layout.terms(pass.direction).map(|terms| Group::repeated(&rows(cut, pass, columns), terms)))
        .collect();
    evaluate(&groups, layout.fixed(), &Matrix2::zeros())?;
    Some((layout, lost, groups))
}

/// Standard errors of one average pass's own slope and bend at `σ = 1`: roots of the diagonal of `(mean Z'WZ)⁻¹`.
pub(super) fn unit_errors(groups: &[Group], columns: usize) -> Option<[f64; 2]> {
    let carrying: Vec<&Group> = groups.iter().filter(|group| carries_slope(group)).collect();
    let mean = carrying.iter().fold(Matrix2::zeros(), |sum: Matrix2<f64>, g| sum + g.gram) / carrying.len().max(1) as f64;
    if columns < 2 {
        return Some([mean[(0, 0)].sqrt().recip(), 0.0]);
    }
    let inverse = mean.try_inverse()?;
    Some([inverse[(0, 0)].sqrt(), inverse[(1, 1)].sqrt()])
}
