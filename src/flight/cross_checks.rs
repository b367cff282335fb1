//! Level speed by other roads, side by side with the joint fit.
//!
//! Their differences are model error: each makes less of the data than the joint fit but assumes
//! less, too.

use serde::{Deserialize, Serialize};

use super::pitot::Pitot;
use super::run_up::model::level_from;
use super::run_up::{Fit, VOLTAGE_EXPONENT};
use super::straights::{Straight, local_line};
use super::track::{mean, tracks};
use crate::ingest::{Channel, Log};
use crate::physics::wind::{airspeed_track_held, circle_fit};
use crate::stats;
use crate::stats::disagreement::between_methods;
use crate::units::G0;

/// Part of a pass that counts as its end, s.
const END_S: f64 = 2.5;
/// Two courses this close to opposite make a reciprocal pair, rad.
const OPPOSITE_WITHIN: f64 = 0.45;
/// A circle less certain than this says nothing, m/s.
const CIRCLE_WANTED_M_S: f64 = 2.0;

/// A level speed by another method.
#[derive(Debug, Clone, Copy, PartialEq)]
struct Other {
    value_m_s: f64,
    /// Standard uncertainty, from the scatter over the passes.
    u_m_s: f64,
}

/// Level speeds by other methods, at the voltage of the joint fit.
#[derive(Debug, Clone, Copy, PartialEq, Default, Serialize, Deserialize)]
pub struct CrossChecks {
    /// From speed and acceleration at the end of each pass, with the fit's wind.
    pub dvdt_m_s: Option<f64>,
    /// From reciprocal pairs of exit velocities carried to level speed; only the wind across the
    /// pair is the fit's.
    pub reciprocal_m_s: Option<f64>,
    pub pairs: usize,
    /// Radius of the circle through the exit velocities carried to level speed.
    pub circle_m_s: Option<f64>,
    /// From a logged airspeed, calibrated over the whole flight, at the end of each pass.
    pub pitot_m_s: Option<f64>,
    /// Largest difference of any of them from the joint fit.
    pub largest_difference_m_s: Option<f64>,
    /// What the methods differ by beyond their joint uncertainty, as a standard uncertainty of the
    /// level speed: a model error. 0 where they agree.
    pub method_error_m_s: f64,
}

/// The end of a pass.
struct Exit {
    /// Ground velocity, carried to level speed and to the fit's voltage.
    north: f64,
    east: f64,
    /// Level airspeed at the fit's voltage.
    level: f64,
    /// Airspeed there.
    airspeed: f64,
    course: f64,
}

/// Factor that brings a speed at the pass's exit to the fit's voltage.
fn to_mean_voltage(s: &Straight, voltage: Option<f64>) -> f64 {
    match (voltage, s.voltage.last()) {
        (Some(mean), Some(v)) => (mean / v).powf(VOLTAGE_EXPONENT),
        _ => 1.0,
    }
}

fn exit(s: &Straight, fit: &Fit) -> Option<Exit> {
    let from = s.time.partition_point(|t| *t < s.end_s - END_S);
    let time = s.time.get(from..).filter(|t| t.len() >= 3)?;
    let middle = 0.5 * (time[0] + s.end_s);
    let (n, dn) = local_line(time, &s.north[from..], middle);
    let (e, de) = local_line(time, &s.east[from..], middle);
    let (an, ae) = (n - fit.wind.north_m_s, e - fit.wind.east_m_s);
    let v = an.hypot(ae);
    let climb = s
        .height
        .get(from..)
        .map_or(0.0, |h| local_line(time, h, middle).1);
    let acceleration = (an * dn + ae * de) / v + G0 * climb / v;
    let level = level_from(v, acceleration, fit.time_constant_s);
    let level = level * to_mean_voltage(s, fit.voltage_v);
    let factor = (level - v) / v;
    Some(Exit {
        north: n + factor * an,
        east: e + factor * ae,
        level,
        airspeed: v,
        course: e.atan2(n),
    })
}

/// The other methods on the same straights.
pub fn cross_checks(straights: &[Straight], fit: &Fit) -> CrossChecks {
    let exits: Vec<Exit> = straights.iter().filter_map(|s| exit(s, fit)).collect();
    if exits.is_empty() {
        return CrossChecks::default();
    }
    let levels: Vec<f64> = exits.iter().map(|e| e.level).collect();
    let over_passes = standard_error(&levels, levels.len());
    let pairs: Vec<f64> = exits
        .windows(2)
        .filter_map(|two| reciprocal(&two[0], &two[1], fit))
        .collect();
    let velocities: Vec<(f64, f64)> = exits.iter().map(|e| (e.east, e.north)).collect();
    let circle = circle_fit(&velocities).filter(|c| c.u_airspeed < CIRCLE_WANTED_M_S);
    let mut out = CrossChecks {
        pairs: pairs.len(),
        ..CrossChecks::default()
    };
    let other =
        |value_m_s: f64, u: Option<f64>| u.map(|u_m_s| Other { value_m_s, u_m_s }).ok_or(value_m_s);
    out.dvdt_m_s = Some(out.compare(other(stats::mean(&levels), over_passes), fit));
    if !pairs.is_empty() {
        // Neighbouring pairs share a pass: about half of them are independent.
        let u = standard_error(&pairs, pairs.len().div_ceil(2)).or(over_passes);
        out.reciprocal_m_s = Some(out.compare(other(stats::mean(&pairs), u), fit));
    }
    if let Some(circle) = circle {
        out.circle_m_s = Some(out.compare(other(circle.airspeed, Some(circle.u_airspeed)), fit));
    }
    out
}

/// Standard error of the mean of values worth `independent` ones; `None` below two.
fn standard_error(values: &[f64], independent: usize) -> Option<f64> {
    (independent >= 2).then(|| stats::sd(values) / (independent as f64).sqrt())
}

impl CrossChecks {
    /// Takes in one method's value (an error where its uncertainty is not known: it is shown, but
    /// charges nothing) and gives the value back.
    fn compare(&mut self, other: Result<Other, f64>, fit: &Fit) -> f64 {
        let value = match other {
            Ok(other) => {
                let difference = (other.value_m_s - fit.level_speed_m_s).abs();
                let joint = fit
                    .level_speed_se_m_s
                    .hypot(fit.shared_error_m_s())
                    .hypot(other.u_m_s);
                self.method_error_m_s = self
                    .method_error_m_s
                    .max(between_methods(difference, joint));
                other.value_m_s
            }
            Err(value) => value,
        };
        let difference = (value - fit.level_speed_m_s).abs();
        let largest = self.largest_difference_m_s.unwrap_or(0.0).max(difference);
        self.largest_difference_m_s = Some(largest);
        value
    }

    /// Adds what a logged airspeed says: (value, its standard uncertainty where known), m/s.
    pub fn with_pitot(&mut self, pitot: Option<(f64, Option<f64>)>, fit: &Fit) {
        if let Some((value_m_s, u)) = pitot {
            let other = u.map(|u_m_s| Other { value_m_s, u_m_s }).ok_or(value_m_s);
            self.pitot_m_s = Some(self.compare(other, fit));
        }
    }
}

/// Level speed from a logged airspeed: corrected by its calibration over the whole flight, at the end
/// of each pass, carried to level speed as the ground velocity there is; with its standard uncertainty
/// (scatter over the passes and the scale's), both m/s.
pub fn pitot_level_speed(
    log: &Log,
    straights: &[Straight],
    fit: &Fit,
    pitot: &Pitot,
) -> Option<(f64, Option<f64>)> {
    let airspeed = tracks(log, Channel::Airspeed);
    let levels: Vec<f64> = straights
        .iter()
        .filter_map(|s| {
            let exit = exit(s, fit)?;
            let lag = pitot.lag_s.value;
            let from = (s.end_s - END_S).max(s.start_s);
            let reading = mean(&airspeed, from + lag, s.end_s + lag)?;
            Some(pitot.corrected(reading) * exit.level / exit.airspeed)
        })
        .collect();
    (!levels.is_empty()).then(|| {
        let value = stats::mean(&levels);
        let (low, high) = pitot.interval(pitot.scale);
        let scale_u = 0.25 * (high - low) / pitot.scale.value;
        let u = standard_error(&levels, levels.len()).map(|u| u.hypot(scale_u * value));
        (value, u)
    })
}

fn reciprocal(a: &Exit, b: &Exit, fit: &Fit) -> Option<f64> {
    let apart = (a.course - b.course).rem_euclid(std::f64::consts::TAU);
    if (apart - std::f64::consts::PI).abs() > OPPOSITE_WITHIN {
        return None;
    }
    let (sin, cos) = a.course.sin_cos();
    let across = fit.wind.east_m_s * cos - fit.wind.north_m_s * sin;
    Some(airspeed_track_held(
        a.north.hypot(a.east),
        b.north.hypot(b.east),
        across,
    ))
}

/// What is usually done instead, for the study of methods: ground speed over the whole pass, or
/// over its last two seconds, mean of the two directions, at `voltage_v`.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Naive {
    pub mean_m_s: f64,
    pub last_two_seconds_m_s: f64,
}

/// See [`Naive`]; `None` without passes both ways.
pub fn naive(straights: &[Straight], voltage_v: Option<f64>) -> Option<Naive> {
    let first = straights.first()?.course_rad;
    let speed = |last_s: f64| {
        let mut ways = [Vec::new(), Vec::new()];
        for s in straights {
            let late: Vec<f64> = (0..s.time.len())
                .filter(|&k| s.time[k] >= s.end_s - last_s)
                .map(|k| s.north[k].hypot(s.east[k]))
                .collect();
            let there = (s.course_rad - first).cos() > 0.0;
            ways[usize::from(there)].push(stats::mean(&late) * to_mean_voltage(s, voltage_v));
        }
        let mean = 0.5 * (stats::mean(&ways[0]) + stats::mean(&ways[1]));
        mean.is_finite().then_some(mean)
    };
    Some(Naive {
        mean_m_s: speed(f64::INFINITY)?,
        last_two_seconds_m_s: speed(2.0)?,
    })
}
