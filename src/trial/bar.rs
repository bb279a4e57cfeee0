use schemars::JsonSchema;
use serde::Serialize;

/// The bar that is turned.
#[derive(Debug, Clone, PartialEq, Serialize, JsonSchema)]
pub struct Bar {
    /// Named material; `None` when only its constants are stated.
    pub material: Option<Material>,
    /// Young's modulus `E`, GPa.
    pub youngs_modulus_gpa: f64,
    /// Coefficient of thermal expansion, 10⁻⁶/K.
    pub expansion_um_per_m_k: f64,
    /// Kienzle's specific cutting force for 1 mm² of chip, N/mm².
    pub k_c1_mpa: f64,
    /// Kienzle's exponent `m`, dimensionless.
    pub kienzle_exponent: f64,
    /// Diameter, mm.
    pub diameter_mm: f64,
    /// Free length out of the chuck, or between centres, mm.
    pub length_mm: f64,
    /// Where there is metal to cut, `[from, to]` in mm; empty means along the whole length.
    pub collars_mm: Vec<[f64; 2]>,
    /// Diameter between the collars, mm.
    pub relief_diameter_mm: Option<f64>,
    /// How it is held.
    pub holding: Holding,
}

/// How the bar is held.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, JsonSchema)]
#[serde(rename_all = "kebab-case")]
pub enum Holding {
    /// In the chuck, free at the other end.
    Chuck,
    /// Between centres.
    Centres,
    /// In the chuck and on the tailstock centre.
    ChuckAndCentre,
}

/// A named material.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, JsonSchema)]
#[serde(rename_all = "kebab-case")]
pub enum Material {
    /// Low-carbon steel (S235).
    MildSteel,
    /// Heat-treatable alloy steel (42CrMo4).
    AlloySteel,
    /// Austenitic stainless steel.
    Stainless,
    /// Grey cast iron.
    CastIron,
    /// Wrought aluminium alloy.
    Aluminium,
    /// Free-cutting brass.
    Brass,
}
