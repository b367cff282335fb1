//! What the pilot declares: `season.toml`, `logbook.csv`, `passes.csv`, checked, in SI, with
//! places for errors. Plain data, no file access: callers hand in text.

pub mod finding;
pub mod model;

pub use finding::{Finding, Place, Severity};
pub use model::*;
