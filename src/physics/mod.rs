//! Physics: pure functions in SI, each with its source.

pub mod atmosphere;
pub mod geodesy;
pub mod power_curve;
