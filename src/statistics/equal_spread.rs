//! Whether groups scatter alike.

use super::lack_of_fit::FTest;
use super::summary::median;
use super::variance_analysis::OneWay;

/// Brown & Forsythe's (1974) form of Levene's test: one-way analysis of `|x − median of its group|`.
///
/// Groups of fewer than two values are left out. `None` with fewer than two groups left, or where nothing scatters.
#[must_use]
pub fn brown_forsythe(groups: &[Vec<f64>]) -> Option<FTest> {
    let mut deviations = Vec::with_capacity(groups.len());
    for group in groups.iter().filter(|g| g.len() > 1) {
        let centre = median(group)?;
        deviations.push(group.iter().map(|v| (v - centre).abs()).collect());
    }
    OneWay::of(&deviations)?.test
}
