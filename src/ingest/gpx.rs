//! GPX 1.0 and 1.1 track points (topografix.com/GPX/1/0, /1/1): time, position, height, speed,
//! course, satellites.
//!
//! Speed and course are read from the point itself (1.0) or from any extension (1.1), in m/s and
//! degrees. Segments are breaks. Points without a time or a position are set aside. Waypoints and
//! routes are no recordings and are not read.

use chrono::{DateTime, Utc};
use quick_xml::Reader;
use quick_xml::events::{BytesStart, Event};

use super::ledger::FileLedger;
use super::log::Channel;
use super::read::LogRead;
use super::stamp::{self, DateOrder};
use super::track::{self, Fix, Track, assemble, report_set_aside};
use crate::season::Finding;

/// True if the head of the file is GPX.
pub(super) fn is_gpx(head: &str) -> bool {
    let head = head.trim_start();
    head.starts_with('<') && head.contains("<gpx")
}

#[derive(Debug, Clone, Default)]
struct Point {
    line: u32,
    time: Option<DateTime<Utc>>,
    zone_written: bool,
    position: Option<(f64, f64)>,
    height: Option<f64>,
    speed: Option<f64>,
    course: Option<f64>,
    satellites: Option<f64>,
}

#[derive(Default)]
struct Parsed {
    points: Vec<Point>,
    /// Points before which a new segment starts.
    restarts: Vec<usize>,
    /// Line and message where the XML ends early.
    cut: Option<(u32, String)>,
}

/// Reads a GPX text; never fails.
pub(super) fn read(text: &str, file: &str) -> LogRead {
    let parsed = parse(text);
    let mut ledger = FileLedger::new(file);
    let mut findings = Vec::new();
    let (mut points, mut restarts) = (Vec::new(), Vec::new());
    for (index, point) in parsed.points.into_iter().enumerate() {
        if parsed.restarts.contains(&index) {
            restarts.push(points.len());
        }
        let line = u64::from(point.line);
        if point.position.is_none() {
            ledger.set_aside(
                "no-position",
                line,
                "a track point without latitude and longitude",
            );
        } else if point.time.is_none() {
            ledger.set_aside("no-time", line, "a track point without a time");
        } else {
            ledger.use_row();
            points.push(point);
        }
    }
    if let Some((line, message)) = parsed.cut {
        findings.push(
            Finding::warning(
                "cut-off-file",
                format!("the file breaks off or is damaged here: {message}"),
                "Copy the file from the logger again; what stands above the break was read.",
            )
            .at(file, line, None),
        );
    }
    report_set_aside(
        &ledger,
        "track point(s)",
        "Record times with the track: a route drawn by hand is no flight.",
        &mut findings,
    );
    let Some(origin) = points.first().and_then(|p| p.time) else {
        return track::nothing(
            ledger,
            findings,
            "the file has no track point with a time",
            "Export the recorded track (trk) with its times.",
        );
    };
    if points.iter().any(|p| !p.zone_written) {
        findings.push(
            Finding::warning(
                "zone-unknown",
                "some times name no zone; GPX times are UTC, and so they were read",
                "Nothing, if the track was exported by a GPS receiver.",
            )
            .in_file(file),
        );
    }
    let fix = |p: &Point| {
        let mut fix = Fix {
            line: p.line,
            rows: 1,
            seconds: p.time.map(|t| (t - origin).as_seconds_f64()),
            values: Vec::new(),
        };
        fix.put(Channel::Latitude, p.position.map(|p| p.0));
        fix.put(Channel::Longitude, p.position.map(|p| p.1));
        fix.put(Channel::Height, p.height);
        fix.put(Channel::GroundSpeed, p.speed);
        fix.put(Channel::Course, p.course.map(f64::to_radians));
        fix.put(Channel::Satellites, p.satellites);
        fix
    };
    let track = Track {
        file,
        fixes: points.iter().map(fix).collect(),
        restarts,
        origin: Some(origin),
        wraps_at_midnight: false,
    };
    assemble(track, ledger, findings)
}

fn parse(text: &str) -> Parsed {
    let mut reader = Reader::from_str(text);
    let mut track = Parsed::default();
    let mut lines = Lines {
        text: text.as_bytes(),
        at: 0,
        line: 1,
    };
    let mut point: Option<Point> = None;
    let mut element = String::new();
    loop {
        let at = reader.buffer_position() as usize;
        match reader.read_event() {
            Ok(Event::Start(start)) => match start.local_name().as_ref() {
                "trkpt" => point = Some(open(&start, lines.at(at))),
                "trkseg" if !track.points.is_empty() => track.restarts.push(track.points.len()),
                name => name.clone_into(&mut element),
            },
            Ok(Event::Empty(start)) if start.local_name().as_ref() == "trkpt" => {
                track.points.push(open(&start, lines.at(at)));
            }
            Ok(Event::Text(content)) => {
                if let Some(point) = &mut point {
                    let content = content.trim();
                    if !content.is_empty() {
                        take(point, &element, content);
                    }
                }
            }
            Ok(Event::End(end)) => {
                if end.local_name().as_ref() == "trkpt" {
                    track.points.extend(point.take());
                }
                element.clear();
            }
            Ok(Event::Eof) => {
                if point.is_some() || !text.trim_end().ends_with("</gpx>") {
                    track.cut = Some((lines.at(at), "the closing tag is missing".to_owned()));
                }
                break;
            }
            Err(error) => {
                track.cut = Some((lines.at(at), error.to_string()));
                break;
            }
            Ok(_) => {}
        }
    }
    // A point that was cut off may lack its last figures.
    if let Some(mut cut) = point {
        cut.time = None;
        track.points.push(cut);
    }
    track
}

fn open(start: &BytesStart<'_>, line: u32) -> Point {
    let number = |name: &str| {
        let attribute = start
            .attributes()
            .flatten()
            .find(|a| a.key.local_name().as_ref() == name)?;
        let value: f64 = attribute.value.trim().parse().ok()?;
        value.is_finite().then_some(value)
    };
    let position = number("lat").zip(number("lon"));
    Point {
        line,
        position: position.filter(|(lat, lon)| lat.abs() <= 90.0 && lon.abs() <= 360.0),
        ..Point::default()
    }
}

fn take(point: &mut Point, element: &str, content: &str) {
    let number = || content.parse::<f64>().ok().filter(|x| x.is_finite());
    match element {
        "time" => {
            let Some(stamp) = stamp::parse(content, DateOrder::DayFirst, false) else {
                return;
            };
            point.zone_written = stamp.offset.is_some();
            point.time = utc(&stamp);
        }
        "ele" => point.height = number(),
        "speed" => point.speed = number(),
        "course" => point.course = number(),
        "sat" => point.satellites = number(),
        _ => {}
    }
}

fn utc(stamp: &stamp::Stamp) -> Option<DateTime<Utc>> {
    let midnight = stamp.date?.and_time(chrono::NaiveTime::MIN).and_utc();
    let seconds = stamp.seconds - f64::from(stamp.offset.unwrap_or(0));
    let since = chrono::TimeDelta::try_milliseconds((seconds * 1000.0).round() as i64)?;
    midnight.checked_add_signed(since)
}

/// Line numbers of growing positions.
struct Lines<'a> {
    text: &'a [u8],
    at: usize,
    line: u32,
}

impl Lines<'_> {
    fn at(&mut self, position: usize) -> u32 {
        let to = position.min(self.text.len());
        if to > self.at {
            self.line += self.text[self.at..to]
                .iter()
                .filter(|b| **b == b'\n')
                .count() as u32;
            self.at = to;
        }
        self.line
    }
}
