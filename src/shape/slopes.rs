//! Whose slope a reading follows in the fits that the residual checks stand on.

use super::cut::{Cut, Pass};
use super::pooled::pooled_fit;
use crate::statistics::FTest;
use crate::trial::Direction;

/// Level below which passes count as having unlike slopes (common practice, no source).
const LEVEL: f64 = 0.05;

/// One slope for all passes, one a direction of cut, or one a pass.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Slopes {
    /// All passes of one direction share a slope.
    ByDirection,
    /// Each pass has its own: what the spread between passes makes is then not found again by every check.
    ByPass,
}

impl Slopes {
    /// Number of slopes.
    pub fn count(self, cut: &Cut<'_>) -> usize {
        match self {
            Self::ByDirection => directions(cut).len(),
            Self::ByPass => cut.finishing.len(),
        }
    }

    /// Which of them each pass follows, in cutting order.
    pub fn followed(self, cut: &Cut<'_>) -> Vec<usize> {
        let directions = directions(cut);
        let slot = |(index, pass): (usize, &Pass)| match self {
            Self::ByDirection => directions.iter().position(|&d| d == pass.direction).unwrap_or(0),
            Self::ByPass => index,
        };
        cut.finishing.iter().enumerate().map(slot).collect()
    }
}

/// By pass where an F test of unlike slopes within the directions has p below 0.05, else by direction.
///
/// The fit of order 2 (1 with fewer than four stations) with a slope a direction is compared with that with a slope a pass, against the
/// scatter within passes. A pass with one station has no slope: then, and without degrees of freedom, it is by direction.
pub(super) fn slopes_of(cut: &Cut<'_>) -> Slopes {
    let order = if cut.stations.len() > 3 { 2 } else { 1 };
    let test = pooled_fit(cut, order, Slopes::ByDirection)
        .zip(pooled_fit(cut, order, Slopes::ByPass))
        .and_then(|(few, many)| FTest::of(few.residual_square - many.residual_square, few.dof - many.dof, many.residual_square, many.dof));
    if test.is_some_and(|t| t.p < LEVEL) { Slopes::ByPass } else { Slopes::ByDirection }
}

/// Directions of which a pass has two stations; the others have no slope, and the levels of their passes take up all they say.
fn directions(cut: &Cut<'_>) -> Vec<Direction> {
    let mut directions: Vec<Direction> = cut.finishing.iter().filter(|pass| cut.has_two_places(pass)).map(|p| p.direction).collect();
    directions.sort();
    directions.dedup();
    directions
}
