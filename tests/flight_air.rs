//! What flights show through the air: change points, holds, drag, thrust, excess power, airspeed
//! sensors; on flights whose truth is known, on real ones, and on bad input.

mod change_points;
mod hostile;
mod pitot;
mod thrust;
