use crate::trial::{Limit, Quantity, Sense};
use schemars::{JsonSchema, Schema, SchemaGenerator, json_schema};
use serde::Serialize;
use std::borrow::Cow;

/// What a limit allows: from `low` to `high`, in the quantity's own unit, ends included.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Allowed {
    /// Lowest; minus infinity where the quantity cannot be negative.
    pub low: f64,
    /// Highest.
    pub high: f64,
}

impl Allowed {
    /// What `limit` allows of a quantity that belongs to `length_mm`; `None`: to no length, and the limit stands as it is.
    ///
    /// Scaled by [`Limit::scaled_to`]. `either` allows `±limit`, a
    /// directional limit the limit on its side and the floor on the other, so that a perfectly parallel machine can conform. Positive is:
    /// larger at the tailstock end; barrel; away from the tool; upwards.
    ///
    /// Example: 0.02 mm over 300 mm either way on 198 mm allows ±0.0132 mm.
    #[must_use]
    pub fn of(limit: &Limit, length_mm: Option<f64>) -> Self {
        let size = limit.scaled_to(length_mm);
        let floor = limit.floor_mm;
        match limit.sense {
            Sense::LargerAtHeadstock | Sense::Hourglass | Sense::TowardsTool | Sense::Downwards => Self { low: -size, high: floor },
            Sense::LargerAtTailstock | Sense::Barrel | Sense::AwayFromTool | Sense::Upwards => Self { low: -floor, high: size },
            Sense::Either if cannot_be_negative(limit.quantity) => Self { low: f64::NEG_INFINITY, high: size },
            Sense::Either => Self { low: -size, high: size },
        }
    }

    /// Whether `value` lies inside, ends included to a billionth.
    #[must_use]
    pub fn contains(&self, value: f64) -> bool {
        let slack = 1e-9 * self.high.abs().max(value.abs());
        self.low - slack <= value && value <= self.high + slack
    }
}

/// Whether a quantity is a size without direction.
fn cannot_be_negative(quantity: Quantity) -> bool {
    matches!(quantity, Quantity::DiameterConsistency | Quantity::AdjacentBands | Quantity::Roundness | Quantity::LevelVariation)
}

impl JsonSchema for Allowed {
    fn schema_name() -> Cow<'static, str> {
        "Allowed".into()
    }

    fn json_schema(_: &mut SchemaGenerator) -> Schema {
        let about = "[low, high]; low is null where the quantity cannot be negative";
        json_schema!({ "description": about, "type": "array", "items": { "type": ["number", "null"] }, "minItems": 2, "maxItems": 2 })
    }
}

impl Serialize for Allowed {
    fn serialize<S: serde::Serializer>(&self, serializer: S) -> Result<S::Ok, S::Error> {
        [Some(self.low).filter(|low| low.is_finite()), Some(self.high)].serialize(serializer)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn limit(quantity: Quantity, limit_mm: f64, sense: Sense) -> Limit {
        Limit {
            criterion: None,
            quantity,
            limit_mm,
            over_mm: Some(300.0),
            sense,
            floor_mm: 0.005,
            clause: None,
            source: None,
            provenance: None,
            swing_from_mm: None,
            swing_to_mm: None,
        }
    }

    #[test]
    fn limits_scale_with_length_down_to_the_floor() {
        let either = limit(Quantity::Taper, 0.02, Sense::Either);
        assert_eq!(Allowed::of(&either, Some(150.0)), Allowed { low: -0.01, high: 0.01 });
        assert_eq!(Allowed::of(&either, Some(30.0)), Allowed { low: -0.005, high: 0.005 });
        assert_eq!(Allowed::of(&either, None), Allowed { low: -0.02, high: 0.02 });
        let tight = limit(Quantity::Barrel, 0.003, Sense::Either);
        assert_eq!(Allowed::of(&tight, Some(300.0)).high, 0.003, "the floor does not raise a limit");
    }

    #[test]
    fn one_side_has_the_limit_and_the_other_the_floor() {
        let at = |sense| Allowed::of(&limit(Quantity::Taper, 0.04, sense), Some(300.0));
        assert_eq!(at(Sense::LargerAtHeadstock), Allowed { low: -0.04, high: 0.005 });
        assert_eq!(at(Sense::LargerAtTailstock), Allowed { low: -0.005, high: 0.04 });
        for sense in [Sense::Hourglass, Sense::TowardsTool, Sense::Downwards, Sense::Barrel, Sense::AwayFromTool, Sense::Upwards] {
            assert!(at(sense).contains(0.0) && at(sense).contains(0.04) != at(sense).contains(-0.04));
        }
        let size = Allowed::of(&limit(Quantity::Roundness, 0.01, Sense::Either), None);
        assert!(size.contains(0.0) && size.contains(0.01) && !size.contains(0.0101));
    }
}
