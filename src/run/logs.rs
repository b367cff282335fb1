//! Every log read, and given to its flight: by the logbook, else by its start time.

use std::collections::HashMap;

use chrono::NaiveDateTime;
use rayon::prelude::*;

use super::folder::{LogFile, PlannedFlight};
use super::reading::{FileRead, ReadLog, Sources, read_one};
use super::{Progress, Stage};
use crate::findings::Ledger;
use crate::ingest::Log;
use crate::ingest::ledger::FileLedger;
use crate::season::{Finding, LogbookRow, Season};

/// A log without a row is that of the flight that started at most this long before or after, min
/// (the logger is switched on while the model is made ready; common practice, no source).
const START_WITHIN_MIN: i64 = 10;

/// A flight with what could be read of its logs.
pub struct FlightLogs {
    pub planned: PlannedFlight,
    pub logs: Vec<ReadLog>,
}

/// A flight with its files as read.
struct FlightReads {
    planned: PlannedFlight,
    reads: Vec<FileRead>,
}

/// A log that no logbook row names.
struct Stray {
    file: LogFile,
    read: FileRead,
    /// Local wall-clock time of its first row.
    start: Option<NaiveDateTime>,
}

/// Reads every log, in logbook order; those that belong to no flight come last, for the ledger only.
pub fn read(
    from: &Sources,
    season: &Season,
    planned: Vec<PlannedFlight>,
    unclaimed: Vec<LogFile>,
    ledger: &mut Ledger,
    complaints: &mut Vec<Finding>,
    progress: &Progress,
) -> Vec<FlightLogs> {
    let files = planned.iter().map(|p| p.files.len()).sum::<usize>() + unclaimed.len();
    progress.begin(Stage::Logs, files);
    let read_one = |file: &LogFile| {
        let read = read_one(from, season, file);
        progress.done(Stage::Logs, from.folder.length(&file.name));
        read
    };
    let mut flights: Vec<FlightReads> = planned
        .into_par_iter()
        .map(|planned| FlightReads {
            reads: planned.files.iter().map(read_one).collect(),
            planned,
        })
        .collect();
    let strays: Vec<Stray> = unclaimed
        .into_par_iter()
        .map(|file| {
            let read = read_one(&file);
            let start = read
                .log
                .as_ref()
                .and_then(|log| local_start(&log.stub, season));
            Stray { file, read, start }
        })
        .collect();
    let left_over = claim(&mut flights, strays);
    leave_out_copies(&mut flights);

    let mut out = Vec::with_capacity(flights.len());
    for FlightReads { planned, reads } in flights {
        let mut logs = Vec::with_capacity(reads.len());
        for read in reads {
            ledger.files.push(read.ledger);
            complaints.extend(read.findings);
            logs.extend(read.log);
        }
        out.push(FlightLogs { planned, logs });
    }
    for read in left_over {
        ledger.files.push(read.ledger);
        complaints.extend(read.findings);
    }
    out
}

/// Fewer rows than this can agree by chance.
const COPY_ROWS: usize = 20;

/// A log is one flight's: the same file in a second row, or a copy of it under another name or date,
/// is set aside there.
fn leave_out_copies(flights: &mut [FlightReads]) {
    // Of each file and of each record the flight and the place of its log that use it first.
    let mut files: HashMap<String, (usize, usize)> = HashMap::new();
    let mut records: HashMap<u128, (usize, usize)> = HashMap::new();
    for i in 0..flights.len() {
        for k in 0..flights[i].reads.len() {
            let Some(log) = &flights[i].reads[k].log else {
                continue;
            };
            // Few rows can agree by chance.
            let record = (log.rows >= COPY_ROWS).then_some(log.digest);
            let of_file = files.get(&log.stub.file).copied();
            let of_record = record.and_then(|r| records.get(&r).copied());
            let first = of_file.into_iter().chain(of_record).min();
            match first {
                None => {
                    files.insert(log.stub.file.clone(), (i, k));
                    records.extend(record.map(|r| (r, (i, k))));
                }
                Some((a, b)) => {
                    let name = flights[a].reads[b].ledger.file.clone();
                    let (flight, line) = (
                        flights[a].planned.row.flight.clone(),
                        flights[a].planned.row.line,
                    );
                    let own = &mut flights[i];
                    let finding =
                        used_twice(&own.planned.row, &own.reads[k].ledger, &name, &flight, line);
                    withdraw(
                        &mut own.reads[k],
                        "log-used-twice",
                        "a copy of another flight's log",
                    );
                    own.reads[k].findings.push(finding);
                }
            }
        }
    }
}

fn used_twice(
    row: &LogbookRow,
    ledger: &FileLedger,
    name: &str,
    flight: &str,
    line: u32,
) -> Finding {
    let own = &ledger.file;
    let copy = if own == name {
        String::new()
    } else {
        format!(", as '{name}' with the same readings")
    };
    Finding::error(
        "log-used-twice",
        format!(
            "flight '{}': its log '{own}' is already used by flight '{flight}' (line {line}){copy}; it \
             is left out here, so that no flight counts twice",
            row.flight
        ),
        "Name each flight's own log; where this row is the right one, correct the other.",
    )
    .at("logbook.csv", row.line, None)
}

/// Wall-clock time at the site of a log's first row; UTC where the site's zone is not declared.
pub(super) fn local_start(log: &Log, season: &Season) -> Option<NaiveDateTime> {
    let start = log.start?;
    Some(match season.site.zone {
        Some(zone) => start.with_timezone(&zone).naive_local(),
        None => start.naive_utc(),
    })
}

/// Gives each log that no row names to the one flight without logs that it fits by its start time;
/// what fits none, or fits beside another log of the same source, is handed back set aside.
fn claim(flights: &mut [FlightReads], strays: Vec<Stray>) -> Vec<FileRead> {
    let open: Vec<usize> = (0..flights.len())
        .filter(|i| flights[*i].planned.row.logs.is_empty())
        .collect();
    let choices: Vec<Vec<usize>> = strays
        .iter()
        .map(|stray| {
            open.iter()
                .copied()
                .filter(|i| fits(&flights[*i].planned.row, stray.start))
                .collect()
        })
        .collect();
    let sources: Vec<Option<usize>> = strays.iter().map(|s| s.file.source).collect();
    let mut left_over = Vec::new();
    for (n, stray) in strays.into_iter().enumerate() {
        let rival = (0..sources.len())
            .any(|m| m != n && sources[m] == sources[n] && choices[m] == choices[n]);
        match choices[n][..] {
            [only] if !rival => give(&mut flights[only], stray),
            [] => left_over.push(set_aside(stray, "no logbook row names this log")),
            _ => left_over.push(set_aside(
                stray,
                "no logbook row names this log, and its start time does not tell which flight's it is",
            )),
        }
    }
    left_over
}

fn fits(row: &LogbookRow, start: Option<NaiveDateTime>) -> bool {
    let Some(start) = start else { return false };
    match row.start {
        Some(noted) => (start - noted).num_minutes().abs() <= START_WITHIN_MIN,
        None => row.date == Some(start.date()),
    }
}

fn give(flight: &mut FlightReads, mut stray: Stray) {
    stray.read.findings.push(
        Finding::note(
            "log-found-by-time",
            format!(
                "taken as the log of flight {} by its start time",
                flight.planned.row.flight
            ),
            "Name it in the logbook if that is right.",
        )
        .in_file(&stray.file.name),
    );
    flight.planned.row.logs.push(stray.file.name.clone());
    flight.planned.files.push(stray.file);
    flight.reads.push(stray.read);
}

fn set_aside(stray: Stray, why: &str) -> FileRead {
    let mut read = stray.read;
    // A log that could not be read has been complained about already.
    if withdraw(
        &mut read,
        "no-flight",
        "the logbook names no flight for this log",
    ) {
        read.findings.push(
            Finding::warning(
                "log-without-flight",
                format!("{why}, so it is in no flight"),
                "Add it to a row of logbook.csv.",
            )
            .in_file(&stray.file.name),
        );
    }
    read
}

/// Sets all rows of a log aside; whether there was one.
fn withdraw(read: &mut FileRead, code: &str, what: &str) -> bool {
    let Some(log) = read.log.take() else {
        return false;
    };
    let first = log.first_line.unwrap_or(1);
    read.ledger.withdraw_all(code, u64::from(first), what);
    true
}
