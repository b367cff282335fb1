//! Loads in flight: dynamic pressure and load factor. Comparative evidence only.

use serde::{Deserialize, Serialize};

use crate::flight::accelerometer::normal_load;
use crate::flight::phases::Phases;
use crate::flight::spectrum::{Spectrum, spectrum};
use crate::flight::track::{Track, at, ground_speed, ground_velocity, tracks, tracks_of};
use crate::ingest::{Channel, Log};
use crate::physics::turn::{dynamic_pressure, load_factor};
use crate::physics::wind::length;
use crate::season::Finding;
use crate::stats;

/// Where a load factor comes from.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
pub enum LoadSource {
    Accelerometer,
    /// A level co-ordinated turn is assumed: pulls and pushes in the vertical do not show.
    TurnRate,
}

impl LoadSource {
    pub fn word(self) -> &'static str {
        match self {
            Self::Accelerometer => "accelerometer",
            Self::TurnRate => "turn rate",
        }
    }
}

/// Load factor against time, with the speed and dynamic pressure of the moment.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
pub struct LoadSample {
    pub time_s: f64,
    pub speed_m_s: f64,
    pub load_factor: f64,
}

#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Loads {
    pub max_dynamic_pressure_pa: Option<f64>,
    /// Airspeed as logged, or ground speed standing in for it (wrong by the wind).
    pub dynamic_pressure_from: Option<Channel>,
    pub load_factor_p99: Option<f64>,
    pub load_factor_from: Option<LoadSource>,
    /// While flying (the whole record where the phases are not known).
    pub samples: Vec<LoadSample>,
    /// Load factor at which the sensor's scale ends, where it was reached: loads are at least this.
    pub saturated_at: Option<f64>,
    pub spectrum: Option<Spectrum>,
    #[serde(with = "crate::season::finding::whole")]
    pub findings: Vec<Finding>,
}

/// Speed at `t`; NaN where it is not known.
pub(super) fn at_speed(speed: &[Track], t: f64) -> f64 {
    at(speed, t).unwrap_or(f64::NAN)
}

/// A turn this slight counts as level flight; so does a climb of this, m/s.
const LEVEL_TURN: f64 = 1.05;
const LEVEL_CLIMB_M_S: f64 = 3.0;

/// Loads of one flight. Speeds in the samples are airspeed where logged, else ground speed.
pub fn loads(log: &Log, density_kg_m3: f64, phases: Option<&Phases>) -> Loads {
    let flying = |t: f64| phases.is_none_or(|p| p.is_airborne(t));
    let airspeed = tracks(log, Channel::Airspeed);
    let ground = ground_speed(log).map_or_else(Vec::new, |s| tracks_of(log, &s));
    let (speed, from) = if !airspeed.is_empty() {
        (&airspeed, Some(Channel::Airspeed))
    } else if !ground.is_empty() {
        (&ground, Some(Channel::GroundSpeed))
    } else {
        (&ground, None)
    };
    // A single fast reading is noise more often than speed: the greatest value held by three
    // neighbours (their median).
    let fastest = speed
        .iter()
        .flat_map(|t| {
            t.time
                .windows(3)
                .zip(t.value.windows(3))
                .filter(|(t, _)| flying(t[1]))
                .map(|(_, v)| stats::median(v))
        })
        .max_by(f64::total_cmp);
    let turning = from_turn_rate(log).unwrap_or_default();
    let turning: Vec<LoadSample> = turning.into_iter().filter(|s| flying(s.time_s)).collect();
    let mut findings = Vec::new();
    let level = level_times(log, &turning);
    let normal = normal_load(log, speed, &level, &mut findings);
    let saturated_at = normal.as_ref().and_then(|n| n.saturated_at);
    let (samples, source) = match normal {
        Some(normal) => (normal.samples, Some(LoadSource::Accelerometer)),
        None if turning.is_empty() => (Vec::new(), None),
        None => (turning, Some(LoadSource::TurnRate)),
    };
    let samples: Vec<LoadSample> = samples.into_iter().filter(|s| flying(s.time_s)).collect();
    let factors: Vec<f64> = samples.iter().map(|s| s.load_factor.abs()).collect();
    Loads {
        max_dynamic_pressure_pa: fastest.map(|v| dynamic_pressure(density_kg_m3, v)),
        dynamic_pressure_from: from,
        load_factor_p99: (!factors.is_empty()).then(|| stats::quantile(&factors, 0.99)),
        load_factor_from: source,
        spectrum: spectrum(&samples),
        samples,
        saturated_at,
        findings,
    }
}

/// Moments of flight straight ahead and neither up nor down.
fn level_times(log: &Log, turning: &[LoadSample]) -> Vec<f64> {
    let height = tracks(log, Channel::Height);
    let climb = |t: f64| Some(at(&height, t + 1.0)? - at(&height, t - 1.0)?);
    turning
        .iter()
        .filter(|s| s.load_factor < LEVEL_TURN)
        .map(|s| s.time_s)
        .filter(|t| climb(*t).is_none_or(|c| c.abs() < 2.0 * LEVEL_CLIMB_M_S))
        .collect()
}

/// Turn rate over ± this many seconds: a straight line through the unwrapped course. Shorter turns
/// are smoothed; longer windows would flatten real ones.
const HALF_WINDOW_S: f64 = 0.5;
/// Below this a course is noise.
const SLOWEST_M_S: f64 = 5.0;

/// Load factor from ground velocity. A receiver that fixes at 5 Hz in a log of 50 Hz repeats each
/// value ten times; a difference of neighbours would show standstill and spikes. So only rows where
/// the velocity changed count as fixes, and the rate is a least-squares slope over a second of them
/// (three at least).
fn from_turn_rate(log: &Log) -> Option<Vec<LoadSample>> {
    let (north, east) = ground_velocity(log)?;
    let mut fixes = vec![f64::NAN; log.len()];
    let mut last: Option<(f64, f64)> = None;
    for i in 0..log.len() {
        let v = (north[i], east[i]);
        if v.0.is_finite() && v.1.is_finite() && last != Some(v) {
            last = Some(v);
            if length(v.0, v.1) >= SLOWEST_M_S {
                fixes[i] = v.1.atan2(v.0);
            }
        }
    }
    let speed = ground_speed(log).map(|s| tracks_of(log, &s))?;
    let mut samples = Vec::new();
    for mut course in tracks_of(log, &fixes) {
        unwrap(&mut course.value);
        for &t in &course.time {
            let (time, angle) = course.part(t - HALF_WINDOW_S - 1e-9, t + HALF_WINDOW_S + 1e-9);
            if time.len() < 3 {
                continue;
            }
            let (mt, ma) = (stats::mean(time), stats::mean(angle));
            let sxx: f64 = time.iter().map(|t| (t - mt).powi(2)).sum();
            let sxy: f64 = time
                .iter()
                .zip(angle)
                .map(|(t, a)| (t - mt) * (a - ma))
                .sum();
            if let Some(v) = at(&speed, t) {
                samples.push(LoadSample {
                    time_s: t,
                    speed_m_s: v,
                    load_factor: load_factor(v, sxy / sxx),
                });
            }
        }
    }
    (!samples.is_empty()).then_some(samples)
}

fn unwrap(angles: &mut [f64]) {
    let turn = std::f64::consts::TAU;
    for i in 1..angles.len() {
        let step = angles[i] - angles[i - 1];
        angles[i] -= turn * (step / turn).round();
    }
}
