//! What a level's reading says.

/// Coefficients of one level reading in the unknowns: `φ − reference = c ± z₀ + τZ/1000 + roll of worn ways + noise`, mm/m.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct LevelFunctional {
    /// Of the free constant `c`, mm/m.
    pub constant: f64,
    /// Of the level's zero error `z₀`, mm/m: +1, or −1 when it is turned end for end.
    pub zero: f64,
    /// Of the twist `τ`, (mm/m)/m: `Z/1000`.
    pub twist: f64,
    /// Of the way wear's diameter `g(Z)` (mm), divided by the roll arm (mm): `1000/2`; multiply by `1/h`.
    pub way_wear_over_arm: f64,
}

/// The functional of a reading at `Z` mm from the chuck face.
///
/// `roll` is positive with the rear high, whichever way the level faces; turning the level end for end turns its zero error
/// over (the method of reversal, ISO 230-1). Example: at 500 mm a twist of 0.4 (mm/m)/m adds 0.2 mm/m.
#[must_use]
pub fn functional(bed_mm: f64, reversed: bool) -> LevelFunctional {
    LevelFunctional { constant: 1.0, zero: if reversed { -1.0 } else { 1.0 }, twist: bed_mm / 1000.0, way_wear_over_arm: 500.0 }
}
