//! A logger file of any kind as a [`Log`].

use std::io;

use chrono::{DateTime, Datelike, TimeDelta, Utc};
use chrono_tz::Tz;

use super::cell::Cell;
use super::channels::{AssignedColumn, assign_channels};
use super::clock::{self, Times};
use super::encoding;
use super::format::Format;
use super::ledger::FileLedger;
use super::log::{Channel, Log, Series};
use super::order::{self, Ordered, Rows};
use super::overrule::Line;
use super::scan::{self, Keep, Passed, Scan};
use super::sense;
use super::source::{self, Source};
use super::table::{CellsOf, Table, TableRead};
use super::words::Purpose;
use super::{columnar, delimited, gpx, igc, nmea};
use crate::season::{ChannelMap, DateOrder, Finding, TextForm};

/// What the season declares about a log.
#[derive(Debug, Clone, Default, PartialEq)]
pub struct ReadOptions {
    pub channels: ChannelMap,
    pub text: TextForm,
    /// Sampling rate where the file has no time column, Hz.
    pub rate_hz: Option<f64>,
    /// The site's zone, for times that name none.
    pub zone: Option<Tz>,
    /// How dates such as `03/04/2025` are written.
    pub dates: Option<DateOrder>,
    /// A date above the header is not that of the rows.
    pub no_preamble_date: bool,
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
    read_log_from(&bytes, file, options)
}

/// The same from a source that is read piece by piece. Delimited text is never held; the other
/// formats are read whole, GPX, NMEA and IGC as text and Parquet and Arrow packed as they are.
pub fn read_log_from(source: &dyn Source, file: &str, options: &ReadOptions) -> LogRead {
    let unread = |findings| LogRead {
        log: None,
        ledger: FileLedger::new(file),
        findings,
    };
    let unreadable = |e: io::Error| unread(vec![scan::unreadable(file, &e)]);
    let format = match Format::of(source) {
        Ok(format) => format,
        Err(error) => return unreadable(error),
    };
    let read: fn(&str, &str) -> LogRead = match format {
        Format::Gpx => gpx::read,
        Format::Igc => igc::read,
        Format::Nmea => nmea::read,
        Format::Delimited | Format::Parquet | Format::ArrowFile | Format::ArrowStream => {
            return match scanned(source, file, options.text, Keep::Sample(SAMPLE_ROWS)) {
                Ok(scan) => log_of(scan, options),
                Err(findings) => unread(findings),
            };
        }
    };
    match source::whole(source) {
        Ok(bytes) => read(&encoding::decode(&bytes).text, file),
        Err(error) => unreadable(error),
    }
}

/// Reads Parquet, Arrow IPC or else any text as a table of texts, all of it; never fails.
pub fn read_table(bytes: &[u8], file: &str) -> TableRead {
    read_table_as(bytes, file, TextForm::default())
}

/// The same where something of the text is declared.
pub fn read_table_as(bytes: &[u8], file: &str, form: TextForm) -> TableRead {
    match scanned(&bytes, file, form, Keep::All) {
        Ok(scan) => TableRead {
            table: Some(scan.table),
            ledger: scan.ledger,
            findings: scan.findings,
        },
        Err(findings) => TableRead {
            table: None,
            ledger: FileLedger::new(file),
            findings,
        },
    }
}

/// Goes through a file of columns or of delimited text, whatever its format is taken for; the
/// findings alone where it holds no table.
pub fn scan<'a>(
    source: &'a dyn Source,
    file: &str,
    form: TextForm,
) -> Result<Scan<'a>, Vec<Finding>> {
    scanned(source, file, form, Keep::Sample(SAMPLE_ROWS))
}

fn scanned<'a>(
    source: &'a dyn Source,
    file: &str,
    form: TextForm,
    keep: Keep,
) -> Result<Scan<'a>, Vec<Finding>> {
    let unreadable = |e: io::Error| vec![scan::unreadable(file, &e)];
    let head = source::head(source, columnar::MARK).map_err(unreadable)?;
    if columnar::format(&head).is_some() {
        let bytes = source::whole(source).map_err(unreadable)?;
        Ok(columnar::scan(bytes, file, keep))
    } else {
        delimited::scan(source, file, form, keep)
    }
}

/// The log that a table holds.
pub fn log_of(mut scan: Scan<'_>, options: &ReadOptions) -> LogRead {
    scan.table.declare_marks(&options.channels);
    let log = if scan.rows > 0 {
        from_rows(&mut scan, options)
    } else {
        None
    };
    LogRead {
        log,
        ledger: scan.ledger,
        findings: scan.findings,
    }
}

/// The channels of all rows, turned into numbers as they go by.
fn from_rows(scan: &mut Scan<'_>, options: &ReadOptions) -> Option<Log> {
    let (table, findings) = (&scan.table, &mut scan.findings);
    let mut assignment = assign_channels(table, &options.channels, Purpose::Log);
    if options.rate_hz.is_some() {
        assignment.forget_guessed_time();
    }
    findings.append(&mut assignment.findings);
    let mut collected: Vec<Collected<'_>> = assignment
        .columns
        .iter()
        .filter(|c| c.channel != Channel::Time)
        .map(|c| Collected::new(c, scan.rows))
        .collect();
    let mut lines: Vec<u32> = Vec::with_capacity(scan.rows);
    let passed = Times::new(table, &assignment, options.dates, &*scan.each, findings).and_then(
        |mut times| {
            times.expect(scan.rows);
            let mut take = Taking {
                table,
                times: &mut times,
                collected: &mut collected,
                lines: &mut lines,
            };
            match &scan.plain {
                Some(plain) => {
                    let columns = 0..table.header.len();
                    let direct: Vec<bool> = columns.map(|c| plain.direct(table, c)).collect();
                    plain.each(&direct, |line, cells| take.row(line, &cells));
                }
                None => (scan.each)(&mut |passed: Passed<'_>| {
                    if passed.aside.is_none() {
                        take.row(passed.line, passed.cells);
                    }
                })?,
            }
            Ok(times)
        },
    );
    let times = match passed {
        Ok(times) if lines.len() == scan.rows => times,
        other => {
            let error = other
                .err()
                .unwrap_or_else(|| io::Error::other("it changed while it was read"));
            findings.push(scan::unreadable(&table.file, &error));
            scan.ledger
                .withdraw_all("unreadable", 1, "the file could not be read to its end");
            return None;
        }
    };
    for column in &collected {
        column.complain(table, &mut scan.ledger, findings);
    }
    let clock = clock::read(table, times, &assignment, options, findings);
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
        // A header that stands again tells of a gap only where the file has no clock of its own.
        sure_restarts: assignment.get(Channel::Time).is_none(),
        wraps_at_midnight: clock.wraps_at_midnight,
        may_be_late: true,
    };
    let mut ordered = order::order(rows, &mut scan.ledger, findings);
    let kept = ordered.rows.iter().map(|&r| line(r)).collect();
    let mut log = log(&table.file, kept, &mut ordered, clock.origin);
    log.clock_s = (clock.counts && !ordered.reset).then_some(-ordered.shift);
    drop(lines);
    let as_read = ordered.rows.len() == scan.rows && ordered.rows.is_sorted();
    for column in collected {
        let values = if as_read {
            column.values
        } else {
            ordered.rows.iter().map(|&r| column.values[r]).collect()
        };
        log.channels.insert(column.column.channel, values);
    }
    drop(ordered);
    finish(log, &mut scan.ledger, findings)
}

/// Rows on their way to times and channels.
struct Taking<'t, 'c> {
    table: &'t Table,
    times: &'t mut Times,
    collected: &'t mut [Collected<'c>],
    lines: &'t mut Vec<u32>,
}

impl Taking<'_, '_> {
    fn row(&mut self, line: u32, cells: &impl CellsOf) {
        self.times.push(self.table, cells);
        for column in self.collected.iter_mut() {
            column.push(self.table, line, cells);
        }
        self.lines.push(line);
    }
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

    fn push(&mut self, table: &Table, line: u32, cells: &impl CellsOf) {
        let value = self.column.of_row(table, cells);
        match value {
            Cell::Number(_) | Cell::Blank => {}
            Cell::Above(_) | Cell::Below(_) => {
                self.bounds.add(line, cells.text(self.column.index));
            }
            Cell::Bad => self.bad.add(line, cells.text(self.column.index)),
        }
        self.values.push(value.number().unwrap_or(f64::NAN));
    }

    fn complain(&self, table: &Table, ledger: &mut FileLedger, findings: &mut Vec<Finding>) {
        let name = table.column_name(self.column.index);
        let mut complain = |of: &Complaint, code: &str, what: &str, why: &str| {
            let Some((line, text)) = &of.first else {
                return;
            };
            let count = of.count;
            ledger.mark(self.column.channel, code, count, *line, why);
            findings.push(
                Finding::warning(
                    code,
                    format!("{count} cell(s) of '{name}' {what}; the first is '{text}'"),
                    mend(table, self.column, text),
                )
                .at(&table.file, *line, Some(self.column.index as u32 + 1)),
            );
        };
        complain(
            &self.bad,
            "unreadable-cells",
            "are no number that can be read in one way only",
            "no number that can be read in one way only",
        );
        complain(
            &self.bounds,
            "bounded-cells",
            "only bound their value",
            "a bound and no value",
        );
    }
}

/// What to do about a cell that gives no value.
fn mend(table: &Table, column: &AssignedColumn, text: &str) -> String {
    let is_number = text.contains(['.', ','])
        && text
            .bytes()
            .all(|b| b.is_ascii_digit() || matches!(b, b'.' | b',' | b'-' | b'+'));
    if !is_number {
        return "They count as absent; mend them if they matter.".to_owned();
    }
    let mark = if table.dialect.decimal_comma {
        ','
    } else {
        '.'
    };
    let line = Line::of(table, column.channel, column.index)
        .decimal(mark)
        .text();
    format!(
        "They count as absent. If they matter, name the decimal mark in the channel map: {line}."
    )
}

/// A log without channels yet; it takes the times.
pub(super) fn log(
    file: &str,
    lines: Vec<u32>,
    ordered: &mut Ordered,
    origin: Option<DateTime<Utc>>,
) -> Log {
    Log {
        file: file.to_owned(),
        start: origin.and_then(|origin| start(origin, ordered)),
        clock_s: None,
        time: std::mem::take(&mut ordered.time),
        channels: Default::default(),
        lines,
        breaks: ordered.breaks.clone(),
        step_s: ordered.step_s,
    }
}

/// Clocks that were not set count from an earlier year (common practice, no source).
const FIRST_YEAR: i32 = 2005;

/// Wall-clock time of the first row. Where the clock was set or reset in mid-file the first stretch
/// with a believable date tells it, counted back; where none has one, the last.
fn start(origin: DateTime<Utc>, ordered: &Ordered) -> Option<DateTime<Utc>> {
    let at = |seconds: f64| {
        let since = TimeDelta::try_milliseconds((seconds * 1000.0).round() as i64)?;
        origin.checked_add_signed(since)
    };
    let believable =
        |&&(raw, _): &&(f64, f64)| at(raw).is_some_and(|date| date.year() >= FIRST_YEAR);
    let stretch = ordered.stretches.iter().find(believable);
    at(-stretch.map_or(ordered.shift, |(_, shift)| *shift))
}

/// A log with no row is none; one with a single row is worth a warning.
pub(super) fn finish(
    mut log: Log,
    ledger: &mut FileLedger,
    findings: &mut Vec<Finding>,
) -> Option<Log> {
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
    sense::check(&mut log, ledger, findings);
    Some(log)
}
