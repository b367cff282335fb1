//! The zero of a current sensor, from the time on the ground with the motor off.

use std::ops::Range;

use crate::ingest::log::{Channel, Log};
use crate::season::Finding;
use crate::stats;

/// Throttle below which the motor stands.
const CLOSED: f64 = 0.02;
/// Rows and seconds that a zero must rest on.
const LEAST_ROWS: usize = 20;
const LEAST_S: f64 = 3.0;
/// What receiver and servos draw at rest is no offset, A (common practice, no source).
const STANDING_A: (f64, f64) = (-0.05, 0.5);
/// An offset beyond this is a motor that runs, or a broken sensor, A.
const LARGEST_A: f64 = 5.0;

/// Takes the current sensor's offset off, found as the median over the rows on the ground at closed
/// throttle; the offset in A, `None` where nothing was changed.
///
/// `ground` are rows on the ground (from the phases of flight); without a throttle channel they
/// must be rows with the motor off. What an avionics supply may draw is not taken for an offset.
pub fn zero_current(
    log: &mut Log,
    ground: &[Range<usize>],
    findings: &mut Vec<Finding>,
) -> Option<f64> {
    let current = log.get(Channel::Current)?;
    let throttle = log.get(Channel::Throttle);
    let rows = ground
        .iter()
        .flat_map(|span| span.start.min(log.len())..span.end.min(log.len()))
        .filter(|&row| throttle.is_none_or(|t| t[row] <= CLOSED));
    let at_rest: Vec<f64> = rows
        .map(|row| current[row])
        .filter(|x| x.is_finite())
        .collect();
    if at_rest.len() < LEAST_ROWS || (at_rest.len() as f64) * log.step_s < LEAST_S {
        return None;
    }
    let offset = stats::median(&at_rest);
    if (STANDING_A.0..=STANDING_A.1).contains(&offset) {
        return None;
    }
    let spread: Vec<f64> = at_rest.iter().map(|x| (x - offset).abs()).collect();
    let unsteady = stats::median(&spread) > 0.5 * offset.abs();
    if offset.abs() > LARGEST_A && !unsteady {
        findings.push(
            Finding::warning(
                "current-at-rest",
                format!(
                    "the current sensor reads a steady {offset:.2} A on the ground at closed throttle, too \
                     much for its zero; this log's current is left out, since every charge and power from \
                     it would be off by that"
                ),
                "Check whether the motor ran; set the sensor's zero, and fly again.",
            )
            .in_file(&log.file),
        );
        log.channels.remove(&Channel::Current);
        return None;
    }
    if unsteady {
        findings.push(
            Finding::warning(
                "current-at-rest",
                format!("the current sensor reads {offset:.2} A on the ground at closed throttle; too unsteady to be its zero"),
                "Check whether the motor ran, and the sensor's calibration.",
            )
            .in_file(&log.file),
        );
        return None;
    }
    for value in log.channels.get_mut(&Channel::Current)? {
        *value -= offset;
    }
    findings.push(
        Finding::warning(
            "current-zero",
            format!("the current sensor reads {offset:.2} A with the motor off; that was taken off every value"),
            "Calibrate the sensor's zero, or reset it before the flight.",
        )
        .in_file(&log.file),
    );
    Some(offset)
}
