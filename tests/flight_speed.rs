//! Level speed from logs and stopwatch passes, on flights whose truth is known, and on bad input.

use crate::sim_log::{log_of, track_of};
use benchborne::flight::run_up::{Fit, TimeConstant, VOLTAGE_EXPONENT, WindPrior, fit, pool};
use benchborne::flight::straights::{Straight, Straights, find};
use benchborne::flight::velocity::VelocitySource;
use benchborne::flight::{clock, cross_checks, record, stopwatch, velocity};
use benchborne::ingest::{Channel, Log};
use benchborne::season::{Finding, PassRow, Rules};
use benchborne::simulate::{
    LoggerKind, SeasonPlan, Sharing, SimulatedFlight, SimulatedSeason, fly,
};
use benchborne::stats;

fn season(flights: usize, wind_m_s: f64) -> SimulatedSeason {
    fly(
        &SeasonPlan::coverage(flights, 0.04, Sharing::EachDay, wind_m_s),
        11,
    )
    .unwrap()
}

fn straights(log: &Log) -> Straights {
    let velocity = velocity::of(log).unwrap();
    let lag = clock::gps_lag(log, &velocity).map_or(clock::USUAL_LAG.0, |l| l.value_s);
    find(log, &velocity, &Rules::default(), lag)
}

fn words(findings: &[Finding]) -> String {
    findings.iter().map(|f| format!("{f}\n")).collect()
}

/// Error of a fit as a fraction, at the voltage the logger shows.
fn error(fit: &Fit, flight: &SimulatedFlight) -> f64 {
    let log = &flight.log;
    let volts: Vec<f64> = flight
        .truth
        .passes
        .iter()
        .map(|p| {
            let inside: Vec<f64> = (0..log.len())
                .filter(|&i| log.time[i] >= p.start_s + 0.5 && log.time[i] <= p.end_s)
                .map(|i| log.voltage[i])
                .collect();
            stats::mean(&inside)
        })
        .collect();
    let factor = fit.voltage_v.map_or(1.0, |v| v / stats::mean(&volts));
    fit.level_speed_m_s / (flight.truth.level_speed * factor.powf(VOLTAGE_EXPONENT)) - 1.0
}

/// A straight made by hand: exponential approach to `level`, still air voltage, one heading.
fn made(level: f64, heading: f64, wind: (f64, f64), length_s: f64, start_s: f64) -> Straight {
    let time: Vec<f64> = (0..=(length_s * 10.0) as usize)
        .map(|k| start_s + 0.1 * k as f64)
        .collect();
    let air: Vec<f64> = time
        .iter()
        .map(|t| level * (1.0 - 0.25 * (-(t - start_s) / 2.5).exp()))
        .collect();
    let north: Vec<f64> = air.iter().map(|v| v * heading.cos() + wind.0).collect();
    let east: Vec<f64> = air.iter().map(|v| v * heading.sin() + wind.1).collect();
    Straight {
        start_s,
        end_s: start_s + length_s,
        course_rad: stats::mean(&east).atan2(stats::mean(&north)),
        mean_ground_speed_m_s: stats::mean(&air),
        time,
        north,
        east,
        ..Straight::default()
    }
}

#[test]
fn the_joint_fit_finds_level_speed_and_gain_where_the_mean_of_the_pass_does_not() {
    // Small version of datasets/studies/level-speed.csv; the truth is the simulator's.
    let season = season(4, 4.0);
    let flown: Vec<(usize, Straights, &SimulatedFlight)> = season
        .flights
        .iter()
        .enumerate()
        .map(|(i, f)| (i, straights(&log_of(&f.log)), f))
        .collect();
    let plan = SeasonPlan::coverage(4, 0.04, Sharing::EachDay, 4.0);
    let mut errors = [Vec::new(), Vec::new()];
    let mut naive = Vec::new();
    for (fan, errors) in errors.iter_mut().enumerate() {
        let mine: Vec<_> = flown
            .iter()
            .filter(|(i, _, _)| plan.flights[*i].fan == fan)
            .collect();
        let free: Vec<Fit> = mine
            .iter()
            .map(|(_, s, _)| fit(&s.used, TimeConstant::Free, None).unwrap())
            .collect();
        let pooled = pool(&free).unwrap();
        assert_eq!(pooled.flights, 4);
        for (_, s, flight) in mine {
            assert!(s.used.len() >= 6, "{}", words(&s.findings));
            let fitted = fit(&s.used, pooled.for_fit(), None).unwrap();
            errors.push(error(&fitted, flight));
            let plain = cross_checks::naive(&s.used, fitted.voltage_v).unwrap();
            naive.push(plain.mean_m_s / flight.truth.level_speed - 1.0);
            // Within the flight and from the shared time constant, at four standard errors.
            let se = fitted.level_speed_se_m_s.hypot(fitted.shared_error_m_s());
            let off = error(&fitted, flight) * fitted.level_speed_m_s;
            assert!(off.abs() < 4.0 * se, "off by {off:.2} m/s, se {se:.2}");
            let off = (
                fitted.wind.north_m_s - flight.truth.wind_north,
                fitted.wind.east_m_s - flight.truth.wind_east,
            );
            let se = fitted.wind.se_m_s;
            assert!(off.0.hypot(off.1) < 3.0 * se, "{off:?}, se {se:.1}");
            // Passes along one line tell the wind along it, and say that they tell no more.
            let course = s.used[0].course_rad;
            let along = off.0 * course.cos() + off.1 * course.sin();
            assert!(along.abs() < 1.5, "{along:.1}");
            assert!(se < 5.0 || !fitted.wind_across_told);
        }
    }
    let [baseline, candidate] = errors.map(|e| stats::mean(&e));
    // Eight flights of 0.4 % each and two time constants of 1.5 %: 0.5 % is three standard errors
    // of the mean, 1.2 points of the gain.
    assert!(
        (0.5 * (baseline + candidate)).abs() < 0.005,
        "{baseline} {candidate}"
    );
    assert!(
        (candidate - baseline).abs() < 0.012,
        "{baseline} {candidate}"
    );
    assert!(
        stats::mean(&naive) < -0.08,
        "the mean of a pass is far too low"
    );
}

#[test]
fn the_fit_gives_back_what_it_was_made_from() {
    let headings = [0.3, 0.3 + 3.1, 0.35, 0.2 + 3.2, 1.6, 4.7];
    let all: Vec<Straight> = headings
        .iter()
        .enumerate()
        .map(|(k, h)| made(55.0, *h, (3.0, -2.0), 7.0, 20.0 * k as f64))
        .collect();
    let fitted = fit(&all, TimeConstant::Free, None).unwrap();
    assert!(
        (fitted.level_speed_m_s / 55.0 - 1.0).abs() < 0.004,
        "{}",
        fitted.level_speed_m_s
    );
    assert!(
        (fitted.time_constant_s / 2.5 - 1.0).abs() < 0.1,
        "{}",
        fitted.time_constant_s
    );
    assert!((fitted.wind.north_m_s - 3.0).abs() < 0.1 && (fitted.wind.east_m_s + 2.0).abs() < 0.1);
    assert!(fitted.share_reached > 0.97 && fitted.wind_identified);
    assert!(words(&fitted.findings).contains("no voltage is logged"));
    // A longer time constant means a level speed further off: the derivative says by how much.
    let longer = TimeConstant::Pooled {
        value_s: fitted.time_constant_s + 0.2,
        se_s: 0.1,
    };
    let held = fit(&all, longer, None).unwrap();
    let change = held.level_speed_m_s - fitted.level_speed_m_s;
    assert!((change / 0.2 / fitted.level_by_time_constant - 1.0).abs() < 0.25);
    assert!(held.shared_error_m_s() > 0.0 && fitted.shared_error_m_s() == 0.0);
    let checks = cross_checks::cross_checks(&all, &fitted);
    assert!(checks.pairs >= 3);
    for other in [checks.dvdt_m_s, checks.reciprocal_m_s, checks.circle_m_s] {
        assert!((other.unwrap() / 55.0 - 1.0).abs() < 0.01, "{checks:?}");
    }
}

#[test]
fn height_lost_in_a_pass_is_charged_to_its_speed() {
    // The same run-ups, sinking: v² grows by 2 g times the height lost (energy, closed form).
    let all: Vec<Straight> = [0.0, std::f64::consts::PI, 0.1, 3.2]
        .iter()
        .enumerate()
        .map(|(k, h)| {
            let mut s = made(50.0, *h, (1.0, 0.0), 6.0, 20.0 * k as f64);
            // Level speed while sinking at 2 m/s: T − D = −W·2/v, near level −(v − v1)/tau.
            let raised = 50.0 + 2.5 * 9.806_65 * 2.0 / 51.0;
            s = Straight {
                height: s.time.iter().map(|t| -2.0 * (t - s.start_s)).collect(),
                ..made(raised, *h, (1.0, 0.0), 6.0, s.start_s)
            };
            s
        })
        .collect();
    let charged = fit(&all, TimeConstant::Free, None).unwrap();
    assert!(
        (charged.level_speed_m_s - 50.0).abs() < 0.3,
        "{}",
        charged.level_speed_m_s
    );
    let blind: Vec<Straight> = all
        .iter()
        .cloned()
        .map(|s| Straight {
            height: Vec::new(),
            ..s
        })
        .collect();
    let blind = fit(&blind, TimeConstant::Free, None).unwrap();
    assert!(blind.level_speed_m_s > 50.7, "{}", blind.level_speed_m_s);
}

#[test]
fn passes_one_way_do_not_tell_wind_from_speed() {
    let one_way: Vec<Straight> = (0..5)
        .map(|k| {
            made(
                50.0,
                0.1 * f64::from(k),
                (-6.0, 0.0),
                6.0,
                20.0 * f64::from(k),
            )
        })
        .collect();
    let refused = fit(&one_way, TimeConstant::Free, None).unwrap_err();
    assert_eq!(refused.code, "wind-not-identified");
    // The day's other flights know the wind.
    let wind = WindPrior {
        north_m_s: -6.0,
        east_m_s: 0.0,
        se_m_s: 0.5,
    };
    let fitted = fit(&one_way, TimeConstant::Free, Some(wind)).unwrap();
    assert!(
        (fitted.level_speed_m_s - 50.0).abs() < 0.5,
        "{}",
        fitted.level_speed_m_s
    );
    assert!(!fitted.wind_identified);
    assert!(words(&fitted.findings).contains("the wind is taken from the other flights"));
}

#[test]
fn one_and_two_passes_are_fitted_with_an_error_that_says_so() {
    let pair = [
        made(50.0, 0.0, (4.0, 1.0), 6.0, 0.0),
        made(50.0, 3.1, (4.0, 1.0), 6.0, 20.0),
    ];
    let pooled = TimeConstant::Pooled {
        value_s: 2.5,
        se_s: 0.2,
    };
    let two = fit(&pair, pooled, None).unwrap();
    assert_eq!(
        two.error_source,
        benchborne::flight::run_up::ErrorSource::Gusts
    );
    assert!(
        (two.level_speed_m_s - 50.0).abs() < 0.6,
        "{}",
        two.level_speed_m_s
    );
    assert!(two.level_speed_se_m_s > 0.05);
    assert_eq!(
        fit(&pair[..1], pooled, None).unwrap_err().code,
        "wind-not-identified"
    );
    assert_eq!(fit(&[], pooled, None).unwrap_err().code, "no-straights");
}

#[test]
fn wind_above_a_third_of_the_airspeed_is_said() {
    let windy: Vec<Straight> = [0.0, 1.5, 3.1, 4.6]
        .iter()
        .enumerate()
        .map(|(k, h)| made(36.0, *h, (13.0, 3.0), 6.0, 20.0 * k as f64))
        .collect();
    let fitted = fit(&windy, TimeConstant::Free, None).unwrap();
    assert!(fitted.findings.iter().any(|f| f.code == "strong-wind"));
    assert!(
        (fitted.level_speed_m_s / 36.0 - 1.0).abs() < 0.02,
        "{}",
        fitted.level_speed_m_s
    );
}

#[test]
fn a_slow_receiver_in_tenths_still_gives_a_level_speed() {
    let mut plan = SeasonPlan::coverage(2, 0.04, Sharing::EachDay, 3.0).rate(20.0, 1.0);
    plan.passes = 8;
    let season = fly(&plan, 5).unwrap();
    let mut log = log_of(&season.flights[0].log);
    for channel in [
        Channel::VelocityNorth,
        Channel::VelocityEast,
        Channel::Latitude,
        Channel::Longitude,
    ] {
        log.channels.remove(&channel);
    }
    for (channel, step) in [
        (Channel::GroundSpeed, 0.1),
        (Channel::Course, 1f64.to_radians()),
    ] {
        for v in log.channels.get_mut(&channel).unwrap() {
            *v = (*v / step).round() * step;
        }
    }
    let velocity = velocity::of(&log).unwrap();
    assert_eq!(velocity.source, VelocitySource::SpeedAndCourse);
    assert!(
        (velocity.update_s - 1.0).abs() < 0.06,
        "{}",
        velocity.update_s
    );
    assert!(velocity.held_rows as f64 > 0.9 * log.len() as f64);
    assert!(
        velocity.time.len() < log.len() / 15,
        "held values are no data"
    );
    assert!(words(&velocity.findings).contains("updates only every 1.0 s"));
    let found = straights(&log);
    let fitted = fit(&found.used, TimeConstant::Free, None).unwrap();
    assert!(
        error(&fitted, &season.flights[0]).abs() < 0.05,
        "{}",
        fitted.level_speed_m_s
    );
}

#[test]
fn positions_alone_give_the_velocity() {
    let season = season(1, 4.0);
    let sim = &season.flights[0].log;
    let mut log = log_of(sim);
    for channel in [
        Channel::VelocityNorth,
        Channel::VelocityEast,
        Channel::GroundSpeed,
        Channel::Course,
    ] {
        log.channels.remove(&channel);
    }
    let velocity = velocity::of(&log).unwrap();
    assert_eq!(velocity.source, VelocitySource::Positions);
    let off: Vec<f64> = velocity
        .time
        .iter()
        .zip(velocity.speed())
        .filter_map(|(t, v)| {
            let row = log.time.partition_point(|x| x < t);
            let logged = *sim.gps_speed.get(row)?;
            (logged > 30.0).then_some(v - logged)
        })
        .collect();
    assert!(
        off.len() > 500 && stats::mean(&off).abs() < 0.1,
        "{}",
        stats::mean(&off)
    );
    assert!(stats::sd(&off) < 1.0, "{}", stats::sd(&off));
}

#[test]
fn what_the_log_lacks_is_said() {
    let season = season(1, 4.0);
    let full = log_of(&season.flights[0].log);
    let without = |channels: &[Channel]| {
        let mut log = full.clone();
        channels.iter().for_each(|c| {
            log.channels.remove(c);
        });
        log
    };
    let position = [
        Channel::VelocityNorth,
        Channel::VelocityEast,
        Channel::Latitude,
        Channel::Longitude,
    ];
    let no_course = without(&[&position[..], &[Channel::Course]].concat());
    assert_eq!(velocity::of(&no_course).unwrap_err().code, "no-course");
    let nothing = without(&[&position[..], &[Channel::Course, Channel::GroundSpeed]].concat());
    let refused = velocity::of(&nothing).unwrap_err();
    assert_eq!(refused.code, "no-position");
    assert!(format!("{refused}").contains("stopwatch"));

    let no_height = without(&[Channel::Height]);
    assert!(words(&velocity::of(&no_height).unwrap().findings).contains("no height"));
    let fitted = fit(&straights(&no_height).used, TimeConstant::Free, None).unwrap();
    assert!(error(&fitted, &season.flights[0]).abs() < 0.05);

    let no_throttle = without(&[Channel::Throttle]);
    let found = straights(&no_throttle);
    assert!(words(&found.findings).contains("no throttle is logged"));
    let with = straights(&full).used;
    assert!(
        found.used.len() + 1 >= with.len(),
        "{} of {}",
        found.used.len(),
        with.len()
    );

    let neither = straights(&without(&[Channel::Throttle, Channel::Current]));
    assert!(neither.used.is_empty());
    assert_eq!(neither.findings[0].code, "no-throttle");
}

#[test]
fn a_throttle_that_cannot_mean_full_throttle_is_refused_in_words() {
    let season = season(1, 2.0);
    let full = log_of(&season.flights[0].log);
    let with = |change: fn(f64) -> f64| {
        let mut log = full.clone();
        log.channels
            .get_mut(&Channel::Throttle)
            .unwrap()
            .iter_mut()
            .for_each(|v| *v = change(*v));
        straights(&log)
    };
    let reversed = with(|v| 1.0 - v);
    assert!(reversed.used.is_empty());
    assert_eq!(reversed.findings[0].code, "throttle-reversed");
    let half = with(|v| 0.48 * v);
    assert!(half.used.is_empty());
    assert_eq!(half.findings[0].code, "never-full-throttle");
    assert!(
        half.findings[0].what.contains("48 %"),
        "{}",
        half.findings[0]
    );
    let idle = with(|v| v.min(0.9));
    assert_eq!(idle.findings[0].code, "never-full-throttle");
}

#[test]
fn a_pass_out_of_a_dive_counts_from_level_flight_on() {
    let season = season(1, 2.0);
    let flight = &season.flights[0];
    let mut log = log_of(&flight.log);
    let time = log.time.clone();
    let heights = log.channels.get_mut(&Channel::Height).unwrap();
    for (h, t) in heights.iter_mut().zip(&time) {
        // 12 m down in 1.5 s just after the spool-up of every pass, level else.
        let diving = (flight.truth.passes.iter())
            .find(|p| *t > p.start_s - 8.0 && *t < p.start_s + 2.5)
            .map_or(0.0, |p| 8.0 * (p.start_s + 2.5 - t).min(1.5));
        *h = 30.0 + diving;
    }
    let found = straights(&log);
    assert!(found.used.len() >= 4, "{}", words(&found.findings));
    for s in &found.used {
        let pass = (flight.truth.passes.iter())
            .find(|p| p.start_s < s.end_s && s.start_s < p.end_s)
            .unwrap();
        assert!(
            s.start_s > pass.start_s + 2.0,
            "{}",
            s.start_s - pass.start_s
        );
        assert!(s.height_change_m.unwrap().abs() < 5.6);
    }
}

#[test]
fn without_a_height_a_falling_speed_tells_of_a_dive() {
    let season = season(1, 2.0);
    let flight = &season.flights[0];
    let mut log = log_of(&flight.log);
    log.channels.remove(&Channel::Height);
    let dived = &flight.truth.passes[2];
    let time = log.time.clone();
    for channel in [
        Channel::VelocityNorth,
        Channel::VelocityEast,
        Channel::GroundSpeed,
    ] {
        for (v, t) in log
            .channels
            .get_mut(&channel)
            .unwrap()
            .iter_mut()
            .zip(&time)
        {
            if *t > dived.start_s - 1.0 && *t < dived.end_s + 3.0 {
                *v *= 1.0 + 0.6 * (-(t - dived.start_s) / 3.0).exp();
            }
        }
    }
    let found = straights(&log);
    let aside = (found.set_aside.iter())
        .find(|s| s.why.contains("entered faster than level flight"))
        .unwrap();
    assert!((aside.straight.start_s - dived.start_s).abs() < 3.0);
}

#[test]
fn a_wind_beyond_what_is_possible_is_no_fit() {
    let stormy: Vec<Straight> = [0.0, 3.1, 0.1, 3.0]
        .iter()
        .enumerate()
        .map(|(k, h)| made(60.0, *h, (32.0, 0.0), 6.0, 20.0 * k as f64))
        .collect();
    let refused = fit(&stormy, TimeConstant::Free, None).unwrap_err();
    assert_eq!(refused.code, "no-fit");
    assert!(refused.what.contains("drives the wind"), "{refused}");
    assert!(refused.to_do.contains("dive"), "{refused}");
}

#[test]
fn passes_against_a_third_of_the_airspeed_are_kept() {
    let season = season(1, 18.0);
    let flight = &season.flights[0];
    let found = straights(&log_of(&flight.log));
    // The simulated runway wind blows along it; every pass flown is used or told of.
    for pass in &flight.truth.passes {
        let seen = (found.used.iter())
            .chain(found.set_aside.iter().map(|s| &s.straight))
            .any(|s| s.start_s < pass.end_s && pass.start_s < s.end_s);
        assert!(seen, "the pass at {:.0} s vanished", pass.start_s);
    }
    let speeds: Vec<f64> = found.used.iter().map(|s| s.mean_ground_speed_m_s).collect();
    let (low, high) = (stats::quantile(&speeds, 0.0), stats::quantile(&speeds, 1.0));
    assert!(
        high - low > 15.0,
        "both directions: {low:.0} to {high:.0} m/s"
    );
}

#[test]
fn the_model_error_is_part_of_the_standard_error() {
    let passes: Vec<Straight> = [0.3, 3.4, 0.35, 3.5, 1.6, 4.7]
        .iter()
        .enumerate()
        .map(|(k, h)| made(52.0, *h, (2.0, -1.0), 6.0, 20.0 * k as f64))
        .collect();
    let fitted = fit(&passes, TimeConstant::Free, None).unwrap();
    // Made as exponentials: the jackknife sees nothing, the curve is off all the same.
    let off = (fitted.level_speed_m_s - 52.0).abs();
    assert!(fitted.model_error_m_s > 0.001 * 52.0);
    assert!(fitted.level_speed_se_m_s >= fitted.model_error_m_s);
    assert!(
        off < 2.5 * fitted.level_speed_se_m_s,
        "{off} {}",
        fitted.level_speed_se_m_s
    );
}

#[test]
fn a_speed_in_another_unit_than_the_positions_say_is_not_used() {
    let season = season(1, 2.0);
    let plain = log_of(&season.flights[0].log);
    assert!(velocity::rescue_scale(&mut plain.clone()).is_none());
    let mut log = plain.clone();
    for channel in [Channel::VelocityNorth, Channel::VelocityEast] {
        log.channels.remove(&channel);
    }
    // Miles an hour read as m/s: 1 mi = 1609.344 m (international yard and pound agreement, 1959).
    for v in log.channels.get_mut(&Channel::GroundSpeed).unwrap() {
        *v *= 3600.0 / 1609.344;
    }
    let said = velocity::rescue_scale(&mut log).unwrap();
    assert_eq!(said.code, "speed-scale");
    assert!(said.what.contains("mph read as m/s"), "{said}");
    let fast = |log: &Log| stats::quantile(&velocity::of(log).unwrap().speed(), 0.9);
    let (found, truth) = (fast(&log), fast(&plain));
    assert!((found / truth - 1.0).abs() < 0.03, "{found} {truth}");
}

#[test]
fn a_reversed_throttle_feeds_nothing() {
    let season = season(1, 2.0);
    let mut log = log_of(&season.flights[0].log);
    let throttle = log.channels.get_mut(&Channel::Throttle).unwrap();
    throttle.iter_mut().for_each(|v| *v = 1.0 - *v);
    let survey = record::survey(vec![log], None, None, None);
    let power = record::power_side(&survey, &Rules::default());
    let said = (survey.findings.iter().chain(&power.findings))
        .filter(|f| f.code == "throttle-reversed")
        .count();
    assert_eq!(said, 1);
    assert!(
        survey
            .log
            .as_ref()
            .unwrap()
            .get(Channel::Throttle)
            .is_none()
    );
    let (holds, _) =
        record::holds_and_loads(&survey, survey.log.as_ref().unwrap(), &power, None, 1.2);
    assert!(holds.is_empty() && power.spool_up.is_none());
    assert!(
        !power.straights.used.is_empty(),
        "the current tells full throttle"
    );
}

#[test]
fn a_dive_is_set_aside_and_a_flight_without_passes_says_so() {
    let season = season(1, 2.0);
    let flight = &season.flights[0];
    let mut log = log_of(&flight.log);
    let dived = &flight.truth.passes[2];
    let time = log.time.clone();
    for (h, t) in log
        .channels
        .get_mut(&Channel::Height)
        .unwrap()
        .iter_mut()
        .zip(&time)
    {
        if *t > dived.start_s && *t < dived.end_s + 3.0 {
            *h -= 8.0 * (t - dived.start_s);
        }
    }
    let found = straights(&log);
    let dive = found
        .set_aside
        .iter()
        .find(|s| s.why.contains("the jet dives at up to"))
        .unwrap();
    assert!((dive.straight.start_s - dived.start_s).abs() < 3.0);
    assert!(found.set_aside.iter().all(|s| !s.why.is_empty()));

    // Full throttle only while turning and climbing: every pass cut down to its first second.
    let mut none = log_of(&flight.log);
    let throttle = none.channels.get_mut(&Channel::Throttle).unwrap();
    for (v, t) in throttle.iter_mut().zip(&time) {
        if flight
            .truth
            .passes
            .iter()
            .any(|p| *t > p.start_s + 1.0 && *t < p.end_s + 1.0)
        {
            *v = 0.6;
        }
    }
    let found = straights(&none);
    assert!(found.used.is_empty());
    let said = found
        .findings
        .iter()
        .find(|f| f.code == "no-straights")
        .unwrap();
    assert!(said.to_do.contains("four or more"), "{said}");
}

#[test]
fn the_receivers_lag_is_found_with_and_without_current() {
    let season = season(3, 5.0);
    for flight in &season.flights {
        let mut log = log_of(&flight.log);
        for _ in 0..2 {
            let velocity = velocity::of(&log).unwrap();
            let lag = clock::gps_lag(&log, &velocity).unwrap();
            let off = lag.value_s - flight.truth.gps_lag_s;
            assert!(
                off.abs() < 0.2 && off.abs() < 3.0 * lag.se_s,
                "{off} {lag:?}"
            );
            log.channels.remove(&Channel::Current);
        }
    }
}

#[test]
fn two_loggers_are_set_on_one_clock_and_merged() {
    let plan =
        SeasonPlan::coverage(2, 0.04, Sharing::EachDay, 4.0).logger(LoggerKind::PowerAndTrack);
    let season = fly(&plan, 3).unwrap();
    let flight = &season.flights[1];
    let power = log_of(&flight.log);
    let mut sim = flight.log.clone();
    // The position logger was switched on 35 s into the power log.
    sim.track.drain(..350);
    let mut position = track_of(&sim);
    let truth = sim.track[0].time_s - flight.truth.clock_offset_s - flight.truth.gps_lag_s;
    let velocity = velocity::of(&position).unwrap();
    let found = clock::offset(&power, &position, &velocity).unwrap();
    let off = found.offset.value_s - truth;
    assert!(
        off.abs() < 0.2 && off.abs() < 3.0 * found.offset.se_s,
        "{off} {found:?}"
    );
    assert_eq!(found.by, ["thrust", "height"]);

    // A gap of 20 s stays a gap.
    let cut = position.time.partition_point(|t| *t < 60.0);
    let end = position.time.partition_point(|t| *t < 80.0);
    position.time.drain(cut..end);
    position.lines.drain(cut..end);
    position.channels.values_mut().for_each(|s| {
        s.drain(cut..end);
    });
    position.breaks = vec![cut];
    let merged = clock::merge(&power, &position, &found);
    assert_eq!(merged.time, power.time);
    assert_eq!(
        merged.get(Channel::Height),
        power.get(Channel::Height),
        "its own stays"
    );
    let speed = merged.get(Channel::GroundSpeed).unwrap();
    for (t, v) in merged.time.iter().zip(speed) {
        let there = t - found.offset.value_s;
        if (60.1..79.8).contains(&there) || there < -0.1 {
            assert!(v.is_nan(), "invented at {t}");
        }
    }
    assert!(speed.iter().filter(|v| v.is_finite()).count() > speed.len() / 2);
    let straights = find(
        &power,
        &velocity.on_clock(|t| found.to_power(t)),
        &Rules::default(),
        0.0,
    );
    let fitted = fit(&straights.used, TimeConstant::Free, None).unwrap();
    assert!(
        error(&fitted, flight).abs() < 0.04,
        "{}",
        error(&fitted, flight)
    );

    // Another flight's file is refused, and so is one that shares nothing.
    let other = track_of(&season.flights[0].log);
    let other_velocity = velocity::of(&other).unwrap();
    let refused = clock::offset(&power, &other, &other_velocity).unwrap_err();
    assert_eq!(refused.code, "clock-not-distinct", "{refused}");
    let mut bare = power.clone();
    bare.channels.retain(|c, _| *c == Channel::Voltage);
    let refused = clock::offset(&bare, &other, &other_velocity).unwrap_err();
    assert_eq!(refused.code, "nothing-shared");
}

fn row(direction: &str, speed: f64, base: Option<f64>) -> PassRow {
    PassRow {
        flight: "f1".into(),
        direction: direction.into(),
        speed_m_s: speed,
        base_m: base,
        time_s: base.map(|b| b / speed),
        run_up_m: None,
        run_up_s: None,
        minutes_since_take_off: None,
        line: 2,
    }
}

#[test]
fn stopwatch_passes_give_the_mean_of_the_two_directions() {
    // FAI Sporting Code, aeromodelling records: 200 m base, both directions. 65 and 55 m/s: the
    // mean of speeds is 60 with a wind of 5 along the base (checks: 2L/(t1 + t2) would be 59.58).
    let after_long = |mut r: PassRow| {
        r.run_up_s = Some(200.0);
        r.minutes_since_take_off = Some(2.0);
        r
    };
    let rows = [
        after_long(row("N", 65.0, Some(200.0))),
        after_long(row("S", 55.0, Some(200.0))),
    ];
    let found = stopwatch::level_speed(&rows.each_ref(), None).unwrap();
    assert!(
        (found.level_speed_m_s - 60.0).abs() < 1e-6,
        "{}",
        found.level_speed_m_s
    );
    assert!((found.wind_along_m_s - 5.0).abs() < 1e-6);
    assert!(found.findings.is_empty(), "{}", words(&found.findings));
    // Hand at both ends, 0.1 s each: u(v) = v·0.141/t a pass; half their root sum of squares.
    let one = |v: f64| v * v * 0.02f64.sqrt() / 200.0;
    let expected = 0.5 * one(65.0).hypot(one(55.0));
    assert!(
        (found.u_own_m_s - expected).abs() < 1e-6,
        "{} {expected}",
        found.u_own_m_s
    );
    assert!(
        (found.u_shared_m_s / 60.0 - 0.01).abs() < 1e-4,
        "base length alone"
    );
}

#[test]
fn what_a_pilot_did_not_write_down_widens_the_answer() {
    let bare = [row("N", 65.0, Some(200.0)), row("S", 55.0, Some(200.0))];
    let wide = stopwatch::level_speed(&bare.each_ref(), None).unwrap();
    assert!(
        wide.level_speed_m_s > 61.0,
        "short run-ups end below level speed"
    );
    let codes: Vec<&str> = wide.findings.iter().map(|f| f.code.as_str()).collect();
    assert_eq!(codes, ["no-minutes", "no-run-up"]);
    let mut noted = bare.clone();
    noted.iter_mut().for_each(|r| {
        r.run_up_s = Some(5.0);
        r.minutes_since_take_off = Some(1.5);
    });
    let narrow = stopwatch::level_speed(&noted.each_ref(), None).unwrap();
    assert!(narrow.u_own_m_s < 0.8 * wide.u_own_m_s);
    assert!(narrow.u_shared_m_s < wide.u_shared_m_s);
    let pooled = benchborne::flight::run_up::PooledTimeConstant {
        value_s: 3.0,
        se_s: 0.1,
        flights: 4,
    };
    let known = stopwatch::level_speed(&noted.each_ref(), Some(&pooled)).unwrap();
    assert!(known.u_shared_m_s < narrow.u_shared_m_s);
    assert!(known.findings.is_empty());

    let radar = [row("upwind", 50.0, None), row("downwind", 60.0, None)];
    let found = stopwatch::level_speed(&radar.each_ref(), Some(&pooled)).unwrap();
    assert!(
        found
            .passes
            .iter()
            .all(|p| p.radar && p.ground_speed_m_s > 50.0)
    );

    let one_way = [row("N", 65.0, Some(200.0)), row("n ", 64.0, Some(200.0))];
    let refused = stopwatch::level_speed(&one_way.each_ref(), None).unwrap_err();
    assert_eq!(refused.code, "not-reciprocal");
    assert!(refused.place.is_some());
}

#[test]
fn stopwatch_passes_of_a_simulated_season_hold_the_truth() {
    let season = season(4, 4.0);
    let mut within = 0;
    for flight in &season.flights {
        let rows: Vec<PassRow> = flight
            .truth
            .passes
            .iter()
            .enumerate()
            .map(|(i, p)| PassRow {
                base_m: Some(p.base_m),
                time_s: Some(p.base_m / p.base_speed),
                run_up_m: Some(p.run_up_m),
                minutes_since_take_off: Some(p.start_s / 60.0),
                ..row(
                    if i % 2 == 0 { "there" } else { "back" },
                    p.base_speed,
                    None,
                )
            })
            .collect();
        let found = stopwatch::level_speed(&rows.iter().collect::<Vec<_>>(), None).unwrap();
        let u = found.u_own_m_s.hypot(found.u_shared_m_s);
        within += usize::from((found.level_speed_m_s - flight.truth.level_speed).abs() < 2.0 * u);
    }
    assert!(
        within >= 7,
        "{within} of 8 within two standard uncertainties"
    );
}

#[test]
fn broken_logs_are_refused_and_never_a_panic() {
    let season = season(1, 3.0);
    let whole = log_of(&season.flights[0].log);
    let rows = |n: usize| {
        let mut log = whole.clone();
        log.time.truncate(n);
        log.lines.truncate(n);
        log.channels.values_mut().for_each(|s| s.truncate(n));
        log
    };
    let changed = |channel: Channel, change: fn(usize, f64) -> f64| {
        let mut log = whole.clone();
        for (i, v) in log
            .channels
            .get_mut(&channel)
            .unwrap()
            .iter_mut()
            .enumerate()
        {
            *v = change(i, *v);
        }
        log
    };
    let mut torn = whole.clone();
    torn.breaks = (1..torn.len()).step_by(7).collect();
    let mut far = whole.clone();
    far.time.iter_mut().for_each(|t| *t *= 1e12);
    let logs = [
        Log::default(),
        rows(1),
        rows(3),
        rows(40),
        torn,
        far,
        changed(Channel::Voltage, |_, _| 0.0),
        changed(Channel::Voltage, |i, v| if i % 50 == 0 { 0.0 } else { v }),
        changed(Channel::Voltage, |_, v| -v),
        changed(Channel::Current, |_, _| f64::NAN),
        changed(Channel::Height, |i, v| if i % 2 == 0 { 1e6 } else { v }),
        changed(Channel::VelocityNorth, |i, v| {
            if i % 3 == 0 { f64::NAN } else { v }
        }),
        changed(
            Channel::VelocityNorth,
            |i, v| if i % 997 == 0 { 900.0 } else { v },
        ),
        changed(Channel::VelocityEast, |_, _| 0.0),
        changed(Channel::Throttle, |i, _| (i % 2) as f64),
    ];
    for log in &logs {
        let Ok(velocity) = velocity::of(log) else {
            continue;
        };
        let lag = clock::gps_lag(log, &velocity).map_or(clock::USUAL_LAG.0, |l| l.value_s);
        let found = find(log, &velocity, &Rules::default(), lag);
        match fit(&found.used, TimeConstant::Free, None) {
            Ok(fitted) => {
                assert!(
                    fitted.level_speed_m_s.is_finite() && fitted.level_speed_se_m_s.is_finite()
                );
                let _ = cross_checks::cross_checks(&found.used, &fitted);
                pool(&[fitted]);
            }
            Err(refused) => assert!(!refused.to_do.is_empty()),
        }
        if let Ok(offset) = clock::offset(&whole, log, &velocity) {
            assert_eq!(clock::merge(&whole, log, &offset).len(), whole.len());
        }
    }
    // Single wild values are reception errors: they are dropped, and the answer stays.
    let spiked = velocity::of(&logs[12]).unwrap();
    assert!(spiked.spikes > 0);
    let fitted = fit(&straights(&logs[12]).used, TimeConstant::Free, None).unwrap();
    assert!(error(&fitted, &season.flights[0]).abs() < 0.03);
}
