//! How a time column writes its stamps: as text, as hours, minutes and seconds in one number, as days
//! of a spreadsheet, in whole minutes.

use super::log::Channel;
use super::overrule::Line;
use super::rising::steps_fit;
use super::stamp;
use super::table::Table;
use crate::season::Finding;

const DAY_S: f64 = 86_400.0;
/// 2000 to 2100, in days since 30 December 1899.
const SPREADSHEET_DAYS: (f64, f64) = (36_526.0, 73_051.0);
/// Rows of one stamp of two parts from which it is one of hours and minutes: no logger writes so many
/// in a second (common practice, no source).
const ROWS_OF_A_MINUTE: usize = 100;

/// What a cell of the time column holds where it is a stamp.
#[derive(Debug, Clone, Copy, Default, PartialEq, Eq)]
pub(super) enum Written {
    #[default]
    Text,
    /// `101200.5`: hours, minutes, seconds.
    Packed,
    /// `45780.425`: days, as spreadsheets count them.
    Days,
}

impl Written {
    /// That numbers were taken for stamps.
    pub fn told(self, table: &Table, column: usize) -> Finding {
        let name = table.column_name(column);
        let line = Line::of(table, Channel::Time, column).unit("s").text();
        let what = match self {
            Self::Days => "days since 1900, as spreadsheets count them",
            Self::Packed | Self::Text => {
                "hours, minutes and seconds in one (hhmmss): no seconds reach 60"
            }
        };
        let to_do = format!("If that is wrong, put the unit into the channel map: {line}.");
        let what = format!("'{name}': its numbers were read as {what}");
        Finding::note("time-unit-assumed", what, to_do)
            .overruled_by(line)
            .in_file(&table.file)
    }
}

/// Whether numbers of a time column without a unit are stamps. Hours, minutes and seconds run
/// together show no part above 59 though they pass through whole minutes; days since 1900 rise by
/// the steps of loggers.
pub(super) fn numbers_as_stamps(table: &Table, column: usize) -> Option<Written> {
    let values: Vec<f64> = (0..table.rows.len())
        .filter_map(|row| table.raw(row, column).number())
        .collect();
    let (low, high) = values
        .iter()
        .fold((f64::INFINITY, f64::NEG_INFINITY), |(low, high), x| {
            (low.min(*x), high.max(*x))
        });
    let seconds: Vec<f64> = values.iter().map(|x| x * DAY_S).collect();
    if low >= SPREADSHEET_DAYS.0
        && high < SPREADSHEET_DAYS.1
        && values.iter().any(|x| x.fract() != 0.0)
        && high - low < 1.0
        && steps_fit(&seconds, 1.0)
    {
        return Some(Written::Days);
    }
    let late = values.iter().any(|x| x.rem_euclid(100.0) >= 55.0);
    let packed = values.iter().all(|x| stamp::packed(*x).is_some());
    (packed && late && high - low >= 100.0).then_some(Written::Packed)
}

/// Whether stamps of two parts are hours and minutes.
pub(super) fn in_minutes(table: &Table, column: usize) -> bool {
    let (mut rows, mut most) = (0, 0);
    let mut last = "";
    for (row, kept) in table.rows.iter().enumerate() {
        let text = table.text(row, column).trim();
        if text.matches(':').count() != 1 || text.contains(['-', '/', '.', ',']) {
            return false;
        }
        // The kept rows of a long file lie apart.
        let first = row == 0 || text != last;
        let line = kept.line as usize;
        rows = if first { line } else { rows };
        most = most.max(line - rows);
        last = text;
    }
    most >= ROWS_OF_A_MINUTE
}
