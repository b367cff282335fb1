//! In which order a column of dates writes day, month and year.

use chrono::{Datelike, NaiveDate};

use super::stamp::{self, DateOrder, date, numbers};
use crate::season::Finding;

/// A date in each order of [`DateOrder::ALL`].
type Readings = [Option<NaiveDate>; 3];

struct First {
    text: String,
    parts: (u32, u32, u32),
    readings: Readings,
}

/// What dates seen one after the other tell of the order of day, month and year.
///
/// A part that can be no day or no month rules orders out. Where several are left, the part that
/// alone changes is the day, and so is the one that makes every change of date one of a single day.
#[derive(Default)]
pub(super) struct Dates {
    /// As in [`DateOrder::ALL`].
    ruled_out: [bool; 3],
    /// The first date that may be read in several ways, and so read.
    first: Option<First>,
    last: Readings,
    /// Parts that did not stay as they were.
    varies: [bool; 3],
    /// Readings under which a change of date was not one of a single day.
    leaps: [bool; 3],
    /// A date was seen that means another day in another order.
    matters: bool,
}

impl Dates {
    pub fn add(&mut self, text: &str) {
        let day = text.split([' ', 'T', '_']).next().unwrap_or_default();
        let Some((a, b, c)) = numbers(day) else {
            return;
        };
        if a > 99 || day.contains('.') {
            return;
        }
        let readings = DateOrder::ALL.map(|(_, order)| {
            let possible = match order {
                DateOrder::YearFirst => c <= 31,
                DateOrder::DayFirst | DateOrder::MonthFirst => a <= 31,
            };
            date(day, order).filter(|_| possible)
        });
        let ruled_out: [bool; 3] =
            std::array::from_fn(|i| self.ruled_out[i] || readings[i].is_none());
        // A date that fits none of the others is a slip.
        if ruled_out == [true; 3] {
            return;
        }
        self.ruled_out = ruled_out;
        let mut left = (0..3).filter(|&i| !ruled_out[i]).map(|i| readings[i]);
        let one = left.next();
        self.matters |= left.any(|other| Some(other) != one);
        let was = self
            .first
            .get_or_insert_with(|| First {
                text: day.to_owned(),
                parts: (a, b, c),
                readings,
            })
            .parts;
        self.varies[0] |= was.0 != a;
        self.varies[1] |= was.1 != b;
        self.varies[2] |= was.2 != c;
        for (i, now) in readings.into_iter().enumerate() {
            if let (Some(now), Some(before)) = (now, self.last[i]) {
                self.leaps[i] |= now != before && (now - before).num_days().abs() != 1;
            }
            self.last[i] = now.or(self.last[i]);
        }
    }

    /// More dates could decide.
    pub fn is_open(&self) -> bool {
        self.order().is_none()
    }

    /// `None` where the dates allow several orders and it matters.
    pub fn order(&self) -> Option<DateOrder> {
        let left = || (0..3).filter(|&i| !self.ruled_out[i]);
        let order = |i: usize| DateOrder::ALL.get(i).map(|(_, order)| *order);
        if !self.matters || left().count() == 1 {
            return left().next().and_then(order);
        }
        let changes = self.varies.iter().filter(|v| **v).count();
        if changes == 0 {
            return None;
        }
        let mut daily = left().filter(|&i| !self.leaps[i]);
        if let (Some(only), None) = (daily.next(), daily.next()) {
            return order(only);
        }
        let day = self.varies.iter().position(|v| *v)?;
        (changes == 1 && !self.ruled_out[day])
            .then(|| order(day))
            .flatten()
    }

    /// The likeliest order where none is certain, the others that are possible, and a date.
    pub fn guess(&self) -> (DateOrder, Vec<DateOrder>, Option<&str>) {
        let mut left: Vec<DateOrder> = (0..3)
            .filter(|&i| !self.ruled_out[i])
            .filter_map(|i| DateOrder::ALL.get(i).map(|(_, order)| *order))
            .collect();
        // Electric jets of today are younger than that (common practice, no source); parts joined by
        // hyphens mostly begin with the year.
        let year_is_first = self.first.as_ref().is_some_and(
            |First {
                 text,
                 readings: [day, month, year],
                 ..
             }| {
                let old = |date: &Option<NaiveDate>| date.is_none_or(|d| d.year() < 2010);
                !old(year) && (text.contains('-') || (old(day) && old(month)))
            },
        );
        if year_is_first && let Some(at) = left.iter().position(|o| *o == DateOrder::YearFirst) {
            let year = left.remove(at);
            left.insert(0, year);
        }
        let taken = left.first().copied().unwrap_or(DateOrder::DayFirst);
        left.retain(|order| *order != taken);
        let text = self.first.as_ref().map(|first| first.text.as_str());
        (taken, left, text)
    }
}

pub(super) fn date_order_assumed(seen: &Dates) -> Finding {
    let (taken, others, text) = seen.guess();
    let text = text.unwrap_or_default();
    let line = |order: &DateOrder| format!("dates = \"{}\"", order.word());
    let lines: Vec<String> = others.iter().map(line).collect();
    let read = |order| stamp::date(text, order).map_or_else(String::new, |d| d.to_string());
    let other: Vec<String> = others.iter().map(|o| read(*o)).collect();
    let finding = Finding::warning(
        "date-order-assumed",
        format!(
            "the parts of dates such as '{text}' could stand in another order: {} was read ({}), it \
             could be {}",
            read(taken),
            taken.word(),
            other.join(" or ")
        ),
        format!(
            "Write dates as 2025-04-12, or say under [[logs]]: {}.",
            lines.join(" or ")
        ),
    );
    match lines.into_iter().next() {
        Some(line) => finding.overruled_by(line),
        None => finding,
    }
}

/// The date that a cell holds, day first where it could be several.
pub(super) fn date_of(text: &str) -> Option<NaiveDate> {
    DateOrder::ALL
        .iter()
        .find_map(|(_, order)| stamp::date(text, *order))
}
