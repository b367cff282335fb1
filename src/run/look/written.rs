//! The table as it was read, before channels and units, as RFC 4180 text.
//!
//! Preamble, comments, repeated headers and footer are left out. A record of another width within
//! the table is a record all the same: a short one is filled up with empty cells, a long one keeps
//! its cells. What stands below the last row with less than half of the columns, or as one cell of
//! text, is a footer.

use std::io::{self, Write};

use csv::{QuoteStyle, StringRecord, Terminator, WriterBuilder};

use crate::ingest::{Format, Passed, Source, scan};
use crate::season::{Finding, Severity, TextForm};

/// Why a table was not written.
#[derive(Debug)]
pub enum Unwritten {
    /// The format is that of a track.
    NoTable(Format),
    /// The file holds no table.
    Found(Vec<Finding>),
    Output(io::Error),
}

/// What became of a table that was written.
#[derive(Debug)]
pub struct Written {
    pub findings: Vec<Finding>,
    /// Rows that were left out: why, how many, and the line of the first.
    pub left_out: Vec<(&'static str, usize, u32)>,
}

impl Written {
    /// Some of the file could not be read.
    pub fn is_damaged(&self) -> bool {
        let lost = ["damaged-file", "unreadable-file"];
        self.findings
            .iter()
            .any(|f| lost.contains(&f.code.as_str()))
    }
}

/// The whole table, row by row as the file is read; what reading found.
pub fn as_csv(source: &dyn Source, file: &str, out: &mut dyn Write) -> Result<Written, Unwritten> {
    match Format::of(source) {
        Ok(format @ (Format::Gpx | Format::Igc | Format::Nmea)) => {
            return Err(Unwritten::NoTable(format));
        }
        Ok(Format::Delimited | Format::Parquet | Format::ArrowFile | Format::ArrowStream)
        | Err(_) => {}
    }
    let scan = scan(source, file, TextForm::default()).map_err(Unwritten::Found)?;
    // A header alone is a table without rows.
    let nothing = scan.rows == 0 && scan.table.dialect.header_line.is_none();
    if nothing && scan.findings.iter().any(|f| f.severity == Severity::Error) {
        return Err(Unwritten::Found(scan.findings));
    }
    let mut left_out: Vec<(&'static str, usize, u32)> = Vec::new();
    let mut writer = WriterBuilder::new()
        .terminator(Terminator::CRLF)
        .quote_style(QuoteStyle::Necessary)
        .flexible(true)
        .from_writer(out);
    let header = &scan.table.header;
    let width = header.len();
    let output = |e: csv::Error| Unwritten::Output(e.into());
    // A columnar file has names, but no line of them.
    let named = header.iter().any(|h| !h.written.is_empty());
    if scan.table.dialect.header_line.is_some() || named {
        writer
            .write_record(header.iter().map(|h| h.written.as_str()))
            .map_err(output)?;
    }
    let (mut rows, mut written) = (0, Ok(()));
    let read = scan.each(&mut |passed: Passed<'_>| {
        if written.is_err() {
            return;
        }
        written = match passed.aside {
            None => {
                rows += 1;
                writer.write_record(passed.cells)
            }
            Some(code) if is_record(code, passed.cells, width, rows < scan.rows) => {
                writer.write_record(&padded(passed.cells, width))
            }
            Some(code) => {
                match left_out.iter_mut().find(|(of, ..)| *of == code) {
                    Some((_, count, _)) => *count += 1,
                    None => left_out.push((code, 1, passed.line)),
                }
                Ok(())
            }
        };
    });
    written.map_err(output)?;
    read.map_err(Unwritten::Output)?;
    writer.flush().map_err(Unwritten::Output)?;
    Ok(Written {
        findings: scan.findings,
        left_out,
    })
}

/// Ragged rows and rows of text belong to the table; damaged ones and those of another table do
/// not.
fn is_record(code: &str, cells: &StringRecord, width: usize, rows_follow: bool) -> bool {
    let filled = cells.iter().filter(|c| !c.trim().is_empty()).count();
    let enough = 2 * filled >= width;
    let footer = !rows_follow && !enough;
    match code {
        "short-row" | "long-row" => !footer,
        "no-number" => enough && (rows_follow || filled > 1),
        _ => false,
    }
}

fn padded(cells: &StringRecord, width: usize) -> StringRecord {
    let mut out = cells.clone();
    while out.len() < width {
        out.push_field("");
    }
    out
}
