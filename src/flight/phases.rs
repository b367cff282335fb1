//! Ground, take-off, flight, landing: from whichever of speed, height, throttle and current exist.

use serde::{Deserialize, Serialize};

use crate::flight::track::{Track, at, ground_speed, tracks, tracks_of};
use crate::ingest::{Channel, Log};
use crate::season::Finding;
use crate::stats;

#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum Phase {
    Ground,
    TakeOff,
    Flight,
    Landing,
}

impl Phase {
    /// The word in the season's tables.
    pub fn word(self) -> &'static str {
        match self {
            Self::Ground => "ground",
            Self::TakeOff => "take-off",
            Self::Flight => "flight",
            Self::Landing => "landing",
        }
    }
}

/// s since the first row.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
pub struct PhaseSpan {
    pub phase: Phase,
    pub start_s: f64,
    pub end_s: f64,
}

#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Phases {
    /// In time order, without holes, from the first row to the last.
    pub spans: Vec<PhaseSpan>,
    /// Lift-off to touch-down, s; more than one after a touch-and-go with a stop.
    pub airborne: Vec<(f64, f64)>,
    /// What decided.
    pub channels: Vec<Channel>,
    /// The rule in words.
    pub basis: String,
}

impl Phases {
    pub fn airborne_s(&self) -> f64 {
        self.airborne.iter().map(|(a, b)| b - a).sum()
    }

    pub fn is_airborne(&self, t: f64) -> bool {
        self.airborne.iter().any(|(a, b)| (*a..=*b).contains(&t))
    }

    /// Airborne time up to `t`, s.
    pub fn airborne_until(&self, t: f64) -> f64 {
        self.airborne
            .iter()
            .map(|(a, b)| (b.min(t) - a).max(0.0))
            .sum()
    }
}

/// Height over the ground that counts as having left it, m (barometric noise is below 2 m).
const CLEAR_OF_GROUND_M: f64 = 5.0;
/// End of the take-off and start of the landing, m over the ground.
const LOW_M: f64 = 10.0;
/// Speed below which a model stands, m/s (noise of a GPS receiver at rest is below 1 m/s).
const STANDS_M_S: f64 = 2.0;
/// A stop shorter than this is no landing: a hammerhead, a hover, a slow turn into the wind.
const SHORTEST_STOP_S: f64 = 8.0;
/// A fast stretch shorter than this is no flight: a blip of the throttle, a wrong position.
const SHORTEST_FLIGHT_S: f64 = 5.0;
/// Height after the landing is taken over this long; the roll before is no longer than that, s.
const AFTER_S: f64 = 8.0;
const LONGEST_ROLL_S: f64 = 20.0;
/// A fall of speed by less is noise.
const SPEED_NOISE_M_S: f64 = 0.5;
/// Take-off and landing without a height channel, s after lift-off and before touch-down.
const WITHOUT_HEIGHT_S: f64 = 5.0;

/// Finds the phases. `stall_speed_m_s` sharpens the moment of lift-off where it was declared.
///
/// Lift-off is where the speed passes 0.8 of the stall speed, or, unknown, 0.3 of the 90th
/// percentile of the speeds above walking pace (a jet cruises at three times its stall speed or
/// more), at least 4 m/s. Without speed, where the height leaves the ground; without both, where
/// throttle or current say that the motor works, which a run-up on the stand would too.
pub fn phases(log: &Log, stall_speed_m_s: Option<f64>) -> (Option<Phases>, Vec<Finding>) {
    let refuse = |what: &str| {
        let finding = Finding::warning(
            "phases-unknown",
            format!("ground and flight cannot be told apart: {what}"),
            "Log speed, height or throttle; until then the whole record counts, and nothing is \
             called airborne.",
        );
        (None, vec![finding.in_file(&log.file)])
    };
    if log.len() < 3 {
        return refuse("fewer than three rows");
    }
    let speed = ground_speed(log)
        .map(|s| tracks_of(log, &s))
        .filter(|t| !t.is_empty())
        .map(|t| (t, Channel::GroundSpeed));
    let speed = speed.or_else(|| {
        let t = tracks(log, Channel::Airspeed);
        (!t.is_empty()).then_some((t, Channel::Airspeed))
    });
    let height = height_over_ground(log, speed.as_ref().map(|s| s.0.as_slice()));
    let mut channels = Vec::new();
    let (airborne, basis) = if let Some((speed, channel)) = &speed {
        let Some(threshold) = lift_off_speed(speed, stall_speed_m_s) else {
            return refuse("the speed never rises above walking pace");
        };
        channels.push(*channel);
        let mut spans = above(speed, threshold);
        join_short_stops(&mut spans, height.as_deref());
        if let Some(height) = &height {
            channels.push(Channel::Height);
            spans
                .iter_mut()
                .for_each(|span| span.1 = touch_down(height, speed, *span));
        }
        let how = if stall_speed_m_s.is_some() {
            "0.8 of the stall speed"
        } else {
            "0.3 of cruise"
        };
        (spans, format!("airborne above {threshold:.1} m/s ({how})"))
    } else if let Some(height) = &height {
        channels.push(Channel::Height);
        let mut spans = above(height, CLEAR_OF_GROUND_M);
        join_short_stops(&mut spans, Some(height));
        (
            spans,
            format!("airborne above {CLEAR_OF_GROUND_M} m over the start"),
        )
    } else {
        let works = [(Channel::Throttle, 1.0), (Channel::Current, f64::NAN)]
            .into_iter()
            .map(|(channel, full)| (channel, tracks(log, channel), full))
            .find(|(_, tracks, _)| {
                tracks.iter().flat_map(|t| &t.value).any(|v| *v > 0.0) && !tracks.is_empty()
            });
        let Some((channel, tracks, full)) = works else {
            return refuse("there is no speed, height, throttle or current in it");
        };
        let peak = tracks
            .iter()
            .flat_map(|t| &t.value)
            .fold(0.0_f64, |a, &b| a.max(b));
        let full = if full.is_nan() { peak } else { full };
        channels.push(channel);
        let mut spans = above(&tracks, 0.15 * full);
        // A glide with the motor off is part of the flight; twenty seconds of it are a landing.
        join(&mut spans, |gap| gap.1 - gap.0 < 20.0);
        (
            spans,
            "motor at work (throttle or current above 15 %); a run on the stand looks the same"
                .to_owned(),
        )
    };
    let airborne: Vec<(f64, f64)> = airborne
        .into_iter()
        .filter(|(a, b)| b - a >= SHORTEST_FLIGHT_S)
        .collect();
    if airborne.is_empty() {
        return refuse("no stretch of five seconds looks like flight");
    }
    let spans = name_spans(
        log,
        &airborne,
        speed.as_ref().map(|s| s.0.as_slice()),
        height.as_deref(),
    );
    (
        Some(Phases {
            spans,
            airborne,
            channels,
            basis,
        }),
        Vec::new(),
    )
}

/// A jet touches down fast and rolls long: where the height first comes to what it is after the
/// landing (a barometer drifts, so not to what it was before the start), but not before the speed
/// last rose: nothing gains speed rolling out. The speed's own moment where the height says nothing.
fn touch_down(height: &[Track], speed: &[Track], (up, down): (f64, f64)) -> f64 {
    let after: Vec<f64> = samples(height, down, down + AFTER_S).map(|s| s.1).collect();
    if after.len() < 3 {
        return down;
    }
    let clear = stats::median(&after) + (3.0 * stats::sd(&after)).clamp(0.7, CLEAR_OF_GROUND_M);
    let earliest = up.max(down - LONGEST_ROLL_S);
    let (mut slowing_from, mut fastest) = (down, 0.0);
    for (t, v) in samples(speed, earliest, down).rev() {
        if v > fastest {
            (slowing_from, fastest) = (t, v);
        } else if v < fastest - SPEED_NOISE_M_S {
            break;
        }
    }
    last_above(height, clear, earliest, down)
        .unwrap_or(down)
        .max(slowing_from)
}

/// Height over where the model stood, by track; ground is the lowest tenth where speed is unknown,
/// else the median while standing.
fn height_over_ground(log: &Log, speed: Option<&[Track]>) -> Option<Vec<Track>> {
    let mut height = tracks(log, Channel::Height);
    let standing: Vec<f64> = speed.map_or_else(Vec::new, |speed| {
        height
            .iter()
            .flat_map(|t| t.time.iter().zip(&t.value))
            .filter(|(t, _)| at(speed, **t).is_some_and(|v| v.abs() < STANDS_M_S))
            .map(|(_, h)| *h)
            .collect()
    });
    let all: Vec<f64> = height
        .iter()
        .flat_map(|t| t.value.iter().copied())
        .collect();
    if all.len() < 3 {
        return None;
    }
    let ground = if standing.len() >= 3 {
        stats::median(&standing)
    } else {
        stats::quantile(&all, 0.05)
    };
    for track in &mut height {
        track.value.iter_mut().for_each(|h| *h -= ground);
    }
    Some(height)
}

fn lift_off_speed(speed: &[Track], stall: Option<f64>) -> Option<f64> {
    let moving: Vec<f64> = speed
        .iter()
        .flat_map(|t| &t.value)
        .copied()
        .filter(|v| *v > 3.0)
        .collect();
    if moving.len() < 3 {
        return None;
    }
    Some(stall.map_or_else(
        || (0.3 * stats::quantile(&moving, 0.9)).max(4.0),
        |v| 0.8 * v,
    ))
}

/// Spans in which the tracks lie above `level`, ends interpolated.
fn above(tracks: &[Track], level: f64) -> Vec<(f64, f64)> {
    let mut spans = Vec::new();
    for track in tracks {
        let mut from: Option<f64> = None;
        for i in 0..track.time.len() {
            let crossing = |i: usize| {
                let (v0, v1) = (track.value[i - 1], track.value[i]);
                track.time[i - 1] + (track.time[i] - track.time[i - 1]) * (level - v0) / (v1 - v0)
            };
            let high = track.value[i] > level;
            match (from, high) {
                (None, true) => from = Some(if i == 0 { track.time[0] } else { crossing(i) }),
                (Some(start), false) => {
                    spans.push((start, crossing(i)));
                    from = None;
                }
                _ => {}
            }
        }
        if let Some(start) = from {
            spans.push((start, track.end()));
        }
    }
    spans
}

fn join(spans: &mut Vec<(f64, f64)>, bridges: impl Fn((f64, f64)) -> bool) {
    let mut joined: Vec<(f64, f64)> = Vec::new();
    for span in spans.drain(..) {
        match joined.last_mut() {
            Some(last) if bridges((last.1, span.0)) => last.1 = span.1,
            _ => joined.push(span),
        }
    }
    *spans = joined;
}

/// Joins spans over stops that are short, or during which the model stays clear of the ground.
fn join_short_stops(spans: &mut Vec<(f64, f64)>, height: Option<&[Track]>) {
    join(spans, |(from, to)| {
        let lowest = height.and_then(|h| {
            let inside = h.iter().flat_map(|t| t.part(from, to).1.iter().copied());
            inside.min_by(f64::total_cmp)
        });
        to - from < SHORTEST_STOP_S || lowest.is_some_and(|h| h > CLEAR_OF_GROUND_M)
    });
}

fn name_spans(
    log: &Log,
    airborne: &[(f64, f64)],
    speed: Option<&[Track]>,
    height: Option<&[Track]>,
) -> Vec<PhaseSpan> {
    let (first, last) = (log.time[0], log.time[log.len() - 1]);
    let mut spans = Vec::new();
    let mut push = |phase, start_s: f64, end_s: f64| {
        if end_s > start_s {
            spans.push(PhaseSpan {
                phase,
                start_s,
                end_s,
            });
        }
    };
    let mut cursor = first;
    for (n, &(up, down)) in airborne.iter().enumerate() {
        let next = airborne.get(n + 1).map_or(last, |s| s.0);
        let rolls = speed.map_or(up, |s| {
            last_below(s, STANDS_M_S, cursor, up).unwrap_or(cursor)
        });
        let climbed = height
            .and_then(|h| first_above(h, LOW_M, up, down))
            .unwrap_or(up + WITHOUT_HEIGHT_S)
            .min(up + 0.5 * (down - up));
        let low = height
            .and_then(|h| last_above(h, LOW_M, climbed, down))
            .unwrap_or(down - WITHOUT_HEIGHT_S)
            .max(climbed);
        let stands = speed.map_or(down, |s| {
            first_below(s, STANDS_M_S, down, next).unwrap_or(next)
        });
        push(Phase::Ground, cursor, rolls);
        push(Phase::TakeOff, rolls, climbed);
        push(Phase::Flight, climbed, low);
        push(Phase::Landing, low, stands);
        cursor = stands;
    }
    push(Phase::Ground, cursor, last);
    spans
}

fn samples(tracks: &[Track], from: f64, to: f64) -> impl DoubleEndedIterator<Item = (f64, f64)> {
    tracks.iter().flat_map(move |t| {
        let (time, value) = t.part(from, to);
        time.iter().copied().zip(value.iter().copied())
    })
}

fn last_below(tracks: &[Track], level: f64, from: f64, to: f64) -> Option<f64> {
    samples(tracks, from, to)
        .rfind(|(_, v)| *v < level)
        .map(|(t, _)| t)
}

fn first_below(tracks: &[Track], level: f64, from: f64, to: f64) -> Option<f64> {
    samples(tracks, from, to)
        .find(|(_, v)| *v < level)
        .map(|(t, _)| t)
}

fn first_above(tracks: &[Track], level: f64, from: f64, to: f64) -> Option<f64> {
    samples(tracks, from, to)
        .find(|(_, v)| *v > level)
        .map(|(t, _)| t)
}

fn last_above(tracks: &[Track], level: f64, from: f64, to: f64) -> Option<f64> {
    samples(tracks, from, to)
        .rfind(|(_, v)| *v > level)
        .map(|(t, _)| t)
}
