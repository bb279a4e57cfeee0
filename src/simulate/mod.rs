//! Logs from known causes: uses the physics, and nothing that estimates.
