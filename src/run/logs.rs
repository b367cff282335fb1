//! Every log read, and given to its flight: by the logbook, else by its start time.

use chrono::NaiveDateTime;
use rayon::prelude::*;

use super::folder::{Folder, LogFile, PlannedFlight};
use super::{Progress, Stage};
use crate::findings::Ledger;
use crate::ingest::{Log, LogRead, ReadOptions, read_log, read_log_from};
use crate::season::{ChannelMap, Finding, LogbookRow, Season, TextForm};

/// A log without a row is that of the flight that started at most this long before or after, min
/// (the logger is switched on while the model is made ready; common practice, no source).
const START_WITHIN_MIN: i64 = 10;

/// A flight with what could be read of its logs.
pub struct FlightLogs {
    pub planned: PlannedFlight,
    pub logs: Vec<Log>,
}

/// A flight with its files as read.
struct FlightReads {
    planned: PlannedFlight,
    reads: Vec<LogRead>,
}

/// A log that no logbook row names.
struct Stray {
    file: LogFile,
    read: LogRead,
    /// Local wall-clock time of its first row.
    start: Option<NaiveDateTime>,
}

/// Reads every log, in logbook order; those that belong to no flight come last, for the ledger only.
pub fn read(
    folder: &Folder,
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
        let read = read_at_rest(folder, season, file);
        progress.done(Stage::Logs, folder.length(&file.name));
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
            let start = read.log.as_ref().and_then(|log| local_start(log, season));
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
    // (flight, line, place of its log): the first uses.
    let mut used: Vec<(usize, usize)> = Vec::new();
    for i in 0..flights.len() {
        for k in 0..flights[i].reads.len() {
            let Some(log) = &flights[i].reads[k].log else {
                continue;
            };
            let first = used.iter().copied().find(|(a, b)| {
                let other = flights[*a].reads[*b].log.as_ref();
                other.is_some_and(|other| same_record(log, other))
            });
            match first {
                None => used.push((i, k)),
                Some((a, b)) => {
                    let name = flights[a].reads[b].ledger.file.clone();
                    let (flight, line) = (
                        flights[a].planned.row.flight.clone(),
                        flights[a].planned.row.line,
                    );
                    let own = &mut flights[i];
                    let finding = used_twice(&own.planned.row, &own.reads[k], &name, &flight, line);
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

/// The same file, or the same readings at the same times after the first row, whatever the date.
fn same_record(a: &Log, b: &Log) -> bool {
    let alike = |x: &[f64], y: &[f64]| {
        x.len() == y.len() && x.iter().zip(y).all(|(x, y)| x.to_bits() == y.to_bits())
    };
    a.file == b.file
        || (a.len() >= COPY_ROWS
            && alike(&a.time, &b.time)
            && a.channels.len() == b.channels.len()
            && a.channels
                .iter()
                .all(|(c, x)| b.get(*c).is_some_and(|y| alike(x, y))))
}

fn used_twice(row: &LogbookRow, read: &LogRead, name: &str, flight: &str, line: u32) -> Finding {
    let own = &read.ledger.file;
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

/// A file that is written to meanwhile shows its states mixed: it is read once more, and told where it
/// does not come to rest.
fn read_at_rest(folder: &Folder, season: &Season, file: &LogFile) -> LogRead {
    let before = folder.state(&file.name);
    let read = read_one(folder, season, file);
    let then = folder.state(&file.name);
    if then == before {
        return read;
    }
    let mut read = read_one(folder, season, file);
    if folder.state(&file.name) != then {
        let what = "the file changed while it was read";
        let to_do = "Wait until what copies or writes it is done, and run again.";
        let finding = Finding::warning("changed-while-read", what, to_do);
        read.findings.push(finding.in_file(&file.name));
    }
    read
}

fn read_one(folder: &Folder, season: &Season, file: &LogFile) -> LogRead {
    let source = file.source.and_then(|i| season.logs.get(i));
    let options = ReadOptions {
        channels: source.map_or_else(ChannelMap::new, |s| s.channels.clone()),
        text: source.map_or_else(TextForm::default, |s| s.text),
        rate_hz: source.and_then(|s| s.rate_hz),
        zone: season.site.zone,
        dates: source.and_then(|s| s.dates),
        no_preamble_date: source.is_some_and(|s| !s.preamble_date),
    };
    let source = folder.source(&file.name);
    // A file that cannot be read whole is complained about by whoever reads it in pieces.
    match source.held() {
        Some(bytes) => read_log(&bytes, &file.name, &options),
        None => read_log_from(&source, &file.name, &options),
    }
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
fn claim(flights: &mut [FlightReads], strays: Vec<Stray>) -> Vec<LogRead> {
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

fn set_aside(stray: Stray, why: &str) -> LogRead {
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
fn withdraw(read: &mut LogRead, code: &str, what: &str) -> bool {
    let Some(log) = read.log.take() else {
        return false;
    };
    let first = log.lines.first().copied().unwrap_or(1);
    read.ledger.withdraw_all(code, u64::from(first), what);
    true
}
