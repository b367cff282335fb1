//! Simulated seasons for what is measured in the air, against what the simulator knows: energy
//! without a current sensor, unloading at level speed, replayed durations, thrust at level speed.
//! Shared with the study under examples/.

#![allow(dead_code)]

use benchborne::simulate::bench::Meters;
use benchborne::simulate::physics::Supply;
use benchborne::simulate::{LoggerKind, SeasonPlan, Sharing, Tuned, fly_one};

use crate::sim_season::{Held, Studied, studied};

const FLIGHTS_A_FAN: usize = 6;
/// Of each fan's flights these have no current sensor: four with one are left.
const WITHOUT_SENSOR: [usize; 2] = [1, 4];
pub const FLIGHTS_A_SEASON: usize = 2 * FLIGHTS_A_FAN;

/// True gain in level speed and how much the candidate's torque falls with speed (baseline 0.45).
const FANS: [(f64, f64); 4] = [(0.0, 0.45), (0.04, 0.55), (0.08, 0.45), (0.04, 0.35)];
const WINDS_M_S: [f64; 3] = [0.0, 3.0, 6.0];
/// Rows a second of log and receiver.
const RATES_HZ: [(f64, f64); 3] = [(10.0, 5.0), (20.0, 10.0), (50.0, 10.0)];

/// Coasts with the throttle closed that the pilot flies a flight: they tell the drag.
pub const GLIDES: usize = 4;

/// The plan of season `index`: fans, winds and rates in turn.
pub fn plan(index: usize) -> SeasonPlan {
    let (effect, unloading) = FANS[index % FANS.len()];
    let (rate, gps_rate) = RATES_HZ[(index / 3) % RATES_HZ.len()];
    let wind = WINDS_M_S[index % WINDS_M_S.len()];
    let mut plan =
        SeasonPlan::coverage(FLIGHTS_A_FAN, effect, Sharing::EachDay, wind).rate(rate, gps_rate);
    plan.fans[1].unloading = unloading;
    plan.glides = GLIDES;
    let mut flown = [0; 2];
    for flight in &mut plan.flights {
        if WITHOUT_SENSOR.contains(&flown[flight.fan]) {
            flight.logger = LoggerKind::NoCurrent;
        }
        flown[flight.fan] += 1;
    }
    plan
}

/// One tuned set of fans each, for [`plan`]: tuning takes as long as a flight.
pub fn tuned() -> Vec<Tuned> {
    let tuned = |index| Tuned::new(&plan(index));
    (0..FANS.len()).filter_map(tuned).collect()
}

/// What one season taught; relative to the truth, so that every truth is 1.
#[derive(Debug, Clone, Default)]
pub struct AirSeason {
    /// Estimated energy of the flights without a sensor, 95 %.
    pub energy: Vec<Held>,
    /// Sensored flights estimated from the others against what they measured: 95 and 90 %.
    pub left_out: Vec<Held>,
    pub left_out_90: Vec<Held>,
    /// Unloading at level speed, a value a fan.
    pub kappa: Vec<Held>,
    /// The same with the scale errors of this season's meters and sensors taken out: what the method
    /// itself is off by.
    pub kappa_by_method: Vec<Held>,
    /// Time to the reserve of each replayed flight against the same flight flown with the candidate,
    /// and of their mean.
    pub replay: Vec<Held>,
    pub replay_mean: Vec<Held>,
    /// Thrust at level speed: net, and counted from the idling fan (which is what glides tell).
    pub thrust: Vec<Held>,
    pub thrust_from_idle: Vec<Held>,
}

fn held(value: f64, low: f64, high: f64, truth: f64) -> Held {
    Held {
        value: value / truth,
        low: low / truth,
        high: high / truth,
        truth: 1.0,
    }
}

pub fn air_season(index: usize, tuned: &[Tuned], seed: u64) -> Result<AirSeason, String> {
    let tuned = &tuned[index % FANS.len()];
    let season = studied(plan(index), tuned, seed)?;
    let mut out = AirSeason::default();
    energy(&season, &mut out);
    kappa(&season, tuned, seed, &mut out);
    thrust(&season, tuned, &mut out);
    replays(&season, tuned, seed, &mut out)?;
    Ok(out)
}

fn number(flight: &str) -> usize {
    flight[1..].parse().unwrap_or(usize::MAX)
}

fn energy(season: &Studied, out: &mut AirSeason) {
    for row in &season.analysed.tables.flights {
        let truth = season.flown.flights[number(&row.flight)].truth.energy_wh;
        if let ("estimated", Some(e), Some(low), Some(high)) = (
            row.power_source.as_str(),
            row.energy_wh,
            row.energy_low_wh,
            row.energy_high_wh,
        ) {
            out.energy.push(held(e, low, high, truth));
        }
    }
    for row in &season.analysed.tables.estimate_errors {
        let of = |low: Option<f64>, high: Option<f64>| {
            Some(held(1.0 + row.relative_error, 1.0 + low?, 1.0 + high?, 1.0))
        };
        out.left_out.extend(of(row.low, row.high));
        out.left_out_90.extend(of(row.low_90, row.high_90));
    }
}

fn kappa(season: &Studied, tuned: &Tuned, seed: u64, out: &mut AirSeason) {
    for row in &season.analysed.tables.unloading_by_speed {
        let truths: Vec<f64> = season
            .flown
            .flights
            .iter()
            .zip(&season.plan.flights)
            .filter(|(_, f)| season.plan.fans[f.fan].id == row.power)
            .map(|(f, _)| f.truth.kappa_level)
            .collect();
        if let (Some(value), Some(low), Some(high)) = (
            row.unloading_at_level_speed,
            row.unloading_at_level_speed_low,
            row.unloading_at_level_speed_high,
        ) {
            let truth = benchborne::stats::mean(&truths);
            out.kappa.push(held(value, low, high, truth));
            if let Some(off) = scales(season, tuned, seed, &row.power) {
                out.kappa_by_method
                    .push(held(value, low, high, truth * off));
            }
        }
    }
}

/// What the scales of a season's meters and sensors make of kappa: flight current as used over true, by
/// bench current as read over true at the flight's voltage as read. Over the holds at full throttle.
fn scales(season: &Studied, tuned: &Tuned, seed: u64, power: &str) -> Option<f64> {
    let fan = season.plan.fans.iter().position(|f| f.id == power)?;
    let (mut current, mut voltage, mut volts) = (Vec::new(), Vec::new(), Vec::new());
    for hold in &season.analysed.tables.holds {
        let full = hold.airborne && hold.throttle >= 0.95;
        if !full || hold.power.as_deref() != Some(power) {
            continue;
        }
        let (Some(amps), Some(v)) = (hold.current_a, hold.voltage_v) else {
            continue;
        };
        let log = &season.flown.flights[number(&hold.flight)].log;
        let inside: Vec<usize> = (0..log.len())
            .filter(|&i| (hold.start_s..=hold.end_s).contains(&log.time[i]))
            .collect();
        let true_mean = |series: &[f64]| {
            let values: Vec<f64> = inside.iter().map(|&i| series[i]).collect();
            benchborne::stats::mean(&values)
        };
        current.push(amps / true_mean(&log.current_true));
        voltage.push(v / true_mean(&log.voltage_true));
        volts.push(v);
    }
    let mean = benchborne::stats::mean;
    let meters = Meters::draw(seed);
    let at = mean(&volts);
    let amps = |v: f64| {
        let still = tuned.powers[fan].steady(Supply::Terminal(v), 1.0, 0.0, 1.2);
        still.electric.pack_current_a.ln()
    };
    let exponent = (amps(1.02 * at) - amps(at)) / 1.02_f64.ln();
    let off = mean(&current) / meters.current * (meters.voltage / mean(&voltage)).powf(exponent);
    off.is_finite().then_some(off)
}

fn thrust(season: &Studied, tuned: &Tuned, out: &mut AirSeason) {
    for row in season
        .analysed
        .tables
        .thrust_in_flight
        .iter()
        .filter(|r| r.level)
    {
        let n = number(&row.flight);
        let truth = &season.flown.flights[n].truth;
        let idling = tuned.powers[season.plan.flights[n].fan]
            .steady(
                Supply::Terminal(truth.pass_voltage),
                0.0,
                truth.level_speed,
                truth.density,
            )
            .thrust_n;
        let of = |truth: f64| held(row.thrust_n, row.thrust_low_n, row.thrust_high_n, truth);
        out.thrust.push(of(truth.level_thrust_n));
        out.thrust_from_idle.push(of(truth.level_thrust_n - idling));
    }
}

/// Every replayed flight flown once more with the candidate: same pilot, same gusts, same pack.
fn replays(season: &Studied, tuned: &Tuned, seed: u64, out: &mut AirSeason) -> Result<(), String> {
    let mut swapped = season.plan.clone();
    for flight in &mut swapped.flights {
        flight.fan = 1;
    }
    let mut truths = Vec::new();
    for row in &season.analysed.tables.replays {
        let again = fly_one(&swapped, tuned, seed, number(&row.flight))
            .ok_or("a flight cannot be flown again")?;
        let truth = again.truth.time_to_reserve_s;
        truths.push(truth);
        out.replay.push(held(
            row.predicted_s,
            row.predicted_low_s,
            row.predicted_high_s,
            truth,
        ));
    }
    let predicted = season
        .analysed
        .findings
        .questions
        .iter()
        .find_map(|q| q.estimates.get("replayed_time_to_reserve"));
    if let Some((value, low, high)) = predicted.and_then(|e| Some((e.value?, e.low?, e.high?))) {
        let truth = benchborne::stats::mean(&truths);
        out.replay_mean.push(held(value, low, high, truth));
    }
    Ok(())
}
