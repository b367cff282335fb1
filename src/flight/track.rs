//! A channel as unbroken tracks: what may be integrated, differenced or averaged.
//!
//! A log holds NaN where a channel has no value (two loggers at different rates, a cell that could
//! not be read). Between two values of one track the signal is taken as linear; between two tracks
//! nothing is known, and nothing in this floor integrates or differences across.

use crate::ingest::{Channel, Log};
use crate::physics::wind::length;
use crate::stats;

/// No channel is silent within less, s.
const LEAST_SILENCE_S: f64 = 1.0;

/// One unbroken stretch of a signal: times strictly increasing, every value finite.
#[derive(Debug, Clone, Default, PartialEq)]
pub struct Track {
    pub time: Vec<f64>,
    pub value: Vec<f64>,
}

impl Track {
    pub fn start(&self) -> f64 {
        self.time.first().copied().unwrap_or(f64::NAN)
    }

    pub fn end(&self) -> f64 {
        self.time.last().copied().unwrap_or(f64::NAN)
    }

    /// Length in s; 0 for a single sample.
    pub fn length(&self) -> f64 {
        if self.time.is_empty() {
            0.0
        } else {
            self.end() - self.start()
        }
    }

    /// Linear between samples; `None` outside the track.
    pub fn at(&self, t: f64) -> Option<f64> {
        if self.time.is_empty() || !(self.start()..=self.end()).contains(&t) {
            return None;
        }
        let after = self.first_from(t);
        if after == 0 {
            return self.value.first().copied();
        }
        let (t0, t1) = (self.time[after - 1], self.time[after]);
        let (v0, v1) = (self.value[after - 1], self.value[after]);
        Some(v0 + (v1 - v0) * (t - t0) / (t1 - t0))
    }

    /// Index of the first sample at or after a time within the track. Logs tick evenly: where it would
    /// be then is looked at first.
    fn first_from(&self, t: f64) -> usize {
        let last = self.time.len() - 1;
        let evenly = (t - self.start()) / self.length() * last as f64;
        let guess = evenly as usize;
        (guess..=(guess + 1).min(last))
            .find(|&i| self.time[i] >= t && (i == 0 || self.time[i - 1] < t))
            .unwrap_or_else(|| self.time.partition_point(|&x| x < t))
    }

    /// Integral by the trapezoid rule over the part of `from..to` that the track covers, and the
    /// length of that part in s.
    pub fn integral(&self, from: f64, to: f64) -> (f64, f64) {
        let (from, to) = (from.max(self.start()), to.min(self.end()));
        let (Some(mut v), true) = (self.at(from), to > from) else {
            return (0.0, 0.0);
        };
        let mut t = from;
        let mut sum = 0.0;
        let first = self.time.partition_point(|&x| x <= from);
        for i in first..self.time.len() {
            if self.time[i] >= to {
                break;
            }
            sum += 0.5 * (v + self.value[i]) * (self.time[i] - t);
            (t, v) = (self.time[i], self.value[i]);
        }
        if let Some(last) = self.at(to) {
            sum += 0.5 * (v + last) * (to - t);
        }
        (sum, to - from)
    }

    /// Time of the first sample at or after `t`.
    pub fn next_sample(&self, t: f64) -> Option<f64> {
        self.time
            .get(self.time.partition_point(|&x| x < t))
            .copied()
    }

    /// The part of the track within `from..=to` (samples only, ends not interpolated).
    pub fn part(&self, from: f64, to: f64) -> (&[f64], &[f64]) {
        let a = self.time.partition_point(|&x| x < from);
        let b = self.time.partition_point(|&x| x <= to);
        (&self.time[a..b.max(a)], &self.value[a..b.max(a)])
    }
}

/// The channel's tracks in time order; empty when the log does not have it.
///
/// A track ends at a break of the recording, and where the channel itself is silent for longer than
/// ten of its own median steps and 1 s (the rule by which `Log::breaks` are found).
pub fn tracks(log: &Log, channel: Channel) -> Vec<Track> {
    log.get(channel)
        .map_or_else(Vec::new, |series| tracks_of(log, series))
}

/// As [`tracks`], for values made from the log's columns (same length as its time).
pub fn tracks_of(log: &Log, series: &[f64]) -> Vec<Track> {
    let count = log.len().min(series.len());
    let (time, series) = (&log.time[..count], &series[..count]);
    let whole = log.breaks.is_empty()
        && count > 0
        && time.iter().chain(series).all(|v| v.is_finite())
        && time
            .windows(2)
            .all(|w| w[1] > w[0] && w[1] - w[0] <= LEAST_SILENCE_S);
    if whole {
        return vec![Track {
            time: time.to_vec(),
            value: series.to_vec(),
        }];
    }
    let rows: Vec<usize> = (0..count)
        .filter(|&i| series[i].is_finite() && time[i].is_finite())
        .collect();
    let steps: Vec<f64> = rows.windows(2).map(|w| time[w[1]] - time[w[0]]).collect();
    let longest = if steps.iter().all(|s| *s <= LEAST_SILENCE_S) {
        LEAST_SILENCE_S
    } else {
        (10.0 * stats::median(&steps)).max(LEAST_SILENCE_S)
    };
    let mut all: Vec<Track> = Vec::new();
    let mut previous: Option<usize> = None;
    for &row in &rows {
        let t = time[row];
        let joined = previous.is_some_and(|p| {
            t > time[p] && t - time[p] <= longest && !log.breaks.iter().any(|&b| p < b && b <= row)
        });
        if !joined {
            all.push(Track::default());
        }
        if let Some(track) = all.last_mut() {
            track.time.push(t);
            track.value.push(series[row]);
        }
        previous = Some(row);
    }
    all
}

/// Value at `t` in whichever track covers it.
pub fn at(tracks: &[Track], t: f64) -> Option<f64> {
    tracks.iter().find_map(|track| track.at(t))
}

/// Time of the first sample of any track at or after `t`.
pub fn next_sample(tracks: &[Track], t: f64) -> Option<f64> {
    tracks.iter().find_map(|track| track.next_sample(t))
}

/// Time mean over `from..to`, or `None` where less than 90 % of it is covered.
pub fn mean(tracks: &[Track], from: f64, to: f64) -> Option<f64> {
    if to <= from {
        return at(tracks, from);
    }
    let (mut sum, mut covered) = (0.0, 0.0);
    for track in tracks {
        let (s, c) = track.integral(from, to);
        sum += s;
        covered += c;
    }
    (covered >= 0.9 * (to - from)).then(|| sum / covered)
}

/// Ground speed, m/s: as logged, else from the velocity components.
pub fn ground_speed(log: &Log) -> Option<Vec<f64>> {
    if let Some(speed) = log.get(Channel::GroundSpeed) {
        return Some(speed.clone());
    }
    let north = log.get(Channel::VelocityNorth)?;
    let east = log.get(Channel::VelocityEast)?;
    Some(
        north
            .iter()
            .zip(east)
            .map(|(n, e)| length(*n, *e))
            .collect(),
    )
}

/// Velocity over ground (north, east), m/s: as logged, else from speed and course.
pub fn ground_velocity(log: &Log) -> Option<(Vec<f64>, Vec<f64>)> {
    if let (Some(north), Some(east)) = (
        log.get(Channel::VelocityNorth),
        log.get(Channel::VelocityEast),
    ) {
        return Some((north.clone(), east.clone()));
    }
    let speed = log.get(Channel::GroundSpeed)?;
    let course = log.get(Channel::Course)?;
    Some(
        speed
            .iter()
            .zip(course)
            .map(|(v, c)| (v * c.cos(), v * c.sin()))
            .unzip(),
    )
}
