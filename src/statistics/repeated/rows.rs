use nalgebra::DMatrix;
use std::ops::Range;

/// The rows of a linear model in runs and blocks.
pub trait RunRows: Sync {
    /// Number of runs.
    fn runs(&self) -> usize;
    /// The readings of a run, as places in the list of values.
    fn readings(&self, run: usize) -> Range<usize>;
    /// Weight of each reading of a run, `1/variance` up to a common factor.
    fn weight(&self, run: usize) -> f64;
    /// Number of blocks.
    fn blocks(&self) -> usize;
    /// The runs of a block; blocks follow one another.
    fn block(&self, block: usize) -> Range<usize>;
    /// Whether each block has a level of its own.
    fn own_level(&self) -> bool;
    /// Whether each block has a coefficient of the first column of its own.
    fn own_slope(&self) -> bool;
    /// Number of columns, the first one included where each block has its own coefficient of it.
    fn columns(&self) -> usize;
    /// Writes the columns of a run of a block.
    fn row(&self, block: usize, run: usize, into: &mut [f64]);

    /// End of the readings of each run, where they are kept; readings of the first begin at 0, those of another where those before it end. Empty where nothing is
    /// kept of it.
    fn ends(&self) -> &[u32] {
        &[]
    }

    /// Number of readings.
    fn count(&self, run: usize) -> usize {
        self.readings(run).len()
    }

    /// Number of readings in all.
    fn total(&self) -> usize {
        self.runs().checked_sub(1).map_or(0, |last| self.readings(last).end)
    }

    /// Columns whose coefficients all blocks share.
    fn shared(&self) -> usize {
        self.columns() - usize::from(self.own_slope())
    }
}

/// A dense design: every reading a run of its own, no column taken out by block.
#[derive(Debug, Clone)]
pub struct Dense<'d> {
    design: &'d DMatrix<f64>,
    /// Rows at which a block begins, 0 first, and the end.
    starts: Vec<usize>,
}

impl<'d> Dense<'d> {
    /// `design` (n readings by p columns); `breaks` lists the rows that start afresh.
    #[must_use]
    pub fn new(design: &'d DMatrix<f64>, breaks: &[usize]) -> Self {
        let mut starts: Vec<usize> = breaks.iter().copied().filter(|row| *row > 0 && *row < design.nrows()).collect();
        starts.extend([0, design.nrows()]);
        starts.sort_unstable();
        starts.dedup();
        Self { design, starts }
    }
}

impl RunRows for Dense<'_> {
    fn runs(&self) -> usize {
        self.design.nrows()
    }

    fn readings(&self, run: usize) -> Range<usize> {
        run..run + 1
    }

    fn weight(&self, _run: usize) -> f64 {
        1.0
    }

    fn blocks(&self) -> usize {
        self.starts.len().saturating_sub(1)
    }

    fn block(&self, block: usize) -> Range<usize> {
        let at = |place: usize| self.starts.get(place).copied().unwrap_or(0);
        at(block)..at(block + 1)
    }

    fn own_level(&self) -> bool {
        false
    }

    fn own_slope(&self) -> bool {
        false
    }

    fn columns(&self) -> usize {
        self.design.ncols()
    }

    fn row(&self, _block: usize, run: usize, into: &mut [f64]) {
        for (column, slot) in into.iter_mut().enumerate() {
            *slot = self.design.get((run, column)).copied().unwrap_or(0.0);
        }
    }
}

/// The readings of a run by the ends of all runs, as [`RunRows::ends`] has them; without ends every run is one reading.
#[inline]
#[must_use]
pub fn places_of(ends: &[u32], run: usize) -> Range<usize> {
    if ends.is_empty() {
        return run..run + 1;
    }
    let from = run.checked_sub(1).and_then(|before| ends.get(before)).map_or(0, |end| *end as usize);
    from..ends.get(run).map_or(from, |end| *end as usize)
}
