//! Logs from known causes: for demonstration, for teaching and for proving the estimate. Uses the physics, and nothing that estimates.
//!
//! [`simulate`] answers a `[simulate]` table with log files and the truth beside them. [`laid_out`], [`Nature`] and [`read_off`] are
//! its three steps, for who needs many trials without files: which readings are taken, what is true, what the gauges show.

mod chance;
mod contributions;
mod design;
mod logs;
mod nature;
mod readings;
mod request;
mod truth_file;
mod worn_ways;

pub use chance::Chance;
pub use contributions::{TrueContribution, true_contributions};
pub use design::laid_out;
pub use logs::log_files;
pub use nature::{Nature, Spread};
pub use readings::{TrueDiameter, as_read, read_off, true_diameters};
pub use request::{SimulatedFile, SimulatedLogs, simulate};
pub use worn_ways::WornWays;
