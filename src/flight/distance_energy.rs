//! Energy for a kilometre through the air in level flight, by airspeed.
//!
//! Windows of steady throttle in nearly level, nearly unaccelerated flight, over all flights of a
//! system: power = a + b·v³ + c·P_s, and a shift for each airframe (parasite power goes with the cube of the speed; what the excess
//! power costs is taken off by its own term), read at P_s = 0 and divided by v. Intervals from leaving
//! out one flight at a time.

use rayon::prelude::*;

use crate::flight::excess_power::{Excess, Where};
use crate::stats;
use crate::stats::jackknife::jackknife;
use crate::stats::linear;

/// Excess power up to which a window counts, m/s: beyond it the motor's efficiency is another.
const NEARLY_STEADY_M_S: f64 = 5.0;
/// Airspeeds are told at multiples of this, m/s.
const STEP_M_S: f64 = 5.0;
/// Windows that a fit of three terms wants, and flights that its interval wants.
const WINDOWS: usize = 8;
const FLIGHTS: usize = 2;

/// Energy per distance at one airspeed.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct DistanceEnergy {
    pub airspeed_m_s: f64,
    /// J/m.
    pub energy_j_m: f64,
    /// 95 %, flights as the unit.
    pub low_j_m: f64,
    pub high_j_m: f64,
    pub flights: usize,
    pub windows: usize,
}

#[derive(Clone, Copy)]
struct Reading {
    flight: usize,
    airframe: usize,
    v: f64,
    excess: f64,
    power: f64,
}

/// Energy per distance on a grid of airspeeds, for the mean of the airframes flown; empty where there
/// is too little to tell it from. `flights`: the airframe (by number) and the windows of each flight
/// with a current that can be believed.
pub fn distance_energy(flights: &[(usize, &[Excess])]) -> Vec<DistanceEnergy> {
    let readings: Vec<Reading> = flights
        .iter()
        .enumerate()
        .flat_map(|(flight, (airframe, windows))| {
            windows.iter().filter_map(move |w| {
                let m = &w.motion;
                let usable =
                    w.place == Where::Level && m.excess_power_m_s.abs() <= NEARLY_STEADY_M_S;
                Some(Reading {
                    flight,
                    airframe: *airframe,
                    v: m.airspeed_m_s,
                    excess: m.excess_power_m_s,
                    power: m.voltage_v? * m.current_a?,
                })
                .filter(|_| usable)
            })
        })
        .collect();
    let mut with: Vec<usize> = readings.iter().map(|r| r.flight).collect();
    with.dedup();
    if readings.len() < WINDOWS || with.len() < FLIGHTS {
        return Vec::new();
    }
    let speeds: Vec<f64> = readings.iter().map(|r| r.v).collect();
    let (low, high) = (
        stats::quantile(&speeds, 0.05),
        stats::quantile(&speeds, 0.95),
    );
    let t = stats::t_quantile(0.975, with.len() as f64 - 1.0);
    let first = (low / STEP_M_S).ceil() as i64;
    let last = (high / STEP_M_S).floor() as i64;
    let all = fitted(&readings);
    let without = |flight: &usize| {
        let others = readings.iter().copied().filter(|r| r.flight != *flight);
        fitted(&others.collect::<Vec<_>>())
    };
    let without: Vec<Option<Powers>> = with.par_iter().map(without).collect();
    (first..=last)
        .filter_map(|k| {
            let v = STEP_M_S * k as f64;
            let found = jackknife(with.len(), |out| {
                out.map_or(all, |out| without[out])?.energy(v)
            })?;
            Some(DistanceEnergy {
                airspeed_m_s: v,
                energy_j_m: found.value,
                low_j_m: found.value - t * found.se,
                high_j_m: found.value + t * found.se,
                flights: with.len(),
                windows: readings.len(),
            })
        })
        .collect()
}

/// Power without excess power, a line in the cube of the airspeed.
#[derive(Clone, Copy)]
struct Powers {
    /// (m/s)³, and W there.
    centre: (f64, f64),
    slope: f64,
}

impl Powers {
    /// J/m; `None` where there would be no power.
    fn energy(self, v: f64) -> Option<f64> {
        let power = self.centre.1 + self.slope * (v.powi(3) - self.centre.0);
        (power > 0.0).then(|| power / v)
    }
}

fn fitted(readings: &[Reading]) -> Option<Powers> {
    let cubes: Vec<f64> = readings.iter().map(|r| r.v.powi(3)).collect();
    // About their middle, so that the intercept is told by the readings.
    let middle = stats::mean(&cubes);
    let about = cubes.iter().map(|c| c - middle).collect();
    let excess = readings.iter().map(|r| r.excess).collect();
    let power: Vec<f64> = readings.iter().map(|r| r.power).collect();
    let mut airframes: Vec<usize> = readings.iter().map(|r| r.airframe).collect();
    airframes.sort_unstable();
    airframes.dedup();
    let mut columns = vec![about, excess];
    // About an even mix of the airframes, whatever their shares in the readings.
    let even = 1.0 / airframes.len() as f64;
    for frame in airframes.iter().skip(1) {
        let own = |r: &Reading| f64::from(u8::from(r.airframe == *frame)) - even;
        columns.push(readings.iter().map(own).collect());
    }
    let fit = linear::fit(&columns, &power)?;
    (fit.rank == columns.len() + 1).then(|| Powers {
        centre: (middle, fit.coefficients[0]),
        slope: fit.coefficients[1],
    })
}
