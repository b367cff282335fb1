//! Full-throttle straights: where a flight shows its level speed.
//!
//! A straight is a stretch at full throttle, after the spool-up, on a steady course. Each one that
//! is set aside says why; a flight without any says what would give one.

use serde::{Deserialize, Serialize};

use super::full_throttle::{FullThrottle, full_throttle};
use super::track::{self, Track};
use super::velocity::Velocity;
use crate::ingest::{Channel, Log};
use crate::physics::wind::circle_fit;
use crate::physics::wind::length;
use crate::season::{Finding, Rules};
use crate::stats;
use crate::units::G0;

/// A turn above this rate ends a straight, rad/s (6 °/s; a 20° bank at 45 m/s gives 4.5 °/s).
const TURN_LIMIT: f64 = 0.105;
/// Half the window over which a turn rate is judged, s.
const TURN_WINDOW_S: f64 = 0.5;
/// A height change worth more than this share of the kinetic energy sets a straight aside; less is
/// charged.
const DIVE_SHARE: f64 = 0.03;
/// A height record wanders by this much within a pass, m (common practice, no source): no less is
/// called a dive.
const HEIGHT_WANDERS_M: f64 = 4.0;
/// Steeper than this, at the flight's fast speed, is no level flight: the ground speed shows only the cosine of the flight path,
/// and the height lags behind the speed. 3.4 degrees cost 0.2 % of the speed.
const STEEP: f64 = 0.06;
/// Half the window over which a flight path is judged, s.
const STEEP_WINDOW_S: f64 = 1.0;
/// Without a height, a speed that falls by this share within a pass at full throttle tells that the
/// pass was entered faster than level: a gust of usual strength takes half of it (common practice).
const ENTERED_FAST_SHARE: f64 = 0.04;
/// Slower than this share of the flight's fast speed is take-off, landing or a stall turn.
const SLOW_SHARE: f64 = 0.5;
/// Slower over ground than this share of the fast speed is no flight, even against the wind.
const MOVING_SHARE: f64 = 0.25;
/// A straight that starts this soon after take-off belongs to the climb-out, s.
pub(super) const CLIMB_OUT_S: f64 = 6.0;
/// Shorter stretches are not worth a line in the list of what was set aside, s.
const MENTION_S: f64 = 1.0;

/// One full-throttle straight, on the power logger's clock.
#[derive(Debug, Clone, Default, PartialEq, Serialize, Deserialize)]
pub struct Straight {
    pub start_s: f64,
    pub end_s: f64,
    pub time: Vec<f64>,
    /// Ground velocity, m/s.
    pub north: Vec<f64>,
    pub east: Vec<f64>,
    /// Smoothed terminal voltage at the samples; empty when not logged.
    pub voltage: Vec<f64>,
    /// Smoothed height at the samples; empty when not logged.
    pub height: Vec<f64>,
    pub mean_voltage_v: Option<f64>,
    pub mean_current_a: Option<f64>,
    pub height_change_m: Option<f64>,
    /// Course over ground, rad from north, 0..2 pi.
    pub course_rad: f64,
    pub mean_ground_speed_m_s: f64,
}

/// A straight that was not used.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct SetAside {
    pub straight: Straight,
    pub why: String,
}

/// The straights of a flight.
#[derive(Debug, Clone, Default, PartialEq, Serialize, Deserialize)]
pub struct Straights {
    pub used: Vec<Straight>,
    pub set_aside: Vec<SetAside>,
    #[serde(with = "crate::season::finding::whole")]
    pub findings: Vec<Finding>,
}

/// Value and slope at `at` of the least-squares line through (x, y).
pub(super) fn local_line(x: &[f64], y: &[f64], at: f64) -> (f64, f64) {
    let n = x.len() as f64;
    let mx = x.iter().sum::<f64>() / n;
    let my = y.iter().sum::<f64>() / n;
    let (mut sxx, mut sxy) = (0.0, 0.0);
    for (a, b) in x.iter().zip(y) {
        sxx += (a - mx) * (a - mx);
        sxy += (a - mx) * (b - my);
    }
    let slope = if sxx > 0.0 { sxy / sxx } else { 0.0 };
    (my + slope * (at - mx), slope)
}

/// A channel smoothed at `t` by a line over ± `half` s; none where no track covers `t`.
fn smooth(tracks: &[Track], t: f64, half: f64) -> Option<f64> {
    let track = tracks.iter().find(|k| k.start() <= t && t <= k.end())?;
    let (time, value) = track.part(t - half, t + half);
    if time.len() >= 3 {
        Some(local_line(time, value, t).0)
    } else {
        track.at(t)
    }
}

/// Finds the full-throttle straights. `lag_s`: how far the velocity lags behind the throttle; it is
/// taken off the velocity's times.
pub fn find(log: &Log, velocity: &Velocity, rules: &Rules, lag_s: f64) -> Straights {
    let mut out = Straights::default();
    let fast = stats::quantile(&velocity.speed(), 0.95);
    let take_off = take_off(velocity, fast, lag_s);
    let full = match full_throttle(log, rules, take_off) {
        Ok(full) => full,
        Err(finding) => {
            out.findings.push(finding.in_file(&log.file));
            return out;
        }
    };
    out.findings
        .extend(full.findings.iter().map(|f| f.clone().in_file(&log.file)));
    let channels = Channels {
        voltage: track::tracks(log, Channel::Voltage),
        current: track::tracks(log, Channel::Current),
        height: track::tracks(log, Channel::Height),
    };
    for range in straight_ranges(velocity, &full.spans, lag_s) {
        let (level, steep) = channels.level_part(velocity, range.clone(), STEEP * fast, lag_s);
        let straight = channels.straight(velocity, level.clone(), lag_s);
        let why = match (why_not(&straight, rules, take_off), steep) {
            (None, Some(steep)) if level == range => Some(steep),
            (Some(why), Some(steep)) => Some(format!("{steep}; what is left: {why}")),
            (why, _) => why,
        };
        match why {
            None => out.used.push(straight),
            Some(_) if velocity.time[range.end - 1] - velocity.time[range.start] < MENTION_S => {}
            Some(why) => {
                let straight = channels.straight(velocity, range, lag_s);
                out.set_aside.push(SetAside { straight, why });
            }
        }
    }
    if out.used.is_empty() {
        out.findings.push(none_found(log, &out, &full, rules));
    }
    out
}

/// Start of fast flight where the record shows the jet at rest before it.
fn take_off(velocity: &Velocity, fast: f64, lag_s: f64) -> Option<f64> {
    let speed = velocity.speed();
    let first = speed.iter().position(|v| *v > SLOW_SHARE * fast)?;
    speed[..first]
        .iter()
        .any(|v| *v < 0.2 * fast)
        .then(|| velocity.time[first] - lag_s)
}

fn why_not(s: &Straight, rules: &Rules, take_off: Option<f64>) -> Option<String> {
    let length = s.end_s - s.start_s;
    if take_off.is_some_and(|t| s.start_s < t + CLIMB_OUT_S) {
        return Some("take-off run and climb-out".to_owned());
    }
    if length < rules.pass_min_s.value {
        return Some(format!(
            "straight for {length:.1} s, shorter than the {:.1} s asked for",
            rules.pass_min_s.value
        ));
    }
    if s.time.len() < 3 {
        return Some(format!(
            "only {} position updates in {length:.1} s",
            s.time.len()
        ));
    }
    let Some(change) = s.height_change_m else {
        return entered_fast(s);
    };
    let speed_squared = s.mean_ground_speed_m_s.powi(2);
    let share = G0 * change / (0.5 * speed_squared);
    if share.abs() > DIVE_SHARE && change.abs() > HEIGHT_WANDERS_M {
        let what = if change < 0.0 { "a dive" } else { "a climb" };
        return Some(format!(
            "{what} of {:.0} m, worth {:.0} % of the kinetic energy",
            change.abs(),
            100.0 * share.abs()
        ));
    }
    None
}

/// The wind (east, north) to metres a second: the circle through all velocities in flight, turns and
/// run-ups included. Good enough to tell fast flight against a strong wind from slow flight.
fn rough_wind(velocity: &Velocity) -> (f64, f64) {
    let ground = velocity.speed();
    let moving = MOVING_SHARE * stats::quantile(&ground, 0.95);
    let legs: Vec<(f64, f64)> = (0..ground.len())
        .filter(|&i| ground[i] > moving)
        .map(|i| (velocity.east[i], velocity.north[i]))
        .collect();
    circle_fit(&legs)
        .filter(|c| c.wind_east.hypot(c.wind_north) < 0.6 * c.airspeed)
        .map_or((0.0, 0.0), |c| (c.wind_east, c.wind_north))
}

/// What a dive before the pass leaves in the speed where no height is logged.
fn entered_fast(s: &Straight) -> Option<String> {
    // Over a second, as the jet follows no gust faster.
    let speed: Vec<f64> = s
        .time
        .iter()
        .map(|t| {
            let from = s.time.partition_point(|x| *x < t - 0.5);
            let to = s.time.partition_point(|x| *x <= t + 0.5);
            let sizes: Vec<f64> = (from..to).map(|k| length(s.north[k], s.east[k])).collect();
            stats::mean(&sizes)
        })
        .collect();
    let most = speed.iter().copied().fold(f64::MIN, f64::max);
    let last = *speed.last()?;
    (most - last > ENTERED_FAST_SHARE * most).then(|| {
        format!(
            "the speed falls from {most:.1} to {last:.1} m/s at full throttle: entered faster than \
             level flight, from a dive or with a gust, and no height is logged to charge it"
        )
    })
}

/// Index ranges of the velocity inside the spans, on a steady course and fast.
fn straight_ranges(
    velocity: &Velocity,
    spans: &[(f64, f64)],
    lag_s: f64,
) -> Vec<std::ops::Range<usize>> {
    let half = TURN_WINDOW_S.max(1.05 * velocity.update_s);
    let (wind_east, wind_north) = rough_wind(velocity);
    let air: Vec<f64> = (velocity.north.iter().zip(&velocity.east))
        .map(|(n, e)| length(n - wind_north, e - wind_east))
        .collect();
    let slow = SLOW_SHARE * stats::quantile(&air, 0.95);
    let mut out = Vec::new();
    for stretch in velocity.stretches() {
        let time = &velocity.time[stretch.clone()];
        let (north, east) = (
            &velocity.north[stretch.clone()],
            &velocity.east[stretch.clone()],
        );
        let steady = |i: usize| {
            let t = time[i] - lag_s;
            if !spans.iter().any(|(from, to)| *from <= t && t <= *to) {
                return None;
            }
            let from = time.partition_point(|&x| x < time[i] - half);
            let to = time.partition_point(|&x| x <= time[i] + half);
            let (n, dn) = local_line(&time[from..to], &north[from..to], time[i]);
            let (e, de) = local_line(&time[from..to], &east[from..to], time[i]);
            // Against the wind a small change of heading is a large one of the course.
            let (n, e) = (n - wind_north, e - wind_east);
            let v2 = n * n + e * e;
            let ok = v2 > slow * slow && ((n * de - e * dn) / v2).abs() < TURN_LIMIT;
            // One span each: two bursts of full throttle are two passes.
            ok.then(|| spans.iter().position(|(from, to)| *from <= t && t <= *to))
                .flatten()
        };
        let mut open: Option<(usize, usize)> = None;
        for i in 0..=time.len() {
            let now = if i < time.len() { steady(i) } else { None };
            if let Some((from, span)) = open
                && now != Some(span)
            {
                out.push(stretch.start + from..stretch.start + i);
                open = None;
            }
            if open.is_none()
                && let Some(span) = now
            {
                open = Some((i, span));
            }
        }
    }
    out
}

struct Channels {
    voltage: Vec<Track>,
    current: Vec<Track>,
    height: Vec<Track>,
}

impl Channels {
    /// The longest part of `range` in which the jet climbs or dives by no more than `limit` m/s, and what was
    /// cut off; all of it where no height is logged.
    fn level_part(
        &self,
        velocity: &Velocity,
        range: std::ops::Range<usize>,
        limit: f64,
        lag_s: f64,
    ) -> (std::ops::Range<usize>, Option<String>) {
        let steep = |k: usize| {
            let t = velocity.time[k] - lag_s;
            let track = self
                .height
                .iter()
                .find(|h| h.start() <= t && t <= h.end())?;
            let (time, height) = track.part(t - STEEP_WINDOW_S, t + STEEP_WINDOW_S);
            if time.len() < 3 {
                return None;
            }
            let rate = local_line(time, height, t).1;
            Some(rate).filter(|r| r.abs() > limit)
        };
        let mut worst: f64 = 0.0;
        let (mut from, mut best) = (range.start, range.start..range.start);
        for k in range.start..=range.end {
            let rate = if k < range.end { steep(k) } else { Some(0.0) };
            let Some(rate) = rate else { continue };
            if rate.abs() > worst.abs() {
                worst = rate;
            }
            if k - from > best.len() {
                best = from..k;
            }
            from = k + 1;
        }
        if worst == 0.0 {
            return (range, None);
        }
        let what = if worst < 0.0 { "dives" } else { "climbs" };
        let why = format!("the jet {what} at up to {:.0} m/s", worst.abs());
        // Nothing level at all: as it is, to be told of.
        (if best.is_empty() { range } else { best }, Some(why))
    }

    fn straight(&self, velocity: &Velocity, range: std::ops::Range<usize>, lag_s: f64) -> Straight {
        let time: Vec<f64> = velocity.time[range.clone()]
            .iter()
            .map(|t| t - lag_s)
            .collect();
        let north = velocity.north[range.clone()].to_vec();
        let east = velocity.east[range].to_vec();
        let all = |tracks: &[Track], half: f64| -> Vec<f64> {
            time.iter()
                .map(|t| smooth(tracks, *t, half))
                .collect::<Option<Vec<f64>>>()
                .unwrap_or_default()
        };
        let mut voltage = all(&self.voltage, 0.5);
        if voltage.iter().any(|v| *v <= 0.0) {
            voltage.clear();
        }
        let height = all(&self.height, 1.0);
        let (start_s, end_s) = (time[0], time[time.len() - 1]);
        let mean_or_none = |x: &[f64]| (!x.is_empty()).then(|| stats::mean(x));
        let speed: Vec<f64> = north
            .iter()
            .zip(&east)
            .map(|(n, e)| length(*n, *e))
            .collect();
        Straight {
            start_s,
            end_s,
            mean_voltage_v: mean_or_none(&voltage),
            mean_current_a: track::mean(&self.current, start_s, end_s),
            height_change_m: height.first().zip(height.last()).map(|(a, b)| b - a),
            course_rad: stats::mean(&east)
                .atan2(stats::mean(&north))
                .rem_euclid(std::f64::consts::TAU),
            mean_ground_speed_m_s: stats::mean(&speed),
            time,
            north,
            east,
            voltage,
            height,
        }
    }
}

fn none_found(log: &Log, found: &Straights, full: &FullThrottle, rules: &Rules) -> Finding {
    let longest = full.spans.iter().map(|(a, b)| b - a).fold(0.0, f64::max);
    let what = match found.set_aside.first() {
        Some(first) => format!(
            "none of the {} full-throttle straights can be used; the first: {}",
            found.set_aside.len(),
            first.why
        ),
        None => format!(
            "no full-throttle straight: {} spans at full throttle, the longest {longest:.1} s after \
             spool-up, none on a steady course for {:.1} s",
            full.spans.len(),
            rules.pass_min_s.value
        ),
    };
    Finding::warning(
        "no-straights",
        what,
        "fly four or more level full-throttle passes of at least 5 s, two each way, and a pair across",
    )
    .in_file(&log.file)
}
