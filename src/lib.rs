//! From diameters measured along a turned bar: does the lathe turn parallel, how sure is that, why not, and what to adjust.
//!
//! Data flows one way; a folder imports only from those above it in this list. `DEVELOPERS.md` has the map.

pub mod quantities;
pub mod findings;
pub mod trial;
pub mod ingest;
pub mod physics;
pub mod simulate;
pub mod statistics;
pub mod shape;
pub mod causes;
pub mod conformity;
pub mod correction;
pub mod plan;
pub mod analysis;
pub mod history;
pub mod report;
pub mod output;
pub mod verify;
pub mod cli;
