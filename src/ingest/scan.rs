//! A table too long to be kept: a sample of its rows, and a way to go through all of them again.

use std::io;

use csv::StringRecord;

use super::ledger::FileLedger;
use super::plain::PlainRows;
use super::table::Table;
use crate::season::Finding;

/// A record of the table as a pass comes by it.
#[derive(Debug, Clone, Copy)]
pub struct Passed<'r> {
    /// 1-based line of the file on which it starts.
    pub line: u32,
    /// As many as the header has; of a record set aside as many as it has itself.
    pub cells: &'r StringRecord,
    /// Code of the ledger's reason where it was set aside.
    pub aside: Option<&'static str>,
}

/// Takes the records of a pass.
pub type Take<'t> = &'t mut dyn FnMut(Passed<'_>);

/// How many rows of a table stay in memory.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Keep {
    All,
    /// About so many, evenly spread.
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

/// Goes through a file from its start.
pub(super) type Each<'a> = Box<dyn Fn(Take<'_>) -> io::Result<()> + 'a>;

/// What going through a file once showed.
pub struct Scan<'a> {
    /// Header, dialect and a sample of the rows (all of them where the file is short).
    pub table: Table,
    /// Rows used.
    pub rows: usize,
    /// Lines of the rows used before which the header stands again.
    pub restart_lines: Vec<u32>,
    pub ledger: FileLedger,
    pub findings: Vec<Finding>,
    pub(super) each: Each<'a>,
    /// The rows used, where the text is an ordinary one.
    pub(super) plain: Option<PlainRows<'a>>,
}

impl Scan<'_> {
    /// Goes through the records once more, in file order.
    pub fn each(&self, take: Take<'_>) -> io::Result<()> {
        (self.each)(take)
    }
}

/// The finding of a file that cannot be read from end to end.
pub(super) fn unreadable(file: &str, error: &io::Error) -> Finding {
    Finding::error(
        "unreadable-file",
        format!("the file could not be read: {error}"),
        "Check that it is there, that you may read it, and that nothing writes to it.",
    )
    .in_file(file)
}
