//! The time column: from what is written to seconds since some origin, and wall-clock time.
//!
//! Numbers take the unit of the header. Without one the unit is the first of s, ms, µs that makes
//! the median step and the length of the file those of loggers ([`super::rising`]); numbers as large
//! as the seconds since 1970 (or ms, µs of them) are wall-clock time. Text is a time of day or a date
//! with one, in one column or two ([`super::calendar`]). What becomes of gaps, restarts and repeated
//! stamps: [`super::order`].

use std::io;

use chrono::{DateTime, TimeDelta, Utc};
use chrono_tz::Tz;

use super::cell::Cell;
use super::channels::Assignment;
use super::counter;
use super::date_order::{Dates, date_order_assumed};
use super::log::Channel;
use super::overrule::Line;
use super::read::ReadOptions;
use super::rising::{EPOCH_S, by_step, readable, steps_fit};
use super::scan::{Passed, Take};
use super::stamp::{self, DateOrder};
use super::table::{CellsOf, Table};
use super::written::{Written, in_minutes, numbers_as_stamps};
use crate::season::Finding;

const DAY_S: f64 = 86_400.0;

/// Time by row of the table.
pub(super) struct RawClock {
    /// s since the origin; NaN where the row has no readable time.
    pub seconds: Vec<f64>,
    /// Wall-clock time of 0 s.
    pub origin: Option<DateTime<Utc>>,
    /// A clock that starts again at midnight.
    pub wraps_at_midnight: bool,
    /// A clock that counts from its own start.
    pub counts: bool,
}

/// The time column as rows go by: numbers as written, or s since the first stamp's midnight.
#[derive(Default)]
pub(super) struct Times {
    rows: usize,
    column: Option<usize>,
    date_column: Option<usize>,
    week_column: Option<usize>,
    /// The order of day and month where the times are stamps.
    stamps: Option<DateOrder>,
    /// How numbers stand for stamps.
    written: Written,
    values: Vec<f64>,
    /// Stamps of two parts are hours and minutes.
    in_minutes: bool,
    /// Satellite weeks, where a column gives them.
    weeks: Vec<f64>,
    first: Option<stamp::Stamp>,
    /// Of the first row, as written.
    first_text: String,
}

impl Times {
    /// Judges the time column by the table's sample; `again` goes through its rows where the order of
    /// day and month needs all of them.
    pub fn new(
        table: &Table,
        assignment: &Assignment,
        declared: Option<DateOrder>,
        again: &dyn Fn(Take<'_>) -> io::Result<()>,
        findings: &mut Vec<Finding>,
    ) -> io::Result<Self> {
        let mut out = Self {
            column: assignment.get(Channel::Time).map(|c| c.index),
            date_column: assignment.date,
            week_column: assignment.week,
            ..Self::default()
        };
        let Some(column) = out.column else {
            return Ok(out);
        };
        let (mut numbers, mut stamps) = (0usize, 0usize);
        for row in super::plausible::sample(table) {
            match table.raw(row, column) {
                Cell::Number(_) => numbers += 1,
                Cell::Bad => stamps += 1,
                _ => {}
            }
        }
        if numbers >= stamps && numbers > 0 {
            let has_unit = assignment
                .get(Channel::Time)
                .is_some_and(|c| !c.unit.is_empty());
            match numbers_as_stamps(table, column).filter(|_| !has_unit) {
                Some(written) => out.written = written,
                None => return Ok(out),
            }
            findings.push(out.written.told(table, column));
        }
        let dated = out.date_column.unwrap_or(column);
        let mut seen = Dates::default();
        for row in 0..table.rows.len() {
            seen.add(table.text(row, dated));
        }
        if seen.is_open() && declared.is_none() {
            seen = Dates::default();
            again(&mut |passed: Passed<'_>| {
                if passed.aside.is_none() {
                    seen.add(passed.cells.get(dated).unwrap_or_default());
                }
            })?;
        }
        out.in_minutes = out.written == Written::Text && in_minutes(table, column);
        out.stamps = Some(declared.or(seen.order()).unwrap_or_else(|| {
            findings.push(date_order_assumed(&seen).in_file(&table.file));
            seen.guess().0
        }));
        Ok(out)
    }

    /// So many rows will come.
    pub fn expect(&mut self, rows: usize) {
        if self.column.is_some() {
            self.values.reserve_exact(rows);
        }
    }

    pub fn push(&mut self, table: &Table, cells: &impl CellsOf) {
        let number = |column: usize| table.cell(cells, column).number().unwrap_or(f64::NAN);
        if let Some(column) = self.week_column {
            self.weeks.push(number(column));
        }
        if let Some(column) = self.column {
            if self.rows == 0 {
                cells.text(column).clone_into(&mut self.first_text);
            }
            let value = match self.stamps {
                None => number(column),
                Some(order) => self
                    .since_first(
                        cells.text(column),
                        number,
                        column,
                        self.date_column.map(|date| cells.text(date)),
                        order,
                    )
                    .unwrap_or(f64::NAN),
            };
            self.values.push(value);
        }
        self.rows += 1;
    }

    /// s from the midnight before the first stamp.
    fn since_first(
        &mut self,
        text: &str,
        number: impl Fn(usize) -> f64,
        column: usize,
        date: Option<&str>,
        order: DateOrder,
    ) -> Option<f64> {
        let mut stamp = match self.written {
            Written::Text => stamp::parse(text, order, date.is_some() || self.in_minutes)?,
            Written::Packed => stamp::Stamp {
                date: None,
                seconds: stamp::packed(number(column))?,
                offset: None,
            },
            Written::Days => stamp::spreadsheet(number(column))?,
        };
        if let Some(date) = date {
            stamp.date = stamp.date.or_else(|| stamp::date(date, order));
        }
        let first = *self.first.get_or_insert(stamp);
        let days = match (stamp.date, first.date) {
            (Some(date), Some(origin)) => (date - origin).num_days() as f64,
            _ => 0.0,
        };
        // An offset that changes in mid-file moves no clock.
        let shift = f64::from(first.offset.unwrap_or(0) - stamp.offset.unwrap_or(0));
        Some(days * DAY_S + stamp.seconds + shift)
    }
}

/// Reads the table's time; `None` with a finding where there is none.
pub(super) fn read(
    table: &Table,
    times: Times,
    assignment: &Assignment,
    options: &ReadOptions,
    findings: &mut Vec<Finding>,
) -> Option<RawClock> {
    let Some(column) = assignment.get(Channel::Time) else {
        return by_rate(table, times.rows, options.rate_hz, findings);
    };
    let is_stamps = times.stamps.is_some();
    let reader = Reader {
        table,
        times,
        zone: options.zone,
        order: options.dates,
        preamble_date: !options.no_preamble_date,
        findings,
    };
    if is_stamps {
        reader.stamps(column.index)
    } else {
        Some(reader.numbers(column.index, column.factor, !column.unit.is_empty()))
    }
}

/// s of the kept rows since some origin, NaN where a row has none; `None` where the time column's
/// unit cannot be told from them.
pub(super) fn rough(table: &Table, assignment: &Assignment) -> Option<Vec<f64>> {
    let column = assignment.get(Channel::Time)?;
    let nothing: &dyn Fn(Take<'_>) -> io::Result<()> = &|_| Ok(());
    let mut times = Times::new(table, assignment, None, nothing, &mut Vec::new()).ok()?;
    for row in &table.rows {
        times.push(table, &row.cells);
    }
    if times.stamps.is_some() {
        return Some(times.values);
    }
    let factor = if column.unit.is_empty() {
        // The kept rows of a long file lie apart: their step tells no unit.
        let consecutive = table
            .rows
            .windows(2)
            .take(5)
            .all(|w| w[1].line - w[0].line <= 2);
        let (_, factor, fits) = by_step(&times.values);
        (consecutive && fits).then_some(factor)?
    } else {
        column.factor
    };
    Some(times.values.iter().map(|t| t * factor).collect())
}

fn by_rate(
    table: &Table,
    rows: usize,
    rate_hz: Option<f64>,
    findings: &mut Vec<Finding>,
) -> Option<RawClock> {
    let Some(rate) = rate_hz.filter(|r| r.is_finite() && *r > 0.0) else {
        findings.push(
            Finding::error(
                "no-time",
                "the file has no time column that could be recognised",
                "Name it in the channel map (time = \"…\"), or declare the sampling rate \
                 (rate = \"10 Hz\").",
            )
            .in_file(&table.file),
        );
        return None;
    };
    findings.push(
        Finding::note(
            "time-by-rate",
            format!("there is no time column; rows were spaced by the declared {rate} Hz"),
            "Nothing, if the rate is right.",
        )
        .in_file(&table.file),
    );
    Some(RawClock {
        seconds: (0..rows).map(|i| i as f64 / rate).collect(),
        origin: None,
        wraps_at_midnight: false,
        counts: false,
    })
}

pub(super) struct Reader<'a> {
    pub table: &'a Table,
    times: Times,
    pub zone: Option<Tz>,
    /// Declared.
    pub order: Option<DateOrder>,
    /// A date above the header is that of the rows.
    pub preamble_date: bool,
    findings: &'a mut Vec<Finding>,
}

impl Reader<'_> {
    pub(super) fn note(&mut self, finding: Finding) {
        self.findings.push(finding.in_file(&self.table.file));
    }

    fn numbers(mut self, column: usize, factor: f64, unit_written: bool) -> RawClock {
        let mut raw = std::mem::take(&mut self.times.values);
        let wrapped = if self.times.weeks.is_empty() {
            counter::unwrap(&mut raw)
        } else {
            0
        };
        if wrapped > 0 {
            let name = self.table.column_name(column);
            self.note(Finding::note(
                "counter-wrapped",
                format!("'{name}' was full and started again {wrapped} time(s); it was carried on"),
                "Nothing.",
            ));
        }
        let first = readable(&raw).next().unwrap_or(0.0);
        let mut factor = factor;
        let epoch = |factor: f64| {
            let middle = readable(&raw).nth(raw.len() / 2).unwrap_or(first);
            (EPOCH_S.0..EPOCH_S.1).contains(&(middle * factor))
        };
        if !unit_written {
            let name = self.table.column_name(column);
            let (unit, by, sure) = match [("s", 1.0), ("ms", 1e-3), ("us", 1e-6)]
                .into_iter()
                .find(|(_, f)| epoch(*f) && (first.fract() == 0.0 || *f == 1.0))
                // Microseconds since power-up also reach 1e9; only a logger that runs in
                // plausible steps may be read as seconds since 1970.
                .filter(|(_, f)| steps_fit(&raw, *f))
            {
                Some((unit, f)) => (unit, f, true),
                None => by_step(&raw),
            };
            factor = by;
            let other = if unit == "s" { "ms" } else { "s" };
            let line = Line::of(self.table, Channel::Time, column)
                .unit(other)
                .text();
            let to_do = format!("If that is wrong, put the unit into the channel map: {line}.");
            let finding = if sure {
                let what =
                    format!("'{name}': no unit is written; its steps and its length say {unit}");
                Finding::note("time-unit-assumed", what, to_do)
            } else {
                let what = format!(
                    "'{name}': no unit is written, and none makes it plausible; {unit} was taken"
                );
                Finding::warning("time-unit-assumed", what, to_do)
            };
            self.note(finding.overruled_by(line));
        }
        if let Some(clock) = self.in_weeks(&raw, factor) {
            return clock;
        }
        let origin = epoch(factor)
            .then(|| DateTime::from_timestamp((first * factor).floor() as i64, 0))
            .flatten();
        // Subtracting in raw units keeps the microseconds of large numbers.
        let base = if origin.is_some() {
            (first * factor).floor() / factor
        } else {
            0.0
        };
        for time in &mut raw {
            *time = (*time - base) * factor;
        }
        let counts = origin.is_none();
        let start = || {
            let start = self.start_above(column)?;
            let since = TimeDelta::try_milliseconds((first * factor * 1000.0).round() as i64)?;
            start.checked_sub_signed(since)
        };
        RawClock {
            seconds: raw,
            origin: origin.or_else(start),
            wraps_at_midnight: false,
            counts,
        }
    }

    /// Time of the week beside a column of weeks.
    fn in_weeks(&self, raw: &[f64], factor: f64) -> Option<RawClock> {
        let weeks = &self.times.weeks;
        let first = weeks
            .iter()
            .zip(raw)
            .find_map(|(w, t)| (w.is_finite() && t.is_finite()).then_some(*w))?;
        let origin = counter::week_start(first)?;
        let seconds = weeks
            .iter()
            .zip(raw)
            .map(|(week, time)| (week - first) * counter::WEEK_S + time * factor);
        Some(RawClock {
            seconds: seconds.collect(),
            origin: Some(origin),
            wraps_at_midnight: false,
            counts: false,
        })
    }

    fn stamps(mut self, column: usize) -> Option<RawClock> {
        let Some(first) = self.times.first else {
            self.note(Finding::error(
                "no-time",
                format!(
                    "no time could be read in '{}'",
                    self.table.column_name(column)
                ),
                "Write times as 12:34:56.7, 2025-04-12T12:34:56Z or seconds.",
            ));
            return None;
        };
        let text = std::mem::take(&mut self.times.first_text);
        if self.times.in_minutes && self.times.date_column.is_none() {
            self.note(Finding::warning(
                "hours-and-minutes",
                format!(
                    "'{}': times such as '{}' stand still for a hundred rows and more: they were read as hours \
                     and minutes, and the rows of a minute spread over it; the first and the last minute \
                     are hardly full",
                    self.table.column_name(column),
                    text.trim()
                ),
                "Let the logger write seconds, or say under [[logs]] how many rows a second it writes \
                 (rate = \"10 Hz\") and in the channel map: time = false.",
            ).overruled_by("time = false"));
        } else if first.date.is_none() && text.matches(':').count() == 1 {
            self.note(Finding::note(
                "minutes-and-seconds",
                format!("times such as '{}' were read as minutes and seconds", text.trim()),
                "If they are hours and minutes, the clock is too coarse: let the logger write seconds.",
            ));
        }
        let date = first.date.or_else(|| self.date_above());
        let origin = date.and_then(|date| self.origin(column, date, first));
        let mut seconds = std::mem::take(&mut self.times.values);
        if let Some((date, zone)) = first.date.zip(self.zone)
            && first.offset.is_none()
            && !self.counts_utc(column)
        {
            self.keep_through_changes(&mut seconds, date, zone);
        }
        Some(RawClock {
            seconds,
            origin,
            wraps_at_midnight: first.date.is_none(),
            counts: false,
        })
    }
}
