//! What holds of every input of a reader; the fuzz example checks the same.

use std::io::{self, Read};

use benchborne::ingest::{ReadOptions, Source, read_log, read_log_from, read_table};

/// What means something to a reader of delimited text.
pub const DELIMITED: &[&str] = &[
    ",",
    ";",
    "\t",
    "|",
    "\"",
    "\n",
    "\r",
    "\r\n",
    "1",
    "2.5",
    "3,5",
    "-",
    ":",
    "#",
    "time",
    "V",
    "\0",
    "°",
    "nan",
    ">",
    " ",
    "  ",
    "e",
    "sep=",
    "12:00:01",
    "2025-04-12",
    "Amps",
    "65535",
];

/// Bytes that come in pieces of a few at a time, whatever is asked for.
pub struct Pieces<'a> {
    pub bytes: &'a [u8],
    pub most: usize,
}

struct Piecewise<'a>(&'a [u8], usize);

impl Read for Piecewise<'_> {
    fn read(&mut self, out: &mut [u8]) -> io::Result<usize> {
        let count = out.len().min(self.1).min(self.0.len());
        out[..count].copy_from_slice(&self.0[..count]);
        self.0 = &self.0[count..];
        Ok(count)
    }
}

impl Source for Pieces<'_> {
    fn open(&self) -> io::Result<Box<dyn Read + '_>> {
        Ok(Box::new(Piecewise(self.bytes, self.most.max(1))))
    }

    fn length(&self) -> io::Result<u64> {
        Ok(self.bytes.len() as u64)
    }
}

/// What reading an input gave.
pub struct Sound {
    pub rows_in: u64,
    pub rows_used: u64,
    pub log: bool,
}

/// Reads bytes as a log and as a table, whole and in pieces of at most `most` bytes; the first thing
/// that is wrong.
pub fn sound(bytes: &[u8], most: usize) -> Result<Sound, String> {
    let options = ReadOptions {
        rate_hz: Some(5.0),
        ..ReadOptions::default()
    };
    let check = |good: bool, what: &str| if good { Ok(()) } else { Err(what.to_owned()) };
    let read = read_log(bytes, "a", &options);
    check(read.ledger.balances(), "the ledger does not balance")?;
    check(
        read.log.is_some() || !read.findings.is_empty(),
        "no log and no reason",
    )?;
    if let Some(log) = &read.log {
        // Several sentences of a receiver make one row.
        check(
            log.len() as u64 <= read.ledger.rows_used,
            "more rows than were used",
        )?;
        check(
            log.time.windows(2).all(|w| w[0] < w[1]),
            "time does not rise",
        )?;
        check(
            log.channels.values().all(|s| s.len() == log.len()),
            "a channel of another length",
        )?;
        check(
            log.breaks.iter().all(|b| *b < log.len()),
            "a break beyond the end",
        )?;
    }
    let table = read_table(bytes, "a");
    check(
        table.ledger.balances(),
        "the table's ledger does not balance",
    )?;
    let rows = table.table.map_or(0, |t| t.rows.len());
    check(
        rows as u64 == table.ledger.rows_used,
        "the table's rows are not those used",
    )?;
    // Absent values are no equals, so that their words are compared.
    let pieces = read_log_from(&Pieces { bytes, most }, "a", &options);
    check(
        format!("{pieces:?}") == format!("{read:?}"),
        "read in pieces it is another log",
    )?;
    Ok(Sound {
        rows_in: read.ledger.rows_in,
        rows_used: read.ledger.rows_used,
        log: read.log.is_some(),
    })
}
