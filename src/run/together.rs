//! What flights know only together: the time constant of a power system, the wind of a day, the
//! unloading.

use std::collections::BTreeMap;

use rayon::prelude::*;

use super::benches::Benches;
use super::contradictions::{CONTRADICTS, contradiction, off};
use super::flights::{Flights, named};
use super::folder::PlannedFlight;
use crate::flight::energy::Bounded;
use crate::flight::estimated_power::{Kappa, SensoredFlight, estimate, leave_one_flight_out};
use crate::flight::record::{self, LevelSpeed, PowerSide, Survey};
use crate::flight::run_up::{Fit, PooledTimeConstant, TimeConstant, Wind, WindPrior, pool};
use crate::flight::unloading::{FlightHolds, unloading};
use crate::season::{Accuracy, Finding, Season};
use crate::stats;
use crate::store::EstimateErrorRow;
use crate::store::from_flight::Flown;

/// A wind that other flights of the day tell is good to this at best, m/s (it drifts over a day;
/// common practice, no source).
const DAY_WIND_M_S: f64 = 1.5;

/// A flight's wind less certain than this tells the others of its day nothing, m/s.
const KNOWN_WIND_M_S: f64 = 4.0;

/// The declared accuracy of the sensor behind a channel of a flight's log.
pub fn log_accuracy<'a>(
    season: &'a Season,
    planned: &PlannedFlight,
    channel: &str,
) -> Option<&'a Accuracy> {
    planned
        .files
        .iter()
        .filter_map(|f| season.logs.get(f.source?))
        .flat_map(|source| &source.instruments)
        .find_map(|id| season.instruments.get(id)?.measures.get(channel))
}

/// Level speeds with the time constant pooled over each power system's flights, each flight told
/// the wind that the others of its day found.
pub fn level_speeds(
    surveys: &[(PlannedFlight, Survey)],
    sides: &[PowerSide],
    complaints: &mut Vec<Finding>,
) -> (
    Vec<Option<LevelSpeed>>,
    BTreeMap<String, PooledTimeConstant>,
) {
    let free: Vec<_> = sides
        .par_iter()
        .map(|side| {
            (!side.straights.used.is_empty())
                .then(|| record::level_speed(side, TimeConstant::Free, None).ok())
                .flatten()
        })
        .collect();
    let mut by_power: BTreeMap<String, Vec<Fit>> = BTreeMap::new();
    for ((planned, _), level) in surveys.iter().zip(&free) {
        if let (Some(power), Some(level)) = (&planned.row.power, level) {
            by_power
                .entry(power.clone())
                .or_default()
                .push(level.fit.clone());
        }
    }
    // A flight that contradicts the others must not move what they are told.
    for fits in by_power.values_mut().filter(|fits| fits.len() > 2) {
        let usual = stats::median(&fits.iter().map(|f| f.time_constant_s).collect::<Vec<_>>());
        fits.retain(|fit| !off(fit, usual));
    }
    let pooled: BTreeMap<String, PooledTimeConstant> = by_power
        .iter()
        .filter_map(|(power, fits)| Some((power.clone(), pool(fits)?)))
        .collect();
    // Passes along one line leave the wind across it open, and with it a little of the level speed:
    // every flight is told what the others of its day know.
    let wind_of_day = |own: usize| -> Option<(WindPrior, usize)> {
        let day = surveys[own].0.row.date?;
        let mut winds: Vec<_> = (0..free.len())
            .filter(|i| *i != own && surveys[*i].0.row.date == Some(day))
            .filter_map(|i| free[i].as_ref())
            .map(|l| l.fit.wind)
            .filter(|w| w.se_m_s <= KNOWN_WIND_M_S)
            .collect();
        if winds.is_empty() {
            return None;
        }
        if winds.len() > 2 {
            let usual = |pick: fn(&Wind) -> f64| {
                stats::median(&winds.iter().map(pick).collect::<Vec<f64>>())
            };
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
    };
    let fitted: Vec<_> = (0..sides.len())
        .into_par_iter()
        .map(|i| {
            if sides[i].straights.used.is_empty() {
                return None;
            }
            let power = surveys[i].0.row.power.as_ref();
            let constant = power
                .and_then(|p| pooled.get(p))
                .map_or(TimeConstant::Free, |p| p.for_fit());
            let day = wind_of_day(i);
            let level = record::level_speed(&sides[i], constant, day.map(|d| d.0));
            Some(level.and_then(|level| {
                let own = free[i].as_ref().map(|f| &f.fit);
                let pool = power.and_then(|p| pooled.get(p));
                match contradiction(&level, own, day, pool) {
                    Some(finding) => Err(finding),
                    None => Ok(level),
                }
            }))
        })
        .collect();
    let levels = fitted
        .into_iter()
        .zip(surveys)
        .map(|(level, (planned, _))| match level {
            Some(Ok(mut level)) => {
                complaints.extend(level.fit.findings.drain(..).map(|f| named(f, planned)));
                Some(level)
            }
            Some(Err(finding)) => {
                complaints.push(named(finding, planned));
                None
            }
            None => None,
        })
        .collect();
    (levels, pooled)
}

/// Unloading of each power system, and the draw of flights without a current sensor from it.
pub fn unload(
    season: &Season,
    benches: &Benches,
    flights: &mut [Flown],
    out: &mut Flights,
    complaints: &mut Vec<Finding>,
) {
    let full = season.rules.full_throttle.value;
    for (power, found) in &benches.curves {
        let Some(curve) = &found.current else {
            continue;
        };
        let of_power: Vec<usize> = (0..flights.len())
            .filter(|i| flights[*i].row.power.as_ref() == Some(power))
            .collect();
        let holds: Vec<FlightHolds> = of_power
            .iter()
            .map(|i| &flights[*i])
            .filter(|f| f.survey.has_sound_current() && !f.holds.is_empty())
            .map(|f| FlightHolds {
                flight: &f.row.flight,
                holds: &f.holds,
                density_kg_m3: f.density_kg_m3,
                level_speed_m_s: f.level.as_ref().map(|l| l.fit.level_speed_m_s),
            })
            .collect();
        if holds.is_empty() {
            continue;
        }
        // A wrong voltage asks the bench at a wrong voltage. What an energy's interval has beyond the
        // charge's is the voltage's.
        let (energy_u, current_u) = (
            energy_u(&of_power, flights),
            sensor_scale_u(&of_power, flights),
        );
        let voltage_u = (energy_u.powi(2) - current_u.powi(2)).max(0.0).sqrt();
        let shared_u = current_u.hypot(curve.voltage_exponent.value * voltage_u);
        let (found, findings) = unloading(&holds, curve, full, shared_u);
        complaints.extend(findings);
        let Some(found) = found else { continue };
        let sensored: Vec<SensoredFlight> = of_power
            .iter()
            .map(|i| &flights[*i])
            .filter_map(|f| {
                // What a saturated sensor counted is a lower bound: no measure of an estimate.
                let draw = f.survey.draw.as_ref();
                let draw = draw.filter(|_| f.survey.has_sound_current())?;
                Some(SensoredFlight {
                    flight: &f.row.flight,
                    drawn: f.bench_draw.as_ref()?,
                    holds: &f.holds,
                    energy_wh: draw.energy_wh?.value,
                })
            })
            .collect();
        let (error, findings) = leave_one_flight_out(&sensored, curve, full, energy_u);
        let without: Vec<usize> = of_power
            .iter()
            .copied()
            .filter(|i| flights[*i].survey.draw.is_none() && flights[*i].bench_draw.is_some())
            .collect();
        if !without.is_empty() {
            complaints.extend(findings);
        }
        if let Some(error) = &error {
            out.estimate_errors
                .extend(error.by_flight.iter().map(|of| EstimateErrorRow {
                    power: power.clone(),
                    flight: of.flight.clone(),
                    relative_error: of.relative,
                    low: of.interval.map(|i| i.0),
                    high: of.interval.map(|i| i.1),
                    low_90: of.interval_90.map(|i| i.0),
                    high_90: of.interval_90.map(|i| i.1),
                }));
        }
        let voltages: Vec<f64> = of_power
            .iter()
            .filter_map(|i| flights[*i].passes.map(|p| p.voltage_v))
            .collect();
        let assumed = (!voltages.is_empty()).then(|| stats::mean(&voltages));
        if let Some(kappa) = Kappa::of(&found, full) {
            for i in without {
                let Some(drawn) = &flights[i].bench_draw else {
                    continue;
                };
                let (drawn, findings) = estimate(drawn, curve, &kappa, assumed, error.as_ref());
                complaints.extend(findings);
                flights[i].estimated = drawn;
            }
        }
        out.unloading.insert(power.clone(), found);
    }
}

/// Relative standard uncertainty that the measured energies share: of a half-width at 95 % the half.
fn energy_u(of_power: &[usize], flights: &[Flown]) -> f64 {
    let energies = of_power
        .iter()
        .filter_map(|i| flights[*i].survey.draw.as_ref()?.energy_wh);
    0.5 * half_width(energies)
}

/// The same of the current sensors' scale, from the charges.
fn sensor_scale_u(of_power: &[usize], flights: &[Flown]) -> f64 {
    let draws = of_power
        .iter()
        .filter_map(|i| flights[*i].survey.draw.as_ref());
    0.5 * half_width(draws.map(|d| d.charge_mah))
}

fn half_width(of: impl Iterator<Item = Bounded>) -> f64 {
    stats::median_relative_half_width(of.map(|b| (Some(b.low), Some(b.value), b.high)))
}
