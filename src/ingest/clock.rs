use jiff::Timestamp;
use jiff::civil::{DateTime, Time};

/// A time as a log writes it.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) enum Moment {
    /// An instant with its offset from UTC, minutes since 1970.
    Instant(f64),
    /// A day and a time, minutes since 1970 by the wall clock.
    Dated(f64),
    /// A time of day, minutes since midnight.
    OfDay(f64),
}

impl Moment {
    /// Reads ISO 8601 (`2026-03-14T09:30`, `2026-03-14 09:30:15`, with or without offset) or a time of day (`9:30`, `09:30:15`).
    pub(super) fn parse(text: &str) -> Option<Self> {
        let text = text.trim();
        if let Ok(instant) = text.parse::<Timestamp>() {
            return Some(Self::Instant(instant.as_millisecond() as f64 / 60_000.0));
        }
        if text.contains('-') {
            let dated = text.parse::<DateTime>().ok()?;
            let since = dated.duration_since(DateTime::new(1970, 1, 1, 0, 0, 0, 0).ok()?);
            return Some(Self::Dated(since.as_secs_f64() / 60.0));
        }
        let padded = if text.find(':') == Some(1) { format!("0{text}") } else { text.to_owned() };
        let time = padded.contains(':').then(|| padded.parse::<Time>().ok()).flatten()?;
        let seconds = f64::from(time.hour()) * 3600.0 + f64::from(time.minute()) * 60.0 + f64::from(time.second());
        Some(Self::OfDay((seconds + f64::from(time.subsec_nanosecond()) * 1e-9) / 60.0))
    }

    /// The kind of a time of day.
    pub(super) const OF_DAY: u8 = 2;

    /// Which kind it is: only times of one kind can be put in order.
    pub(super) fn kind(self) -> u8 {
        match self {
            Self::Instant(_) => 0,
            Self::Dated(_) => 1,
            Self::OfDay(_) => Self::OF_DAY,
        }
    }

    /// Minutes since 1970 or midnight.
    pub(super) fn minutes(self) -> f64 {
        match self {
            Self::Instant(minutes) | Self::Dated(minutes) | Self::OfDay(minutes) => minutes,
        }
    }
}
