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

    fn kind(self) -> u8 {
        match self {
            Self::Instant(_) => 0,
            Self::Dated(_) => 1,
            Self::OfDay(_) => 2,
        }
    }
}

/// Minutes since the earliest of `moments`, in the log's order. A time of day that is more than twelve hours before the one above
/// it belongs to the next day.
///
/// # Errors
/// The index of the first moment of another kind than those before it: dated and undated times cannot be put in order.
pub(super) fn minutes(moments: &[Option<Moment>]) -> Result<Vec<Option<f64>>, usize> {
    let mut kind = None;
    let (mut day, mut before) = (0.0, None::<f64>);
    let mut out = Vec::with_capacity(moments.len());
    for (index, moment) in moments.iter().enumerate() {
        let Some(moment) = moment else {
            out.push(None);
            continue;
        };
        if kind.is_some_and(|kind| kind != moment.kind()) {
            return Err(index);
        }
        kind = Some(moment.kind());
        out.push(Some(match *moment {
            Moment::Instant(minutes) | Moment::Dated(minutes) => minutes,
            Moment::OfDay(minutes) => {
                if let Some(before) = before {
                    if minutes < before - 720.0 {
                        day += 1440.0;
                    } else if minutes > before + 720.0 && day > 0.0 {
                        day -= 1440.0; // a line from before midnight, logged after one from after it
                    }
                }
                before = Some(minutes);
                day + minutes
            }
        }));
    }
    let earliest = out.iter().flatten().copied().fold(f64::INFINITY, f64::min);
    Ok(out.into_iter().map(|minutes| minutes.map(|minutes| minutes - earliest)).collect())
}
