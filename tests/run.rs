//! The whole chain, from a season folder to findings and report.

pub mod folder;

mod damaged;
mod demo;
mod hostile;
mod kept;
mod margins;
mod names;
mod pictures;
mod same_bytes;
mod sheets;
mod unchanged;
