//! Flights, surveyed one by one, then looked at together for what they share.

use std::collections::BTreeMap;

use rayon::prelude::*;

use super::airspeed::airspeed;
use super::benches::Benches;
use super::density;
use super::folder::PlannedFlight;
use super::logs::FlightLogs;
use super::motion::{MotionRows, Part, motion, part};
use super::put_back::calibrate;
use super::sensors;
use super::shelf::{Shelf, Shelved};
use super::together::{level_speeds, log_accuracy, unload};
use super::{Progress, Stage};
use crate::flight::bench_draw::BenchDraw;
use crate::flight::duration::to_reserve;
use crate::flight::phases::Phase;
use crate::flight::record::{self, LevelSpeed, PowerSide, Survey, Unused};
use crate::flight::run_up::PooledTimeConstant;
use crate::flight::stopwatch;
use crate::flight::unloading::Unloading;
use crate::ingest::Channel;
use crate::physics::atmosphere::standard;
use crate::season::{Finding, PassRow, Season, Severity};
use crate::stats;
use crate::store::EstimateErrorRow;
use crate::store::from_flight::Flown;

/// What the answers say beside the number it belongs to is only noted among the findings.
const SAID_IN_ANSWERS: [&str; 1] = ["level-speed-extrapolated"];

/// All flights of a season.
#[derive(Debug, Default)]
pub struct Flights {
    pub flights: Vec<Flown>,
    pub unloading: BTreeMap<String, Unloading>,
    pub estimate_errors: Vec<EstimateErrorRow>,
    /// Logs of flights of which nothing was used.
    pub unused: Vec<Unused>,
    pub motion: MotionRows,
    /// The flights' logs, in the same order.
    pub shelves: Vec<Shelved>,
}

/// Analyses every flight.
pub fn analyse(
    season: &Season,
    reads: Vec<FlightLogs>,
    benches: &Benches,
    shelf: &Shelf,
    complaints: &mut Vec<Finding>,
    progress: &Progress,
) -> Flights {
    progress.begin(Stage::Flights, reads.len());
    let (mut surveys, mut shelves): (Vec<(PlannedFlight, Survey)>, Vec<Shelved>) = reads
        .into_par_iter()
        .map(|read| {
            let row = &read.planned.row;
            let stall = row
                .airframe
                .as_ref()
                .and_then(|a| season.airframes.get(a))
                .and_then(|a| a.stall_speed_m_s);
            let [current, voltage] =
                ["current", "voltage"].map(|c| log_accuracy(season, &read.planned, c));
            let logs = read.logs.into_iter().map(|log| log.fetch(shelf)).collect();
            let mut survey = record::survey(logs, stall, current, voltage);
            let shelved = match &mut survey.log {
                Some(log) => shelf.put(log, survey.velocity.as_mut()),
                None => Shelved::default(),
            };
            progress.done(Stage::Flights, 0);
            ((read.planned, survey), shelved)
        })
        .unzip();
    calibrate(season, &mut surveys, &mut shelves, complaints);
    let sides: Vec<PowerSide> = surveys
        .par_iter_mut()
        .zip(&mut shelves)
        .map(|((_, survey), shelved)| {
            shelf.lit(shelved, survey, |s| record::power_side(s, &season.rules))
        })
        .collect();
    let levels = level_speeds(&surveys, &sides, complaints);
    let (mut flights, parts) = flown(
        (season, benches),
        (surveys, sides),
        levels,
        (shelf, &mut shelves),
        complaints,
    );
    let mut out = Flights {
        unused: flights
            .iter()
            .flat_map(|f| f.survey.unused.iter().cloned())
            .collect(),
        ..Flights::default()
    };
    unload(season, benches, &mut flights, &mut out, complaints);
    out.motion = motion(season, benches, &flights, &parts, complaints);
    (out.flights, out.shelves) = (flights, shelves);
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

/// What is known of a flight on its own, and of the level speeds that flights know together.
type Surveyed = (PlannedFlight, Survey);

fn flown(
    (season, benches): (&Season, &Benches),
    (surveys, sides): (Vec<Surveyed>, Vec<PowerSide>),
    (levels, pooled): (
        Vec<Option<LevelSpeed>>,
        BTreeMap<String, PooledTimeConstant>,
    ),
    (shelf, shelves): (&Shelf, &mut [Shelved]),
    complaints: &mut Vec<Finding>,
) -> (Vec<Flown>, Vec<Part>) {
    let mut order: BTreeMap<Option<chrono::NaiveDate>, usize> = BTreeMap::new();
    let in_day: Vec<usize> = surveys
        .iter()
        .map(|(planned, _)| {
            let in_day = order.entry(planned.row.date).or_insert(0);
            *in_day += 1;
            *in_day
        })
        .collect();
    let known: Vec<_> = surveys
        .into_iter()
        .zip(sides)
        .zip(levels)
        .zip(in_day)
        .collect();
    let done: Vec<(Flown, Part, Vec<Finding>)> = known
        .into_par_iter()
        .zip(shelves)
        .map(|((((surveyed, power), level), in_day), shelved)| {
            let (planned, mut survey) = surveyed;
            let aside = shelf.light(shelved, &mut survey);
            let mut told = Vec::new();
            let known = (survey, power, level, in_day);
            let mut flown = one((season, benches), &planned, known, &pooled, &mut told);
            let part = part(season, &flown);
            shelved.dim(&mut flown.survey, aside);
            (flown, part, told)
        })
        .collect();
    let mut parts = Vec::with_capacity(done.len());
    let mut out = Vec::with_capacity(done.len());
    for (flown, part, told) in done {
        out.push(flown);
        parts.push(part);
        complaints.extend(told);
    }
    (out, parts)
}

/// One flight with what the others know of its power system and its day.
fn one(
    (season, benches): (&Season, &Benches),
    planned: &PlannedFlight,
    (mut survey, power, mut level, order_in_day): (Survey, PowerSide, Option<LevelSpeed>, usize),
    pooled: &BTreeMap<String, PooledTimeConstant>,
    complaints: &mut Vec<Finding>,
) -> Flown {
    complaints.extend(
        survey
            .findings
            .iter()
            .chain(&power.findings)
            .cloned()
            .map(|f| named(f, planned)),
    );
    airspeed(planned, &mut survey, &power, level.as_mut(), complaints);
    let disagreement = level.as_mut().and_then(|l| l.charge_method_error());
    complaints.extend(disagreement.map(|f| named(f, planned)));
    let row = planned.row.clone();
    let density_kg_m3 = density(season, &row) * thinner(season, &survey);
    let wind = level
        .as_ref()
        .map(|l| (l.fit.wind.north_m_s, l.fit.wind.east_m_s));
    let (holds, loads) = record::holds_and_loads(&survey, &power, wind, density_kg_m3);
    complaints.extend(
        loads
            .iter()
            .flat_map(|l| &l.findings)
            .cloned()
            .map(|f| named(f, planned)),
    );
    let curve = row.power.as_ref().and_then(|p| benches.curves.get(p));
    let bench_draw = curve.and_then(|c| c.current.as_ref()).and_then(|curve| {
        let log = record::in_air(&survey, wind)?;
        let full = season.rules.full_throttle.value;
        let phases = survey.phases.as_ref();
        Some(BenchDraw::of(&log, phases, density_kg_m3, curve, full))
    });
    let pack = season.pack_of(&row);
    let resistance = power
        .pack
        .as_ref()
        .map(|p| p.resistance_ohm)
        .or_else(|| pack.map(|p| p.resistance_ohm.value));
    let passes = record::pass_state(&survey, &power, resistance);
    let constant = row.power.as_ref().and_then(|p| pooled.get(p));
    let timed_rows: Vec<&PassRow> = season
        .passes
        .iter()
        .filter(|p| p.flight == row.flight)
        .collect();
    let timed = (!timed_rows.is_empty())
        .then(|| stopwatch::level_speed(&timed_rows, constant))
        .and_then(|result| match result {
            Ok(mut timed) => {
                complaints.append(&mut timed.findings);
                Some(timed)
            }
            Err(finding) => {
                complaints.push(finding);
                None
            }
        });
    let reserve = season.rules.reserve.value;
    let to_reserve = match (&survey.log, &survey.phases, pack) {
        (Some(log), Some(phases), Some(pack)) if survey.has_sound_current() => {
            to_reserve(log, phases, pack.capacity_c, reserve, 1.0)
        }
        _ => None,
    };
    Flown {
        day: row.date.map(|d| d.to_string()),
        order_in_day,
        density_kg_m3,
        capacity_c: pack.map(|p| p.capacity_c),
        row,
        survey,
        power,
        level,
        timed,
        passes,
        holds,
        loads,
        bench_draw,
        estimated: None,
        to_reserve,
    }
}

/// Air density where the flight was, over that at the strip: the standard atmosphere between the
/// two. 1 without a logged height.
fn thinner(season: &Season, survey: &Survey) -> f64 {
    let above = || -> Option<f64> {
        let log = survey.log.as_ref()?;
        let spans = &survey.phases.as_ref()?.spans;
        let heights = log.get(Channel::Height)?;
        let strip = heights.iter().copied().find(|h| h.is_finite())?;
        let flying: Vec<f64> = log
            .time
            .iter()
            .zip(heights)
            .filter(|(t, h)| {
                h.is_finite()
                    && spans
                        .iter()
                        .any(|s| s.phase != Phase::Ground && s.start_s <= **t && **t <= s.end_s)
            })
            .map(|(_, h)| *h)
            .collect();
        (!flying.is_empty()).then(|| stats::median(&flying) - strip)
    };
    let strip = season.site.elevation_m.unwrap_or(0.0);
    let at = |height: f64| standard(strip + height).density_kg_m3;
    above().map_or(1.0, |h| at(h) / at(0.0))
}
