//! Statistics against published values and reference libraries.
