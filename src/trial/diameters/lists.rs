//! Diameters as a list of readings: made from one, changed one by one.

use super::Diameters;
use crate::trial::readings::DiameterReading;

impl Diameters {
    /// Changes readings one by one.
    pub fn change(&mut self, mut change: impl FnMut(usize, &mut DiameterReading)) {
        *self = self
            .iter()
            .enumerate()
            .map(|(row, mut reading)| {
                change(row, &mut reading);
                reading
            })
            .collect();
    }

    /// Keeps the readings that `wanted` picks.
    pub fn retain(&mut self, mut wanted: impl FnMut(&DiameterReading) -> bool) {
        *self = self.iter().filter(|reading| wanted(reading)).collect();
    }

    /// Keeps the first `count` readings.
    pub fn truncate(&mut self, count: usize) {
        *self = self.iter().take(count).collect();
    }

    /// Takes all readings out.
    pub fn clear(&mut self) {
        *self = Self::default();
    }

    /// The readings one by one, as a list.
    #[must_use]
    pub fn to_vec(&self) -> Vec<DiameterReading> {
        self.iter().collect()
    }
}

impl PartialEq for Diameters {
    fn eq(&self, other: &Self) -> bool {
        self.len() == other.len() && self.iter().eq(other.iter())
    }
}

impl Extend<DiameterReading> for Diameters {
    fn extend<I: IntoIterator<Item = DiameterReading>>(&mut self, readings: I) {
        readings.into_iter().for_each(|reading| self.push(&reading));
    }
}

impl FromIterator<DiameterReading> for Diameters {
    fn from_iter<I: IntoIterator<Item = DiameterReading>>(readings: I) -> Self {
        let mut diameters = Self::default();
        diameters.extend(readings);
        diameters
    }
}

impl From<Vec<DiameterReading>> for Diameters {
    fn from(readings: Vec<DiameterReading>) -> Self {
        readings.into_iter().collect()
    }
}

impl<'a> IntoIterator for &'a Diameters {
    type Item = DiameterReading;
    type IntoIter = Box<dyn Iterator<Item = DiameterReading> + 'a>;

    fn into_iter(self) -> Self::IntoIter {
        Box::new(self.iter())
    }
}
