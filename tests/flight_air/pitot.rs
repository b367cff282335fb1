//! Airspeed sensors against the ground velocity less the wind.

use crate::sim_log::log_of;
use benchborne::flight::cross_checks::pitot_level_speed;
use benchborne::flight::pitot::{Pitot, calibrate};
use benchborne::flight::run_up::TimeConstant;
use benchborne::flight::{record, velocity};
use benchborne::ingest::{Channel, Log, ReadOptions, read_log};
use benchborne::season::{Finding, Rules};
use benchborne::simulate::{SeasonPlan, Sharing, SimulatedFlight, fly};
use benchborne::stats;

const SCALE: f64 = 1.06;
const OFFSET_M_S: f64 = 0.8;
const LAG_S: f64 = 0.4;

fn flight(seed: u64, rate_hz: f64) -> SimulatedFlight {
    let mut plan = SeasonPlan::coverage(1, 0.04, Sharing::EachDay, 5.0);
    plan.rate_hz = rate_hz;
    fly(&plan, seed).unwrap().flights.remove(0)
}

/// The log with an airspeed sensor of known faults: a first-order lag, a scale, an offset.
fn with_sensor(flight: &SimulatedFlight) -> Log {
    let mut log = log_of(&flight.log);
    let mut seen = 0.0;
    let step = log.time[1] - log.time[0];
    let readings = flight
        .log
        .airspeed_true
        .iter()
        .enumerate()
        .map(|(i, v)| {
            seen += (v - seen) * (1.0 - (-step / LAG_S).exp());
            // A step of 0.1 m/s, and a ripple that no calibration should follow.
            let noisy = SCALE * seen + OFFSET_M_S + 0.3 * (0.9 * i as f64).sin();
            (10.0 * noisy).round() / 10.0
        })
        .collect();
    log.channels.insert(Channel::Airspeed, readings);
    log
}

/// With the receiver's lag as found in the log, unless it is handed in: an error in that lag is one of
/// the sensor's.
fn calibrated(log: &Log, receiver_s: Option<f64>) -> Result<Pitot, Finding> {
    let survey = record::survey(vec![log.clone()], Some(13.0), None, None);
    let found = survey.gps_lag.map_or((0.3, 0.15), |l| (l.value_s, l.se_s));
    let lag = receiver_s.map_or(found, |l| (l, 0.0));
    let velocity = survey.velocity.as_ref().unwrap();
    calibrate(
        survey.log.as_ref().unwrap(),
        velocity,
        survey.phases.as_ref(),
        lag,
        None,
    )
    .unwrap()
}

#[test]
fn a_sensor_of_known_faults_is_found_out_at_every_rate() {
    let (mut held, mut all) = (0, 0);
    let (mut scales, mut offsets, mut lags) = (Vec::new(), Vec::new(), Vec::new());
    for rate in [5.0, 10.0, 20.0, 50.0] {
        for seed in [3, 4] {
            let flight = flight(seed, rate);
            let log = with_sensor(&flight);
            let pitot = calibrated(&log, None).unwrap();
            // Scale and offset lean on each other; what counts is the airspeed behind a reading.
            let corrected = pitot.corrected(SCALE * 50.0 + OFFSET_M_S);
            assert!(
                (corrected / 50.0 - 1.0).abs() < 0.01,
                "{rate} Hz: {pitot:?}"
            );
            assert!(pitot.is_off(), "{pitot:?}");
            for (known, truth) in [
                (pitot.scale, SCALE),
                (pitot.offset_m_s, OFFSET_M_S),
                (pitot.lag_s, LAG_S),
            ] {
                let (low, high) = pitot.interval(known);
                all += 1;
                held += usize::from((low..=high).contains(&truth));
            }
            scales.push(pitot.scale.value);
            offsets.push(pitot.offset_m_s.value);
            let told = calibrated(&log, Some(flight.truth.gps_lag_s)).unwrap();
            lags.push(told.lag_s.value);
            // The wind comes out of the same fit.
            let wind = (pitot.wind_north_m_s - flight.truth.wind_north)
                .hypot(pitot.wind_east_m_s - flight.truth.wind_east);
            assert!(wind < 1.0, "{rate} Hz: {wind}");
        }
    }
    assert!(held as f64 >= 0.9 * f64::from(all), "{held} of {all}");
    assert!((stats::mean(&scales) - SCALE).abs() < 0.008, "{scales:?}");
    assert!(
        (stats::mean(&offsets) - OFFSET_M_S).abs() < 0.5,
        "{offsets:?}"
    );
    assert!((stats::mean(&lags) - LAG_S).abs() < 0.1, "{lags:?}");
}

#[test]
fn the_corrected_sensor_agrees_with_the_joint_fit() {
    let mut differences = Vec::new();
    for seed in [3, 4, 5] {
        let flight = flight(seed, 20.0);
        let log = with_sensor(&flight);
        let pitot = calibrated(&log, None).unwrap();
        let survey = record::survey(vec![log.clone()], Some(13.0), None, None);
        let power = record::power_side(&survey, &Rules::default());
        let mut level = record::level_speed(&power, TimeConstant::Free, None).unwrap();
        let speed = pitot_level_speed(&log, &power.straights.used, &level.fit, &pitot);
        level.checks.with_pitot(speed, &level.fit);
        let found = level.checks.pitot_m_s.unwrap();
        differences.push(found / level.fit.level_speed_m_s - 1.0);
        let largest = level.checks.largest_difference_m_s.unwrap();
        assert!(largest >= (found - level.fit.level_speed_m_s).abs());
    }
    // Uncorrected it would be 7 % off.
    assert!(stats::mean(&differences).abs() < 0.01, "{differences:?}");
}

/// A way to the level speed that differs beyond the joint error widens the flight's; one that does
/// not leaves it alone. Of two results 3 m/s apart with a joint error of u the variance between is
/// (9 − u²)/2.
#[test]
fn methods_that_disagree_widen_the_level_speed() {
    let flight = flight(3, 20.0);
    let survey = record::survey(vec![with_sensor(&flight)], Some(13.0), None, None);
    let power = record::power_side(&survey, &Rules::default());
    let fitted = record::level_speed(&power, TimeConstant::Free, None).unwrap();
    let (speed, se) = (fitted.fit.level_speed_m_s, fitted.fit.level_speed_se_m_s);
    assert_eq!(fitted.checks.method_error_m_s, 0.0, "{:?}", fitted.checks);
    let told = |pitot: f64, u: Option<f64>| {
        let mut level = fitted.clone();
        level.checks.with_pitot(Some((pitot, u)), &level.fit);
        let finding = level.charge_method_error();
        (level.fit.level_speed_se_m_s, finding)
    };
    assert_eq!(told(speed + se, Some(0.3)), (se, None));
    // Shown, but worth nothing: its own error is not known.
    assert_eq!(told(speed + 3.0, None), (se, None));
    let joint = se.hypot(0.3);
    assert!(joint < 1.5, "{joint}");
    let (widened, finding) = told(speed + 3.0, Some(0.3));
    let between = (0.5 * (9.0 - joint * joint)).sqrt();
    assert!((widened - se.hypot(between)).abs() < 1e-9, "{widened}");
    assert_eq!(finding.unwrap().code, "methods-disagree");
}

#[test]
fn one_course_tells_no_scale_and_a_short_flight_nothing() {
    let flight = flight(3, 10.0);
    let mut log = with_sensor(&flight);
    // Only what was flown towards one side, and the wind unknown.
    let course = flight.truth.passes[0].heading;
    let (north, east) = (
        log.get(Channel::VelocityNorth).unwrap().clone(),
        log.get(Channel::VelocityEast).unwrap().clone(),
    );
    for (i, v) in log
        .channels
        .get_mut(&Channel::Airspeed)
        .unwrap()
        .iter_mut()
        .enumerate()
    {
        let along = (east[i].atan2(north[i]) - course).cos();
        // Speeds of the passes alone, too: no range.
        if along < 0.98 || *v < 50.0 {
            *v = f64::NAN;
        }
    }
    let refused = calibrated(&log, None).unwrap_err();
    assert_eq!(refused.code, "pitot-not-calibrated");
    assert!(
        refused.what.contains("one course") || refused.what.contains("are the least"),
        "{refused}"
    );
    assert!(refused.to_do.contains("circles"), "{refused}");
}

/// A recorded soaring flight with true airspeed beside ground speed and track (MIT, see
/// tests/data/tracks/LICENSE.igc): the instrument's own airspeed is right, so no correction is due.
/// The wind of two hours is not one wind, which dilutes the scale: 0.93 ± 0.03, offset 0.8 ± 1.2 m/s.
#[test]
fn the_soaring_tracks_recorded_airspeed_is_left_as_it_is() {
    let bytes = std::fs::read(concat!(
        env!("CARGO_MANIFEST_DIR"),
        "/tests/data/tracks/soaring.igc"
    ))
    .unwrap();
    let log = read_log(&bytes, "soaring.igc", &ReadOptions::default())
        .log
        .unwrap();
    let velocity = velocity::of(&log).unwrap();
    let pitot = calibrate(&log, &velocity, None, (0.0, 1.0), None)
        .unwrap()
        .unwrap();
    for (known, right) in [(pitot.scale, 1.0), (pitot.offset_m_s, 0.0)] {
        let (low, high) = pitot.interval(known);
        assert!((low..=high).contains(&right), "{low} to {high}");
    }
    assert!(!pitot.is_off() && pitot.scale.se < 0.05, "{pitot:?}");
    assert!(
        (pitot.corrected(30.0) / 30.0 - 1.0).abs() < 0.06,
        "{pitot:?}"
    );
}

/// The tail-sitter (Ntouros, Kelley and Smeur, CC BY 4.0, datasets/tail-sitter), 87 s at 5 to 15 m/s:
/// its README names a wind of about 2.2 m/s from ground velocity. Gusts are a good part of so slow a
/// flight's speeds, which dilutes the scale and lifts the offset; at a middling 12 m/s the sensor agrees.
#[test]
fn the_tail_sitters_airspeed_agrees_at_its_middling_speed() {
    let run = benchborne::run::analyse(std::path::Path::new(concat!(
        env!("CARGO_MANIFEST_DIR"),
        "/datasets/tail-sitter"
    )))
    .unwrap_or_else(|e| panic!("{e:?}"));
    let said = &run.findings.ledger.findings;
    assert!(said.iter().any(|f| f.code == "airspeed-calibrated"));
    let row = &run.tables.pitot[0];
    let wind = row.wind_to_north_m_s.hypot(row.wind_to_east_m_s);
    assert!((wind - 2.2).abs() < 1.0, "{row:?}");
    let corrected = (12.0 - row.offset_m_s.unwrap()) / row.scale;
    assert!((corrected / 12.0 - 1.0).abs() < 0.05, "{row:?}");
    assert!(
        row.scale_low < 1.0 && row.scale > 0.8 && row.lag_s < 1.0,
        "{row:?}"
    );
}
