//! What to adjust: against hand-worked cases, statics, the samples' truths, and in a closed loop.

#[path = "correction/advice.rs"]
mod advice;
#[path = "correction/contradiction.rs"]
mod contradiction;
#[path = "correction/geometry.rs"]
mod geometry;
#[path = "correction/learning.rs"]
mod learning;
#[path = "correction/machine.rs"]
mod machine;
#[path = "correction/one_cause.rs"]
mod one_cause;
#[path = "correction/rivals.rs"]
mod rivals;
#[path = "correction/bed_against.rs"]
mod bed_against;
#[path = "correction/closed_loop.rs"]
mod closed_loop;
#[path = "correction/steep.rs"]
mod steep;
