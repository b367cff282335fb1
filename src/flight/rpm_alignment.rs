//! Bench (or wind tunnel) and air held together by rotor speed, where no throttle was logged.
//!
//! At equal rotor speed the power of a fan or propeller falls with airspeed: unloading again, seen
//! at equal rpm. Power is carried to one rotor speed by its cube (the same blade angles at the same
//! advance ratio), over a step of a tenth at most.

use std::collections::BTreeMap;

use crate::flight::energy::power_tracks;
use crate::flight::track::{Track, at, mean, tracks};
use crate::ingest::{Channel, Log};
use crate::season::Finding;
use crate::stats;
use crate::stats::welch::welch;

/// A mean over one second of nearly steady rotor speed.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Reading {
    pub time_s: f64,
    pub angular_speed_rad_s: f64,
    pub airspeed_m_s: f64,
    pub power_w: f64,
}

/// Rotor speed may change by this much within a second; beyond, the power also speeds the rotor up.
const STEADY: f64 = 0.05;

/// Samples further apart than this are readings of their own: between two of them nothing is known.
const COARSE_S: f64 = 0.5;

/// Cuts a log into seconds and keeps the steady ones; of a record of a sample a second or slower
/// (such as means over seconds) the samples beside which a neighbour has the same rotor speed.
pub fn readings(log: &Log) -> Vec<Reading> {
    let rotor = tracks(log, Channel::AngularSpeed);
    let airspeed = tracks(log, Channel::Airspeed);
    let power = power_tracks(log, &tracks(log, Channel::Current));
    let seconds = |track: &Track| {
        let first = track.start();
        let count = track.length().floor() as usize;
        (0..count).map(move |n| first + n as f64)
    };
    let mut found = Vec::new();
    for track in &rotor {
        if let Some(step) = step(track).filter(|step| *step > COARSE_S) {
            found.extend(samples(track, step, &airspeed, &power));
            continue;
        }
        for from in seconds(track) {
            let (_, values) = track.part(from, from + 1.0);
            let low = values.iter().copied().fold(f64::INFINITY, f64::min);
            let high = values.iter().copied().fold(0.0, f64::max);
            if low <= 0.0 || high - low > STEADY * high {
                continue;
            }
            let of = |t: &[Track]| mean(t, from, from + 1.0);
            if let (Some(w), Some(v), Some(p)) = (of(&rotor), of(&airspeed), of(&power)) {
                found.push(Reading {
                    time_s: from + 0.5,
                    angular_speed_rad_s: w,
                    airspeed_m_s: v,
                    power_w: p,
                });
            }
        }
    }
    found
}

/// Median step of a track, s.
fn step(track: &Track) -> Option<f64> {
    let steps: Vec<f64> = track.time.windows(2).map(|w| w[1] - w[0]).collect();
    (!steps.is_empty()).then(|| stats::median(&steps))
}

fn samples(track: &Track, step: f64, airspeed: &[Track], power: &[Track]) -> Vec<Reading> {
    let samples: Vec<(f64, f64)> = track
        .time
        .iter()
        .copied()
        .zip(track.value.iter().copied())
        .collect();
    let alike = |a: (f64, f64), b: (f64, f64)| {
        (a.0 - b.0).abs() <= 1.5 * step && (a.1 - b.1).abs() <= STEADY * a.1.max(b.1)
    };
    (0..samples.len())
        .filter(|&i| {
            let before = i > 0 && alike(samples[i - 1], samples[i]);
            samples[i].1 > 0.0
                && (before || samples.get(i + 1).is_some_and(|b| alike(samples[i], *b)))
        })
        .filter_map(|i| {
            let (time_s, angular_speed_rad_s) = samples[i];
            Some(Reading {
                time_s,
                angular_speed_rad_s,
                airspeed_m_s: at(airspeed, time_s)?,
                power_w: at(power, time_s)?,
            })
        })
        .collect()
}

/// Power at the reference rotor speed in one bin of airspeed.
#[derive(Debug, Clone, PartialEq)]
pub struct AlignmentRow {
    pub airspeed_low_m_s: f64,
    pub airspeed_high_m_s: f64,
    pub flight: Option<PowerAt>,
    pub bench: Option<PowerAt>,
    /// Flight / bench; only where both have readings in the bin.
    pub ratio: Option<f64>,
    /// 95 %; only where both have two blocks of time in the bin.
    pub ratio_interval: Option<(f64, f64)>,
}

#[derive(Debug, Clone, Copy, PartialEq)]
pub struct PowerAt {
    pub airspeed_m_s: f64,
    pub power_w: f64,
    /// Standard deviation between the one-second means (not an interval of the mean: neighbouring
    /// seconds of one flight are not independent).
    pub sd_w: f64,
    pub readings: usize,
    /// Blocks of [`BLOCK_S`] that the readings fall into.
    pub blocks: usize,
}

#[derive(Debug, Clone, PartialEq)]
pub struct RpmAlignment {
    /// Median of the flight's readings.
    pub angular_speed_rad_s: f64,
    pub rows: Vec<AlignmentRow>,
    /// What cannot be answered from an alignment by rotor speed, in words.
    pub limits: Vec<String>,
}

/// A block of time: longer than a gust, so that its mean may count as one observation, s (common
/// practice, no source).
pub const BLOCK_S: f64 = 10.0;

/// Bins of airspeed, m/s.
const BIN_M_S: f64 = 2.0;
/// Readings within this of the reference rotor speed are carried to it.
const NEAR: f64 = 0.10;

/// Puts flight and bench (tunnel) readings side by side at the flight's median rotor speed.
pub fn rpm_alignment(
    bench: &[Reading],
    flight: &[Reading],
) -> (Option<RpmAlignment>, Vec<Finding>) {
    if flight.is_empty() || bench.is_empty() {
        let side = if flight.is_empty() { "flight" } else { "bench" };
        let finding = Finding::note(
            "rpm-alignment-impossible",
            format!("the {side} has no second of steady rotor speed with power and airspeed"),
            "Log rpm, volts, amps and airspeed together.",
        );
        return (None, vec![finding]);
    }
    let rotor: Vec<f64> = flight.iter().map(|r| r.angular_speed_rad_s).collect();
    let reference = stats::median(&rotor);
    let fastest = flight
        .iter()
        .chain(bench)
        .map(|r| r.airspeed_m_s)
        .fold(0.0, f64::max);
    let bins = (fastest / BIN_M_S).floor() as usize + 1;
    let rows = (0..bins)
        .filter_map(|n| {
            let (low, high) = (n as f64 * BIN_M_S, (n + 1) as f64 * BIN_M_S);
            let (flight_logs, bench_logs) = (
                block_logs(flight, reference, low, high),
                block_logs(bench, reference, low, high),
            );
            let (flight, bench) = (
                power_at(flight, reference, low, high),
                power_at(bench, reference, low, high),
            );
            let ratio = flight.zip(bench).map(|(f, b)| f.power_w / b.power_w);
            let ratio_interval =
                ratio
                    .zip(welch(&flight_logs, &bench_logs))
                    .map(|(ratio, apart)| {
                        let half = stats::t_quantile(0.975, apart.df) * apart.se;
                        (ratio * (-half).exp(), ratio * half.exp())
                    });
            (flight.is_some() || bench.is_some()).then_some(AlignmentRow {
                airspeed_low_m_s: low,
                airspeed_high_m_s: high,
                flight,
                bench,
                ratio,
                ratio_interval,
            })
        })
        .collect();
    let alignment = RpmAlignment {
        angular_speed_rad_s: reference,
        rows,
        limits: limits(bench, reference),
    };
    (Some(alignment), Vec::new())
}

/// Readings of a bin carried to the reference rotor speed: time, airspeed, power.
fn carried(readings: &[Reading], reference: f64, low: f64, high: f64) -> Vec<(f64, f64, f64)> {
    readings
        .iter()
        .filter(|r| r.airspeed_m_s >= low && r.airspeed_m_s < high)
        .filter(|r| (r.angular_speed_rad_s / reference - 1.0).abs() <= NEAR)
        .map(|r| {
            let power = r.power_w * (reference / r.angular_speed_rad_s).powi(3);
            (r.time_s, r.airspeed_m_s, power)
        })
        .collect()
}

/// Logarithms of the power of a bin, a mean a block of time: neighbouring seconds share their gust.
fn block_logs(readings: &[Reading], reference: f64, low: f64, high: f64) -> Vec<f64> {
    let mut blocks: BTreeMap<i64, Vec<f64>> = BTreeMap::new();
    for (time, _, power) in carried(readings, reference, low, high) {
        if power > 0.0 {
            blocks
                .entry((time / BLOCK_S).floor() as i64)
                .or_default()
                .push(power.ln());
        }
    }
    blocks.values().map(|logs| stats::mean(logs)).collect()
}

fn power_at(readings: &[Reading], reference: f64, low: f64, high: f64) -> Option<PowerAt> {
    let inside = carried(readings, reference, low, high);
    let v: Vec<f64> = inside.iter().map(|r| r.1).collect();
    let p: Vec<f64> = inside.iter().map(|r| r.2).collect();
    (!p.is_empty()).then(|| PowerAt {
        airspeed_m_s: stats::mean(&v),
        power_w: stats::mean(&p),
        sd_w: if p.len() < 2 { 0.0 } else { stats::sd(&p) },
        readings: p.len(),
        blocks: block_logs(readings, reference, low, high).len(),
    })
}

fn limits(bench: &[Reading], reference: f64) -> Vec<String> {
    let mut limits: Vec<String> = [
        "No throttle was logged: how much current a stick position draws, holds at equal throttle, \
         the spool-up lag and full-throttle passes cannot be told.",
        "No thrust was measured: a static gain, a thrust per watt and a reference case cannot be given.",
        "At equal rotor speed the torque falls with airspeed; at equal throttle the rotor also speeds \
         up. The two unloadings are not the same number.",
        "One flight shows no scatter from flight to flight: an interval tells how far this flight is known, \
         not how far the next one may lie, and there is no timer and no verdict.",
    ]
    .map(str::to_owned)
    .into();
    let near = |r: &&Reading| (r.angular_speed_rad_s / reference - 1.0).abs() <= NEAR;
    let slowest = bench
        .iter()
        .filter(near)
        .map(|r| r.airspeed_m_s)
        .fold(f64::INFINITY, f64::min);
    if slowest.is_finite() && slowest > BIN_M_S {
        limits.push(format!(
            "The bench has no reading at this rotor speed below {slowest:.1} m/s: a static point, and \
             with it the step from standing to flying, is missing."
        ));
    }
    if !bench.iter().any(|r| near(&r)) {
        limits.push("The bench has no reading at the flight's rotor speed.".to_owned());
    }
    limits
}
