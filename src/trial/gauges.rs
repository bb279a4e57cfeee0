use super::Holding;
use schemars::JsonSchema;
use serde::Serialize;
use std::collections::BTreeMap;

/// The gauges of a trial.
#[derive(Debug, Clone, PartialEq, Serialize, JsonSchema)]
pub struct Gauges {
    /// The gauge of readings that name none.
    pub diameter: DiameterGauge,
    /// Further diameter gauges, by the name that the log's `gauge` column uses.
    pub diameter_named: BTreeMap<String, DiameterGauge>,
    /// The precision level.
    pub level: LevelGauge,
    /// The dial indicator.
    pub indicator: IndicatorGauge,
}

impl Gauges {
    /// The gauge called `name`, or the default one for `None` and for a name without a table.
    #[must_use]
    pub fn diameter_gauge(&self, name: Option<&str>) -> &DiameterGauge {
        name.and_then(|name| self.diameter_named.get(name)).unwrap_or(&self.diameter)
    }

    /// Which gauge `name` is, so that equal answers are one gauge: `None` for the default one, which readings without a name and those that name it by its name or
    /// serial number have. A name without a table is a gauge of its own.
    #[must_use]
    pub fn diameter_name<'n>(&self, name: Option<&'n str>) -> Option<&'n str> {
        let default = [self.diameter.name.as_deref(), self.diameter.serial.as_deref()];
        name.filter(|name| self.diameter_named.contains_key(*name) || !default.contains(&Some(*name)))
    }
}

/// A gauge for diameters: micrometer, comparator, in-process gauge.
#[derive(Debug, Clone, PartialEq, Serialize, JsonSchema)]
pub struct DiameterGauge {
    /// Name for the page.
    pub name: Option<String>,
    /// Serial number.
    pub serial: Option<String>,
    /// Date of calibration.
    pub calibrated: Option<String>,
    /// Number of the certificate.
    pub certificate: Option<String>,
    /// Smallest step of the reading `q`, mm.
    pub resolution_mm: f64,
    /// Standard uncertainty of touch and reading of one reading, without calibration, mm.
    pub u_mm: f64,
    /// Standard uncertainty of calibration, common to all readings, mm.
    pub calibration_u_mm: f64,
}

/// A precision level.
#[derive(Debug, Clone, PartialEq, Serialize, JsonSchema)]
pub struct LevelGauge {
    /// Name for the page.
    pub name: Option<String>,
    /// Serial number.
    pub serial: Option<String>,
    /// Date of calibration.
    pub calibrated: Option<String>,
    /// Number of the certificate.
    pub certificate: Option<String>,
    /// Standard uncertainty of one reading, mm/m.
    pub u_mm_per_m: f64,
    /// Value of one division, mm/m.
    pub division_mm_per_m: Option<f64>,
}

/// A dial or lever indicator.
#[derive(Debug, Clone, PartialEq, Serialize, JsonSchema)]
pub struct IndicatorGauge {
    /// Name for the page.
    pub name: Option<String>,
    /// Serial number.
    pub serial: Option<String>,
    /// Date of calibration.
    pub calibrated: Option<String>,
    /// Number of the certificate.
    pub certificate: Option<String>,
    /// Standard uncertainty of one reading, mm.
    pub u_mm: f64,
}

/// The ground test bar along which an indicator runs.
#[derive(Debug, Clone, PartialEq, Serialize, JsonSchema)]
pub struct TestBar {
    /// Taper over `length_mm` from its certificate, µm on the diameter, positive = larger at the tailstock end.
    pub taper_um: f64,
    /// Standard uncertainty of that taper, µm.
    pub u_um: f64,
    /// Length to which both belong, mm.
    pub length_mm: f64,
    /// Its diameter, mm: how much it sags. `None` when not stated.
    pub diameter_mm: Option<f64>,
    /// How it is held.
    pub holding: Holding,
    /// Whether it was turned in this very chucking: then it is no evidence.
    pub turned_here: bool,
}

impl TestBar {
    /// A ground bar with the contract's defaults, held so: 0 ± 1 µm over 200 mm.
    #[must_use]
    pub fn usual(holding: Holding) -> Self {
        Self { taper_um: 0.0, u_um: 1.0, length_mm: 200.0, diameter_mm: None, holding, turned_here: false }
    }
}
