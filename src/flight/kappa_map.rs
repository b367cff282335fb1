//! Unloading by throttle and airspeed: a map in classes.

use std::collections::BTreeMap;

use crate::flight::unloading::Point;
use crate::stats;

/// One class of throttle and airspeed that was held.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct KappaCell {
    pub throttle_low: f64,
    pub throttle_high: f64,
    pub airspeed_low_m_s: f64,
    pub airspeed_high_m_s: f64,
    /// Median over flights of each flight's median: a flight of many holds counts once.
    pub kappa: f64,
    pub holds: usize,
    pub flights: usize,
}

/// Width of a class of airspeed, m/s.
const AIRSPEED_M_S: f64 = 5.0;
/// Classes of throttle: tenths about the tens, full throttle by itself at the top.
const THROTTLE: f64 = 0.1;

/// The classes that hold anything, by throttle, then airspeed. Holds without an airspeed have no
/// place on it.
pub(super) fn cells(points: &[Point]) -> Vec<KappaCell> {
    let mut classes: BTreeMap<(usize, usize), BTreeMap<usize, Vec<f64>>> = BTreeMap::new();
    for p in points {
        let Some(v) = p.airspeed.filter(|v| *v >= 0.0) else {
            continue;
        };
        let place = (
            (p.throttle / THROTTLE).round() as usize,
            (v / AIRSPEED_M_S) as usize,
        );
        classes
            .entry(place)
            .or_default()
            .entry(p.flight)
            .or_default()
            .push(p.bench.kappa);
    }
    classes
        .into_iter()
        .map(|((throttle, airspeed), flights)| {
            let medians: Vec<f64> = flights.values().map(|k| stats::median(k)).collect();
            let middle = throttle as f64 * THROTTLE;
            KappaCell {
                throttle_low: middle - 0.5 * THROTTLE,
                throttle_high: middle + 0.5 * THROTTLE,
                airspeed_low_m_s: airspeed as f64 * AIRSPEED_M_S,
                airspeed_high_m_s: (airspeed + 1) as f64 * AIRSPEED_M_S,
                kappa: stats::median(&medians),
                holds: flights.values().map(Vec::len).sum(),
                flights: flights.len(),
            }
        })
        .collect()
}
