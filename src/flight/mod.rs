//! What one flight shows.

pub mod current_duration;
pub mod duration;
pub mod energy;
pub mod estimated_power;
pub mod holds;
pub mod loads;
pub mod pack;
pub mod phases;
pub mod rpm_alignment;
pub mod sensor;
pub mod spool_up;
pub mod track;
pub mod unloading;
