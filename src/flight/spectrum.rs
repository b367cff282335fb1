//! A flight's load history counted: exceedances, rainflow cycles, relative damage.

use serde::{Deserialize, Serialize};

use crate::flight::loads::LoadSample;
use crate::stats::rainflow::{Cycle, crossings, damage, rainflow};

/// Load factors whose crossings are counted.
pub const LEVELS: [f64; 27] = [
    -2.0, -1.5, -1.0, -0.5, 0.0, 0.5, 1.5, 1.75, 2.0, 2.25, 2.5, 2.75, 3.0, 3.25, 3.5, 3.75, 4.0,
    4.5, 5.0, 5.5, 6.0, 7.0, 8.0, 9.0, 10.0, 11.0, 12.0,
];
/// Exponents of the damage sums: welds and bonds lie near the low end, foam and composites higher
/// (common practice, no source): a range, since nobody knows the joint's own.
pub const EXPONENTS: [i32; 3] = [3, 5, 8];
/// Cells of the cycle matrix, as a load factor; smaller ranges are the sensor's own noise.
pub const CELL: f64 = 0.5;
/// A level counts again once half of the way back to 1 g was gone (common practice, no source).
const RELEASE: f64 = 0.5;
/// Between samples further apart than this nothing was seen, s.
const GAP_S: f64 = 2.0;

/// One flight's loads, counted.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Spectrum {
    /// Time watched, gaps left out, h.
    pub hours: f64,
    /// Crossings away from 1 g of each of [`LEVELS`].
    pub crossings: Vec<u64>,
    pub cycles: Vec<Cycle>,
    /// Damage sums an hour, by [`EXPONENTS`].
    pub damage_per_hour: [f64; 3],
    pub greatest: f64,
    pub least: f64,
}

/// Counts a history. Gaps are closed up: what lay in them is not known, and the levels on either side
/// are. `None` where less than ten seconds were seen.
pub fn spectrum(samples: &[LoadSample]) -> Option<Spectrum> {
    let seconds: f64 = samples
        .windows(2)
        .map(|w| w[1].time_s - w[0].time_s)
        .filter(|dt| *dt <= GAP_S)
        .sum();
    if seconds < 10.0 {
        return None;
    }
    let hours = seconds / 3600.0;
    let history: Vec<f64> = samples.iter().map(|s| s.load_factor).collect();
    let cycles = rainflow(history.iter().copied());
    let extreme = |pick: fn(f64, f64) -> f64| history.iter().copied().reduce(pick);
    Some(Spectrum {
        hours,
        crossings: crossings(&history, &LEVELS, 1.0, RELEASE),
        damage_per_hour: EXPONENTS.map(|m| damage(&cycles, m) / hours),
        cycles,
        greatest: extreme(f64::max)?,
        least: extreme(f64::min)?,
    })
}

/// The cycle matrix: (cell of the range, cell of the mean, counted cycles), in cells of [`CELL`],
/// without the smallest ranges.
pub fn matrix(cycles: &[Cycle]) -> Vec<(i64, i64, f64)> {
    let mut cells = std::collections::BTreeMap::new();
    for cycle in cycles.iter().filter(|c| c.range >= CELL) {
        let cell = |v: f64| (v / CELL).floor() as i64;
        *cells
            .entry((cell(cycle.range), cell(cycle.mean)))
            .or_insert(0.0) += cycle.count;
    }
    cells
        .into_iter()
        .map(|((range, mean), count)| (range, mean, count))
        .collect()
}
