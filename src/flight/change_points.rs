//! Where a signal changes: exact penalised least squares over all segmentations.
//!
//! The segmentation that minimises the sum of squares about each segment's own mean, in units of the
//! noise's variance, plus a penalty for each segment. Found exactly by dynamic programming with
//! pruning: Killick, Fearnhead and Eckley, J. Am. Stat. Assoc. 107 (2012) 1590 (PELT). The penalty is
//! [`PENALTY`]·ln n: two parameters a segment (its mean and its start) would give 2·ln n (Schwarz
//! 1978); half as much again keeps correlated noise from being cut up.

use crate::flight::track::Track;
use crate::stats;

/// Times ln n for each segment.
pub const PENALTY: f64 = 3.0;

/// Noise of a stick that rests: its converter's step is seldom finer (common practice, no source).
const STICK_NOISE: f64 = 0.005;
/// Rate at which a stick is looked at, 1/s: no hand is faster than a few a second.
const STICK_RATE: f64 = 25.0;

/// A stretch of samples `from..to` about one mean.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Segment {
    pub from: usize,
    /// One beyond the last.
    pub to: usize,
    pub mean: f64,
}

/// Standard deviation of a signal's noise from its first differences, by their median absolute
/// deviation (Rousseeuw and Croux, J. Am. Stat. Assoc. 88 (1993) 1273: 1.4826 times it): steps and
/// spikes do not count.
pub fn noise_sd(value: &[f64]) -> f64 {
    let steps: Vec<f64> = value.windows(2).map(|w| w[1] - w[0]).collect();
    if steps.is_empty() {
        return 0.0;
    }
    let middle = stats::median(&steps);
    let off: Vec<f64> = steps.iter().map(|s| (s - middle).abs()).collect();
    1.4826 * stats::median(&off) / std::f64::consts::SQRT_2
}

/// Sums up to each point: weight, weighted value, weighted square.
struct Sums {
    weight: Vec<f64>,
    value: Vec<f64>,
    square: Vec<f64>,
}

impl Sums {
    fn new(runs: &[(f64, f64)], centre: f64) -> Self {
        let mut sums = Self {
            weight: vec![0.0],
            value: vec![0.0],
            square: vec![0.0],
        };
        let (mut w, mut v, mut s) = (0.0, 0.0, 0.0);
        for (weight, value) in runs {
            // About a value of the series itself, so that squares do not swallow small steps.
            let x = value - centre;
            w += weight;
            v += weight * x;
            s += weight * x * x;
            sums.weight.push(w);
            sums.value.push(v);
            sums.square.push(s);
        }
        sums
    }

    /// Sum of squares of `from..to` about its own mean.
    fn cost(&self, from: usize, to: usize) -> f64 {
        let w = self.weight[to] - self.weight[from];
        let v = self.value[to] - self.value[from];
        (self.square[to] - self.square[from] - v * v / w).max(0.0)
    }
}

/// Segments of constant mean in a signal with noise of standard deviation `sd` (> 0).
///
/// Runs of one value are taken as one point of that weight: no cut inside a run is ever best, and a
/// throttle that rests costs nothing however fast it is logged.
pub fn constant_segments(value: &[f64], sd: f64) -> Vec<Segment> {
    let mut runs: Vec<(f64, f64)> = Vec::new();
    let mut starts: Vec<usize> = Vec::new();
    for (i, v) in value.iter().enumerate() {
        match runs.last_mut() {
            Some(run) if run.1 == *v => run.0 += 1.0,
            _ => {
                runs.push((1.0, *v));
                starts.push(i);
            }
        }
    }
    if runs.is_empty() {
        return Vec::new();
    }
    let sums = Sums::new(&runs, value[0]);
    let n = runs.len();
    let penalty = PENALTY * (value.len() as f64).ln().max(1.0) * sd * sd;
    let mut best = vec![0.0; n + 1];
    best[0] = -penalty;
    let mut last = vec![0_usize; n + 1];
    let mut candidates = vec![0_usize];
    let mut costs: Vec<f64> = Vec::new();
    for to in 1..=n {
        costs.clear();
        costs.extend(candidates.iter().map(|&s| best[s] + sums.cost(s, to)));
        let (mut least, mut at) = (f64::INFINITY, 0);
        for (cost, s) in costs.iter().zip(&candidates) {
            if *cost < least {
                (least, at) = (*cost, *s);
            }
        }
        best[to] = least + penalty;
        last[to] = at;
        // What cannot be best now, with the penalty still to pay, can never be best again.
        let mut kept = 0;
        candidates.retain(|_| {
            kept += 1;
            costs[kept - 1] <= best[to]
        });
        candidates.push(to);
    }
    let mut ends = Vec::new();
    let mut to = n;
    while to > 0 {
        ends.push((last[to], to));
        to = last[to];
    }
    ends.reverse();
    ends.into_iter()
        .map(|(from, to)| {
            let (first, end) = (starts[from], starts.get(to).copied().unwrap_or(value.len()));
            Segment {
                from: first,
                to: end,
                mean: stats::mean(&value[first..end]),
            }
        })
        .collect()
}

/// A stretch of time about one mean.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Steady {
    pub start_s: f64,
    pub end_s: f64,
    pub mean: f64,
}

/// Samples of which the median is taken before a stretch's wandering is judged.
const CALMED: usize = 5;
/// Wandering that noise explains, in its standard deviations (a median of five leaves half).
const NOISE_SHARE: f64 = 2.0;

/// Fewer samples tell a rest from a stick on its way by chance only.
const LEAST_SAMPLES: usize = 3;
/// One sample in so many may be a spike.
const SPIKES: usize = 20;

/// Standard deviation of a stretch without its spikes: the farthest twentieth of the samples.
fn spread(part: &[f64], rest: f64) -> f64 {
    let mut by_distance = part.to_vec();
    by_distance.sort_by(|a, b| (a - rest).abs().total_cmp(&(b - rest).abs()));
    by_distance.truncate(part.len() - part.len() / SPIKES);
    stats::sd(&by_distance)
}

/// Stretches in which a stick rests: segments whose running median stays within ± `band` of their
/// mean, noise allowed for, and which scatter no more than band and noise explain (a few samples of a
/// slow log make no running median). The way to and from the rest is taken off their ends.
pub fn steady(track: &Track, band: f64) -> Vec<Steady> {
    let slow = thinned(track);
    let noise = noise_sd(&slow.value);
    let wander = band + NOISE_SHARE * noise;
    let mut out = Vec::new();
    for segment in constant_segments(&slow.value, noise.max(STICK_NOISE)) {
        let (mut from, mut to) = (segment.from, segment.to);
        let rest = stats::median(&slow.value[from..to]);
        let off = |i: usize| (slow.value[i] - rest).abs() > band + 2.0 * NOISE_SHARE * noise;
        while from < to && off(from) {
            from += 1;
        }
        while from < to && off(to - 1) {
            to -= 1;
        }
        let part = &slow.value[from..to];
        let calm = |w: &[f64]| (stats::median(w) - rest).abs() <= wander;
        if part.len() >= LEAST_SAMPLES
            && spread(part, rest) <= band.hypot(noise)
            && part.windows(CALMED.min(part.len())).all(calm)
        {
            out.push(Steady {
                start_s: slow.time[from],
                end_s: slow.time[to - 1],
                mean: stats::mean(part),
            });
        }
    }
    out
}

/// The track at [`STICK_RATE`] at most, by medians: a spike is no change.
fn thinned(track: &Track) -> Track {
    let steps: Vec<f64> = track.time.windows(2).map(|w| w[1] - w[0]).collect();
    let step = if steps.is_empty() {
        1.0
    } else {
        stats::median(&steps)
    };
    let block = ((1.0 / STICK_RATE) / step).round().max(1.0) as usize;
    if block < 2 {
        return track.clone();
    }
    let mut out = Track::default();
    for (time, value) in track.time.chunks(block).zip(track.value.chunks(block)) {
        out.time.push(stats::mean(time));
        out.value.push(stats::median(value));
    }
    out
}
