//! Specific excess power at steady throttle: in the take-off run, in the climb, in level flight.
//!
//! P_s = v·(dv/dt)/g + dh/dt, the rate of the energy height; it equals (T − D)·v/(m·g).
//! Source: Rutowski, J. Aeronaut. Sci. 21 (1954) 187.

use serde::{Deserialize, Serialize};

use crate::flight::air_path::{AirPath, Motion};
use crate::flight::phases::{Phase, Phases};

/// Where in the flight a window lies.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Serialize, Deserialize)]
pub enum Where {
    /// From standing to clear of the ground.
    TakeOff,
    Climb,
    Level,
}

impl Where {
    /// The word in the season's tables.
    pub fn word(self) -> &'static str {
        match self {
            Self::TakeOff => "take-off",
            Self::Climb => "climb",
            Self::Level => "level",
        }
    }
}

/// A window of steady throttle with its place.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
pub struct Excess {
    pub place: Where,
    pub motion: Motion,
}

/// Climb over airspeed from which a window is a climb, and up to which it is level.
const CLIMBS: f64 = 0.10;
const LEVEL: f64 = 0.05;
/// Load factor up to which a window is straight flight.
const STRAIGHT: f64 = 1.15;
/// Wait after the throttle came to rest, in times to 90 % of the step: the rotor follows the current.
const SETTLING: f64 = 2.0;
/// Speed from which the take-off run is looked at, m/s: below it a receiver's noise is a tenth.
const ROLLING_M_S: f64 = 3.0;

/// Windows of steady throttle above `least_throttle`. `ninety_s`: time to 90 % of a throttle step.
pub fn excess(
    path: &AirPath,
    phases: Option<&Phases>,
    ninety_s: f64,
    least_throttle: f64,
) -> Vec<Excess> {
    let Some(phases) = phases else {
        return Vec::new();
    };
    let mut out = Vec::new();
    for (from, to, throttle) in path.steady_throttle() {
        if throttle < least_throttle {
            continue;
        }
        for (start, end, phase) in phases
            .spans
            .iter()
            .map(|s| (s.start_s, s.end_s, s.phase))
            .filter(|(start, end, _)| *end > from && *start < to)
        {
            let settled = from + SETTLING * ninety_s;
            let windows = path.windows(settled.max(start), to.min(end));
            out.extend(windows.into_iter().filter_map(|motion| {
                let place = place(phase, &motion)?;
                Some(Excess { place, motion })
            }));
        }
    }
    out
}

fn place(phase: Phase, motion: &Motion) -> Option<Where> {
    let slope = motion.climb_m_s / motion.airspeed_m_s;
    let straight = motion.load_factor <= STRAIGHT;
    match phase {
        Phase::TakeOff if motion.airspeed_m_s > ROLLING_M_S => Some(Where::TakeOff),
        Phase::Flight if straight && slope >= CLIMBS => Some(Where::Climb),
        Phase::Flight if straight && slope.abs() <= LEVEL => Some(Where::Level),
        _ => None,
    }
}
