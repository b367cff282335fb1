//! Positions: none before a fix, too few satellites, jumps.

use super::{Marks, blank};
use crate::ingest::log::{Channel, Log};
use crate::physics::geodesy;

/// Satellites that a fix in three dimensions and time needs: four unknowns.
const SATELLITES: f64 = 4.0;
/// No model flies faster, m/s (the fastest turbine models reach about 210: common knowledge of the
/// trade, no source).
const FASTEST: f64 = 230.0;
/// Scatter of a receiver that is no jump, m.
const SCATTER_M: f64 = 30.0;
/// A position held longer than this at another place is where the jet is, s.
const LONGEST_JUMP_S: f64 = 5.0;

const FIX: [Channel; 7] = [
    Channel::Latitude,
    Channel::Longitude,
    Channel::GroundSpeed,
    Channel::Course,
    Channel::VelocityNorth,
    Channel::VelocityEast,
    Channel::VelocityDown,
];

pub(super) fn check(log: &mut Log, marks: &mut Marks<'_>) {
    let rows = before_a_fix(log);
    let say = |n: usize| {
        (
            "no-position",
            format!(
                "{n} position(s) at 0° N 0° E, as receivers write them before a fix; they count as absent"
            ),
            "Switch the receiver on some minutes before take-off.",
        )
    };
    blank(log, &rows, &FIX[..2], "0° N 0° E, before a fix", say, marks);
    let rows = few_satellites(log);
    let say = |n: usize| {
        (
            "few-satellites",
            format!(
                "{n} fix(es) from fewer than {SATELLITES} satellites; position and ground speed count as absent"
            ),
            "Give the receiver a free view of the sky.",
        )
    };
    blank(log, &rows, &FIX, "too few satellites", say, marks);
    let rows = jumps(log);
    let say = |n: usize| {
        (
            "position-jumps",
            format!(
                "{n} position(s) so far off the track that no model could have flown there; they count as absent"
            ),
            "Give the receiver a free view of the sky, away from the video transmitter.",
        )
    };
    blank(log, &rows, &FIX[..2], "a jump off the track", say, marks);
}

fn before_a_fix(log: &Log) -> Vec<usize> {
    let (Some(lat), Some(lon)) = (log.get(Channel::Latitude), log.get(Channel::Longitude)) else {
        return Vec::new();
    };
    let zero = |row: &usize| lat[*row] == 0.0 && lon[*row] == 0.0;
    (0..log.len()).filter(zero).collect()
}

fn few_satellites(log: &Log) -> Vec<usize> {
    let Some(count) = log.get(Channel::Satellites) else {
        return Vec::new();
    };
    // A column that never counts enough is no count of satellites.
    if !count.iter().any(|n| *n >= SATELLITES) {
        return Vec::new();
    }
    (0..log.len()).filter(|&r| count[r] < SATELLITES).collect()
}

fn jumps(log: &Log) -> Vec<usize> {
    let (Some(lat), Some(lon)) = (log.get(Channel::Latitude), log.get(Channel::Longitude)) else {
        return Vec::new();
    };
    let reach = |a: usize, b: usize| {
        let metres = geodesy::distance(lat[a], lon[a], lat[b], lon[b]);
        metres <= SCATTER_M + FASTEST * (log.time[b] - log.time[a])
    };
    let (mut out, mut away) = (Vec::new(), Vec::<usize>::new());
    let mut good: Option<usize> = None;
    for row in (0..log.len()).filter(|&r| lat[r].is_finite() && lon[r].is_finite()) {
        let Some(last) = good else {
            good = Some(row);
            continue;
        };
        if reach(last, row) {
            out.append(&mut away);
            good = Some(row);
            continue;
        }
        // A place that does not hold together starts anew.
        if away.last().is_some_and(|&before| !reach(before, row)) {
            out.append(&mut away);
        }
        away.push(row);
        if log.time[row] - log.time[away[0]] > LONGEST_JUMP_S {
            away.clear();
            good = Some(row);
        }
    }
    out.append(&mut away);
    out
}
