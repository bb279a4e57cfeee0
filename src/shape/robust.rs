//! A robust taper beside the least-squares one.

use super::Robust;
use super::cut::Cut;
use super::taper_fit::TaperFit;

pub(super) fn robust_taper(_cut: &Cut<'_>, fit: &TaperFit) -> Robust {
    Robust { method: "none".to_owned(), value: fit.taper.value }
}
