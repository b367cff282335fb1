//! The jet's motion through the air over a short window, and at what throttle: airspeed, climb, load
//! factor and the rate of its energy height.

use std::ops::Range;

use serde::{Deserialize, Serialize};

use crate::flight::change_points::steady;
use crate::flight::straights::local_line;
use crate::flight::track::{Track, mean, tracks};
use crate::flight::velocity::Velocity;
use crate::ingest::{Channel, Log};
use crate::physics::energy::energy_height;
use crate::physics::turn::load_factor;
use crate::physics::wind::length;
use crate::stats;

/// Half the time over which a climb is judged at a sample, s.
const CLIMB_HALF_S: f64 = 0.5;
/// Shortest window, and in updates of the velocity (a line through four points), s.
const WINDOW_S: f64 = 1.4;
const WINDOW_UPDATES: f64 = 3.5;
/// Least samples of velocity in a window.
const SAMPLES: usize = 4;
/// A segment may still wander by this much either way, as a hold's throttle may.
const STEADY_BAND: f64 = 0.03;

/// What the jet did over a window, means over it.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
pub struct Motion {
    pub start_s: f64,
    pub end_s: f64,
    pub throttle: f64,
    pub voltage_v: Option<f64>,
    pub current_a: Option<f64>,
    pub airspeed_m_s: f64,
    /// Rate of the energy height: v·(dv/dt)/g + dh/dt.
    pub excess_power_m_s: f64,
    pub climb_m_s: f64,
    /// Of a level turn at this speed and rate of turn.
    pub load_factor: f64,
}

/// A flight's path through the air, on the power logger's clock.
#[derive(Debug, Clone, PartialEq)]
pub struct AirPath {
    time: Vec<f64>,
    /// Through the air, climb included, m/s.
    airspeed: Vec<f64>,
    /// rad, unwrapped within a stretch.
    heading: Vec<f64>,
    stretches: Vec<Range<usize>>,
    update_s: f64,
    height: Vec<Track>,
    throttle: Vec<Track>,
    voltage: Vec<Track>,
    current: Vec<Track>,
}

impl AirPath {
    /// `wind` towards (north, east), m/s; `lag_s`: how far the velocity lags behind the throttle.
    pub fn of(log: &Log, velocity: &Velocity, wind: (f64, f64), lag_s: f64) -> Self {
        let height = tracks(log, Channel::Height);
        let time: Vec<f64> = velocity.time.iter().map(|t| t - lag_s).collect();
        let (mut airspeed, mut heading) = (Vec::new(), Vec::new());
        for (i, t) in time.iter().enumerate() {
            let (n, e) = (velocity.north[i] - wind.0, velocity.east[i] - wind.1);
            airspeed.push(length(length(n, e), climb_at(&height, *t)));
            heading.push(e.atan2(n));
        }
        let stretches = velocity.stretches();
        for stretch in &stretches {
            for i in stretch.clone().skip(1) {
                let turn = heading[i] - heading[i - 1];
                let whole = (turn / std::f64::consts::TAU).round();
                heading[i] -= whole * std::f64::consts::TAU;
            }
        }
        Self {
            time,
            airspeed,
            heading,
            stretches,
            update_s: velocity.update_s,
            height,
            throttle: tracks(log, Channel::Throttle),
            voltage: tracks(log, Channel::Voltage),
            current: tracks(log, Channel::Current),
        }
    }

    pub fn has_height(&self) -> bool {
        !self.height.is_empty()
    }

    pub fn has_throttle(&self) -> bool {
        !self.throttle.is_empty()
    }

    /// Largest current, A.
    pub fn most_current(&self) -> Option<f64> {
        let all = self.current.iter().flat_map(|t| &t.value).copied();
        all.reduce(f64::max)
    }

    /// Stretches of steady throttle: start, end, throttle.
    pub fn steady_throttle(&self) -> Vec<(f64, f64, f64)> {
        self.throttle
            .iter()
            .flat_map(|track| steady(track, STEADY_BAND))
            .map(|s| (s.start_s, s.end_s, s.mean))
            .collect()
    }

    /// Equal windows that fill `from..to`; none where it is too short.
    pub fn windows(&self, from: f64, to: f64) -> Vec<Motion> {
        let least = WINDOW_S.max(WINDOW_UPDATES * self.update_s);
        let count = ((to - from + 1e-6) / least).floor();
        if !count.is_finite() || count < 1.0 {
            return Vec::new();
        }
        let length = (to - from) / count;
        (0..count as usize)
            .filter_map(|k| {
                let start = from + k as f64 * length;
                self.motion(start, start + length)
            })
            .collect()
    }

    /// The motion over one window; `None` where a channel has a hole in it, or no height is logged.
    pub fn motion(&self, from: f64, to: f64) -> Option<Motion> {
        let stretch = self.stretches.iter().find(|s| {
            let slack = 1.5 * self.update_s;
            self.time[s.start] <= from + slack && self.time[s.end - 1] >= to - slack
        })?;
        let inside = |i: &usize| (from..=to).contains(&self.time[*i]);
        let rows: Vec<usize> = stretch.clone().filter(inside).collect();
        let (first, last) = (*rows.first()?, *rows.last()?);
        if rows.len() < SAMPLES {
            return None;
        }
        let time = &self.time[first..=last];
        let middle = 0.5 * (from + to);
        let airspeed = stats::mean(&self.airspeed[first..=last]);
        let kinetic: Vec<f64> = self.airspeed[first..=last]
            .iter()
            .map(|v| energy_height(0.0, *v))
            .collect();
        let height = self
            .height
            .iter()
            .find(|h| h.start() <= from + 0.5 && h.end() >= to - 0.5)?;
        let (ht, hv) = height.part(from, to);
        if ht.len() < 3 {
            return None;
        }
        let climb_m_s = local_line(ht, hv, middle).1;
        let turn = local_line(time, &self.heading[first..=last], middle).1;
        Some(Motion {
            start_s: from,
            end_s: to,
            throttle: mean(&self.throttle, from, to)?,
            voltage_v: mean(&self.voltage, from, to),
            current_a: mean(&self.current, from, to),
            airspeed_m_s: airspeed,
            excess_power_m_s: local_line(time, &kinetic, middle).1 + climb_m_s,
            climb_m_s,
            load_factor: load_factor(airspeed, turn),
        })
    }
}

/// Climb about `t`, m/s; 0 where no height tells it.
pub(super) fn climb_at(height: &[Track], t: f64) -> f64 {
    let (from, to) = (t - CLIMB_HALF_S, t + CLIMB_HALF_S);
    let part = height
        .iter()
        .map(|h| h.part(from, to))
        .find(|(time, _)| time.len() >= 3);
    part.map_or(0.0, |(time, value)| local_line(time, value, t).1)
}
