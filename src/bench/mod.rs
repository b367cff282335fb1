//! What one bench run shows: points with uncertainties, checks, reference conditions, curve, gain.

pub mod checks;
pub mod model;
pub mod reference_conditions;
pub mod uncertainty;

pub use model::*;
pub use uncertainty::{Source, Uncertain};
