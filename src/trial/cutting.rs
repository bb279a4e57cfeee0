use schemars::JsonSchema;
use serde::Serialize;

/// The `[cutting]` table: the cut where a log has no such column.
#[derive(Debug, Clone, PartialEq, Serialize, JsonSchema)]
pub struct Cutting {
    /// Radial depth of cut, mm.
    pub depth_mm: f64,
    /// Feed, mm per revolution.
    pub feed_mm_per_rev: f64,
    /// Spindle speed, revolutions per minute.
    pub rpm: Option<f64>,
    /// Nose radius of the tool, mm.
    pub nose_radius_mm: f64,
    /// Standard uncertainty of the tool's height against the axis, mm.
    pub tool_height_u_mm: f64,
    /// `h₀` = axis minus tool height, mm, where it is known.
    pub tool_height_mm: Option<f64>,
}
