//! Files of one logger that share its clock: merged by their stamps, without looking for an offset.
//!
//! A counter that had run for a while when the files begin reads the same at their beginnings and at
//! their ends; two loggers of their own would have to be switched on and off at once, and to have been
//! switched on once before at the same moment. Or the files hold the very same, uneven stamps.

use super::clock::{ClockOffset, Shift};
use crate::ingest::Log;

/// A counter below this may just have been switched on with the other, s (common practice, no source).
const LEAST_READING_S: f64 = 10.0;
/// Files of one clock begin and end within this, s, or two steps of the slower one.
const ENDS_S: f64 = 2.0;
/// The same stamp, s.
const SAME_S: f64 = 1e-6;
/// Stamps that must be the same, and at least so many rows.
const SAME_SHARE: f64 = 0.95;
const LEAST_ROWS: usize = 50;

/// The offset that `other` has from `log` if the two share a clock.
pub fn shared_clock(log: &Log, other: &Log) -> Option<ClockOffset> {
    let (a, b) = (log.clock_s?, other.clock_s?);
    let end = |log: &Log| log.time.last().copied().unwrap_or_default();
    let tolerance = ENDS_S.max(2.0 * log.step_s.max(other.step_s));
    let began = (a - b).abs() <= tolerance && a.min(b) >= LEAST_READING_S;
    let ended = (a + end(log) - b - end(other)).abs() <= tolerance;
    let shared = (began && ended) || same_stamps(log, other, b - a);
    shared.then(|| ClockOffset {
        offset: Shift {
            value_s: b - a,
            se_s: 0.0,
            correlation: 1.0,
        },
        by: vec!["clock".to_owned()],
        drift: None,
    })
}

fn same_stamps(log: &Log, other: &Log, offset_s: f64) -> bool {
    let (few, many, offset_s) = if log.len() <= other.len() {
        (log, other, -offset_s)
    } else {
        (other, log, offset_s)
    };
    if few.len() < LEAST_ROWS {
        return false;
    }
    // Even stamps of two loggers agree by themselves.
    let steps = few.time.windows(2).map(|w| w[1] - w[0]);
    let uneven = steps.filter(|s| (s - few.step_s).abs() > 1e-3 * few.step_s);
    if (uneven.count() as f64) < 0.1 * few.len() as f64 {
        return false;
    }
    let same = few.time.iter().filter(|&&t| {
        let t = t + offset_s;
        let next = many.time.partition_point(|x| *x < t - SAME_S);
        many.time.get(next).is_some_and(|x| (x - t).abs() <= SAME_S)
    });
    same.count() as f64 >= SAME_SHARE * few.len() as f64
}
