//! Phases, spool-up lag, holds, pack, loads.

use benchborne::flight::holds::{HoldRules, holds};
use benchborne::flight::loads::{LoadSource, loads};
use benchborne::flight::pack::{pack_fit, rest_voltage};
use benchborne::flight::phases::{Phase, phases};
use benchborne::flight::spool_up::spool_up;
use benchborne::ingest::Channel;

use super::made::{DENSITY, FULL_V, LIFT_OFF_S, Truth, airborne, curve, log, without};

#[test]
fn phases_from_speed_and_height() {
    let truth = Truth::default();
    let (found, findings) = phases(&truth.fly(), Some(13.0));
    let found = found.unwrap();
    assert!(findings.is_empty());
    assert_eq!(found.airborne.len(), 1);
    let (up, down) = found.airborne[0];
    // The made flight passes 10.4 m/s at 5.63 s (55·(1 − e^(−t/3)) from 5 s on).
    assert!((up - 5.63).abs() < 0.05, "{up}");
    assert!(down > truth.end() - 6.0 && down < truth.end(), "{down}");
    let words: Vec<Phase> = found.spans.iter().map(|s| s.phase).collect();
    assert_eq!(
        words,
        [
            Phase::Ground,
            Phase::TakeOff,
            Phase::Flight,
            Phase::Landing,
            Phase::Ground
        ]
    );
    for pair in found.spans.windows(2) {
        assert_eq!(pair[0].end_s, pair[1].start_s, "no holes");
    }
    assert_eq!(found.channels, [Channel::GroundSpeed, Channel::Height]);
}

#[test]
fn phases_without_speed() {
    let flown = without(
        &Truth::default().fly(),
        &[Channel::GroundSpeed, Channel::Airspeed],
    );
    let by_height = phases(&flown, None).0.unwrap();
    assert_eq!(by_height.channels, [Channel::Height]);
    assert!((by_height.airborne[0].0 - LIFT_OFF_S).abs() < 0.1);
    let by_throttle = phases(&without(&flown, &[Channel::Height]), None)
        .0
        .unwrap();
    assert_eq!(by_throttle.channels, [Channel::Throttle]);
    assert!(
        by_throttle.basis.contains("stand"),
        "says that a bench run looks the same"
    );
    let by_current = phases(
        &without(&flown, &[Channel::Height, Channel::Throttle]),
        None,
    )
    .0
    .unwrap();
    assert_eq!(by_current.channels, [Channel::Current]);
    let nothing = without(
        &flown,
        &[Channel::Height, Channel::Throttle, Channel::Current],
    );
    let (none, findings) = phases(&nothing, None);
    assert_eq!(none, None);
    assert_eq!(findings[0].code, "phases-unknown");
}

#[test]
fn a_log_on_the_bench_is_no_flight() {
    let standing = log(
        (0..600).map(|i| f64::from(i) * 0.1).collect(),
        &[(
            Channel::GroundSpeed,
            (0..600).map(|i| 0.3 * f64::from(i % 4)).collect(),
        )],
    );
    let (none, findings) = phases(&standing, None);
    assert_eq!(none, None);
    assert!(findings[0].what.contains("walking pace"));
    let one_row = log(vec![0.0], &[(Channel::GroundSpeed, vec![20.0])]);
    assert_eq!(phases(&one_row, None).0, None);
}

/// The current of a first-order lag passes half of a step after ln 2 and 90 % after ln 10 of its
/// time constant.
#[test]
fn spool_up_lag_is_found_at_any_rate() {
    for (rate_hz, tolerance) in [(200.0, 0.015), (50.0, 0.02), (20.0, 0.03), (10.0, 0.06)] {
        // Sag would feed back on the current and make its step another shape.
        let truth = Truth {
            rate_hz,
            lag_s: 0.4,
            resistance_ohm: 0.0,
            fall: 0.0,
            current_noise_a: 0.3,
            ..Truth::default()
        };
        let found = spool_up(&truth.fly()).0.unwrap();
        let expected = 0.4 * 2.0_f64.ln();
        assert!(
            (found.lag_s - expected).abs() < tolerance,
            "{rate_hz} {found:?}"
        );
        let ninety = 0.4 * 10.0_f64.ln();
        assert!(
            (found.ninety_s - ninety).abs() < 0.1 * ninety + tolerance,
            "{rate_hz} {found:?}"
        );
        assert!(found.steps >= 15, "{found:?}");
        let (low, high) = found.interval_s.unwrap();
        assert!(low < high && high - low < 0.3);
    }
}

#[test]
fn a_reversed_throttle_is_named() {
    let mut flown = Truth::default().fly();
    flown
        .channels
        .get_mut(&Channel::Throttle)
        .unwrap()
        .iter_mut()
        .for_each(|u| *u = 1.0 - *u);
    let (none, findings) = spool_up(&flown);
    assert_eq!(none, None);
    assert_eq!(findings[0].code, "throttle-reversed");
}

/// The made programme holds 24 levels for 6 s each (the first on the ground). Each hold's current
/// must be kappa times the bench at the hold's own throttle and voltage.
#[test]
fn holds_from_one_to_two_hundred_hertz() {
    for rate_hz in [1.0, 2.0, 5.0, 10.0, 50.0, 200.0] {
        let truth = Truth {
            rate_hz,
            lag_s: 0.15,
            ..Truth::default()
        };
        let flown = truth.fly();
        // The made kappa steps at lift-off; two seconds later the log at 1 Hz has forgotten it.
        let air = airborne(&[(LIFT_OFF_S + 2.0, truth.end() - 5.0)]);
        let found = holds(
            &flown,
            0.15 * 10.0_f64.ln(),
            Some(&air),
            None,
            &HoldRules::default(),
        );
        // The programme ends with the motor off before touch-down: no bench point there.
        let flying: Vec<_> = found
            .holds
            .iter()
            .filter(|h| h.airborne && h.throttle > 0.1)
            .collect();
        assert!(flying.len() >= 22, "{rate_hz} {}", flying.len());
        for hold in flying {
            assert!(hold.end_s - hold.start_s >= 1.5 - 1e-6 && hold.end_s - hold.start_s < 4.6);
            let bench = curve()
                .current(hold.throttle, hold.voltage_v.unwrap(), DENSITY)
                .unwrap()
                .0;
            let kappa = hold.current_a.unwrap() / bench;
            assert!((kappa - 0.92).abs() < 0.005, "{rate_hz} {kappa} {hold:?}");
            let product = hold.voltage_v.unwrap() * hold.current_a.unwrap();
            assert!((hold.power_w.unwrap() / product - 1.0).abs() < 0.01);
            assert_eq!(hold.airspeed_m_s, hold.ground_speed_m_s);
        }
    }
}

#[test]
fn stick_noise_is_not_a_change_of_throttle() {
    let truth = Truth {
        throttle_noise: 0.008,
        current_noise_a: 0.5,
        rate_hz: 50.0,
        ..Truth::default()
    };
    let found = holds(&truth.fly(), 0.7, None, None, &HoldRules::default());
    assert!(found.holds.len() >= 22, "{}", found.holds.len());
    let levels = [0.0, 0.3, 0.5, 0.7, 1.0];
    for hold in &found.holds {
        let off = levels
            .iter()
            .map(|l| (hold.throttle - l).abs())
            .fold(1.0, f64::min);
        assert!(off < 0.01, "{hold:?}");
        assert!(!hold.airborne, "phases unknown: nothing is called airborne");
    }
}

#[test]
fn a_moving_throttle_and_a_moving_current_are_no_holds() {
    let time: Vec<f64> = (0..=400).map(|i| f64::from(i) * 0.05).collect();
    let ramp = time.iter().map(|t| t / 20.0).collect::<Vec<_>>();
    let none = holds(
        &log(time.clone(), &[(Channel::Throttle, ramp)]),
        0.3,
        None,
        None,
        &HoldRules::default(),
    );
    assert!(none.holds.is_empty(), "{none:?}");
    let hunting = time.iter().map(|t| 50.0 + 15.0 * (6.0 * t).sin()).collect();
    let n = time.len();
    let made = log(
        time,
        &[
            (Channel::Throttle, vec![0.8; n]),
            (Channel::Current, hunting),
        ],
    );
    let found = holds(&made, 0.3, None, None, &HoldRules::default());
    assert!(found.holds.is_empty() && found.unsteady > 3, "{found:?}");
}

/// Airspeed from ground velocity and wind: 30 m/s over ground to the north with a wind of 6 m/s
/// towards north is 24 m/s through the air.
#[test]
fn airspeed_of_a_hold_from_the_wind() {
    let n = 100;
    let made = log(
        (0..n).map(|i| f64::from(i) * 0.1).collect(),
        &[
            (Channel::Throttle, vec![0.8; 100]),
            (Channel::VelocityNorth, vec![30.0; 100]),
            (Channel::VelocityEast, vec![0.0; 100]),
        ],
    );
    let found = holds(&made, 0.3, None, Some((6.0, 0.0)), &HoldRules::default());
    assert!((found.holds[0].airspeed_m_s.unwrap() - 24.0).abs() < 1e-9);
    assert!((found.holds[0].ground_speed_m_s.unwrap() - 30.0).abs() < 1e-9);
    assert_eq!(found.holds[0].current_a, None);
}

#[test]
fn pack_resistance_of_a_known_circuit() {
    let truth = Truth {
        current_noise_a: 0.3,
        resistance_ohm: 0.018,
        fall: 1.2,
        ..Truth::default()
    };
    let fit = pack_fit(&truth.fly()).0.unwrap();
    assert!((fit.resistance_ohm / 0.018 - 1.0).abs() < 0.01, "{fit:?}");
    let (low, high) = fit.resistance_interval_ohm.unwrap();
    assert!(low < high && high - low < 0.001, "{fit:?}");
    assert!((fit.open_circuit_start_v - FULL_V).abs() < 0.02);
    assert!((fit.open_circuit_v(0.5) - (FULL_V - 0.6)).abs() < 0.03);
    assert!((fit.sag_at_peak_v - 0.018 * fit.peak_current_a).abs() < 0.03);
    assert!((rest_voltage(&truth.fly()).unwrap() - FULL_V).abs() < 0.01);
}

/// R = ΔV/ΔI: 25.0 V at rest, 23.4 V at 80 A is 20 mΩ (arithmetic).
#[test]
fn pack_resistance_of_a_single_step() {
    let time: Vec<f64> = (0..=100).map(|i| f64::from(i) * 0.1).collect();
    let current: Vec<f64> = time
        .iter()
        .map(|t| if *t < 5.0 { 0.0 } else { 80.0 })
        .collect();
    let voltage = current.iter().map(|i| 25.0 - 0.02 * i).collect();
    let fit = pack_fit(&log(
        time,
        &[(Channel::Current, current), (Channel::Voltage, voltage)],
    ))
    .0;
    assert!((fit.unwrap().resistance_ohm - 0.020).abs() < 1e-9);
}

#[test]
fn pack_needs_a_current_that_moves() {
    let n = 300;
    let time: Vec<f64> = (0..n).map(|i| f64::from(i) * 0.1).collect();
    let voltage = time.iter().map(|t| 16.0 - 0.01 * t).collect();
    let flat = log(
        time,
        &[
            (Channel::Current, vec![20.0; 300]),
            (Channel::Voltage, voltage),
        ],
    );
    let (none, findings) = pack_fit(&flat);
    assert_eq!(none, None);
    assert_eq!(findings[0].code, "pack-resistance-unknown");
    let started = rest_voltage(&flat);
    assert_eq!(started, None, "under load from the first row");
}

/// A circle at 40 m/s and 1 rad/s loads with sqrt(1 + (40/9.80665)²) = 4.19966 g. The receiver
/// fixes at 10 Hz; the log repeats each fix five times.
#[test]
fn load_factor_of_a_circle_from_held_fixes() {
    let time: Vec<f64> = (0..=2000).map(|i| f64::from(i) * 0.02).collect();
    let fix = |t: f64| (t / 0.1 + 1e-9).floor() * 0.1;
    let circle = log(
        time.clone(),
        &[
            (
                Channel::VelocityNorth,
                time.iter().map(|t| 40.0 * fix(*t).cos()).collect(),
            ),
            (
                Channel::VelocityEast,
                time.iter().map(|t| 40.0 * fix(*t).sin()).collect(),
            ),
        ],
    );
    let found = loads(&circle, 1.225, None);
    assert_eq!(found.load_factor_from, Some(LoadSource::TurnRate));
    assert!(
        (found.load_factor_p99.unwrap() - 4.199_659_329).abs() < 0.01,
        "{:?}",
        found.load_factor_p99
    );
    assert!((found.max_dynamic_pressure_pa.unwrap() - 980.0).abs() < 0.5);
    assert_eq!(found.dynamic_pressure_from, Some(Channel::GroundSpeed));
}

/// Straight to the north-west and south (course wraps at ±180°): fixes held, quantised to 0.1 m/s.
#[test]
fn held_fixes_of_a_straight_line_do_not_turn() {
    let time: Vec<f64> = (0..=2000).map(|i| f64::from(i) * 0.02).collect();
    let fix = |t: f64| (t / 0.2 + 1e-9).floor() * 0.2;
    let straight = log(
        time.clone(),
        &[
            (
                Channel::GroundSpeed,
                time.iter()
                    .map(|t| 45.0 + (fix(*t) * 10.0).round() / 10.0)
                    .collect(),
            ),
            // Course jitters by a degree about south, so atan2 wraps from +180 to -180.
            (
                Channel::Course,
                time.iter()
                    .map(|t| std::f64::consts::PI + 0.01 * (fix(*t) * 17.0).sin())
                    .collect(),
            ),
        ],
    );
    let p99 = loads(&straight, 1.225, None).load_factor_p99.unwrap();
    assert!(p99 < 1.15, "{p99}");
}

/// A sensor mounted askew reads 1 g along its rest direction; a pull of 3 g shows as 3.
#[test]
fn load_factor_from_an_accelerometer_mounted_askew() {
    let time: Vec<f64> = (0..=1000).map(|i| f64::from(i) * 0.02).collect();
    let n = |t: f64| if (10.0..12.0).contains(&t) { 3.0 } else { 1.0 };
    let axis = |share: f64| time.iter().map(|t| share * 9.6 * n(*t)).collect::<Vec<_>>();
    let made = log(
        time.clone(),
        &[
            (Channel::AccelerationX, axis(0.48)),
            (Channel::AccelerationY, axis(0.0)),
            (Channel::AccelerationZ, axis(-0.877_268_487_5)),
            (
                Channel::GroundSpeed,
                time.iter()
                    .map(|t| if *t < 5.0 { 0.0 } else { 30.0 })
                    .collect(),
            ),
        ],
    );
    let found = loads(&made, 1.2, Some(&airborne(&[(6.0, 20.0)])));
    assert_eq!(found.load_factor_from, Some(LoadSource::Accelerometer));
    assert!(
        (found.load_factor_p99.unwrap() - 3.0).abs() < 1e-6,
        "{:?}",
        found.load_factor_p99
    );
    assert!(found.samples.iter().all(|s| s.time_s >= 6.0));
}
