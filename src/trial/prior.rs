use schemars::JsonSchema;
use serde::Serialize;

/// The `[prior]` table: prior standard deviations, medians and factors (defaults: common practice, no source).
#[derive(Debug, Clone, PartialEq, Serialize, JsonSchema)]
pub struct Prior {
    /// Headstock yaw, mm/m.
    pub yaw_mm_per_m: f64,
    /// Bed twist, (mm/m)/m.
    pub twist_mm_per_m_per_m: f64,
    /// Tool wear, µm of radius per metre of bar that the pass has cut along (half-normal).
    pub wear_um_per_m: f64,
    /// Multiplicative standard deviation of the cutting force around Kienzle's (log-normal).
    pub force_factor: f64,
    /// Tilt compliance of the chuck `c₂`-scale, µrad per N·m.
    pub chuck_tilt_urad_per_nm: f64,
    /// Compliance of a centre, µm/N.
    pub centre_compliance_um_per_n: f64,
    /// Multiplicative standard deviation of each gauge's noise around its data sheet (log-normal).
    pub gauge_noise_factor: f64,
    /// Extra wear of a fresh edge `w₀`, µm of radius.
    pub fresh_edge_um: f64,
    /// Cutting path (metres of surface past the edge, not of bar) over which a fresh edge settles `s₀`, m.
    pub fresh_edge_m: f64,
    /// Tailstock offset, mm.
    pub offset_mm: f64,
    /// Way wear at its worst place, µm.
    pub way_wear_um: f64,
    /// Length over which way wear varies, mm.
    pub way_wear_length_mm: f64,
    /// Thermal drift, µm of radius per minute.
    pub thermal_drift_um_per_min: f64,
    /// Twist of the free bed, (mm/m)/m.
    pub free_twist_mm_per_m_per_m: f64,
    /// Median of the gain `G` of a move.
    pub move_gain: f64,
    /// Multiplicative standard deviation of that gain (log-normal).
    pub move_gain_factor: f64,
    /// Prior probability that a cause is more than negligible.
    pub presence: f64,
}

impl Default for Prior {
    fn default() -> Self {
        Self {
            yaw_mm_per_m: 0.08,
            twist_mm_per_m_per_m: 0.4,
            wear_um_per_m: 12.0,
            force_factor: 2.0,
            chuck_tilt_urad_per_nm: 20.0,
            centre_compliance_um_per_n: 0.05,
            gauge_noise_factor: 1.5,
            fresh_edge_um: 2.0,
            fresh_edge_m: 20.0,
            offset_mm: 0.05,
            way_wear_um: 10.0,
            way_wear_length_mm: 150.0,
            thermal_drift_um_per_min: 0.2,
            free_twist_mm_per_m_per_m: 0.2,
            move_gain: 0.8,
            move_gain_factor: 1.5,
            presence: 0.5,
        }
    }
}
