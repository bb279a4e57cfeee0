//! Units of length and their conversion to millimetres.

/// Millimetres in an inch, exact (international inch, 1959 agreement).
pub const MM_PER_INCH: f64 = 25.4;
/// Millimetres in a thousandth of an inch, exact.
pub const MM_PER_THOU: f64 = 0.0254;

/// A unit in which a length may be written in a log.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum LengthUnit {
    /// Millimetre.
    Millimetre,
    /// Micrometre.
    Micrometre,
    /// Centimetre.
    Centimetre,
    /// Metre.
    Metre,
    /// Inch.
    Inch,
    /// Thousandth of an inch.
    Thou,
}

impl LengthUnit {
    /// Factor to millimetres: `mm = factor · value`. For thou it is 0.0254.
    #[must_use]
    pub fn mm(self) -> f64 {
        match self {
            Self::Millimetre => 1.0,
            Self::Micrometre => 1e-3,
            Self::Centimetre => 10.0,
            Self::Metre => 1000.0,
            Self::Inch => MM_PER_INCH,
            Self::Thou => MM_PER_THOU,
        }
    }

    /// The unit written as `text` (case-blind; `mm`, `um`, `µm`, `cm`, `m`, `in`, `inch`, `"`, `thou`, `mil`), or `None`.
    ///
    /// ```
    /// # use taperwright::quantities::LengthUnit;
    /// assert_eq!(LengthUnit::parse("Thou"), Some(LengthUnit::Thou));
    /// assert_eq!(LengthUnit::parse("furlong"), None);
    /// ```
    #[must_use]
    pub fn parse(text: &str) -> Option<Self> {
        match text.trim().trim_end_matches('.').to_lowercase().as_str() {
            "mm" | "millimetre" | "millimetres" | "millimeter" | "millimeters" => Some(Self::Millimetre),
            "um" | "µm" | "μm" | "micron" | "microns" | "micrometre" | "micrometres" => Some(Self::Micrometre),
            "cm" => Some(Self::Centimetre),
            "m" | "metre" | "metres" | "meter" | "meters" => Some(Self::Metre),
            "in" | "inch" | "inches" | "\"" | "″" | "”" | "''" => Some(Self::Inch),
            "thou" | "thous" | "mil" | "mils" => Some(Self::Thou),
            _ => None,
        }
    }
}
