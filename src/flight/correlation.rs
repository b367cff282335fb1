//! Cross-correlation of two signals: where they agree best, how surely, and whether their parts do.

use serde::{Deserialize, Serialize};

use super::track::Track;
use crate::stats;

/// Stretches of one flight agree on the offset to this, s; at least this share of them must. Two
/// flights that a pilot flew alike correlate nearly as well as one flight with itself, but their
/// stretches do not agree.
const AGREE_S: f64 = 0.7;
const AGREE_SHARE: f64 = 0.7;
/// Slower changes than this are left out of the comparison, s: every flight has its take-off.
const HIGH_PASS_S: f64 = 12.0;
/// Stretches of the flight left out in turn for the standard error.
const BLOCKS: usize = 8;

/// A shift in time with its standard error.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
pub struct Shift {
    pub value_s: f64,
    pub se_s: f64,
    pub correlation: f64,
}

/// Values on an even grid, NaN where there are none.
pub(super) struct Grid {
    pub start: f64,
    pub step: f64,
    pub value: Vec<f64>,
}

impl Grid {
    pub fn new(tracks: &[Track], step: f64) -> Option<Self> {
        let start = tracks.first()?.start();
        let end = tracks.last()?.end();
        let n = (((end - start) / step).floor() as usize).saturating_add(1);
        let mut value = vec![f64::NAN; n.min(2_000_000)];
        for t in tracks {
            let from = ((t.start() - start) / step).ceil() as usize;
            let to = ((t.end() - start) / step).floor() as usize;
            for (k, v) in value
                .iter_mut()
                .enumerate()
                .take(to.saturating_add(1))
                .skip(from)
            {
                let at = start + k as f64 * step;
                // The mean over the step keeps fast noise out of a coarse grid.
                let (time, inside) = t.part(at - 0.5 * step, at + 0.5 * step);
                *v = if time.len() > 1 {
                    stats::mean(inside)
                } else {
                    t.at(at).unwrap_or(f64::NAN)
                };
            }
        }
        Some(Self { start, step, value })
    }

    pub fn end(&self) -> f64 {
        self.start + self.value.len() as f64 * self.step
    }

    /// The part between two times.
    pub fn part(&self, from: f64, to: f64) -> Self {
        let place = |t: f64| {
            (((t - self.start) / self.step).round().max(0.0) as usize).min(self.value.len())
        };
        let (from, to) = (place(from), place(to));
        Self {
            start: self.start + from as f64 * self.step,
            step: self.step,
            value: self.value[from..to.max(from)].to_vec(),
        }
    }

    /// Less its running mean over `HIGH_PASS_S`: what is left are events, not whether it flies.
    pub fn events(mut self) -> Self {
        let half = (0.5 * HIGH_PASS_S / self.step) as usize;
        let mut sum = vec![(0.0, 0.0)];
        for v in &self.value {
            let (s, n) = sum[sum.len() - 1];
            sum.push(if v.is_finite() {
                (s + v, n + 1.0)
            } else {
                (s, n)
            });
        }
        let n = self.value.len();
        for (k, v) in self.value.iter_mut().enumerate() {
            let (from, to) = (sum[k.saturating_sub(half)], sum[(k + half + 1).min(n)]);
            *v -= (to.0 - from.0) / (to.1 - from.1);
        }
        self
    }
}

/// Sums for a correlation.
#[derive(Debug, Clone, Copy, Default)]
pub(super) struct Sums {
    pub n: f64,
    x: f64,
    y: f64,
    xx: f64,
    yy: f64,
    xy: f64,
}

impl Sums {
    fn add(&mut self, x: f64, y: f64) {
        self.n += 1.0;
        self.x += x;
        self.y += y;
        self.xx += x * x;
        self.yy += y * y;
        self.xy += x * y;
    }
    fn plus(self, o: &Sums, sign: f64) -> Sums {
        Sums {
            n: self.n + sign * o.n,
            x: self.x + sign * o.x,
            y: self.y + sign * o.y,
            xx: self.xx + sign * o.xx,
            yy: self.yy + sign * o.yy,
            xy: self.xy + sign * o.xy,
        }
    }
    pub fn correlation(&self) -> f64 {
        let vx = self.xx - self.x * self.x / self.n;
        let vy = self.yy - self.y * self.y / self.n;
        if self.n < 3.0 || vx <= 0.0 || vy <= 0.0 {
            return 0.0;
        }
        (self.xy - self.x * self.y / self.n) / (vx * vy).sqrt()
    }
}

/// The correlation's sums when `b`'s times are moved by `shift` steps relative to `a`'s grid, in
/// blocks of `a`.
pub(super) fn sums(a: &Grid, b: &Grid, shift: i64) -> [Sums; BLOCKS] {
    let mut out = [Sums::default(); BLOCKS];
    let n = a.value.len();
    for (block, sums) in out.iter_mut().enumerate() {
        for i in block * n / BLOCKS..(block + 1) * n / BLOCKS {
            let j = i as i64 - shift;
            let other = usize::try_from(j).ok().and_then(|j| b.value.get(j));
            if let Some(y) = other
                && y.is_finite()
                && a.value[i].is_finite()
            {
                sums.add(a.value[i], *y);
            }
        }
    }
    out
}

pub(super) fn total(blocks: &[Sums; BLOCKS]) -> Sums {
    blocks.iter().fold(Sums::default(), |a, b| a.plus(b, 1.0))
}

/// Vertex of the parabola through three points at −1, 0, 1.
fn vertex(y: [f64; 3]) -> f64 {
    let bend = y[0] - 2.0 * y[1] + y[2];
    if bend < 0.0 {
        (0.5 * (y[0] - y[2]) / bend).clamp(-1.0, 1.0)
    } else {
        0.0
    }
}

/// The shift of `b` against `a` with the greatest correlation between `low` and `high` s, below
/// one step, with its error from leaving out one block at a time.
pub(super) fn refine(a: &Grid, b: &Grid, low: f64, high: f64) -> Option<Shift> {
    let base = a.start - b.start;
    // Times of b + shift = times of a: shift in s = base + steps·step.
    let from = ((low - base) / a.step).floor() as i64 - 1;
    let to = ((high - base) / a.step).ceil() as i64 + 1;
    let all: Vec<[Sums; BLOCKS]> = (from..=to).map(|k| sums(a, b, k)).collect();
    let peak = |without: Option<usize>| {
        let r: Vec<f64> = all
            .iter()
            .map(|blocks| {
                let t = total(blocks);
                without
                    .map_or(t, |i| t.plus(&blocks[i], -1.0))
                    .correlation()
            })
            .collect();
        let best = (1..r.len().saturating_sub(1)).max_by(|&i, &j| r[i].total_cmp(&r[j]))?;
        let inside = r[best] >= r[best - 1] && r[best] >= r[best + 1];
        let place = best as f64 + vertex([r[best - 1], r[best], r[best + 1]]);
        inside.then_some((base + (from as f64 + place) * a.step, r[best]))
    };
    let (value_s, correlation) = peak(None)?;
    let own: Vec<f64> = (0..BLOCKS)
        .filter_map(|i| {
            let r = |k: usize| all[k][i].correlation();
            let best = (0..all.len()).max_by(|&a, &b| r(a).total_cmp(&r(b)))?;
            (r(best) > 0.0).then_some(base + (from as f64 + best as f64) * a.step)
        })
        .collect();
    let agree = own
        .iter()
        .filter(|s| (*s - value_s).abs() < AGREE_S)
        .count();
    if (agree as f64) < AGREE_SHARE * own.len() as f64 {
        return None;
    }
    let left: Vec<f64> = (0..BLOCKS)
        .filter_map(|i| peak(Some(i)))
        .map(|p| p.0)
        .collect();
    if left.len() < BLOCKS {
        return None;
    }
    let n = BLOCKS as f64;
    Some(Shift {
        value_s,
        se_s: (n - 1.0) / n.sqrt() * stats::sd(&left),
        correlation,
    })
}
