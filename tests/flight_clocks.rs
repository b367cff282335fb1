//! Two and more loggers of one flight: offset, drift, shared clocks, logs that are not used.

use benchborne::flight::clock::{self, ClockOffset};
use benchborne::flight::{record, velocity};
use benchborne::ingest::{Channel, Log, ReadOptions, read_log};
use rand::{RngExt, SeedableRng};
use rand_chacha::ChaCha8Rng;

/// s by which the thrust follows the current in the made flight: what the module takes for usual.
const LEAD_S: f64 = 0.2;

struct Made {
    power: Log,
    position: Log,
}

fn log(file: &str, time: Vec<f64>, channels: Vec<(Channel, Vec<f64>)>) -> Log {
    Log {
        file: file.to_owned(),
        lines: (0..time.len()).map(|i| i as u32 + 2).collect(),
        step_s: time[1] - time[0],
        channels: channels.into_iter().collect(),
        time,
        ..Log::default()
    }
}

/// A flight of steps of the throttle at random, flown in circles; `clock` turns true time into what
/// the position logger's clock reads.
fn flight(minutes: f64, seed: u64, clock: impl Fn(f64) -> f64) -> Made {
    fly(minutes, seed, clock, |rng| {
        (rng.random_range(0.2..1.0), rng.random_range(6.0..20.0))
    })
}

/// `next`: the throttle of a step and how long it is held, s.
fn fly(
    minutes: f64,
    seed: u64,
    clock: impl Fn(f64) -> f64,
    mut next: impl FnMut(&mut ChaCha8Rng) -> (f64, f64),
) -> Made {
    let mut rng = ChaCha8Rng::seed_from_u64(seed);
    let step = 0.1;
    let rows = (minutes * 60.0 / step) as usize;
    let (mut throttle, mut until) = (0.5, 0.0);
    let mut thrust = vec![0.0; rows];
    let mut current = Vec::with_capacity(rows);
    for row in 0..rows {
        let t = row as f64 * step;
        if t >= until {
            let held;
            (throttle, held) = next(&mut rng);
            until = t + held;
        }
        current.push(80.0 * throttle * throttle + rng.random_range(-1.0..1.0));
        let late = row + (LEAD_S / step) as usize;
        if let Some(thrust) = thrust.get_mut(late) {
            *thrust = 12.0 * throttle * throttle;
        }
    }
    let (mut speed, mut north, mut east) = (20.0, Vec::new(), Vec::new());
    for (row, thrust) in thrust.iter().enumerate() {
        speed += step * (thrust - speed / 4.0);
        let course = std::f64::consts::TAU * row as f64 * step / 45.0;
        let noise = |rng: &mut ChaCha8Rng| rng.random_range(-0.2..0.2);
        north.push(speed * course.cos() + noise(&mut rng));
        east.push(speed * course.sin() + noise(&mut rng));
    }
    let time: Vec<f64> = (0..rows).map(|row| row as f64 * step).collect();
    let stamps = time.iter().map(|t| clock(*t)).collect();
    Made {
        power: log("power.csv", time, vec![(Channel::Current, current)]),
        position: log(
            "position.csv",
            stamps,
            vec![
                (Channel::VelocityNorth, north),
                (Channel::VelocityEast, east),
            ],
        ),
    }
}

fn offset(made: &Made) -> ClockOffset {
    let velocity = velocity::of(&made.position).unwrap();
    clock::offset(&made.power, &made.position, &velocity).unwrap_or_else(|f| panic!("{f}"))
}

/// Both logs have ten rows a second; the truth lies between them.
#[test]
fn the_clock_offset_is_finer_than_one_sample_and_has_its_uncertainty() {
    let at = |truth: f64| {
        let found = offset(&flight(10.0, 11, |t| t - truth)).offset;
        let off = found.value_s - truth;
        println!("{truth}: {off:+.4} ± {:.4}", found.se_s);
        assert!(off.abs() < 0.1 && off.abs() < 2.0 * found.se_s, "{off}");
        assert!((0.0..0.25).contains(&found.se_s), "{found:?}");
        found.value_s
    };
    // The standard error holds what is not known of the lead of the current; without it, parts of
    // a sample tell.
    let whole = at(40.0);
    for part in [0.02, 0.05, 0.08] {
        let moved = at(40.0 + part) - whole;
        assert!((moved - part).abs() < 0.015, "{part}: {moved}");
    }
}

#[test]
fn a_correlation_peak_that_is_not_distinct_is_refused() {
    // Full and idle by turns of the same length: every cycle fits every other.
    let mut up = false;
    let made = fly(
        10.0,
        11,
        |t| t - 40.0,
        |_| {
            up = !up;
            (if up { 0.9 } else { 0.3 }, 10.0)
        },
    );
    let velocity = velocity::of(&made.position).unwrap();
    let refused = clock::offset(&made.power, &made.position, &velocity).unwrap_err();
    assert_eq!(refused.code, "clock-not-distinct", "{refused}");
    assert!(
        refused.what.contains("does not stand out from the next"),
        "{refused}"
    );
    assert_eq!(refused.place.unwrap().file, "position.csv");
}

#[test]
fn two_loggers_are_merged_by_throttle_against_acceleration() {
    let mut made = flight(10.0, 11, |t| t - 40.0);
    let current = made.power.channels.remove(&Channel::Current).unwrap();
    let throttle = current.iter().map(|a| (a.max(0.0) / 80.0).sqrt());
    made.power
        .channels
        .insert(Channel::Throttle, throttle.collect());
    let found = offset(&made);
    assert_eq!(found.by, ["thrust"]);
    let off = found.offset.value_s - 40.0;
    assert!(off.abs() < 3.0 * found.offset.se_s, "{off} {found:?}");
}

/// A channel that both logs have, and nothing else in the power log.
fn merged_by(channel: Channel, word: &str, series: impl Fn(&Made) -> Vec<f64>) {
    let mut made = flight(10.0, 11, |t| t - 40.0);
    let series = series(&made);
    made.power.channels.clear();
    made.power.channels.insert(channel, series.clone());
    made.position.channels.insert(channel, series);
    let found = offset(&made);
    assert_eq!(found.by, [word]);
    let off = found.offset.value_s - 40.0;
    assert!(off.abs() < 0.1, "{off} {found:?}");
    let merged = clock::merge(&made.power, &made.position, &found);
    let north = merged.get(Channel::VelocityNorth).unwrap();
    let truth = &made.position.channels[&Channel::VelocityNorth];
    let worst = (500..5000).map(|i| (north[i] - truth[i]).abs());
    assert!(worst.fold(0.0, f64::max) < 1.0);
}

#[test]
fn two_loggers_are_merged_by_height() {
    merged_by(Channel::Height, "height", |made| {
        let wave =
            |t: f64| 20.0 * (t / 13.0).sin() + 15.0 * (t / 29.0).sin() + 9.0 * (t / 7.3).sin();
        made.power.time.iter().map(|t| 60.0 + wave(*t)).collect()
    });
}

#[test]
fn two_loggers_are_merged_by_speed() {
    merged_by(Channel::GroundSpeed, "speed", |made| {
        velocity::of(&made.position).unwrap().speed()
    });
}

/// The truth is put in: a clock that gains some parts per million on the power logger's.
#[test]
fn the_drift_of_a_clock_over_half_an_hour_is_found_with_its_uncertainty() {
    for ppm in [-200.0, 50.0, 200.0, 400.0] {
        let made = flight(30.0, 7, |t| (t - 40.0) * (1.0 + ppm * 1e-6));
        let found = offset(&made);
        let drift = found.drift.unwrap();
        // A clock that gains needs less and less added.
        let off = drift.rate * 1e6 + ppm;
        println!(
            "{ppm} ppm: {:.1} ± {:.1}",
            -1e6 * drift.rate,
            1e6 * drift.half_width
        );
        assert!(
            off.abs() <= 1e6 * drift.half_width + 0.1,
            "{ppm}: {drift:?}"
        );
        assert!(drift.is_distinct(), "{ppm}: {drift:?}");
        let words = drift.finding("position.csv").what;
        assert!(words.contains("that was taken off"), "{words}");
        for truth in [100.0, 900.0, 1700.0] {
            let stamp = (truth - 40.0) * (1.0 + ppm * 1e-6);
            let off = found.to_power(stamp) - truth;
            assert!(off.abs() < 0.15, "{ppm} ppm, {truth} s: {off}");
            assert!((found.at(found.to_power(stamp)) + stamp - found.to_power(stamp)).abs() < 1e-9);
        }
    }
}

#[test]
fn clocks_without_drift_give_an_interval_that_holds_zero() {
    let held = (0..10)
        .filter(|seed| {
            let found = offset(&flight(25.0, 100 + seed, |t| t - 40.0));
            let drift = found.drift.unwrap();
            assert!(drift.half_width < 300e-6, "{drift:?}");
            !drift.is_distinct()
        })
        .count();
    // At 95 % a rate of 8 or more of 10 has a chance of 99 %.
    assert!(held >= 8, "{held} of 10");
}

#[test]
fn a_short_log_claims_no_drift() {
    assert_eq!(offset(&flight(12.0, 3, |t| t - 5.0)).drift, None);
}

#[test]
fn windows_that_disagree_are_refused_in_words() {
    // A clock that is set to and fro every five minutes.
    let made = flight(30.0, 5, |t| {
        let odd = (t / 300.0) as u32 % 2 == 1;
        t + if odd { 0.45 } else { -0.45 }
    });
    let velocity = velocity::of(&made.position).unwrap();
    let refused = clock::offset(&made.power, &made.position, &velocity).unwrap_err();
    assert_eq!(refused.code, "clock-windows-disagree", "{refused}");
}

/// Files of one logger that had counted for 500 s, by microseconds, at rates of their own.
fn files() -> [String; 4] {
    let rows = |step: f64, first: f64| {
        (0..(200.0 / step) as u32).map(move |i| first + f64::from(i) * step)
    };
    let stamp = |t: f64| format!("{:.0}", 1e6 * (500.0 + t));
    let moved = |t: f64| if (40.0..160.0).contains(&t) { 1.0 } else { 0.0 };
    let mut battery = String::from("timestamp,voltage_v,current_a\n");
    let mut unwired = battery.clone();
    for t in rows(0.2, 0.01) {
        battery += &format!(
            "{},16.{:02},{:.2}\n",
            stamp(t),
            (t as u32) % 50,
            30.0 * moved(t) + 0.1 * (t % 3.0)
        );
        unwired += &format!("{},15.9{},0.0\n", stamp(t + 1e-5), (t as u32) % 3);
    }
    let mut receiver = String::from("timestamp,vel_n_m_s,vel_e_m_s,alt_m\n");
    for t in rows(0.5, 0.3) {
        let speed = 20.0 * moved(t);
        receiver += &format!(
            "{},{:.3},{:.3},{:.2}\n",
            stamp(t),
            speed * (t / 9.0).cos(),
            speed * (t / 9.0).sin(),
            50.0 * moved(t)
        );
    }
    let mut pitot = String::from("timestamp,true_airspeed_m_s\n");
    for t in rows(1.0, 0.7) {
        pitot += &format!("{},{:.2}\n", stamp(t), 21.0 * moved(t) + 0.01 * t);
    }
    [unwired, battery, receiver, pitot]
}

fn read(text: &str, file: &str) -> Log {
    let read = read_log(text.as_bytes(), file, &ReadOptions::default());
    read.log
        .unwrap_or_else(|| panic!("{file}: {:?}", read.findings))
}

#[test]
fn files_that_share_a_clock_are_merged_and_a_dead_channel_does_not_stand_in() {
    let files = files();
    let names = ["unwired.csv", "battery.csv", "receiver.csv", "pitot.csv"];
    let logs = files.iter().zip(names).map(|(t, n)| read(t, n)).collect();
    let survey = record::survey(logs, None, None, None);
    let log = survey.log.unwrap();
    assert_eq!(log.file, "battery.csv");
    for channel in [
        Channel::Current,
        Channel::Airspeed,
        Channel::VelocityNorth,
        Channel::Height,
    ] {
        assert!(
            log.get(channel).is_some(),
            "{channel:?} is missing: {:?}",
            survey.findings
        );
    }
    // The receiver's values stand where its stamps say: speed from 40 s on.
    let airspeed = log.get(Channel::Airspeed).unwrap();
    let rise = log
        .time
        .iter()
        .zip(airspeed)
        .find(|(_, v)| **v > 10.5)
        .unwrap()
        .0;
    assert!((rise + 0.01 - 40.0).abs() < 1.2, "{rise}");
    let velocity = survey.velocity.unwrap();
    let speed = velocity.speed();
    let start = velocity
        .time
        .iter()
        .zip(&speed)
        .find(|(_, v)| **v > 10.0)
        .unwrap()
        .0;
    assert!((start + 0.01 - 40.0).abs() < 0.6, "{start}");
    let unused: Vec<_> = survey
        .unused
        .iter()
        .map(|u| (u.file.as_str(), u.code.as_str()))
        .collect();
    assert_eq!(unused, [("unwired.csv", "second-power-log")]);
    let shared = survey
        .findings
        .iter()
        .filter(|f| f.code == "shared-clock")
        .count();
    assert_eq!(shared, 2, "{:?}", survey.findings);
}

#[test]
fn loggers_switched_on_together_are_not_taken_for_one() {
    // The same files counted from their own start share nothing but the switch.
    let from_zero = |text: &str| {
        let rows = text
            .lines()
            .enumerate()
            .map(|(i, line)| match line.split_once(',') {
                Some((stamp, rest)) if i > 0 => {
                    format!("{:.0},{rest}\n", stamp.parse::<f64>().unwrap() - 5e8)
                }
                _ => format!("{line}\n"),
            });
        rows.collect::<String>()
    };
    let [_, battery, _, pitot] = files();
    let logs = vec![
        read(&from_zero(&battery), "battery.csv"),
        read(&from_zero(&pitot), "pitot.csv"),
    ];
    let survey = record::survey(logs, None, None, None);
    assert!(survey.log.unwrap().get(Channel::Airspeed).is_none());
    assert_eq!(survey.unused.len(), 1, "{:?}", survey.findings);
}
