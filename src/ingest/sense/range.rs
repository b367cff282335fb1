//! Channels that stay on one value: stuck while what drives them moves, or clipped at the end of
//! their range. The limits are common practice, no source.

use super::{Marks, blank};
use crate::ingest::log::{Channel, Log};
use crate::season::Finding;

/// A value held longer than this while its cause moves is no reading, s.
const STUCK_S: f64 = 5.0;

/// A channel, what drives it, and how far that must move meanwhile.
const DRIVEN: [(Channel, Channel, f64); 6] = [
    (Channel::Voltage, Channel::Current, 20.0),
    (Channel::Current, Channel::Throttle, 0.3),
    (Channel::AngularSpeed, Channel::Throttle, 0.3),
    (Channel::Power, Channel::Throttle, 0.3),
    (Channel::GroundSpeed, Channel::Airspeed, 10.0),
    (Channel::Airspeed, Channel::GroundSpeed, 10.0),
];

pub(super) fn stuck(log: &mut Log, marks: &mut Marks<'_>) {
    for (channel, cause, least) in DRIVEN {
        let rows = held(log, channel, cause, least);
        let say = |n: usize| {
            (
                "stuck-channel",
                format!(
                    "{n} value(s) of {} stay the same while {} moves; all but the first of each stretch count as absent",
                    channel.word(),
                    cause.word()
                ),
                "Check the sensor and its wires.",
            )
        };
        let why = "the value before again while its cause moves";
        blank(log, &rows, &[channel], why, say, marks);
    }
}

/// Rows that only repeat the value before while the cause moves by more than `least`.
fn held(log: &Log, channel: Channel, cause: Channel, least: f64) -> Vec<usize> {
    let (Some(values), Some(cause)) = (log.get(channel), log.get(cause)) else {
        return Vec::new();
    };
    // A sensor that reads nothing below its threshold is at rest, not stuck.
    let at_rest = |value: f64| value == 0.0;
    let mut out = Vec::new();
    let mut start = 0;
    while start < log.len() {
        let value = values[start];
        let end = (start + 1..log.len())
            .find(|&i| values[i] != value)
            .unwrap_or(log.len());
        let length = log.time[end - 1] - log.time[start];
        if value.is_finite() && !at_rest(value) && length >= STUCK_S {
            let (low, high) = cause[start..end]
                .iter()
                .filter(|x| x.is_finite())
                .fold((f64::INFINITY, f64::NEG_INFINITY), |(l, h), &x| {
                    (l.min(x), h.max(x))
                });
            if high - low > least {
                out.extend(start + 1..end);
            }
        }
        start = end;
    }
    out
}

/// Channels whose largest value is more often the end of the range than a reading. A receiver's speed
/// has no end that a model reaches: held, it is a steady flight.
const RANGED: [Channel; 6] = [
    Channel::Current,
    Channel::Power,
    Channel::Airspeed,
    Channel::AccelerationX,
    Channel::AccelerationY,
    Channel::AccelerationZ,
];
/// Rows at the largest value that make one look.
const LEAST_ROWS: usize = 10;
/// Stretches at the largest value: one alone may be a value held.
const LEAST_STRETCHES: usize = 2;
/// Values just below that show that the steps are fine enough to tell.
const LEAST_STEPS: usize = 3;

/// Names channels that read exactly their largest value many times, far more often than the values
/// just below: readings thin out towards their end, clipped ones pile up.
pub(super) fn clipped(log: &Log, findings: &mut Vec<Finding>) {
    for channel in RANGED {
        let Some(values) = log.get(channel) else {
            continue;
        };
        let sizes = || values.iter().copied().filter(|x| x.is_finite());
        let most = sizes().fold(f64::NEG_INFINITY, f64::max);
        let rows = sizes().filter(|x| *x == most).count();
        let below = sizes().filter(|x| *x < most && *x >= 0.95 * most);
        let below: std::collections::BTreeMap<u64, usize> =
            below.fold(Default::default(), |mut counts, x| {
                *counts.entry(x.to_bits()).or_default() += 1;
                counts
            });
        let usual = below.values().copied().max().unwrap_or_default();
        let stretches = (0..values.len())
            .filter(|&i| values[i] == most && (i == 0 || values[i - 1] != most))
            .count();
        let is_end = stretches >= LEAST_STRETCHES && below.len() >= LEAST_STEPS;
        if most <= 0.0 || rows < LEAST_ROWS || rows < 4 * usual.max(1) || !is_end {
            continue;
        }
        let first = values.iter().position(|x| *x == most).unwrap_or_default();
        let line = log.lines.get(first).copied().unwrap_or_default();
        findings.push(
            Finding::warning(
                "clipped-channel",
                format!(
                    "{} reads exactly its largest value {rows} times: the sensor's range may end there",
                    channel.word()
                ),
                "Take these values as least values; a sensor of wider range would tell.",
            )
            .at(&log.file, line, None),
        );
    }
}
