//! Values that cannot be, and the zero of the current sensor.

use benchborne::ingest::sense::{hampel, zero_current};
use benchborne::ingest::{Channel, Log};

use super::{codes, log_read};

/// A log at 10 Hz of these columns.
fn made(header: &str, rows: usize, row: impl Fn(usize) -> String) -> benchborne::ingest::LogRead {
    let mut text = format!("time (s);{header}\n");
    for i in 0..rows {
        text += &format!("{:.1};{}\n", i as f64 / 10.0, row(i));
    }
    log_read(text, &Default::default())
}

fn absent(log: &Log, channel: Channel) -> Vec<usize> {
    let values = log.get(channel).unwrap();
    (0..values.len()).filter(|&i| values[i].is_nan()).collect()
}

/// Median 11, absolute deviations 0, 1, 1, 89, 0, 1, 0 with median 1: 100 is 89 / 1.4826 = 60 scales
/// off (worked by hand after the definition).
#[test]
fn the_hampel_rule_finds_the_value_that_stands_alone() {
    let values = [11.0, 10.0, 12.0, 100.0, 11.0, 12.0, 11.0];
    assert_eq!(hampel(&values, 3, 3.0, 0.0), [3]);
    assert_eq!(hampel(&values, 3, 61.0, 0.0), [0usize; 0]);
    // A step is no spike.
    assert_eq!(
        hampel(&[0.0, 0.0, 0.0, 0.0, 9.0, 9.0, 9.0, 9.0], 3, 3.0, 0.0),
        [0usize; 0]
    );
}

#[test]
fn a_spike_becomes_absent_and_is_counted_but_no_row_is_lost() {
    let read = made("Volts", 100, |i| {
        let volts = if i == 60 { 3.0 } else { 16.8 - 0.01 * i as f64 };
        format!("{volts:.2}")
    });
    assert_eq!((read.ledger.rows_in, read.ledger.rows_used), (100, 100));
    let found = read.findings.iter().find(|f| f.code == "spikes").unwrap();
    assert_eq!(found.place.as_ref().unwrap().line, Some(62));
    assert_eq!(absent(&read.log.unwrap(), Channel::Voltage), [60]);
}

#[test]
fn a_blip_of_the_stick_or_a_pulse_in_volts_and_amps_is_no_spike() {
    let blip = |i: usize| i == 60;
    let read = made("Throttle (%);Amps", 100, |i| {
        if blip(i) {
            "80;60".to_owned()
        } else {
            format!("10;{:.1}", 2.0 + (i % 3) as f64 / 10.0)
        }
    });
    assert!(!codes(&read.findings).contains(&"spikes"));
    let read = made("Volts;Amps", 100, |i| {
        if blip(i) {
            "14.1;60".to_owned()
        } else {
            format!("16.{};2.{}", i % 2, i % 3)
        }
    });
    assert!(
        !codes(&read.findings).contains(&"spikes"),
        "{:?}",
        read.findings
    );
}

#[test]
fn a_channel_that_holds_still_while_its_cause_moves_is_stuck() {
    let read = made("Throttle (%);Volts;Amps", 200, |i| {
        let stick = 50.0 + 45.0 * (i as f64 / 15.0).sin();
        let amps = if (100..180).contains(&i) {
            31.7
        } else {
            0.8 * stick
        };
        format!("{stick:.1};{:.2};{amps:.2}", 16.8 - 0.02 * amps)
    });
    assert!(codes(&read.findings).contains(&"stuck-channel"));
    let log = read.log.unwrap();
    assert_eq!(
        absent(&log, Channel::Current),
        (101..180).collect::<Vec<_>>()
    );
    assert_eq!(absent(&log, Channel::Voltage), [0usize; 0]);
}

#[test]
fn a_clipped_sensor_is_named_and_its_values_stay() {
    let read = made("Amps", 300, |i| {
        format!(
            "{:.2}",
            f64::min(80.0 + 40.0 * (i as f64 / 20.0).sin(), 100.0)
        )
    });
    assert!(codes(&read.findings).contains(&"clipped-channel"));
    assert_eq!(absent(&read.log.unwrap(), Channel::Current), [0usize; 0]);
}

#[test]
fn positions_before_a_fix_with_few_satellites_or_off_the_track_become_absent() {
    let read = made(
        "Latitude (deg);Longitude (deg);Speed (m/s);Satellites",
        100,
        |i| {
            let (lat, lon) = match i {
                0..10 => (0.0, 0.0),
                50..53 => (48.6, 16.0),
                _ => (48.0 + 1e-5 * i as f64, 16.0),
            };
            let satellites = if (70..75).contains(&i) { 3 } else { 9 };
            format!("{lat:.6};{lon:.6};11.1;{satellites}")
        },
    );
    let found = codes(&read.findings);
    for code in ["no-position", "few-satellites", "position-jumps"] {
        assert!(found.contains(&code), "{code}: {found:?}");
    }
    let log = read.log.unwrap();
    let expected: Vec<usize> = (0..10).chain(50..53).chain(70..75).collect();
    assert_eq!(absent(&log, Channel::Latitude), expected);
    assert_eq!(
        absent(&log, Channel::GroundSpeed),
        (70..75).collect::<Vec<_>>()
    );
    assert_eq!(read.ledger.rows_used, 100);
}

fn with_offset(offset: f64) -> Log {
    made("Throttle (%);Amps", 200, |i| {
        let stick = if i < 100 { 0.0 } else { 60.0 };
        format!(
            "{stick};{:.2}",
            offset + 0.9 * stick + 0.02 * (i % 3) as f64
        )
    })
    .log
    .unwrap()
}

#[test]
fn the_zero_of_the_current_sensor_is_taken_off() {
    let mut log = with_offset(-1.4);
    let mut findings = Vec::new();
    let offset = zero_current(&mut log, &[0..60, 60..120], &mut findings).unwrap();
    assert!((offset + 1.38).abs() < 1e-9, "{offset}");
    assert!((log.get(Channel::Current).unwrap()[150] - 54.0).abs() < 0.03);
    assert_eq!(codes(&findings), ["current-zero"]);
}

#[test]
fn what_a_receiver_draws_or_a_running_motor_is_no_zero() {
    for (offset, found) in [(0.3, vec![]), (9.0, vec!["current-at-rest"])] {
        let mut log = with_offset(offset);
        let mut findings = Vec::new();
        assert_eq!(
            zero_current(&mut log, &[0..60, 60..120], &mut findings),
            None
        );
        assert_eq!(codes(&findings), found);
        // A steady offset that large would be in every charge and power: the current is left out.
        assert_eq!(log.get(Channel::Current).is_some(), found.is_empty());
    }
}
