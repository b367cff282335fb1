//! Stamps on the calendar: the date above a header, the zone of local times, and clocks that go
//! forward or back in mid-file.
//!
//! Where a zone is declared and the stamps name none, a step across the change to summer time counts
//! without the hour, and a step back within the hour that happens twice is the clock going back. A
//! logger that was not set on that day shows no such step and is left alone.

use chrono::{
    DateTime, Datelike, Days, LocalResult, NaiveDate, NaiveDateTime, NaiveTime, Offset, TimeDelta,
    TimeZone, Utc,
};
use chrono_tz::Tz;

use super::clock::{Reader, date_of, date_order_assumed};
use super::stamp::{self, DateOrder};
use super::words;
use crate::season::Finding;

/// Years of a recording; other dates above a header are those of makers and versions.
const YEARS: std::ops::Range<i32> = 2000..2100;
const DAY_S: f64 = 86_400.0;

impl Reader<'_> {
    /// The date that stands above the header, where the rows carry only the time of day.
    pub(super) fn date_above(&mut self) -> Option<NaiveDate> {
        if !self.preamble_date {
            return None;
        }
        let preamble = &self.table.dialect.preamble;
        let mut found: Vec<(u32, &str, NaiveDate)> = Vec::new();
        let mut seen = stamp::Dates::default();
        for (line, text) in preamble {
            let words = text.split([' ', '\t', ',', ';', '|', '=', '"', 'T', '_', '(', ')']);
            for word in words {
                // `Date:2025-04-12`: what stands before the colon names it.
                let word = word.rsplit(':').next().unwrap_or_default();
                let Some(date) = date_of(word).filter(|d| YEARS.contains(&d.year())) else {
                    continue;
                };
                seen.add(word);
                found.push((*line, word, date));
            }
        }
        let order = self.order.or(seen.order());
        let &(line, word, _) = found.first()?;
        let date = stamp::date(word, order.unwrap_or(DateOrder::DayFirst))?;
        if order.is_none() {
            self.note(date_order_assumed());
        }
        let told = found.len();
        let overrule = "preamble_date = false";
        self.note(
            Finding::warning(
                "date-from-preamble",
                format!(
                    "the rows carry only the time of day; the date {date} was taken from line {line}, \
                     unsure{}",
                    if told > 1 {
                        format!(" (the first of {told} dates above the header)")
                    } else {
                        String::new()
                    }
                ),
                format!("If it is not the day of the recording, say under [[logs]]: {overrule}."),
            )
            .overruled_by(overrule),
        );
        Some(date)
    }

    /// UTC at the midnight (as the logger's clock counts) of the first row's date.
    pub(super) fn origin(
        &mut self,
        column: usize,
        date: NaiveDate,
        first: stamp::Stamp,
    ) -> Option<DateTime<Utc>> {
        let midnight = date.and_time(NaiveTime::MIN);
        let since = TimeDelta::try_milliseconds((first.seconds * 1000.0).round() as i64)?;
        if let Some(offset) = first.offset {
            let offset = TimeDelta::try_seconds(i64::from(offset))?;
            return Some(midnight.checked_sub_signed(offset)?.and_utc());
        }
        if self.counts_utc(column) {
            return Some(midnight.and_utc());
        }
        let local = midnight.checked_add_signed(since)?;
        let Some(zone) = self.zone else {
            self.note(Finding::warning(
                "zone-unknown",
                "the times name no zone and the season declares none; they were read as UTC",
                "Declare the site's zone in season.toml, e.g. zone = \"Europe/Vienna\".",
            ));
            return Some(midnight.and_utc());
        };
        // From the first row's instant back, so that a change of clocks that day does no harm.
        self.in_utc(zone, local)?.checked_sub_signed(since)
    }

    /// The column's name says so.
    pub(super) fn counts_utc(&self, column: usize) -> bool {
        words::tokens(&self.table.column_name(column))
            .iter()
            .any(|t| matches!(t.as_str(), "utc" | "gmt" | "gps"))
    }

    /// Local times, s since the midnight of `date`, go on where the zone's clocks change.
    pub(super) fn keep_through_changes(&mut self, seconds: &mut [f64], date: NaiveDate, zone: Tz) {
        let changes = keep_through_changes(seconds, date.and_time(NaiveTime::MIN), zone);
        if changes > 0 {
            self.note(Finding::note(
                "clocks-changed",
                format!(
                    "the clocks of {zone} changed {changes} time(s) during the recording; the hour was \
                     taken out"
                ),
                "Nothing.",
            ));
        }
    }

    fn in_utc(&mut self, zone: Tz, local: NaiveDateTime) -> Option<DateTime<Utc>> {
        match zone.from_local_datetime(&local) {
            LocalResult::Single(at) => Some(at.with_timezone(&Utc)),
            LocalResult::Ambiguous(earlier, _) => {
                self.note(Finding::warning(
                    "ambiguous-local-time",
                    format!(
                        "{local} happened twice in {zone} (clocks went back); the first was taken"
                    ),
                    "Give the start in UTC in the logbook.",
                ));
                Some(earlier.with_timezone(&Utc))
            }
            LocalResult::None => {
                self.note(Finding::warning(
                    "no-such-local-time",
                    format!("{local} did not happen in {zone} (clocks went forward); the logger's clock was read as not yet set forward"),
                    "Check the logger's clock.",
                ));
                // The offset of the day before still held on the logger.
                let before = local.checked_sub_days(Days::new(1))?;
                let at = zone
                    .from_local_datetime(&before)
                    .earliest()?
                    .with_timezone(&Utc);
                at.checked_add_days(Days::new(1))
            }
        }
    }
}

/// s of local time east of UTC.
enum East {
    Once(f64),
    /// In the hour that happens twice: first, then.
    Twice(f64, f64),
    Never,
}

fn east(zone: Tz, local: NaiveDateTime) -> East {
    let seconds = |at: &DateTime<Tz>| f64::from(at.offset().fix().local_minus_utc());
    match zone.from_local_datetime(&local) {
        LocalResult::Single(at) => East::Once(seconds(&at)),
        LocalResult::Ambiguous(first, then) => East::Twice(seconds(&first), seconds(&then)),
        LocalResult::None => East::Never,
    }
}

/// Takes changes of clocks in mid-file out of local times, s since `midnight`; how many there were.
fn keep_through_changes(seconds: &mut [f64], midnight: NaiveDateTime, zone: Tz) -> usize {
    let at = |t: f64| {
        let since = TimeDelta::try_milliseconds((t * 1000.0).round() as i64)?;
        midnight.checked_add_signed(since)
    };
    // Most files see no change within a day of their ends.
    let times = || seconds.iter().copied().filter(|t| t.is_finite());
    let (low, high) = times().fold((f64::INFINITY, f64::NEG_INFINITY), |(low, high), t| {
        (low.min(t), high.max(t))
    });
    let of_day = |t: f64| match east(zone, at(t)?) {
        East::Once(east) => Some(east),
        East::Twice(..) | East::Never => None,
    };
    if of_day(low - DAY_S).is_some_and(|before| of_day(high + DAY_S) == Some(before)) {
        return 0;
    }
    let (mut shift, mut changes) = (0.0, 0usize);
    let mut last: Option<(f64, f64)> = None;
    for t in seconds.iter_mut().filter(|t| t.is_finite()) {
        let Some(local) = at(*t) else { continue };
        let now = east(zone, local);
        if let Some((before, was)) = last {
            let step = *t - before;
            match now {
                East::Once(east) if east > was && step > east - was => {
                    shift -= east - was;
                    changes += 1;
                }
                // A stray row beyond the change, and back.
                East::Once(east) if east < was && step < 0.0 => {
                    shift += was - east;
                    changes = changes.saturating_sub(1);
                }
                East::Twice(first, then)
                    if step < 0.5 * (then - first) && step + first - then > 0.0 =>
                {
                    shift += first - then;
                    changes += 1;
                }
                _ => {}
            }
        }
        last = Some((
            *t,
            match (now, last) {
                (East::Once(east), _) => east,
                (East::Twice(first, _), None) => first,
                (_, Some((_, was))) => was,
                (East::Never, None) => f64::INFINITY,
            },
        ));
        *t += shift;
    }
    changes
}
