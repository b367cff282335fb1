//! Lines with fewer points that look the same: for pictures, never for results.
//!
//! A line keeps its ends and every point that lies farther than a tolerance from the line through
//! what is kept: Ramer, Computer Graphics and Image Processing 1 (1972) 244; Douglas & Peucker,
//! Cartographica 10 (1973) 112.

use std::ops::Range;

use crate::physics::wind::length;

/// Indices to keep of `0..count`, ascending, by the rule above.
///
/// `distance(a, b, i)`: how far point `i` lies from the line through points `a` and `b`.
pub fn kept(
    count: usize,
    tolerance: f64,
    distance: impl Fn(usize, usize, usize) -> f64,
) -> Vec<usize> {
    let Some(last) = count.checked_sub(1) else {
        return Vec::new();
    };
    let mut keep = vec![false; count];
    (keep[0], keep[last]) = (true, true);
    let mut open = vec![(0, last)];
    while let Some((a, b)) = open.pop() {
        let mut worst = (a, tolerance);
        for i in a + 1..b {
            let d = distance(a, b, i);
            if d > worst.1 {
                worst = (i, d);
            }
        }
        if worst.0 > a {
            keep[worst.0] = true;
            open.extend([(a, worst.0), (worst.0, b)]);
        }
    }
    (0..count).filter(|i| keep[*i]).collect()
}

/// A path over the ground: at most about `most` points, `fixed` ones (ascending) always among them.
///
/// The tolerance starts at a two-thousandth of the path's extent (a quarter of a pixel of a picture)
/// and doubles until the points are few enough. Metres.
pub fn path(east: &[f64], north: &[f64], fixed: &[usize], most: usize) -> Vec<usize> {
    let count = east.len().min(north.len());
    let span = |v: &[f64]| {
        let (low, high) = v.iter().fold((f64::MAX, f64::MIN), |(l, h), x| {
            (f64::min(l, *x), f64::max(h, *x))
        });
        (high - low).max(0.0)
    };
    let mut tolerance = (span(east).max(span(north)) / 2000.0).max(0.05);
    let mut cuts: Vec<usize> = fixed.iter().copied().filter(|i| *i < count).collect();
    cuts.extend([0, count.saturating_sub(1)]);
    cuts.sort_unstable();
    cuts.dedup();
    loop {
        let mut out: Vec<usize> = Vec::new();
        for pair in cuts.windows(2) {
            let (first, n) = (pair[0], pair[1] - pair[0] + 1);
            let inside = kept(n, tolerance, |a, b, i| {
                off_chord([a, b, i].map(|k| (east[first + k], north[first + k])))
            });
            out.extend(inside.into_iter().map(|i| first + i));
        }
        out.dedup();
        if count == 1 {
            out.push(0);
        }
        if out.len() <= most.max(cuts.len()) || !tolerance.is_finite() {
            return out;
        }
        tolerance *= 2.0;
    }
}

/// Distance of the third point from the straight piece between the first two.
fn off_chord([a, b, p]: [(f64, f64); 3]) -> f64 {
    let (dx, dy) = (b.0 - a.0, b.1 - a.1);
    let square = dx * dx + dy * dy;
    let along = if square > 0.0 {
        (((p.0 - a.0) * dx + (p.1 - a.1) * dy) / square).clamp(0.0, 1.0)
    } else {
        0.0
    };
    length(p.0 - a.0 - along * dx, p.1 - a.1 - along * dy)
}

/// A quantity over time: the least and greatest of each of `parts` equal parts of `from..to`, and of
/// these what lies more than `tolerance` off the line through the others. Extremes stay.
pub fn trace(
    time: &[f64],
    value: &[f64],
    (from, to): (f64, f64),
    parts: usize,
    tolerance: f64,
) -> Vec<usize> {
    let count = time.len().min(value.len());
    let part = |i: usize| {
        let share = (time[i] - from) / (to - from);
        (share * parts as f64) as usize
    };
    let mut ends: Vec<usize> = Vec::new();
    let mut flush = |range: Range<usize>| {
        if range.is_empty() {
            return;
        }
        let by = |a: &usize, b: &usize| value[*a].total_cmp(&value[*b]);
        ends.extend(range.clone().min_by(by));
        ends.extend(range.max_by(by));
    };
    let mut start = 0;
    for i in 1..count {
        if part(i) != part(start) {
            flush(start..i);
            start = i;
        }
    }
    flush(start..count);
    if let Some(last) = count.checked_sub(1) {
        ends.extend([0, last]);
    }
    ends.sort_unstable();
    ends.dedup();
    // Upright distance: time and value have no common unit.
    let off = |a: usize, b: usize, i: usize| {
        let [a, b, i] = [a, b, i].map(|k| ends[k]);
        let share = (time[i] - time[a]) / (time[b] - time[a]);
        (value[i] - value[a] - share * (value[b] - value[a])).abs()
    };
    kept(ends.len(), tolerance, off)
        .into_iter()
        .map(|k| ends[k])
        .collect()
}
