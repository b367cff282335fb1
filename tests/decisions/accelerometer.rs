//! Load factors from accelerometers as pilots have them.

use benchborne::flight::loads::{LoadSource, Loads, loads};
use benchborne::flight::phases::Phases;
use benchborne::ingest::{Channel, Log};
use benchborne::physics::atmosphere::G0;
use benchborne::simulate::{SeasonPlan, Sharing, SimLog, fly};

use crate::sim_log::log_of;

fn flown() -> SimLog {
    let plan = SeasonPlan::coverage(1, 0.0, Sharing::EachDay, 3.0);
    fly(&plan, 11).unwrap().flights.remove(0).log
}

/// The simulated flight with a sensor: `axes` of its up direction, `one_g` what it reads at 1 g.
fn with_sensor(sim: &SimLog, up: [f64; 3], one_g: f64, end: f64) -> Log {
    let mut log = log_of(sim);
    for (axis, share) in [
        Channel::AccelerationX,
        Channel::AccelerationY,
        Channel::AccelerationZ,
    ]
    .into_iter()
    .zip(up)
    {
        let series = sim
            .load_factor_true
            .iter()
            .map(|n| (n * share * one_g).clamp(-end, end))
            .collect();
        log.channels.insert(axis, series);
    }
    log
}

fn phases(sim: &SimLog) -> Phases {
    let airborne: Vec<f64> = (0..sim.len())
        .filter(|i| sim.airspeed_true[*i] > 16.0)
        .map(|i| sim.time[i])
        .collect();
    Phases {
        spans: Vec::new(),
        airborne: vec![(airborne[0], airborne[airborne.len() - 1])],
        channels: Vec::new(),
        basis: String::new(),
    }
}

fn read(log: &Log, sim: &SimLog) -> Loads {
    loads(log, 1.2, Some(&phases(sim)))
}

fn codes(loads: &Loads) -> Vec<&str> {
    loads.findings.iter().map(|f| f.code.as_str()).collect()
}

fn true_p99(sim: &SimLog) -> f64 {
    let flying = phases(sim);
    let n: Vec<f64> = (0..sim.len())
        .filter(|i| flying.is_airborne(sim.time[*i]))
        .map(|i| sim.load_factor_true[i])
        .collect();
    benchborne::stats::quantile(&n, 0.99)
}

#[test]
fn a_sensor_glued_in_askew_shows_the_loads_that_were() {
    let sim = flown();
    let log = with_sensor(&sim, [0.36, -0.48, 0.8], G0, 1e9);
    let found = read(&log, &sim);
    assert_eq!(found.load_factor_from, Some(LoadSource::Accelerometer));
    assert!(found.findings.is_empty(), "{:?}", found.findings);
    let p99 = found.load_factor_p99.unwrap();
    // Smoothing over 0.2 s takes a little off the peaks.
    assert!(
        (p99 - true_p99(&sim)).abs() < 0.02,
        "{p99} {}",
        true_p99(&sim)
    );
    // Turn rate alone tells the same of level turns, a little less of it (smoothed over a second).
    let turning = read(&log_of(&sim), &sim);
    assert_eq!(turning.load_factor_from, Some(LoadSource::TurnRate));
    assert!((turning.load_factor_p99.unwrap() / p99 - 1.0).abs() < 0.05);
}

#[test]
fn accelerometer_upside_down_is_turned_round_and_said() {
    let sim = flown();
    let found = read(&with_sensor(&sim, [0.0, 0.0, -1.0], G0, 1e9), &sim);
    assert_eq!(codes(&found), ["accelerometer-upside-down"]);
    assert!((found.load_factor_p99.unwrap() - true_p99(&sim)).abs() < 0.02);
    assert!(found.samples.iter().all(|s| s.load_factor > -0.5));
}

/// "g/10": a column that says g and holds tenths of it, so that 1 g reads 10.
#[test]
fn accelerometer_in_tenths_of_g_is_brought_to_one() {
    let sim = flown();
    let found = read(&with_sensor(&sim, [0.0, 0.0, 1.0], 10.0 * G0, 1e9), &sim);
    assert_eq!(codes(&found), ["accelerometer-unit"]);
    assert!(
        found.findings[0].what.contains("tenths of g"),
        "{}",
        found.findings[0].what
    );
    assert!((found.load_factor_p99.unwrap() - true_p99(&sim)).abs() < 0.02);
}

/// A unit that none of the usual slips explains is refused, and turn rate takes over.
#[test]
fn accelerometer_in_an_unknown_unit_is_left_out() {
    let sim = flown();
    let found = read(&with_sensor(&sim, [0.0, 0.0, 1.0], 3.7 * G0, 1e9), &sim);
    assert_eq!(codes(&found), ["accelerometer-scale"]);
    assert_eq!(found.load_factor_from, Some(LoadSource::TurnRate));
    assert!(found.load_factor_p99.is_some());
}

#[test]
fn accelerometer_saturated_gives_least_loads() {
    let sim = flown();
    let log = with_sensor(&sim, [0.0, 0.0, 1.0], G0, 2.0 * G0);
    let found = read(&log, &sim);
    assert_eq!(codes(&found), ["accelerometer-saturated"]);
    assert!((found.saturated_at.unwrap() - 2.0).abs() < 0.02);
    assert!(found.load_factor_p99.unwrap() < true_p99(&sim) - 1.0);
}

/// A scale 8 % off is corrected by what one g shows, and what that leaves open is said.
#[test]
fn accelerometer_off_at_one_g_is_scaled_and_said() {
    let sim = flown();
    let found = read(&with_sensor(&sim, [0.0, 0.0, 1.0], 1.08 * G0, 1e9), &sim);
    assert_eq!(codes(&found), ["accelerometer-at-one-g"]);
    assert!((found.load_factor_p99.unwrap() - true_p99(&sim)).abs() < 0.02);
}

/// No ground, no position: which way the sensor looks is not known.
#[test]
fn accelerometer_without_ground_or_level_flight_is_not_placed() {
    let sim = flown();
    let mut log = with_sensor(&sim, [0.0, 0.0, 1.0], G0, 1e9);
    for channel in [
        Channel::GroundSpeed,
        Channel::Course,
        Channel::VelocityNorth,
        Channel::VelocityEast,
        Channel::Throttle,
    ] {
        log.channels.remove(&channel);
    }
    let found = read(&log, &sim);
    assert_eq!(codes(&found), ["accelerometer-not-placed"]);
    assert_eq!(found.load_factor_from, None);
    assert!(found.spectrum.is_none());
}

/// The damage of turn rate stands to that of the true loads as closely as its smoothing allows.
#[test]
fn turn_rate_counts_nearly_the_damage_of_the_true_loads() {
    let sim = flown();
    let by_sensor = read(&with_sensor(&sim, [0.0, 0.0, 1.0], G0, 1e9), &sim);
    let by_turn = read(&log_of(&sim), &sim);
    let (a, b) = (by_sensor.spectrum.unwrap(), by_turn.spectrum.unwrap());
    let ratio = b.damage_per_hour[1] / a.damage_per_hour[1];
    assert!((0.75..1.25).contains(&ratio), "{ratio}");
    assert!(a.hours > 0.05 && (a.hours - b.hours).abs() < 0.005);
}
