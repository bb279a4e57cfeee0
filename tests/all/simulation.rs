//! Simulated logs.
