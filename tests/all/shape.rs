//! Taper and barrel: mixed models against published data, identities, budget and coverage.

mod bench_log;
mod coverage;
mod fit;
mod mixed;
