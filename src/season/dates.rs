//! Dates and times as pilots write them. A column of dates is read in one order throughout.

use chrono::{NaiveDate, NaiveTime};

pub(super) use super::DateOrder as Order;

/// What a text says of a date, before the order is decided.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Written {
    /// The order is plain: ISO, dots, or a month in letters.
    Plain { year: i32, month: u32, day: u32 },
    /// Slashes or hyphens with the year last.
    Open { first: u32, second: u32, year: i32 },
}

const MONTHS: [&[&str]; 12] = [
    &["jan", "jän", "ene", "gen"],
    &["feb", "fév", "fev"],
    &["mar", "mär", "mrz", "maart"],
    &["apr", "avr", "abr"],
    &["may", "mai", "maj", "mag", "mei"],
    &["jun", "juin", "giu"],
    &["jul", "juil", "lug"],
    &["aug", "aoû", "aou", "ago"],
    &["sep", "set"],
    &["oct", "okt", "ott", "out"],
    &["nov"],
    &["dec", "dez", "déc", "dic"],
];

pub(super) const DATE_EXPECTED: &str = "a date such as 2025-04-12, 12.4.2025 or 12 Apr 2025";
pub(super) const TIME_EXPECTED: &str = "a time such as 14:05 or 2:05 pm";

/// The order that a column of dates shows, and whether it was open (both readings possible
/// throughout and different somewhere).
pub(super) fn order<'a>(texts: impl Iterator<Item = &'a str>) -> (Order, bool) {
    let (mut day_first, mut month_first, mut differs) = (0, 0, false);
    for text in texts {
        if let Some(Written::Open { first, second, .. }) = written(text) {
            day_first += usize::from(first > 12 && second <= 12);
            month_first += usize::from(second > 12 && first <= 12);
            differs |= first != second;
        }
    }
    let order = if month_first > day_first {
        Order::MonthFirst
    } else {
        Order::DayFirst
    };
    (order, differs && day_first == 0 && month_first == 0)
}

/// The date in `text`; None where it is none, or a day that does not exist.
pub(super) fn date(text: &str, order: Order) -> Option<NaiveDate> {
    let (year, month, day) = match (written(text)?, order) {
        (Written::Plain { year, month, day }, _) => (year, month, day),
        (
            Written::Open {
                first,
                second,
                year,
            },
            // A logbook's column is never found to begin with a year of two digits.
            Order::DayFirst | Order::YearFirst,
        ) => (year, second, first),
        (
            Written::Open {
                first,
                second,
                year,
            },
            Order::MonthFirst,
        ) => (year, first, second),
    };
    // A year outside this is a slip: the motors concerned did not exist, or do not yet.
    (1990..=2100)
        .contains(&year)
        .then(|| NaiveDate::from_ymd_opt(year, month, day))?
}

fn written(text: &str) -> Option<Written> {
    let text = text.trim();
    let parts: Vec<&str> = text
        .split(['-', '/', '.', ' ', ','])
        .filter(|p| !p.is_empty())
        .collect();
    let [a, b, c] = parts.as_slice() else {
        return None;
    };
    if let Some(month) = month(b) {
        let (day, year) = (a.parse().ok()?, year(c)?);
        return Some(Written::Plain { year, month, day });
    }
    if let Some(month) = month(a) {
        let (day, year) = (b.parse().ok()?, year(c)?);
        return Some(Written::Plain { year, month, day });
    }
    if a.len() == 4 {
        let (year, month, day) = (year(a)?, b.parse().ok()?, c.parse().ok()?);
        return Some(Written::Plain { year, month, day });
    }
    let (first, second, year) = (a.parse().ok()?, b.parse().ok()?, year(c)?);
    // `25-04-12` may begin or end with the year.
    if text.contains('-') && c.len() != 4 {
        return None;
    }
    Some(if text.contains('.') {
        Written::Plain {
            year,
            month: second,
            day: first,
        }
    } else {
        Written::Open {
            first,
            second,
            year,
        }
    })
}

fn year(text: &str) -> Option<i32> {
    let year: i32 = text.parse().ok().filter(|y| *y >= 0)?;
    match text.len() {
        2 => Some(2000 + year),
        4 => Some(year),
        _ => None,
    }
}

/// 1 to 12, by the first letters of the month's name.
pub(crate) fn month(text: &str) -> Option<u32> {
    let text = text.to_lowercase();
    if text.chars().count() < 3 {
        return None;
    }
    let found = MONTHS
        .iter()
        .position(|words| words.iter().any(|word| text.starts_with(word)))?;
    u32::try_from(found + 1).ok()
}

/// The time of day in `text`: `14:05`, `14:05:30`, `14.05`, `2:05 pm`, `14:05 Uhr`.
pub(super) fn time(text: &str) -> Option<NaiveTime> {
    let text = text.trim().trim_end_matches(['Z', 'z']).to_lowercase();
    let (digits, half) = if let Some(rest) = text.strip_suffix("pm") {
        (rest, Some(12))
    } else if let Some(rest) = text.strip_suffix("am") {
        (rest, Some(0))
    } else {
        (text.trim_end_matches("uhr").trim_end_matches('h'), None)
    };
    let mut parts = digits.trim().split([':', '.', 'h']);
    let mut hour: u32 = parts.next()?.trim().parse().ok()?;
    let minute = match parts.next() {
        Some(text) if text.len() == 2 => text.parse().ok()?,
        Some(_) => return None,
        None => half.map(|_| 0)?,
    };
    let second = match parts.next() {
        Some(text) => text.parse().ok()?,
        None => 0,
    };
    if let Some(half) = half {
        hour = (1..=12).contains(&hour).then_some(hour % 12 + half)?;
    }
    NaiveTime::from_hms_opt(hour, minute, second)
}

/// Splits `2025-04-12T14:05` or `12.4.2025 14:05` into the date and, where written, the time.
pub(super) fn split(text: &str) -> (&str, Option<&str>) {
    let text = text.trim();
    let cut = text.find(':').and_then(|colon| {
        let before = text[..colon].trim_end_matches(|c: char| c.is_ascii_digit());
        before.ends_with([' ', 'T', 't']).then(|| before.len() - 1)
    });
    match cut {
        Some(cut) => (text[..cut].trim(), Some(text[cut + 1..].trim())),
        None => (text, None),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_time_is_read_in_the_usual_ways() {
        let at = |h, m, s| NaiveTime::from_hms_opt(h, m, s);
        assert_eq!(time("14:05"), at(14, 5, 0));
        assert_eq!(time("14.05"), at(14, 5, 0));
        assert_eq!(time("2:05 pm"), at(14, 5, 0));
        assert_eq!(time("12 am"), at(0, 0, 0));
        assert_eq!(time("9:05:30 Uhr"), at(9, 5, 30));
        assert_eq!(time("25:00"), None);
        assert_eq!(time("13 pm"), None);
        assert_eq!(time("noon"), None);
    }

    #[test]
    fn date_and_time_in_one_cell_are_split() {
        assert_eq!(
            split("2025-04-12T14:05:10"),
            ("2025-04-12", Some("14:05:10"))
        );
        assert_eq!(split("12.4.2025 9:05"), ("12.4.2025", Some("9:05")));
        assert_eq!(split("12 Apr 2025"), ("12 Apr 2025", None));
        assert_eq!(split("14:05"), ("14:05", None));
    }
}
