//! How long can I fly: the time at which a flight reaches its reserve.

use serde::{Deserialize, Serialize};

use crate::flight::phases::Phases;
use crate::flight::track::tracks;
use crate::ingest::{Channel, Log};
use crate::stats::censored::Seen;

/// Airborne time at which the reserve is reached.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
pub struct ToReserve {
    pub airborne_s: f64,
    /// False: the flight landed before, and the time is carried on at its mean draw in the air (a
    /// censored observation: all that was seen is that it lasted longer than it flew).
    pub reached: bool,
    /// Airborne time actually flown, s.
    pub flown_s: f64,
    pub mean_current_a: f64,
}

impl ToReserve {
    /// What was seen of the time to the reserve: itself, or only that it lasts longer than the
    /// flight did.
    pub fn seen(&self) -> Seen {
        if self.reached {
            Seen::Exact(self.airborne_s)
        } else {
            Seen::Above(self.flown_s)
        }
    }
}

/// Counts `current_scale` (1, or put-back's) times the logged current from the start of the record
/// against `capacity_c`·(1 − `reserve`). `None` without current or phases, or where the recording
/// has gaps longer than a hundredth of it: what was drawn meanwhile is not known.
pub fn to_reserve(
    log: &Log,
    phases: &Phases,
    capacity_c: f64,
    reserve: f64,
    current_scale: f64,
) -> Option<ToReserve> {
    let usable_c = capacity_c * (1.0 - reserve);
    let current = tracks(log, Channel::Current);
    let recorded = log.time.last()? - log.time.first()?;
    let covered: f64 = current.iter().map(|t| t.length()).sum();
    if recorded <= 0.0 || covered < 0.99 * recorded || usable_c <= 0.0 {
        return None;
    }
    let mut used = 0.0;
    for track in &current {
        for i in 1..track.time.len() {
            let dt = track.time[i] - track.time[i - 1];
            let (a, b) = (
                current_scale * track.value[i - 1],
                current_scale * track.value[i],
            );
            let more = 0.5 * (a + b) * dt;
            if used + more >= usable_c && more > 0.0 {
                let at = track.time[i - 1] + dt * (usable_c - used) / more;
                let airborne_s = phases.airborne_until(at);
                return Some(ToReserve {
                    airborne_s,
                    reached: true,
                    flown_s: phases.airborne_s(),
                    mean_current_a: used / airborne_s.max(dt),
                });
            }
            used += more;
        }
    }
    let (mut airborne_c, mut airborne_s) = (0.0, 0.0);
    for &(from, to) in &phases.airborne {
        for track in &current {
            let (charge, length) = track.integral(from, to);
            airborne_c += current_scale * charge;
            airborne_s += length;
        }
    }
    let mean_current_a = airborne_c / airborne_s;
    (airborne_s > 0.0 && mean_current_a > 0.0).then(|| ToReserve {
        airborne_s: phases.airborne_s() + (usable_c - used) / mean_current_a,
        reached: false,
        flown_s: phases.airborne_s(),
        mean_current_a,
    })
}
