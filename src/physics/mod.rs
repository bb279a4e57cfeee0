//! What each cause does to a diameter: pure functions, each with its formula and source.
//!
//! Effects are on the **diameter**, in mm, relative to a free constant per pass. `z` runs from the chuck face (or the
//! headstock centre) to the tailstock; the operator stands at the front with the headstock on his left, and the tool is on his
//! side. Positive taper means larger at the tailstock end.
//!
//! One file a cause; [`DIAMETER_CAUSES`] is the place where causes are listed.

pub mod beam;
pub mod bed_twist;
pub mod clamp;
pub mod cut_point;
pub mod cutting_force;
pub mod cutting_path;
pub mod deflection;
pub mod expansion;
pub mod headstock_yaw;
pub mod indicator;
pub mod lead_screw;
pub mod level;
pub mod moves;
pub mod support;
pub mod tailstock_offset;
pub mod thermal_drift;
pub mod tool_wear;
pub mod vertical_misalignment;
pub mod way_wear;

pub use cut_point::{CutPoint, ForceFactors, cut_points};
pub use support::{Compliances, Support, TurnedPlace};

/// A cause whose effect on the diameter is its parameter times a known curve.
#[derive(Debug, Clone, Copy)]
pub struct DiameterCause {
    /// Name, as the result file writes it.
    pub name: &'static str,
    /// Unit of its parameter.
    pub unit: &'static str,
    /// Effect on the diameter in mm per unit of the parameter; `None` when the log lacks what it needs (times or speed).
    pub per_unit_mm: fn(&CutPoint) -> Option<f64>,
}

/// The causes with a known curve. Worn ways are not among them: theirs is any smooth curve ([`way_wear`]).
///
/// Deflection is given per unit of force factor; it is proportional to the factor as long as the bar is stiff against the cut.
pub const DIAMETER_CAUSES: [DiameterCause; 6] = [
    DiameterCause { name: "headstock-yaw", unit: "mm/m", per_unit_mm: |point| Some(headstock_yaw::per_unit_mm(point)) },
    DiameterCause { name: "bed-twist", unit: "mm/m/m", per_unit_mm: |point| Some(bed_twist::per_unit_mm(point)) },
    DiameterCause { name: "tool-wear", unit: "um/m", per_unit_mm: |point| Some(tool_wear::per_unit_mm(point)) },
    DiameterCause { name: "deflection", unit: "factor", per_unit_mm: |point| Some(point.deflection_mm) },
    DiameterCause { name: "tailstock-offset", unit: "mm", per_unit_mm: |point| Some(tailstock_offset::per_unit_mm(point)) },
    DiameterCause { name: "thermal-drift", unit: "um/min", per_unit_mm: thermal_drift::per_unit_mm },
];
