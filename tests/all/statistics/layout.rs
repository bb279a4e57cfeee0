//! Blocks of repeated, weighted readings for the tests of what is done in runs.

use nalgebra::DMatrix;
use std::ops::Range;
use taperwright::statistics::RunRows;

/// Blocks with a level each, perhaps a slope each, and a square that they share.
pub struct Layout {
    /// By block: place, number of readings and weight of each run.
    pub blocks: Vec<Vec<(f64, usize, f64)>>,
    pub own_slope: bool,
}

impl Layout {
    /// That of a name in `tests/reference/serial.py`.
    pub fn new(name: &str) -> Self {
        match name {
            "small" => {
                let runs =
                    |b: usize| (0..7).filter(|k| (k + b) % 4 != 3).map(|k| ((k as f64 - 3.0) / 3.0, 1 + (k * 3 + b) % 2, 1.0)).collect();
                Self { blocks: (0..3).map(runs).collect(), own_slope: false }
            }
            "large" | "plain" => {
                let weight = |k: usize, b: usize| [1.0, 2.0, 0.5][(k + 2 * b) % 3];
                let run = |k: usize, b: usize| ((k as f64 - 4.0) / 4.0, 1 + (k + b) % 3, weight(k, b));
                let runs = |b: usize| (0..9).filter(|k| (k * b) % 5 != 4).map(|k| run(k, b)).collect();
                // a block of one reading, and one of two at one place
                let mut blocks: Vec<_> = (0..14).map(runs).collect();
                blocks.extend([vec![(0.25, 1, 1.0)], vec![(0.25, 2, 1.0)]]);
                Self { blocks, own_slope: name == "large" }
            }
            _ => Self { blocks: vec![(0..80).map(|k| ((f64::from(k) - 40.0) / 40.0, 1, 1.0)).collect(); 26], own_slope: false },
        }
    }

    /// A run.
    pub fn at(&self, run: usize) -> (f64, usize, f64) {
        *self.blocks.iter().flatten().nth(run).unwrap()
    }

    /// A slope and scatter without pattern.
    pub fn values(&self) -> Vec<f64> {
        let places = (0..self.runs()).flat_map(|run| std::iter::repeat_n(self.at(run).0, self.at(run).1));
        places.enumerate().map(|(i, x)| ((i * i * 37 + i * 7919 + 13) % 101) as f64 / 101.0 + 0.3 * x).collect()
    }

    /// The same model a row a reading, and the weight of each: levels, slopes, square.
    pub fn dense(&self) -> (DMatrix<f64>, Vec<f64>) {
        let blocks = self.blocks.len();
        let slopes = if self.own_slope { blocks } else { 1 };
        let (mut rows, mut weights) = (Vec::new(), Vec::new());
        for (block, runs) in self.blocks.iter().enumerate() {
            for (x, count, weight) in runs {
                let mut row = vec![0.0; blocks + slopes + 1];
                row[block] = 1.0;
                row[blocks + if self.own_slope { block } else { 0 }] = *x;
                row[blocks + slopes] = x * x;
                rows.extend(std::iter::repeat_n(row, *count));
                weights.extend(std::iter::repeat_n(*weight, *count));
            }
        }
        (DMatrix::from_fn(rows.len(), rows[0].len(), |i, j| rows[i][j]), weights)
    }
}

impl RunRows for Layout {
    fn runs(&self) -> usize {
        self.blocks.iter().map(Vec::len).sum()
    }
    fn readings(&self, run: usize) -> Range<usize> {
        let before: usize = self.blocks.iter().flatten().take(run).map(|run| run.1).sum();
        before..before + self.at(run).1
    }
    fn weight(&self, run: usize) -> f64 {
        self.at(run).2
    }
    fn blocks(&self) -> usize {
        self.blocks.len()
    }
    fn block(&self, block: usize) -> Range<usize> {
        let before: usize = self.blocks.iter().take(block).map(Vec::len).sum();
        before..before + self.blocks[block].len()
    }
    fn own_level(&self) -> bool {
        true
    }
    fn own_slope(&self) -> bool {
        self.own_slope
    }
    fn columns(&self) -> usize {
        2
    }
    fn row(&self, _block: usize, run: usize, into: &mut [f64]) {
        let x = self.at(run).0;
        into.copy_from_slice(&[x, x * x]);
    }
}
