//! What flights know only together: the time constant of a power system, the wind of a day.

use std::collections::BTreeMap;

use super::alone::{Side, Surveyed};
use super::contradictions::{CONTRADICTS, off};
use crate::flight::run_up::{Fit, PooledTimeConstant, Wind, WindPrior, pool};
use crate::stats;

/// A wind that other flights of the day tell is good to this at best, m/s (it drifts over a day;
/// common practice, no source).
const DAY_WIND_M_S: f64 = 1.5;

/// A flight's wind less certain than this tells the others of its day nothing, m/s.
const KNOWN_WIND_M_S: f64 = 4.0;

/// What every flight is told of the others.
#[derive(Debug, Default)]
pub struct Shared {
    /// By power system.
    pub pooled: BTreeMap<String, PooledTimeConstant>,
    /// Of each flight: the wind that the others of its day found, and how many they are.
    pub winds: Vec<Option<(WindPrior, usize)>>,
}

impl Shared {
    pub fn of(flights: &[Surveyed], sides: &[Side]) -> Self {
        Self {
            pooled: pooled(flights, sides),
            winds: (0..flights.len())
                .map(|own| wind_of_day(flights, sides, own))
                .collect(),
        }
    }
}

fn pooled(flights: &[Surveyed], sides: &[Side]) -> BTreeMap<String, PooledTimeConstant> {
    let mut by_power: BTreeMap<String, Vec<Fit>> = BTreeMap::new();
    for ((planned, _), side) in flights.iter().zip(sides) {
        if let (Some(power), Some(level)) = (&planned.row.power, &side.free) {
            let fits = by_power.entry(power.clone()).or_default();
            fits.push(level.fit.clone());
        }
    }
    // A flight that contradicts the others must not move what they are told.
    for fits in by_power.values_mut().filter(|fits| fits.len() > 2) {
        let usual = stats::median(&fits.iter().map(|f| f.time_constant_s).collect::<Vec<_>>());
        fits.retain(|fit| !off(fit, usual));
    }
    by_power
        .iter()
        .filter_map(|(power, fits)| Some((power.clone(), pool(fits)?.as_told())))
        .collect()
}

/// Passes along one line leave the wind across it open, and with it a little of the level speed: every
/// flight is told what the others of its day know.
fn wind_of_day(flights: &[Surveyed], sides: &[Side], own: usize) -> Option<(WindPrior, usize)> {
    let day = flights[own].0.row.date?;
    let mut winds: Vec<_> = (0..flights.len())
        .filter(|i| *i != own && flights[*i].0.row.date == Some(day))
        .filter_map(|i| sides[i].free.as_ref())
        .map(|l| l.fit.wind)
        .filter(|w| w.se_m_s <= KNOWN_WIND_M_S)
        .collect();
    if winds.is_empty() {
        return None;
    }
    if winds.len() > 2 {
        let usual =
            |pick: fn(&Wind) -> f64| stats::median(&winds.iter().map(pick).collect::<Vec<f64>>());
        let (north, east) = (usual(|w| w.north_m_s), usual(|w| w.east_m_s));
        winds.retain(|w| {
            (w.north_m_s - north).hypot(w.east_m_s - east)
                <= CONTRADICTS * w.se_m_s.hypot(DAY_WIND_M_S)
        });
    }
    let of = |pick: fn(&Wind) -> f64| winds.iter().map(pick).collect::<Vec<f64>>();
    let (north, east, se) = (of(|w| w.north_m_s), of(|w| w.east_m_s), of(|w| w.se_m_s));
    let spread = if winds.len() > 1 {
        stats::sd(&north).max(stats::sd(&east))
    } else {
        0.0
    };
    let prior = WindPrior {
        north_m_s: stats::mean(&north),
        east_m_s: stats::mean(&east),
        se_m_s: spread.max(stats::mean(&se)).max(DAY_WIND_M_S),
    };
    Some((prior, winds.len()))
}
