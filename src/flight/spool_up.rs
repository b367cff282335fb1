//! How long the current takes to follow the throttle.

use serde::{Deserialize, Serialize};

use crate::flight::track::{Track, tracks};
use crate::ingest::{Channel, Log};
use crate::season::Finding;
use crate::stats;

/// The delay of the current behind the throttle, over one flight.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct SpoolUp {
    /// Median over steps of the time from the throttle's half-way point to the current's, s.
    pub lag_s: f64,
    /// 95 % interval, steps as clusters; `None` below three steps.
    pub interval_s: Option<(f64, f64)>,
    /// Time from the throttle's half-way point until the current stays within a tenth of its step
    /// about where it ends, s (median). A hold waits longer, by how large the step was: see [`crate::flight::holds`].
    pub ninety_s: f64,
    pub steps: usize,
}

/// Throttle change that counts as a step (10 points), done within `STEP_WITHIN_S`.
const STEP: f64 = 0.10;
const STEP_WITHIN_S: f64 = 0.6;
/// Rows from which a correlation over the whole log counts.
const CORRELATED_ROWS: usize = 50;
/// The throttle must stay within a third of the step this long before and after it.
const QUIET_BEFORE_S: f64 = 0.6;
const QUIET_AFTER_S: f64 = 2.0;

/// Measures the lag on every clean throttle step. Finds a reversed throttle on the way.
pub fn spool_up(log: &Log) -> (Option<SpoolUp>, Vec<Finding>) {
    let (throttle, current) = (
        tracks(log, Channel::Throttle),
        tracks(log, Channel::Current),
    );
    if throttle.is_empty() || current.iter().flat_map(|t| &t.value).all(|v| *v == 0.0) {
        return (None, Vec::new());
    }
    let mut responses = Vec::new();
    let mut against = 0;
    for track in &throttle {
        for step in steps(track) {
            let Some(current) = current
                .iter()
                .find(|c| c.start() <= step.at && c.end() >= step.at)
            else {
                continue;
            };
            match response(&step, current) {
                Some(Response::Follows(r)) => responses.push(r),
                Some(Response::Opposes) => against += 1,
                None => {}
            }
        }
    }
    let mut findings = Vec::new();
    if against > responses.len() && against >= 2 {
        findings.push(reversed(
            log,
            format!("{against} of {} steps", against + responses.len()),
        ));
        return (None, findings);
    }
    if responses.is_empty() {
        return (None, findings);
    }
    let lags: Vec<f64> = responses.iter().map(|r| r.half_s).collect();
    let nineties: Vec<f64> = responses.iter().map(|r| r.ninety_s).collect();
    let lag_s = stats::median(&lags);
    // Crossings between two samples are placed by a straight line: half a sample, rectangular.
    let sampling = sampling_step(&current).max(sampling_step(&throttle)) / 12.0_f64.sqrt();
    let interval_s = (lags.len() >= 3).then(|| {
        let n = lags.len() as f64;
        let u = (stats::sd(&lags).powi(2) / n + sampling * sampling / n).sqrt();
        let half = stats::t_quantile(0.975, n - 1.0) * u;
        (lag_s - half, lag_s + half)
    });
    let steps = lags.len();
    (
        Some(SpoolUp {
            lag_s,
            interval_s,
            ninety_s: stats::median(&nineties),
            steps,
        }),
        findings,
    )
}

/// The delay over a power system's flights.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct PooledSpoolUp {
    /// Mean over flights, s.
    pub lag_s: f64,
    /// 95 %, flights as the unit; `None` for one flight.
    pub interval_s: Option<(f64, f64)>,
    pub ninety_s: f64,
    pub flights: usize,
    pub steps: usize,
}

/// Mean of the flights' delays with its t interval; `None` without a flight.
pub fn pool(flights: &[&SpoolUp]) -> Option<PooledSpoolUp> {
    let lags: Vec<f64> = flights.iter().map(|s| s.lag_s).collect();
    let nineties: Vec<f64> = flights.iter().map(|s| s.ninety_s).collect();
    let n = lags.len();
    if n == 0 {
        return None;
    }
    let lag_s = stats::mean(&lags);
    Some(PooledSpoolUp {
        lag_s,
        interval_s: (n > 1).then(|| {
            let half =
                stats::t_quantile(0.975, n as f64 - 1.0) * stats::sd(&lags) / (n as f64).sqrt();
            (lag_s - half, lag_s + half)
        }),
        ninety_s: stats::mean(&nineties),
        flights: n,
        steps: flights.iter().map(|s| s.steps).sum(),
    })
}

/// A throttle that falls as the current rises: by its steps, else over the whole log.
pub fn reversed_throttle(log: &Log) -> Option<Finding> {
    let (_, findings) = spool_up(log);
    if let Some(finding) = findings.into_iter().next() {
        return Some(finding);
    }
    let (throttle, current) = (log.get(Channel::Throttle)?, log.get(Channel::Current)?);
    let (t, c): (Vec<f64>, Vec<f64>) = throttle
        .iter()
        .zip(current)
        .filter(|(t, c)| t.is_finite() && c.is_finite())
        .map(|(t, c)| (*t, *c))
        .unzip();
    (t.len() >= CORRELATED_ROWS && correlation(&t, &c) < -0.5)
        .then(|| reversed(log, "over the whole log".to_owned()))
}

/// Pearson's correlation; 0 where one side does not vary.
fn correlation(x: &[f64], y: &[f64]) -> f64 {
    let (mx, my) = (stats::mean(x), stats::mean(y));
    let (mut sxx, mut syy, mut sxy) = (0.0, 0.0, 0.0);
    for (a, b) in x.iter().zip(y) {
        sxx += (a - mx) * (a - mx);
        syy += (b - my) * (b - my);
        sxy += (a - mx) * (b - my);
    }
    if sxx > 0.0 && syy > 0.0 {
        sxy / (sxx * syy).sqrt()
    } else {
        0.0
    }
}

/// The complaint about a throttle column that runs the wrong way.
fn reversed(log: &Log, seen: String) -> Finding {
    Finding::error(
        "throttle-reversed",
        format!(
            "the current falls when the throttle rises ({seen}): the throttle column runs \
             backwards, and the flight is looked at without it"
        ),
        "give the throttle's two `ends` in the log's channel map the other way round (the value at \
         full throttle comes second)",
    )
    .in_file(&log.file)
}

fn sampling_step(tracks: &[Track]) -> f64 {
    let steps: Vec<f64> = tracks
        .iter()
        .flat_map(|t| t.time.windows(2).map(|w| w[1] - w[0]))
        .collect();
    if steps.is_empty() {
        0.0
    } else {
        stats::median(&steps)
    }
}

struct Step {
    /// Where the throttle is half-way, s.
    at: f64,
    size: f64,
    /// Until when the throttle stays at its new place, s.
    quiet_until: f64,
}

struct Delay {
    half_s: f64,
    ninety_s: f64,
}

enum Response {
    Follows(Delay),
    Opposes,
}

/// Clean steps: quiet, a quick change, quiet again.
fn steps(track: &Track) -> Vec<Step> {
    let (time, value) = (&track.time, &track.value);
    let mut found: Vec<Step> = Vec::new();
    let mut i = 0;
    while i + 1 < time.len() {
        // Furthest sample within the step's time, but at least the next one (slow logs).
        let j = time
            .partition_point(|&t| t <= time[i] + STEP_WITHIN_S)
            .max(i + 2)
            - 1;
        let size = value[j] - value[i];
        if size.abs() < STEP {
            i += 1;
            continue;
        }
        let (before, after) = (value[i], settled(track, j));
        let size = after - before;
        let near = |v: f64, to: f64| (v - to).abs() <= size.abs() / 3.0;
        let early = track.part(time[i] - QUIET_BEFORE_S, time[i]).1;
        let clean_before =
            time[i] - QUIET_BEFORE_S >= track.start() && early.iter().all(|&v| near(v, before));
        let quiet_until = (j..time.len())
            .find(|&k| !near(value[k], after))
            .map_or(track.end(), |k| time[k - 1]);
        let half = before + 0.5 * size;
        let crossing = (i..j).find(|&k| (value[k] - half) * (value[k + 1] - half) <= 0.0);
        if let (true, true, Some(k)) = (
            clean_before && size.abs() >= STEP,
            quiet_until - time[j] >= 1.0,
            crossing,
        ) {
            let at = if value[k + 1] == value[k] {
                time[k]
            } else {
                time[k] + (time[k + 1] - time[k]) * (half - value[k]) / (value[k + 1] - value[k])
            };
            found.push(Step {
                at,
                size,
                quiet_until: quiet_until.min(at + QUIET_AFTER_S),
            });
            i = j;
        } else {
            i += 1;
        }
    }
    found
}

/// Where the throttle ends up after a step that ended about sample `j`.
fn settled(track: &Track, j: usize) -> f64 {
    let (_, after) = track.part(track.time[j], track.time[j] + 1.0);
    stats::median(after)
}

fn response(step: &Step, current: &Track) -> Option<Response> {
    let before = current.part(step.at - QUIET_BEFORE_S, step.at - 0.02).1;
    let before = if before.is_empty() {
        current.at(step.at - QUIET_BEFORE_S)?
    } else {
        stats::median(before)
    };
    let late = current.part(step.at + 1.0, step.quiet_until).1;
    if late.is_empty() {
        return None;
    }
    let after = stats::median(late);
    let change = after - before;
    let scale = before.abs().max(after.abs());
    if scale <= 0.0 || change.abs() < 0.05 * scale {
        return None;
    }
    if change * step.size < 0.0 {
        return Some(Response::Opposes);
    }
    let from = current
        .time
        .partition_point(|&t| t < step.at - QUIET_BEFORE_S)
        .max(1);
    let until = current
        .time
        .partition_point(|&t| t <= step.quiet_until + 1e-9);
    let crossing = |k: usize, level: f64| {
        let (v0, v1) = (current.value[k - 1], current.value[k]);
        let (t0, t1) = (current.time[k - 1], current.time[k]);
        let part = if v1 == v0 {
            1.0
        } else {
            ((level - v0) / (v1 - v0)).clamp(0.0, 1.0)
        };
        t0 + (t1 - t0) * part - step.at
    };
    let half = before + 0.5 * change;
    let first = (from..until).find(|&k| (current.value[k] - half) * change >= 0.0)?;
    // The last sample a tenth of the step off its end, on either side: a motor that has to speed its
    // rotor up draws more than it will keep drawing.
    let off = |k: &usize| (current.value[*k] - after).abs() > 0.1 * change.abs();
    let last = (from..until.saturating_sub(1)).rfind(off)?;
    let side = (current.value[last] - after).signum();
    Some(Response::Follows(Delay {
        half_s: crossing(first, half),
        ninety_s: crossing(last + 1, after + side * 0.1 * change.abs()),
    }))
}
