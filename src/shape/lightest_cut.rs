//! The finishing cut by its depth and feed: the lightest that took metal off.

/// Depth and feed by which a pass belongs to the finishing cut.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) struct LightestCut {
    /// Radial depth, mm; 0 where no pass has one above 0.
    pub(crate) depth_mm: f64,
    /// Feed, mm a revolution; `None` where no pass of that depth has one above 0, and any feed belongs to it.
    feed_mm_per_rev: Option<f64>,
}

impl LightestCut {
    /// The least depth above 0 of some passes, each as depth in mm and feed in mm a revolution, and the least feed above 0 at that depth.
    ///
    /// Where no pass has a depth above 0 those at depth 0 (spring passes) stand in.
    pub(crate) fn of(passes: impl Iterator<Item = (f64, f64)> + Clone) -> Self {
        let least = |values: &mut dyn Iterator<Item = f64>| values.filter(|v| *v > 0.0).reduce(f64::min);
        let depth_mm = least(&mut passes.clone().map(|(depth, _)| depth)).unwrap_or(0.0);
        let feed_mm_per_rev = least(&mut passes.filter(|(depth, _)| same(*depth, depth_mm)).map(|(_, feed)| feed));
        Self { depth_mm, feed_mm_per_rev }
    }

    /// Whether a pass of this depth and feed is of the finishing cut.
    pub(crate) fn holds(&self, depth_mm: f64, feed_mm_per_rev: f64) -> bool {
        same(depth_mm, self.depth_mm) && self.feed_mm_per_rev.is_none_or(|feed| same(feed_mm_per_rev, feed))
    }

    /// Whether a pass is deeper than the finishing cut, and not by rounding.
    pub(crate) fn is_below(&self, depth_mm: f64) -> bool {
        depth_mm > self.depth_mm && !same(depth_mm, self.depth_mm)
    }
}

/// Whether two depths or feeds are one but for rounding.
pub(super) fn same(a: f64, b: f64) -> bool {
    (a - b).abs() <= 1e-9 * a.abs().max(b.abs()).max(1e-12)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn deeper_is_more_than_rounding() {
        let cut = LightestCut::of([(0.3, 0.1), (0.1 + 0.2, 0.1), (0.0, 0.1)].into_iter());
        assert!(cut.holds(0.1 + 0.2, 0.1) && cut.holds(0.3, 0.1) && !cut.holds(0.0, 0.1));
        assert!(!cut.is_below(0.1 + 0.2) && !cut.is_below(0.3) && cut.is_below(0.3 * (1.0 + 1e-8)) && !cut.is_below(0.2));
        let springs = LightestCut::of([(0.0, 0.1)].into_iter());
        assert!(springs.holds(0.0, 0.1) && springs.is_below(0.01) && !springs.is_below(0.0));
    }
}
