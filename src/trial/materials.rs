use super::Material;

/// Constants of a material that the physics needs.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct MaterialConstants {
    /// Young's modulus `E`, GPa.
    pub youngs_modulus_gpa: f64,
    /// Coefficient of thermal expansion at 20 °C, 10⁻⁶/K.
    pub expansion_um_per_m_k: f64,
    /// Kienzle's specific cutting force for a chip of 1 mm × 1 mm, `k_c1.1`, N/mm².
    pub k_c1_mpa: f64,
    /// Kienzle's exponent `m`, dimensionless.
    pub kienzle_exponent: f64,
    /// Where the four values come from, for the page.
    pub source: &'static str,
}

impl Material {
    /// All named materials, in the contract's order.
    pub const ALL: [Self; 6] = [Self::MildSteel, Self::AlloySteel, Self::Stainless, Self::CastIron, Self::Aluminium, Self::Brass];

    /// The name that `trial.toml` uses.
    #[must_use]
    pub fn name(self) -> &'static str {
        match self {
            Self::MildSteel => "mild-steel",
            Self::AlloySteel => "alloy-steel",
            Self::Stainless => "stainless",
            Self::CastIron => "cast-iron",
            Self::Aluminium => "aluminium",
            Self::Brass => "brass",
        }
    }

    /// Typical constants of the material.
    ///
    /// All Kienzle values are from memory of the usual tables and scatter by 10 to 20 % between texts. The expansion of steel,
    /// 11.5 · 10⁻⁶/K, is that of JCGM 100:2008, example H.1; every other expansion and every modulus is from memory.
    ///
    /// ```
    /// # use taperwright::trial::Material;
    /// assert_eq!(Material::MildSteel.constants().expansion_um_per_m_k, 11.5);
    /// ```
    #[must_use]
    pub fn constants(self) -> MaterialConstants {
        let (youngs_modulus_gpa, expansion_um_per_m_k, k_c1_mpa, kienzle_exponent, source) = match self {
            Self::MildSteel => (206.0, 11.5, 1780.0, 0.17, "S235: expansion JCGM 100:2008 H.1; modulus and Kienzle values from memory"),
            Self::AlloySteel => (206.0, 11.5, 2500.0, 0.26, "42CrMo4: expansion JCGM 100:2008 H.1; modulus and Kienzle values from memory"),
            Self::Stainless => (200.0, 16.0, 2350.0, 0.21, "austenitic 18/8: all from memory"),
            Self::CastIron => (110.0, 10.5, 1160.0, 0.26, "grey iron GJL-250: all from memory"),
            Self::Aluminium => (70.0, 23.5, 700.0, 0.25, "wrought alloy: all from memory"),
            Self::Brass => (100.0, 19.0, 780.0, 0.18, "free-cutting brass: all from memory"),
        };
        MaterialConstants { youngs_modulus_gpa, expansion_um_per_m_k, k_c1_mpa, kienzle_exponent, source }
    }
}
