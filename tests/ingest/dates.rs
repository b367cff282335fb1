//! Dates and stamps that can be read in several ways, and dates that stand above the header.

use benchborne::ingest::{LogRead, ReadOptions};
use benchborne::season::DateOrder;

use super::{close, codes, log_read};

fn rows(header: &str, times: &[&str]) -> String {
    let rows: String = times.iter().map(|t| format!("{t};12.1\n")).collect();
    format!("{header};Volts\n{rows}")
}

fn read(header: &str, times: &[&str]) -> LogRead {
    log_read(rows(header, times), &ReadOptions::default())
}

fn started(read: &LogRead) -> String {
    let start = read.log.as_ref().unwrap().start.unwrap();
    start.format("%F %T").to_string()
}

fn finding<'a>(read: &'a LogRead, code: &str) -> &'a benchborne::season::Finding {
    read.findings.iter().find(|f| f.code == code).unwrap()
}

#[test]
fn a_date_of_two_digit_parts_is_a_guess() {
    // Day first it would be of 2003: no electric jet of today.
    let read = read("Time", &["25/05/03 10:12:00", "25/05/03 10:12:01"]);
    assert_eq!(started(&read), "2025-05-03 10:12:00");
    let doubt = finding(&read, "date-order-assumed");
    assert!(doubt.what.contains("2003-05-25"), "{}", doubt.what);
    assert_eq!(doubt.overrule.as_deref(), Some("dates = \"day-first\""));
}

#[test]
fn the_season_may_say_that_the_year_stands_first() {
    let options = ReadOptions {
        dates: Some(DateOrder::YearFirst),
        ..ReadOptions::default()
    };
    let text = rows("Date;Time", &["12/05/11;10:12:00", "12/05/11;10:12:01"]);
    let read = log_read(text, &options);
    assert_eq!(started(&read), "2012-05-11 10:12:00");
    assert!(!codes(&read.findings).contains(&"date-order-assumed"));
}

#[test]
fn a_part_above_31_or_12_settles_the_order() {
    for (date, expected) in [
        ("45/05/03", "2045-05-03"),
        ("05/31/45", "2045-05-31"),
        ("31/05/45", "2045-05-31"),
    ] {
        let read = read(
            "Date;Time",
            &[&format!("{date};10:12:00"), &format!("{date};10:12:01")],
        );
        assert_eq!(started(&read), format!("{expected} 10:12:00"));
        assert!(
            !codes(&read.findings).contains(&"date-order-assumed"),
            "{date}"
        );
    }
}

#[test]
fn a_step_across_midnight_settles_the_order() {
    for (before, after, expected) in [
        ("05/03/2025", "05/04/2025", "2025-05-03"),
        ("05/03/2025", "06/03/2025", "2025-03-05"),
        ("25/05/03", "25/05/04", "2025-05-03"),
        // Across the end of a month too.
        ("25/05/31", "25/06/01", "2025-05-31"),
    ] {
        let read = read(
            "Date;Time",
            &[&format!("{before};23:59:59"), &format!("{after};00:00:00")],
        );
        assert_eq!(started(&read), format!("{expected} 23:59:59"));
        assert_eq!(read.log.as_ref().unwrap().time, [0.0, 1.0]);
        assert!(
            !codes(&read.findings).contains(&"date-order-assumed"),
            "{before}"
        );
    }
}

#[test]
fn the_part_that_alone_changes_is_the_day() {
    let read = read(
        "Date;Time",
        &[
            "05/03/2025;10:00:00",
            "05/03/2025;10:00:01",
            "05/06/2025;10:00:00",
            "05/06/2025;10:00:01",
        ],
    );
    assert_eq!(started(&read), "2025-05-03 10:00:00");
    assert!(!codes(&read.findings).contains(&"date-order-assumed"));
}

#[test]
fn months_may_be_written_by_name() {
    for time in [
        "03-Mai-2025 10:12:00",
        "3. Mai 2025 10:12:00",
        "May 03, 2025 10:12:00 AM",
        "03-May-2025 10:12:00",
    ] {
        assert_eq!(
            started(&read("Time", &[time])),
            "2025-05-03 10:12:00",
            "{time}"
        );
    }
    assert_eq!(
        started(&read("Time", &["04-OCT-2025 10:12:00"])),
        "2025-10-04 10:12:00"
    );
}

#[test]
fn days_of_a_spreadsheet_are_stamps() {
    // 1 January 2025 is day 45658 of a spreadsheet (from memory); 3 May is 122 days later.
    let read = read(
        "time",
        &["45780.42500000", "45780.42500116", "45780.42500231"],
    );
    assert_eq!(started(&read), "2025-05-03 10:12:00");
    close(read.log.as_ref().unwrap().time[2], 0.2);
    assert!(codes(&read.findings).contains(&"time-unit-assumed"));
}

#[test]
fn hours_minutes_and_seconds_may_stand_in_one_number() {
    let times: Vec<String> = (0..200)
        .map(|i| format!("{:02}{:02}{:02}.0", 10, 12 + i / 60, i % 60))
        .collect();
    let times: Vec<&str> = times.iter().map(String::as_str).collect();
    let read = read("Time", &times);
    let log = read.log.as_ref().unwrap();
    assert!(log.breaks.is_empty());
    close(log.time[199], 199.0);
    assert!(finding(&read, "time-unit-assumed").what.contains("hhmmss"));
    // A count of rows passes through 60 to 99 and is none.
    let count: Vec<String> = (0..200).map(|i| format!("{i}")).collect();
    let count: Vec<&str> = count.iter().map(String::as_str).collect();
    close(self::read("Time", &count).log.unwrap().time[150], 150.0);
}

#[test]
fn stamps_that_stand_still_are_hours_and_minutes() {
    let times: Vec<&str> = [["10:12"; 300], ["10:13"; 300]].concat();
    let read = read("Time", &times);
    close(read.log.as_ref().unwrap().time[300], 60.0);
    let doubt = finding(&read, "hours-and-minutes");
    assert_eq!(doubt.overrule.as_deref(), Some("time = false"));
}

#[test]
fn a_start_above_the_header_dates_elapsed_seconds() {
    for above in [
        "Logger v1.2\nDate: 2025-05-03\nStart time: 10:12:00\n",
        "Datum 03.05.2025\nStartzeit 10:12:00\n",
        "# log started 2025-05-03 10:12:00\n",
        "Date;05/13/2025;10:12:00 AM\n",
        "Datum: 03 mai 2025 10:12:00\n",
    ] {
        let times: Vec<String> = (0..30)
            .map(|i| format!("{:.1}", 0.1 * f64::from(i)))
            .collect();
        let times: Vec<&str> = times.iter().map(String::as_str).collect();
        let text = format!("{above}\n{}", rows("Time (s)", &times));
        let read = log_read(&text, &ReadOptions::default());
        let day = if above.contains("05/13") { "13" } else { "03" };
        assert_eq!(started(&read), format!("2025-05-{day} 10:12:00"), "{above}");
        let told = finding(&read, "date-from-preamble");
        assert_eq!(told.overrule.as_deref(), Some("preamble_date = false"));
        let options = ReadOptions {
            no_preamble_date: true,
            ..ReadOptions::default()
        };
        assert_eq!(log_read(&text, &options).log.unwrap().start, None);
    }
}

#[test]
fn of_several_dates_above_the_header_the_named_one_counts_and_the_others_are_told() {
    let text = format!(
        "Firmware 2023-11-02\nDate: 2025-05-03\n\n{}",
        rows("Time", &["10:12:00", "10:12:01"])
    );
    let read = log_read(&text, &ReadOptions::default());
    assert_eq!(started(&read), "2025-05-03 10:12:00");
    let told = &finding(&read, "date-from-preamble").what;
    assert!(told.contains("'2023-11-02' in line 1"), "{told}");
}

#[test]
fn a_clock_reset_to_its_first_year_dates_nothing() {
    let times = [
        "2025-05-03 10:12:00Z",
        "2025-05-03 10:12:01Z",
        "2000-01-01 00:00:00Z",
        "2000-01-01 00:00:01Z",
    ];
    assert_eq!(started(&read("Time", &times)), "2025-05-03 10:12:00");
}

#[test]
fn a_clock_set_back_an_hour_leaves_the_start_alone() {
    let times = [
        "2025-10-26 02:59:59",
        "2025-10-26 03:00:00",
        "2025-10-26 02:00:00",
        "2025-10-26 02:00:01",
    ];
    assert_eq!(started(&read("Time", &times)), "2025-10-26 02:59:59");
}

#[test]
fn rows_a_few_places_late_are_sorted() {
    let times = [
        "0.1", "0.0", "0.4", "0.2", "0.3", "0.5", "0.8", "0.6", "0.7", "0.9",
    ];
    let read = read("Time (s)", &times);
    let log = read.log.as_ref().unwrap();
    (0..10).for_each(|i| close(log.time[i], 0.1 * i as f64));
    assert_eq!(log.lines, [3, 2, 5, 6, 4, 7, 9, 10, 8, 11]);
    assert!(log.breaks.is_empty());
    assert!(finding(&read, "late-rows").what.starts_with("5 row(s)"));
    assert_eq!(read.ledger.rows_set_aside, 0);
}

#[test]
fn a_long_pause_parts_two_flights() {
    let read = read(
        "Time",
        &["10:00:00", "10:00:01", "10:00:02", "10:38:00", "10:38:01"],
    );
    let told = finding(&read, "long-pause");
    assert!(told.to_do.contains("split it"), "{}", told.to_do);
    assert_eq!(told.place.as_ref().unwrap().line, Some(5));
}
