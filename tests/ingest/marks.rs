//! What the ledger says of values and of files that hold nothing.

use benchborne::ingest::{Log, LogRead, ReadOptions};

use super::{codes, log_read};

fn marked(read: &LogRead) -> Vec<(&str, &str, u64, u64)> {
    let marks = read.ledger.marked.iter();
    marks
        .map(|m| (m.channel.as_str(), m.code.as_str(), m.count, m.first_line))
        .collect()
}

#[test]
fn every_value_made_absent_stands_in_the_ledger_by_channel_and_reason() {
    let mut text =
        String::from("time_s,voltage_V,current_A,latitude_deg,longitude_deg,satellites\n");
    for row in 0..120 {
        let volts = if row == 30 {
            99.0
        } else {
            16.0 - 0.01 * f64::from(row)
        };
        let amps = if row == 50 {
            "1O".to_owned()
        } else {
            format!("{}", row % 7)
        };
        let (lat, sats) = match row {
            70 => (48.5, 9),
            80..83 => (48.1, 2),
            _ => (48.1, 9),
        };
        text += &format!(
            "{:.1},{volts:.2},{amps},{lat},16.2,{sats}\n",
            f64::from(row) * 0.1
        );
    }
    let read = log_read(text, &ReadOptions::default());
    assert_eq!(
        marked(&read),
        [
            ("current", "unreadable-cells", 1, 52),
            ("latitude", "few-satellites", 3, 82),
            ("longitude", "few-satellites", 3, 82),
            ("latitude", "position-jumps", 1, 72),
            ("longitude", "position-jumps", 1, 72),
            ("voltage", "spikes", 1, 32),
        ]
    );
    // Their rows are in use, and what is marked is absent.
    assert_eq!((read.ledger.rows_in, read.ledger.rows_used), (120, 120));
    let absent = |log: &Log| {
        log.channels
            .values()
            .flatten()
            .filter(|x| x.is_nan())
            .count()
    };
    let counted: u64 = read.ledger.marked.iter().map(|m| m.count).sum();
    assert_eq!(absent(read.log.as_ref().unwrap()) as u64, counted);
}

#[test]
fn a_stuck_channel_stands_in_the_ledger() {
    let mut text = String::from("time_s,throttle_%,current_A\n");
    for row in 0..200 {
        let amps = if (60..140).contains(&row) {
            31.0
        } else {
            20.0 + f64::from(row % 9)
        };
        text += &format!(
            "{:.1},{},{amps}\n",
            f64::from(row) * 0.1,
            20 + (row / 10 % 2) * 60
        );
    }
    let read = log_read(text, &ReadOptions::default());
    assert_eq!(marked(&read), [("current", "stuck-channel", 79, 63)]);
}

#[test]
fn a_single_fix_of_another_temperature_is_no_air_temperature() {
    // One fix in four seconds, as recorders of soaring flights write them.
    let mut text = String::from("time_s,height_m,air_temperature_degC\n");
    for row in 0..100 {
        let degrees = if row == 40 { 76 } else { 14 - row / 20 };
        text += &format!("{},{},{degrees}\n", 4 * row, 200 + row);
    }
    let read = log_read(text, &ReadOptions::default());
    assert_eq!(marked(&read), [("air_temperature", "spikes", 1, 42)]);
}

#[test]
fn a_log_that_ends_with_its_header_has_no_rows() {
    for text in [
        "Logger 7\nSerial;4711\nTime [s];Voltage [V];Current [A]\n",
        "Serial,4711\nFirmware,1.2\ntime,volts,amps\ns,V,A\n",
        "time_s,voltage_V\n",
    ] {
        let read = log_read(text, &ReadOptions::default());
        assert!(read.log.is_none());
        assert_eq!(codes(&read.findings), ["no-rows"], "{text}");
        assert!(
            read.findings[0].what.contains("ends with its header"),
            "{text}"
        );
        assert_eq!(read.ledger.rows_in, 0, "{text}");
    }
}

#[test]
fn prose_is_refused_as_prose() {
    let licence = include_str!("../../LICENSE");
    for (text, file) in [
        (licence, "LICENSE.igc"),
        (include_str!("../../DEVELOPERS.md"), "notes.md"),
    ] {
        let read = benchborne::ingest::read_log(text.as_bytes(), file, &ReadOptions::default());
        assert_eq!(codes(&read.findings), ["prose"], "{file}");
        assert!(read.log.is_none() && read.ledger.balances());
    }
    // A table of words is a table.
    let read =
        super::read("name,kind\nfirst one,a fan of many blades\nnext one,a fan of few blades\n");
    assert_eq!(read.ledger.rows_used, 2);
}
