//! Which mark within a column's numbers is the decimal one, where a number such as `21.500` allows
//! both readings.
//!
//! A column *may be grouped* by a mark when every number that shows the mark has exactly three digits
//! after each and one to three before the first (not a zero), and no number without it reaches a
//! thousand. Then, in this order: other columns that write decimals with the other mark say that it
//! groups (sure); a largest value that only one reading makes usual for the channel says which it is
//! (a guess, and sure where short numbers without the mark stand beside, since fixed decimals would
//! show them with it). Without any evidence the file's own marks stay. A channel map overrules.

use serde::{Deserialize, Serialize};

use super::header::number_with_unit;
use super::log::Channel::{self, *};
use super::plausible::{self, Conversion};
use super::table::Table;
use super::words::{self, Purpose};
use crate::season::ChannelMap;
use crate::units::{self, Quantity};

/// The decimal mark of one column; the other one groups thousands.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
pub struct Marks {
    pub decimal: char,
    pub basis: Basis,
}

/// What says so.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum Basis {
    Declared,
    /// Other columns write decimals with it.
    OtherColumns,
    /// The channel's usual size, and short numbers without the mark.
    SizeAndWidth,
    /// The channel's usual size alone.
    Size,
}

impl Marks {
    /// The mark that groups thousands.
    pub fn grouping(self) -> char {
        other(self.decimal)
    }

    pub fn is_guess(self) -> bool {
        self.basis == Basis::Size
    }
}

fn other(mark: char) -> char {
    if mark == '.' { ',' } else { '.' }
}

/// Numbers of a column that may be grouped by a mark.
#[derive(Default)]
struct Grouped {
    marked: usize,
    /// Whole numbers below a thousand.
    short: usize,
    /// Largest size as thousands are counted.
    largest: f64,
}

impl Grouped {
    fn of(table: &Table, column: usize, mark: char) -> Option<Self> {
        let mut out = Self::default();
        for row in 0..table.rows.len() {
            let Some(text) = digits(table.text(row, column)) else {
                continue;
            };
            if text.contains(other(mark)) {
                return None;
            }
            let groups: Vec<&str> = text.split(mark).collect();
            let whole: f64 = groups.concat().parse().ok()?;
            match groups.as_slice() {
                [_] if whole < 1000.0 => out.short += 1,
                [first, rest @ ..]
                    if !rest.is_empty()
                        && (1..=3).contains(&first.len())
                        && !first.starts_with('0')
                        && rest.iter().all(|g| g.len() == 3) =>
                {
                    out.marked += 1;
                }
                _ => return None,
            }
            out.largest = out.largest.max(whole);
        }
        (out.marked > 0).then_some(out)
    }
}

/// The digits and marks of a number without sign, bound and unit; `None` where it is no such number.
fn digits(text: &str) -> Option<&str> {
    let number = number_with_unit(text).map_or(text, |(number, _)| number);
    let number = number.trim_matches([' ', '+', '-', '−', '<', '>', '=', '≤', '≥']);
    let is_number = number.starts_with(|c: char| c.is_ascii_digit())
        && number
            .bytes()
            .all(|b| b.is_ascii_digit() || matches!(b, b'.' | b','));
    is_number.then_some(number)
}

/// The decimal mark that the other columns show beyond doubt.
fn of_others(table: &Table, column: usize) -> Option<char> {
    units::decimal_mark((0..table.rows.len()).flat_map(|row| {
        (0..table.header.len())
            .filter(move |index| *index != column)
            .filter_map(move |index| digits(table.text(row, index)))
    }))
}

/// Between these lies the largest value of a channel that recorded something, in the channel's own
/// unit (common practice, no source); `None` where any size is usual.
fn usual_largest(channel: Channel) -> Option<(f64, f64)> {
    Some(match channel {
        Voltage => (2.0, 130.0),
        Current => (0.5, 600.0),
        Power => (20.0, 30e3),
        Charge => (36.0, 360e3),
        // 500 rpm to 150,000.
        AngularSpeed => (52.0, 16e3),
        Thrust => (0.3, 2000.0),
        ExhaustSpeed | GroundSpeed | Airspeed => (2.0, 200.0),
        ControllerTemperature | MotorTemperature | PackTemperature => (240.0, 520.0),
        AirTemperature => (240.0, 340.0),
        Pressure => (40e3, 115e3),
        Latitude => (0.0, 90.0),
        Longitude => (0.0, 360.0),
        Height => (0.0, 6000.0),
        _ => return None,
    })
}

/// Whether a largest raw value is usual for a channel in the unit written, or in any that is tried.
pub(super) fn is_usual(channel: Channel, unit: Option<&str>, largest: f64) -> Option<bool> {
    if channel == Throttle {
        let pulse = unit.is_some_and(|u| units::find(u, Quantity::Time).is_some());
        return Some((700.0..=2400.0).contains(&largest) || (!pulse && largest <= 1.02));
    }
    usual_largest(channel)?;
    let fits = |unit: &str| {
        plausible::conversion(channel, unit)
            .is_some_and(|by| is_usual_in(channel, by, largest) == Some(true))
    };
    match unit.filter(|u| plausible::conversion(channel, u).is_some()) {
        Some(unit) => Some(fits(unit)),
        None => Some(plausible::candidates(channel).iter().any(|u| fits(u))),
    }
}

/// The same under a conversion.
pub(super) fn is_usual_in(channel: Channel, by: Conversion, largest: f64) -> Option<bool> {
    let (low, high) = usual_largest(channel)?;
    Some((low..=high).contains(&(largest * by.factor + by.offset)))
}

impl Table {
    /// Decides the marks of each column that may be grouped.
    pub(super) fn find_marks(&mut self) {
        for column in 0..self.header.len() {
            let of_file = if self.dialect.decimal_comma { ',' } else { '.' };
            let found = ['.', ',']
                .into_iter()
                .filter(|mark| self.dialect.thousands != Some(*mark))
                .find_map(|mark| Some((mark, Grouped::of(self, column, mark)?)));
            self.header[column].marks = found.and_then(|(mark, grouped)| {
                let marks = self.judge(column, mark, &grouped)?;
                // Decimals behind the file's own decimal mark need no word.
                (marks.decimal != mark || mark != of_file).then_some(marks)
            });
        }
    }

    fn judge(&self, column: usize, mark: char, grouped: &Grouped) -> Option<Marks> {
        let header = &self.header[column];
        let of = |purpose| words::recognise(&header.name, header.unit.as_deref(), purpose);
        let meaning = of(Purpose::Log).or_else(|| of(Purpose::Bench));
        let usual = |largest: f64| {
            let meaning = meaning?;
            let unit = header.unit.as_deref().or(meaning.unit);
            is_usual(meaning.channel, unit, largest)
        };
        let (as_thousands, as_decimals) = (usual(grouped.largest), usual(grouped.largest / 1e3));
        let marks = |decimal, basis| Some(Marks { decimal, basis });
        if of_others(self, column) == Some(other(mark)) {
            return if (as_thousands, as_decimals) == (Some(false), Some(true)) {
                marks(mark, Basis::Size)
            } else {
                marks(other(mark), Basis::OtherColumns)
            };
        }
        match (as_thousands, as_decimals) {
            (Some(true), Some(false)) if grouped.short > 0 && grouped.marked > 1 => {
                marks(other(mark), Basis::SizeAndWidth)
            }
            (Some(true), Some(false)) => marks(other(mark), Basis::Size),
            (Some(false), Some(true)) => marks(mark, Basis::Size),
            _ => None,
        }
    }

    /// Takes the decimal marks that the season declares.
    pub fn declare_marks(&mut self, map: &ChannelMap) {
        for decl in map.values() {
            if let (Some(decimal), Some(column)) = (decl.decimal, self.find_column(&decl.column)) {
                self.header[column].marks = Some(Marks {
                    decimal,
                    basis: Basis::Declared,
                });
            }
        }
    }
}
