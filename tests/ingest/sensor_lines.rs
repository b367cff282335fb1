//! A test for each fault of a sensor: what is wrong stands in the ledger, and no row is lost.

use benchborne::ingest::sense::zero_current;
use benchborne::ingest::{Channel, LogRead};

use super::{close, codes, log_read};

/// A log at 10 Hz; every row is used.
fn made(header: &str, rows: usize, row: impl Fn(usize) -> String) -> LogRead {
    let rows_text = (0..rows).map(|i| format!("{:.1};{}\n", i as f64 / 10.0, row(i)));
    let text = format!("time (s);{header}\n") + &rows_text.collect::<String>();
    let read = log_read(text, &Default::default());
    assert_eq!(
        (read.ledger.rows_in, read.ledger.rows_used),
        (rows as u64, rows as u64)
    );
    assert_eq!(read.log.as_ref().unwrap().len(), rows);
    read
}

fn marked(read: &LogRead) -> Vec<(&str, &str, u64, u64)> {
    let marks = read.ledger.marked.iter();
    marks
        .map(|m| (m.channel.as_str(), m.code.as_str(), m.count, m.first_line))
        .collect()
}

#[test]
fn current_zero_offset_from_the_ground_phase() {
    let read = made("Throttle (%);Amps", 200, |i| {
        let stick = if i < 100 { 0.0 } else { 60.0 };
        format!("{stick};{:.2}", 1.5 + 0.5 * stick)
    });
    let mut log = read.log.unwrap();
    let mut findings = Vec::new();
    let ground = 0..100;
    close(
        zero_current(&mut log, &[ground], &mut findings).unwrap(),
        1.5,
    );
    let current = log.get(Channel::Current).unwrap();
    close(current[20], 0.0);
    close(current[150], 30.0);
    assert!(findings[0].what.contains("1.50 A"), "{}", findings[0]);
}

#[test]
fn stuck_channel() {
    let read = made("Throttle (%);Amps", 200, |i| {
        let stick = 50.0 + 45.0 * (i as f64 / 15.0).sin();
        let amps = if (100..180).contains(&i) {
            31.7
        } else {
            0.8 * stick
        };
        format!("{stick:.1};{amps:.2}")
    });
    assert_eq!(marked(&read), [("current", "stuck-channel", 79, 103)]);
    let log = read.log.unwrap();
    let current = log.get(Channel::Current).unwrap();
    // The first of the run was still measured.
    close(current[100], 31.7);
    assert!(current[101..180].iter().all(|x| x.is_nan()));
    assert!(current[180].is_finite());
}

#[test]
fn saturated_channel() {
    let read = made("Amps", 300, |i| {
        format!(
            "{:.2}",
            f64::min(80.0 + 40.0 * (i as f64 / 20.0).sin(), 100.0)
        )
    });
    let said = read.findings.iter().find(|f| f.code == "clipped-channel");
    assert_eq!(said.unwrap().place.as_ref().unwrap().line, Some(13));
    // What a sensor at its end shows is a bound, not rubbish: it stays.
    let log = read.log.unwrap();
    let current = log.get(Channel::Current).unwrap();
    let top = current.iter().filter(|x| **x == 100.0).count();
    assert!(
        said.unwrap()
            .what
            .contains(&format!("largest value {top} times")),
        "{said:?}"
    );
    assert!(current.iter().all(|x| x.is_finite()));
}

/// A steady flight at its top speed is no end of a receiver's range.
#[test]
fn held_gps_speed_is_not_saturated() {
    let read = made("Speed (m/s);Latitude (deg)", 300, |i| {
        let speed = f64::min(24.0 + 12.0 * (i as f64 / 20.0).sin(), 31.5);
        format!("{speed:.1};{:.6}", 48.0 + 1e-6 * i as f64)
    });
    let found = codes(&read.findings);
    assert!(!found.contains(&"clipped-channel"), "{found:?}");
    assert!(!found.contains(&"stuck-channel"), "{found:?}");
    let speed = &read.log.as_ref().unwrap().channels[&Channel::GroundSpeed];
    assert!(speed.iter().filter(|v| **v == 31.5).count() > 60);
    assert_eq!(marked(&read), []);
}

/// The rule: F. R. Hampel, The influence curve and its role in robust estimation, 1974, as applied to
/// moving windows by R. K. Pearson, 2002 (both from memory).
#[test]
fn hampel_spikes() {
    let read = made("Volts", 100, |i| {
        let volts = if i == 60 { 3.0 } else { 16.8 - 0.01 * i as f64 };
        format!("{volts:.2}")
    });
    assert_eq!(marked(&read), [("voltage", "spikes", 1, 62)]);
    let log = read.log.unwrap();
    let volts = log.get(Channel::Voltage).unwrap();
    assert!(volts[60].is_nan());
    close(volts[59], 16.21);
    close(volts[61], 16.19);
}

fn flown(jump: std::ops::Range<usize>, dim: std::ops::Range<usize>) -> LogRead {
    made("Latitude (deg);Longitude (deg);Satellites", 100, |i| {
        let off = if jump.contains(&i) { 0.5 } else { 0.0 };
        let satellites = if dim.contains(&i) { 3 } else { 9 };
        format!("{:.6};16.0;{satellites}", 48.0 + off + 1e-5 * i as f64)
    })
}

#[test]
fn gps_jump() {
    let read = flown(50..53, 0..0);
    assert_eq!(
        marked(&read),
        [
            ("latitude", "position-jumps", 3, 52),
            ("longitude", "position-jumps", 3, 52)
        ]
    );
    let log = read.log.unwrap();
    let latitude = log.get(Channel::Latitude).unwrap();
    assert!(latitude[50..53].iter().all(|x| x.is_nan()));
    close(latitude[49], 48.00049);
    close(latitude[53], 48.00053);
}

#[test]
fn low_satellite_count() {
    let read = flown(0..0, 70..75);
    assert_eq!(
        marked(&read),
        [
            ("latitude", "few-satellites", 5, 72),
            ("longitude", "few-satellites", 5, 72)
        ]
    );
    let log = read.log.unwrap();
    assert!(
        log.get(Channel::Latitude).unwrap()[70..75]
            .iter()
            .all(|x| x.is_nan())
    );
    close(log.get(Channel::Latitude).unwrap()[75], 48.00075);
    assert_eq!(
        log.get(Channel::Satellites).unwrap()[72],
        3.0,
        "the count itself stays"
    );
}

/// A whole log of faults: every row is still there, and every value that is not is in the ledger.
#[test]
fn marked_in_the_ledger_never_deleted() {
    let read = made(
        "Throttle (%);Volts;Amps;Latitude (deg);Longitude (deg);Satellites",
        200,
        |i| {
            let stick = 50.0 + 45.0 * (i as f64 / 15.0).sin();
            let volts = if i == 20 { 2.0 } else { 16.8 };
            let amps = if (100..180).contains(&i) {
                31.7
            } else {
                0.8 * stick
            };
            let off = if i == 40 { 0.5 } else { 0.0 };
            let satellites = if (60..63).contains(&i) { 2 } else { 9 };
            format!(
                "{stick:.1};{:.2};{amps:.2};{:.6};16.0;{satellites}",
                volts - 0.01 * (i % 5) as f64,
                48.0 + off + 1e-5 * i as f64
            )
        },
    );
    let absent = read.log.as_ref().unwrap().channels.values().flatten();
    let absent = absent.filter(|x| x.is_nan()).count() as u64;
    let counted: u64 = read.ledger.marked.iter().map(|m| m.count).sum();
    assert_eq!(absent, counted);
    let reasons: Vec<&str> = read.ledger.marked.iter().map(|m| m.code.as_str()).collect();
    for code in [
        "few-satellites",
        "position-jumps",
        "spikes",
        "stuck-channel",
    ] {
        assert!(reasons.contains(&code), "{code}: {reasons:?}");
    }
    assert_eq!(read.ledger.reasons, [], "{:?}", codes(&read.findings));
}
