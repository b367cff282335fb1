//! A test for each format beside delimited text, its versions, sentences and extensions.

use std::collections::HashMap;
use std::sync::Arc;

use arrow::array::{ArrayRef, Float64Array, RecordBatch};
use arrow::datatypes::{DataType, Field, Schema};
use arrow::ipc::writer::FileWriter;
use benchborne::ingest::{Channel, Log, LogRead, ReadOptions, read_log};
use parquet::arrow::ArrowWriter;

use super::{close, log_read};

fn read(text: &str, file: &str) -> LogRead {
    let read = read_log(text.as_bytes(), file, &ReadOptions::default());
    assert!(read.ledger.balances(), "{:?}", read.ledger);
    read
}

fn first(log: &Log, channel: Channel) -> f64 {
    log.get(channel).unwrap()[0]
}

/// GPX 1.0 has speed and course as elements of a point (schema topografix.com/GPX/1/0).
#[test]
fn gpx_1_0() {
    let text = "<?xml version=\"1.0\"?>\n<gpx version=\"1.0\" creator=\"x\" \
        xmlns=\"http://www.topografix.com/GPX/1/0\"><trk><trkseg>\n\
        <trkpt lat=\"48.25\" lon=\"-16.5\"><ele>312.5</ele><time>2025-04-12T10:00:00Z</time>\
        <course>270</course><speed>21.5</speed><sat>9</sat></trkpt>\n\
        <trkpt lat=\"48.26\" lon=\"-16.5\"><time>2025-04-12T10:00:00.2Z</time></trkpt>\n\
        </trkseg></trk></gpx>";
    let log = read(text, "a.gpx").log.unwrap();
    assert_eq!(log.start.unwrap().to_rfc3339(), "2025-04-12T10:00:00+00:00");
    close(log.time[1], 0.2);
    close(first(&log, Channel::Latitude), 48.25);
    close(first(&log, Channel::Longitude), -16.5);
    close(first(&log, Channel::Height), 312.5);
    close(first(&log, Channel::GroundSpeed), 21.5);
    close(first(&log, Channel::Course), 1.5 * std::f64::consts::PI);
    close(first(&log, Channel::Satellites), 9.0);
    assert_eq!(log.lines, [3, 4]);
}

/// GPX 1.1 leaves speed to extensions (schema topografix.com/GPX/1/1).
#[test]
fn gpx_1_1_with_speed_in_extensions() {
    let text = "<?xml version=\"1.0\"?>\n<gpx version=\"1.1\" creator=\"x\" \
        xmlns=\"http://www.topografix.com/GPX/1/1\" xmlns:t=\"urn:t\"><trk><trkseg>\n\
        <trkpt lat=\"48.25\" lon=\"16.5\"><ele>312.5</ele><time>2025-04-12T10:00:00Z</time>\
        <extensions><t:point><t:speed>21.5</t:speed><t:course>90</t:course></t:point></extensions>\
        </trkpt>\n</trkseg></trk></gpx>";
    let log = read(text, "a.gpx").log.unwrap();
    close(first(&log, Channel::GroundSpeed), 21.5);
    close(first(&log, Channel::Course), 0.5 * std::f64::consts::PI);
    close(first(&log, Channel::Height), 312.5);
}

/// The same without a namespace's prefix.
#[test]
fn gpx_1_1_with_plain_extensions() {
    let text = "<gpx version=\"1.1\"><trk><trkseg>\n<trkpt lat=\"1\" lon=\"2\">\
        <time>2025-04-12T10:00:00Z</time><extensions><speed>7.25</speed></extensions></trkpt>\n\
        </trkseg></trk></gpx>";
    let log = read(text, "a.gpx").log.unwrap();
    close(first(&log, Channel::GroundSpeed), 7.25);
}

fn sentence(body: &str) -> String {
    let sum = body.bytes().fold(0, |sum, b| sum ^ b);
    format!("${body}*{sum:02X}\r\n")
}

const KNOT: f64 = 1852.0 / 3600.0;

#[test]
fn nmea_rmc() {
    let text = sentence("GNRMC,100000.20,A,4815.0000,N,01630.0000,W,040.0,180.0,120425,,,A");
    let log = read(&text, "a.nmea").log.unwrap();
    assert_eq!(
        log.start.unwrap().to_rfc3339(),
        "2025-04-12T10:00:00.200+00:00"
    );
    close(first(&log, Channel::Latitude), 48.25);
    close(first(&log, Channel::Longitude), -16.5);
    close(first(&log, Channel::GroundSpeed), 40.0 * KNOT);
    close(first(&log, Channel::Course), std::f64::consts::PI);
}

#[test]
fn nmea_gga() {
    let text = sentence("GPGGA,100000.00,4815.0000,S,01630.0000,E,1,11,0.8,312.5,M,45.1,M,,");
    let log = read(&text, "a.nmea").log.unwrap();
    close(first(&log, Channel::Latitude), -48.25);
    close(first(&log, Channel::Longitude), 16.5);
    close(first(&log, Channel::Height), 312.5);
    close(first(&log, Channel::Satellites), 11.0);
    assert_eq!(log.start, None, "a time of day without a date");
}

#[test]
fn nmea_vtg() {
    let fix = sentence("GPGGA,100000.00,4815.0000,N,01630.0000,E,1,11,0.8,312.5,M,45.1,M,,");
    // Kilometres an hour alone: 72 km/h is 20 m/s.
    for (speed, metres) in [("040.0,N,,K", 40.0 * KNOT), (",N,072.0,K", 20.0)] {
        let text = fix.clone() + &sentence(&format!("GPVTG,270.0,T,,M,{speed}"));
        let read = read(&text, "a.nmea");
        assert_eq!((read.ledger.rows_in, read.ledger.rows_used), (2, 2));
        let log = read.log.unwrap();
        close(first(&log, Channel::GroundSpeed), metres);
        close(first(&log, Channel::Course), 1.5 * std::f64::consts::PI);
    }
}

#[test]
fn nmea_checksum() {
    let good = sentence("GNRMC,100000.00,A,4815.0000,N,01630.0000,E,040.0,180.0,120425,,,A");
    let bad = good.replace("040.0", "940.0");
    let read = read(&(good + &bad), "a.nmea");
    let reason = &read.ledger.reasons[0];
    assert_eq!(
        (reason.code.as_str(), reason.first_line),
        ("bad-checksum", 2)
    );
    close(first(&read.log.unwrap(), Channel::GroundSpeed), 40.0 * KNOT);
}

/// Two B records with these extensions (columns from 36 on), as an I record announces them.
fn igc(announced: &str, digits: &str) -> Log {
    let fix =
        |time: &str, height: &str| format!("B{time}4815000N01630000EA{height}00360{digits}\r\n");
    let fixes = fix("100000", "00312") + &fix("100001", "00313");
    let text = format!("AXXX001\r\nHFDTE120425\r\n{announced}\r\n{fixes}");
    read(&text, "a.igc").log.unwrap()
}

#[test]
fn igc_b_records() {
    let log = igc("I00", "");
    assert_eq!(log.start.unwrap().to_rfc3339(), "2025-04-12T10:00:00+00:00");
    close(first(&log, Channel::Latitude), 48.25);
    close(first(&log, Channel::Longitude), 16.5);
    close(first(&log, Channel::Height), 312.0);
}

/// Speeds are km/h, in the format's own example with two decimals implied.
#[test]
fn igc_tas_extension() {
    close(first(&igc("I013640TAS", "07200"), Channel::Airspeed), 20.0);
    close(first(&igc("I013638TAS", "072"), Channel::Airspeed), 20.0);
}

#[test]
fn igc_gsp_extension() {
    close(
        first(&igc("I013640GSP", "09000"), Channel::GroundSpeed),
        25.0,
    );
    close(first(&igc("I013638GSP", "090"), Channel::GroundSpeed), 25.0);
}

#[test]
fn igc_track_extension() {
    close(
        first(&igc("I013638TRT", "270"), Channel::Course),
        1.5 * std::f64::consts::PI,
    );
}

#[test]
fn igc_extensions_stand_where_the_i_record_says() {
    let log = igc("I033638FXA3943TAS4446TRT", "01207200090");
    close(first(&log, Channel::Airspeed), 20.0);
    close(first(&log, Channel::Course), 0.5 * std::f64::consts::PI);
}

/// Columns with their units in the metadata of the fields.
fn with_metadata() -> RecordBatch {
    let columns = [
        ("time", "ms", [0.0, 50.0, 100.0]),
        ("voltage", "mV", [16_800.0, 16_700.0, 16_650.0]),
        ("speed", "kt", [0.0, 10.0, 20.0]),
    ];
    let field = |(name, unit, _): &(&str, &str, [f64; 3])| {
        Field::new(*name, DataType::Float64, true)
            .with_metadata(HashMap::from([("unit".to_owned(), (*unit).to_owned())]))
    };
    let schema = Schema::new(columns.iter().map(field).collect::<Vec<_>>());
    let arrays = columns
        .iter()
        .map(|c| Arc::new(Float64Array::from(c.2.to_vec())) as ArrayRef);
    RecordBatch::try_new(Arc::new(schema), arrays.collect()).unwrap()
}

fn metadata_counts(bytes: &[u8]) {
    let log = log_read(bytes, &ReadOptions::default()).log.unwrap();
    close(log.time[2], 0.1);
    assert_eq!(log.get(Channel::Voltage).unwrap(), &[16.8, 16.7, 16.65]);
    close(log.get(Channel::GroundSpeed).unwrap()[1], 10.0 * KNOT);
}

#[test]
fn parquet_units_from_field_metadata() {
    let batch = with_metadata();
    let mut bytes = Vec::new();
    let mut writer = ArrowWriter::try_new(&mut bytes, batch.schema(), None).unwrap();
    writer.write(&batch).unwrap();
    writer.close().unwrap();
    metadata_counts(&bytes);
}

#[test]
fn arrow_ipc_units_from_field_metadata() {
    let batch = with_metadata();
    let mut bytes = Vec::new();
    let mut writer = FileWriter::try_new(&mut bytes, &batch.schema()).unwrap();
    writer.write(&batch).unwrap();
    writer.finish().unwrap();
    metadata_counts(&bytes);
}
