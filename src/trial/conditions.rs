use schemars::JsonSchema;
use serde::Serialize;

/// The `[conditions]` table.
#[derive(Debug, Clone, PartialEq, Serialize, JsonSchema)]
pub struct Conditions {
    /// Room temperature, °C.
    pub temperature_c: f64,
    /// Half-width of how unlike the temperatures of the bar's ends may be, K.
    pub temperature_spread_c: f64,
}
