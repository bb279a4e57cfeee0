//! The linear unknowns of a trial: the causes' parameters and the nuisances that go with them.

use super::values::CauseKind;
use std::sync::Arc;

/// The negligible part of a cause has this share of the standard deviation of its full part.
pub(super) const NEGLIGIBLE: f64 = 0.05;

/// What an unknown is.
#[derive(Debug, Clone, PartialEq)]
pub(super) enum Meaning {
    /// Zero error of the level, mm/m.
    LevelZero,
    /// Deviation of the test bar's taper from its certificate, µm over its length.
    BarTaper,
    /// Twist that tightening a foot adds (the first three of a setting's clamp log), (mm/m)/m.
    ClampStep { setting: u32, foot: usize },
    /// Twist of the free bed, (mm/m)/m.
    FreeTwist { setting: u32 },
    /// The bar out of line with the ways vertically: rise of its diameter per mm of its length; one bar and one tool height for all settings.
    Vertical,
    /// Bar and gauge at unlike temperatures from one end to the other: rise of the diameters read over the tested length, mm; a longer
    /// bar that could be cut next is measured by itself.
    Warmth { setting: u32, longer: bool },
    /// Weight of a smooth curve of worn ways, in standard deviations.
    WayWear { index: usize },
    /// Twist of the first setting of a chain of logged moves, (mm/m)/m.
    Twist { root: u32 },
    /// Headstock yaw, mm/m.
    Yaw,
    /// Thermal drift, µm/min.
    Drift,
    /// Tailstock offset, mm.
    Offset { setting: u32 },
    /// Wear rate of an edge, µm/m.
    Wear { edge: Option<Arc<str>> },
    /// Extra wear of a fresh edge, µm.
    FreshEdge { edge: Option<Arc<str>> },
}

impl Meaning {
    /// The cause it belongs to; `None` for a nuisance.
    pub(super) fn cause(&self) -> Option<CauseKind> {
        match self {
            Self::LevelZero | Self::BarTaper | Self::ClampStep { .. } | Self::FreeTwist { .. } | Self::Vertical | Self::Warmth { .. } => {
                None
            }
            Self::WayWear { .. } => Some(CauseKind::WayWear),
            Self::Twist { .. } => Some(CauseKind::BedTwist),
            Self::Yaw => Some(CauseKind::HeadstockYaw),
            Self::Drift => Some(CauseKind::ThermalDrift),
            Self::Offset { .. } => Some(CauseKind::TailstockOffset),
            Self::Wear { .. } | Self::FreshEdge { .. } => Some(CauseKind::ToolWear),
        }
    }

    /// Whether it cannot be negative.
    pub(super) fn non_negative(&self) -> bool {
        matches!(self, Self::Wear { .. } | Self::FreshEdge { .. })
    }
}

/// One linear unknown with its prior: normal, or half-normal where it cannot be negative.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Unknown {
    /// What it is.
    pub(super) meaning: Meaning,
    /// Standard deviation of its full prior, in its unit.
    pub(super) sd: f64,
    /// The presence that it shares; `None` for nuisances, which are always full.
    pub(super) flag: Option<usize>,
}
