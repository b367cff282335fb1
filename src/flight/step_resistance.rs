//! Pack resistance from current steps, at a time scale that is said.
//!
//! A pack's voltage falls at once with the current and then goes on falling for many seconds: its
//! resistance is a matter of how long after a step one looks. So every step of the current is looked
//! at from one to three seconds after it, and how much sooner or later would change is part of the
//! error.

use crate::flight::track::{Track, mean, tracks};
use crate::ingest::{Channel, Log};
use crate::season::Finding;
use crate::stats;
use crate::stats::jackknife::jackknife;

/// Seconds after a step: the scale itself, sooner, later.
pub const AFTER_S: (f64, f64) = (1.0, 3.0);
const SOONER_S: (f64, f64) = (0.5, 1.5);
const LATER_S: (f64, f64) = (2.0, 5.0);
/// Seconds before it that it is held against.
const BEFORE_S: (f64, f64) = (-1.5, -0.3);
/// A step is a change by this part of the flight's peak current, at least.
const STEP: f64 = 0.2;
/// Steps are looked for this often, s, and stand this far apart at least.
const EVERY_S: f64 = 0.25;
const APART_S: f64 = 2.0;
/// Steps from which a resistance is told, at least.
const STEPS: usize = 6;

/// Resistance of one flight's pack.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct StepResistance {
    /// One to three seconds after a step.
    pub resistance_ohm: f64,
    /// 95 %: jackknife over steps, and half of what the time scale changes.
    pub interval_ohm: (f64, f64),
    /// Half to one and a half, and two to five seconds after.
    pub sooner_ohm: Option<f64>,
    pub later_ohm: Option<f64>,
    pub steps: usize,
    /// K, where the pack's temperature is logged.
    pub temperature_k: Option<f64>,
}

/// Change of current (A) and voltage (V) over one step, the drift of the open-circuit voltage taken
/// off by the charge drawn meanwhile.
#[derive(Debug, Clone, Copy)]
struct Step {
    current: f64,
    voltage: f64,
    charge_ah: f64,
}

/// The resistance of a flight; a finding where volts and amps are logged and steps are too few.
/// `None` without both sensors.
pub fn step_resistance(log: &Log) -> Result<Option<StepResistance>, Finding> {
    let voltage = tracks(log, Channel::Voltage);
    let current = tracks(log, Channel::Current);
    if voltage.is_empty() || current.is_empty() {
        return Ok(None);
    }
    let moments = moments(&current);
    let at = |span: (f64, f64)| resistance(&steps(&moments, &current, &voltage, span));
    let Some((value, se, steps)) = at(AFTER_S) else {
        return Err(Finding::note(
            "pack-steps-too-few",
            format!(
                "fewer than {STEPS} clean steps of the current: no resistance of the pack at a time \
                 scale of one to three seconds"
            ),
            "Move the throttle in clear steps a few times a flight.",
        )
        .in_file(&log.file));
    };
    let (sooner, later) = (at(SOONER_S).map(|r| r.0), at(LATER_S).map(|r| r.0));
    let scale = match (sooner, later) {
        (Some(a), Some(b)) => 0.5 * (b - a).abs(),
        (one, other) => one.or(other).map_or(0.0, |r| (r - value).abs()),
    };
    let half = (stats::t_quantile(0.975, steps as f64 - 1.0) * se).hypot(scale);
    let temperature = tracks(log, Channel::PackTemperature);
    let warm: Vec<f64> = temperature
        .iter()
        .flat_map(|t| t.value.iter().copied())
        .collect();
    Ok((value > 0.0).then(|| StepResistance {
        resistance_ohm: value,
        interval_ohm: (value - half, value + half),
        sooner_ohm: sooner,
        later_ohm: later,
        steps,
        temperature_k: (!warm.is_empty()).then(|| stats::mean(&warm)),
    }))
}

/// Times of the steps, each at the greatest change of its surroundings.
fn moments(current: &[Track]) -> Vec<f64> {
    let peak = current
        .iter()
        .flat_map(|t| &t.value)
        .fold(0.0_f64, |a, b| a.max(*b));
    let mut found: Vec<(f64, f64)> = Vec::new();
    for track in current {
        let count = (track.length() / EVERY_S).floor() as usize;
        for k in 0..count {
            let t = track.start() + EVERY_S * k as f64;
            let of = |span: (f64, f64)| mean(std::slice::from_ref(track), t + span.0, t + span.1);
            // Half a second on either side: the step itself, spool-up included.
            let (Some(before), Some(after)) = (of((-0.6, -0.1)), of((0.4, 0.9))) else {
                continue;
            };
            let change = (after - before).abs();
            if change < STEP * peak {
                continue;
            }
            match found.last_mut() {
                Some(last) if t - last.0 < APART_S => {
                    if change > last.1 {
                        *last = (t, change);
                    }
                }
                _ => found.push((t, change)),
            }
        }
    }
    found.into_iter().map(|(t, _)| t).collect()
}

fn steps(moments: &[f64], current: &[Track], voltage: &[Track], after: (f64, f64)) -> Vec<Step> {
    let of = |tracks: &[Track], t: f64, span: (f64, f64)| mean(tracks, t + span.0, t + span.1);
    moments
        .iter()
        .filter_map(|&t| {
            let between = mean(current, t, t + 0.5 * (after.0 + after.1))?;
            Some(Step {
                current: of(current, t, after)? - of(current, t, BEFORE_S)?,
                voltage: of(voltage, t, after)? - of(voltage, t, BEFORE_S)?,
                charge_ah: between * 0.5 * (after.0 + after.1) / 3600.0,
            })
        })
        .collect()
}

/// Least squares of the change of voltage on that of current through the origin, with the charge
/// drawn meanwhile as a second regressor; standard error by leaving one step out at a time.
fn resistance(steps: &[Step]) -> Option<(f64, f64, usize)> {
    if steps.len() < STEPS {
        return None;
    }
    let slope = |out: Option<usize>| -> Option<f64> {
        let (mut ii, mut iq, mut qq, mut iv, mut qv) = (0.0, 0.0, 0.0, 0.0, 0.0);
        for (n, s) in steps.iter().enumerate() {
            if Some(n) != out {
                ii += s.current * s.current;
                iq += s.current * s.charge_ah;
                qq += s.charge_ah * s.charge_ah;
                iv += s.current * s.voltage;
                qv += s.charge_ah * s.voltage;
            }
        }
        let det = ii * qq - iq * iq;
        (det > 1e-9 * ii * qq).then(|| -(iv * qq - qv * iq) / det)
    };
    let left = jackknife(steps.len(), slope)?;
    Some((left.value, left.se, steps.len()))
}
