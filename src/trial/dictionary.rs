//! A column whose values repeat: each distinct value once, and a number a row.

use std::collections::HashMap;
use std::hash::Hash;

/// Distinct values in the order in which they first came, and which of them each row has.
///
/// A column in which only the default value ever came takes no room at all.
#[derive(Debug, Clone)]
pub struct Dictionary<T> {
    values: Vec<T>,
    known: HashMap<T, u32>,
    of_row: Vec<u32>,
    /// What came last after each value: logs go through their stations again and again, so that this is mostly what comes next.
    next: Vec<u32>,
    last: u32,
    rows: usize,
}

impl<T: Clone + Eq + Hash + Default> Default for Dictionary<T> {
    fn default() -> Self {
        let known = HashMap::from([(T::default(), 0)]);
        Self { values: vec![T::default()], known, of_row: Vec::new(), next: vec![0], last: 0, rows: 0 }
    }
}

impl<T: Clone + Eq + Hash + Default> Dictionary<T> {
    /// Number of the value, which is remembered when it is new.
    pub fn number(&mut self, value: &T) -> u32 {
        let guess = self.next.get(self.last as usize).copied().unwrap_or(0);
        let found = if self.values.get(guess as usize) == Some(value) {
            guess
        } else if self.values.get(self.last as usize) == Some(value) {
            self.last
        } else if let Some(number) = self.known.get(value) {
            *number
        } else {
            let number = u32::try_from(self.values.len()).unwrap_or(u32::MAX);
            self.values.push(value.clone());
            self.next.push(number);
            self.known.insert(value.clone(), number);
            number
        };
        if let Some(next) = self.next.get_mut(self.last as usize) {
            *next = found;
        }
        self.last = found;
        found
    }

    /// Adds a row.
    pub fn push(&mut self, value: &T) {
        let number = self.number(value);
        self.push_number(number);
    }

    /// Adds a row by the number of its value.
    pub fn push_number(&mut self, number: u32) {
        if number != 0 && self.of_row.is_empty() {
            self.of_row.resize(self.rows, 0);
        }
        if number != 0 || !self.of_row.is_empty() {
            self.of_row.push(number);
        }
        self.rows += 1;
    }

    /// Adds all rows of another column.
    pub fn append(&mut self, other: &Self) {
        self.append_changed(other, T::clone);
    }

    /// Adds what `change` makes of each row of another column; it must leave the default value as it is.
    pub fn append_changed(&mut self, other: &Self, change: impl Fn(&T) -> T) {
        let numbers: Vec<u32> = other.values.iter().map(|value| self.number(&change(value))).collect();
        if other.of_row.is_empty() {
            if !self.of_row.is_empty() {
                self.of_row.resize(self.rows + other.rows, 0);
            }
            self.rows += other.rows;
            return;
        }
        if self.of_row.is_empty() {
            self.of_row.resize(self.rows, 0);
        }
        self.of_row.extend(other.of_row.iter().map(|number| numbers.get(*number as usize).copied().unwrap_or(0)));
        self.rows += other.rows;
    }

    /// Number of the value of a row; 0, the default value, for one that is not there.
    #[inline]
    #[must_use]
    pub fn number_of(&self, row: usize) -> u32 {
        self.of_row.get(row).copied().unwrap_or(0)
    }

    /// The value of a row.
    #[inline]
    #[must_use]
    pub fn get(&self, row: usize) -> &T {
        self.value(self.number_of(row))
    }

    /// The value with a number.
    #[inline]
    #[must_use]
    pub fn value(&self, number: u32) -> &T {
        // the default value is always there
        self.values.get(number as usize).unwrap_or(&self.values[0])
    }

    /// The distinct values; the first is the default value, whether a row has it or not.
    #[must_use]
    pub fn values(&self) -> &[T] {
        &self.values
    }

    /// The same rows with other values: what `change` makes of each, equal ones under one number.
    #[must_use]
    pub fn map<U: Clone + Eq + Hash + Default>(mut self, mut change: impl FnMut(u32, &T) -> U) -> Dictionary<U> {
        let mut out = Dictionary::<U>::default();
        let mut numbers: Vec<u32> = Vec::with_capacity(self.values.len());
        for (number, value) in (0_u32..).zip(&self.values) {
            numbers.push(out.number(&change(number, value)));
        }
        out.rows = self.rows;
        if numbers.first() != Some(&0) && self.of_row.is_empty() {
            self.of_row.resize(self.rows, 0);
        }
        self.of_row.iter_mut().for_each(|number| *number = numbers.get(*number as usize).copied().unwrap_or(0));
        out.of_row = self.of_row;
        out
    }

    /// Lets go of room that only growing needs.
    pub fn shrink(&mut self) {
        self.of_row.shrink_to_fit();
    }
}
