//! Bad input: each is handled, held against the truth, or refused in words.

use crate::sim_log::log_of;
use benchborne::flight::air_path::AirPath;
use benchborne::flight::excess_power::excess;
use benchborne::flight::record::{self, LevelSpeed, PowerSide, Survey};
use benchborne::flight::run_up::TimeConstant;
use benchborne::ingest::{Channel, Log};
use benchborne::season::{Finding, Rules};
use benchborne::simulate::{SeasonPlan, Sharing, SimulatedFlight, fly};
use benchborne::stats;

fn flights(plan: &SeasonPlan, seed: u64) -> Vec<SimulatedFlight> {
    fly(plan, seed).unwrap().flights
}

fn plan(wind_m_s: f64) -> SeasonPlan {
    SeasonPlan::coverage(2, 0.04, Sharing::EachDay, wind_m_s)
}

fn looked_at(log: Log) -> (Survey, PowerSide, Result<LevelSpeed, Finding>) {
    let survey = record::survey(vec![log], Some(13.0), None, None);
    let power = record::power_side(&survey, &Rules::default());
    let level = record::level_speed(&power, TimeConstant::Free, None);
    (survey, power, level)
}

/// Relative error of the level speed, and how many of its standard errors that is.
fn error(level: &LevelSpeed, flight: &SimulatedFlight) -> (f64, f64) {
    let (fit, truth) = (&level.fit, flight.truth.level_speed);
    (
        fit.level_speed_m_s / truth - 1.0,
        (fit.level_speed_m_s - truth).abs() / fit.level_speed_se_m_s,
    )
}

fn rounded(log: &mut Log, channel: Channel, step: f64) {
    if let Some(series) = log.channels.get_mut(&channel) {
        series
            .iter_mut()
            .for_each(|v| *v = (*v / step).round() * step);
    }
}

#[test]
fn one_fix_a_second_in_steps_of_a_tenth() {
    let mut plan = plan(3.0);
    plan.gps_rate_hz = 1.0;
    let mut errors = Vec::new();
    for flight in flights(&plan, 21) {
        let mut log = log_of(&flight.log);
        for channel in [Channel::VelocityNorth, Channel::VelocityEast] {
            log.channels.remove(&channel);
        }
        rounded(&mut log, Channel::GroundSpeed, 0.1);
        rounded(&mut log, Channel::Course, 1.0_f64.to_radians());
        let (_, power, level) = looked_at(log);
        let level = level.unwrap_or_else(|e| panic!("{e} {:?}", power.findings));
        let (off, sigmas) = error(&level, &flight);
        assert!(off.abs() < 0.03 && sigmas < 3.5, "{off:.4}, {sigmas:.1} se");
        errors.push(off);
    }
    assert!(stats::mean(&errors).abs() < 0.012, "{errors:?}");
}

#[test]
fn a_log_without_height_gives_a_level_speed_and_no_excess_power() {
    let flight = &flights(&plan(3.0), 22)[0];
    let mut log = log_of(&flight.log);
    log.channels.remove(&Channel::Height);
    let (survey, _, level) = looked_at(log);
    let level = level.unwrap();
    assert!(error(&level, flight).0.abs() < 0.03);
    let path = AirPath::of(
        survey.log.as_ref().unwrap(),
        survey.velocity.as_ref().unwrap(),
        (0.0, 0.0),
        0.3,
    );
    assert!(!path.has_height());
    assert!(excess(&path, survey.phases.as_ref(), 0.4, 0.3).is_empty());
}

#[test]
fn a_log_without_course_takes_it_from_the_positions() {
    let flight = &flights(&plan(3.0), 23)[0];
    let mut log = log_of(&flight.log);
    for channel in [
        Channel::VelocityNorth,
        Channel::VelocityEast,
        Channel::Course,
    ] {
        log.channels.remove(&channel);
    }
    let (_, _, level) = looked_at(log.clone());
    let (off, sigmas) = error(&level.unwrap(), flight);
    assert!(off.abs() < 0.03 && sigmas < 3.5, "{off:.4}");
    // Nor positions: refused, and said what is missing.
    log.channels.remove(&Channel::Latitude);
    log.channels.remove(&Channel::Longitude);
    let (survey, power, level) = looked_at(log);
    assert!(survey.velocity.is_none() && level.is_err());
    let said: Vec<&Finding> = survey.findings.iter().chain(&power.findings).collect();
    assert!(
        said.iter()
            .any(|f| f.what.contains("course") && !f.to_do.is_empty()),
        "{said:?}"
    );
}

#[test]
fn a_reversed_throttle_gives_no_excess_power() {
    let flight = &flights(&plan(3.0), 24)[0];
    let mut log = log_of(&flight.log);
    let throttle = log.channels.get_mut(&Channel::Throttle).unwrap();
    throttle.iter_mut().for_each(|v| *v = 1.0 - *v);
    let (survey, _, level) = looked_at(log);
    assert!(
        survey
            .findings
            .iter()
            .any(|f| f.code == "throttle-reversed")
    );
    // Full throttle is told by the current, so the level speed stands.
    assert!(error(&level.unwrap(), flight).0.abs() < 0.03);
    let path = AirPath::of(
        survey.log.as_ref().unwrap(),
        survey.velocity.as_ref().unwrap(),
        (0.0, 0.0),
        0.3,
    );
    assert!(!path.has_throttle());
    assert!(excess(&path, survey.phases.as_ref(), 0.4, 0.3).is_empty());
}

#[test]
fn a_flight_of_forty_seconds() {
    let flight = &flights(&plan(3.0), 25)[0];
    let mut log = log_of(&flight.log);
    let rows = log
        .time
        .partition_point(|t| *t < flight.truth.take_off_s + 40.0);
    log.time.truncate(rows);
    log.lines.truncate(rows);
    log.channels.values_mut().for_each(|s| s.truncate(rows));
    let (survey, power, level) = looked_at(log);
    let airborne = survey.phases.as_ref().unwrap().airborne_s();
    assert!((airborne - 40.0).abs() < 3.0, "{airborne}");
    match level {
        // A pass or two: an answer with the error that so few have, or none with its reason.
        Ok(level) => {
            let (off, sigmas) = error(&level, flight);
            assert!(sigmas < 3.5, "{off:.3}, {sigmas:.1} se");
            assert!(level.fit.level_speed_se_m_s > 0.01 * level.fit.level_speed_m_s);
        }
        Err(finding) => assert!(
            !finding.what.is_empty() && finding.to_do.contains("pass"),
            "{finding} {:?}",
            power.findings
        ),
    }
}

#[test]
fn a_pass_in_a_thermal() {
    let flight = &flights(&plan(2.0), 26)[0];
    let plain = log_of(&flight.log);
    let pass = &flight.truth.passes[3];
    let time = plain.time.clone();
    // The pilot lets it rise at 4 m/s: it climbs, and is set aside.
    let mut risen = plain.clone();
    let height = risen.channels.get_mut(&Channel::Height).unwrap();
    for (h, t) in height.iter_mut().zip(&time) {
        let there = (t - pass.start_s).clamp(0.0, pass.end_s - pass.start_s);
        let lost = (t - pass.end_s).clamp(0.0, 20.0) / 20.0;
        *h += 4.0 * there * (1.0 - lost);
    }
    let (_, power, level) = looked_at(risen);
    let aside = power
        .straights
        .set_aside
        .iter()
        .find(|s| s.straight.start_s < pass.end_s && pass.start_s < s.straight.end_s)
        .unwrap();
    assert!(aside.why.contains("climb"), "{}", aside.why);
    assert!(error(&level.unwrap(), flight).0.abs() < 0.02);

    // The pilot holds the height: air rising at 2 m/s gives g·2/v of acceleration, which no logger
    // tells from thrust. One pass of eight moves the level speed by less than its own interval.
    let mut held = plain.clone();
    let gain = 9.80665 * 2.0 / flight.truth.level_speed;
    let (north, east) = (pass.heading.cos(), pass.heading.sin());
    let tau = 2.6;
    for (channel, share) in [
        (Channel::VelocityNorth, north),
        (Channel::VelocityEast, east),
    ] {
        let series = held.channels.get_mut(&channel).unwrap();
        for (v, t) in series.iter_mut().zip(&time) {
            let there = t - 0.3 - pass.start_s;
            let length = pass.end_s - pass.start_s;
            if there > 0.0 {
                let up = gain * tau * (1.0 - (-there.min(length) / tau).exp());
                *v += share * up * (-(there - length).max(0.0) / 2.0).exp();
            }
        }
    }
    let (_, _, level) = looked_at(held);
    let (_, _, before) = looked_at(plain);
    let (level, before) = (level.unwrap(), before.unwrap());
    let moved = level.fit.level_speed_m_s / before.fit.level_speed_m_s - 1.0;
    assert!(moved.abs() < 0.01, "{moved:.4}");
    let (off, sigmas) = error(&level, flight);
    assert!(sigmas < 3.0, "{off:.4}, {sigmas:.1} se");
}

#[test]
fn a_wind_above_half_the_airspeed() {
    for flight in flights(&plan(34.0), 27) {
        let (_, power, level) = looked_at(log_of(&flight.log));
        match level {
            Ok(level) => {
                let (off, sigmas) = error(&level, &flight);
                assert!(off.abs() < 0.04 && sigmas < 4.0, "{off:.4}, {sigmas:.1} se");
                assert!(
                    level.fit.findings.iter().any(|f| f.code == "strong-wind"),
                    "{:?}",
                    level.fit.findings
                );
            }
            Err(finding) => assert!(
                !finding.what.is_empty() && !finding.to_do.is_empty(),
                "{finding} {:?}",
                power.findings
            ),
        }
    }
}
