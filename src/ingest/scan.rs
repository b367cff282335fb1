//! A table too long to be kept: a sample of its rows, and a way to go through all of them again.

use csv::StringRecord;

use super::ledger::FileLedger;
use super::table::{AsideRow, Table};
use crate::season::Finding;

/// Hands over a row of the table: its line and its cells.
pub(super) type TakeRow<'t> = &'t mut dyn FnMut(u32, &StringRecord);

/// What of a table stays in memory.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Keep {
    /// Every row, and every record set aside.
    All,
    /// About so many rows, evenly spread.
    Sample(usize),
}

impl Keep {
    /// One row in so many is kept.
    pub fn step(self, rows: usize) -> usize {
        match self {
            Self::All => 1,
            Self::Sample(most) => rows.div_ceil(most.max(1)).max(1),
        }
    }
}

/// What going through a file once showed.
pub(super) struct Scan<'a> {
    /// Header, dialect and a sample of the rows (all of them where the file is short).
    pub table: Table,
    /// Rows used.
    pub rows: usize,
    pub ledger: FileLedger,
    /// What the ledger counts as set aside; empty where a sample is kept.
    pub aside: Vec<AsideRow>,
    pub findings: Vec<Finding>,
    /// Goes through the rows used, in file order.
    pub each: Box<dyn Fn(TakeRow<'_>) + 'a>,
}

/// Texts of one column, end to end.
#[derive(Default)]
pub(super) struct Texts {
    text: String,
    ends: Vec<usize>,
}

impl Texts {
    pub fn push(&mut self, text: &str) {
        self.text.push_str(text);
        self.ends.push(self.text.len());
    }

    pub fn len(&self) -> usize {
        self.ends.len()
    }

    /// Empty outside the column.
    pub fn get(&self, row: usize) -> &str {
        let start = match row.checked_sub(1) {
            Some(before) => self.ends.get(before).copied().unwrap_or_default(),
            None => 0,
        };
        let end = self.ends.get(row).copied().unwrap_or(start);
        self.text.get(start..end).unwrap_or_default()
    }

    pub fn iter(&self) -> impl Iterator<Item = &str> {
        (0..self.len()).map(|row| self.get(row))
    }
}
