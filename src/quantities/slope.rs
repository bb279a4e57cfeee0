//! Units of roll and the ways in which a taper is quoted.

use super::MM_PER_INCH;

/// Seconds of arc in a radian, `180·3600/π`.
pub const ARCSEC_PER_RADIAN: f64 = 206_264.806_247_096_36;

/// A unit in which a level's roll may be written.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum SlopeUnit {
    /// Millimetres per metre.
    MmPerM,
    /// Inches per foot.
    InPerFt,
    /// Inches in ten inches.
    InPer10In,
    /// Seconds of arc.
    Arcsec,
    /// Divisions of the level, whose value is the gauge's `division_mm_per_m`.
    Division,
}

impl SlopeUnit {
    /// Factor to mm/m, small angles: `in_per_ft` is 1000/12, `in_per_10in` is 100, an arc second 1000/206 264.8.
    ///
    /// `division_mm_per_m` is the value of one division; `None` comes back for [`SlopeUnit::Division`] without it.
    #[must_use]
    pub fn mm_per_m(self, division_mm_per_m: Option<f64>) -> Option<f64> {
        match self {
            Self::MmPerM => Some(1.0),
            Self::InPerFt => Some(1000.0 / 12.0),
            Self::InPer10In => Some(100.0),
            Self::Arcsec => Some(1000.0 / ARCSEC_PER_RADIAN),
            Self::Division => division_mm_per_m,
        }
    }
}

/// Taper scaled to another length: `taper·over/length`, mm. All arguments in mm.
#[must_use]
pub fn taper_per_length_mm(taper_mm: f64, length_mm: f64, over_mm: f64) -> f64 {
    taper_mm * over_mm / length_mm
}

/// Taper in inches of diameter per foot of length: dimensionless slope times 12.
///
/// Trade's way of quoting a taper; a diameter difference of 0.04 mm in 300 mm is 0.0016 in/ft.
#[must_use]
pub fn taper_per_foot_in(taper_mm: f64, length_mm: f64) -> f64 {
    taper_per_length_mm(taper_mm, length_mm, 12.0 * MM_PER_INCH) / MM_PER_INCH
}

/// Included angle of a cone, seconds of arc: `2·atan(taper/(2·length))`, both in mm.
#[must_use]
pub fn included_angle_arcsec(taper_mm: f64, length_mm: f64) -> f64 {
    2.0 * (taper_mm / (2.0 * length_mm)).atan() * ARCSEC_PER_RADIAN
}
