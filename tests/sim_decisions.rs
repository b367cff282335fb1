//! Seasons of known loads, resistances and currents, and what the analysis makes of them. Shared with
//! the study under examples/.

#![allow(dead_code)]

use benchborne::flight::current_duration::{Between, current_duration};
use benchborne::flight::loads::LoadSample;
use benchborne::flight::spectrum::{EXPONENTS, spectrum};
use benchborne::flight::step_resistance::{AFTER_S, step_resistance};
use benchborne::simulate::tune::pack;
use benchborne::simulate::{SeasonPlan, Sharing, Tuned, fly_one};
use benchborne::stats;
use benchborne::stats::observed::{FlightSpeed, observed_gain};
use benchborne::stats::prediction::upper_prediction_bound;
use benchborne::stats::theil_sen::theil_sen;
use rand::{RngExt, SeedableRng};
use rand_chacha::ChaCha8Rng;

pub use crate::held::Held;
use crate::sim_log::log_of;

/// What a season of one pack, flown by one fan, gave.
pub struct PackSeason {
    /// Resistance of each flight, ohm.
    pub flights: Vec<Held>,
    /// Change a flight, ohm.
    pub trend: Option<Held>,
    /// Whether a flight's current held for 10 s lay below the bound from the others.
    pub next_below: Option<bool>,
}

/// A plan of `flights` by the baseline fan on one pack that ages by `ageing` a flight.
pub fn pack_plan(flights: usize, ageing: f64) -> SeasonPlan {
    let mut plan = SeasonPlan::coverage(flights, 0.0, Sharing::EachDay, 3.0).ageing(ageing);
    plan.flights.retain(|f| f.fan == 0);
    plan
}

/// Scale of a sensor, from what it showed and what was.
fn scale(shown: &[f64], was: &[f64]) -> f64 {
    let sum = |f: &dyn Fn(f64, f64) -> f64| -> f64 {
        shown.iter().zip(was).map(|(a, b)| f(*a, *b)).sum()
    };
    let n = shown.len() as f64;
    let (a, b) = (sum(&|a, _| a) / n, sum(&|_, b| b) / n);
    sum(&|x, y| (x - a) * (y - b)) / sum(&|_, y| (y - b) * (y - b))
}

/// Flies the plan; the sensor's scale errors are as drawn for the season.
pub fn pack_season(plan: &SeasonPlan, tuned: &Tuned, seed: u64) -> Option<PackSeason> {
    let mut flights = Vec::new();
    let mut currents = Vec::new();
    for index in 0..plan.flights.len() {
        let flown = fly_one(plan, tuned, seed, index)?;
        let log = log_of(&flown.log);
        let held = current_duration(&log, Between::Linear, &[10.0]);
        currents.push(held.iter().find(|h| h.duration_s == 10.0)?.current_a);
        let found = step_resistance(&log).ok()??;
        let truth = {
            let pack = pack(&plan.packs[0], index);
            let tau = pack.polarisation_s;
            let (a, b) = AFTER_S;
            let share = 1.0 - tau / (b - a) * ((-a / tau).exp() - (-b / tau).exp());
            // Half-way through the flight's charge, as the sensors' own scales show it.
            let state = 1.0 - 0.5 * flown.truth.charge_mah / plan.packs[0].capacity_mah;
            let scale = scale(&flown.log.voltage, &flown.log.voltage_true)
                / scale(&flown.log.current, &flown.log.current_true);
            scale * (pack.ohmic(state) + pack.polarisation * share)
        };
        flights.push(Held {
            value: found.resistance_ohm,
            low: found.interval_ohm.0,
            high: found.interval_ohm.1,
            truth,
        });
    }
    let order: Vec<f64> = (0..flights.len()).map(|i| i as f64).collect();
    let values: Vec<f64> = flights.iter().map(|h| h.value).collect();
    let trend = theil_sen(&order, &values, 0.95).map(|line| Held {
        value: line.slope,
        low: line.low,
        high: line.high,
        truth: stats::mean(
            &flights
                .windows(2)
                .map(|w| w[1].truth - w[0].truth)
                .collect::<Vec<_>>(),
        ),
    });
    // Which flight is the further one is drawn: weather and pack drift through a season.
    let further = currents.remove((seed % currents.len() as u64) as usize);
    Some(PackSeason {
        trend,
        next_below: upper_prediction_bound(&currents, 0.95).map(|bound| further <= bound),
        flights,
    })
}

fn normal(rng: &mut ChaCha8Rng) -> f64 {
    let (u, v): (f64, f64) = (1.0 - rng.random::<f64>(), rng.random());
    (-2.0 * u.ln()).sqrt() * (std::f64::consts::TAU * v).cos()
}

/// How a pilot's loads scatter: of log(n - 1) from day to day, flight to flight, turn to turn.
const DAY_SD: f64 = 0.06;
const FLIGHT_SD: f64 = 0.10;
const TURN_SD: f64 = 0.35;
const TURNS: usize = 30;

/// Damage an hour of a flight of known turns: from 1 g up and back, one after the other.
fn damage(severity: f64, rng: &mut ChaCha8Rng) -> [f64; 3] {
    let mut samples = Vec::new();
    let mut sample = |n: f64| {
        samples.push(LoadSample {
            time_s: samples.len() as f64,
            speed_m_s: 40.0,
            load_factor: n,
        });
    };
    for _ in 0..TURNS {
        let above = severity * 1.5 * (TURN_SD * normal(rng)).exp();
        for share in [0.0, 0.5, 1.0, 0.4] {
            sample(1.0 + share * above);
        }
    }
    sample(1.0);
    spectrum(&samples).map_or([f64::NAN; 3], |s| s.damage_per_hour)
}

/// Damage ratios of a season in which the candidate's loads beyond 1 g are `harder` times the
/// baseline's, `flights` a fan, two of each a day: by the linear model and by a percentile bootstrap
/// over flights (999 draws), for each exponent.
pub fn load_season(flights: usize, harder: f64, seed: u64) -> Vec<(Option<Held>, Held)> {
    let mut rng = ChaCha8Rng::seed_from_u64(seed);
    let days: Vec<f64> = (0..flights).map(|_| DAY_SD * normal(&mut rng)).collect();
    let mut flown = Vec::new();
    for i in 0..flights {
        for candidate in [false, true] {
            let day = i / 2;
            let factor = if candidate { harder } else { 1.0 };
            let severity = factor * (days[day] + FLIGHT_SD * normal(&mut rng)).exp();
            flown.push((day, candidate, damage(severity, &mut rng)));
        }
    }
    (0..EXPONENTS.len())
        .map(|m| {
            let truth = harder.powi(EXPONENTS[m]);
            let rows: Vec<FlightSpeed> = flown
                .iter()
                .map(|(day, candidate, damage)| FlightSpeed {
                    log_speed: damage[m].ln(),
                    se: None,
                    day: *day,
                    candidate: *candidate,
                    airframe: 0,
                })
                .collect();
            let model = observed_gain(&rows, 1).effect.map(|e| Held {
                value: 1.0 + e.gain,
                low: 1.0 + e.low,
                high: 1.0 + e.high,
                truth,
            });
            let logs = |of: bool| -> Vec<f64> {
                flown
                    .iter()
                    .filter(|(_, c, _)| *c == of)
                    .map(|(.., d)| d[m].ln())
                    .collect()
            };
            (model, bootstrap(&logs(false), &logs(true), truth, &mut rng))
        })
        .collect()
}

fn bootstrap(old: &[f64], new: &[f64], truth: f64, rng: &mut ChaCha8Rng) -> Held {
    let mut draw = |x: &[f64]| -> f64 {
        let n = x.len();
        (0..n).map(|_| x[rng.random_range(0..n)]).sum::<f64>() / n as f64
    };
    let ratios: Vec<f64> = (0..999).map(|_| (draw(new) - draw(old)).exp()).collect();
    Held {
        value: (stats::mean(new) - stats::mean(old)).exp(),
        low: stats::quantile(&ratios, 0.025),
        high: stats::quantile(&ratios, 0.975),
        truth,
    }
}
