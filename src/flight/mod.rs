//! What one flight shows.

pub mod clock;
mod correlation;
pub mod cross_checks;
pub mod current_duration;
pub mod duration;
pub mod energy;
pub mod estimated_power;
mod full_throttle;
pub mod holds;
pub mod kappa_map;
pub mod loads;
pub mod pack;
pub mod phases;
pub mod record;
pub mod replay;
pub mod rpm_alignment;
pub mod run_up;
pub mod sensor;
pub mod spool_up;
pub mod stopwatch;
pub mod straights;
pub mod timer;
pub mod track;
pub mod unloading;
pub mod unloading_by_speed;
pub mod velocity;
