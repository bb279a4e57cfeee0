//! The sections of the page: each turns a part of the analysis into ready strings for its template.

pub mod budget;
pub mod checks;
pub mod diameters;
pub mod found;
pub mod records;
pub mod residuals;
pub mod unknown;
