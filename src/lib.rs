//! Benchborne: does the gain measured on the bench get borne into the air?
//!
//! The floors, top to bottom; a module imports only from floors below it (checked by a test):
//!
//! ```text
//! cli        arguments in, one library call, exit code
//! run        the pipeline, the only place that knows the whole chain
//! report     findings -> HTML, PNG, JSON; draws and writes, computes nothing
//! findings   one file a question: season tables in, an answer with its evidence out
//! store      flight and bench results as rows of the season's tables
//! flight bench   what one flight / one bench run shows
//! ingest     bytes -> SI columns + ledger
//! season     what the pilot declares, checked, with places for errors
//! physics stats units   pure functions, each with its source
//! ```
//!
//! `simulate` stands beside them: it imports nothing from this crate, so that no mistake in the
//! analysis can hide in the data it is tried on.

pub mod bench;
pub mod cli;
pub mod findings;
pub mod flight;
pub mod ingest;
pub mod physics;
pub mod report;
pub mod run;
pub mod season;
pub mod simulate;
pub mod stats;
pub mod store;
pub mod units;
