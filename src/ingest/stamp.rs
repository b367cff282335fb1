//! Dates and times of day as loggers and pilots write them.

use chrono::NaiveDate;

pub(super) use crate::season::DateOrder;

/// A time stamp: any part may be absent.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Stamp {
    pub date: Option<NaiveDate>,
    /// s since midnight.
    pub seconds: f64,
    /// Offset from UTC in s, where written (`Z`, `+02:00`).
    pub offset: Option<i32>,
}

/// Reads a stamp; `dated` says that the date stands in another column. Beside a date two parts are
/// hours and minutes, without one they are minutes and seconds.
///
/// `12:34:56.7`, `2:05:06 PM`, `2025-04-12T12:34:56Z`, `20250412T123456Z`, `12.04.2025 12:34:56,7` ...
pub(super) fn parse(text: &str, order: DateOrder, dated: bool) -> Option<Stamp> {
    let text = text.trim();
    let (text, offset) = split_offset(text);
    if let Some((day, seconds)) = basic(text) {
        let date = Some(date(day, order)?);
        return Some(Stamp {
            date,
            seconds,
            offset,
        });
    }
    let colon = text.find(':')?;
    // The time of day starts after the last mark before its first colon.
    let cut = text[..colon].rfind([' ', 'T', 't', '_', ',', ';']);
    let (day, time) = match cut {
        Some(at) => (text[..at].trim_matches([' ', ',', ';']), &text[at + 1..]),
        None => ("", text),
    };
    let date = if day.is_empty() {
        None
    } else {
        Some(date(day, order)?)
    };
    Some(Stamp {
        date,
        seconds: time_of_day(time.trim(), dated || date.is_some())?,
        offset,
    })
}

/// The date and s since midnight of `20250412T123456.7`, the basic format of ISO 8601.
fn basic(text: &str) -> Option<(&str, f64)> {
    let (day, time) = text.split_once(['T', 't'])?;
    let digits = |text: &str| text.bytes().all(|b| b.is_ascii_digit());
    let whole = time.split(['.', ',']).next()?;
    if day.len() != 8 || !digits(day) || whole.len() != 6 || !digits(whole) {
        return None;
    }
    let number = |text: &str| text.replace(',', ".").parse::<f64>().ok();
    let (hours, minutes) = (number(&time[..2])?, number(&time[2..4])?);
    let seconds = number(&time[4..])?;
    let within = hours < 24.0 && minutes < 60.0 && seconds < 62.0;
    within.then_some((day, 3600.0 * hours + 60.0 * minutes + seconds))
}

/// Takes `Z` or `+02:00` off the end.
fn split_offset(text: &str) -> (&str, Option<i32>) {
    if let Some(rest) = text.strip_suffix(['Z', 'z']) {
        return (rest.trim_end(), Some(0));
    }
    let Some(rest) = text.strip_suffix("UTC") else {
        let Some(at) = text.rfind(['+', '-']).filter(|&at| is_timed(&text[..at])) else {
            return (text, None);
        };
        let sign = if text[at..].starts_with('-') { -1 } else { 1 };
        let digits: String = text[at + 1..]
            .chars()
            .filter(char::is_ascii_digit)
            .collect();
        let number = |range: std::ops::Range<usize>| {
            digits
                .get(range)
                .and_then(|d| d.parse::<i32>().ok())
                .unwrap_or(0)
        };
        if !matches!(digits.len(), 2 | 4) {
            return (text, None);
        }
        let seconds = number(0..2) * 3600 + number(2..4) * 60;
        return (text[..at].trim_end(), Some(sign * seconds));
    };
    (rest.trim_end(), Some(0))
}

/// Holds a time of day; the T of `03-OCT` begins none.
fn is_timed(text: &str) -> bool {
    let before_t = text.find('T').and_then(|at| text[..at].chars().next_back());
    text.contains(':') || before_t.is_some_and(|c| c.is_ascii_digit())
}

/// s since midnight of `h:m:s`, with `AM`/`PM`; of `h:m` beside a date, else of `m:s`.
fn time_of_day(text: &str, dated: bool) -> Option<f64> {
    let lower = text.to_ascii_lowercase();
    let (text, half) = match lower
        .strip_suffix("pm")
        .or_else(|| lower.strip_suffix("am"))
    {
        Some(rest) => (rest.trim_end(), Some(lower.ends_with("pm"))),
        None => (lower.as_str(), None),
    };
    let mut parts: Vec<&str> = text.split(':').collect();
    // `12:34:56:789`: a fourth part holds milliseconds.
    let milliseconds = (parts.len() == 4).then(|| parts.pop()).flatten();
    let last = parts.pop()?.replace(',', ".");
    if !last.bytes().all(|b| b.is_ascii_digit() || b == b'.') {
        return None;
    }
    let mut seconds = last.parse::<f64>().ok().filter(|s| *s < 62.0)?;
    if let Some(milliseconds) = milliseconds {
        seconds += f64::from(milliseconds.parse::<u16>().ok()?) / 1000.0;
    }
    let whole = |text: &str| text.trim().parse::<u32>().ok();
    let (hours, minutes) = match parts.as_slice() {
        // The last part were minutes.
        [h] if dated => {
            seconds *= 60.0;
            (whole(h)?, 0)
        }
        [m] => (0, whole(m)?),
        [h, m] => (whole(h)?, whole(m).filter(|m| *m < 60)?),
        _ => return None,
    };
    let hours = match half {
        Some(true) if hours < 12 => hours + 12,
        Some(false) if hours == 12 => 0,
        _ => hours,
    };
    Some(f64::from(hours) * 3600.0 + f64::from(minutes) * 60.0 + seconds)
}

/// A calendar date: `2025-04-12`, `12.04.2025`, `4/12/25`, `20250412`, `03-May-2025`, `May 3, 2025`.
pub(super) fn date(text: &str, order: DateOrder) -> Option<NaiveDate> {
    let text = text.trim();
    if text.len() == 8 && text.bytes().all(|b| b.is_ascii_digit()) {
        return NaiveDate::from_ymd_opt(
            text[..4].parse().ok()?,
            text[4..6].parse().ok()?,
            text[6..].parse().ok()?,
        );
    }
    if text.chars().any(char::is_alphabetic) {
        return date_in_words(text);
    }
    let (a, b, c) = numbers(text)?;
    if a > 31 {
        return NaiveDate::from_ymd_opt(year(a)?, b, c);
    }
    if order == DateOrder::YearFirst && c <= 31 {
        return NaiveDate::from_ymd_opt(year(a)?, b, c);
    }
    // Points are written where the day comes first.
    let month_first = order == DateOrder::MonthFirst && !text.contains('.');
    let (day, month) = if month_first { (b, a) } else { (a, b) };
    NaiveDate::from_ymd_opt(year(c)?, month, day)
}

/// Two digits are a year of this century.
fn year(written: u32) -> Option<i32> {
    let year = i32::try_from(written).ok()?;
    Some(if year < 100 { year + 2000 } else { year })
}

/// `03-Mai-2025`, `3. May 2025`, `May 03, 2025`: the year stands last.
fn date_in_words(text: &str) -> Option<NaiveDate> {
    let mut parts = text
        .split(['-', '/', '.', ' ', ','])
        .filter(|p| !p.is_empty());
    let (a, b, c) = (parts.next()?, parts.next()?, parts.next()?);
    if parts.next().is_some() {
        return None;
    }
    let (day, name) = if a.bytes().all(|b| b.is_ascii_digit()) {
        (a, b)
    } else {
        (b, a)
    };
    NaiveDate::from_ymd_opt(
        year(c.parse().ok()?)?,
        crate::season::month(name)?,
        day.parse().ok()?,
    )
}

pub(super) fn numbers(text: &str) -> Option<(u32, u32, u32)> {
    let mut parts = text
        .split(['-', '/', '.'])
        .map(|p| p.trim().parse::<u32>().ok());
    let all = (parts.next()??, parts.next()??, parts.next()??);
    parts.next().is_none().then_some(all)
}

/// s since midnight of `101200.5`: hours, minutes and seconds as one number.
pub(super) fn packed(x: f64) -> Option<f64> {
    let (hours, minutes, seconds) = (
        (x / 10_000.0).floor(),
        (x / 100.0).floor().rem_euclid(100.0),
        x.rem_euclid(100.0),
    );
    let fits = (0.0..24.0).contains(&hours) && minutes < 60.0 && seconds < 60.0;
    fits.then_some(3600.0 * hours + 60.0 * minutes + seconds)
}

/// A stamp from days since 30 December 1899, as spreadsheets count them (ISO/IEC 29500-1, 18.17.4.1,
/// from memory: day 1 is 1 January 1900, and the day 29 February 1900 that never was counts).
pub(super) fn spreadsheet(days: f64) -> Option<Stamp> {
    let zero = NaiveDate::from_ymd_opt(1899, 12, 30)?;
    let date = zero.checked_add_signed(chrono::TimeDelta::try_days(days.floor() as i64)?)?;
    Some(Stamp {
        date: Some(date),
        // Stamps of loggers are no finer than the milliseconds that eight decimals carry.
        seconds: ((days - days.floor()) * 86_400e3).round() / 1e3,
        offset: None,
    })
}
