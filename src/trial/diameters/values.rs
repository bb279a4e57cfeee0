//! What the columns of diameters are made of.

use crate::trial::dictionary::Dictionary;
use crate::trial::readings::{Direction, Place};
use std::hash::{Hash, Hasher};
use std::sync::Arc;

/// A number that can be looked up: equal where the bits are.
#[derive(Debug, Clone, Copy, Default)]
pub struct Bits(pub f64);

impl PartialEq for Bits {
    fn eq(&self, other: &Self) -> bool {
        self.0.to_bits() == other.0.to_bits()
    }
}

impl Eq for Bits {}

impl Hash for Bits {
    fn hash<H: Hasher>(&self, state: &mut H) {
        self.0.to_bits().hash(state);
    }
}

/// What all readings of one cut have in common.
#[derive(Debug, Clone, PartialEq, Eq, Hash)]
pub struct Cut {
    /// State of the feet.
    pub setting: u32,
    /// Number of the cut within its setting.
    pub pass: u32,
    /// Which way it was cut.
    pub direction: Direction,
    /// Radial depth, mm.
    pub depth_mm: Bits,
    /// Feed, mm per revolution.
    pub feed_mm_per_rev: Bits,
    /// Edge that cut.
    pub edge: Option<Arc<str>>,
    /// Shift of the tool along `z`, mm.
    pub tool_shift_mm: Bits,
}

impl Default for Cut {
    fn default() -> Self {
        Self {
            setting: 0,
            pass: 1,
            direction: Direction::ToHeadstock,
            depth_mm: Bits(0.0),
            feed_mm_per_rev: Bits(0.0),
            edge: None,
            tool_shift_mm: Bits(0.0),
        }
    }
}

/// A column of numbers that may be missing: no room at all where all are, else a number a row, not-a-number for a missing one.
#[derive(Debug, Clone, Default)]
pub(super) struct Numbers {
    pub(super) values: Vec<f64>,
}

impl Numbers {
    pub(super) fn push(&mut self, rows: usize, value: Option<f64>) {
        if value.is_some() && self.values.is_empty() {
            self.values.resize(rows, f64::NAN);
        }
        if value.is_some() || !self.values.is_empty() {
            self.values.push(value.unwrap_or(f64::NAN));
        }
    }

    pub(super) fn append(&mut self, rows: usize, other: &Self, other_rows: usize) {
        if self.values.is_empty() && other.values.is_empty() {
            return;
        }
        self.values.resize(rows, f64::NAN);
        self.values.extend_from_slice(&other.values);
        self.values.resize(rows + other_rows, f64::NAN);
    }

    #[inline]
    pub(super) fn get(&self, row: usize) -> Option<f64> {
        self.values.get(row).copied().filter(|value| !value.is_nan())
    }
}

/// Rows that stand one under the other in one file.
#[derive(Debug, Clone, Copy)]
pub(super) struct Run {
    pub(super) first: usize,
    pub(super) place: Place,
}

pub(super) type Texts = Dictionary<Option<Arc<str>>>;
