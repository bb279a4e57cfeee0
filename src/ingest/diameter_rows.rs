use super::cells::Texts;
use super::clock::Moment;
use super::header::Measure;
use super::moments::Moments;
use super::numbers::decimals;
use super::passes::{Stated, StatedCut};
use super::settings::StatedIn;
use crate::trial::{DiameterReading, Diameters, Dictionary, Direction};
use std::collections::{BTreeMap, BTreeSet};
use std::sync::Arc;

/// The diameters of all files so far, and what each row states about its cut.
#[derive(Debug, Default)]
pub(super) struct DiameterRows {
    /// The readings without their cuts and times.
    pub(super) readings: Diameters,
    /// One for each reading: what its row states, before gaps are filled from its pass.
    pub(super) stated: Dictionary<Stated>,
    /// One for each reading: its time of cutting.
    pub(super) moments: Moments,
    /// Finest step of the reading that was written, mm, by gauge.
    pub(super) finest_mm: BTreeMap<Option<Arc<str>>, f64>,
    /// Gauge, factor and digits of the finest reading in the last step noted.
    noted: Option<(Option<Arc<str>>, f64, u32)>,
    /// The last word for a direction, and what it means.
    pub(super) direction: Option<(String, Direction)>,
    pub(super) texts: Texts,
    /// The files of diameters by their index, each with the header of what was measured.
    pub(super) headers: Vec<(usize, String)>,
    /// The files of diameters by their index, each with the header of its column exclude.
    pub(super) exclude_headers: Vec<(usize, String)>,
    /// The files of diameters by their index, each with the units of its columns of depth and feed.
    pub(super) cut_units: Vec<(usize, StatedIn, StatedIn)>,
    /// The files of diameters that do not say which pass a reading is of.
    pub(super) unnumbered: BTreeSet<usize>,
    /// The files of diameters by their index, each with the header and the scale of its column of temperatures.
    pub(super) temperatures: Vec<(usize, String, Measure)>,
}

/// How many rows a file has and how many are excluded.
#[derive(Debug, Clone, Copy, Default, PartialEq, Eq)]
pub(super) struct RowCount {
    pub(super) rows: u64,
    pub(super) excluded: u64,
}

impl DiameterRows {
    /// Adds a reading with what its row states.
    pub(super) fn push(&mut self, reading: &DiameterReading, cut: StatedCut, moment: Option<Moment>) {
        self.readings.push_uncut(reading);
        let file = u32::try_from(reading.place.file).unwrap_or(u32::MAX);
        self.stated.push(&Stated { file, setting: reading.setting, pass: reading.pass, cut });
        self.moments.push(moment);
    }

    /// Adds the rows of `other`, whose lines count from `lines_before`.
    pub(super) fn append(&mut self, other: &Self, lines_before: u64) {
        self.readings.append_uncut(&other.readings, lines_before);
        self.stated.append(&other.stated);
        self.moments.append(&other.moments);
        for (gauge, step) in &other.finest_mm {
            let finest = self.finest_mm.entry(gauge.clone()).or_insert(*step);
            *finest = finest.min(*step);
        }
    }

    /// Notes how finely a diameter is written.
    pub(super) fn note_step(&mut self, gauge: Option<&Arc<str>>, text: &str, factor: f64) {
        // what has no more digits than the finest so far says nothing new
        if let (Some((seen, with, finest)), Some(point)) = (&self.noted, memchr::memchr2(b'.', b',', text.as_bytes()))
            && text.len() - point <= *finest as usize + 1
            && *with == factor
            && seen.as_ref() == gauge
        {
            return;
        }
        let Some(digits) = decimals(text) else { return };
        if self.noted.as_ref().is_some_and(|(seen, with, finest)| seen.as_ref() == gauge && *with == factor && *finest >= digits) {
            return;
        }
        self.noted = Some((gauge.cloned(), factor, digits));
        let Ok(digits) = i32::try_from(digits) else { return };
        let step = factor * 10_f64.powi(-digits);
        let finest = self.finest_mm.entry(gauge.cloned()).or_insert(step);
        *finest = finest.min(step);
    }
}
