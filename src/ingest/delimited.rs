//! Delimited text to a [`Table`] and its ledger.
//!
//! *Data-like* records have the common width and at least a third of their filled cells are
//! numbers or time stamps. The header is the nearest record of text above the first of them; where
//! that record consists of units, it is the row of units and the header stands above it. A file
//! without data-like records (a table of words) has its first record of the common width as
//! header. Whatever follows the header is a row, used or set aside, except blank lines, comments
//! and repetitions of the header.

use csv::StringRecord;

use super::dialect::{self, Record, common_width};
use super::encoding::{self, Decoded};
use super::header;
use super::ledger::FileLedger;
use super::table::{HeaderCell, Table, TableRead, TableRow};
use crate::season::Finding;

/// Reads any delimited text; never fails.
pub fn read_table(bytes: &[u8], file: &str) -> TableRead {
    let mut findings = Vec::new();
    let nothing = |findings| TableRead {
        table: None,
        ledger: FileLedger::new(file),
        findings,
    };
    let decoded = encoding::decode(bytes);
    if decoded.text.chars().all(|c| c.is_whitespace() || c == '\0') {
        findings.push(
            Finding::error(
                "empty-file",
                "the file is empty",
                "Check the logger's card, or take the file out of the season.",
            )
            .in_file(file),
        );
        return nothing(findings);
    }
    if decoded.binary {
        findings.push(
            Finding::error(
                "not-text",
                "the file is no text: it looks like binary data",
                "Export the log as delimited text (CSV) or GPX from the logger's own program.",
            )
            .in_file(file)
            .expected("delimited text"),
        );
        return nothing(findings);
    }
    encoding_findings(&decoded, file, &mut findings);

    let text = decoded.text.as_ref();
    let (mut dialect, start) = dialect::detect(text);
    dialect.encoding = decoded.encoding.to_owned();
    dialect.bom = decoded.bom;
    let mut records = dialect::records(text, start, &dialect);
    if dialect.quotes && dialect::runaway_quote(&records) {
        dialect.quotes = false;
        records = dialect::records(text, start, &dialect);
    }
    if !dialect.quotes {
        findings.push(
            Finding::warning(
                "unclosed-quote",
                "a quote was opened and never closed; quotes were read as plain characters",
                "Close the quote, or take it out.",
            )
            .in_file(file),
        );
    }
    let delimiter = dialect.delimiter as u8;
    records.retain(|r| !r.is_blank() && !r.cells.as_slice().chars().all(|c| c == '\0'));
    let layout = Layout::of(&records, delimiter);
    dialect.preamble = records[..layout.header.unwrap_or(layout.first)]
        .iter()
        .map(|r| (r.line, join(r, dialect.delimiter)))
        .collect();
    dialect.header_line = layout.header.map(|i| records[i].line);
    dialect.unit_line = layout.units.map(|i| records[i].line);
    if layout.header.is_none() {
        findings.push(
            Finding::warning(
                "no-header",
                "the file has no header row",
                "Name its columns by number in a channel map, e.g. throttle = \"#2\".",
            )
            .in_file(file),
        );
    }
    let header = header_cells(&records, &layout);
    let unended = !text.ends_with(['\n', '\r']);
    let mut sorter = Sorter {
        ledger: FileLedger::new(file),
        rows: Vec::new(),
        restarts: Vec::new(),
        width: header.len(),
        layout: &layout,
        records: &records,
        delimiter,
        other_header: None,
    };
    for index in layout.first..records.len() {
        sorter.sort(index, unended && index + 1 == records.len());
    }
    let Sorter {
        ledger,
        rows,
        restarts,
        other_header,
        ..
    } = sorter;
    if let Some(line) = other_header {
        findings.push(
            Finding::warning(
                "header-changed",
                "the header changes in mid-file; the rows under the other header were set aside",
                "Split the file at this line and read both parts.",
            )
            .at(file, line, None),
        );
    }
    for reason in &ledger.reasons {
        findings.push(
            Finding::warning(
                &reason.code,
                format!("{} row(s) set aside: {}", reason.count, reason.what),
                "Look at the line named; if the rows matter, mend them.",
            )
            .at(file, reason.first_line as u32, None),
        );
    }
    if rows.is_empty() {
        findings.push(
            Finding::error(
                "no-rows",
                "the file has no usable data row",
                "Check the logger's card, or take the file out of the season.",
            )
            .in_file(file),
        );
    }
    TableRead {
        table: Some(Table {
            file: file.to_owned(),
            header,
            rows: rows
                .into_iter()
                .map(|(line, cells)| TableRow { line, cells })
                .collect(),
            restarts,
            dialect,
        }),
        ledger,
        findings,
    }
}

fn encoding_findings(decoded: &Decoded<'_>, file: &str, findings: &mut Vec<Finding>) {
    if decoded.damaged > 0 {
        findings.push(
            Finding::warning(
                "damaged-text",
                format!(
                    "{} byte sequence(s) are no {}",
                    decoded.damaged, decoded.encoding
                ),
                "Copy the file from the card again.",
            )
            .in_file(file),
        );
    }
    if decoded.nul_bytes > 0 {
        findings.push(
            Finding::warning(
                "nul-bytes",
                format!(
                    "{} NUL bytes, as a loss of power leaves them",
                    decoded.nul_bytes
                ),
                "Copy the file from the card again; what they replaced is lost.",
            )
            .in_file(file),
        );
    }
}

fn join(record: &Record, delimiter: char) -> String {
    let cells: Vec<&str> = record.cells.iter().collect();
    cells
        .join(&delimiter.to_string())
        .trim_end_matches(delimiter)
        .to_owned()
}

/// Where things stand in the list of records (blank ones left out).
struct Layout {
    header: Option<usize>,
    units: Option<usize>,
    /// First record after header and units.
    first: usize,
    /// Common width of the data.
    width: usize,
    /// A table of numbers (else of words).
    numeric: bool,
}

impl Layout {
    /// Records looked at: the layout shows at the top, long logs need not be judged twice.
    const HEAD: usize = 2000;

    fn of(records: &[Record], delimiter: u8) -> Self {
        let records = &records[..records.len().min(Self::HEAD)];
        let data: Vec<usize> = (0..records.len())
            .filter(|&i| !records[i].is_comment(delimiter) && mostly_values(&records[i]))
            .collect();
        let width_of_all = common_width(
            records
                .iter()
                .filter(|r| !r.is_comment(delimiter))
                .map(|r| r.cells.len()),
        );
        let Some(width) = common_width(data.iter().map(|&i| records[i].cells.len())) else {
            return Self::of_words(records, delimiter, width_of_all.unwrap_or(1));
        };
        let mut filled: Vec<usize> = data.iter().map(|&i| records[i].filled()).collect();
        filled.sort_unstable();
        let usual = filled[filled.len() / 2];
        let fits = |r: &Record| r.cells.len() == width && r.filled() * 5 >= usual * 2;
        let Some(first) = data.iter().copied().find(|&i| fits(&records[i])) else {
            return Self::of_words(records, delimiter, width_of_all.unwrap_or(1));
        };
        let is_header = |i: usize| {
            let r = &records[i];
            r.cells.len() + 1 >= width && r.filled() * 2 >= usual && r.values() * 5 <= r.filled()
        };
        let above = (0..first).rev().take(4);
        let nearest = |comments: bool| {
            above
                .clone()
                .find(|&i| records[i].is_comment(delimiter) == comments && is_header(i))
        };
        let (mut header, mut units) = (nearest(false).or_else(|| nearest(true)), None);
        if let Some(at) = header.filter(|&at| at > 0 && is_unit_row(&records[at])) {
            let name_row = at - 1;
            if is_header(name_row) && !is_unit_row(&records[name_row]) {
                units = Some(at);
                header = Some(name_row);
            }
        }
        Self {
            header,
            units,
            first: units.or(header).map_or(first, |at| at + 1),
            width,
            numeric: true,
        }
    }

    fn of_words(records: &[Record], delimiter: u8, width: usize) -> Self {
        let header = records
            .iter()
            .position(|r| r.cells.len() == width && !r.is_comment(delimiter));
        Self {
            header,
            units: None,
            first: header.map_or(0, |at| at + 1),
            width,
            numeric: false,
        }
    }
}

fn mostly_values(record: &Record) -> bool {
    let values = record.values();
    values > 0 && values * 3 >= record.filled()
}

fn is_unit_row(record: &Record) -> bool {
    let units = record
        .cells
        .iter()
        .filter(|c| header::is_unit(c.trim_matches(['(', ')', '[', ']', ' ', '#'])))
        .count();
    units > 0 && units * 5 >= record.filled() * 3
}

fn header_cells(records: &[Record], layout: &Layout) -> Vec<HeaderCell> {
    let text_at = |row: Option<usize>, column: usize| {
        row.and_then(|i| records[i].cells.get(column))
            .unwrap_or_default()
            .trim()
    };
    // A column without header and without any value is but a trailing delimiter.
    let written = layout.header.map_or(0, |i| records[i].width_filled());
    let width = if layout.numeric {
        let rows = records[layout.first..].iter();
        rows.filter(|r| r.cells.len() == layout.width)
            .map(Record::width_filled)
            .fold(written, usize::max)
    } else {
        layout.width
    };
    (0..width)
        .map(|column| {
            let mut text = text_at(layout.header, column);
            if column == 0 {
                text = text.trim_start_matches(['#', '/', '%', ';', ' ']);
            }
            let unit = text_at(layout.units, column).trim_matches(['(', ')', '[', ']', ' ']);
            header::parse(text, Some(unit).filter(|u| !u.is_empty()))
        })
        .collect()
}

/// Sorts records into rows used and rows set aside.
struct Sorter<'a> {
    ledger: FileLedger,
    rows: Vec<(u32, StringRecord)>,
    restarts: Vec<usize>,
    width: usize,
    layout: &'a Layout,
    records: &'a [Record],
    delimiter: u8,
    /// Line of a header that differs from the first, while its rows last.
    other_header: Option<u32>,
}

impl Sorter<'_> {
    fn sort(&mut self, index: usize, unended: bool) {
        let record = &self.records[index];
        let line = u64::from(record.line);
        if record.is_comment(self.delimiter) {
            return;
        }
        if self.repeats(index, self.layout.header) {
            if self.restarts.last() != Some(&self.rows.len()) && !self.rows.is_empty() {
                self.restarts.push(self.rows.len());
            }
            return;
        }
        if self.repeats(index, self.layout.units) {
            return;
        }
        if record.cells.as_slice().contains('\0') {
            return self
                .ledger
                .set_aside("damaged-row", line, "NUL bytes within the row");
        }
        if self.layout.numeric && self.is_other_header(record) {
            self.other_header.get_or_insert(record.line);
            return self
                .ledger
                .set_aside("header-changed", line, "another header in mid-file");
        }
        if self.other_header.is_some() {
            return self
                .ledger
                .set_aside("header-changed", line, "under another header");
        }
        if record.width_filled() > self.width {
            return self
                .ledger
                .set_aside("long-row", line, "more cells than the header");
        }
        // Without its line end the last row may have lost its tail.
        if unended && (record.cells.len() < self.layout.width || self.last_cell_is_cut(index)) {
            return self
                .ledger
                .set_aside("cut-off-row", line, "the last row was cut off");
        }
        if self.layout.numeric && !record.has_value() {
            return self
                .ledger
                .set_aside("no-number", line, "text without any number");
        }
        if record.cells.len() < self.layout.width.min(self.width) {
            return self
                .ledger
                .set_aside("short-row", line, "fewer cells than the header");
        }
        let mut cells = record.cells.clone();
        if cells.len() != self.width {
            cells.truncate(self.width);
            while cells.len() < self.width {
                cells.push_field("");
            }
        }
        self.rows.push((record.line, cells));
        self.ledger.use_row();
    }

    fn repeats(&self, index: usize, row: Option<usize>) -> bool {
        let Some(row) = row else { return false };
        let filled = |i: usize| {
            self.records[i]
                .cells
                .iter()
                .map(str::trim)
                .filter(|c| !c.is_empty())
        };
        filled(index).eq(filled(row))
    }

    /// Words only, most of them words of the header, but not the header: a logger restarted with
    /// other channels.
    fn is_other_header(&self, record: &Record) -> bool {
        let Some(header) = self.layout.header else {
            return false;
        };
        let header = &self.records[header].cells;
        let filled = record.filled();
        filled >= 2
            && !record.has_value()
            && record
                .cells
                .iter()
                .filter(|c| {
                    let c = c.trim();
                    !c.is_empty() && header.iter().any(|h| h.trim().eq_ignore_ascii_case(c))
                })
                .count()
                * 2
                >= filled
    }

    /// The last cell is shorter than in every one of the twenty rows before it.
    fn last_cell_is_cut(&self, index: usize) -> bool {
        const ROWS: usize = 20;
        if !self.layout.numeric || self.rows.len() < ROWS {
            return false;
        }
        let last = |cells: &StringRecord| cells.iter().next_back().map_or(0, |c| c.trim().len());
        let length = last(&self.records[index].cells);
        self.rows
            .iter()
            .rev()
            .take(ROWS)
            .all(|(_, cells)| last(cells) > length)
    }
}
