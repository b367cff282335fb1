//! Holds: steady throttle after the spool-up lag. What a hold shows may be held against the bench.
//!
//! Where the throttle rests is told by change points ([`super::change_points`]). On simulated flights
//! at 5 to 100 Hz they find every rest of 2.5 s and more with a stick noise of up to 2 %, edges to a
//! tenth of a second; spans grown until greatest less smallest passed a limit, the rule before, found
//! 83 % at 20 Hz and 49 % at 5 Hz with that noise, and now and then ran two rests into one.

use serde::{Deserialize, Serialize};

use crate::flight::change_points::steady;
use crate::flight::phases::Phases;
use crate::flight::track::{
    Track, at, ground_speed, ground_velocity, mean, next_sample, tracks, tracks_of,
};
use crate::ingest::{Channel, Log};
use crate::physics::wind::length;
use crate::stats;

/// What counts as a hold.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct HoldRules {
    /// Least length after the settling time, s.
    pub min_s: f64,
    /// Longer ones are cut into equal pieces, since the speed (and with it the unloading) moves on
    /// while the throttle stands still, s.
    pub max_s: f64,
    /// Throttle stays within ± this.
    pub throttle_band: f64,
    /// Scatter of the current about its own straight line, as a share of its mean, beyond which it
    /// is not steady.
    pub current_scatter: f64,
    /// Drift of the current from end to end as a share of its mean: more is not unloading or sag,
    /// but a motor still spooling up.
    pub current_drift: f64,
}

impl Default for HoldRules {
    fn default() -> Self {
        Self {
            min_s: 1.5,
            max_s: 3.0,
            throttle_band: 0.02,
            current_scatter: 0.08,
            current_drift: 0.20,
        }
    }
}

/// One hold: time means over `start_s..end_s`.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Hold {
    pub start_s: f64,
    pub end_s: f64,
    pub throttle: f64,
    pub voltage_v: Option<f64>,
    pub current_a: Option<f64>,
    pub power_w: Option<f64>,
    pub ground_speed_m_s: Option<f64>,
    /// As logged, else from ground velocity and the wind handed in.
    pub airspeed_m_s: Option<f64>,
    /// False too where the phases are not known.
    pub airborne: bool,
}

/// Holds of one flight, with the count of those left out because the current was not steady.
#[derive(Debug, Clone, Default, PartialEq)]
pub struct Holds {
    pub holds: Vec<Hold>,
    pub unsteady: usize,
}

/// Finds the holds. `ninety_s` is [`crate::flight::spool_up::SpoolUp::ninety_s`] (0.5 s is a fair
/// guess where it could not be measured); `wind_m_s` is the wind's velocity towards (north, east).
///
/// A hold begins when what the spool-up still lacks is below 1 % of the hold's own current. For a
/// first-order lag that takes ln(100·step/current)/ln(10) times the 90 % time: after a cut from 80 A
/// to 15 A 2.6 times, and a fixed wait of 90 % would leave 40 % of the new current to come.
pub fn holds(
    log: &Log,
    ninety_s: f64,
    phases: Option<&Phases>,
    wind_m_s: Option<(f64, f64)>,
    rules: &HoldRules,
) -> Holds {
    let channels = Channels::of(log, wind_m_s);
    let mut found = Holds::default();
    for throttle in tracks(log, Channel::Throttle) {
        for rest in steady(&throttle, rules.throttle_band) {
            let (changed, end) = (rest.start_s, rest.end_s);
            let settled = changed + settling(&channels.current, changed, end, ninety_s.max(0.0));
            // From a sample on: the straight line before it still leads down from the step.
            let start = next_sample(&channels.current, settled)
                .unwrap_or(settled)
                .max(throttle.next_sample(settled).unwrap_or(end));
            // A track's clock has its own rounding: 1.4999999 s of samples are 1.5 s.
            let length = end - start + 1e-6;
            if length < rules.min_s {
                continue;
            }
            let pieces = (length / rules.max_s).ceil().max(1.0);
            let pieces = if length / pieces < rules.min_s {
                pieces - 1.0
            } else {
                pieces
            }
            .max(1.0);
            for n in 0..pieces as usize {
                let a = start + (end - start) * n as f64 / pieces;
                let b = start + (end - start) * (n + 1) as f64 / pieces;
                match channels.hold(&throttle, a, b, phases, rules) {
                    Some(hold) => found.holds.push(hold),
                    None => found.unsteady += 1,
                }
            }
        }
    }
    found
}

/// Remainder of a step, as a share of the current held, at which a hold may begin.
const REMAINDER: f64 = 0.01;

/// Wait after the throttle came to rest at `changed`, s.
fn settling(current: &[Track], changed: f64, end: f64, ninety_s: f64) -> f64 {
    let before = at(current, changed - 0.2).or_else(|| at(current, changed));
    let held = mean(current, 0.5 * (changed + end), end);
    let decades = match before.zip(held) {
        // Below 1 A the sensor's own noise decides.
        Some((before, held)) => ((before - held).abs() / held.abs().max(1.0) / REMAINDER)
            .log10()
            .max(1.0),
        None => -REMAINDER.log10(),
    };
    decades * ninety_s
}

struct Channels {
    voltage: Vec<Track>,
    current: Vec<Track>,
    power: Vec<Track>,
    ground_speed: Vec<Track>,
    airspeed: Vec<Track>,
}

impl Channels {
    fn of(log: &Log, wind: Option<(f64, f64)>) -> Self {
        let current = tracks(log, Channel::Current);
        let dead = current.iter().flat_map(|t| &t.value).all(|v| *v == 0.0);
        let power = match (log.get(Channel::Voltage), log.get(Channel::Current)) {
            (Some(v), Some(i)) if !dead => {
                let product: Vec<f64> = v.iter().zip(i).map(|(v, i)| v * i).collect();
                tracks_of(log, &product)
            }
            _ => Vec::new(),
        };
        let mut airspeed = tracks(log, Channel::Airspeed);
        if let (true, Some((wn, we)), Some((n, e))) =
            (airspeed.is_empty(), wind, ground_velocity(log))
        {
            let through_air: Vec<f64> = n
                .iter()
                .zip(&e)
                .map(|(n, e)| length(n - wn, e - we))
                .collect();
            airspeed = tracks_of(log, &through_air);
        }
        Self {
            voltage: tracks(log, Channel::Voltage),
            current: if dead { Vec::new() } else { current },
            power,
            ground_speed: ground_speed(log).map_or_else(Vec::new, |s| tracks_of(log, &s)),
            airspeed,
        }
    }

    fn hold(
        &self,
        throttle: &Track,
        from: f64,
        to: f64,
        phases: Option<&Phases>,
        rules: &HoldRules,
    ) -> Option<Hold> {
        if !self.current.is_empty() && !is_steady(&self.current, from, to, rules) {
            return None;
        }
        let (area, length) = throttle.integral(from, to);
        let (_, values) = throttle.part(from, to);
        let most = values
            .iter()
            .copied()
            .reduce(f64::max)
            .unwrap_or(f64::INFINITY);
        let current_a = mean(&self.current, from, to);
        let voltage_v = mean(&self.voltage, from, to);
        // Where the two were never sampled in one row, the product of means: both are steady.
        let power_w =
            mean(&self.power, from, to).or_else(|| voltage_v.zip(current_a).map(|(v, i)| v * i));
        Some(Hold {
            start_s: from,
            end_s: to,
            // The division's rounding must not carry a full throttle beyond full.
            throttle: (area / length).min(most),
            voltage_v,
            current_a,
            power_w,
            ground_speed_m_s: mean(&self.ground_speed, from, to),
            airspeed_m_s: mean(&self.airspeed, from, to),
            airborne: phases.is_some_and(|p| p.is_airborne(from) && p.is_airborne(to)),
        })
    }
}

/// Steady about its own straight line, and the line itself not steep.
fn is_steady(current: &[Track], from: f64, to: f64, rules: &HoldRules) -> bool {
    let Some(track) = current.iter().find(|t| t.start() <= from && t.end() >= to) else {
        return true; // no current here: the hold stands without it
    };
    let (time, value) = track.part(from, to);
    if value.len() < 2 {
        return value.len() == 1;
    }
    let (mt, mv) = (stats::mean(time), stats::mean(value));
    let sxx: f64 = time.iter().map(|t| (t - mt).powi(2)).sum();
    let sxy: f64 = time
        .iter()
        .zip(value)
        .map(|(t, v)| (t - mt) * (v - mv))
        .sum();
    let slope = sxy / sxx;
    let rest: Vec<f64> = time
        .iter()
        .zip(value)
        .map(|(t, v)| v - mv - slope * (t - mt))
        .collect();
    let size = mv.abs().max(1.0); // below 1 A the sensor's own noise decides
    stats::sd(&rest) <= rules.current_scatter * size
        && (slope * (to - from)).abs() <= rules.current_drift * size
}
