//! Rainflow counting of a load history, and what the cycles do to something that tires.

use serde::{Deserialize, Serialize};

/// One counted range.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
pub struct Cycle {
    pub range: f64,
    pub mean: f64,
    /// 1, or 0.5 for a half cycle.
    pub count: f64,
}

/// First value, turning points, last value; values that are not finite are left out.
pub fn reversals(series: impl IntoIterator<Item = f64>) -> Vec<f64> {
    let mut out: Vec<f64> = Vec::new();
    for value in series.into_iter().filter(|v| v.is_finite()) {
        match out[..] {
            [.., last] if last == value => {}
            [.., before, last] if (last - before) * (value - last) > 0.0 => {
                let end = out.len() - 1;
                out[end] = value;
            }
            _ => out.push(value),
        }
    }
    out
}

/// Cycles in the order in which they close; what is left at the end counts half.
///
/// Source: ASTM E1049-85, 5.4.4 (rainflow counting).
pub fn rainflow(series: impl IntoIterator<Item = f64>) -> Vec<Cycle> {
    let cycle = |a: f64, b: f64, count: f64| Cycle {
        range: (a - b).abs(),
        mean: 0.5 * (a + b),
        count,
    };
    let mut cycles = Vec::new();
    let mut open: Vec<f64> = Vec::new();
    // Points before it have been discarded (5.4.4, step 5: the start moves on).
    let mut start = 0;
    for point in reversals(series) {
        open.push(point);
        while open.len() - start >= 3 {
            let n = open.len();
            let (x, y) = (
                (open[n - 1] - open[n - 2]).abs(),
                (open[n - 2] - open[n - 3]).abs(),
            );
            if x < y {
                break;
            }
            if n - start == 3 {
                cycles.push(cycle(open[n - 3], open[n - 2], 0.5));
                start += 1;
            } else {
                cycles.push(cycle(open[n - 3], open[n - 2], 1.0));
                open.truncate(n - 3);
                open.push(point);
            }
        }
    }
    cycles.extend(open[start..].windows(2).map(|w| cycle(w[0], w[1], 0.5)));
    cycles
}

/// Sum of count times range to the power `exponent`: proportional to the damage that a material with
/// that exponent of its S-N line takes (Palmgren 1924, Miner 1945; no fatigue limit, no mean stress).
/// Only ratios of such sums mean something.
pub fn damage(cycles: &[Cycle], exponent: i32) -> f64 {
    cycles
        .iter()
        .map(|c| c.count * c.range.powi(exponent))
        .sum()
}

/// Crossings of each level: upward ones of levels at or above `reference`, downward ones of those
/// below it (ASTM E1049-85, 5.1, level-crossing counting).
///
/// A level counts again once the load has come back by more than `release` of its way from the
/// reference, so that a load that trembles about a level counts once (5.1.1 calls it a deadband; the
/// counting accelerometers of old had one); 0 counts every crossing.
pub fn crossings(series: &[f64], levels: &[f64], reference: f64, release: f64) -> Vec<u64> {
    levels
        .iter()
        .map(|&level| {
            let side = if level >= reference { 1.0 } else { -1.0 };
            let beyond = |v: f64| side * (v - level) >= 0.0;
            let back = level - release * (level - reference);
            let mut armed = series.first().is_some_and(|v| !beyond(*v));
            let mut count = 0;
            for &value in series {
                if armed && beyond(value) {
                    count += 1;
                    armed = false;
                } else if !beyond(value) && side * (value - back) <= 0.0 {
                    armed = true;
                }
            }
            count
        })
        .collect()
}
