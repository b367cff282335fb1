//! Ground velocity of a flight: one sample for each true update of the position receiver.
//!
//! Loggers write rows faster than the receiver delivers and repeat the last value in between;
//! repeated values are no data. Velocities as logged come first, then speed and course, then
//! positions differentiated over a short window.

use serde::{Deserialize, Serialize};

use super::straights::local_line;
use crate::ingest::{Channel, Log};
use crate::physics::geodesy::LocalFrame;
use crate::physics::wind::length;
use crate::season::Finding;
use crate::stats;

/// Updates closer than this are averaged, s: a jet's run-up holds nothing faster.
const BLOCK_S: f64 = 0.1;
/// A single value this far from both neighbours is a reception error, m/s.
const SPIKE_M_S: f64 = 8.0;
/// Above this ground speed a receiver's values cannot stand still, m/s.
const MOVING_M_S: f64 = 3.0;

/// A logged speed further than this from what the positions say is of another unit.
const SCALE_AGREES: f64 = 0.10;
/// Positions tell a speed from this on, m/s, and a scale from this many updates on.
const FAST_M_S: f64 = 10.0;
const SCALE_UPDATES: usize = 30;
/// Units a speed is logged in, m/s (exact: km/h, international knot, mile per hour, foot per second).
const SPEED_UNITS: [(&str, f64); 5] = [
    ("m/s", 1.0),
    ("km/h", 1.0 / 3.6),
    ("kn", 1852.0 / 3600.0),
    ("mph", 0.44704),
    ("ft/s", 0.3048),
];

#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
pub enum VelocitySource {
    /// Velocities north and east as logged.
    Velocities,
    /// Ground speed and course as logged.
    SpeedAndCourse,
    /// Ground speed as logged, along the line between positions.
    SpeedAlongPositions,
    /// Positions, differentiated.
    Positions,
}

impl VelocitySource {
    pub fn words(self) -> &'static str {
        match self {
            Self::Velocities => "logged velocities",
            Self::SpeedAndCourse => "logged ground speed and course",
            Self::SpeedAlongPositions => "logged ground speed along the positions",
            Self::Positions => "differentiated positions",
        }
    }
}

/// Ground velocity at the updates.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Velocity {
    /// s on the log's clock, strictly increasing.
    pub time: Vec<f64>,
    /// m/s.
    pub north: Vec<f64>,
    pub east: Vec<f64>,
    /// Index of the first sample after each gap.
    pub breaks: Vec<usize>,
    /// Median time between samples, s.
    pub update_s: f64,
    pub source: VelocitySource,
    /// Rows that only repeated the value before them.
    pub held_rows: usize,
    /// Values dropped as reception errors.
    pub spikes: usize,
    /// What the log lacks and what that costs.
    #[serde(with = "crate::season::finding::whole")]
    pub findings: Vec<Finding>,
}

impl Velocity {
    pub fn speed(&self) -> Vec<f64> {
        self.north
            .iter()
            .zip(&self.east)
            .map(|(n, e)| length(*n, *e))
            .collect()
    }

    /// The same on another clock, which reads `other(t)` at `t`.
    pub fn on_clock(mut self, other: impl Fn(f64) -> f64) -> Self {
        self.time.iter_mut().for_each(|t| *t = other(*t));
        self
    }

    /// Index ranges between gaps.
    pub fn stretches(&self) -> Vec<std::ops::Range<usize>> {
        let mut starts = vec![0];
        starts.extend(&self.breaks);
        starts.push(self.time.len());
        starts
            .windows(2)
            .map(|w| w[0]..w[1])
            .filter(|r| !r.is_empty())
            .collect()
    }
}

/// Samples before gaps are sorted out.
#[derive(Default)]
struct Samples {
    time: Vec<f64>,
    north: Vec<f64>,
    east: Vec<f64>,
    /// Row of the log each came from.
    row: Vec<usize>,
}

/// Ground velocity of `log`, or why there is none.
pub fn of(log: &Log) -> Result<Velocity, Finding> {
    let has = |c| {
        log.get(c)
            .is_some_and(|s| s.iter().filter(|v| v.is_finite()).count() >= 10)
    };
    let positions = has(Channel::Latitude) && has(Channel::Longitude);
    let source = if has(Channel::VelocityNorth) && has(Channel::VelocityEast) {
        VelocitySource::Velocities
    } else if has(Channel::GroundSpeed) && has(Channel::Course) {
        VelocitySource::SpeedAndCourse
    } else if has(Channel::GroundSpeed) && positions {
        VelocitySource::SpeedAlongPositions
    } else if positions {
        VelocitySource::Positions
    } else if has(Channel::GroundSpeed) {
        return Err(Finding::warning(
            "no-course",
            "the log has ground speed but neither course nor position: a straight cannot be told \
             from a turn, nor upwind from downwind, so no level speed is found",
            "log course or position, or time passes with a stopwatch (passes.csv)",
        )
        .in_file(&log.file));
    } else {
        return Err(Finding::warning(
            "no-position",
            "the log has no position, velocity or ground speed: no level speed is found",
            "add a position logger (its file may be a second one), or time passes with a \
             stopwatch (passes.csv)",
        )
        .in_file(&log.file));
    };
    let mut findings = Vec::new();
    if !has(Channel::Height) {
        findings.push(
            Finding::note(
                "no-height",
                "the log has no height: a dive or climb during a pass cannot be charged to its \
                 speed",
                "log height (barometer or receiver)",
            )
            .in_file(&log.file),
        );
    }
    let channels: &[Channel] = match source {
        VelocitySource::Velocities => &[Channel::VelocityNorth, Channel::VelocityEast],
        VelocitySource::SpeedAndCourse => &[Channel::GroundSpeed, Channel::Course],
        VelocitySource::SpeedAlongPositions => {
            &[Channel::Latitude, Channel::Longitude, Channel::GroundSpeed]
        }
        VelocitySource::Positions => &[Channel::Latitude, Channel::Longitude],
    };
    let columns: Vec<&[f64]> = channels
        .iter()
        .filter_map(|&c| log.get(c))
        .map(Vec::as_slice)
        .collect();
    let (updates, period, held_rows) = updates(log, &columns);
    let samples = match source {
        VelocitySource::Velocities => take(&updates, |i| (columns[0][i], columns[1][i])),
        VelocitySource::SpeedAndCourse => take(&updates, |i| {
            let (sin, cos) = columns[1][i].sin_cos();
            (columns[0][i] * cos, columns[0][i] * sin)
        }),
        VelocitySource::Positions | VelocitySource::SpeedAlongPositions => {
            differentiate(log, &updates, &columns, period)
        }
    };
    let (samples, spikes) = without_spikes(samples);
    let mut velocity = into_blocks(log, samples, period, source);
    velocity.held_rows = held_rows;
    velocity.spikes = spikes;
    if velocity.update_s > 0.5 {
        findings.push(
            Finding::note(
                "slow-position",
                format!(
                    "the receiver updates only every {:.1} s: short passes are lost and the entry \
                     of a pass is blurred",
                    velocity.update_s
                ),
                "set the receiver to 5 Hz or more where it can",
            )
            .in_file(&log.file),
        );
    }
    velocity.findings = findings;
    if velocity.time.len() < 10 {
        return Err(Finding::warning(
            "no-position",
            "fewer than ten position updates in the whole log",
            "check the receiver's reception and cabling",
        )
        .in_file(&log.file));
    }
    Ok(velocity)
}

/// Replaces a logged speed whose scale contradicts the positions by the speed over the positions, and
/// says so. Nothing happens where the log has not both.
pub fn rescue_scale(log: &mut Log) -> Option<Finding> {
    let finite = |c| -> Option<&[f64]> {
        let series = log.get(c)?;
        let many = series.iter().filter(|v| v.is_finite()).count() >= SCALE_UPDATES;
        many.then_some(series.as_slice())
    };
    let columns = [finite(Channel::Latitude)?, finite(Channel::Longitude)?];
    let components = finite(Channel::VelocityNorth).zip(finite(Channel::VelocityEast));
    let speed = finite(Channel::GroundSpeed);
    let logged = |row: usize| match (components, speed) {
        (Some((n, e)), _) => length(n[row], e[row]),
        (None, Some(speed)) => speed[row],
        (None, None) => f64::NAN,
    };
    let (updates, period, _) = updates(log, &columns);
    let (samples, _) = without_spikes(differentiate(log, &updates, &columns, period));
    let ratios: Vec<f64> = (0..samples.row.len())
        .map(|i| {
            (
                length(samples.north[i], samples.east[i]),
                logged(samples.row[i]),
            )
        })
        .filter(|(over, logged)| *over > FAST_M_S && logged.is_finite())
        .map(|(over, logged)| logged / over)
        .collect();
    if ratios.len() < SCALE_UPDATES {
        return None;
    }
    let factor = stats::median(&ratios);
    if (factor - 1.0).abs() <= SCALE_AGREES || factor <= 0.0 {
        return None;
    }
    // Read as unit b, a number in unit a comes out b/a too large.
    let likely = SPEED_UNITS
        .iter()
        .flat_map(|a| SPEED_UNITS.iter().map(move |b| (a, b)))
        .map(|(a, b)| (a, b, (factor * a.1 / b.1).ln().abs()))
        .min_by(|x, y| {
            // Most often it is the missing unit that was taken for m/s.
            let key = |z: &(&(&str, f64), &(&str, f64), f64)| {
                (z.2 * 100.0).floor() + f64::from(u8::from(z.1.0 != "m/s"))
            };
            key(x).total_cmp(&key(y))
        })
        .filter(|(_, _, off)| *off < 0.05)
        .map_or_else(String::new, |(a, b, _)| {
            format!(": it looks like {} read as {}", a.0, b.0)
        });
    let finding = Finding::warning(
        "speed-scale",
        format!(
            "the logged ground speed is {factor:.2} times the speed over the positions{likely}; the \
             positions are used instead"
        ),
        "give the speed column's unit in the log's channel map",
    )
    .in_file(&log.file);
    let mut over = vec![f64::NAN; log.len()];
    let (mut north, mut east) = (over.clone(), over.clone());
    for (i, row) in samples.row.iter().enumerate() {
        (north[*row], east[*row]) = (samples.north[i], samples.east[i]);
        over[*row] = length(north[*row], east[*row]);
    }
    for (channel, series) in [
        (Channel::GroundSpeed, over),
        (Channel::VelocityNorth, north),
        (Channel::VelocityEast, east),
    ] {
        if log.channels.contains_key(&channel) {
            log.channels.insert(channel, series);
        }
    }
    Some(finding)
}

/// (row, time) of every true update, their usual spacing, and how many rows were repeats.
fn updates(log: &Log, columns: &[&[f64]]) -> (Vec<(usize, f64)>, f64, usize) {
    let finite: Vec<usize> = (0..log.len())
        .filter(|&i| {
            columns
                .iter()
                .all(|c| c.get(i).is_some_and(|v| v.is_finite()))
        })
        .collect();
    let mut changed: Vec<usize> = Vec::new();
    for &i in &finite {
        let fresh = changed
            .last()
            .is_none_or(|&j| columns.iter().any(|c| c[i] != c[j]));
        if fresh {
            changed.push(i);
        }
    }
    let steps = |rows: &[usize]| -> Vec<f64> {
        rows.windows(2)
            .map(|w| log.time[w[1]] - log.time[w[0]])
            .collect()
    };
    let row_step = positive(stats::median(&steps(&finite)));
    let period = positive(stats::median(&steps(&changed)));
    // At rest a receiver repeats itself honestly, so a log with little movement says nothing.
    if period < 1.7 * row_step {
        let all = finite.iter().map(|&i| (i, log.time[i])).collect();
        return (all, row_step, 0);
    }
    let mut out: Vec<(usize, f64)> = Vec::with_capacity(changed.len());
    for (place, &row) in changed.iter().enumerate() {
        let t = log.time[row];
        out.push((row, t));
        // A value may come out the same at the next true update (0.1 m/s steps at steady speed):
        // up to two are taken to be so, more is lost reception.
        if let Some(&next) = changed.get(place + 1) {
            let gap = log.time[next] - t;
            let missing = (gap / period).round() as usize;
            let broken = log.breaks.iter().any(|&b| row < b && b <= next);
            if (2..=3).contains(&missing) && !broken {
                for j in 1..missing {
                    out.push((row, t + gap * j as f64 / missing as f64));
                }
            }
        }
    }
    let held = finite.len().saturating_sub(out.len());
    (out, period, held)
}

fn positive(step: f64) -> f64 {
    if step.is_finite() && step > 0.0 {
        step
    } else {
        1.0
    }
}

fn take(updates: &[(usize, f64)], value: impl Fn(usize) -> (f64, f64)) -> Samples {
    let mut out = Samples::default();
    for &(row, t) in updates {
        let (north, east) = value(row);
        out.time.push(t);
        out.north.push(north);
        out.east.push(east);
        out.row.push(row);
    }
    out
}

/// Velocity from positions: slope of a line through the positions within half a second, or the
/// nearest three where they come slower. With a third column, its speed along that direction.
fn differentiate(log: &Log, updates: &[(usize, f64)], columns: &[&[f64]], period: f64) -> Samples {
    let Some(&(first, _)) = updates.first() else {
        return Samples::default();
    };
    let frame = LocalFrame::new(columns[0][first], columns[1][first]);
    let (mut time, mut north, mut east) = (Vec::new(), Vec::new(), Vec::new());
    for &(row, t) in updates {
        let (e, n) = frame.east_north(columns[0][row], columns[1][row]);
        time.push(t);
        north.push(n);
        east.push(e);
    }
    let half = (1.05 * period).max(0.5);
    let mut out = Samples::default();
    for (i, &(row, t)) in updates.iter().enumerate() {
        let from = time.partition_point(|&x| x < t - half);
        let to = time.partition_point(|&x| x <= t + half);
        let gap = log
            .breaks
            .iter()
            .any(|&b| updates[from].0 < b && b <= updates[to - 1].0);
        // Both sides, or the slope is that of another moment.
        if to - from < 3 || i == from || i + 1 == to || gap {
            continue;
        }
        let (_, vn) = local_line(&time[from..to], &north[from..to], t);
        let (_, ve) = local_line(&time[from..to], &east[from..to], t);
        let factor = match columns.get(2) {
            Some(speed) if vn.hypot(ve) > 1.0 => speed[row] / vn.hypot(ve),
            _ => 1.0,
        };
        out.time.push(t);
        out.north.push(vn * factor);
        out.east.push(ve * factor);
        out.row.push(row);
    }
    out
}

fn without_spikes(s: Samples) -> (Samples, usize) {
    let n = s.time.len();
    let far = |i: usize, j: usize| {
        let jump = length(s.north[i] - s.north[j], s.east[i] - s.east[j]);
        jump > SPIKE_M_S + 40.0 * (s.time[i] - s.time[j]).abs()
    };
    let spike = |i: usize| {
        let size = length(s.north[i], s.east[i]);
        size > 250.0 || (i > 0 && i + 1 < n && far(i, i - 1) && far(i, i + 1) && !far(i - 1, i + 1))
    };
    let keep: Vec<usize> = (0..n).filter(|&i| !spike(i)).collect();
    let pick = |x: &[f64]| keep.iter().map(|&i| x[i]).collect();
    let out = Samples {
        time: pick(&s.time),
        north: pick(&s.north),
        east: pick(&s.east),
        row: keep.iter().map(|&i| s.row[i]).collect(),
    };
    let dropped = n - keep.len();
    (out, dropped)
}

/// Averages updates into blocks of `BLOCK_S` and marks the gaps.
fn into_blocks(log: &Log, s: Samples, period: f64, source: VelocitySource) -> Velocity {
    let longest = (3.5 * period).max(1.0);
    let mut out = Velocity {
        time: Vec::new(),
        north: Vec::new(),
        east: Vec::new(),
        breaks: Vec::new(),
        update_s: period,
        source,
        held_rows: 0,
        spikes: 0,
        findings: Vec::new(),
    };
    let mut i = 0;
    let mut previous: Option<usize> = None;
    while i < s.time.len() {
        let gap = |a: usize, b: usize| {
            s.time[b] - s.time[a] > longest
                || log.breaks.iter().any(|&k| s.row[a] < k && k <= s.row[b])
        };
        let mut j = i + 1;
        // The small allowance keeps a 10 Hz log from pairing rows by rounding of its times.
        while j < s.time.len() && s.time[j] - s.time[i] < BLOCK_S - 1e-3 && !gap(j - 1, j) {
            j += 1;
        }
        let mean = |x: &[f64]| x[i..j].iter().sum::<f64>() / (j - i) as f64;
        if previous.is_some_and(|p| gap(p, i)) {
            out.breaks.push(out.time.len());
        }
        out.time.push(mean(&s.time));
        out.north.push(mean(&s.north));
        out.east.push(mean(&s.east));
        previous = Some(j - 1);
        i = j;
    }
    let steps: Vec<f64> = out.time.windows(2).map(|w| w[1] - w[0]).collect();
    out.update_s = positive(stats::median(&steps));
    out
}

/// True where the speeds show that the jet moved at all.
pub fn moved(velocity: &Velocity) -> bool {
    velocity.speed().iter().filter(|&&v| v > MOVING_M_S).count() >= 10
}
