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

use super::clock::Reader;
use super::date_order::{Dates, date_of, date_order_assumed};
use super::stamp::{self, DateOrder};
use super::words;
use crate::season::Finding;

/// Years of a recording; other dates above a header are those of makers and versions.
const YEARS: std::ops::Range<i32> = 2000..2100;
const DAY_S: f64 = 86_400.0;

/// What parts the words above a header.
const PARTS: [char; 11] = [' ', '\t', ',', ';', '|', '=', '"', 'T', '_', '(', ')'];

/// A date above a header.
struct Above {
    line: u32,
    date: NaiveDate,
    /// Other dates that stand there.
    others: Vec<String>,
}

/// Whether a line above a header tells of the recording's start.
fn names_start(text: &str) -> bool {
    const STARTS: &[&str] = &[
        "start",
        "started",
        "begin",
        "began",
        "beginn",
        "gestartet",
        "debut",
        "inicio",
        "inizio",
        "recorded",
        "aufgezeichnet",
        "startzeit",
        "flight",
        "flug",
    ];
    let tokens = words::tokens(text);
    tokens.iter().any(|t| STARTS.contains(&t.as_str()))
}

impl Reader<'_> {
    /// The date that stands above the header, where the rows carry only the time of day.
    pub(super) fn date_above(&mut self) -> Option<NaiveDate> {
        let above = self.above()?;
        let what = format!(
            "the rows carry only the time of day; the date {} was taken",
            above.date
        );
        self.told_above(&what, &above);
        Some(above.date)
    }

    /// UTC of the first row, where the rows carry only elapsed time and a date with a time of day
    /// stands above the header.
    pub(super) fn start_above(&mut self, column: usize) -> Option<DateTime<Utc>> {
        let above = self.above()?;
        let time = self.time_above(above.line)?;
        let midnight = self.origin(column, above.date, time)?;
        let since = TimeDelta::try_milliseconds((time.seconds * 1000.0).round() as i64)?;
        let what = format!(
            "the rows carry only elapsed time; the start {} was taken",
            above
                .date
                .and_time(NaiveTime::MIN)
                .checked_add_signed(since)?
        );
        self.told_above(&what, &above);
        midnight.checked_add_signed(since)
    }

    fn told_above(&mut self, what: &str, above: &Above) {
        let overrule = "preamble_date = false";
        let others = if above.others.is_empty() {
            String::new()
        } else {
            format!(
                " (there {} also {})",
                if above.others.len() == 1 { "is" } else { "are" },
                above.others.join(", ")
            )
        };
        self.note(
            Finding::warning(
                "date-from-preamble",
                format!("{what} from line {}, unsure{others}", above.line),
                format!("If it is not the day of the recording, say under [[logs]]: {overrule}."),
            )
            .overruled_by(overrule),
        );
    }

    /// The likeliest date above the header: of several the first in a line that names a date or a
    /// start.
    fn above(&mut self) -> Option<Above> {
        if !self.preamble_date {
            return None;
        }
        let preamble = &self.table.dialect.preamble;
        let mut found: Vec<(u32, bool, String, NaiveDate)> = Vec::new();
        let mut seen = Dates::default();
        for (line, text) in preamble {
            let named = words::names_date(text) || names_start(text);
            let words: Vec<&str> = text
                .split(PARTS)
                // `Date:2025-04-12`: what stands before the colon names it.
                .map(|word| word.rsplit(':').next().unwrap_or_default())
                .filter(|word| !word.is_empty())
                .collect();
            let in_words = words.windows(3).map(|w| w.join(" "));
            for word in words.iter().map(|w| (*w).to_owned()).chain(in_words) {
                let Some(date) = date_of(&word).filter(|d| YEARS.contains(&d.year())) else {
                    continue;
                };
                found.push((*line, named, word, date));
            }
        }
        let (line, _, word, first) = found
            .iter()
            .find(|(_, named, ..)| *named)
            .or(found.first())?
            .clone();
        seen.add(&word);
        // The others show the order too, where they are written alike.
        found.iter().for_each(|(.., word, _)| seen.add(word));
        let order = self.order.or(seen.order());
        if order.is_none() {
            self.note(date_order_assumed(&seen));
        }
        let mut others: Vec<String> = Vec::new();
        for (line, _, word, date) in &found {
            let other = format!("'{word}' in line {line}");
            if *date != first && !others.contains(&other) {
                others.push(other);
            }
        }
        let date = stamp::date(&word, order.unwrap_or_else(|| seen.guess().0))?;
        Some(Above { line, date, others })
    }

    /// The time of day above the header, in the line of the date before others.
    fn time_above(&self, line: u32) -> Option<stamp::Stamp> {
        let preamble = &self.table.dialect.preamble;
        let of_line = |text: &str| {
            let words: Vec<&str> = text.split(PARTS).filter(|w| !w.is_empty()).collect();
            (0..words.len()).find_map(|i| {
                let half = words
                    .get(i + 1)
                    .filter(|w| w.eq_ignore_ascii_case("am") || w.eq_ignore_ascii_case("pm"));
                let text = format!("{}{}", words[i], half.map_or("", |half| half));
                stamp::parse(&text, DateOrder::DayFirst, true).filter(|s| s.date.is_none())
            })
        };
        let (same, others): (Vec<_>, Vec<_>) = preamble.iter().partition(|(l, _)| *l == line);
        same.iter()
            .chain(&others)
            .find_map(|(_, text)| of_line(text))
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
