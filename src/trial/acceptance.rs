use schemars::JsonSchema;
use serde::Serialize;

/// The `[acceptance]` table with the limits of its criteria set resolved.
#[derive(Debug, Clone, Default, PartialEq, Serialize, JsonSchema)]
pub struct Acceptance {
    /// Name of a built-in set, or what a criteria file calls itself; a file that calls itself as a built-in set goes by its file's name.
    pub criteria: Option<String>,
    /// The file of the limits, where they are not a built-in set's.
    pub file: Option<CriteriaFile>,
    /// Title of that set.
    pub title: Option<String>,
    /// Where its limits come from.
    pub source: Option<String>,
    /// Rule of decision; `None`: the guard band.
    pub decision_rule: Option<DecisionRule>,
    /// Probability of conformity that is asked for; `None`: 0.95.
    pub probability: Option<f64>,
    /// Limits that apply to this machine, those of the criteria first.
    pub limit: Vec<Limit>,
    /// Limits of the criteria that are for other swings than the machine's.
    pub left_out: usize,
}

/// A file from which limits were read.
#[derive(Debug, Clone, Default, PartialEq, Serialize, JsonSchema)]
pub struct CriteriaFile {
    /// Its name, as the inputs list it.
    pub name: String,
    /// Whether it was chosen on the command line; else the trial names it and holds it.
    pub chosen: bool,
    /// The built-in set as which it, or its file, calls itself.
    pub called_as: Option<String>,
    /// In what its limits for this machine are not those of that set.
    pub unlike: Vec<UnlikeBuiltIn>,
    /// Whether its rule of decision is another than that set's.
    pub other_rule: bool,
}

/// A limit of a file that calls itself as a built-in set, and the built-in set's; either may have none.
#[derive(Debug, Clone, PartialEq, Serialize, JsonSchema)]
pub struct UnlikeBuiltIn {
    /// What is limited.
    pub quantity: Quantity,
    /// What the file states.
    pub file: Option<LimitStated>,
    /// What the built-in set states.
    pub built_in: Option<LimitStated>,
}

/// What decides of a limit.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, JsonSchema)]
pub struct LimitStated {
    /// The limit, in the unit of [`Limit::limit_mm`].
    pub limit_mm: f64,
    /// Length to which it belongs, mm.
    pub over_mm: Option<f64>,
    /// The deviation that is allowed.
    pub sense: Sense,
    /// What is allowed the other way, mm.
    pub floor_mm: f64,
}

impl From<&Limit> for LimitStated {
    fn from(limit: &Limit) -> Self {
        Self { limit_mm: limit.limit_mm, over_mm: limit.over_mm, sense: limit.sense, floor_mm: limit.floor_mm }
    }
}

/// How a limit and an uncertainty make a decision.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, JsonSchema)]
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
#[derive(Debug, Clone, PartialEq, Serialize, JsonSchema)]
pub struct Limit {
    /// Name of the set that it comes from; `None`: stated in `trial.toml`.
    pub criterion: Option<String>,
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
    /// Whether the value was read in its source; `None`: nobody says.
    pub provenance: Option<Provenance>,
    /// Smallest swing to which it applies, mm.
    pub swing_from_mm: Option<f64>,
    /// Largest swing to which it applies, mm.
    pub swing_to_mm: Option<f64>,
}

impl Limit {
    /// A limit of `limit_mm` either way, stated for this trial: no length, no floor, for any swing.
    #[must_use]
    pub fn either_way(quantity: Quantity, limit_mm: f64) -> Self {
        Self {
            criterion: None,
            quantity,
            limit_mm,
            over_mm: None,
            sense: Sense::Either,
            floor_mm: 0.0,
            clause: None,
            source: None,
            provenance: None,
            swing_from_mm: None,
            swing_to_mm: None,
        }
    }

    /// The limit over `length_mm`: `limit·length/over`, but not less than the floor, nor does the floor raise the limit itself. As stated where it
    /// belongs to no length, or `length_mm` is `None`.
    #[must_use]
    pub fn scaled_to(&self, length_mm: Option<f64>) -> f64 {
        let scaled = match (self.over_mm.filter(|over| *over > 0.0), length_mm) {
            (Some(over), Some(length)) => self.limit_mm * length / over,
            _ => self.limit_mm,
        };
        scaled.max(self.floor_mm.min(self.limit_mm))
    }

    /// Whether the floor has a part in what is allowed over `length_mm`: of a directional limit always, of another where scaling would bring it below.
    #[must_use]
    pub fn floor_counts(&self, length_mm: Option<f64>) -> bool {
        let scaled = self.over_mm.filter(|over| *over > 0.0).zip(length_mm).map(|(over, length)| self.limit_mm * length / over);
        self.sense != Sense::Either || scaled.is_some_and(|scaled| scaled < self.floor_mm.min(self.limit_mm))
    }

    /// Whether the limit applies to a machine of that swing, ends included; an unknown swing leaves no limit out.
    #[must_use]
    pub fn applies_to(&self, swing_mm: Option<f64>) -> bool {
        let from = self.swing_from_mm.unwrap_or(0.0);
        swing_mm.is_none_or(|swing| swing >= from && self.swing_to_mm.is_none_or(|to| swing <= to))
    }
}

/// A quantity that a limit may bind.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, JsonSchema)]
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

impl Quantity {
    /// All ten, in the contract's order.
    pub const ALL: [Self; 10] = [
        Self::Taper,
        Self::Barrel,
        Self::DiameterConsistency,
        Self::AdjacentBands,
        Self::Roundness,
        Self::SpindleParallelismHorizontal,
        Self::SpindleParallelismVertical,
        Self::LevelVariation,
        Self::TailstockHeight,
        Self::TailstockOffset,
    ];

    /// Its name, as the contract writes it.
    #[must_use]
    pub fn name(self) -> &'static str {
        match self {
            Self::Taper => "taper",
            Self::Barrel => "barrel",
            Self::DiameterConsistency => "diameter-consistency",
            Self::AdjacentBands => "adjacent-bands",
            Self::Roundness => "roundness",
            Self::SpindleParallelismHorizontal => "spindle-parallelism-horizontal",
            Self::SpindleParallelismVertical => "spindle-parallelism-vertical",
            Self::LevelVariation => "level-variation",
            Self::TailstockHeight => "tailstock-height",
            Self::TailstockOffset => "tailstock-offset",
        }
    }

    /// Unit of its limit: `mm`, `mm/m` for the level, none for the ratio of bands.
    #[must_use]
    pub fn unit(self) -> &'static str {
        match self {
            Self::LevelVariation => "mm/m",
            Self::AdjacentBands => "",
            _ => "mm",
        }
    }
}

/// The deviation that a limit allows.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, JsonSchema)]
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

impl Sense {
    /// Its name, as the contract writes it.
    #[must_use]
    pub fn name(self) -> &'static str {
        match self {
            Self::Either => "either",
            Self::LargerAtHeadstock => "larger-at-headstock",
            Self::LargerAtTailstock => "larger-at-tailstock",
            Self::Barrel => "barrel",
            Self::Hourglass => "hourglass",
            Self::TowardsTool => "towards-tool",
            Self::AwayFromTool => "away-from-tool",
            Self::Upwards => "upwards",
            Self::Downwards => "downwards",
        }
    }
}

/// Whether anybody compared a published value with its source.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, JsonSchema)]
#[serde(rename_all = "kebab-case")]
pub enum Provenance {
    /// Read in the source itself.
    Read,
    /// Not compared with the source: written down from memory or at second hand.
    FromMemory,
}
