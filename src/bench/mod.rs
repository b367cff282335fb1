//! What one bench run shows: points with uncertainties, checks, reference conditions, curve, gain.

mod air;
pub mod budget;
pub mod checks;
mod columns;
pub mod curve;
pub mod gain;
pub mod model;
pub mod read;
pub mod reference_conditions;
pub mod repeats;
mod side;
mod supply;
pub mod uncertainty;

pub use budget::{Contribution, budget};
pub use curve::{Bounded, FullThrottle, PowerSystemCurve, ReferencePoint, ThrustCurve, curve};
pub use gain::{GainConditions, StaticGain, correlation, exhaust_pair, static_gains};
pub use model::*;
pub use read::{BenchRead, read_run};
pub use uncertainty::{Source, Uncertain};
