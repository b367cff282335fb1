//! FAI IGC files: B records with the extensions that the I record declares.
//!
//! A row of the file is a B record (a fix); other records are no rows. Time is UTC, the date stands
//! in `HFDTE`, and a time that goes back by half a day has passed midnight. Height is the pressure
//! height (finer than the receiver's, and every recorder with a sensor has it) unless it is the same
//! throughout; then the receiver's, of fixes marked `A` only. Of a fix marked `V` (no third dimension)
//! a height of exactly zero is none: recorders fill the field with it. Extensions read: TAS, IAS, GSP (km/h),
//! TRT (degrees), VAR or else VAT (m/s, up), OAT (degrees Celsius), SIU (satellites). Where a record
//! gives more digits than whole units need, the rest are decimals without a mark, and recorders
//! differ in how many: for ground speed the power of ten is the one that agrees with the positions,
//! for climb with the heights, else it follows the width. Source: FAI technical specification for
//! IGC-approved flight recorders, appendix A (from memory; checked on recorded flights in the tests).

use chrono::NaiveTime;

use super::ledger::FileLedger;
use super::log::Channel;
use super::read::LogRead;
use super::track::{self, Fix, Track, assemble, report_set_aside};
use crate::physics::geodesy;
use crate::season::Finding;

/// Length of a B record without extensions.
const SHORTEST: usize = 35;

/// True if the head holds a B record.
pub(super) fn is_igc(head: &str) -> bool {
    head.split(['\n', '\r'])
        .filter(|line| line.starts_with('B'))
        .take(20)
        .any(|line| Record::parse(line).is_some())
}

/// The fixed part of a B record.
struct Record {
    seconds: f64,
    latitude: f64,
    longitude: f64,
    /// A three-dimensional fix.
    valid: bool,
    pressure_height: Option<f64>,
    receiver_height: Option<f64>,
}

impl Record {
    fn parse(line: &str) -> Option<Self> {
        let text = line.get(..SHORTEST).filter(|t| t.is_ascii())?;
        let part = |from: usize, to: usize| text.get(from - 1..to).unwrap_or_default();
        let number = |from, to| track::number(part(from, to)).map(f64::from);
        let side = |at: usize, plus: &str, minus: &str| match part(at, at) {
            side if side == plus => Some(1.0),
            side if side == minus => Some(-1.0),
            _ => None,
        };
        let angle = |degrees: f64, thousandths: f64, most: f64| {
            let angle = degrees + thousandths / 60_000.0;
            (thousandths < 60_000.0 && angle <= most).then_some(angle)
        };
        // A height may carry a sign; a recorder without the sensor may leave it blank.
        let height = |from, to| match part(from, to).strip_prefix('-') {
            Some(digits) => track::number(digits).map(|x| -f64::from(x)),
            None => number(from, to),
        };
        Some(Self {
            seconds: track::time_of_day(part(2, 7))?,
            latitude: side(15, "N", "S")? * angle(number(8, 9)?, number(10, 14)?, 90.0)?,
            longitude: side(24, "E", "W")? * angle(number(16, 18)?, number(19, 23)?, 180.0)?,
            valid: match part(25, 25) {
                "A" => true,
                "V" => false,
                _ => return None,
            },
            pressure_height: height(26, 30),
            receiver_height: height(31, 35),
        })
    }
}

/// A field that the I record declares.
#[derive(Debug, Clone, PartialEq)]
struct Extension {
    /// 1-based, both ends included.
    from: usize,
    to: usize,
    code: String,
}

impl Extension {
    fn value(&self, line: &str) -> Option<f64> {
        let text = line.get(self.from - 1..self.to)?.trim();
        let (sign, digits) = match text.strip_prefix('-') {
            Some(digits) => (-1.0, digits),
            None => (1.0, text),
        };
        Some(sign * f64::from(track::number(digits)?))
    }

    fn width(&self) -> i32 {
        (self.to - self.from) as i32 + 1
    }
}

/// `I073638FXA3941ENL…`; the number of extensions goes ahead.
fn extensions(line: &str) -> Option<Vec<Extension>> {
    let count = track::number(line.get(1..3)?)? as usize;
    (0..count)
        .map(|i| {
            let text = line.get(3 + 7 * i..10 + 7 * i)?;
            let from = track::number(text.get(..2)?)? as usize;
            let to = track::number(text.get(2..4)?)? as usize;
            let sound = from > SHORTEST && to >= from && to - from < 9;
            sound.then(|| Extension {
                from,
                to,
                code: text[4..].to_owned(),
            })
        })
        .collect()
}

/// Reads an IGC text; never fails.
pub(super) fn read(text: &str, file: &str) -> LogRead {
    let mut ledger = FileLedger::new(file);
    let mut findings = Vec::new();
    let mut date = None;
    let mut declared: Vec<Extension> = Vec::new();
    let mut records: Vec<(u32, &str, Record)> = Vec::new();
    let lines = text
        .split('\n')
        .flat_map(|l| l.trim_end_matches('\r').split('\r'));
    for (line, content) in (1u32..).zip(lines) {
        let content = content.trim_end();
        match content.bytes().next() {
            Some(b'B') => match Record::parse(content) {
                Some(record) => {
                    ledger.use_row();
                    records.push((line, content, record));
                }
                None => ledger.set_aside(
                    "bad-record",
                    u64::from(line),
                    "a B record cut off or damaged",
                ),
            },
            Some(b'H') if date.is_none() => date = header_date(content),
            Some(b'I') => match extensions(content) {
                Some(list) => declared = list,
                None => findings.push(
                    Finding::warning(
                        "bad-record",
                        "the I record cannot be read; the extensions of the fixes are lost",
                        "Copy the file from the recorder again.",
                    )
                    .at(file, line, None),
                ),
            },
            // Other records (task, events, signature) are no fixes.
            None | Some(b'A'..=b'Z') => {}
            Some(_) => {
                ledger.set_aside("no-record", u64::from(line), "a line that is no IGC record")
            }
        }
    }
    report_set_aside(
        &ledger,
        "record(s)",
        "Copy the file from the recorder again.",
        &mut findings,
    );
    if records.is_empty() {
        return track::nothing(
            ledger,
            findings,
            "no B record could be used",
            "Copy the file from the recorder again.",
        );
    }
    if date.is_none() {
        findings.push(
            Finding::warning(
                "no-date",
                "no HFDTE record gives the date",
                "Name the log in the logbook, with its date.",
            )
            .in_file(file),
        );
    }
    let mut fixes: Vec<Fix> = records
        .iter()
        .map(|(line, _, record)| {
            let mut fix = Fix {
                line: *line,
                rows: 1,
                seconds: Some(record.seconds),
                values: Vec::new(),
            };
            fix.put(Channel::Latitude, Some(record.latitude));
            fix.put(Channel::Longitude, Some(record.longitude));
            fix
        })
        .collect();
    heights(&records, &mut fixes, &mut ledger, &mut findings);
    for (code, channel) in EXTENSIONS {
        let Some(extension) = declared.iter().find(|e| e.code == *code) else {
            continue;
        };
        let raw: Vec<Option<f64>> = records.iter().map(|(_, l, _)| extension.value(l)).collect();
        let by = scale(*channel, extension, &declared, &records);
        for (fix, raw) in fixes.iter_mut().zip(raw) {
            fix.put(*channel, raw.map(|x| by.0 * x + by.1));
        }
    }
    if declared.iter().any(|e| e.code == "VAT") && declared.iter().all(|e| e.code != "VAR") {
        findings.push(
            Finding::note(
                "total-energy-climb",
                "the climb rate is compensated for changes of speed (VAT)",
                "Nothing; the heights do not depend on it.",
            )
            .in_file(file),
        );
    }
    let track = Track {
        file,
        fixes,
        restarts: Vec::new(),
        origin: date.map(|d| d.and_time(NaiveTime::MIN).and_utc()),
        wraps_at_midnight: true,
    };
    assemble(track, ledger, findings)
}

/// `HFDTE020911` or `HFDTEDATE:020911,01`.
fn header_date(line: &str) -> Option<chrono::NaiveDate> {
    let rest = line.get(1..)?.strip_prefix(['F', 'O', 'P'])?;
    let rest = rest.strip_prefix("DTE")?;
    track::date(rest.trim_start_matches(|c: char| !c.is_ascii_digit()))
}

/// Codes and what they mean; of two codes for one channel the first holds.
const EXTENSIONS: &[(&str, Channel)] = &[
    ("TAS", Channel::Airspeed),
    ("IAS", Channel::Airspeed),
    ("GSP", Channel::GroundSpeed),
    ("TRT", Channel::Course),
    ("VAR", Channel::ClimbRate),
    ("VAT", Channel::ClimbRate),
    ("OAT", Channel::AirTemperature),
    ("SIU", Channel::Satellites),
];

fn heights(
    records: &[(u32, &str, Record)],
    fixes: &mut [Fix],
    ledger: &mut FileLedger,
    findings: &mut Vec<Finding>,
) {
    let first = records[0].2.pressure_height;
    let has_sensor = records.iter().any(|(_, _, r)| r.pressure_height != first);
    let (mut flat, mut first_flat) = (0usize, None);
    for (fix, (line, _, record)) in fixes.iter_mut().zip(records) {
        let (written, height) = if has_sensor {
            let written = record.pressure_height;
            (written, written.filter(|h| record.valid || *h != 0.0))
        } else {
            let written = record.receiver_height;
            (written, written.filter(|_| record.valid))
        };
        if written.is_some() && height.is_none() {
            flat += 1;
            first_flat.get_or_insert(*line);
        }
        fix.put(Channel::Height, height);
    }
    if let Some(line) = first_flat {
        let why = "of a fix without a third dimension";
        ledger.mark(Channel::Height, "no-height", flat, line, why);
        let what = format!(
            "{flat} fix(es) have no third dimension (V), and their heights count as absent"
        );
        let to_do = "Nothing; let the receiver find its satellites before the launch.";
        findings.push(Finding::warning("no-height", what, to_do).at(&ledger.file, line, None));
    }
    let (taken, left) = if has_sensor {
        ("pressure height", "the receiver's")
    } else {
        (
            "the receiver's height",
            "pressure height, which never changes",
        )
    };
    findings.push(
        Finding::note(
            "several-columns",
            format!("each fix has two heights: {taken} was taken, not {left}"),
            "Nothing; both only count from the start.",
        )
        .in_file(&ledger.file),
    );
}

/// Factor and offset from the digits of an extension to the channel's unit.
fn scale(
    channel: Channel,
    extension: &Extension,
    declared: &[Extension],
    records: &[(u32, &str, Record)],
) -> (f64, f64) {
    let decimals = 10f64.powi(-(extension.width() - 3).max(0));
    match channel {
        Channel::Airspeed | Channel::GroundSpeed => {
            // Airspeed is written like the ground speed of the same width.
            let ground = declared
                .iter()
                .find(|e| e.code == "GSP" && e.width() == extension.width());
            let seen = ground.and_then(|e| power_of_ten(e, records, ground_speed_kmh));
            (seen.unwrap_or(decimals) / 3.6, 0.0)
        }
        Channel::ClimbRate => {
            let seen = power_of_ten(extension, records, climb);
            (seen.unwrap_or(decimals), 0.0)
        }
        Channel::Course => (decimals.to_radians(), 0.0),
        Channel::AirTemperature => (decimals, crate::units::ZERO_CELSIUS),
        _ => (1.0, 0.0),
    }
}

/// The power of ten that makes an extension agree with what two fixes say; `None` where they say
/// too little or nothing agrees.
fn power_of_ten(
    extension: &Extension,
    records: &[(u32, &str, Record)],
    derived: impl Fn(&Record, &Record) -> Option<f64>,
) -> Option<f64> {
    const PAIRS: usize = 20;
    let (mut pairs, mut written, mut seen) = (0usize, 0.0, 0.0);
    for pair in records.windows(2) {
        let ((_, line_a, a), (_, line_b, b)) = (&pair[0], &pair[1]);
        let step = b.seconds - a.seconds;
        if !(step > 0.0 && step <= 10.0) {
            continue;
        }
        let (Some(x), Some(raw_a), Some(raw_b)) = (
            derived(a, b),
            extension.value(line_a),
            extension.value(line_b),
        ) else {
            continue;
        };
        pairs += 1;
        written += 0.5 * (raw_a + raw_b).abs();
        seen += x.abs();
    }
    let power = (seen / written).log10();
    // Half a power of ten away it could be either.
    (pairs >= PAIRS && power.is_finite() && (power - power.round()).abs() < 0.3)
        .then(|| 10f64.powf(power.round()))
}

/// km/h over ground between two fixes, by their positions.
fn ground_speed_kmh(a: &Record, b: &Record) -> Option<f64> {
    let metres = geodesy::distance(a.latitude, a.longitude, b.latitude, b.longitude);
    Some(3.6 * metres / (b.seconds - a.seconds)).filter(|v| v.is_finite())
}

/// m/s up between two fixes.
fn climb(a: &Record, b: &Record) -> Option<f64> {
    Some((b.pressure_height? - a.pressure_height?) / (b.seconds - a.seconds))
}
