//! Every log read, and given to its flight: by the logbook, else by its start time.

use std::collections::HashMap;

use chrono::NaiveDateTime;
use rayon::prelude::*;
use serde::{Deserialize, Serialize};
use xxhash_rust::xxh3::Xxh3;

use super::folder::{Folder, LogFile, PlannedFlight};
use super::kept::{Kept, Key, Parts};
use super::rated_charge;
use super::shelf::{Shelf, Shelved};
use super::unchanged::{Inputs, content_hash};
use super::{Progress, Stage};
use crate::findings::Ledger;
use crate::ingest::ledger::FileLedger;
use crate::ingest::{Channel, Log, LogRead, ReadOptions, read_log, read_log_from};
use crate::season::{ChannelMap, Finding, LogbookRow, Season, TextForm};

/// A log without a row is that of the flight that started at most this long before or after, min
/// (the logger is switched on while the model is made ready; common practice, no source).
const START_WITHIN_MIN: i64 = 10;

/// A flight with what could be read of its logs.
pub struct FlightLogs {
    pub planned: PlannedFlight,
    pub logs: Vec<ReadLog>,
}

/// Where logs come from and where they wait.
pub struct Sources<'a> {
    pub folder: &'a Folder,
    pub shelf: &'a Shelf,
    pub kept: &'a Kept,
    /// What the files hold; `None` where nothing is kept.
    pub inputs: Option<&'a Inputs>,
}

/// A log on the shelf, with what is asked of it before its flight's turn.
#[derive(Serialize, Deserialize)]
pub struct ReadLog {
    /// The log without its rows.
    pub stub: Log,
    #[serde(skip)]
    place: Place,
    /// Of its file and of how it is read; `None` where what was read may be something else.
    #[serde(skip)]
    pub key: Option<Key>,
    rows: usize,
    /// Of times and readings: that of a copy is the same.
    digest: u128,
    pub has_position: bool,
    /// From its first row to its last, s.
    pub length_s: Option<f64>,
    first_line: Option<u32>,
    /// What it counts as drawn, C.
    pub charge_c: Option<f64>,
}

enum Place {
    Shelved(Shelved),
    Unread(Reread),
}

impl Default for Place {
    fn default() -> Self {
        Place::Shelved(Shelved::default())
    }
}

/// How to read a log again that an earlier run has read.
#[derive(Clone)]
pub struct Reread {
    folder: Folder,
    file: String,
    options: ReadOptions,
    digest: u128,
}

impl Reread {
    /// The log, if its file still holds what the earlier run read.
    pub fn read(&self) -> Result<Log, String> {
        let (read, _) = read_file(&self.folder, &self.file, &self.options);
        let same = |log: &Log| digest(log) == self.digest;
        read.log
            .filter(same)
            .ok_or_else(|| format!("{} changed while this season was analysed", self.file))
    }
}

impl ReadLog {
    fn of(mut log: Log, shelf: &Shelf) -> Self {
        let (rows, digest) = (log.len(), digest(&log));
        let (length_s, first_line) = (log.time.last().copied(), log.lines.first().copied());
        let has_position = log.get(Channel::Latitude).is_some();
        let charge_c = rated_charge::charge_c(&log);
        let shelved = shelf.put(&mut log, None);
        Self {
            stub: log,
            place: Place::Shelved(shelved),
            key: None,
            rows,
            digest,
            has_position,
            length_s,
            first_line,
            charge_c,
        }
    }

    /// The log with its rows.
    pub fn fetch(self, shelf: &Shelf) -> Log {
        match self.place {
            Place::Shelved(shelved) => shelf.fetch_log(shelved, self.stub),
            Place::Unread(reread) => reread.read().unwrap_or_else(|what| {
                shelf.changed(what);
                self.stub
            }),
        }
    }

    /// How to read it, where it was not read.
    pub fn unread(&self) -> Option<&Reread> {
        match &self.place {
            Place::Shelved(_) => None,
            Place::Unread(reread) => Some(reread),
        }
    }
}

/// The same of logs with the same readings at the same times after the first row, whatever the date.
fn digest(log: &Log) -> u128 {
    let mut hasher = Xxh3::new();
    let mut add = |values: &[f64]| {
        for part in values.chunks(512) {
            let mut bytes = [0u8; 4096];
            let filled = bytes.as_chunks_mut::<8>().0.iter_mut().zip(part);
            filled.for_each(|(b, x)| *b = x.to_bits().to_le_bytes());
            hasher.update(&bytes[..8 * part.len()]);
        }
    };
    add(&log.time);
    for (channel, values) in &log.channels {
        add(&[*channel as u8 as f64]);
        add(values);
    }
    hasher.digest128()
}

/// What reading a file gave, its log on the shelf.
#[derive(Serialize, Deserialize)]
struct FileRead {
    log: Option<ReadLog>,
    ledger: FileLedger,
    #[serde(with = "crate::season::finding::whole")]
    findings: Vec<Finding>,
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

fn read_one(from: &Sources, season: &Season, file: &LogFile) -> FileRead {
    let options = read_options(season, file);
    let content = from.inputs.and_then(|i| i.content(&file.name));
    let key = content.map(|content| {
        Parts::of("read")
            .bytes(content.as_bytes())
            .bytes(file.name.as_bytes())
            .shown(&options)
            .done()
    });
    if let Some(mut read) = key.and_then(|key| from.kept.get::<FileRead>("read", key)) {
        if let Some(log) = &mut read.log {
            log.key = key;
            log.place = Place::Unread(Reread {
                folder: from.folder.clone(),
                file: file.name.clone(),
                options,
                digest: log.digest,
            });
        }
        return read;
    }
    let (read, found) = read_at_rest(from.folder, &file.name, &options);
    // What was read must be what the key stands for.
    let key = key.filter(|_| match &found {
        Found::Held(hash) => content == Some(hash),
        Found::Pieces => {
            let state = from.folder.state(&file.name);
            let stands = |i: &Inputs| state.is_some_and(|s| i.stands(&file.name, s));
            from.inputs.is_some_and(stands)
        }
        Found::Restless => false,
    });
    let mut read = FileRead {
        log: read.log.map(|log| ReadLog::of(log, from.shelf)),
        ledger: read.ledger,
        findings: read.findings,
    };
    if let Some(key) = key {
        from.kept.put("read", key, &read);
    }
    if let Some(log) = &mut read.log {
        log.key = key;
    }
    read
}

/// A file that is written to meanwhile shows its states mixed: it is read once more, and told where it
/// does not come to rest.
fn read_at_rest(folder: &Folder, name: &str, options: &ReadOptions) -> (LogRead, Found) {
    let before = folder.state(name);
    let read = read_file(folder, name, options);
    let then = folder.state(name);
    if then == before {
        return read;
    }
    let (mut read, found) = read_file(folder, name, options);
    if folder.state(name) == then {
        return (read, found);
    }
    let what = "the file changed while it was read";
    let to_do = "Wait until what copies or writes it is done, and run again.";
    let finding = Finding::warning("changed-while-read", what, to_do);
    read.findings.push(finding.in_file(name));
    (read, Found::Restless)
}

/// What is known of what was read.
enum Found {
    /// Its hash.
    Held(String),
    /// A file that was read in pieces.
    Pieces,
    /// One that changed meanwhile.
    Restless,
}

fn read_options(season: &Season, file: &LogFile) -> ReadOptions {
    let source = file.source.and_then(|i| season.logs.get(i));
    ReadOptions {
        channels: source.map_or_else(ChannelMap::new, |s| s.channels.clone()),
        text: source.map_or_else(TextForm::default, |s| s.text),
        rate_hz: source.and_then(|s| s.rate_hz),
        zone: season.site.zone,
        dates: source.and_then(|s| s.dates),
        no_preamble_date: source.is_some_and(|s| !s.preamble_date),
    }
}

fn read_file(folder: &Folder, name: &str, options: &ReadOptions) -> (LogRead, Found) {
    let source = folder.source(name);
    // A file that cannot be read whole is complained about by whoever reads it in pieces.
    match source.held() {
        Some(bytes) => {
            let read = read_log(&bytes, name, options);
            (read, Found::Held(content_hash(&bytes)))
        }
        None => (read_log_from(&source, name, options), Found::Pieces),
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
