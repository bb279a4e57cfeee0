//! Worn ways: a smooth, local change of diameter that belongs to the bed.

/// A simple curve of worn ways, mm of diameter: `A·e^(−Z/ℓ)`, most near the headstock.
///
/// A worn front way drops the carriage's front, the tool leans out and the bar is larger there. `bed_mm` = `Z`, the place on the bed (station
/// less the shift of the top slide), `worst_um` = `A` in µm of diameter, `length_mm` = `ℓ`. Used to simulate; the estimate
/// takes any smooth curve. Example: 20 µm and 80 mm give 20 µm at 0 and 7.36 µm at 80 mm.
#[must_use]
pub fn exponential_mm(bed_mm: f64, worst_um: f64, length_mm: f64) -> f64 {
    if length_mm > 0.0 { worst_um / 1000.0 * (-bed_mm / length_mm).exp() } else { 0.0 }
}

/// Roll of the carriage that goes with a change of diameter by worn ways, mm/m: `φ = 1000·g/(2h)`, `g` and `h` in mm.
///
/// Example: 20 µm of diameter at a roll arm of 143.75 mm is 0.0696 mm/m. Assumes that the wear acts by roll alone.
#[must_use]
pub fn roll_mm_per_m(diameter_mm: f64, roll_arm_mm: f64) -> f64 {
    if roll_arm_mm == 0.0 { 0.0 } else { 1000.0 * diameter_mm / (2.0 * roll_arm_mm) }
}

/// End difference of the straight part of a curve, in the curve's unit: least-squares slope over `stations` times their span.
///
/// This part cannot be told from yaw and twist. `None` with fewer than two distinct stations or unlike lengths.
#[must_use]
pub fn straight_end_difference(stations_mm: &[f64], curve: &[f64]) -> Option<f64> {
    if stations_mm.len() != curve.len() || stations_mm.is_empty() {
        return None;
    }
    let n = stations_mm.len() as f64;
    let mean_z = stations_mm.iter().sum::<f64>() / n;
    let mean_g = curve.iter().sum::<f64>() / n;
    let squares: f64 = stations_mm.iter().map(|z| (z - mean_z).powi(2)).sum();
    if squares <= 0.0 {
        return None;
    }
    let product: f64 = stations_mm.iter().zip(curve).map(|(z, g)| (z - mean_z) * (g - mean_g)).sum();
    let first = stations_mm.iter().copied().fold(f64::INFINITY, f64::min);
    let last = stations_mm.iter().copied().fold(f64::NEG_INFINITY, f64::max);
    Some(product / squares * (last - first))
}
