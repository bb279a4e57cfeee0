//! The tool and its holder warm while they cut and grow into the work.

use super::cut_point::CutPoint;

/// Diameter in mm per µm/min of drift: `2t/1000`, `t` = minutes of cutting since the pass began; `None` without any time.
///
/// Drift κ is signed, positive = the bar grows; tool and holder that grow into the work make it negative, about 0.2 µm of radius
/// a minute in finishing (common practice, no source). Example: −0.2 µm/min for 5 min makes −2 µm of diameter.
#[must_use]
pub fn per_unit_mm(point: &CutPoint) -> Option<f64> {
    point.minutes.map(|minutes| 2.0 * minutes / 1000.0)
}
