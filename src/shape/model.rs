//! The models of the finishing cut: a level for each pass, slopes, higher terms.

use super::cut::Cut;
use super::slopes::Slopes;
use crate::statistics::RunRows;
use std::ops::Range;

/// A polynomial along the bar with a free level for each pass.
///
/// Slopes are common to a direction or own to a pass; higher Legendre terms are common to all, or to a direction where `split`.
#[derive(Debug, Clone)]
pub(super) struct Model<'c> {
    cut: &'c Cut<'c>,
    order: usize,
    slopes: Slopes,
    split: bool,
    /// Number of slopes that passes share.
    slots: usize,
    /// Which of them each pass follows.
    slot_of: Vec<usize>,
}

impl<'c> Model<'c> {
    /// The model of `order` 1 to 3.
    pub fn new(cut: &'c Cut<'c>, order: usize, slopes: Slopes, split: bool) -> Self {
        let by_pass = slopes == Slopes::ByPass;
        let slots = if by_pass { 1 } else { slopes.count(cut) };
        let slot_of = if by_pass { vec![0; cut.finishing.len()] } else { slopes.followed(cut) };
        Self { cut, order, slopes, split, slots, slot_of }
    }

    /// Number of slopes that passes share; 1 where each has its own.
    pub fn slots(&self) -> usize {
        self.slots
    }
}

impl RunRows for Model<'_> {
    fn runs(&self) -> usize {
        self.cut.run_count()
    }

    #[inline]
    fn readings(&self, run: usize) -> Range<usize> {
        self.cut.of_run(run)
    }

    fn ends(&self) -> &[u32] {
        self.cut.run_ends()
    }

    #[inline]
    fn weight(&self, run: usize) -> f64 {
        self.cut.weight(run)
    }

    fn blocks(&self) -> usize {
        self.cut.finishing.len()
    }

    fn block(&self, block: usize) -> Range<usize> {
        self.cut.finishing.get(block).map_or(0..0, |pass| pass.runs.clone())
    }

    fn own_level(&self) -> bool {
        true
    }

    fn own_slope(&self) -> bool {
        self.slopes == Slopes::ByPass
    }

    fn columns(&self) -> usize {
        if self.split { self.slots * self.order } else { self.slots + self.order - 1 }
    }

    #[inline]
    fn row(&self, block: usize, run: usize, into: &mut [f64]) {
        let place = self.cut.place(run);
        let slot = self.slot_of.get(block).copied().unwrap_or(0);
        into.fill(0.0);
        let values = [place.x, place.higher[0], place.higher[1]];
        // the first column of each degree, and the pass's own among them
        let (mut first, mut own) = (0, slot);
        for value in values.iter().take(self.order) {
            if let Some(entry) = into.get_mut(first + own) {
                *entry = *value;
            }
            first += if first == 0 || self.split { self.slots } else { 1 };
            own = if self.split { slot } else { 0 };
        }
    }
}
