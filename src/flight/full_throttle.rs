//! When a flight was at full throttle: from the throttle where logged, else from the current.

use super::spool_up::reversed_throttle;
use super::straights::CLIMB_OUT_S;
use super::track::{self, Track};
use crate::ingest::{Channel, Log};
use crate::season::{Finding, Rules};
use crate::stats;

/// Time to spool up when no current shows it (common practice, no source), s.
const SPOOL_UP_S: f64 = 1.0;
const SPOOL_UP_MOST_S: f64 = 2.0;
/// After the current has settled the rotor still follows, and the receiver's lag is known to a tenth
/// of a second or two, s.
const SETTLING_S: f64 = 0.4;
/// Taken off the end, s: the receiver's lag is known no better, and thrust is gone before the stick
/// shows it.
const END_MARGIN_S: f64 = 0.3;
/// Share of the sustained current that counts as full throttle when no throttle is logged.
const FULL_CURRENT: f64 = 0.82;
/// Over this time either way the sustained current is the same but for unloading, s.
const CURRENT_WINDOW_S: f64 = 45.0;

/// Spans of full throttle, spool-up taken off.
pub(super) struct FullThrottle {
    pub spans: Vec<(f64, f64)>,
    pub findings: Vec<Finding>,
}

/// Spans of full throttle in the log, or why none can be told. `take_off`: start of fast flight.
pub(super) fn full_throttle(
    log: &Log,
    rules: &Rules,
    take_off: Option<f64>,
) -> Result<FullThrottle, Finding> {
    let current = track::tracks(log, Channel::Current);
    let throttle = track::tracks(log, Channel::Throttle);
    let limit = rules.full_throttle.value;
    if !throttle.is_empty() {
        let most = throttle
            .iter()
            .flat_map(|t| &t.value)
            .fold(f64::MIN, |a, b| a.max(*b));
        if let Some(finding) = reversed_throttle(log) {
            return Err(finding);
        }
        if most < limit {
            return Err(Finding::warning(
                "never-full-throttle",
                format!(
                    "the throttle never goes above {:.0} %, and a full-throttle straight needs \
                     {:.0} %",
                    100.0 * most,
                    100.0 * limit
                ),
                "fly passes at full throttle; if these were, give the throttle's end points \
                 (`ends`) in the log's channel map, or lower `full_throttle` under [rules]",
            ));
        }
        let spans = spans(&throttle, |_, v| v >= limit, &current);
        return Ok(FullThrottle {
            spans,
            findings: Vec::new(),
        });
    }
    if current.is_empty() {
        return Err(Finding::warning(
            "no-throttle",
            "the log has neither throttle nor current: full throttle cannot be told",
            "log the throttle or the current",
        ));
    }
    // Full-throttle current falls with the pack's voltage, so the yardstick is a local one; the
    // take-off run draws more than any pass, the fan standing still in the air.
    let flying = take_off.map_or(f64::NEG_INFINITY, |t| t + CLIMB_OUT_S);
    let sustained: Vec<(f64, f64)> = current
        .iter()
        .flat_map(|t| {
            let steps = (t.length() / 0.5) as usize;
            (0..=steps)
                .map(|k| t.start() + 0.5 * k as f64)
                .filter_map(|at| {
                    let (time, value) = t.part(at, at + 1.5);
                    (time.len() >= 2 && at > flying).then(|| (at, stats::mean(value)))
                })
        })
        .collect();
    let most = sustained.iter().fold(0.0_f64, |a, b| a.max(b.1));
    let yard = |t: f64| {
        sustained
            .iter()
            .filter(|(at, _)| (at - t).abs() < CURRENT_WINDOW_S)
            .fold(0.6 * most, |a, b| a.max(b.1))
    };
    let spans = spans(&current, |t, v| v >= FULL_CURRENT * yard(t), &current);
    Ok(FullThrottle {
        spans,
        findings: vec![Finding::note(
            "throttle-from-current",
            "no throttle is logged: full throttle is taken where the current is near its sustained \
             maximum",
            "log the throttle",
        )],
    })
}

/// Spans where `high` holds, each without its spool-up.
fn spans(tracks: &[Track], high: impl Fn(f64, f64) -> bool, current: &[Track]) -> Vec<(f64, f64)> {
    let mut out = Vec::new();
    for t in tracks {
        let mut start: Option<f64> = None;
        for (i, (&time, &value)) in t.time.iter().zip(&t.value).enumerate() {
            let on = high(time, value);
            match (start, on) {
                (None, true) => start = Some(time),
                (Some(from), false) => {
                    out.push((from, t.time[i - 1]));
                    start = None;
                }
                _ => {}
            }
        }
        if let Some(from) = start {
            out.push((from, t.end()));
        }
    }
    out.into_iter()
        .map(|(from, to)| (from + spool_up(current, from, to), to - END_MARGIN_S))
        .filter(|(from, to)| to > from)
        .collect()
}

/// Time from full throttle until the current has settled.
fn spool_up(current: &[Track], from: f64, to: f64) -> f64 {
    let until = (from + SPOOL_UP_MOST_S).min(to);
    let Some(track) = current
        .iter()
        .find(|t| t.start() <= from && t.end() >= until)
    else {
        return SPOOL_UP_S;
    };
    let (time, value) = track.part(from, until);
    if time.len() < 5 {
        return SPOOL_UP_S;
    }
    // Settled: the rest of the two seconds stays within a tenth of its own median.
    let late = stats::median(&value[value.len() / 2..]);
    let unsettled = time.iter().zip(value).rev().find(|(_, v)| **v < 0.9 * late);
    unsettled.map_or(SETTLING_S, |(t, _)| {
        (t - from + SETTLING_S).min(SPOOL_UP_MOST_S)
    })
}
