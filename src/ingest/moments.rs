use super::clock::Moment;

/// Minutes of a day, and when its thirteenth hour begins.
pub(super) const DAY_MIN: f64 = 1440.0;
const AFTERNOON_MIN: f64 = 780.0;

/// How times were written: what the clock of one row shows tells that of every other.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Clock {
    /// A row with a time, and its minutes by [`Moment`]'s count.
    pub(super) row: usize,
    pub(super) minutes: f64,
    /// Whether the times are of a day that nobody named.
    pub(super) is_of_day: bool,
    /// Whether they are with an offset: what is shown is then universal time.
    pub(super) is_offset: bool,
    /// Whether any is of thirteen hours or later: the clock has twenty-four.
    pub(super) has_afternoon: bool,
}

/// Times of cutting, one a row, while a log is read: no room at all where there are none.
#[derive(Debug, Default)]
pub(super) struct Moments {
    rows: usize,
    /// Minutes by [`Moment`]'s own count, not-a-number for none.
    minutes: Vec<f64>,
    /// Kind of the first time, and its row.
    first: Option<(u8, usize)>,
    /// Whether a time of day is of the afternoon by a clock of twenty-four hours.
    has_afternoon: bool,
    /// The first row whose time is of another kind.
    mixed: Option<usize>,
}

impl Moments {
    pub(super) fn push(&mut self, moment: Option<Moment>) {
        if let Some(moment) = moment {
            self.note(moment.kind(), self.rows);
            self.has_afternoon |= moment.minutes().rem_euclid(DAY_MIN) >= AFTERNOON_MIN;
            self.minutes.resize(self.rows, f64::NAN);
            self.minutes.push(moment.minutes());
        }
        self.rows += 1;
    }

    pub(super) fn append(&mut self, other: &Self) {
        if let Some((kind, row)) = other.first {
            self.note(kind, self.rows + row);
            self.has_afternoon |= other.has_afternoon;
            self.mixed = self.mixed.or(other.mixed.map(|row| self.rows + row));
            self.minutes.resize(self.rows, f64::NAN);
            self.minutes.extend_from_slice(&other.minutes);
        }
        self.rows += other.rows;
    }

    fn note(&mut self, kind: u8, row: usize) {
        let (known, _) = *self.first.get_or_insert((kind, row));
        if known != kind {
            self.mixed = self.mixed.or(Some(row));
        }
    }

    /// How the times were written; `None` where there are none.
    pub(super) fn clock(&self) -> Option<Clock> {
        let (kind, row) = self.first?;
        let minutes = *self.minutes.get(row)?;
        Some(Clock {
            row,
            minutes,
            is_of_day: kind == Moment::OF_DAY,
            is_offset: kind == Moment::Instant(0.0).kind(),
            has_afternoon: self.has_afternoon,
        })
    }

    /// Minutes since the earliest, in the log's order, not-a-number for none; empty where there are none. A time of day that is more than twelve hours
    /// before the one above it belongs to the next day.
    ///
    /// # Errors
    /// The first row whose time is of another kind than those before it: dated and undated times cannot be put in order.
    pub(super) fn into_minutes(self) -> Result<Vec<f64>, usize> {
        if let Some(row) = self.mixed {
            return Err(row);
        }
        let Some((kind, _)) = self.first else { return Ok(Vec::new()) };
        let mut minutes = self.minutes;
        minutes.resize(self.rows, f64::NAN);
        if kind == Moment::OF_DAY {
            let (mut day, mut before) = (0.0, None::<f64>);
            for minute in minutes.iter_mut().filter(|minute| !minute.is_nan()) {
                if let Some(before) = before {
                    if *minute < before - 720.0 {
                        day += 1440.0;
                    } else if *minute > before + 720.0 && day > 0.0 {
                        day -= 1440.0; // a line from before midnight, logged after one from after it
                    }
                }
                before = Some(*minute);
                *minute += day;
            }
        }
        let earliest = minutes.iter().copied().filter(|minute| !minute.is_nan()).fold(f64::INFINITY, f64::min);
        minutes.iter_mut().for_each(|minute| *minute -= earliest);
        Ok(minutes)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn of(texts: &[&str]) -> Moments {
        let mut moments = Moments::default();
        texts.iter().for_each(|text| moments.push(Moment::parse(text)));
        moments
    }

    #[test]
    fn midnight_is_passed_and_gaps_stay() {
        let minutes = of(&["", "23:50", "00:10", "", "23:55"]).into_minutes().unwrap();
        assert_eq!(&minutes[1..3], [0.0, 20.0]);
        assert!(minutes[0].is_nan() && minutes[3].is_nan());
        assert_eq!(minutes[4], 5.0);
        assert_eq!(of(&["", ""]).into_minutes(), Ok(vec![]));
        assert_eq!(of(&["", "09:30", "2026-03-14T09:30", "09:40"]).into_minutes(), Err(2));
    }

    #[test]
    fn two_parts_are_the_whole() {
        let texts = ["", "23:50", "00:10", "", "23:55", "2026-03-14T09:30", ""];
        for end in [5, 7] {
            for cut in 0..=end {
                let mut first = of(&texts[..cut]);
                first.append(&of(&texts[cut..end]));
                let bits = |moments: Moments| moments.into_minutes().map(|list| list.into_iter().map(f64::to_bits).collect::<Vec<_>>());
                assert_eq!(bits(first), bits(of(&texts[..end])), "cut at {cut} of {end}");
            }
        }
    }
}
