//! Heights, from an indicator on top of a ground test bar: the spindle's rise, and the tailstock's.

use super::Knowledge;
use super::measured::{Known, Measured};
use crate::causes::VerticalMisalignment;
use crate::shape::Shape;
use crate::trial::Holding;

fn found(rises: &[VerticalMisalignment], setting: u32, held: Holding) -> Option<&VerticalMisalignment> {
    rises.iter().find(|rise| rise.setting == setting && rise.held == held)
}

fn over(rise: &VerticalMisalignment, length_mm: f64, note: &str) -> Measured {
    let per = length_mm / 1000.0;
    let knowledge = Knowledge::Spread { value: rise.mm_per_m * per, standard_uncertainty: rise.standard_uncertainty * per, dof: None };
    Measured::Known(Known { knowledge, length_mm: Some(length_mm), shrinks: None, note: note.to_owned() })
}

/// The spindle's rise over `over_mm` (the tested length where none is stated), mm; positive = upwards.
pub(super) fn parallelism(shape: &Shape, rises: &[VerticalMisalignment], over_mm: Option<f64>) -> Measured {
    match found(rises, shape.setting, Holding::Chuck) {
        Some(rise) => over(
            rise,
            over_mm.unwrap_or(shape.tested_length.length),
            "From an indicator on top of the test bar in the chuck; positive is upwards. Ways that are worn in height look the same.",
        ),
        None => Measured::Unknown(
            "Diameters see next to nothing of heights. An indicator run on top of a ground test bar in the chuck (plane top, spindle at 0° and \
             180°) would tell."
                .to_owned(),
        ),
    }
}

/// How much higher the tailstock's centre stands than the headstock's, mm.
pub(super) fn tailstock_height(setting: u32, rises: &[VerticalMisalignment]) -> Measured {
    match found(rises, setting, Holding::Centres) {
        Some(rise) => over(
            rise,
            rise.bar_length_mm,
            "From an indicator on top of the test bar between centres; positive is higher at the tailstock. Ways that are worn in height look the same.",
        ),
        None => Measured::Unknown(
            "No log of this setting sees the tailstock's height. An indicator run on top of a ground test bar between centres (plane top) would tell."
                .to_owned(),
        ),
    }
}
