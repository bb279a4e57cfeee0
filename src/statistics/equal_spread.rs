//! Whether groups scatter alike.

use super::lack_of_fit::FTest;
use super::repeated::counted_median;
use super::variance_analysis::{GroupSums, OneWay};

/// Brown & Forsythe's (1974) form of Levene's test: one-way analysis of `|x − median of its group|`.
///
/// Groups of fewer than two values are left out. `None` with fewer than two groups left, or where nothing scatters.
#[must_use]
pub fn brown_forsythe(groups: &[Vec<f64>]) -> Option<FTest> {
    let mut spread = EqualSpread::default();
    groups.iter().for_each(|group| spread.add(&mut group.iter().map(|value| (*value, 1.0)).collect::<Vec<_>>()));
    spread.test()
}

/// [`brown_forsythe`] group by group.
#[derive(Debug, Clone, Default)]
pub struct EqualSpread {
    groups: Vec<GroupSums>,
}

impl EqualSpread {
    /// Adds a group: its values and how often each came. The list is put in another order, and the values in it are changed.
    pub fn add(&mut self, group: &mut [(f64, f64)]) {
        if group.iter().map(|value| value.1).sum::<f64>() < 2.0 {
            return;
        }
        let Some(centre) = counted_median(group) else { return };
        group.iter_mut().for_each(|value| value.0 = (value.0 - centre).abs());
        self.groups.push(GroupSums::of(group));
    }

    /// Number of groups so far.
    #[must_use]
    pub fn groups(&self) -> usize {
        self.groups.len()
    }

    /// The test; `None` as for [`brown_forsythe`].
    #[must_use]
    pub fn test(&self) -> Option<FTest> {
        OneWay::of_sums(&self.groups)?.test
    }
}
