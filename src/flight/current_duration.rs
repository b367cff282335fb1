//! The current-duration curve: for every t, the largest mean current held for t seconds. Held
//! against a controller's continuous line and burst box.

use crate::flight::track::{Track, tracks};
use crate::ingest::{Channel, Log};
use crate::stats;

/// The signal between two samples.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Between {
    /// A straight line (a logger that shows momentary values).
    Linear,
    /// The earlier sample holds (a logger that repeats its last value).
    Held,
}

/// One point of the curve.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Held {
    pub duration_s: f64,
    pub current_a: f64,
}

/// Points a decade of the curve's grid.
const A_DECADE: f64 = 20.0;

/// The curve of one flight on a logarithmic grid from 0.2 s (or the log's own step, if longer) to
/// the longest track, and at `also` (a controller's burst seconds). Each point is exact; windows do
/// not cross gaps. Empty without current.
pub fn current_duration(log: &Log, between: Between, also: &[f64]) -> Vec<Held> {
    let current = tracks(log, Channel::Current);
    if current.iter().flat_map(|t| &t.value).all(|v| *v == 0.0) {
        return Vec::new();
    }
    let steps: Vec<f64> = current
        .iter()
        .flat_map(|t| t.time.windows(2).map(|w| w[1] - w[0]))
        .collect();
    let longest = current.iter().map(Track::length).fold(0.0, f64::max);
    if steps.is_empty() {
        return Vec::new();
    }
    let prefixes: Vec<Prefix> = current.iter().map(|t| Prefix::of(t, between)).collect();
    durations(stats::median(&steps).max(0.2), longest, also)
        .into_iter()
        .filter_map(|duration_s| {
            let current_a = prefixes
                .iter()
                .filter_map(|p| p.largest_mean(duration_s))
                .max_by(f64::total_cmp)?;
            Some(Held {
                duration_s,
                current_a,
            })
        })
        .collect()
}

/// The grid: `from` to `longest` at 20 points a decade, `longest` itself, and what of `also` lies
/// within.
fn durations(from: f64, longest: f64, also: &[f64]) -> Vec<f64> {
    if longest < from {
        return vec![longest];
    }
    let count = (A_DECADE * (longest / from).log10()).floor() as usize;
    let mut all: Vec<f64> = (0..=count)
        .map(|n| from * 10.0_f64.powf(n as f64 / A_DECADE))
        .collect();
    all.push(longest);
    all.extend(also.iter().copied().filter(|t| *t > 0.0 && *t <= longest));
    all.retain(|t| *t <= longest);
    all.sort_by(f64::total_cmp);
    all.dedup();
    all
}

/// The largest mean over any window of `duration_s` within one track; `None` if it is shorter.
pub fn largest_mean(track: &Track, between: Between, duration_s: f64) -> Option<f64> {
    Prefix::of(track, between).largest_mean(duration_s)
}

/// A track with its running integral.
struct Prefix<'a> {
    track: &'a Track,
    sums: Vec<f64>,
    /// Of each segment, from sample `k` to `k + 1`.
    slopes: Vec<f64>,
    /// The integral's greatest value up to a sample, and its least from a sample on.
    high: Vec<f64>,
    low: Vec<f64>,
}

/// Window starts that are bounded together, samples.
const BLOCK: usize = 16;

impl<'a> Prefix<'a> {
    fn of(track: &'a Track, between: Between) -> Self {
        let mut sums = Vec::with_capacity(track.time.len());
        let mut sum = 0.0;
        for i in 0..track.time.len() {
            if i > 0 {
                let dt = track.time[i] - track.time[i - 1];
                sum += match between {
                    Between::Linear => 0.5 * (track.value[i - 1] + track.value[i]) * dt,
                    Between::Held => track.value[i - 1] * dt,
                };
            }
            sums.push(sum);
        }
        let ends = track.time.windows(2).zip(track.value.windows(2));
        let slopes = ends.map(|(t, v)| match between {
            Between::Held => 0.0,
            Between::Linear => (v[1] - v[0]) / (t[1] - t[0]),
        });
        let slopes: Vec<f64> = slopes.collect();
        // Within a segment the integral leaves the range of its ends only where the signal changes sign.
        let beyond = |k: usize| {
            let (v, w) = (track.value[k], track.value[k + 1]);
            let dt = track.time[k + 1] - track.time[k];
            if v * w < 0.0 {
                dt * v.abs().max(w.abs())
            } else {
                0.0
            }
        };
        let (mut high, mut low) = (sums.clone(), sums.clone());
        for k in 0..slopes.len() {
            high[k + 1] = high[k].max(sums[k].max(sums[k + 1]) + beyond(k));
        }
        for k in (0..slopes.len()).rev() {
            low[k] = low[k + 1].min(sums[k].min(sums[k + 1]) - beyond(k));
        }
        Self {
            track,
            sums,
            slopes,
            high,
            low,
        }
    }

    fn value(&self, k: usize, t: f64) -> f64 {
        self.track.value[k] + self.slopes[k] * (t - self.track.time[k])
    }

    /// Integral from the start to `t`, which lies in segment `k`.
    fn integral(&self, k: usize, t: f64) -> f64 {
        let d = t - self.track.time[k];
        self.sums[k] + d * (self.track.value[k] + 0.5 * self.slopes[k] * d)
    }

    /// The track goes by in blocks of window starts; a block whose bound is no greater than what was
    /// found elsewhere is left out.
    fn largest_mean(&self, duration: f64) -> Option<f64> {
        let time = &self.track.time;
        let n = time.len();
        if n < 2 || duration <= 0.0 || duration > self.track.length() {
            return None;
        }
        let last_start = time[n - 1] - duration;
        // Above the rounding of the sums.
        let dust = 1e-9 * (self.high[n - 1].abs() + self.low[0].abs());
        let ends_by = |b: usize, s: f64| b + 2 < n && time[b + 1] - duration <= s;
        let mut blocks: Vec<(f64, usize, usize)> = Vec::with_capacity(n / BLOCK + 1);
        let mut b = 0;
        for from in (0..n - 1).step_by(BLOCK) {
            if from > 0 && time[from] > last_start {
                break;
            }
            while ends_by(b, time[from]) {
                b += 1;
            }
            let first = b;
            while ends_by(b, time[(from + BLOCK).min(n - 1)]) {
                b += 1;
            }
            blocks.push((self.high[b + 1] - self.low[from] + dust, from, first));
        }
        let most = blocks.iter().max_by(|x, y| x.0.total_cmp(&y.0))?;
        let mut best = self.largest_from(duration, (most.1, most.2), f64::NEG_INFINITY);
        for &(bound, a, b) in &blocks {
            if bound > best {
                best = self.largest_from(duration, (a, b), best);
            }
        }
        Some(best / duration)
    }

    /// Both ends of the window move over the samples together: between two moments at which either
    /// end meets a sample, the window's integral is a quadratic in its start, so its greatest value
    /// lies at such a moment or where the signal at both ends is equal. Linear in the samples.
    ///
    /// Over the starts of one block, from segments `a` and `b` of the window's two ends on; `best` or
    /// what is greater.
    fn largest_from(&self, duration: f64, (mut a, mut b): (usize, usize), mut best: f64) -> f64 {
        let time = &self.track.time;
        let n = time.len();
        let last_start = time[n - 1] - duration;
        let until = a + BLOCK;
        // The ends are advanced by the event that was taken and never by comparing s + duration with a
        // sample: that sum has its own rounding.
        let mut s = time[a];
        loop {
            best = best.max(self.integral(b, s + duration) - self.integral(a, s));
            if s >= last_start || a >= until {
                return best;
            }
            let (tail, head) = (time[a + 1], time[b + 1] - duration);
            let next = tail.min(head).min(last_start);
            // Equal signal at both ends, and a maximum there: the signal at the head grows more
            // slowly than at the tail.
            let (rise_a, rise_b) = (self.slopes[a], self.slopes[b]);
            if rise_a > rise_b {
                let lead = self.value(b, s + duration) - self.value(a, s);
                let stationary = s + lead / (rise_a - rise_b);
                if stationary > s && stationary < next {
                    let inside =
                        self.integral(b, stationary + duration) - self.integral(a, stationary);
                    best = best.max(inside);
                }
            }
            s = next;
            if tail <= next && a + 2 < n {
                a += 1;
            }
            if head <= next && b + 2 < n {
                b += 1;
            }
        }
    }
}

/// A bench reading as a curve: one steady current, held for as long as the run says.
///
/// A bench table does not say for how long a point was held. Without a duration the line is drawn
/// level over `grid_s`, and `held_s` stays `None`: the current was seen, the time was not.
#[derive(Debug, Clone, PartialEq)]
pub struct BenchHeld {
    pub held_s: Option<f64>,
    pub curve: Vec<Held>,
}

pub fn bench_current_duration(current_a: f64, held_s: Option<f64>, grid_s: &[f64]) -> BenchHeld {
    let curve = grid_s
        .iter()
        .filter(|t| held_s.is_none_or(|held| **t <= held))
        .map(|&duration_s| Held {
            duration_s,
            current_a,
        })
        .collect();
    BenchHeld { held_s, curve }
}
