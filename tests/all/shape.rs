//! Taper and barrel: mixed models against published data, identities, budget and coverage.

pub mod bench_log;
mod budget;
mod budget_by_hand;
mod by_hand;
mod checks;
mod coverage;
mod edges;
mod fit;
mod fit_readings;
mod fit_rules;
mod gauges;
mod identities;
mod long_logs;
mod mixed;
mod orders;
mod passes;
mod reference;
mod steps;
mod thresholds;
