//! A logger file of any kind as a [`Log`].

use chrono::{DateTime, TimeDelta, Utc};
use chrono_tz::Tz;

use super::cell::Cell;
use super::channels::{AssignedColumn, Assignment, assign_channels};
use super::encoding;
use super::format::Format;
use super::ledger::FileLedger;
use super::log::{Channel, Log, Series};
use super::order::{self, Ordered, Rows};
use super::table::{Table, TableRead};
use super::words::Purpose;
use super::{clock, columnar, gpx, igc, nmea, read_table};
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

/// Reads a log of any kind, told apart by its content; never fails.
pub fn read_log(bytes: &[u8], file: &str, options: &ReadOptions) -> LogRead {
    let text = || encoding::decode(bytes).text;
    match Format::of(bytes) {
        Format::Gpx => gpx::read(&text(), file),
        Format::Igc => igc::read(&text(), file),
        Format::Nmea => nmea::read(&text(), file),
        Format::Delimited => from_read(read_table(bytes, file), options),
        Format::Parquet | Format::ArrowFile | Format::ArrowStream => {
            from_read(columnar::read_table(bytes, file), options)
        }
    }
}

/// The table of a file that is one: delimited text, Parquet or Arrow.
pub fn read_columns(bytes: &[u8], file: &str) -> Option<TableRead> {
    match Format::of(bytes) {
        Format::Delimited => Some(read_table(bytes, file)),
        Format::Parquet | Format::ArrowFile | Format::ArrowStream => {
            Some(columnar::read_table(bytes, file))
        }
        Format::Gpx | Format::Igc | Format::Nmea => None,
    }
}

fn from_read(read: TableRead, options: &ReadOptions) -> LogRead {
    let (mut ledger, mut findings) = (read.ledger, read.findings);
    let Some(table) = read.table.filter(|t| !t.rows.is_empty()) else {
        return LogRead {
            log: None,
            ledger,
            findings,
        };
    };
    let mut assignment = assign_channels(&table, &options.channels, Purpose::Log);
    findings.append(&mut assignment.findings);
    let log = from_table(&table, &assignment, options, &mut ledger, &mut findings);
    LogRead {
        log,
        ledger,
        findings,
    }
}

fn from_table(
    table: &Table,
    assignment: &Assignment,
    options: &ReadOptions,
    ledger: &mut FileLedger,
    findings: &mut Vec<Finding>,
) -> Option<Log> {
    let line = |row: usize| table.rows.get(row).map_or(0, |r| r.line);
    let clock = clock::read(table, assignment, options.rate_hz, options.zone, findings);
    let Some(clock) = clock else {
        for row in 0..table.rows.len() {
            ledger.withdraw("no-time", u64::from(line(row)), "the file has no time");
        }
        return None;
    };
    let rows = Rows {
        file: &table.file,
        seconds: clock.seconds,
        lines: &line,
        count: &|_| 1,
        restarts: &table.restarts,
        wraps_at_midnight: clock.wraps_at_midnight,
    };
    let ordered = order::order(rows, ledger, findings);
    let mut log = log(
        &table.file,
        ordered.rows.iter().map(|&r| line(r)).collect(),
        &ordered,
        clock.origin,
    );
    for column in assignment
        .columns
        .iter()
        .filter(|c| c.channel != Channel::Time)
    {
        log.channels.insert(
            column.channel,
            series(table, column, &ordered.rows, findings),
        );
    }
    finish(log, findings)
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
pub(super) fn finish(log: Log, findings: &mut Vec<Finding>) -> Option<Log> {
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
    Some(log)
}

fn series(
    table: &Table,
    column: &AssignedColumn,
    rows: &[usize],
    findings: &mut Vec<Finding>,
) -> Series {
    let (mut bad, mut bounds) = (Vec::new(), Vec::new());
    let series = rows
        .iter()
        .map(|&row| match table.value(row, column) {
            Cell::Number(value) => value,
            Cell::Blank => f64::NAN,
            Cell::Above(_) | Cell::Below(_) => {
                bounds.push(row);
                f64::NAN
            }
            Cell::Bad => {
                bad.push(row);
                f64::NAN
            }
        })
        .collect();
    let name = table.column_name(column.index);
    let mut complain = |rows: &[usize], code: &str, what: &str| {
        let Some(&first) = rows.first() else { return };
        let mut finding = Finding::warning(
            code,
            format!(
                "{} cell(s) of '{name}' {what}; the first is '{}'",
                rows.len(),
                table.text(first, column.index).trim()
            ),
            "They count as absent; mend them if they matter.",
        );
        finding.place = Some(table.place(first, Some(column.index)));
        findings.push(finding);
    };
    complain(
        &bad,
        "unreadable-cells",
        "are no number that can be read in one way only",
    );
    complain(&bounds, "bounded-cells", "only bound their value");
    series
}
