use benchborne::ingest::{Channel, LogRead};

use super::{close, codes, data, log_read};

fn track(name: &str) -> LogRead {
    log_read(data(&format!("tracks/{name}.gpx")), &Default::default())
}

#[test]
fn speed_of_a_point_is_read() {
    let read = track("track_with_speed");
    let log = read.log.unwrap();
    assert_eq!(log.time, [0.0, 6.0, 13.0]);
    assert_eq!(log.start.unwrap().to_rfc3339(), "2009-03-02T14:05:52+00:00");
    assert_eq!(log.get(Channel::GroundSpeed).unwrap(), &[1.2, 2.2, 3.2]);
    assert_eq!(log.get(Channel::Latitude).unwrap()[1], 52.330951);
    assert_eq!(log.get(Channel::Longitude).unwrap()[1], 5.541344);
    assert_eq!(log.get(Channel::Height).unwrap()[2], 53.381747);
    assert_eq!(log.lines, [6, 11, 16]);
}

#[test]
fn parts_of_a_second_and_offsets_count() {
    let log = track("track-with-less-sec-time").log.unwrap();
    close(log.time[1], 0.994);
    assert_eq!(log.start.unwrap().to_rfc3339(), "2015-12-11T14:43:13+00:00");
}

#[test]
fn an_empty_segment_does_no_harm() {
    let read = track("track-with-empty-segment");
    assert_eq!((read.ledger.rows_in, read.ledger.rows_used), (9, 9));
    assert_eq!(read.log.unwrap().breaks, [0; 0]);
}

#[test]
fn a_time_without_zone_is_utc_with_a_warning() {
    let read = track("gpx1.0_with_all_fields");
    assert_eq!(
        read.log.unwrap().start.unwrap().to_rfc3339(),
        "2013-01-01T12:00:04+00:00"
    );
    assert_eq!(codes(&read.findings), ["zone-unknown", "one-row"]);
}

#[test]
fn waypoints_are_no_track() {
    let read = track("unicode_with_bom");
    assert_eq!((read.log, read.ledger.rows_in), (None, 0));
    assert_eq!(codes(&read.findings), ["no-rows"]);
}

const POINT: &str = "<trkpt lat=\"48\" lon=\"16\"><time>2025-04-12T10:00:0";

#[test]
fn segments_are_breaks_and_speed_may_stand_in_extensions() {
    let point = |s: u32| {
        format!(
            "{POINT}{s}Z</time><extensions><x:a><x:speed>2{s}</x:speed><x:course>90</x:course></x:a></extensions></trkpt>\n"
        )
    };
    let text = format!(
        "<?xml version=\"1.0\"?>\n<gpx version=\"1.1\" xmlns:x=\"urn:x\"><trk><trkseg>{}{}</trkseg><trkseg>{}{}</trkseg></trk></gpx>",
        point(0),
        point(1),
        point(2),
        point(3)
    );
    let log = log_read(text, &Default::default()).log.unwrap();
    assert_eq!(log.breaks, [2]);
    assert_eq!(
        log.get(Channel::GroundSpeed).unwrap(),
        &[20.0, 21.0, 22.0, 23.0]
    );
    close(
        log.get(Channel::Course).unwrap()[0],
        std::f64::consts::FRAC_PI_2,
    );
}

#[test]
fn a_track_cut_off_keeps_its_points_and_points_without_time_are_set_aside() {
    let text = format!(
        "<gpx><trk><trkseg>\n{POINT}0Z</time></trkpt>\n<trkpt lat=\"48\" lon=\"16\"/>\n{POINT}1Z</time></trkpt>\n{POINT}"
    );
    let read = log_read(text, &Default::default());
    assert_eq!(read.log.unwrap().time, [0.0, 1.0]);
    assert_eq!((read.ledger.rows_in, read.ledger.rows_set_aside), (4, 2));
    assert_eq!(codes(&read.findings), ["cut-off-file", "no-time"]);
    assert_eq!(read.ledger.reasons[0].first_line, 3);
}
