//! Statistics: pure functions, each with its source.

pub mod estimate;
