//! Pictures of one flight: its path over the ground, its quantities over time, its passes.

use crate::findings::answer::SCHEMA;
use crate::findings::evidence::{Evidence, counted};
use crate::findings::figure::{
    Figure, FigureData, FlightStrip, Line, MapPass, MapPlace, MapWind, Shade, Strip, TrackMap,
};
use crate::findings::pictured::Pictured;
use crate::findings::pictures::{axis, percent};
use crate::findings::sheets::FlightDocument;
use crate::findings::speed_pictures::{pass_fit, velocity_vectors};
use crate::stats::NORMAL_95;
use crate::store::{FlightRow, StripRow, TrackRow};

/// A receiver's positions end this much before the rest of its log, s: its lag is taken off.
const LAG_S: f64 = 1.0;

/// Every picture that one flight has evidence for: track map, strip, passes with their fit, ground
/// velocities. Empty for a flight without a usable log.
pub fn of_flight(evidence: &Evidence, flight: &str) -> Vec<Figure> {
    let Some(flown) = Pictured::of(evidence, flight) else {
        return Vec::new();
    };
    [
        track_map(&flown),
        flight_strip(&flown),
        pass_fit(&flown),
        velocity_vectors(&flown),
    ]
    .into_iter()
    .flatten()
    .collect()
}

/// The same as the file beside the flight's page.
pub fn document(evidence: &Evidence, flight: &str) -> FlightDocument {
    FlightDocument {
        schema: SCHEMA,
        version: env!("CARGO_PKG_VERSION").to_owned(),
        flight: flight.to_owned(),
        figures: of_flight(evidence, flight),
    }
}

/// The path over the ground with its passes, wind, take-off and touch-down; `None` without positions.
fn track_map(flown: &Pictured) -> Option<Figure> {
    let Pictured {
        evidence,
        row,
        colour,
        ..
    } = *flown;
    let flight = row.flight.as_str();
    let track = flown.own.track.as_slice();
    let mut path: Vec<Line> = Vec::new();
    let mut segment = None;
    for point in track {
        if segment != Some(point.segment) {
            segment = Some(point.segment);
            path.push(Line::new("path", colour));
        }
        if let Some(line) = path.last_mut() {
            line.push(point.east_m, point.north_m);
        }
    }
    if track.len() < 2 {
        return None;
    }
    let passes: Vec<MapPass> = evidence
        .tables
        .passes
        .iter()
        .filter(|p| p.flight == flight)
        .filter_map(|pass| {
            let (from, to) = (pass.start_s?, pass.end_s?);
            let mut line = Line::new(&format!("pass {}", pass.pass), colour);
            let (start, end) = (position(track, from)?, position(track, to)?);
            line.push(start.0, start.1);
            let inside = track.iter().filter(|t| from < t.time_s && t.time_s < to);
            inside.for_each(|t| line.push(t.east_m, t.north_m));
            line.push(end.0, end.1);
            Some(MapPass {
                number: u32::try_from(pass.pass).unwrap_or(u32::MAX),
                used: pass.used,
                line,
            })
        })
        .collect();
    let used = passes.iter().filter(|p| p.used).count();
    let aside = passes.len() - used;
    let wind = wind(row);
    Some(Figure {
        id: format!("track-{}", flown.slug),
        caption: format!(
            "Flight {flight} from above: {}{}, numbered in order, arrow heads where they end.{}",
            counted(used, "full-throttle pass"),
            match aside {
                0 => String::new(),
                n => format!(" used and {n} set aside"),
            },
            wind.as_ref().map_or_else(String::new, |w| format!(
                " By the passes themselves: {}.",
                w.words.join(", ")
            ))
        ),
        alt: format!(
            "Map of flight {flight} in metres east and north of its first position, north up, with \
             its full-throttle passes, take-off and touch-down, a scale bar and the wind."
        ),
        data: FigureData::TrackMap(TrackMap {
            unit: "m".to_owned(),
            path,
            passes,
            places: places(evidence, flight, track),
            wind,
        }),
    })
}

/// East and north at `time`, linear between points of one stretch; `None` outside the stretches.
fn position(track: &[TrackRow], time: f64) -> Option<(f64, f64)> {
    let after = track.partition_point(|t| t.time_s < time);
    let b = track.get(after)?;
    if b.time_s == time {
        return Some((b.east_m, b.north_m));
    }
    let a = track.get(after.checked_sub(1)?)?;
    if a.segment != b.segment {
        return None;
    }
    let share = (time - a.time_s) / (b.time_s - a.time_s);
    Some((
        a.east_m + share * (b.east_m - a.east_m),
        a.north_m + share * (b.north_m - a.north_m),
    ))
}

/// Where the jet was at take-off and touch-down, or where a log begins or ends in flight.
fn places(evidence: &Evidence, flight: &str, track: &[TrackRow]) -> Vec<MapPlace> {
    let spans = || {
        let rows = evidence.tables.phases.iter();
        rows.filter(move |p| p.flight == flight && p.phase != "ground")
    };
    let at = |time: f64, label: &str| {
        let (first, last) = (track.first()?.time_s, track.last()?.time_s);
        let near = time.clamp(first, last);
        let (east, north) = position(track, near).filter(|_| (near - time).abs() <= LAG_S)?;
        Some(MapPlace {
            label: label.to_owned(),
            east,
            north,
        })
    };
    let first = spans().next().and_then(|p| match p.phase.as_str() {
        "take-off" => at(p.start_s, "take-off"),
        _ => at(p.start_s, "log begins"),
    });
    let last = spans().next_back().and_then(|p| match p.phase.as_str() {
        "landing" => at(p.end_s, "touch-down"),
        _ => at(p.end_s, "log ends"),
    });
    first.into_iter().chain(last).collect()
}

/// The wind of the joint fit, in words too.
fn wind(flown: &FlightRow) -> Option<MapWind> {
    let (to_north, to_east) = (flown.wind_to_north_m_s?, flown.wind_to_east_m_s?);
    let se = flown.wind_se_m_s?;
    let speed = to_north.hypot(to_east);
    let half = NORMAL_95 * se;
    // Beyond its own 95 % error the wind blows to some side or other; within, to any.
    let direction_open = speed <= half;
    let words = if direction_open {
        vec![
            format!("wind at most {:.1} m/s", speed + half),
            "its direction is open".to_owned(),
        ]
    } else {
        vec![
            format!(
                "wind of {speed:.1} m/s to the {}",
                compass(to_east.atan2(to_north))
            ),
            format!("± {half:.1} m/s on either axis (95 %)"),
        ]
    };
    Some(MapWind {
        unit: "m/s".to_owned(),
        to_east,
        to_north,
        se,
        direction_open,
        words,
    })
}

/// The nearest of eight points of the compass; radians from north, clockwise.
fn compass(bearing_rad: f64) -> &'static str {
    const POINTS: [&str; 8] = [
        "north",
        "north-east",
        "east",
        "south-east",
        "south",
        "south-west",
        "west",
        "north-west",
    ];
    let eighths = (bearing_rad / std::f64::consts::FRAC_PI_4).round() as i64;
    POINTS[eighths.rem_euclid(8) as usize]
}

/// The strip of one flight: throttle, current, voltage, speed, height over time.
pub fn flight_strip(flown: &Pictured) -> Option<Figure> {
    let Pictured {
        evidence,
        row,
        colour,
        ..
    } = *flown;
    let flight = row.flight.as_str();
    type Pick = fn(&StripRow) -> Option<f64>;
    let quantities: [(&str, &str, Pick); 5] = [
        ("throttle", "%", |r| r.throttle.map(percent)),
        ("current", "A", |r| r.current_a),
        ("voltage", "V", |r| r.voltage_v),
        ("ground speed", "m/s", |r| r.ground_speed_m_s),
        ("height", "m", |r| r.height_m),
    ];
    let mut strips = Vec::new();
    for (quantity, unit, pick) in quantities {
        let mut segments: Vec<Line> = Vec::new();
        for row in &flown.own.strips {
            let Some(value) = pick(row) else { continue };
            if row.begins.split(',').any(|b| b == quantity) {
                segments.push(Line::new(quantity, colour));
            }
            if let Some(line) = segments.last_mut() {
                line.push(row.time_s, value);
            }
        }
        if !segments.is_empty() {
            strips.push(Strip {
                y: axis(quantity, unit),
                segments,
            });
        }
    }
    if strips.is_empty() {
        return None;
    }
    let holds: Vec<Shade> = evidence
        .tables
        .holds
        .iter()
        .filter(|h| h.flight == flight)
        .map(|h| Shade {
            from: h.start_s,
            to: h.end_s,
            what: "hold".to_owned(),
        })
        .collect();
    let passes: Vec<Shade> = evidence
        .tables
        .passes
        .iter()
        .filter(|p| p.flight == flight && p.used)
        .filter_map(|p| {
            Some(Shade {
                from: p.start_s?,
                to: p.end_s?,
                what: "pass".to_owned(),
            })
        })
        .collect();
    let caption = if row.has_throttle {
        format!(
            "Flight {flight}: {} (shaded) and {} (barred) were found in it.",
            counted(holds.len(), "steady-throttle hold"),
            counted(passes.len(), "full-throttle pass"),
        )
    } else {
        format!(
            "Flight {flight}: no throttle was logged, so no steady-throttle hold can be told; by its \
             current {} found.",
            match passes.len() {
                0 => "no full-throttle pass was".to_owned(),
                1 => "1 full-throttle pass (barred) was".to_owned(),
                n => format!("{n} full-throttle passes (barred) were"),
            }
        )
    };
    Some(Figure {
        id: format!("strip-{}", flown.slug),
        caption,
        alt: format!(
            "Strips of {} over time for flight {flight}.",
            strips
                .iter()
                .map(|s| s.y.quantity.as_str())
                .collect::<Vec<_>>()
                .join(", ")
        ),
        data: FigureData::FlightStrip(FlightStrip {
            x: axis("time", "s"),
            strips,
            shades: holds.into_iter().chain(passes).collect(),
        }),
    })
}
