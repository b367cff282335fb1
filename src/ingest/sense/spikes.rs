//! Spikes by the Hampel identifier: a value far from the median of its neighbours, in units of
//! their median absolute deviation (Hampel, The influence curve and its role in robust estimation,
//! JASA 69, 1974; Davies and Gather, The identification of multiple outliers, JASA 88, 1993).

use super::{Marks, blank};
use crate::ingest::log::{Channel, Log};
use crate::stats;

/// Neighbours on each side.
const SIDE: usize = 3;
/// Deviations from the median; three is usual, but a gust or a blip of the stick is no error.
const DEVIATIONS: f64 = 8.0;
/// Share of the channel's usual span that a spike must exceed, besides [`DEVIATIONS`] usual changes:
/// where neighbours hold still, their deviation is zero and any change would count.
const LEAST_SHARE: f64 = 0.3;
/// Rows further apart can hold a true pulse between two others, s.
const COARSEST_S: f64 = 0.3;
/// Nothing that has a temperature warms and cools again within this, s (common practice, no source).
const COARSEST_THERMAL_S: f64 = 10.0;
/// A stick moved this far within the neighbourhood explains a pulse.
const STICK: f64 = 0.1;

/// Channels that change smoothly. Accelerations and the stick may jump.
const SMOOTH: [Channel; 12] = [
    Channel::Voltage,
    Channel::Current,
    Channel::Power,
    Channel::AngularSpeed,
    Channel::GroundSpeed,
    Channel::Airspeed,
    Channel::Height,
    Channel::Pressure,
    Channel::ControllerTemperature,
    Channel::MotorTemperature,
    Channel::PackTemperature,
    Channel::AirTemperature,
];
const THERMAL: [Channel; 4] = [
    Channel::ControllerTemperature,
    Channel::MotorTemperature,
    Channel::PackTemperature,
    Channel::AirTemperature,
];
const ELECTRICAL: [Channel; 4] = [
    Channel::Voltage,
    Channel::Current,
    Channel::Power,
    Channel::AngularSpeed,
];

/// Rows whose value is further than `deviations` from the median of the `2·side + 1` values around
/// it (1.4826 times their median absolute deviation, at least `least`). Near the ends the window is
/// what there is; values absent are left out.
pub fn hampel(values: &[f64], side: usize, deviations: f64, least: f64) -> Vec<usize> {
    /// Makes the median absolute deviation of normal values their standard deviation.
    const NORMAL: f64 = 1.4826;
    let mut window = Vec::with_capacity(2 * side + 1);
    (0..values.len())
        .filter(|&row| {
            let around = row.saturating_sub(side)..(row + side + 1).min(values.len());
            let value = values[row];
            // Most values are near both neighbours; only the others need the medians.
            let near = |at: Option<usize>| {
                at.and_then(|i| values.get(i))
                    .is_some_and(|x| (x - value).abs() <= least)
            };
            if !value.is_finite() || near(row.checked_sub(1)) || near(Some(row + 1)) {
                return false;
            }
            window.clear();
            window.extend(values[around].iter().filter(|x| x.is_finite()));
            if window.len() < 3 {
                return false;
            }
            let median = stats::median(&window);
            window.iter_mut().for_each(|x| *x = (*x - median).abs());
            let scale = NORMAL * stats::median(&window);
            (value - median).abs() > f64::max(deviations * scale, least)
        })
        .collect()
}

pub(super) fn check(log: &mut Log, marks: &mut Marks<'_>) {
    if log.len() < 4 * SIDE {
        return;
    }
    let mut found: Vec<(Channel, Vec<usize>)> = Vec::new();
    for channel in SMOOTH {
        let coarsest = if THERMAL.contains(&channel) {
            COARSEST_THERMAL_S
        } else {
            COARSEST_S
        };
        if log.step_s > coarsest {
            continue;
        }
        let Some(values) = log.get(channel) else {
            continue;
        };
        let finite: Vec<f64> = values.iter().copied().filter(|x| x.is_finite()).collect();
        if finite.len() < 4 * SIDE {
            continue;
        }
        let span = stats::quantile(&finite, 0.98) - stats::quantile(&finite, 0.02);
        if span > 0.0 {
            let least = f64::max(LEAST_SHARE * span, DEVIATIONS * usual_change(&finite));
            found.push((channel, hampel(values, SIDE, DEVIATIONS, least)));
        }
    }
    let shared = |channel: Channel, row: usize| {
        let others = found.iter().filter(|(c, _)| *c != channel);
        let mut electrical = others.filter(|(c, _)| ELECTRICAL.contains(c));
        electrical.any(|(_, rows)| {
            let next = rows.partition_point(|r| r + 1 < row);
            rows.get(next).is_some_and(|r| r.abs_diff(row) <= 1)
        })
    };
    let real = |channel: Channel, row: usize| {
        ELECTRICAL.contains(&channel) && (stick_moves(log, row) || shared(channel, row))
    };
    let spikes: Vec<(Channel, Vec<usize>)> = found
        .iter()
        .map(|(channel, rows)| {
            let rows = rows.iter().copied().filter(|r| !real(*channel, *r));
            (*channel, rows.collect())
        })
        .collect();
    for (channel, rows) in spikes {
        let say = |n: usize| {
            (
                "spikes",
                format!(
                    "{n} value(s) of {} stand alone, far from those around them; they count as absent",
                    channel.word()
                ),
                "Check the sensor's plug and wires.",
            )
        };
        blank(log, &rows, &[channel], "a spike", say, marks);
    }
}

/// Median change from one value to the next, where it changes: noise, or the last digit.
fn usual_change(values: &[f64]) -> f64 {
    let changes: Vec<f64> = values
        .windows(2)
        .map(|w| (w[1] - w[0]).abs())
        .filter(|d| *d > 0.0)
        .collect();
    if changes.is_empty() {
        0.0
    } else {
        stats::median(&changes)
    }
}

fn stick_moves(log: &Log, row: usize) -> bool {
    let Some(throttle) = log.get(Channel::Throttle) else {
        return false;
    };
    let around = &throttle[row.saturating_sub(2 * SIDE)..(row + 2 * SIDE + 1).min(throttle.len())];
    let (low, high) = around
        .iter()
        .filter(|x| x.is_finite())
        .fold((f64::INFINITY, f64::NEG_INFINITY), |(low, high), &x| {
            (low.min(x), high.max(x))
        });
    high - low > STICK
}
