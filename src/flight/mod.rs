//! What one flight shows.

pub mod current_duration;
pub mod energy;
pub mod holds;
pub mod loads;
pub mod pack;
pub mod phases;
pub mod sensor;
pub mod spool_up;
pub mod track;
pub mod run_up;
pub mod straights;
pub mod velocity;
