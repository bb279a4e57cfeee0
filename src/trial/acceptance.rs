use serde::Serialize;

/// The `[acceptance]` table with the limits of its criteria set resolved.
#[derive(Debug, Clone, Default, PartialEq, Serialize)]
pub struct Acceptance {
    /// Name of a built-in set or of a criteria file.
    pub criteria: Option<String>,
    /// Rule of decision that the criteria state.
    pub decision_rule: Option<DecisionRule>,
    /// All limits, those of the criteria first.
    pub limit: Vec<Limit>,
}

/// How a limit and an uncertainty make a decision.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize)]
#[serde(rename_all = "kebab-case")]
pub enum DecisionRule {
    /// Guard band of ISO 14253-1.
    GuardBand,
    /// Simple acceptance.
    Simple,
    /// Stated probability of conformity.
    Probability,
}

/// One limit.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Limit {
    /// What is limited.
    pub quantity: Quantity,
    /// The limit, mm (for `level-variation` mm/m; for `adjacent-bands` a ratio).
    pub limit_mm: f64,
    /// Length to which it belongs, mm.
    pub over_mm: Option<f64>,
    /// The deviation that is allowed.
    pub sense: Sense,
    /// What a directional limit still allows the other way, and the least limit after scaling, mm.
    pub floor_mm: f64,
    /// Clause of the source.
    pub clause: Option<String>,
    /// Source of the limit.
    pub source: Option<String>,
    /// Whether the value was read in its source.
    pub provenance: Option<Provenance>,
    /// Smallest swing to which it applies, mm.
    pub swing_from_mm: Option<f64>,
    /// Largest swing to which it applies, mm.
    pub swing_to_mm: Option<f64>,
}

/// A quantity that a limit may bind.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize)]
#[serde(rename_all = "kebab-case")]
#[allow(missing_docs, reason = "the names are the contract's own words")]
pub enum Quantity {
    Taper,
    Barrel,
    DiameterConsistency,
    AdjacentBands,
    Roundness,
    SpindleParallelismHorizontal,
    SpindleParallelismVertical,
    LevelVariation,
    TailstockHeight,
    TailstockOffset,
}

/// The deviation that a limit allows.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize)]
#[serde(rename_all = "kebab-case")]
#[allow(missing_docs, reason = "the names are the contract's own words")]
pub enum Sense {
    Either,
    LargerAtHeadstock,
    LargerAtTailstock,
    Barrel,
    Hourglass,
    TowardsTool,
    AwayFromTool,
    Upwards,
    Downwards,
}

/// Where a published value was taken from.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize)]
#[serde(rename_all = "kebab-case")]
pub enum Provenance {
    /// Read in the source.
    Read,
    /// From memory; not verified against the source.
    FromMemory,
}
