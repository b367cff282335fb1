use benchborne::ingest::{Channel, LogRead, read_log};

use super::{close, codes, data, log_read};

fn sentences(lines: &[&str]) -> LogRead {
    log_read(lines.join("\r\n") + "\r\n", &Default::default())
}

fn with_checksum(body: &str) -> String {
    format!("${body}*{:02X}", body.bytes().fold(0, |sum, b| sum ^ b))
}

/// Widely published example sentences; their checksums (6A, 47, 48) were checked by calculation.
const RMC: &str = "$GPRMC,123519,A,4807.038,N,01131.000,E,022.4,084.4,230394,003.1,W*6A";
const GGA: &str = "$GPGGA,123519,4807.038,N,01131.000,E,1,08,0.9,545.4,M,46.9,M,,*47";
const VTG: &str = "$GPVTG,054.7,T,034.4,M,005.5,N,010.2,K*48";

#[test]
fn the_published_sentences_give_one_fix() {
    let read = sentences(&[RMC, GGA, VTG]);
    assert_eq!((read.ledger.rows_in, read.ledger.rows_used), (3, 3));
    let log = read.log.unwrap();
    assert_eq!(log.len(), 1);
    assert_eq!(log.start.unwrap().to_rfc3339(), "1994-03-23T12:35:19+00:00");
    let first = |c| log.get(c).unwrap()[0];
    close(first(Channel::Latitude), 48.1173);
    close(first(Channel::Longitude), 11.0 + 31.0 / 60.0);
    close(first(Channel::GroundSpeed), 22.4 * 1852.0 / 3600.0);
    close(first(Channel::Course), 84.4f64.to_radians());
    assert_eq!(first(Channel::Height), 545.4);
    assert_eq!(first(Channel::Satellites), 8.0);
}

#[test]
fn speed_and_course_of_vtg_fill_in_where_rmc_is_missing() {
    let log = sentences(&[GGA, VTG]).log.unwrap();
    close(
        log.get(Channel::GroundSpeed).unwrap()[0],
        5.5 * 1852.0 / 3600.0,
    );
    close(log.get(Channel::Course).unwrap()[0], 54.7f64.to_radians());
    assert_eq!(log.start, None);
}

#[test]
fn an_open_file_with_other_sentences_and_rubbish_keeps_its_fix() {
    let read = log_read(data("tracks/sentences.nmea"), &Default::default());
    assert_eq!(
        (
            read.ledger.rows_in,
            read.ledger.rows_used,
            read.ledger.rows_set_aside
        ),
        (2, 1, 1)
    );
    assert_eq!(read.ledger.reasons[0].code, "no-sentence");
    assert_eq!(read.ledger.reasons[0].first_line, 4);
    assert!(codes(&read.findings).contains(&"other-sentences"));
    let log = read.log.unwrap();
    close(
        log.get(Channel::Latitude).unwrap()[0],
        -(19.0 + 29.045 / 60.0),
    );
    close(
        log.get(Channel::Longitude).unwrap()[0],
        24.0 + 10.506 / 60.0,
    );
}

#[test]
fn bad_sentences_are_set_aside_with_line_and_reason() {
    let void = with_checksum("GNRMC,123520,V,,,,,,,230394,,");
    let bad_field = with_checksum("GNRMC,123521,A,48x7.038,N,01131.000,E,1,2,230394,,");
    let wrong = RMC.replace("*6A", "*6B");
    let cut = &RMC[..40];
    let read = sentences(&[VTG, RMC, &void, &bad_field, &wrong, "noise", cut]);
    let reasons: Vec<_> = read
        .ledger
        .reasons
        .iter()
        .map(|r| (r.code.as_str(), r.count, r.first_line))
        .collect();
    assert_eq!(
        reasons,
        [
            ("no-time", 1, 1),
            ("no-fix", 1, 3),
            ("bad-sentence", 1, 4),
            ("bad-checksum", 1, 5),
            ("no-sentence", 1, 6),
            ("no-checksum", 1, 7)
        ]
    );
    assert_eq!(read.ledger.rows_used, 1);
}

#[test]
fn fixes_of_mixed_talkers_pass_midnight_and_take_their_date_from_neighbours() {
    let gga = |talker: &str, time: &str| {
        with_checksum(&format!(
            "{talker}GGA,{time},4807.038,N,01131.000,E,1,08,0.9,545.4,M,,M,,"
        ))
    };
    let rmc = |talker: &str, time: &str, date: &str| {
        with_checksum(&format!(
            "{talker}RMC,{time},A,4807.038,N,01131.000,E,22.4,84.4,{date},,"
        ))
    };
    let lines = [
        gga("GP", "235958.80"),
        rmc("GN", "235959.00", "311225"),
        gga("GL", "235959.00"),
        gga("GP", "000000.20"),
        rmc("GN", "000000.20", "010126"),
        gga("GP", "000000.40"),
    ];
    let read = sentences(&lines.each_ref().map(String::as_str));
    assert_eq!(read.ledger.rows_used, 6);
    let log = read.log.unwrap();
    assert_eq!(
        log.start.unwrap().to_rfc3339(),
        "2025-12-31T23:59:58.800+00:00"
    );
    for (found, expected) in log.time.iter().zip([0.0, 0.2, 1.4, 1.6]) {
        close(*found, expected);
    }
    assert_eq!(log.lines, [1, 2, 4, 6]);
}

#[test]
fn a_stray_instant_sets_all_its_sentences_aside() {
    let at = |time: &str| with_checksum(&RMC[1..RMC.len() - 3].replace("123519", time));
    let read = sentences(&[&at("123520"), &at("123521"), RMC, GGA, &at("123522")]);
    assert_eq!((read.ledger.rows_in, read.ledger.rows_used), (5, 3));
    assert_eq!(read.ledger.reasons[0].code, "stray-time");
    assert_eq!(read.log.unwrap().time, [0.0, 1.0, 2.0]);
}

#[test]
fn a_file_without_any_checksum_is_read_with_a_warning() {
    let bare = RMC.split('*').next().unwrap();
    let read = read_log(bare.as_bytes(), "a.nmea", &Default::default());
    assert!(read.log.is_some());
    assert!(codes(&read.findings).contains(&"no-checksums"));
}
