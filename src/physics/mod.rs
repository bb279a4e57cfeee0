//! What each cause does to a diameter: pure functions, each with its formula and source.
