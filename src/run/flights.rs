//! Flights: read in parallel, surveyed one by one, then looked at together for what they share
//! (sensor scale by put-back, time constant of a power system, wind of a day, unloading).

use std::collections::BTreeMap;

use rayon::prelude::*;

use super::benches::Benches;
use super::density;
use super::folder::{Folder, LogFile, PlannedFlight};
use crate::findings::Ledger;
use crate::flight::current_duration::bench_current_duration;
use crate::flight::duration::to_reserve;
use crate::flight::energy::put_back_scale;
use crate::flight::estimated_power::{Kappa, SensoredFlight, estimate, leave_one_flight_out};
use crate::flight::record::{self, LevelSpeed, PowerSide, Survey};
use crate::flight::rpm_alignment::{readings, rpm_alignment};
use crate::flight::run_up::{PooledTimeConstant, TimeConstant, WindPrior, pool};
use crate::flight::stopwatch;
use crate::flight::unloading::{FlightHolds, Unloading, unloading};
use crate::ingest::{FileLedger, Log, LogRead, ReadOptions, read_log};
use crate::season::{Accuracy, ChannelMap, Finding, PassRow, Season};
use crate::stats;
use crate::store::from_flight::{self, Flown};
use crate::store::{CurrentDurationRow, EstimateErrorRow, SeasonTables};

/// Flights with both a logged charge and a put-back from which a sensor's scale is taken, at least.
const PUT_BACK_FLIGHTS: usize = 3;
/// A wind that other flights of the day tell is good to this at best, m/s (it drifts over a day;
/// common practice, no source).
const DAY_WIND_M_S: f64 = 1.5;

/// All flights of a season.
#[derive(Debug, Clone, Default)]
pub struct Flights {
    pub flights: Vec<Flown>,
    pub unloading: BTreeMap<String, Unloading>,
    pub estimate_errors: Vec<EstimateErrorRow>,
}

/// A planned flight with its logs read.
struct Read {
    planned: PlannedFlight,
    logs: Vec<Log>,
    ledgers: Vec<FileLedger>,
    findings: Vec<Finding>,
}

/// Reads every log, in logbook order; logs that belong to no flight are read for the ledger only.
fn read_logs(
    folder: &Folder,
    season: &Season,
    planned: Vec<PlannedFlight>,
    unclaimed: Vec<LogFile>,
) -> Vec<Read> {
    let strays = unclaimed.into_iter().map(|file| (None, vec![file]));
    let work: Vec<(Option<PlannedFlight>, Vec<LogFile>)> = planned
        .into_iter()
        .map(|p| {
            let files = p.files.clone();
            (Some(p), files)
        })
        .chain(strays)
        .collect();
    let mut reads: Vec<Read> = work
        .into_par_iter()
        .map(|(planned, files)| {
            let stray = planned.is_none();
            let mut read = Read {
                planned: planned.unwrap_or_else(|| PlannedFlight {
                    row: Default::default(),
                    files: files.clone(),
                }),
                logs: Vec::new(),
                ledgers: Vec::new(),
                findings: Vec::new(),
            };
            for file in &files {
                let LogRead {
                    log,
                    ledger,
                    findings,
                } = read_one(folder, season, file);
                read.ledgers.push(ledger);
                read.findings.extend(findings);
                read.logs.extend(log);
            }
            if stray {
                read.planned.row.line = 0;
            }
            read
        })
        .collect();
    claim_strays(season, &mut reads);
    reads
}

fn read_one(folder: &Folder, season: &Season, file: &LogFile) -> LogRead {
    let source = file.source.and_then(|i| season.logs.get(i));
    let options = ReadOptions {
        channels: source.map_or_else(ChannelMap::new, |s| s.channels.clone()),
        rate_hz: source.and_then(|s| s.rate_hz),
        zone: season.site.zone,
    };
    match folder.read(&file.name) {
        Ok(bytes) => read_log(&bytes, &file.name, &options),
        Err(error) => LogRead {
            log: None,
            ledger: FileLedger::new(&file.name),
            findings: vec![
                Finding::error(
                    "unreadable-log",
                    format!("the log could not be read: {error}"),
                    "Check that the file is there and may be read.",
                )
                .in_file(&file.name),
            ],
        },
    }
}

/// Gives a log that no row names to the one flight of its date (or start time) without a log.
fn claim_strays(season: &Season, reads: &mut Vec<Read>) {
    let (mut flights, strays): (Vec<Read>, Vec<Read>) = std::mem::take(reads)
        .into_iter()
        .partition(|r| r.planned.row.line > 0 || !r.planned.row.flight.is_empty());
    for mut stray in strays {
        let local =
            stray
                .logs
                .first()
                .and_then(|log| log.start)
                .map(|start| match season.site.zone {
                    Some(zone) => start.with_timezone(&zone).naive_local(),
                    None => start.naive_utc(),
                });
        let fits = |read: &Read| {
            let Some(local) = local else { return false };
            read.planned.files.is_empty()
                && read.planned.row.logs.is_empty()
                && match read.planned.row.start {
                    Some(start) => (local - start).num_minutes().abs() <= 10,
                    None => read.planned.row.date == Some(local.date()),
                }
        };
        let candidates: Vec<usize> = (0..flights.len()).filter(|i| fits(&flights[*i])).collect();
        let name = stray
            .planned
            .files
            .first()
            .map_or("", |f| f.name.as_str())
            .to_owned();
        if let [only] = candidates[..] {
            let flight = &mut flights[only];
            flight.findings.push(
                Finding::note(
                    "log-found-by-time",
                    format!(
                        "taken as the log of flight {} by its start time",
                        flight.planned.row.flight
                    ),
                    "Name it in the logbook if that is right.",
                )
                .in_file(&name),
            );
            flight.logs.append(&mut stray.logs);
            flight.ledgers.append(&mut stray.ledgers);
            flight.findings.append(&mut stray.findings);
            flight.planned.files.append(&mut stray.planned.files);
            flight.planned.row.logs.push(name);
        } else {
            stray.findings.push(
                Finding::warning(
                    "log-without-flight",
                    "no logbook row names this log, so it is in no flight",
                    "Add it to a row of logbook.csv.",
                )
                .in_file(&name),
            );
            for ledger in &mut stray.ledgers {
                let rows = ledger.rows_used;
                for _ in 0..rows {
                    ledger.withdraw("no-flight", 1, "the logbook names no flight for this log");
                }
            }
            stray.logs.clear();
            flights.push(stray);
        }
    }
    *reads = flights;
}

/// Reads every log for its findings only.
pub fn read_all(
    folder: &Folder,
    season: &Season,
    planned: Vec<PlannedFlight>,
    unclaimed: Vec<LogFile>,
    ledger: &mut Ledger,
    complaints: &mut Vec<Finding>,
) {
    for read in read_logs(folder, season, planned, unclaimed) {
        ledger.files.extend(read.ledgers);
        complaints.extend(read.findings);
    }
}

/// Reads and analyses every flight.
pub fn analyse(
    folder: &Folder,
    season: &Season,
    planned: Vec<PlannedFlight>,
    unclaimed: Vec<LogFile>,
    benches: &Benches,
    ledger: &mut Ledger,
    complaints: &mut Vec<Finding>,
) -> Flights {
    let mut reads = read_logs(folder, season, planned, unclaimed);
    for read in &mut reads {
        ledger.files.append(&mut read.ledgers);
        complaints.append(&mut read.findings);
    }
    reads.retain(|r| !r.planned.row.flight.is_empty());
    let mut surveys: Vec<(PlannedFlight, Survey)> = reads
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
            let survey = record::survey(read.logs, stall, current, voltage);
            (read.planned, survey)
        })
        .collect();
    calibrate(season, &mut surveys, complaints);
    let sides: Vec<PowerSide> = surveys
        .par_iter()
        .map(|(_, s)| record::power_side(s, &season.rules))
        .collect();
    let levels = level_speeds(&surveys, &sides, complaints);
    let mut flights = flown(season, surveys, sides, levels, complaints);
    let mut out = Flights::default();
    unload(season, benches, &mut flights, &mut out, complaints);
    out.flights = flights;
    out
}

/// The declared accuracy of the sensor behind a channel of a flight's log.
fn log_accuracy<'a>(
    season: &'a Season,
    planned: &PlannedFlight,
    channel: &str,
) -> Option<&'a Accuracy> {
    planned
        .files
        .iter()
        .filter_map(|f| season.logs.get(f.source?))
        .flat_map(|source| &source.instruments)
        .find_map(|id| season.instruments.get(id)?.measures.get(channel))
}

/// Corrects each log source's current sensor by what the charger put back.
fn calibrate(
    season: &Season,
    surveys: &mut [(PlannedFlight, Survey)],
    complaints: &mut Vec<Finding>,
) {
    for (index, source) in season.logs.iter().enumerate() {
        let of_source =
            |planned: &PlannedFlight| planned.files.iter().any(|f| f.source == Some(index));
        let pairs: Vec<(f64, f64)> = surveys
            .iter()
            .filter(|(planned, survey)| of_source(planned) && survey.has_current())
            // A record with gaps or a torn end counted less than was drawn.
            .filter(|(_, survey)| whole(survey))
            .filter_map(|(planned, survey)| {
                let logged = survey.draw.as_ref()?.charge_mah.value * crate::units::MAH;
                Some((logged, planned.row.put_back_c?))
            })
            .collect();
        if pairs.len() < PUT_BACK_FLIGHTS {
            continue;
        }
        let declared: Vec<f64> = surveys
            .iter()
            .filter(|(planned, survey)| of_source(planned) && survey.has_current())
            .filter_map(|(_, survey)| survey.draw.as_ref())
            .map(|d| (d.charge_mah.value - d.charge_mah.low) / (2.0 * d.charge_mah.value))
            .collect();
        let Some(scale) = put_back_scale(&pairs, stats::median(&declared)) else {
            continue;
        };
        complaints.push(
            Finding::note(
                "current-calibrated",
                format!(
                    "the current sensor behind '{}' is scaled by {:.3} ± {:.3}: after {} flights the \
                     charger put back {:.3} of what was logged, weighed against the sensor's own \
                     accuracy",
                    source.files,
                    scale.scale,
                    2.0 * scale.relative_u * scale.scale,
                    scale.flights,
                    scale.put_back_over_logged
                ),
                "Blank the put-back column to use the sensor as it is.",
            )
            .in_file("logbook.csv"),
        );
        for (planned, survey) in surveys.iter_mut() {
            if of_source(planned) && survey.has_current() {
                survey.calibrate(&scale);
            }
        }
    }
}

/// The record runs from standstill to standstill without gaps: what it counted is all there was.
fn whole(survey: &Survey) -> bool {
    let Some(draw) = &survey.draw else {
        return false;
    };
    let on_ground = |phase: Option<&crate::flight::phases::PhaseSpan>| {
        phase.is_some_and(|p| p.phase == crate::flight::phases::Phase::Ground)
    };
    draw.gap_s == 0.0
        && survey
            .phases
            .as_ref()
            .is_some_and(|p| on_ground(p.spans.first()) && on_ground(p.spans.last()))
}

/// Level speeds with the time constant pooled over each power system's flights, and with the wind
/// of the day where a flight's own passes do not tell it.
fn level_speeds(
    surveys: &[(PlannedFlight, Survey)],
    sides: &[PowerSide],
    complaints: &mut Vec<Finding>,
) -> (
    Vec<Option<LevelSpeed>>,
    BTreeMap<String, PooledTimeConstant>,
) {
    let free: Vec<_> = sides
        .par_iter()
        .map(|side| {
            (!side.straights.used.is_empty())
                .then(|| record::level_speed(side, TimeConstant::Free, None).ok())
                .flatten()
        })
        .collect();
    let mut by_power: BTreeMap<String, Vec<crate::flight::run_up::Fit>> = BTreeMap::new();
    for ((planned, _), level) in surveys.iter().zip(&free) {
        if let (Some(power), Some(level)) = (&planned.row.power, level) {
            by_power
                .entry(power.clone())
                .or_default()
                .push(level.fit.clone());
        }
    }
    let pooled: BTreeMap<String, PooledTimeConstant> = by_power
        .iter()
        .filter_map(|(power, fits)| Some((power.clone(), pool(fits)?)))
        .collect();
    let wind_of_day = |own: usize| -> Option<WindPrior> {
        let day = surveys[own].0.row.date?;
        let winds: Vec<_> = (0..free.len())
            .filter(|i| *i != own && surveys[*i].0.row.date == Some(day))
            .filter_map(|i| free[i].as_ref())
            .filter(|l| l.fit.wind_identified)
            .map(|l| l.fit.wind)
            .collect();
        if winds.is_empty() {
            return None;
        }
        let north: Vec<f64> = winds.iter().map(|w| w.north_m_s).collect();
        let east: Vec<f64> = winds.iter().map(|w| w.east_m_s).collect();
        let spread = if winds.len() > 1 {
            stats::sd(&north).max(stats::sd(&east))
        } else {
            0.0
        };
        Some(WindPrior {
            north_m_s: stats::mean(&north),
            east_m_s: stats::mean(&east),
            se_m_s: spread.max(DAY_WIND_M_S),
        })
    };
    let fitted: Vec<_> = (0..sides.len())
        .into_par_iter()
        .map(|i| {
            if sides[i].straights.used.is_empty() {
                return None;
            }
            let power = surveys[i].0.row.power.as_ref();
            let constant = power
                .and_then(|p| pooled.get(p))
                .map_or(TimeConstant::Free, |p| p.for_fit());
            let own_wind = free[i].as_ref().is_some_and(|l| l.fit.wind_identified);
            let wind = if own_wind { None } else { wind_of_day(i) };
            Some(record::level_speed(&sides[i], constant, wind))
        })
        .collect();
    let levels = fitted
        .into_iter()
        .zip(surveys)
        .map(|(level, (planned, _))| match level {
            Some(Ok(mut level)) => {
                complaints.extend(level.fit.findings.drain(..).map(|f| named(f, planned)));
                Some(level)
            }
            Some(Err(finding)) => {
                complaints.push(named(finding, planned));
                None
            }
            None => None,
        })
        .collect();
    (levels, pooled)
}

/// A finding about a flight, placed at its first log where it has no place.
fn named(mut finding: Finding, planned: &PlannedFlight) -> Finding {
    if finding.place.is_none() {
        let file = planned
            .files
            .first()
            .map_or("logbook.csv", |f| f.name.as_str());
        finding = finding.in_file(file);
    }
    finding
}

fn flown(
    season: &Season,
    surveys: Vec<(PlannedFlight, Survey)>,
    sides: Vec<PowerSide>,
    (levels, pooled): (
        Vec<Option<LevelSpeed>>,
        BTreeMap<String, PooledTimeConstant>,
    ),
    complaints: &mut Vec<Finding>,
) -> Vec<Flown> {
    let mut order: BTreeMap<Option<chrono::NaiveDate>, usize> = BTreeMap::new();
    let mut out = Vec::new();
    for (((planned, survey), power), level) in surveys.into_iter().zip(sides).zip(levels) {
        complaints.extend(
            survey
                .findings
                .iter()
                .chain(&power.findings)
                .cloned()
                .map(|f| named(f, &planned)),
        );
        let row = planned.row.clone();
        let in_day = order.entry(row.date).or_insert(0);
        *in_day += 1;
        let density_kg_m3 = density(season, &row);
        let wind = level
            .as_ref()
            .map(|l| (l.fit.wind.north_m_s, l.fit.wind.east_m_s));
        let (holds, loads) = record::holds_and_loads(&survey, &power, wind, density_kg_m3);
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
            (Some(log), Some(phases), Some(pack)) if survey.has_current() => {
                to_reserve(log, phases, pack.capacity_c, reserve, 1.0)
            }
            _ => None,
        };
        out.push(Flown {
            day: row.date.map(|d| d.to_string()),
            order_in_day: *in_day,
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
            estimated: None,
            to_reserve,
        });
    }
    out
}

/// Unloading of each power system, and the draw of flights without a current sensor from it.
fn unload(
    season: &Season,
    benches: &Benches,
    flights: &mut [Flown],
    out: &mut Flights,
    complaints: &mut Vec<Finding>,
) {
    let full = season.rules.full_throttle.value;
    for (power, found) in &benches.curves {
        let Some(curve) = &found.current else {
            continue;
        };
        let of_power: Vec<usize> = (0..flights.len())
            .filter(|i| flights[*i].row.power.as_ref() == Some(power))
            .collect();
        let holds: Vec<FlightHolds> = of_power
            .iter()
            .map(|i| &flights[*i])
            .filter(|f| f.survey.has_current() && !f.holds.is_empty())
            .map(|f| FlightHolds {
                flight: &f.row.flight,
                holds: &f.holds,
                density_kg_m3: f.density_kg_m3,
                level_speed_m_s: f.level.as_ref().map(|l| l.fit.level_speed_m_s),
            })
            .collect();
        if holds.is_empty() {
            continue;
        }
        let (found, findings) = unloading(&holds, curve, full, sensor_scale_u(&of_power, flights));
        complaints.extend(findings);
        let Some(found) = found else { continue };
        let sensored: Vec<SensoredFlight> = of_power
            .iter()
            .map(|i| &flights[*i])
            .filter_map(|f| {
                let (draw, log) = (f.survey.draw.as_ref()?, f.survey.log.as_ref()?);
                Some(SensoredFlight {
                    flight: &f.row.flight,
                    log,
                    phases: f.survey.phases.as_ref(),
                    holds: &f.holds,
                    density_kg_m3: f.density_kg_m3,
                    energy_wh: draw.energy_wh?.value,
                })
            })
            .collect();
        let (error, findings) = leave_one_flight_out(&sensored, curve, full);
        let without: Vec<usize> = of_power
            .iter()
            .copied()
            .filter(|i| flights[*i].survey.draw.is_none() && flights[*i].survey.log.is_some())
            .collect();
        if !without.is_empty() {
            complaints.extend(findings);
        }
        if let Some(error) = &error {
            out.estimate_errors
                .extend(
                    error
                        .by_flight
                        .iter()
                        .map(|(flight, relative)| EstimateErrorRow {
                            power: power.clone(),
                            flight: flight.clone(),
                            relative_error: *relative,
                        }),
                );
        }
        let voltages: Vec<f64> = of_power
            .iter()
            .filter_map(|i| flights[*i].passes.map(|p| p.voltage_v))
            .collect();
        let assumed = (!voltages.is_empty()).then(|| stats::mean(&voltages));
        if let Some(kappa) = Kappa::of(&found, full) {
            for i in without {
                let flight = &flights[i];
                let Some(log) = &flight.survey.log else {
                    continue;
                };
                let (drawn, findings) = estimate(
                    log,
                    flight.survey.phases.as_ref(),
                    flight.density_kg_m3,
                    curve,
                    &kappa,
                    assumed,
                    error.as_ref(),
                );
                complaints.extend(findings);
                flights[i].estimated = drawn;
            }
        }
        out.unloading.insert(power.clone(), found);
    }
}

/// Relative standard uncertainty of the current sensors' scale that the flights share: a quarter of
/// the median relative width of their charge intervals.
fn sensor_scale_u(of_power: &[usize], flights: &[Flown]) -> f64 {
    let widths: Vec<f64> = of_power
        .iter()
        .filter_map(|i| flights[*i].survey.draw.as_ref())
        .filter_map(|d| Some((d.charge_mah.high? - d.charge_mah.low) / (4.0 * d.charge_mah.value)))
        .filter(|w| w.is_finite())
        .collect();
    if widths.is_empty() {
        0.0
    } else {
        stats::median(&widths)
    }
}

impl Flights {
    pub fn fill(&self, season: &Season, benches: &Benches, tables: &mut SeasonTables) {
        for flight in &self.flights {
            let power = flight.row.power.as_deref();
            let curve = power
                .and_then(|p| benches.curves.get(p))
                .and_then(|c| c.current.as_ref());
            let burst = power
                .and_then(|p| season.controller_of(p))
                .and_then(|c| c.burst_s);
            tables.flights.push(flight.flight_row());
            tables.holds.extend(flight.hold_rows(curve));
            tables.passes.extend(flight.pass_rows());
            tables.pass_samples.extend(flight.pass_sample_rows());
            tables.phases.extend(flight.phase_rows());
            tables.strips.extend(flight.strip_rows());
            tables
                .current_duration
                .extend(flight.current_duration_rows(burst));
        }
        for (power, unloading) in &self.unloading {
            tables
                .unloading
                .extend(from_flight::unloading_rows(power, unloading));
            tables
                .unloading_by_speed
                .extend(from_flight::unloading_speed_row(power, unloading));
        }
        tables
            .estimate_errors
            .extend(self.estimate_errors.iter().cloned());
        bench_durations(benches, tables);
        self.align_by_rotor(benches, tables);
    }

    /// Bench (tunnel) and flight by rotor speed, where no throttle was logged.
    fn align_by_rotor(&self, benches: &Benches, tables: &mut SeasonTables) {
        for (power, run, record) in &benches.records {
            for flight in self
                .flights
                .iter()
                .filter(|f| f.row.power.as_ref() == Some(power))
            {
                let Some(log) = &flight.survey.log else {
                    continue;
                };
                if log.get(crate::ingest::Channel::Throttle).is_some() {
                    continue;
                }
                if let (Some(alignment), _) = rpm_alignment(&readings(record), &readings(log)) {
                    tables
                        .rotor_alignment
                        .extend(from_flight::rotor_alignment_rows(
                            power,
                            &flight.row.flight,
                            run,
                            &alignment,
                        ));
                    tables
                        .rotor_alignment_limits
                        .extend(from_flight::rotor_limit_rows(
                            power,
                            &flight.row.flight,
                            run,
                            &alignment,
                        ));
                }
            }
        }
    }
}

/// The largest current of each bench run, as steady as the flights' grid is long.
fn bench_durations(benches: &Benches, tables: &mut SeasonTables) {
    let mut grid: Vec<f64> = tables
        .current_duration
        .iter()
        .map(|r| r.duration_s)
        .collect();
    grid.extend([0.2, 1.0, 10.0, 30.0, 60.0]);
    grid.sort_by(f64::total_cmp);
    grid.dedup();
    for run in &benches.runs {
        let largest = run
            .points
            .iter()
            .filter_map(|p| p.exact(crate::ingest::Channel::Current))
            .map(|m| m.value)
            .fold(f64::NAN, f64::max);
        if !largest.is_finite() {
            continue;
        }
        for held in bench_current_duration(largest, None, &grid).curve {
            tables.current_duration.push(CurrentDurationRow {
                source: "bench".to_owned(),
                id: run.id.clone(),
                power: Some(run.power.clone()),
                duration_s: held.duration_s,
                current_a: held.current_a,
            });
        }
    }
}
