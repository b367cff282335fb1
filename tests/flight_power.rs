//! What one flight shows: charge, power, holds, unloading, pack, loads.
//!
//! Known answers come from `synthetic` logs (made here, from formulas written out here), from
//! published arithmetic (source beside the check) and from two open data sets of real flights.

mod draw;
mod held;
mod hostile;
mod made;
mod real;
mod simulated;
mod steady;
mod systems;
mod timers;
