//! An estimate with its standard uncertainty and degrees of freedom.

use schemars::{JsonSchema, Schema, SchemaGenerator, json_schema};
use serde::Serialize;
use std::borrow::Cow;

/// A closed interval; serialises as `[low, high]`.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Interval {
    /// Lower end, in the unit of the quantity.
    pub low: f64,
    /// Upper end, in the unit of the quantity.
    pub high: f64,
}

impl Interval {
    /// The interval `centre ± half_width`.
    #[must_use]
    pub fn about(centre: f64, half_width: f64) -> Self {
        Self { low: centre - half_width, high: centre + half_width }
    }

    /// Whether `value` lies inside, ends included.
    #[must_use]
    pub fn contains(&self, value: f64) -> bool {
        self.low <= value && value <= self.high
    }

    /// Half of the interval's width.
    #[must_use]
    pub fn half_width(&self) -> f64 {
        0.5 * (self.high - self.low)
    }
}

impl JsonSchema for Interval {
    fn schema_name() -> Cow<'static, str> {
        "Interval".into()
    }

    fn json_schema(_: &mut SchemaGenerator) -> Schema {
        json_schema!({ "description": "[low, high]", "type": "array", "items": { "type": "number" }, "minItems": 2, "maxItems": 2 })
    }
}

impl Serialize for Interval {
    fn serialize<S: serde::Serializer>(&self, serializer: S) -> Result<S::Ok, S::Error> {
        [self.low, self.high].serialize(serializer)
    }
}

/// A value, its standard uncertainty and the degrees of freedom of that uncertainty.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, JsonSchema)]
pub struct Estimate {
    /// Best estimate, in the unit of the quantity.
    pub value: f64,
    /// Standard uncertainty (JCGM 100:2008, 2.3.1), in the same unit.
    pub standard_uncertainty: f64,
    /// Degrees of freedom of the standard uncertainty; `None` when there is no finite number.
    pub dof: Option<f64>,
}
