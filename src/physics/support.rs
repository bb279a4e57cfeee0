//! How a bar is held, and what that does to forces and to displacements of its ends.

use super::beam::Beam;
use crate::trial::{Bar, Holding};

/// Newton-millimetres from the prior's unit: 1 µrad/(N·m) = 10⁻⁹ rad/(N·mm).
pub const RAD_PER_NMM_OF_URAD_PER_NM: f64 = 1e-9;
/// Millimetres per newton from the prior's unit: 1 µm/N = 10⁻³ mm/N.
pub const MM_PER_N_OF_UM_PER_N: f64 = 1e-3;
/// Least firmness that is told from 0 (a chuck that does not resist tilting at all).
const LEAST_FIRMNESS: f64 = 1e-6;

/// What yields besides the bar.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Compliances {
    /// Tilt of the bar in the chuck `c₂ = 1/k_r`, rad per N·mm.
    pub chuck_tilt_rad_per_nmm: f64,
    /// Headstock centre `1/k_h`, mm/N.
    pub headstock_centre_mm_per_n: f64,
    /// Tailstock centre `1/k_t`, mm/N.
    pub tailstock_centre_mm_per_n: f64,
}

impl Compliances {
    /// Rigid chuck and centres.
    pub const RIGID: Self = Self { chuck_tilt_rad_per_nmm: 0.0, headstock_centre_mm_per_n: 0.0, tailstock_centre_mm_per_n: 0.0 };

    /// From the units of `[prior]`: chuck tilt in µrad/(N·m), one compliance for both centres in µm/N.
    #[must_use]
    pub fn from_prior_units(chuck_tilt_urad_per_nm: f64, centre_compliance_um_per_n: f64) -> Self {
        let centre = centre_compliance_um_per_n * MM_PER_N_OF_UM_PER_N;
        Self {
            chuck_tilt_rad_per_nmm: chuck_tilt_urad_per_nm * RAD_PER_NMM_OF_URAD_PER_NM,
            headstock_centre_mm_per_n: centre,
            tailstock_centre_mm_per_n: centre,
        }
    }
}

/// A bar held in the lathe.
#[derive(Debug, Clone, PartialEq)]
pub struct Support {
    /// How it is held.
    pub holding: Holding,
    /// The bar.
    pub beam: Beam,
    /// What yields besides it.
    pub compliances: Compliances,
}

impl Support {
    /// The bar of a trial with stated compliances.
    #[must_use]
    pub fn of_bar(bar: &Bar, compliances: Compliances) -> Self {
        Self { holding: bar.holding, beam: Beam::of_bar(bar), compliances }
    }

    /// The same bar in a chuck whose firmness is `λ` (see [`Support::firmness`]), clamped to `[10⁻⁶, 1]`.
    ///
    /// `c₂ = B(1 − λ)/(λL²)`, `B` the cantilever's compliance at its free end.
    #[must_use]
    pub fn with_firmness(mut self, firmness: f64) -> Self {
        let firmness = firmness.clamp(LEAST_FIRMNESS, 1.0);
        let length = self.beam.length_mm();
        let end = self.beam.cantilever_mm_per_n(length, length);
        self.compliances.chuck_tilt_rad_per_nmm = if length > 0.0 { end * (1.0 - firmness) / (firmness * length * length) } else { 0.0 };
        self
    }

    /// How firmly the chuck holds the bar against tilting: `λ = B/(B + c₂L²)`, 1 for a rigid chuck, towards 0 for a short grip.
    ///
    /// For a uniform bar `B = L³/(3EI)`, so `λ = β/(3 + β)` with `β = k_r·L/(EI)`. Slope-deflection of a beam clamped
    /// through a spring. Example: β = 3 gives λ = 0.5.
    #[must_use]
    pub fn firmness(&self) -> f64 {
        let length = self.beam.length_mm();
        let end = self.beam.cantilever_mm_per_n(length, length);
        let tilt = self.compliances.chuck_tilt_rad_per_nmm * length * length;
        if end + tilt > 0.0 { end / (end + tilt) } else { 1.0 }
    }

    /// Share of a sideways displacement of the tailstock centre that the bar follows at `z`, dimensionless, 0 at the headstock.
    ///
    /// In a chuck 0; between centres `ζ = z/L`; in chuck and centre `λ(3ζ² − ζ³)/2 + (1 − λ)ζ` for a uniform bar: the
    /// shape of a cantilever pushed at its end, tilting in the chuck. A stepped bar takes the shape of its own sections.
    #[must_use]
    pub fn centre_share(&self, z_mm: f64) -> f64 {
        let length = self.beam.length_mm();
        if length <= 0.0 {
            return 0.0;
        }
        let zeta = z_mm / length;
        match self.holding {
            Holding::Chuck => 0.0,
            Holding::Centres => zeta,
            Holding::ChuckAndCentre => {
                let end = self.beam.cantilever_mm_per_n(length, length);
                let bent = if end > 0.0 { self.beam.cantilever_mm_per_n(z_mm, length) / end } else { zeta };
                let firmness = self.firmness();
                firmness * bent + (1.0 - firmness) * zeta
            }
        }
    }

    /// How far the bar leaves the path of its chuck end at `z` per unit of slope there, mm: `z − L·w(z)`, `w` = [`Support::centre_share`].
    ///
    /// This is the curve of yaw and of twist alike: `z` in a chuck, 0 between centres,
    /// `λL(ζ − 3ζ²/2 + ζ³/2)` in chuck and centre.
    #[must_use]
    pub fn slope_arm_mm(&self, z_mm: f64) -> f64 {
        match self.holding {
            Holding::Chuck => z_mm,
            Holding::Centres => 0.0,
            Holding::ChuckAndCentre => z_mm - self.beam.length_mm() * self.centre_share(z_mm),
        }
    }

    /// How far the bar gives way at the tool, mm per newton of radial force at `z`.
    ///
    /// - chuck: `a(z,z) + c₂z²`, `a` the cantilever's flexibility;
    /// - centres: bending on two supports, `+ (1−ζ)²/k_h + ζ²/k_t`;
    /// - chuck and centre: `A(z,z) − A(L,z)²/(A(L,L) + 1/k_t)` with `A(x,z) = a(x,z) + c₂xz`: the centre's reaction is
    ///   what closes the gap there. For a rigid chuck and uniform bar this is `z³(L−z)²(4L−z)/(12EIL³)` plus, to
    ///   first order in `1/k_t`, `(z²(3L−z)/(2L³))²/k_t` (the exact form also stays right where the centre yields more than the bar).
    #[must_use]
    pub fn compliance_mm_per_n(&self, z_mm: f64) -> f64 {
        self.at(z_mm).compliance_mm_per_n(&self.compliances)
    }

    /// The bar at the tool's place `z`, for [`TurnedPlace::compliance_mm_per_n`] with many different compliances.
    #[must_use]
    pub fn at(&self, z_mm: f64) -> TurnedPlace {
        let (beam, length_mm) = (&self.beam, self.beam.length_mm());
        let own_mm_per_n = match self.holding {
            Holding::Centres => beam.simply_supported_mm_per_n(z_mm),
            Holding::Chuck | Holding::ChuckAndCentre => beam.cantilever_mm_per_n(z_mm, z_mm),
        };
        let (end_mm_per_n, between_mm_per_n) = match self.holding {
            Holding::ChuckAndCentre => (beam.cantilever_mm_per_n(length_mm, length_mm), beam.cantilever_mm_per_n(length_mm, z_mm)),
            Holding::Chuck | Holding::Centres => (0.0, 0.0),
        };
        TurnedPlace { holding: self.holding, z_mm, length_mm, own_mm_per_n, end_mm_per_n, between_mm_per_n }
    }
}

/// A place along a held bar with what the bar itself gives way there, its supports rigid.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct TurnedPlace {
    holding: Holding,
    z_mm: f64,
    length_mm: f64,
    /// Here under a force here, mm/N: on two supports between centres, else of a cantilever.
    own_mm_per_n: f64,
    /// In chuck and centre, of a cantilever: at its end under a force there, mm/N.
    end_mm_per_n: f64,
    /// In chuck and centre, of a cantilever: here under a force at its end, mm/N.
    between_mm_per_n: f64,
}

impl TurnedPlace {
    /// [`Support::compliance_mm_per_n`] here, with these compliances.
    #[must_use]
    pub fn compliance_mm_per_n(&self, yielding: &Compliances) -> f64 {
        let (z_mm, length) = (self.z_mm, self.length_mm);
        let tilt = yielding.chuck_tilt_rad_per_nmm;
        match self.holding {
            Holding::Chuck => self.own_mm_per_n + tilt * z_mm * z_mm,
            Holding::Centres => {
                let zeta = if length > 0.0 { z_mm / length } else { 0.0 };
                self.own_mm_per_n
                    + (1.0 - zeta).powi(2) * yielding.headstock_centre_mm_per_n
                    + zeta.powi(2) * yielding.tailstock_centre_mm_per_n
            }
            Holding::ChuckAndCentre => {
                let end = self.end_mm_per_n + tilt * length * length + yielding.tailstock_centre_mm_per_n;
                let own = self.own_mm_per_n + tilt * z_mm * z_mm;
                let between = self.between_mm_per_n + tilt * length * z_mm;
                if end > 0.0 { (own - between.powi(2) / end).max(0.0) } else { own }
            }
        }
    }
}
