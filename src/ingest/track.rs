//! What the formats of position recorders (GPX, NMEA, IGC) share: fixes in file order to a [`Log`].

use chrono::{DateTime, Utc};

use super::ledger::FileLedger;
use super::log::Channel;
use super::order::{self, Rows};
use super::read::{LogRead, finish, log};
use crate::season::Finding;

/// One fix: what the receiver knew at one instant.
#[derive(Debug, Clone, Default)]
pub(super) struct Fix {
    pub line: u32,
    /// Rows of the file that it was put together from (the ledger counts them all).
    pub rows: u64,
    /// s since the origin of the track.
    pub seconds: Option<f64>,
    /// In the channels' own units.
    pub values: Vec<(Channel, f64)>,
}

impl Fix {
    /// Keeps the first value of a channel.
    pub fn put(&mut self, channel: Channel, value: Option<f64>) {
        if let Some(value) = value.filter(|v| v.is_finite())
            && self.get(channel).is_none()
        {
            self.values.push((channel, value));
        }
    }

    pub fn get(&self, channel: Channel) -> Option<f64> {
        let found = self.values.iter().find(|v| v.0 == channel);
        found.map(|v| v.1)
    }
}

/// Fixes in file order; the ledger holds their rows as used.
pub(super) struct Track<'a> {
    pub file: &'a str,
    pub fixes: Vec<Fix>,
    /// Fixes before which the recording stopped.
    pub restarts: Vec<usize>,
    /// Wall-clock time of 0 s.
    pub origin: Option<DateTime<Utc>>,
    pub wraps_at_midnight: bool,
}

/// Puts fixes in order of time and turns them into channels.
pub(super) fn assemble(
    track: Track<'_>,
    mut ledger: FileLedger,
    mut findings: Vec<Finding>,
) -> LogRead {
    let Track {
        file,
        fixes,
        restarts,
        ..
    } = track;
    let line = |row: usize| fixes.get(row).map_or(0, |f: &Fix| f.line);
    let count = |row: usize| fixes.get(row).map_or(1, |f: &Fix| f.rows);
    let rows = Rows {
        file,
        seconds: fixes
            .iter()
            .map(|f| f.seconds.unwrap_or(f64::NAN))
            .collect(),
        lines: &line,
        count: &count,
        restarts: &restarts,
        sure_restarts: true,
        wraps_at_midnight: track.wraps_at_midnight,
        may_be_late: false,
    };
    let mut ordered = order::order(rows, &mut ledger, &mut findings);
    let lines = ordered.rows.iter().map(|&r| line(r)).collect();
    let mut log = log(file, lines, &mut ordered, track.origin);
    for channel in Channel::ALL {
        let values: Vec<f64> = ordered
            .rows
            .iter()
            .map(|&r| fixes[r].get(channel).unwrap_or(f64::NAN))
            .collect();
        if values.iter().any(|x| x.is_finite()) {
            log.channels.insert(channel, values);
        }
    }
    LogRead {
        log: finish(log, &mut ledger, &mut findings),
        ledger,
        findings,
    }
}

/// Rows of which more than half set aside is worth a word of its own.
const MANY: u64 = 20;

/// A warning for each reason in the ledger.
pub(super) fn report_set_aside(
    ledger: &FileLedger,
    rows: &str,
    to_do: &str,
    findings: &mut Vec<Finding>,
) {
    if ledger.rows_in >= MANY && 2 * ledger.rows_set_aside > ledger.rows_in && ledger.rows_used > 0
    {
        findings.push(
            Finding::warning(
                "mostly-set-aside",
                format!(
                    "{} of {} {rows} were set aside; the {} left are hardly the recording",
                    ledger.rows_set_aside, ledger.rows_in, ledger.rows_used
                ),
                to_do,
            )
            .in_file(&ledger.file),
        );
    }
    for reason in &ledger.reasons {
        findings.push(
            Finding::warning(
                &reason.code,
                format!("{} {rows} set aside: {}", reason.count, reason.what),
                to_do,
            )
            .at(&ledger.file, reason.first_line as u32, None),
        );
    }
}

/// The error of a file in which nothing can be used.
pub(super) fn nothing(
    ledger: FileLedger,
    mut findings: Vec<Finding>,
    what: &str,
    to_do: &str,
) -> LogRead {
    findings.push(Finding::error("no-rows", what, to_do).in_file(&ledger.file));
    LogRead {
        log: None,
        ledger,
        findings,
    }
}

/// A calendar date from `ddmmyy`; years before 80 are of this century.
pub(super) fn date(digits: &str) -> Option<chrono::NaiveDate> {
    let digits = digits.get(..6)?;
    let number = |range: std::ops::Range<usize>| number(digits.get(range)?);
    let year = number(4..6)? as i32;
    let year = if year < 80 { 2000 + year } else { 1900 + year };
    chrono::NaiveDate::from_ymd_opt(year, number(2..4)?, number(0..2)?)
}

/// s since midnight from `hhmmss` and a fraction.
pub(super) fn time_of_day(text: &str) -> Option<f64> {
    let (whole, fraction) = text.split_at_checked(6)?;
    let number = |range: std::ops::Range<usize>| number(whole.get(range)?);
    let (h, m, s) = (number(0..2)?, number(2..4)?, number(4..6)?);
    let fraction = match fraction.strip_prefix('.') {
        None if fraction.is_empty() => 0.0,
        Some("") => 0.0,
        Some(digits) if digits.bytes().all(|b| b.is_ascii_digit()) => {
            format!("0.{digits}").parse().ok()?
        }
        _ => return None,
    };
    // A leap second is the 60th.
    (h < 24 && m < 60 && s <= 60).then(|| f64::from(h * 3600 + m * 60 + s) + fraction)
}

/// Digits and nothing else.
pub(super) fn number(digits: &str) -> Option<u32> {
    let is_number = !digits.is_empty() && digits.bytes().all(|b| b.is_ascii_digit());
    digits.parse().ok().filter(|_| is_number)
}
