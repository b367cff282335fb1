//! Flights, surveyed one by one, then looked at together for what they share.

use std::collections::BTreeMap;

use rayon::prelude::*;

use super::alone::{Side, Surveys, log_accuracy, sides, survey};
use super::benches::Benches;
use super::folder::PlannedFlight;
use super::kept::{Kept, Key};
use super::logs::FlightLogs;
use super::motion::{MotionRows, Part, motion};
use super::own_rows::RowsAt;
use super::put_back::calibrate;
use super::sensors;
use super::shared::Shared;
use super::shelf::{Shelf, Shelved};
use super::together::{Flight, Known, Together};
use super::unload::unload;
use super::{Progress, Stage};
use crate::flight::record::{Survey, Unused};
use crate::flight::unloading::Unloading;
use crate::season::{Finding, Season, Severity};
use crate::store::from_flight::Flown;
use crate::store::{EstimateErrorRow, SeasonTables};

/// What the answers say beside the number it belongs to is only noted among the findings.
const SAID_IN_ANSWERS: [&str; 1] = ["level-speed-extrapolated"];

/// All flights of a season.
#[derive(Default)]
pub struct Flights {
    pub flights: Vec<Flown>,
    /// The rows of the season's tables that are each flight's own.
    pub rows: Vec<SeasonTables>,
    /// And those of its own pictures.
    pub own: Vec<RowsAt>,
    pub unloading: BTreeMap<String, Unloading>,
    pub estimate_errors: Vec<EstimateErrorRow>,
    /// Logs of flights of which nothing was used.
    pub unused: Vec<Unused>,
    pub motion: MotionRows,
    /// The flights' logs, in the same order.
    pub shelves: Vec<Shelved>,
    /// Of all that the flights' results depend on.
    pub keys: Vec<Option<Key>>,
}

/// Analyses every flight.
pub fn analyse(
    season: &Season,
    reads: Vec<FlightLogs>,
    benches: &Benches,
    (shelf, kept): (&Shelf, &Kept),
    complaints: &mut Vec<Finding>,
    progress: &Progress,
) -> Flights {
    progress.begin(Stage::Flights, reads.len());
    let mut surveys = survey(season, reads, (shelf, kept), progress);
    let scales = calibrate(
        season,
        &mut surveys.flights,
        &mut surveys.shelves,
        complaints,
    );
    let (sides, side_keys) = sides(season, &mut surveys, &scales, (shelf, kept));
    let shared = Shared::of(&surveys.flights, &sides);
    let mut out = Flights {
        unused: surveys
            .flights
            .iter()
            .flat_map(|(_, survey)| survey.unused.iter().cloned())
            .collect(),
        ..Flights::default()
    };
    let known = Known {
        season,
        benches,
        shared: &shared,
    };
    let (mut flights, parts) = told(
        &known,
        surveys,
        (sides, side_keys),
        (shelf, kept),
        &mut out,
        complaints,
    );
    unload(season, benches, &mut flights, &mut out, complaints);
    // Long, and nobody asks for them again.
    for flight in &mut flights {
        flight.bench_draw = None;
        flight.holds = Vec::new();
    }
    out.motion = motion(season, benches, &flights, &parts, complaints);
    out.flights = flights;
    out
}

/// What the flights' logs show of their current sensors, without any analysis.
pub fn sensors(season: &Season, reads: Vec<FlightLogs>, shelf: &Shelf) -> Vec<Finding> {
    let told: Vec<Vec<Finding>> = reads
        .into_par_iter()
        .map(|read| {
            let airframe = read.planned.row.airframe.as_ref();
            let stall = airframe
                .and_then(|a| season.airframes.get(a))
                .and_then(|a| a.stall_speed_m_s);
            let current = log_accuracy(season, &read.planned, "current");
            let logs = read.logs.into_iter().map(|log| log.fetch(shelf)).collect();
            sensors::of_flight(logs, stall, current)
        })
        .collect();
    told.into_iter().flatten().collect()
}

/// A finding about a flight, placed at its first log where it has no place.
pub fn named(mut finding: Finding, planned: &PlannedFlight) -> Finding {
    if SAID_IN_ANSWERS.contains(&finding.code.as_str()) {
        finding.severity = Severity::Note;
    }
    if finding.place.is_none() {
        let file = planned
            .files
            .first()
            .map_or("logbook.csv", |f| f.name.as_str());
        finding = finding.in_file(file);
    }
    finding
}

/// Every flight with what the others know.
fn told(
    known: &Known,
    surveys: Surveys,
    (sides, side_keys): (Vec<Side>, Vec<Option<Key>>),
    (shelf, kept): (&Shelf, &Kept),
    out: &mut Flights,
    complaints: &mut Vec<Finding>,
) -> (Vec<Flown>, Vec<Part>) {
    let mut order: BTreeMap<Option<chrono::NaiveDate>, usize> = BTreeMap::new();
    let in_day = |(planned, _): &(PlannedFlight, Survey)| {
        let in_day = order.entry(planned.row.date).or_insert(0);
        *in_day += 1;
        *in_day
    };
    let in_day: Vec<usize> = surveys.flights.iter().map(in_day).collect();
    let curves = known.curve_keys();
    let mut shelves = surveys.shelves;
    let flights: Vec<_> = surveys.flights.into_iter().zip(sides).collect();
    let done: Vec<(Flown, Together, RowsAt, Option<Key>)> = flights
        .into_par_iter()
        .zip(side_keys)
        .zip(in_day)
        .zip(&mut shelves)
        .enumerate()
        .map(|(i, (((flight, key), in_day), shelved))| {
            let ((planned, survey), side) = flight;
            let mut flight = Flight {
                number: i,
                order_in_day: in_day,
                planned: &planned,
                survey,
                side,
            };
            let key = key.map(|key| flight.key(known, &curves, key));
            let earlier = key.and_then(|key| {
                let rows = RowsAt::earlier(kept, key)?;
                Some((kept.get::<Together>("flight", key)?, rows))
            });
            let (mut found, rows) = earlier.unwrap_or_else(|| {
                let aside = shelf.light(shelved, &mut flight.survey);
                let (found, rows) = flight.look(known);
                shelved.dim(shelf, &mut flight.survey, aside);
                let rows = RowsAt::put(rows, key, (shelf, kept));
                if let Some(key) = key.filter(|_| shelf.is_sound()) {
                    kept.put("flight", key, &found);
                }
                (found, rows)
            });
            let flown = flight.flown(known, &mut found);
            (flown, found, rows, key)
        })
        .collect();
    let mut parts = Vec::with_capacity(done.len());
    let mut flights = Vec::with_capacity(done.len());
    let mut later = Vec::new();
    for (flown, found, rows, key) in done {
        out.own.push(rows);
        complaints.extend(found.level_told);
        later.extend(found.told);
        out.rows.push(found.rows);
        out.keys.push(key);
        parts.push(found.part);
        flights.push(flown);
    }
    complaints.append(&mut later);
    out.shelves = shelves;
    (flights, parts)
}
