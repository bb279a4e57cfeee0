//! Taper and barrel: identities, budget and coverage.
