//! Writers: simulated logs as the two loggers of the demo season would leave them.

use std::fmt::Write;

use chrono::{NaiveDateTime, TimeDelta};

use super::noise::{Noise, Stream};
use super::sensors::{Fix, SimLog};

/// A number with a fixed count of decimals; empty for NaN, never −0.
pub fn number(value: f64, decimals: usize) -> String {
    if !value.is_finite() {
        return String::new();
    }
    let text = format!("{value:.decimals$}");
    match text.strip_prefix('-') {
        Some(rest) if rest.bytes().all(|b| matches!(b, b'0' | b'.')) => rest.to_owned(),
        _ => text,
    }
}

/// The same with a decimal comma.
fn comma(value: f64, decimals: usize) -> String {
    number(value, decimals).replace('.', ",")
}

/// ISO 8859-1; what it cannot write becomes `?`.
pub fn latin1(text: &str) -> Vec<u8> {
    text.chars()
        .map(|c| u8::try_from(u32::from(c)).unwrap_or(b'?'))
        .collect()
}

/// How a radio log is to be damaged.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct Damage {
    /// Rows lost between these seconds; recording then starts anew, header and all.
    pub gap_s: Option<(f64, f64)>,
    /// The card was full: the file ends in the middle of the last line.
    pub cut_off: bool,
}

fn at(start: NaiveDateTime, seconds: f64) -> NaiveDateTime {
    start + TimeDelta::milliseconds((seconds * 1000.0).round() as i64)
}

/// Semicolons, decimal commas, Latin-1, a preamble, throttle −100..100, GPS in the log, date
/// and time of day; every `every`-th row. With an accelerometer where its shaking is given.
pub fn radio(
    log: &SimLog,
    start: NaiveDateTime,
    air_c: f64,
    model: &str,
    every: usize,
    damage: Damage,
    mut accelerometer: Option<Noise>,
) -> Vec<u8> {
    let has_current = log.current.iter().any(|amps| amps.is_finite());
    let mut header = String::from("Date;Time;Throttle [%];Voltage [V];");
    header.push_str(if has_current { "Current [A];" } else { "" });
    header.push_str("GPS speed [km/h];Course [°];Altitude [m];GPS lat [°];GPS lon [°];");
    header.push_str("Controller temp [°C]");
    header.push_str(match accelerometer {
        Some(_) => ";Acc Z [g]\r\n",
        None => "\r\n",
    });
    let mut text = format!(
        "Recording;invented data\r\nModel;{model}\r\nAir;{} °C\r\n\r\n{header}",
        comma(air_c, 1),
    );
    let mut heat = Heat::new(air_c);
    let mut in_gap = false;
    for i in 0..log.len() {
        heat.step(log, i);
        let time = log.time[i];
        if damage
            .gap_s
            .is_some_and(|(from, to)| time >= from && time < to)
        {
            in_gap = true;
            continue;
        }
        if i % every != 0 {
            continue;
        }
        if std::mem::take(&mut in_gap) {
            text.push_str(&header);
        }
        let clock = at(start, time);
        let _ = write!(
            text,
            "{};{};{};",
            clock.format("%d.%m.%Y;%H:%M:%S,%3f"),
            comma(200.0 * log.throttle[i] - 100.0, 0),
            comma(log.voltage[i], 2),
        );
        if has_current {
            let _ = write!(text, "{};", comma(log.current[i], 1));
        }
        let _ = write!(
            text,
            "{};{};{};{};{};{}",
            comma(log.gps_speed[i] * 3.6, 1),
            comma(log.course[i].to_degrees(), 1),
            comma(log.height[i], 1),
            comma(log.lat[i], 6),
            comma(log.lon[i], 6),
            comma(heat.controller_c, 0),
        );
        if let Some(shake) = &mut accelerometer {
            let _ = write!(text, ";{}", comma(felt(log, i, shake), 2));
        }
        text.push_str("\r\n");
    }
    cut(&mut text, damage);
    latin1(&text)
}

/// The controller's temperature: heated by current squared, cooled by the duct's air.
struct Heat {
    air_c: f64,
    controller_c: f64,
}

impl Heat {
    fn new(air_c: f64) -> Self {
        Self {
            air_c,
            controller_c: air_c + 2.0,
        }
    }

    fn step(&mut self, log: &SimLog, i: usize) {
        let dt = if i == 0 {
            0.0
        } else {
            log.time[i] - log.time[i - 1]
        };
        let duty = log.throttle[i].max(0.05);
        // Motor current is pack current over duty.
        let motor = log.current_true[i] / duty;
        let warming = 0.008 * motor * motor / 12.0;
        let cooling =
            (self.controller_c - self.air_c) * (0.012 + 0.0006 * log.airspeed_true[i].max(0.0));
        self.controller_c += (warming - cooling) * dt;
    }
}

/// Commas, units in a second header row, throttle in microseconds 1100..1900, time in ms.
pub fn power_logger(log: &SimLog, damage: Damage, shake: &mut Noise) -> Vec<u8> {
    let mut text = String::from("time,throttle,voltage,current,rpm,acc_z\nms,us,V,A,rpm,g\n");
    for i in 0..log.len() {
        let _ = writeln!(
            text,
            "{},{},{},{},{},{}",
            number(log.time[i] * 1000.0, 0),
            number(1100.0 + 800.0 * log.throttle[i], 0),
            number(log.voltage[i], 2),
            number(log.current[i], 1),
            number(log.rpm[i], 0),
            number(felt(log, i, shake), 2),
        );
    }
    cut(&mut text, damage);
    text.into_bytes()
}

/// Commas, decimal points, units beside the names: sixteen columns of one logger that has everything.
pub fn wide(log: &SimLog, air_c: f64, seed: u64) -> Vec<u8> {
    let mut text = String::with_capacity(log.len() * 110);
    text.push_str(
        "time (s),throttle (%),voltage (V),current (A),power (W),charge (mAh),GPS speed (m/s),\
         course (deg),velocity north (m/s),velocity east (m/s),height (m),latitude (deg),\
         longitude (deg),acc z (g),controller temp (degC),satellites\n",
    );
    let mut heat = Heat::new(air_c);
    let mut shake = Noise::new(seed, Stream::Export(0));
    let (mut charge_c, mut last) = (0.0, 0.0);
    for i in 0..log.len() {
        heat.step(log, i);
        charge_c += log.current_true[i] * (log.time[i] - last);
        last = log.time[i];
        for (value, decimals) in [
            (log.time[i], 3),
            (100.0 * log.throttle[i], 1),
            (log.voltage[i], 3),
            (log.current[i], 2),
            (log.voltage[i] * log.current[i], 1),
            (charge_c / 3.6, 1),
            (log.gps_speed[i], 2),
            (log.course[i].to_degrees(), 1),
            (log.vn[i], 2),
            (log.ve[i], 2),
            (log.height[i], 2),
            (log.lat[i], 7),
            (log.lon[i], 7),
            (felt(log, i, &mut shake), 3),
            (heat.controller_c, 1),
        ] {
            text.push_str(&number(value, decimals));
            text.push(',');
        }
        text.push_str("14\n");
    }
    text.into_bytes()
}

/// What an accelerometer reads upwards, g, that is glued in 6 degrees nose-up with its zero a
/// little off in an airframe that shakes.
fn felt(log: &SimLog, i: usize, shake: &mut Noise) -> f64 {
    const ZERO: f64 = 0.03;
    const SHAKE: f64 = 0.05;
    let (sin, cos) = 6.0_f64.to_radians().sin_cos();
    log.load_factor_true[i] * cos - log.forward_g_true[i] * sin + ZERO + SHAKE * shake.normal()
}

/// Half of the last line goes.
fn cut(text: &mut String, damage: Damage) {
    if damage.cut_off {
        let body = text.trim_end();
        let line = body.rfind('\n').map_or(0, |end| end + 1);
        let keep = line + (body.len() - line) / 2;
        text.truncate(keep);
    }
}

/// GPX 1.1, every `every`-th fix, by the position logger's own clock; `start_utc` is the power
/// log's first row. Speed in an extension where asked for.
pub fn gpx(
    fixes: &[Fix],
    start_utc: NaiveDateTime,
    every: usize,
    with_speed: bool,
    name: &str,
) -> Vec<u8> {
    let mut text = String::from(concat!(
        "<?xml version=\"1.0\" encoding=\"UTF-8\"?>\n",
        "<gpx version=\"1.1\" creator=\"benchborne demo\" ",
        "xmlns=\"http://www.topografix.com/GPX/1/1\" xmlns:p=\"urn:benchborne:demo\">\n",
    ));
    let _ = writeln!(text, "<metadata><desc>Invented data.</desc></metadata>");
    let _ = writeln!(text, "<trk><name>{name}</name><trkseg>");
    for fix in fixes.iter().step_by(every) {
        let _ = write!(
            text,
            "<trkpt lat=\"{}\" lon=\"{}\"><ele>{}</ele><time>{}Z</time>",
            number(fix.lat, 6),
            number(fix.lon, 6),
            number(fix.elevation_m, 1),
            at(start_utc, fix.time_s).format("%Y-%m-%dT%H:%M:%S%.3f"),
        );
        if with_speed {
            let speed = number(fix.speed, 2);
            let _ = write!(text, "<extensions><p:speed>{speed}</p:speed></extensions>");
        }
        text.push_str("</trkpt>\n");
    }
    text.push_str("</trkseg></trk>\n</gpx>\n");
    text.into_bytes()
}
