//! The house keeps its own rules: which folder may import which.
