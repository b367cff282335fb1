//! Which files belong to one flight.
//!
//! Files of different loggers belong together where their names do (the same name, or the same
//! eight digits or more), else a log without positions takes the one track that starts at its time:
//! by the clock, or a whole number of hours off it where the log's zone is not known.

use std::collections::BTreeMap;

use chrono::{NaiveDate, NaiveDateTime, NaiveTime, TimeDelta};

use super::Found;
use super::season::PowerGuess;
use crate::run::look::Kind;

/// Loggers of one flight are switched on within this time, s (common practice, no source).
const APART_S: i64 = 180;

/// One row of the logbook.
#[derive(Debug, Clone, Default)]
pub struct Flight {
    pub date: Option<NaiveDate>,
    pub time: Option<NaiveTime>,
    pub logs: Vec<String>,
    pub power: String,
    pub remarks: Vec<&'static str>,
}

pub fn flights(found: &[Found], powers: &[PowerGuess], left_out: &mut Vec<String>) -> Vec<Flight> {
    let flown = |f: &&Found| matches!(f.look.kind, Kind::OnboardLog | Kind::PositionTrack);
    let mut groups: Vec<Vec<&Found>> = Vec::new();
    let mut by_name: BTreeMap<String, Vec<&Found>> = BTreeMap::new();
    for file in found.iter().filter(flown) {
        if file.name.contains('+') {
            left_out.push(format!(
                "{}: a name with '+' cannot stand in logbook.csv, where '+' joins several logs; rename it",
                file.name
            ));
            continue;
        }
        by_name.entry(name_key(file.stem())).or_default().push(file);
    }
    for files in by_name.into_values() {
        let distinct = files
            .iter()
            .enumerate()
            .all(|(i, f)| files[..i].iter().all(|g| g.signature() != f.signature()));
        if distinct {
            groups.push(files);
        } else {
            groups.extend(files.into_iter().map(|f| vec![f]));
        }
    }
    join_tracks(&mut groups);
    let mut flights: Vec<Flight> = groups.iter().map(|g| flight(g, powers)).collect();
    flights.sort_by(|a, b| (a.date, a.time, &a.logs).cmp(&(b.date, b.time, &b.logs)));
    flights
}

/// Gives tracks that stand alone to logs without positions.
fn join_tracks(groups: &mut Vec<Vec<&Found>>) {
    let (tracks, mut logs): (Vec<_>, Vec<_>) = std::mem::take(groups)
        .into_iter()
        .partition(|g| g.len() == 1 && g[0].look.kind == Kind::PositionTrack);
    let mut tracks: Vec<&Found> = tracks.into_iter().flatten().collect();
    for whole_hours in [false, true] {
        let wanting: Vec<usize> = (0..logs.len())
            .filter(|&i| logs[i].iter().all(|f| f.look.track.is_none()))
            .collect();
        // Only a pair that is the other's one choice is a pair.
        let fits = |log: usize, track: &Found| together(&logs[log], track, whole_hours);
        let pairs: Vec<(usize, usize)> = wanting
            .iter()
            .filter_map(|&log| {
                let mut mine = (0..tracks.len()).filter(|&t| fits(log, tracks[t]));
                let track = mine.next()?;
                let only = mine.next().is_none()
                    && wanting.iter().filter(|&&l| fits(l, tracks[track])).count() == 1;
                only.then_some((log, track))
            })
            .collect();
        for &(log, track) in &pairs {
            logs[log].push(tracks[track]);
        }
        let mut index = 0;
        tracks.retain(|_| {
            index += 1;
            !pairs.iter().any(|(_, t)| *t == index - 1)
        });
    }
    logs.extend(tracks.into_iter().map(|t| vec![t]));
    *groups = logs;
}

fn together(log: &[&Found], track: &Found, whole_hours: bool) -> bool {
    let Some(log) = log.iter().find(|f| start(f).is_some()) else {
        return false;
    };
    let (Some((a, a_zone)), Some((b, b_zone))) = (start(log), start(track)) else {
        return false;
    };
    let apart = (a - b).num_seconds();
    if !whole_hours {
        return apart.abs() <= APART_S;
    }
    let hours = (apart as f64 / 3600.0).round() as i64;
    a_zone != b_zone && (1..=14).contains(&hours.abs()) && (apart - hours * 3600).abs() <= APART_S
}

/// Start by the file's own clock, and whether that clock is UTC; else by its name.
fn start(file: &Found) -> Option<(NaiveDateTime, bool)> {
    let clock = file.look.time.as_ref().and_then(|time| {
        let at = time.start?.naive_utc();
        Some((at, !time.zone_unknown))
    });
    clock.or_else(|| match stamp(file.stem()) {
        Some((date, Some(time))) => Some((date.and_time(time), false)),
        _ => None,
    })
}

fn flight(files: &[&Found], powers: &[PowerGuess]) -> Flight {
    let mut files = files.to_vec();
    // The log of power first, its track after it.
    files.sort_by_key(|f| (f.look.kind, f.name.clone()));
    let mut row = Flight {
        logs: files.iter().map(|f| f.name.clone()).collect(),
        ..Flight::default()
    };
    let written = files.iter().find_map(|f| stamp(f.stem()));
    let clocks = || files.iter().filter_map(|f| start(f));
    // What the pilot's watch says: a name, or a clock without a zone.
    let local = clocks().find(|(_, utc)| !utc);
    match (local, written) {
        (Some((at, _)), _) => (row.date, row.time) = (Some(at.date()), Some(at.time())),
        (None, Some((date, Some(time)))) => (row.date, row.time) = (Some(date), Some(time)),
        (None, written) => {
            if let Some((at, _)) = clocks().next() {
                (row.date, row.time) = (Some(at.date()), Some(at.time()));
                row.remarks.push("start in UTC");
            }
            row.date = written.map(|(date, _)| date).or(row.date);
        }
    }
    if files.len() > 1 {
        row.remarks.push("guessed: logs of one flight");
    }
    let named = |p: &&PowerGuess| {
        p.id.len() >= 3
            && files
                .iter()
                .any(|f| super::patterns::slug(&f.name).contains(&p.id))
    };
    if let [only] = powers.iter().filter(named).collect::<Vec<_>>()[..]
        && powers.len() > 1
    {
        row.power.clone_from(&only.id);
        row.remarks.push("guessed: power system by file name");
    }
    row
}

/// Eight digits or more tell a flight, else the whole name does.
fn name_key(stem: &str) -> String {
    let digits: String = stem.chars().filter(char::is_ascii_digit).collect();
    if digits.len() >= 8 {
        digits
    } else {
        stem.to_lowercase()
    }
}

/// A date in a file name (`2025-04-12`, `20250412`, `12.04.2025`), and the time that follows it.
fn stamp(stem: &str) -> Option<(NaiveDate, Option<NaiveTime>)> {
    let runs: Vec<&str> = stem
        .split(|c: char| !c.is_ascii_digit())
        .filter(|run| !run.is_empty())
        .collect();
    (0..runs.len()).find_map(|i| {
        let (date, rest) = date(&runs[i..])?;
        let digits: String = rest.concat();
        let number = |at: usize| digits.get(at..at + 2).and_then(|d| d.parse().ok());
        let time = number(0)
            .zip(number(2))
            .and_then(|(h, m)| NaiveTime::from_hms_opt(h, m, number(4).unwrap_or(0)));
        Some((date, time))
    })
}

fn date<'a>(runs: &[&'a str]) -> Option<(NaiveDate, Vec<&'a str>)> {
    let year_fits = |year: &i32| (1990..2100).contains(year);
    let make = |y: &str, m: &str, d: &str| {
        let year = y.parse().ok().filter(year_fits)?;
        NaiveDate::from_ymd_opt(year, m.parse().ok()?, d.parse().ok()?)
    };
    match runs {
        [run, rest @ ..] if run.len() >= 8 => {
            let date = make(&run[..4], &run[4..6], &run[6..8])?;
            let tail = std::iter::once(&run[8..]).filter(|t| !t.is_empty());
            Some((date, tail.chain(rest.iter().copied()).collect()))
        }
        [y, m, d, rest @ ..] if y.len() == 4 => Some((make(y, m, d)?, rest.to_vec())),
        [d, m, y, rest @ ..] if y.len() == 4 => Some((make(y, m, d)?, rest.to_vec())),
        _ => None,
    }
}

pub fn csv(flights: &[Flight]) -> Result<String, csv::Error> {
    let mut writer = csv::Writer::from_writer(Vec::new());
    writer.write_record([
        "flight",
        "date",
        "start",
        "log",
        "airframe",
        "power",
        "pack",
        "put_back_mAh",
        "temperature_C",
        "pressure_hPa",
        "remarks",
    ])?;
    for (index, flight) in flights.iter().enumerate() {
        let half = TimeDelta::milliseconds(500);
        let text = |time: NaiveTime| {
            let near = time.overflowing_add_signed(half).0;
            near.format("%H:%M:%S").to_string()
        };
        writer.write_record([
            format!("f{:02}", index + 1),
            flight.date.map_or_else(String::new, |d| d.to_string()),
            flight.time.map_or_else(String::new, text),
            flight.logs.join(" + "),
            String::new(),
            flight.power.clone(),
            String::new(),
            String::new(),
            String::new(),
            String::new(),
            flight.remarks.join("; "),
        ])?;
    }
    let bytes = writer.into_inner().map_err(|e| e.into_error())?;
    Ok(String::from_utf8_lossy(&bytes).into_owned())
}
