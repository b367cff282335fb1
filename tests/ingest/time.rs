use benchborne::ingest::{Channel, LogRead, ReadOptions};
use benchborne::season::{ChannelDecl, ChannelMap};

use super::{close, codes, data, log, log_read};

/// A log of these times and a voltage.
fn with_times(header: &str, times: &[&str]) -> LogRead {
    let rows: String = times.iter().map(|t| format!("{t};12.1\n")).collect();
    log_read(format!("{header};Volts\n{rows}"), &ReadOptions::default())
}

fn times(header: &str, times: &[&str]) -> Vec<f64> {
    with_times(header, times).log.unwrap().time
}

fn starts(header: &str, time: &str, zone: Option<chrono_tz::Tz>) -> (String, Vec<String>) {
    let options = ReadOptions {
        zone,
        ..ReadOptions::default()
    };
    let read = log_read(format!("{header};Volts\n{time};12\n"), &options);
    let start = read
        .log
        .unwrap()
        .start
        .map(|s| s.to_rfc3339())
        .unwrap_or_default();
    let found = codes(&read.findings)
        .into_iter()
        .filter(|c| *c != "one-row");
    (start, found.map(str::to_owned).collect())
}

fn evenly(found: &[f64], step: f64) {
    found
        .iter()
        .enumerate()
        .for_each(|(i, t)| close(*t, i as f64 * step));
}

#[test]
fn the_unit_of_the_header_counts() {
    evenly(&times("Time (s)", &["5.0", "5.1", "5.2"]), 0.1);
    evenly(&times("Time (ms)", &["5000", "5100", "5200"]), 0.1);
    evenly(&times("time_us", &["5000000", "5100000", "5200000"]), 0.1);
    evenly(&times("Zeit [min]", &["1", "2", "3"]), 60.0);
}

#[test]
fn without_a_unit_steps_and_length_tell_it_and_a_finding_says_so() {
    for (stamps, step) in [
        (["0.0", "0.02", "0.04"], 0.02),
        (["7", "8", "9"], 1.0),
        (["100", "120", "140"], 0.02),
        (["540369296", "540569296", "540769296"], 0.2),
    ] {
        let read = with_times("time", &stamps);
        evenly(&read.log.unwrap().time, step);
        assert_eq!(codes(&read.findings), ["time-unit-assumed"]);
    }
}

#[test]
fn times_of_day_are_read_with_fractions_and_halves() {
    evenly(
        &times("Time", &["12:00:00.5", "12:00:01.0", "12:00:01.5"]),
        0.5,
    );
    evenly(&times("Time", &["00:01,5", "00:02,0", "00:02,5"]), 0.5);
    evenly(
        &times("Time", &["11:59:59 AM", "12:00:00 PM", "12:00:01 PM"]),
        1.0,
    );
    evenly(
        &times("Time", &["10:00:00:000", "10:00:00:250", "10:00:00:500"]),
        0.25,
    );
    evenly(
        &times("Uhrzeit", &["23:59:59", "00:00:00", "00:00:01"]),
        1.0,
    );
}

#[test]
fn two_parts_are_minutes_and_seconds_unless_a_date_stands_beside_them() {
    let read = with_times("Time", &["59:58", "59:59", "60:00"]);
    evenly(&read.log.unwrap().time, 1.0);
    assert_eq!(codes(&read.findings), ["minutes-and-seconds"]);
    let utc = "2025-04-12T12:30:00+00:00";
    assert_eq!(starts("UTC time", "2025-04-12 12:30", None).0, utc);
    assert_eq!(starts("Date;UTC time", "2025-04-12;12:30", None).0, utc);
}

#[test]
fn date_and_time_in_one_column_or_two() {
    let vienna = Some(chrono_tz::Europe::Vienna);
    for (header, time) in [
        ("Time", "2025-04-12T14:30:00"),
        ("Time", "2025-04-12 14:30:00"),
        ("Date;Time", "2025-04-12;14:30:00"),
        ("Datum;Uhrzeit", "12.04.2025;14:30:00"),
        ("Date", "12.4.25 14:30:00"),
        ("Time", "2025-04-12T12:30:00Z"),
        ("Time", "2025-04-12T08:30:00-04:00"),
        ("UTC time", "2025-04-12 12:30:00"),
        ("time_ms", "1744461000000"),
        ("timestamp (s)", "1744461000"),
    ] {
        let (start, _) = starts(header, time, vienna);
        assert_eq!(start, "2025-04-12T12:30:00+00:00", "{header} {time}");
    }
}

#[test]
fn a_time_of_day_alone_has_no_start() {
    assert_eq!(starts("Time", "14:30:00", None).0, "");
}

#[test]
fn ambiguous_dates_and_zones_are_said_to_be_so() {
    let vienna = Some(chrono_tz::Europe::Vienna);
    let (start, found) = starts("Date", "04/05/2025 10:00:00", vienna);
    assert_eq!(
        (start.as_str(), found),
        (
            "2025-05-04T08:00:00+00:00",
            vec!["date-order-assumed".to_owned()]
        )
    );
    let (start, found) = starts("Date", "04/25/2025 10:00:00", vienna);
    assert_eq!(
        (start.as_str(), found.len()),
        ("2025-04-25T08:00:00+00:00", 0)
    );
    let (start, found) = starts("Time", "2025-04-12 10:00:00", None);
    assert_eq!(
        (start.as_str(), found),
        ("2025-04-12T10:00:00+00:00", vec!["zone-unknown".to_owned()])
    );
    // Summer time ended in the European Union on 2025-10-26 at 01:00 UTC (directive 2000/84/EC).
    let (start, found) = starts("Time", "2025-10-26 02:30:00", vienna);
    assert_eq!(
        (start.as_str(), found),
        (
            "2025-10-26T00:30:00+00:00",
            vec!["ambiguous-local-time".to_owned()]
        )
    );
    // It began on 2025-03-30 at 01:00 UTC.
    let (start, found) = starts("Time", "2025-03-30 02:30:00", vienna);
    assert_eq!(
        (start.as_str(), found),
        (
            "2025-03-30T01:30:00+00:00",
            vec!["no-such-local-time".to_owned()]
        )
    );
    let (start, _) = starts("Time", "2025-03-30 12:00:00", vienna);
    assert_eq!(start, "2025-03-30T10:00:00+00:00");
}

#[test]
fn without_a_time_column_the_rate_is_needed() {
    let text = "Volts;Amps\n12;1\n12;2\n12;3\n";
    let read = log_read(text, &ReadOptions::default());
    assert_eq!(read.log, None);
    assert_eq!(codes(&read.findings), ["no-time"]);
    assert_eq!((read.ledger.rows_in, read.ledger.rows_used), (3, 0));
    let options = ReadOptions {
        rate_hz: Some(10.0),
        ..ReadOptions::default()
    };
    let read = log_read(text, &options);
    evenly(&read.log.unwrap().time, 0.1);
    assert_eq!(codes(&read.findings), ["time-by-rate"]);
}

#[test]
fn a_clock_that_was_reset_goes_on_after_a_break() {
    let read = with_times("Time (s)", &["100", "101", "102", "0", "1", "2"]);
    let log = read.log.unwrap();
    assert_eq!(log.time, [0.0, 1.0, 2.0, 3.0, 4.0, 5.0]);
    assert_eq!(log.breaks, [3]);
    assert_eq!(codes(&read.findings), ["clock-reset"]);
    assert_eq!(read.findings[0].place.as_ref().unwrap().line, Some(5));
}

#[test]
fn a_clock_that_was_set_in_flight_dates_the_start() {
    let read = with_times(
        "Time",
        &[
            "2000-01-01 00:00:00Z",
            "2000-01-01 00:00:01Z",
            "2025-04-12 12:30:00Z",
            "2025-04-12 12:30:01Z",
        ],
    );
    let log = read.log.unwrap();
    assert_eq!(log.time, [0.0, 1.0, 2.0, 3.0]);
    assert_eq!(log.start.unwrap().to_rfc3339(), "2025-04-12T12:29:58+00:00");
}

#[test]
fn stray_and_repeated_times_are_set_aside() {
    let read = with_times(
        "Time (s)",
        &["0", "1", "1", "2", "0.5", "3", "9999", "4", "x", "5"],
    );
    assert_eq!(read.log.unwrap().time, [0.0, 1.0, 2.0, 3.0, 4.0, 5.0]);
    let reasons: Vec<_> = read
        .ledger
        .reasons
        .iter()
        .map(|r| (r.code.as_str(), r.count, r.first_line))
        .collect();
    assert_eq!(
        reasons,
        [
            ("no-time", 1, 10),
            ("repeated-time", 1, 4),
            ("stray-time", 2, 6)
        ]
    );
}

#[test]
fn rows_of_a_coarse_clock_are_spread() {
    let stamps: Vec<String> = (0..40).map(|i| format!("10:00:{:02}", i / 4)).collect();
    let read = with_times(
        "Time",
        &stamps.iter().map(String::as_str).collect::<Vec<_>>(),
    );
    evenly(&read.log.unwrap().time, 0.25);
    assert_eq!(codes(&read.findings), ["coarse-clock"]);
}

#[test]
fn a_gap_is_a_break_and_a_short_one_behind_a_repeated_header_too() {
    let mut text = "Time (s);Volts\n".to_owned();
    (0..20).for_each(|i| text += &format!("{:.1};12\n", f64::from(i) * 0.1));
    text += "8.0;12\n8.1;12\nTime (s);Volts\n8.6;12\n";
    let log = log(text);
    assert_eq!(log.breaks, [20, 22]);
    close(log.time[22], 8.6);
    close(log.step_s, 0.1);
}

#[test]
fn values_are_si_and_absent_ones_nan() {
    let text =
        "Time (s);Volts;Temp ESC (°C);GPS Speed (km/h)\n0;12,5;20;\n1;>13;err;36\n2;12,5;-;72\n";
    let read = log_read(text, &ReadOptions::default());
    let log = read.log.unwrap();
    let get = |c| log.get(c).unwrap();
    close(get(Channel::GroundSpeed)[2], 20.0);
    close(get(Channel::ControllerTemperature)[0], 293.15);
    assert!(
        get(Channel::ControllerTemperature)[1..]
            .iter()
            .all(|t| t.is_nan())
    );
    assert!(get(Channel::GroundSpeed)[0].is_nan() && get(Channel::Voltage)[1].is_nan());
    assert_eq!(log.lines, [2, 3, 4]);
    assert_eq!(codes(&read.findings), ["bounded-cells", "unreadable-cells"]);
    let place = read.findings[1].place.as_ref().unwrap();
    assert_eq!((place.line, place.column), (Some(3), Some(3)));
}

/// Values: the rows of the files themselves, converted by hand.
#[test]
fn a_published_flight_reads_from_microseconds_ten_millionths_and_millimetres() {
    let read = log_read(data("seaplane/battery.csv"), &ReadOptions::default());
    let log = read.log.unwrap();
    close(log.time[1], (539_383_506.0 - 539_373_509.0) * 1e-6);
    close(log.get(Channel::Voltage).unwrap()[0], 15.938955);
    close(log.get(Channel::Current).unwrap()[0], 0.03479375);
    close(log.get(Channel::Charge).unwrap()[0], 405.04987 * 3.6);
    let read = log_read(data("seaplane/gps.csv"), &ReadOptions::default());
    let log = read.log.unwrap();
    assert_eq!(log.start.unwrap().to_rfc3339(), "2023-05-03T13:00:54+00:00");
    close(
        log.time[1],
        (1_683_118_854_599_770.0 - 1_683_118_853_999_771.0) * 1e-6,
    );
    close(log.get(Channel::Latitude).unwrap()[0], 42.358583);
    close(log.get(Channel::Longitude).unwrap()[0], -71.0872889);
    close(log.get(Channel::Height).unwrap()[0], 7.702);
    close(log.get(Channel::VelocityDown).unwrap()[0], 0.23);
    close(log.get(Channel::Course).unwrap()[0], 4.0069685);
}

#[test]
fn a_channel_map_reaches_the_log() {
    let throttle = ChannelDecl {
        column: "stick".to_owned(),
        unit: Some("us".to_owned()),
        ends: Some((1900.0, 1100.0)),
        scale: None,
        ..ChannelDecl::default()
    };
    let channels = ChannelMap::from([("throttle".to_owned(), throttle)]);
    let options = ReadOptions {
        channels,
        ..ReadOptions::default()
    };
    let log = log_read("Time (s),stick\n0,1900\n1,1300\n", &options)
        .log
        .unwrap();
    assert_eq!(log.get(Channel::Throttle).unwrap(), &[0.0, 0.75]);
}

#[test]
fn a_log_of_one_row_is_read_with_a_warning() {
    let read = with_times("Time (s)", &["0"]);
    assert_eq!(read.log.unwrap().len(), 1);
    assert!(codes(&read.findings).contains(&"one-row"));
}
