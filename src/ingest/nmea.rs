//! NMEA 0183 sentences: RMC, GGA and VTG of any talker, put together to one fix an instant.
//!
//! A row of the file is a sentence. One with a wrong checksum, one that is no sentence, and one that
//! the receiver itself calls void (no fix yet) are set aside; sentences of other kinds are no rows,
//! and a note counts them. A missing checksum sets a sentence aside unless the whole file goes
//! without. Sentences of one time of day are one fix; VTG, which has no time, belongs to the fix
//! before it. Of two sentences that say the same of one instant (mixed talkers) the first holds.
//! The date comes from RMC; fixes without one take it from their neighbours, past midnight too.
//! Fields: NMEA 0183 as in the open descriptions of it (from memory; the checksums in the tests are
//! checked by calculation).

use std::collections::BTreeMap;

use chrono::{NaiveDate, NaiveTime};

use super::ledger::FileLedger;
use super::log::Channel;
use super::read::LogRead;
use super::track::{self, Fix, Track, assemble, report_set_aside};
use crate::season::Finding;

/// m/s in a knot (exact).
const KNOT: f64 = 1852.0 / 3600.0;
const DAY_S: f64 = 86_400.0;

/// True if most lines of the head are sentences.
pub(super) fn is_nmea(head: &str) -> bool {
    let lines = || lines(head).take(50);
    let sentences = lines().filter(|(_, l)| body(l).is_some()).count();
    sentences > 0 && sentences * 2 >= lines().count()
}

fn lines(text: &str) -> impl Iterator<Item = (u32, &str)> {
    let text = text.strip_prefix('\u{feff}').unwrap_or(text);
    let split = text.split('\n').flat_map(|l| {
        // A carriage return alone also ends a line.
        l.trim_end_matches('\r').split('\r')
    });
    (1u32..)
        .zip(split)
        .map(|(line, text)| (line, text.trim_matches([' ', '\t', '\0'])))
        .filter(|(_, text)| !text.is_empty())
}

/// What stands behind the `$` (or `!`) of a sentence; a logger may have written its own time before.
fn body(line: &str) -> Option<&str> {
    let at = line.rfind(['$', '!'])?;
    let body = &line[at + 1..];
    let address = body.split([',', '*']).next().unwrap_or_default();
    let is_address = address.len() >= 4
        && address
            .bytes()
            .all(|b| b.is_ascii_uppercase() || b.is_ascii_digit());
    (is_address && body.contains(',')).then_some(body)
}

enum Checked<'a> {
    Good(&'a str),
    Missing(&'a str),
    Wrong,
}

/// The exclusive-or of all characters between `$` and `*`.
fn checked(body: &str) -> Checked<'_> {
    let Some((text, sum)) = body.rsplit_once('*') else {
        return Checked::Missing(body);
    };
    let sum = sum.trim();
    let written = (sum.len() == 2)
        .then(|| u8::from_str_radix(sum, 16).ok())
        .flatten();
    if written == Some(text.bytes().fold(0, |sum, b| sum ^ b)) {
        Checked::Good(text)
    } else {
        Checked::Wrong
    }
}

/// One sentence of the kinds read here.
struct Sentence {
    /// s since midnight.
    time: Option<f64>,
    date: Option<NaiveDate>,
    values: Vec<(Channel, f64)>,
}

enum Outcome {
    Read(Sentence),
    NoFix,
    Bad,
}

/// A fix with the date that one of its sentences gave.
struct Epoch {
    fix: Fix,
    time: f64,
    date: Option<NaiveDate>,
}

/// Reads sentences; never fails.
pub(super) fn read(text: &str, file: &str) -> LogRead {
    let mut ledger = FileLedger::new(file);
    let mut findings = Vec::new();
    let unchecked = lines(text)
        .filter_map(|(_, l)| body(l))
        .all(|b| matches!(checked(b), Checked::Missing(_)));
    let mut others: BTreeMap<&str, u32> = BTreeMap::new();
    let mut epochs: Vec<Epoch> = Vec::new();
    for (line, written) in lines(text) {
        let mut set_aside = |code, what| ledger.set_aside(code, u64::from(line), what);
        let Some(body) = body(written) else {
            set_aside("no-sentence", "a line that is no NMEA sentence");
            continue;
        };
        let sentence = match checked(body) {
            Checked::Good(text) => text,
            Checked::Missing(text) if unchecked => text,
            Checked::Missing(_) => {
                set_aside("no-checksum", "a sentence without its checksum");
                continue;
            }
            Checked::Wrong => {
                set_aside("bad-checksum", "the checksum does not match");
                continue;
            }
        };
        let fields: Vec<&str> = sentence.split(',').collect();
        let kind = fields[0].get(fields[0].len().saturating_sub(3)..);
        let is_private = fields[0].starts_with('P');
        let outcome = match kind.filter(|_| !is_private) {
            Some("RMC") => rmc(&fields),
            Some("GGA") => gga(&fields),
            Some("VTG") => vtg(&fields),
            _ => {
                *others.entry(fields[0]).or_default() += 1;
                continue;
            }
        };
        let sentence = match outcome {
            Outcome::Read(sentence) => sentence,
            Outcome::NoFix => {
                set_aside("no-fix", "the receiver says that it has no fix");
                continue;
            }
            Outcome::Bad => {
                set_aside("bad-sentence", "a field that cannot be read");
                continue;
            }
        };
        if !join(&mut epochs, sentence, line) {
            set_aside("no-time", "speed and course before the first time");
            continue;
        }
        ledger.use_row();
    }
    report_set_aside(
        &ledger,
        "sentence(s)",
        "Look at the line named; a few at the start or end are usual.",
        &mut findings,
    );
    if unchecked && !epochs.is_empty() {
        findings.push(
            Finding::warning(
                "no-checksums",
                "no sentence has a checksum; they were read unchecked",
                "Let the logger write sentences whole.",
            )
            .in_file(file),
        );
    }
    if !others.is_empty() {
        let kinds: Vec<String> = others.iter().map(|(k, n)| format!("{k} ({n})")).collect();
        findings.push(
            Finding::note(
                "other-sentences",
                format!(
                    "sentences of other kinds are not read: {}",
                    kinds.join(", ")
                ),
                "Nothing: position, speed and course stand in RMC, GGA and VTG.",
            )
            .in_file(file),
        );
    }
    if epochs.is_empty() {
        return track::nothing(
            ledger,
            findings,
            "no RMC or GGA sentence could be used",
            "Let the logger write RMC sentences, and start it where the receiver sees the sky.",
        );
    }
    let origin = date_epochs(&mut epochs);
    if origin.is_none() {
        findings.push(
            Finding::note(
                "no-date",
                "no RMC sentence gives the date",
                "Name the log in the logbook, with its date.",
            )
            .in_file(file),
        );
    }
    let track = Track {
        file,
        fixes: epochs.into_iter().map(|e| e.fix).collect(),
        restarts: Vec::new(),
        origin: origin.map(|d| d.and_time(NaiveTime::MIN).and_utc()),
        wraps_at_midnight: origin.is_none(),
    };
    assemble(track, ledger, findings)
}

/// Adds a sentence to the fix that it belongs to; false where there is none.
fn join(epochs: &mut Vec<Epoch>, sentence: Sentence, line: u32) -> bool {
    let same = |epoch: &Epoch| sentence.time.is_none_or(|t| t == epoch.time);
    if !epochs.last().is_some_and(same) {
        let Some(time) = sentence.time else {
            return false;
        };
        epochs.push(Epoch {
            fix: Fix {
                line,
                ..Fix::default()
            },
            time,
            date: None,
        });
    }
    let Some(epoch) = epochs.last_mut() else {
        return false;
    };
    epoch.fix.rows += 1;
    epoch.date = epoch.date.or(sentence.date);
    for (channel, value) in sentence.values {
        epoch.fix.put(channel, Some(value));
    }
    true
}

/// Fills in the fixes' seconds since the midnight of the first date; that date.
fn date_epochs(epochs: &mut [Epoch]) -> Option<NaiveDate> {
    let Some((first, origin)) = epochs
        .iter()
        .enumerate()
        .find_map(|(i, e)| e.date.map(|d| (i, d)))
    else {
        for epoch in epochs {
            epoch.fix.seconds = Some(epoch.time);
        }
        return None;
    };
    let mut next = epochs[first].time;
    for epoch in epochs[..first].iter_mut().rev() {
        let mut time = epoch.time;
        while time > next + DAY_S / 2.0 {
            time -= DAY_S;
        }
        epoch.fix.seconds = Some(time);
        next = time;
    }
    let (mut days, mut last) = (0.0, f64::NEG_INFINITY);
    for epoch in &mut epochs[first..] {
        match epoch.date {
            Some(date) => days = (date - origin).num_days() as f64,
            None if epoch.time < last - DAY_S / 2.0 => days += 1.0,
            None => {}
        }
        last = epoch.time;
        epoch.fix.seconds = Some(days * DAY_S + epoch.time);
    }
    Some(origin)
}

/// Recommended minimum: time, status, position, speed (kt), course, date.
fn rmc(fields: &[&str]) -> Outcome {
    let field = |i: usize| fields.get(i).copied().unwrap_or_default();
    if field(2) != "A" {
        return if matches!(field(2), "V" | "") {
            Outcome::NoFix
        } else {
            Outcome::Bad
        };
    }
    let (Some(time), Some((lat, lon)), Some(date)) = (
        track::time_of_day(field(1)),
        position(&fields[3..]),
        track::date(field(9)).filter(|_| field(9).len() == 6),
    ) else {
        return Outcome::Bad;
    };
    let (Ok(speed), Ok(course)) = (optional(field(7)), optional(field(8))) else {
        return Outcome::Bad;
    };
    let mut values = vec![(Channel::Latitude, lat), (Channel::Longitude, lon)];
    values.extend(speed.map(|v| (Channel::GroundSpeed, v * KNOT)));
    values.extend(course.map(|c| (Channel::Course, c.to_radians())));
    Outcome::Read(Sentence {
        time: Some(time),
        date: Some(date),
        values,
    })
}

/// Fix data: time, position, quality, satellites, height above the geoid.
fn gga(fields: &[&str]) -> Outcome {
    let field = |i: usize| fields.get(i).copied().unwrap_or_default();
    if matches!(field(6), "0" | "") {
        return Outcome::NoFix;
    }
    let (Some(time), Some((lat, lon))) = (track::time_of_day(field(1)), position(&fields[2..]))
    else {
        return Outcome::Bad;
    };
    let (Ok(satellites), Ok(height)) = (optional(field(7)), optional(field(9))) else {
        return Outcome::Bad;
    };
    let mut values = vec![(Channel::Latitude, lat), (Channel::Longitude, lon)];
    values.extend(satellites.map(|n| (Channel::Satellites, n)));
    values.extend(height.map(|h| (Channel::Height, h)));
    Outcome::Read(Sentence {
        time: Some(time),
        date: None,
        values,
    })
}

/// Track made good and ground speed: in knots (5), else in km/h (7).
fn vtg(fields: &[&str]) -> Outcome {
    let field = |i: usize| fields.get(i).copied().unwrap_or_default();
    if field(9) == "N" {
        return Outcome::NoFix;
    }
    let (Ok(course), Ok(knots), Ok(kmh)) =
        (optional(field(1)), optional(field(5)), optional(field(7)))
    else {
        return Outcome::Bad;
    };
    let speed = knots.map(|v| v * KNOT).or(kmh.map(|v| v / 3.6));
    let mut values = Vec::new();
    values.extend(speed.map(|v| (Channel::GroundSpeed, v)));
    values.extend(course.map(|c| (Channel::Course, c.to_radians())));
    if values.is_empty() {
        return Outcome::NoFix;
    }
    Outcome::Read(Sentence {
        time: None,
        date: None,
        values,
    })
}

/// A number or nothing; `Err` for anything else.
fn optional(field: &str) -> Result<Option<f64>, ()> {
    if field.is_empty() {
        return Ok(None);
    }
    let plain = field
        .bytes()
        .all(|b| b.is_ascii_digit() || matches!(b, b'.' | b'-'));
    match field.parse::<f64>() {
        Ok(value) if plain => Ok(Some(value)),
        _ => Err(()),
    }
}

/// `4807.038,N,01131.000,E`: degrees and minutes run together.
fn position(fields: &[&str]) -> Option<(f64, f64)> {
    let angle = |text: &str, side: &str, sides: [&str; 2], most: f64| {
        let value = optional(text).ok()??;
        let degrees = (value / 100.0).floor();
        let minutes = value - 100.0 * degrees;
        let sign = if side == sides[0] {
            1.0
        } else if side == sides[1] {
            -1.0
        } else {
            return None;
        };
        let angle = degrees + minutes / 60.0;
        (value >= 0.0 && minutes < 60.0 && angle <= most).then_some(sign * angle)
    };
    let field = |i: usize| fields.get(i).copied().unwrap_or_default();
    let lat = angle(field(0), field(1), ["N", "S"], 90.0)?;
    Some((lat, angle(field(2), field(3), ["E", "W"], 180.0)?))
}
