//! Load factor from an accelerometer whose mounting, zero and unit nobody wrote down.
//!
//! At rest and in level flight a sensor shows one g along what is then vertical, whichever way it was
//! glued in: that direction is the normal axis, its sign included, and the reading there is the scale.
//! A small difference from g may as well be an error of the zero: nothing in a flight tells them apart,
//! and what that leaves open is said.

use crate::flight::loads::{LoadSample, at_speed};
use crate::flight::track::{Track, mean, tracks};
use crate::ingest::{Channel, Log};
use crate::physics::atmosphere::G0;
use crate::season::Finding;
use crate::stats;

const AXES: [Channel; 3] = [
    Channel::AccelerationX,
    Channel::AccelerationY,
    Channel::AccelerationZ,
];
/// A fan shakes the sensor: means over ± this, s.
const HALF_WINDOW_S: f64 = 0.1;
/// Least time of rest, or of level flight, from which the mounting is taken, s.
const REST_S: f64 = 1.0;
const LEVEL_S: f64 = 5.0;
/// Largest error at one g, as a fraction of it; beyond it the reading is in another unit.
const AT_ONE_G: f64 = 0.25;
/// From here on the error at one g is told.
const TOLD: f64 = 0.03;
/// Units that a header can get wrong: what one g reads in them, as a multiple of g. Tenths of g in a
/// column of m/s² read 10 instead of 9.8: the scale takes that.
const UNITS: [(f64, &str); 5] = [
    (1.0, "m/s²"),
    (1.0 / G0, "g, written as m/s²"),
    (G0, "m/s², written as g"),
    (10.0, "tenths of g, written as g"),
    (1000.0, "thousandths of g, written as g"),
];
/// Ground and level flight agree on the vertical within this, or the sensor is loose, rad.
const LOOSE_RAD: f64 = 0.6;
/// Readings at one and the same end of the scale from which the scale is taken to end there.
const AT_THE_END: usize = 5;

/// What the sensor shows along the normal axis.
#[derive(Debug, Clone, PartialEq)]
pub struct Normal {
    pub samples: Vec<LoadSample>,
    /// Load factor at which the scale ends, where it was reached.
    pub saturated_at: Option<f64>,
}

/// Load factors of the log, with what had to be put right; no samples without an accelerometer or
/// where its readings cannot be placed. `level`: times of level flight.
pub fn normal_load(
    log: &Log,
    speed: &[Track],
    level: &[f64],
    findings: &mut Vec<Finding>,
) -> Option<Normal> {
    let axes: Vec<(Channel, Vec<Track>)> = AXES
        .into_iter()
        .map(|axis| (axis, tracks(log, axis)))
        .filter(|(_, t)| !t.is_empty())
        .collect();
    if axes.is_empty() {
        return None;
    }
    let placed = match placed(log, &axes, speed, level) {
        Ok((placed, found)) => {
            findings.extend(found.into_iter().map(|f| f.in_file(&log.file)));
            placed
        }
        Err(finding) => {
            findings.push(finding.in_file(&log.file));
            return None;
        }
    };
    let saturated_at = saturation(&axes, &placed);
    if let Some(at) = saturated_at {
        findings.push(
            Finding::warning(
                "accelerometer-saturated",
                format!(
                    "the accelerometer's scale ends at a load factor of {at:.1}, and was reached"
                ),
                "Loads beyond it are not known: set a larger range in the logger. What is shown is \
                 the least they were.",
            )
            .in_file(&log.file),
        );
    }
    let mut samples = Vec::new();
    for &t in axes[axes.len() - 1].1.iter().flat_map(|t| &t.time) {
        let smooth: Option<Vec<f64>> = axes
            .iter()
            .map(|(_, a)| mean(a, t - HALF_WINDOW_S, t + HALF_WINDOW_S))
            .collect();
        if let Some(a) = smooth {
            samples.push(LoadSample {
                time_s: t,
                speed_m_s: at_speed(speed, t),
                load_factor: placed.load_factor(&a),
            });
        }
    }
    (!samples.is_empty()).then_some(Normal {
        samples,
        saturated_at,
    })
}

/// Where up is and how long one g.
struct Placed {
    /// Unit vector.
    up: Vec<f64>,
    /// Reading at one g.
    one_g: f64,
}

impl Placed {
    fn load_factor(&self, reading: &[f64]) -> f64 {
        dot(reading, &self.up) / self.one_g
    }
}

fn dot(a: &[f64], b: &[f64]) -> f64 {
    a.iter().zip(b).map(|(a, b)| a * b).sum()
}

fn length(a: &[f64]) -> f64 {
    dot(a, a).sqrt()
}

fn placed(
    log: &Log,
    axes: &[(Channel, Vec<Track>)],
    speed: &[Track],
    level: &[f64],
) -> Result<(Placed, Vec<Finding>), Finding> {
    let rest = rest(log, axes, speed);
    let flown = in_level_flight(log, axes, level);
    let mut findings = Vec::new();
    if let (Some(a), Some(b)) = (&rest, &flown)
        && (dot(a, b) / (length(a) * length(b)))
            .clamp(-1.0, 1.0)
            .acos()
            > LOOSE_RAD
    {
        findings.push(Finding::warning(
            "accelerometer-loose",
            "the accelerometer shows another vertical in level flight than on the ground",
            "Fix the sensor to the airframe. Level flight is believed.",
        ));
    }
    // The attitude in flight is not that on the wheels: level flight knows the normal axis better.
    let Some(reading) = flown.or(rest) else {
        return Err(Finding::warning(
            "accelerometer-not-placed",
            "the log has neither a second of rest before the start nor five seconds of level flight: \
             which way the accelerometer looks is not known",
            "Start the logger a few seconds before the throttle. Load factor is from turn rate.",
        ));
    };
    let shown = length(&reading) / G0;
    let nearest = UNITS
        .into_iter()
        .min_by(|a, b| ((shown / a.0).ln().abs()).total_cmp(&(shown / b.0).ln().abs()));
    let Some((unit, words)) =
        nearest.filter(|(unit, _)| (1.0 - AT_ONE_G..=1.0 + AT_ONE_G).contains(&(shown / unit)))
    else {
        return Err(Finding::warning(
            "accelerometer-scale",
            format!(
                "at rest or in level flight the accelerometer shows {shown:.2} g instead of 1: its unit \
                 is not known"
            ),
            "Name the column's unit under channels. Load factor is from turn rate.",
        ));
    };
    if unit != 1.0 {
        findings.push(Finding::warning(
            "accelerometer-unit",
            format!(
                "at rest or in level flight the accelerometer shows {shown:.2} g: it is taken to be in \
                 {words}"
            ),
            "Name the column's unit under channels.",
        ));
    }
    let up: Vec<f64> = reading.iter().map(|a| a / length(&reading)).collect();
    let strongest = (0..up.len()).max_by(|a, b| up[*a].abs().total_cmp(&up[*b].abs()));
    if let Some(i) = strongest.filter(|i| axes[*i].0 == Channel::AccelerationZ && up[*i] < 0.0) {
        findings.push(Finding::note(
            "accelerometer-upside-down",
            format!(
                "the vertical axis shows {:+.2} g where it should show +1: the sensor is upside down, or \
                 counts downwards; it was turned round",
                up[i] * shown / unit
            ),
            "Nothing to do.",
        ));
    }
    if axes.len() < 3 {
        findings.push(Finding::note(
            "accelerometer-axes",
            format!(
                "{} of three axes is logged: it is taken for the normal axis, whatever its tilt hides",
                axes.len()
            ),
            "Log all three axes.",
        ));
    }
    let off = shown / unit - 1.0;
    if off.abs() > TOLD {
        findings.push(Finding::note(
            "accelerometer-at-one-g",
            format!(
                "at one g the accelerometer is off by {:.0} %; its scale was corrected. Were it its zero, \
                 a load factor of 4 would be {:.1}",
                100.0 * off,
                4.0 * (1.0 + off) - off
            ),
            "Calibrate the sensor: note its reading on the bench, upright and upside down.",
        ));
    }
    let one_g = length(&reading);
    Ok((Placed { up, one_g }, findings))
}

/// Mean reading before the model moves or the motor works.
fn rest(log: &Log, axes: &[(Channel, Vec<Track>)], speed: &[Track]) -> Option<Vec<f64>> {
    let until = rest_end(log, speed)?;
    let start = axes
        .iter()
        .map(|(_, a)| a[0].start())
        .fold(f64::NEG_INFINITY, f64::max);
    if until - start < REST_S {
        return None;
    }
    axes.iter().map(|(_, a)| mean(a, start, until)).collect()
}

/// Median reading in level flight, axis by axis: speeding up and slowing down, which tilt it, come
/// about equally often.
fn in_level_flight(log: &Log, axes: &[(Channel, Vec<Track>)], level: &[f64]) -> Option<Vec<f64>> {
    let seconds = level
        .windows(2)
        .map(|w| w[1] - w[0])
        .filter(|dt| *dt <= 10.0 * log.step_s.max(0.1))
        .sum::<f64>();
    if seconds < LEVEL_S {
        return None;
    }
    axes.iter()
        .map(|(_, axis)| {
            let values: Vec<f64> = level
                .iter()
                .filter_map(|t| mean(axis, t - HALF_WINDOW_S, t + HALF_WINDOW_S))
                .collect();
            (!values.is_empty()).then(|| stats::median(&values))
        })
        .collect()
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

/// The load factor at the end of the scale of the axis that looks up most, where readings pile up
/// there: a peak of a real load is reached once.
fn saturation(axes: &[(Channel, Vec<Track>)], placed: &Placed) -> Option<f64> {
    let (index, up) = placed
        .up
        .iter()
        .enumerate()
        .max_by(|a, b| a.1.abs().total_cmp(&b.1.abs()))?;
    let upward = |v: f64| v * up.signum();
    let values: Vec<f64> = axes[index]
        .1
        .iter()
        .flat_map(|t| t.value.iter().map(|v| upward(*v)))
        .collect();
    let end = values.iter().copied().max_by(f64::total_cmp)?;
    let piled = values.iter().filter(|v| **v == end).count();
    let in_a_row = values.windows(2).any(|w| w[0] == end && w[1] == end);
    let at = up.abs() * end / placed.one_g;
    (piled >= AT_THE_END && in_a_row && at > 1.5).then_some(at)
}
