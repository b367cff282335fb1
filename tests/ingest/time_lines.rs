//! A test for each way of telling the time, and for each thing that may go wrong with it.

use benchborne::ingest::{Channel, Log, LogRead, ReadOptions};

use super::{close, codes, log_read};

/// A log of a time column and one of volts: 12.0, 12.1, 12.2, …
fn read_in(zone: Option<chrono_tz::Tz>, header: &str, times: &[&str]) -> LogRead {
    let volts = |i: usize| 12.0 + 0.1 * i as f64;
    let rows: String = times
        .iter()
        .enumerate()
        .map(|(i, t)| format!("{t};{:.1}\n", volts(i)))
        .collect();
    let options = ReadOptions {
        zone,
        ..ReadOptions::default()
    };
    log_read(format!("{header};Volts\n{rows}"), &options)
}

fn read(header: &str, times: &[&str]) -> LogRead {
    read_in(None, header, times)
}

fn log(header: &str, times: &[&str]) -> Log {
    read(header, times).log.unwrap()
}

fn same(found: &[f64], expected: &[f64]) {
    assert_eq!(found.len(), expected.len(), "{found:?}");
    found.iter().zip(expected).for_each(|(a, b)| close(*a, *b));
}

fn started(read: &LogRead) -> String {
    read.log.as_ref().unwrap().start.unwrap().to_rfc3339()
}

fn vienna() -> Option<chrono_tz::Tz> {
    Some(chrono_tz::Europe::Vienna)
}

fn aside(read: &LogRead) -> Vec<(&str, u64, u64)> {
    let reasons = read.ledger.reasons.iter();
    reasons
        .map(|r| (r.code.as_str(), r.count, r.first_line))
        .collect()
}

#[test]
fn seconds() {
    same(
        &log("Time (s)", &["7.5", "8.0", "8.5"]).time,
        &[0.0, 0.5, 1.0],
    );
}

#[test]
fn milliseconds() {
    same(
        &log("Time (ms)", &["7500", "7540", "7580"]).time,
        &[0.0, 0.04, 0.08],
    );
}

#[test]
fn microseconds() {
    same(
        &log("Time (us)", &["7500", "9500", "11500"]).time,
        &[0.0, 0.002, 0.004],
    );
}

#[test]
fn hours_minutes_seconds_with_fractions() {
    let times = ["09:59:59.75", "10:00:00.00", "10:00:00.25"];
    same(&log("Time", &times).time, &[0.0, 0.25, 0.5]);
}

#[test]
fn date_and_time_in_separate_columns() {
    let rows = ["12.04.2025;23:59:59.5", "13.04.2025;00:00:00.0"];
    let read = read_in(vienna(), "Date;Time", &rows);
    assert_eq!(started(&read), "2025-04-12T21:59:59.500+00:00");
    same(&read.log.unwrap().time, &[0.0, 0.5]);
}

#[test]
fn iso_8601() {
    for times in [
        ["2025-04-12T10:00:00.5Z", "2025-04-12T10:00:01.5Z"],
        ["2025-04-12T12:00:00.5+02:00", "2025-04-12T12:00:01.5+02:00"],
        ["20250412T100000.5Z", "20250412T100001.5Z"],
        ["20250412T120000,5+0200", "20250412T120001,5+0200"],
    ] {
        let read = read("Time", &times);
        assert_eq!(started(&read), "2025-04-12T10:00:00.500+00:00");
        same(&read.log.unwrap().time, &[0.0, 1.0]);
    }
}

#[test]
fn day_first() {
    // Only the last row tells which way round.
    let times = ["12/04/2025 23:59:59Z", "13/04/2025 00:00:00Z"];
    let read = read("Time", &times);
    assert_eq!(started(&read), "2025-04-12T23:59:59+00:00");
    assert!(!codes(&read.findings).contains(&"date-order-assumed"));
}

#[test]
fn month_first() {
    let times = ["04/12/2025 23:59:59Z", "04/13/2025 00:00:00Z"];
    let read = read("Time", &times);
    assert_eq!(started(&read), "2025-04-12T23:59:59+00:00");
    same(&read.log.unwrap().time, &[0.0, 1.0]);
}

#[test]
fn day_first_or_month_first_is_reported() {
    let read = read("Time", &["04/05/2025 10:00:00Z", "04/05/2025 10:00:01Z"]);
    assert_eq!(started(&read), "2025-05-04T10:00:00+00:00");
    let doubt = read
        .findings
        .iter()
        .find(|f| f.code == "date-order-assumed");
    assert!(doubt.unwrap().to_do.contains("dates = \"month-first\""));
}

#[test]
fn local_time_in_an_iana_zone() {
    let times = ["2025-01-12 10:00:00", "2025-01-12 10:00:01"];
    assert_eq!(
        started(&read_in(vienna(), "Time", &times)),
        "2025-01-12T09:00:00+00:00"
    );
    let summer = ["2025-07-12 10:00:00", "2025-07-12 10:00:01"];
    assert_eq!(
        started(&read_in(vienna(), "Time", &summer)),
        "2025-07-12T08:00:00+00:00"
    );
}

/// Summer time began in the European Union on 2025-03-30 at 01:00 UTC (directive 2000/84/EC).
#[test]
fn daylight_saving_spring_gap() {
    let times = [
        "2025-03-30 01:59:58",
        "2025-03-30 01:59:59",
        "2025-03-30 03:00:00",
        "2025-03-30 03:00:01",
    ];
    let read = read_in(vienna(), "Time", &times);
    assert_eq!(started(&read), "2025-03-30T00:59:58+00:00");
    assert_eq!(codes(&read.findings), ["clocks-changed"]);
    let log = read.log.unwrap();
    same(&log.time, &[0.0, 1.0, 2.0, 3.0]);
    assert_eq!(log.breaks, [0usize; 0]);
}

/// It ended on 2025-10-26 at 01:00 UTC (same directive).
#[test]
fn daylight_saving_autumn_fold() {
    let times = [
        "2025-10-26 02:59:58",
        "2025-10-26 02:59:59",
        "2025-10-26 02:00:00",
        "2025-10-26 02:00:01",
    ];
    let read = read_in(vienna(), "Time", &times);
    // The first of the two hours is summer time.
    assert_eq!(started(&read), "2025-10-26T00:59:58+00:00");
    assert_eq!(
        codes(&read.findings),
        ["ambiguous-local-time", "clocks-changed"]
    );
    let log = read.log.unwrap();
    same(&log.time, &[0.0, 1.0, 2.0, 3.0]);
    assert_eq!(log.breaks, [0usize; 0]);
}

#[test]
fn a_logger_whose_clock_was_not_changed_keeps_its_steps() {
    for times in [
        [
            "2025-03-30 01:59:59",
            "2025-03-30 02:00:00",
            "2025-03-30 02:00:01",
        ],
        [
            "2025-03-30 02:59:59",
            "2025-03-30 03:00:00",
            "2025-03-30 03:00:01",
        ],
        [
            "2025-10-26 01:59:59",
            "2025-10-26 02:00:00",
            "2025-10-26 02:00:01",
        ],
        [
            "2025-10-26 02:59:59",
            "2025-10-26 03:00:00",
            "2025-10-26 03:00:01",
        ],
    ] {
        let read = read_in(vienna(), "Time", &times);
        assert!(!codes(&read.findings).contains(&"clocks-changed"));
        same(&read.log.unwrap().time, &[0.0, 1.0, 2.0]);
    }
}

#[test]
fn a_stray_stamp_in_the_night_of_the_change_does_no_harm() {
    let times = [
        "2025-03-30 01:00:00",
        "2025-03-30 01:00:01",
        "2025-03-30 05:00:00",
        "2025-03-30 01:00:02",
        "2025-03-30 01:00:03",
    ];
    let read = read_in(vienna(), "Time", &times);
    assert_eq!(aside(&read), [("stray-time", 1, 4)]);
    same(&read.log.unwrap().time, &[0.0, 1.0, 2.0, 3.0]);
}

/// GPS time began on 1980-01-06; 2025-04-12 (a Saturday) lies in week 2361, and satellite time was
/// 18 s ahead of UTC (IERS Bulletin C).
#[test]
fn gps_week_and_seconds() {
    let saturday_10_utc = 6.0 * 86_400.0 + 36_000.0 + 18.0;
    let rows: Vec<String> = (0..3)
        .map(|i| format!("2361;{:.1}", saturday_10_utc + 0.2 * f64::from(i)))
        .collect();
    let rows: Vec<&str> = rows.iter().map(String::as_str).collect();
    for header in [
        "GPS week;GPS seconds",
        "GPS week;GPS seconds of week",
        "week;TOW (s)",
    ] {
        let read = read(header, &rows);
        assert_eq!(started(&read), "2025-04-12T10:00:00+00:00", "{header}");
        let time = read.log.unwrap().time;
        assert!((time[2] - 0.4).abs() < 1e-6, "{time:?}");
    }
}

#[test]
fn no_time_column_rate_declared() {
    let options = ReadOptions {
        rate_hz: Some(4.0),
        ..ReadOptions::default()
    };
    let read = log_read("Volts;Amps\n12.0;1\n12.1;2\n12.2;3\n", &options);
    let log = read.log.unwrap();
    same(&log.time, &[0.0, 0.25, 0.5]);
    assert_eq!(log.get(Channel::Voltage).unwrap(), &[12.0, 12.1, 12.2]);
}

#[test]
fn no_time_column_refused() {
    let read = log_read("Volts;Amps\n12;1\n12;2\n", &ReadOptions::default());
    assert_eq!(read.log, None);
    assert_eq!(codes(&read.findings), ["no-time"]);
    assert!(read.findings[0].to_do.contains("rate = \"10 Hz\""));
}

#[test]
fn clock_reset() {
    let read = read("Time (s)", &["50", "51", "52", "0", "1", "2"]);
    let reset = read.findings.iter().find(|f| f.code == "clock-reset");
    assert_eq!(reset.unwrap().place.as_ref().unwrap().line, Some(5));
    assert_eq!(aside(&read), []);
    let log = read.log.unwrap();
    same(&log.time, &[0.0, 1.0, 2.0, 3.0, 4.0, 5.0]);
    assert_eq!(log.breaks, [3]);
}

#[test]
fn backward_step() {
    let read = read("Time (s)", &["0", "1", "2", "1.5", "3", "4"]);
    assert_eq!(aside(&read), [("stray-time", 1, 5)]);
    let log = read.log.unwrap();
    same(&log.time, &[0.0, 1.0, 2.0, 3.0, 4.0]);
    same(
        log.get(Channel::Voltage).unwrap(),
        &[12.0, 12.1, 12.2, 12.4, 12.5],
    );
}

#[test]
fn duplicated_stamps() {
    let read = read(
        "Time (s)",
        &["0", "1", "1", "1", "2", "3", "4", "5", "6", "7"],
    );
    assert_eq!(aside(&read), [("repeated-time", 2, 4)]);
    let log = read.log.unwrap();
    same(&log.time, &[0.0, 1.0, 2.0, 3.0, 4.0, 5.0, 6.0, 7.0]);
    // The first row of a stamp stays.
    close(log.get(Channel::Voltage).unwrap()[1], 12.1);
}

#[test]
fn gaps() {
    let mut times: Vec<String> = (0..30)
        .map(|i| format!("{:.1}", f64::from(i) * 0.1))
        .collect();
    times.extend(["42.0", "42.1"].map(str::to_owned));
    let times: Vec<&str> = times.iter().map(String::as_str).collect();
    let read = read("Time (s)", &times);
    let gap = read.findings.iter().find(|f| f.code == "gaps").unwrap();
    assert!(
        gap.what.contains("1 time(s), at longest for 39.1 s"),
        "{gap}"
    );
    let log = read.log.unwrap();
    assert_eq!(log.breaks, [30]);
    close(log.time[30], 42.0);
}

fn wraps(full: u64, step: u64, unit: &str, step_s: f64) {
    let times: Vec<String> = (0..8)
        .map(|i| ((full - 4 * step + i * step) % full).to_string())
        .collect();
    let times: Vec<&str> = times.iter().map(String::as_str).collect();
    let read = read(&format!("Time ({unit})"), &times);
    assert_eq!(codes(&read.findings), ["counter-wrapped"]);
    assert_eq!(aside(&read), []);
    let log = read.log.unwrap();
    assert_eq!(log.breaks, [0usize; 0]);
    same(
        &log.time,
        &[0, 1, 2, 3, 4, 5, 6, 7].map(|i| f64::from(i) * step_s),
    );
}

#[test]
fn wrap_of_a_16_bit_counter() {
    wraps(1 << 16, 50, "ms", 0.05);
}

#[test]
fn wrap_of_a_32_bit_counter() {
    wraps(1 << 32, 50_000, "us", 0.05);
}
