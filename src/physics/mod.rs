//! Physics: pure functions in SI, each with its source.

pub mod atmosphere;
pub mod drag;
pub mod energy;
pub mod geodesy;
pub mod gust;
pub mod mass;
pub mod momentum;
pub mod power_curve;
pub mod reference;
pub mod turn;
pub mod wind;
