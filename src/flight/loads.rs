//! Loads in flight: dynamic pressure and load factor. Comparative evidence only.

use crate::flight::phases::Phases;
use crate::flight::track::{Track, ground_speed, ground_velocity, tracks, tracks_of};
use crate::ingest::{Channel, Log};
use crate::physics::atmosphere::G0;
use crate::physics::turn::{dynamic_pressure, load_factor};
use crate::stats;

/// Where a load factor comes from.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
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
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct LoadSample {
    pub time_s: f64,
    pub speed_m_s: f64,
    pub load_factor: f64,
}

#[derive(Debug, Clone, PartialEq)]
pub struct Loads {
    pub max_dynamic_pressure_pa: Option<f64>,
    /// Airspeed as logged, or ground speed standing in for it (wrong by the wind).
    pub dynamic_pressure_from: Option<Channel>,
    pub load_factor_p99: Option<f64>,
    pub load_factor_from: Option<LoadSource>,
    /// While flying (the whole record where the phases are not known).
    pub samples: Vec<LoadSample>,
}

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
    let (samples, source) = from_accelerometer(log, speed)
        .map(|s| (s, LoadSource::Accelerometer))
        .or_else(|| from_turn_rate(log).map(|s| (s, LoadSource::TurnRate)))
        .map_or((Vec::new(), None), |(s, source)| (s, Some(source)));
    let samples: Vec<LoadSample> = samples.into_iter().filter(|s| flying(s.time_s)).collect();
    let factors: Vec<f64> = samples.iter().map(|s| s.load_factor.abs()).collect();
    Loads {
        max_dynamic_pressure_pa: fastest.map(|v| dynamic_pressure(density_kg_m3, v)),
        dynamic_pressure_from: from,
        load_factor_p99: (!factors.is_empty()).then(|| stats::quantile(&factors, 0.99)),
        load_factor_from: source,
        samples,
    }
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
            if v.0.hypot(v.1) >= SLOWEST_M_S {
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
            if let Some(v) = crate::flight::track::at(&speed, t) {
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

/// Load factor from accelerations: at rest on the ground the sensor shows 1 g along what is then
/// vertical; that direction is taken as the normal axis and its reading as the scale. Smoothed over
/// 0.2 s, since a fan shakes the sensor. `None` without a second of rest or an axis missing.
fn from_accelerometer(log: &Log, speed: &[Track]) -> Option<Vec<LoadSample>> {
    let axes = [
        Channel::AccelerationX,
        Channel::AccelerationY,
        Channel::AccelerationZ,
    ];
    let axes: Option<Vec<Vec<Track>>> = axes
        .into_iter()
        .map(|axis| Some(tracks(log, axis)).filter(|t| !t.is_empty()))
        .collect();
    let axes = axes?;
    let rest_until = rest_end(log, speed)?;
    let start = axes
        .iter()
        .map(|a| a[0].start())
        .fold(f64::NEG_INFINITY, f64::max);
    if rest_until - start < 1.0 {
        return None;
    }
    let rest: Option<Vec<f64>> = axes
        .iter()
        .map(|a| crate::flight::track::mean(a, start, rest_until))
        .collect();
    let rest = rest?;
    let norm2: f64 = rest.iter().map(|a| a * a).sum();
    // A sensor at rest shows g within a quarter, or it is in another unit, or the model moved.
    if !(0.75 * G0..=1.25 * G0).contains(&norm2.sqrt()) {
        return None;
    }
    let mut samples = Vec::new();
    for &t in axes[2].iter().flat_map(|t| &t.time) {
        let smooth: Option<Vec<f64>> = axes
            .iter()
            .map(|a| crate::flight::track::mean(a, t - 0.1, t + 0.1))
            .collect();
        if let Some(a) = smooth {
            let along: f64 = a.iter().zip(&rest).map(|(a, r)| a * r).sum::<f64>() / norm2;
            samples.push(LoadSample {
                time_s: t,
                speed_m_s: crate::flight::track::at(speed, t).unwrap_or(f64::NAN),
                load_factor: along,
            });
        }
    }
    (!samples.is_empty()).then_some(samples)
}

/// When the model first moves or the motor first works, s: whichever is known.
fn rest_end(log: &Log, speed: &[Track]) -> Option<f64> {
    let first_above = |tracks: &[Track], level: f64| {
        tracks
            .iter()
            .flat_map(|t| t.time.iter().zip(&t.value))
            .find(|(_, v)| **v > level)
            .map(|(t, _)| *t)
    };
    let moves = first_above(speed, 2.0);
    let throttle = first_above(&tracks(log, Channel::Throttle), 0.05);
    match (moves, throttle) {
        (Some(a), Some(b)) => Some(a.min(b)),
        (a, b) => a.or(b),
    }
}
