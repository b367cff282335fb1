//! Charge, energy, put-back, reserve and timer.

use benchborne::flight::duration::to_reserve;
use benchborne::flight::energy::{draw, put_back_scale};
use benchborne::flight::sensor::{CurrentSensor, current_sensor};
use benchborne::ingest::Channel;

use super::made::{Truth, accuracy, airborne, log, without};

/// Coulomb counting written out: (300 + 1000 + 350 + 200) A.s / 3.6 = 513.8889 mA.h.
#[test]
fn charge_is_counted_by_trapezoids() {
    let made = log(
        vec![0.0, 10.0, 30.0, 40.0, 60.0],
        &[
            (Channel::Current, vec![10.0, 50.0, 50.0, 20.0, 0.0]),
            (Channel::Voltage, vec![20.0; 5]),
        ],
    );
    let (drawn, findings) = draw(&made, None, Some(&accuracy(0.02)), Some(&accuracy(0.01)));
    let drawn = drawn.unwrap();
    assert!(findings.is_empty(), "{findings:?}");
    assert!((drawn.charge_mah.value - 513.888_888_9).abs() < 1e-6);
    assert!((drawn.energy_wh.unwrap().value - 513.888_888_9e-3 * 20.0).abs() < 1e-6);
    assert!((drawn.mean_power_w.unwrap().value - 1850.0 * 20.0 / 60.0).abs() < 1e-9);
    assert_eq!(drawn.peak_current_a, 50.0);
    assert_eq!(drawn.peak_power_w, Some(1000.0));
    assert_eq!(drawn.gap_s, 0.0);
}

/// Steady current: nothing hides between samples, so the width is the sensor's alone: a limit of
/// 3 % taken as rectangular gives u = 3 %/sqrt(3) (GUM 4.3.7), k = 2.
#[test]
fn interval_of_charge_is_the_sensors_scale() {
    let n = 601;
    let made = log(
        (0..n).map(|i| f64::from(i) * 0.1).collect(),
        &[(Channel::Current, vec![30.0; 601])],
    );
    let drawn = draw(&made, None, Some(&accuracy(0.03)), None).0.unwrap();
    let charge = drawn.charge_mah;
    assert!((charge.value - 500.0).abs() < 1e-9);
    let half = 2.0 * 0.03 / 3.0_f64.sqrt() * 500.0;
    assert!((charge.low - (500.0 - half)).abs() < 1e-9);
    assert!((charge.high.unwrap() - (500.0 + half)).abs() < 1e-9);
    assert_eq!(drawn.energy_wh, None, "no voltage, no energy");
}

#[test]
fn a_gap_widens_upwards_and_is_not_integrated() {
    let time: Vec<f64> = (0..=100)
        .chain(200..=300)
        .map(|i| f64::from(i) * 0.1)
        .collect();
    let n = time.len();
    let made = log(
        time,
        &[
            (Channel::Current, vec![36.0; n]),
            (Channel::Voltage, vec![20.0; n]),
        ],
    );
    let (drawn, findings) = draw(&made, None, Some(&accuracy(0.0)), Some(&accuracy(0.0)));
    let drawn = drawn.unwrap();
    assert!((drawn.counted_s - 20.0).abs() < 1e-9 && (drawn.gap_s - 10.0).abs() < 1e-9);
    assert!((drawn.charge_mah.value - 200.0).abs() < 1e-9);
    assert!((drawn.charge_mah.low - 200.0).abs() < 1e-9);
    assert!((drawn.charge_mah.high.unwrap() - 300.0).abs() < 1e-9);
    assert!((drawn.mean_power_w.unwrap().value - 720.0).abs() < 1e-9);
    assert_eq!(findings[0].code, "gap-in-current");
}

/// Two loggers merged into one log: the slower one's rows are mostly absent, which is no gap.
#[test]
fn absent_cells_between_samples_are_not_gaps() {
    let time: Vec<f64> = (0..=1000).map(|i| f64::from(i) * 0.02).collect();
    let current = (0..=1000)
        .map(|i| if i % 10 == 0 { 18.0 } else { f64::NAN })
        .collect();
    let drawn = draw(&log(time, &[(Channel::Current, current)]), None, None, None)
        .0
        .unwrap();
    assert_eq!(drawn.gap_s, 0.0);
    assert!((drawn.charge_mah.value - 100.0).abs() < 1e-9);
}

#[test]
fn a_dead_sensor_is_no_sensor() {
    let made = log(
        (0..200).map(|i| f64::from(i) * 0.1).collect(),
        &[
            (Channel::Current, vec![0.0; 200]),
            (Channel::Voltage, vec![16.0; 200]),
        ],
    );
    let (drawn, findings) = draw(&made, None, None, None);
    assert_eq!(drawn, None);
    assert_eq!(findings.len(), 1);
    assert_eq!(findings[0].code, "no-current");
    let bare = without(&made, &[Channel::Current]);
    assert_eq!(current_sensor(&bare, None), (CurrentSensor::Absent, None));
    assert!(draw(&bare, None, None, None).0.is_none());
}

#[test]
fn a_clipped_sensor_gives_lower_bounds() {
    let truth = Truth {
        current_noise_a: 0.4,
        ..Truth::default()
    };
    let sound = truth.fly();
    assert_eq!(current_sensor(&sound, None).0, CurrentSensor::Sound);
    let quiet = Truth::default().fly();
    assert_eq!(
        current_sensor(&quiet, None).0,
        CurrentSensor::Sound,
        "steady is not clipped"
    );
    let mut clipped = sound.clone();
    let current = clipped.channels.get_mut(&Channel::Current).unwrap();
    current.iter_mut().for_each(|i| *i = i.min(60.0));
    let (drawn, findings) = draw(&clipped, None, None, None);
    let drawn = drawn.unwrap();
    assert_eq!(drawn.sensor, CurrentSensor::Saturated { at_a: 60.0 });
    assert_eq!(drawn.charge_mah.high, None);
    assert_eq!(drawn.energy_wh.unwrap().high, None);
    assert!(
        findings.iter().any(|f| f.code == "saturated-current"),
        "{findings:?}"
    );
    let (declared, _) = current_sensor(&sound, Some(50.0));
    assert_eq!(declared, CurrentSensor::Saturated { at_a: 50.0 });
}

#[test]
fn one_row_is_refused_in_words() {
    let made = log(
        vec![0.0],
        &[
            (Channel::Current, vec![12.0]),
            (Channel::Voltage, vec![16.0]),
        ],
    );
    let (drawn, findings) = draw(&made, None, None, None);
    assert_eq!(drawn, None);
    assert_eq!(findings[0].code, "too-short");
}

/// ln ratios 0.02, 0.04, 0.06: mean 0.04, sd 0.02. Weighted mean by hand (GUM, JCGM 100:2008): the
/// charger's 0.04 - 0.005 with u² = (0.02² + 0.005²)/3 + 0.02²/3, the sensor's 0 with its own u.
#[test]
fn put_back_calibrates_the_sensor() {
    let pairs: Vec<(f64, f64)> = [0.02, 0.04, 0.06]
        .iter()
        .map(|l: &f64| (2000.0, 2000.0 * l.exp()))
        .collect();
    let charger = (0.000_4 + 0.000_025) / 3.0 + 0.000_4 / 3.0;
    for sensor_u in [0.001_f64, 0.016_6, 0.05] {
        let sensor = sensor_u * sensor_u;
        let scale = put_back_scale(&pairs, sensor_u).unwrap();
        let expected = 0.035 * sensor / (sensor + charger);
        assert!((scale.scale - expected.exp()).abs() < 1e-12);
        let u = (sensor * charger / (sensor + charger)).sqrt();
        assert!((scale.relative_u - u).abs() < 1e-12);
        assert!((scale.put_back_over_logged - 0.04_f64.exp()).abs() < 1e-12);
    }
    assert_eq!(
        put_back_scale(&[(0.0, 1800.0), (1500.0, f64::NAN)], 0.02),
        None
    );
    assert_eq!(put_back_scale(&[(1000.0, 1100.0)], 0.02), None);

    let made = log(
        (0..101).map(f64::from).collect(),
        &[(Channel::Current, vec![36.0; 101])],
    );
    let scale = put_back_scale(&pairs, 0.02).unwrap();
    let corrected = draw(&made, None, None, None).0.unwrap().calibrated(&scale);
    assert!((corrected.charge_mah.value - 1000.0 * scale.scale).abs() < 1e-9);
    let width = (corrected.charge_mah.high.unwrap() - corrected.charge_mah.low) / 2.0;
    assert!((width - 2.0 * scale.relative_u * corrected.charge_mah.value).abs() < 1e-9);
}

/// 3,600 mA.h with 25 % kept is 9,720 A.s; 36 A from 10 s on reach it after 270 s.
#[test]
fn reserve_is_reached_or_carried_on() {
    let fly = |until: i32| {
        let time: Vec<f64> = (0..=until).map(f64::from).collect();
        let current = time
            .iter()
            .map(|t| if *t < 10.0 { 0.0 } else { 36.0 })
            .collect();
        log(time, &[(Channel::Current, current)])
    };
    // The trapezoid from 9 to 10 s draws 18 A.s on the ground: half a second sooner.
    let reached = to_reserve(
        &fly(400),
        &airborne(&[(10.0, 390.0)]),
        3.6 * 3600.0,
        0.25,
        1.0,
    )
    .unwrap();
    assert!(reached.reached);
    assert!((reached.airborne_s - 269.5).abs() < 1e-9, "{reached:?}");
    let carried = to_reserve(
        &fly(110),
        &airborne(&[(10.0, 110.0)]),
        3.6 * 3600.0,
        0.25,
        1.0,
    )
    .unwrap();
    assert!(!carried.reached);
    assert!((carried.airborne_s - 269.5).abs() < 1e-9, "{carried:?}");
    assert_eq!(carried.flown_s, 100.0);
}

#[test]
fn a_flight_of_forty_seconds_is_read_to_the_end() {
    let truth = Truth {
        programme: vec![
            (3.0, 0.0),
            (15.0, 1.0),
            (25.0, 0.6),
            (35.0, 1.0),
            (40.0, 0.0),
        ],
        ..Truth::default()
    };
    let flown = truth.fly();
    let (phases, _) = benchborne::flight::phases::phases(&flown, None);
    let phases = phases.unwrap();
    let reserve = to_reserve(&flown, &phases, 5.0 * 3600.0, 0.2, 1.0).unwrap();
    assert!(!reserve.reached && reserve.airborne_s > 100.0);
    assert!(draw(&flown, None, None, None).0.unwrap().charge_mah.value > 300.0);
    assert!(benchborne::flight::pack::pack_fit(&flown).0.is_some());
}
