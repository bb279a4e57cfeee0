//! What the blocks' own levels and slopes take up of a sine.

use std::collections::HashMap;
use std::hash::{DefaultHasher, Hash as _, Hasher as _};

/// How the readings of blocks lie. Blocks that are read at the same places as often are alike, so that each pattern is kept once: 4 bytes a place that is read once.
pub(super) struct Patterns {
    /// First column at each place; not-a-number where none is known.
    columns: Vec<f64>,
    all: Vec<Pattern>,
    /// Patterns by their hash.
    known: HashMap<u64, Vec<usize>>,
}

struct Pattern {
    /// Number of blocks that lie so.
    blocks: f64,
    level: bool,
    /// Mean of the first column, and its sum of squares about it; 0 without a slope.
    mean: f64,
    square: f64,
    /// Where readings lie, rising.
    places: Vec<u32>,
    /// How many there; empty where each place has one.
    counts: Vec<u32>,
}

impl Patterns {
    /// None yet, of readings at so many places.
    pub fn new(places: usize) -> Self {
        Self { columns: vec![f64::NAN; places], all: Vec::new(), known: HashMap::new() }
    }

    /// Notes the first column at a place; whether it is that of the other readings there.
    pub fn lies_at(&mut self, place: usize, column: f64) -> bool {
        let Some(slot) = self.columns.get_mut(place) else { return false };
        if slot.is_nan() {
            *slot = column;
        }
        *slot == column
    }

    /// Adds a block with `own` readings, each a place and how often it was read, whether it has a level of its own, and mean and sum of squares of its first column.
    pub fn add(&mut self, mut own: Vec<(u32, u32)>, level: bool, mean: f64, square: f64) {
        own.sort_by_key(|entry| entry.0);
        let places: Vec<u32> = own.iter().map(|entry| entry.0).collect();
        let counts: Vec<u32> = if own.iter().all(|entry| entry.1 == 1) { Vec::new() } else { own.iter().map(|entry| entry.1).collect() };
        let mut hasher = DefaultHasher::new();
        (&places, &counts).hash(&mut hasher);
        let alike = self.known.entry(hasher.finish()).or_default();
        let is = |at: &&usize| self.all.get(**at).is_some_and(|pattern| pattern.places == places && pattern.counts == counts);
        match alike.iter().find(is).and_then(|at| self.all.get_mut(*at)) {
            Some(pattern) => pattern.blocks += 1.0,
            None => {
                alike.push(self.all.len());
                self.all.push(Pattern { blocks: 1.0, level, mean, square, places, counts });
            }
        }
    }

    /// Places of all patterns.
    pub fn entries(&self) -> usize {
        self.all.iter().map(|pattern| pattern.places.len()).sum()
    }

    /// Gives `take` each pattern's products with sine and cosine `waves`, by place: with the cosine, with the sine, and how often their product counts.
    pub fn each(&self, waves: &[(f64, f64)], mut take: impl FnMut(f64, f64, f64)) {
        for pattern in &self.all {
            let (mut total, mut c_sum, mut s_sum, mut c_slope, mut s_slope) = (0.0, 0.0, 0.0, 0.0, 0.0);
            for (entry, place) in pattern.places.iter().enumerate() {
                let count = pattern.counts.get(entry).map_or(1.0, |count| f64::from(*count));
                let place = *place as usize;
                let (s, c) = waves.get(place).copied().unwrap_or((0.0, 0.0));
                let x = self.columns.get(place).map_or(0.0, |column| column - pattern.mean);
                total += count;
                c_sum += count * c;
                s_sum += count * s;
                c_slope += count * x * c;
                s_slope += count * x * s;
            }
            if pattern.level && total > 0.0 {
                take(c_sum, s_sum, pattern.blocks / total);
            }
            if pattern.square > 0.0 {
                take(c_slope, s_slope, pattern.blocks / pattern.square);
            }
        }
    }
}
