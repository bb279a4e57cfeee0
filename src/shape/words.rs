//! Sentences about a shape: what should stand at the page's top, and what the log cannot tell.

use super::cut::Cut;
use super::taper_fit::{NoiseSource, TaperFit};
use super::unlike_passes::UnlikePasses;
use super::zeros::Zeros;
use super::{DirectionTaper, Outlier, SpreadSource, Taper};
use crate::quantities::counted;
use crate::trial::Direction;

/// A component of the budget in words; one that is not known stands as it is.
#[must_use]
pub fn component_words(code: &str) -> &str {
    match code {
        "repeatability" => "scatter of the readings",
        "between-pass" => "spread from pass to pass",
        "resolution" => "step of the gauge",
        "calibration" => "calibration of the gauge",
        "temperature-gradient" => "bar’s ends unlike in temperature",
        "hand-warmed-gauge" => "gauge warmed by the hand",
        "station-scale" => "error of the station positions",
        "vertical-misalignment" => "vertical misalignment",
        other => other,
    }
}

/// That passes of one state of the feet are not alike.
pub(super) fn warn_of_unlike(setting: u32, unlike: &UnlikePasses, warnings: &mut Vec<String>) {
    let way = match unlike.direction {
        Direction::ToHeadstock => "to the headstock",
        Direction::ToTailstock => "to the tailstock",
    };
    let figures = |value: f64| format!("{value:.*}", (1.0 - value.log10().floor()).clamp(0.0, 6.0) as usize);
    warnings.push(format!(
        "Setting {setting}: the passes cut {way} do not agree: their tapers lie up to {} µm apart, far more than the scatter of their readings \
         explains (the taper of one pass is known to ±{} µm). Was something changed between them: feet, tool, bar? After a move of the feet \
         the passes need a new number in the column “setting”, and the move a line in moves.csv. What stands here is about all these \
         passes together.",
        figures(1e3 * unlike.range_mm),
        figures(2e3 * unlike.standard_error_mm)
    ));
}

pub(super) fn warn(
    cut: &Cut<'_>,
    fit: &TaperFit,
    taper: &Taper,
    by_direction: &[DirectionTaper],
    zeros: &Zeros,
    outliers: &[Outlier],
    warnings: &mut Vec<String>,
) {
    let place = format!("Setting {}", cut.setting);
    // as much as would widen the interval by a twentieth
    let matters = |zeros_mm: f64, u_mm: f64| zeros_mm.powi(2) > 0.1 * u_mm.powi(2);
    let mixed = if matters(zeros.taper, taper.standard_uncertainty) {
        Some("the taper; the interval allows for it")
    } else if by_direction.iter().any(|row| matters(row.calibration, row.standard_uncertainty)) {
        Some("the taper of each direction of cut, though less in their mean; the intervals allow for it")
    } else {
        None
    };
    if let Some(mixed) = mixed {
        warnings.push(format!(
            "{place}: {} read unlike stations, and what their zeros differ by is mixed with {mixed}. Every station read with one gauge would do without.",
            counted(zeros.gauges, "gauge", "gauges")
        ));
    }
    if (taper.robust.value - taper.value).abs() > taper.standard_uncertainty {
        warnings.push(format!(
            "{place}: the robust fit's taper differs from the least-squares one by more than one standard uncertainty; a few readings carry the result, look at them."
        ));
    }
    if !outliers.is_empty() {
        let flagged = counted(outliers.len(), "reading is", "readings are");
        warnings.push(format!("{place}: {flagged} flagged as outlying; flagged readings are kept."));
    }
    if cut.only_spring_passes {
        warnings.push(format!("{place}: no pass has a depth above 0, so that passes without depth stand in for the finishing cut."));
    }
    for direction in &fit.lost_directions {
        warnings.push(format!(
            "{place}: the passes cut {} have one station each and say nothing of the taper.",
            match direction {
                Direction::ToHeadstock => "to the headstock",
                Direction::ToTailstock => "to the tailstock",
            }
        ));
    }
}

pub(super) fn cannot_tell(cut: &Cut<'_>, fit: &TaperFit) -> Vec<String> {
    let mut sentences = Vec::new();
    match cut.stations.len() {
        2 => sentences.push(
            "Two stations cannot show a barrel or any other curve: readings at three stations or more, five are better, would.".to_owned(),
        ),
        3 => sentences.push(
            "Three stations give a barrel but nothing to test it against: a fourth station or more would show whether the shape is a simple bend."
                .to_owned(),
        ),
        _ => {}
    }
    match fit.spread.source {
        SpreadSource::Prior => sentences.push(
            "How much the taper changes from pass to pass is not in this log; the interval carries a prior for it. Further finishing passes would tell: five in all cut one way, or six where both ways are cut, do without the prior."
                .to_owned(),
        ),
        SpreadSource::PriorAndPasses => sentences.push(
            "These few passes say little of how much the taper changes from pass to pass; the interval leans on a prior for it. Five finishing passes cut one way, or six in all where both ways are cut, do without."
                .to_owned(),
        ),
        SpreadSource::Estimated => {}
    }
    match fit.noise {
        NoiseSource::Log => {}
        NoiseSource::LogAndDataSheet => sentences.push(
            "The readings alone do not say well how they scatter, so the gauge's data sheet is used beside them: two readings at each station would tell."
                .to_owned(),
        ),
        NoiseSource::DataSheet => sentences.push(
            "Rounding hides the scatter of these readings, so the gauge's data sheet stands in for it: a gauge that reads finer would tell.".to_owned(),
        ),
    }
    if fit.by_direction.len() < 2 {
        sentences.push(
            "All finishing passes were cut one way, so that what turns over with the direction, such as tool wear, is part of this taper: a pass cut the other way would tell."
                .to_owned(),
        );
    }
    sentences
}
