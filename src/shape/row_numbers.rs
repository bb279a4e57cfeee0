//! Which row of the log each reading of a cut is, kept in little room.

/// Numbers of rows in the log by place in cutting order.
///
/// A log is mostly written in the order in which the tool passed, or in the opposite one, so that numbers follow one another up or down for long: then
/// each stretch is kept once.
#[derive(Debug, Clone)]
pub(super) enum RowNumbers {
    /// Stretches, and how many numbers they are.
    Stretches(Vec<Stretch>, usize),
    Listed(Vec<u32>),
}

/// Numbers that follow one another.
#[derive(Debug, Clone, Copy)]
pub(super) struct Stretch {
    /// Place of the first.
    place: u32,
    first: u32,
    falls: bool,
}

/// Numbers a stretch, on average, from which stretches take less room than a list.
const WORTH_IT: usize = 8;

impl RowNumbers {
    /// Keeps `rows`.
    pub fn of(rows: Vec<u32>) -> Self {
        let mut stretches: Vec<Stretch> = Vec::new();
        for (place, row) in (0_u32..).zip(&rows) {
            if let Some(last) = stretches.last_mut() {
                let ahead = place - last.place;
                if ahead == 1 && last.first.checked_sub(1) == Some(*row) {
                    last.falls = true;
                    continue;
                }
                if last.at(place) == Some(*row) {
                    continue;
                }
            }
            if (stretches.len() + 1) * WORTH_IT > rows.len() {
                return Self::Listed(rows);
            }
            stretches.push(Stretch { place, first: *row, falls: false });
        }
        Self::Stretches(stretches, rows.len())
    }

    /// Number of the reading at a place; `None` beyond the last.
    pub fn get(&self, place: usize) -> Option<usize> {
        match self {
            Self::Listed(rows) => rows.get(place).map(|row| *row as usize),
            Self::Stretches(stretches, readings) => {
                let place = u32::try_from(place).ok().filter(|_| place < *readings)?;
                let after = stretches.partition_point(|stretch| stretch.place <= place);
                stretches.get(after.checked_sub(1)?)?.at(place).map(|row| row as usize)
            }
        }
    }
}

impl Stretch {
    fn at(self, place: u32) -> Option<u32> {
        let ahead = place.checked_sub(self.place)?;
        if self.falls { self.first.checked_sub(ahead) } else { self.first.checked_add(ahead) }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Up, down, single ones, all mixed: each place has its number back, whichever way they are kept.
    #[test]
    fn every_place_has_its_row() {
        let up: Vec<u32> = (5..500).collect();
        let down: Vec<u32> = (0..500).rev().collect();
        let passes: Vec<u32> = (0..100).chain((100..200).rev()).chain([300, 250, 7]).chain((400..600).rev()).chain(210..220).collect();
        let mixed: Vec<u32> = (0..400).map(|k| (k * 7919) % 401).collect();
        for (rows, listed) in [(up, false), (down, false), (passes, false), (mixed, true), (vec![3], true), (vec![], false)] {
            let kept = RowNumbers::of(rows.clone());
            assert_eq!(matches!(kept, RowNumbers::Listed(_)), listed, "{rows:?}");
            let again: Vec<usize> = (0..rows.len()).map(|place| kept.get(place).unwrap()).collect();
            assert_eq!(kept.get(rows.len()), None);
            assert_eq!(again, rows.iter().map(|row| *row as usize).collect::<Vec<_>>());
        }
        if let RowNumbers::Stretches(stretches, _) = RowNumbers::of((0..1000).chain((1000..2000).rev()).collect()) {
            assert_eq!(stretches.len(), 2);
        }
    }
}
