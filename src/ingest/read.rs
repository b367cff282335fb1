//! A logger file of any kind as a [`Log`].

use chrono::{DateTime, TimeDelta, Utc};
use chrono_tz::Tz;

use super::cell::Cell;
use super::channels::{AssignedColumn, assign_channels};
use super::clock::{self, Times};
use super::encoding;
use super::format::Format;
use super::ledger::FileLedger;
use super::log::{Channel, Log, Series};
use super::order::{self, Ordered, Rows};
use super::scan::{Keep, Scan};
use super::sense;
use super::table::{Table, TableRead};
use super::words::Purpose;
use super::{columnar, delimited, gpx, igc, nmea};
use crate::season::{ChannelMap, Finding};

/// What the season declares about a log.
#[derive(Debug, Clone, Default, PartialEq)]
pub struct ReadOptions {
    pub channels: ChannelMap,
    /// Sampling rate where the file has no time column, Hz.
    pub rate_hz: Option<f64>,
    /// The site's zone, for times that name none.
    pub zone: Option<Tz>,
}

/// What reading a log gave.
#[derive(Debug, Clone, PartialEq)]
pub struct LogRead {
    /// `None` when nothing usable is in the file; the findings say why.
    pub log: Option<Log>,
    pub ledger: FileLedger,
    pub findings: Vec<Finding>,
}

/// Rows of a table kept to tell its channels and units.
const SAMPLE_ROWS: usize = 4000;

/// Reads a log of any kind, told apart by its content; never fails.
pub fn read_log(bytes: &[u8], file: &str, options: &ReadOptions) -> LogRead {
    let text = || encoding::decode(bytes).text;
    match Format::of(bytes) {
        Format::Gpx => gpx::read(&text(), file),
        Format::Igc => igc::read(&text(), file),
        Format::Nmea => nmea::read(&text(), file),
        Format::Delimited | Format::Parquet | Format::ArrowFile | Format::ArrowStream => {
            scanned(bytes, file, Keep::Sample(SAMPLE_ROWS), |scan| match scan {
                Ok(scan) => from_scan(scan, options),
                Err(findings) => LogRead {
                    log: None,
                    ledger: FileLedger::new(file),
                    findings,
                },
            })
        }
    }
}

/// The table of a file that is one: delimited text, Parquet or Arrow.
pub fn read_columns(bytes: &[u8], file: &str) -> Option<TableRead> {
    match Format::of(bytes) {
        Format::Gpx | Format::Igc | Format::Nmea => None,
        Format::Delimited | Format::Parquet | Format::ArrowFile | Format::ArrowStream => {
            Some(read_table(bytes, file))
        }
    }
}

/// Reads Parquet, Arrow IPC or else any text as a table of texts; never fails.
pub fn read_table(bytes: &[u8], file: &str) -> TableRead {
    scanned(bytes, file, Keep::All, |scan| match scan {
        Ok(scan) => TableRead {
            table: Some(scan.table),
            ledger: scan.ledger,
            aside: scan.aside,
            findings: scan.findings,
        },
        Err(findings) => TableRead {
            table: None,
            ledger: FileLedger::new(file),
            aside: Vec::new(),
            findings,
        },
    })
}

/// Goes through a table of columns or of delimited text.
fn scanned<T>(
    bytes: &[u8],
    file: &str,
    keep: Keep,
    take: impl FnOnce(Result<Scan<'_>, Vec<Finding>>) -> T,
) -> T {
    if columnar::format(bytes).is_some() {
        take(Ok(columnar::scan(bytes, file, keep)))
    } else {
        take(delimited::scan(&encoding::decode(bytes), file, keep))
    }
}

fn from_scan(mut scan: Scan<'_>, options: &ReadOptions) -> LogRead {
    let log = (scan.rows > 0)
        .then(|| from_rows(&mut scan, options))
        .flatten();
    LogRead {
        log,
        ledger: scan.ledger,
        findings: scan.findings,
    }
}

/// The channels of all rows; the text of the time column alone is kept until it is read.
fn from_rows(scan: &mut Scan<'_>, options: &ReadOptions) -> Option<Log> {
    let (table, findings) = (&scan.table, &mut scan.findings);
    let mut assignment = assign_channels(table, &options.channels, Purpose::Log);
    findings.append(&mut assignment.findings);
    let mut collected: Vec<Collected<'_>> = assignment
        .columns
        .iter()
        .filter(|c| c.channel != Channel::Time)
        .map(|c| Collected::new(c, scan.rows))
        .collect();
    let time_column = assignment.get(Channel::Time).map(|c| c.index);
    let mut times = Times {
        rows: scan.rows,
        ..Times::default()
    };
    let mut lines: Vec<u32> = Vec::with_capacity(scan.rows);
    (scan.each)(&mut |line, cells| {
        let text = |column: usize| cells.get(column).unwrap_or_default();
        if let Some(column) = time_column {
            times.time.push(text(column));
        }
        if let Some(column) = assignment.date {
            times.date.push(text(column));
        }
        if let Some(column) = assignment.week {
            times.weeks.push(table.parse(text(column), column).number());
        }
        for column in &mut collected {
            column.push(table, line, text(column.column.index));
        }
        lines.push(line);
    });
    for column in &collected {
        column.complain(table, findings);
    }
    let clock = clock::read(
        table,
        &times,
        &assignment,
        options.rate_hz,
        options.zone,
        findings,
    );
    drop(times);
    let Some(clock) = clock else {
        for line in lines {
            scan.ledger
                .withdraw("no-time", u64::from(line), "the file has no time");
        }
        return None;
    };
    let line = |row: usize| lines.get(row).copied().unwrap_or_default();
    let rows = Rows {
        file: &table.file,
        seconds: clock.seconds,
        lines: &line,
        count: &|_| 1,
        restarts: &table.restarts,
        wraps_at_midnight: clock.wraps_at_midnight,
    };
    let ordered = order::order(rows, &mut scan.ledger, findings);
    let lines = ordered.rows.iter().map(|&r| line(r)).collect();
    let mut log = log(&table.file, lines, &ordered, clock.origin);
    for column in collected {
        let values = ordered.rows.iter().map(|&r| column.values[r]).collect();
        log.channels.insert(column.column.channel, values);
    }
    finish(log, findings)
}

/// A column on its way to a channel.
struct Collected<'a> {
    column: &'a AssignedColumn,
    values: Series,
    bad: Complaint,
    bounds: Complaint,
}

/// Cells without a value to use: how many, and the first one's line and text.
#[derive(Default)]
struct Complaint {
    count: usize,
    first: Option<(u32, String)>,
}

impl Complaint {
    fn add(&mut self, line: u32, text: &str) {
        self.count += 1;
        self.first
            .get_or_insert_with(|| (line, text.trim().to_owned()));
    }
}

impl<'a> Collected<'a> {
    fn new(column: &'a AssignedColumn, rows: usize) -> Self {
        Self {
            column,
            values: Vec::with_capacity(rows),
            bad: Complaint::default(),
            bounds: Complaint::default(),
        }
    }

    fn push(&mut self, table: &Table, line: u32, text: &str) {
        let value = self.column.to_si(table.parse(text, self.column.index));
        match value {
            Cell::Number(_) | Cell::Blank => {}
            Cell::Above(_) | Cell::Below(_) => self.bounds.add(line, text),
            Cell::Bad => self.bad.add(line, text),
        }
        self.values.push(value.number().unwrap_or(f64::NAN));
    }

    fn complain(&self, table: &Table, findings: &mut Vec<Finding>) {
        let name = table.column_name(self.column.index);
        let mut complain = |of: &Complaint, code: &str, what: &str| {
            let Some((line, text)) = &of.first else {
                return;
            };
            let count = of.count;
            findings.push(
                Finding::warning(
                    code,
                    format!("{count} cell(s) of '{name}' {what}; the first is '{text}'"),
                    "They count as absent; mend them if they matter.",
                )
                .at(&table.file, *line, Some(self.column.index as u32 + 1)),
            );
        };
        complain(
            &self.bad,
            "unreadable-cells",
            "are no number that can be read in one way only",
        );
        complain(&self.bounds, "bounded-cells", "only bound their value");
    }
}

/// A log without channels yet.
pub(super) fn log(
    file: &str,
    lines: Vec<u32>,
    ordered: &Ordered,
    origin: Option<DateTime<Utc>>,
) -> Log {
    Log {
        file: file.to_owned(),
        start: origin.and_then(|origin| start(origin, ordered.shift)),
        time: ordered.time.clone(),
        channels: Default::default(),
        lines,
        breaks: ordered.breaks.clone(),
        step_s: ordered.step_s,
    }
}

/// Wall-clock time of the first row. After a clock was set in mid-file only the last stretch is
/// trusted, and counted back.
fn start(origin: DateTime<Utc>, shift: f64) -> Option<DateTime<Utc>> {
    let since = TimeDelta::try_milliseconds((-shift * 1000.0).round() as i64)?;
    origin.checked_add_signed(since)
}

/// A log with no row is none; one with a single row is worth a warning.
pub(super) fn finish(mut log: Log, findings: &mut Vec<Finding>) -> Option<Log> {
    if log.is_empty() {
        findings.push(
            Finding::error(
                "no-rows",
                "no row has a usable time",
                "Check the time column, or take the file out of the season.",
            )
            .in_file(&log.file),
        );
        return None;
    }
    if log.len() == 1 {
        findings.push(
            Finding::warning(
                "one-row",
                "the log has a single usable row; nothing can be told from it",
                "Check the logger's card.",
            )
            .in_file(&log.file),
        );
    }
    if log.channels.is_empty() {
        findings.push(
            Finding::error(
                "no-channels",
                "no column beside time was recognised",
                "Name the columns in a channel map.",
            )
            .in_file(&log.file),
        );
    }
    sense::check(&mut log, findings);
    Some(log)
}
