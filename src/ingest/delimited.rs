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
    let cells = |row: Option<usize>| row.map(|i| records[i].cells.clone());
    let mut sorter = Sorter {
        ledger: FileLedger::new(file),
        rows: Vec::with_capacity(records.len()),
        restarts: Vec::new(),
        width: header.len(),
        header: cells(layout.header),
        units: cells(layout.units),
        layout,
        delimiter,
        other_header: None,
        under_other_header: false,
    };
    let first = sorter.layout.first;
    let mut rest = records.into_iter().skip(first).peekable();
    while let Some(record) = rest.next() {
        sorter.sort(record, unended && rest.peek().is_none());
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
            rows,
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
struct Sorter {
    ledger: FileLedger,
    rows: Vec<TableRow>,
    restarts: Vec<usize>,
    width: usize,
    header: Option<StringRecord>,
    units: Option<StringRecord>,
    layout: Layout,
    delimiter: u8,
    /// Line of the first header that differs from the first one.
    other_header: Option<u32>,
    under_other_header: bool,
}

impl Sorter {
    fn sort(&mut self, record: Record, unended: bool) {
        if record.is_comment(self.delimiter) || repeats(&record, self.units.as_ref()) {
            return;
        }
        if repeats(&record, self.header.as_ref()) {
            self.under_other_header = false;
            if self.restarts.last() != Some(&self.rows.len()) && !self.rows.is_empty() {
                self.restarts.push(self.rows.len());
            }
            return;
        }
        if let Some((code, what)) = self.fault(&record, unended) {
            return self.ledger.set_aside(code, u64::from(record.line), what);
        }
        let Record { line, mut cells } = record;
        if cells.len() != self.width {
            cells.truncate(self.width);
            while cells.len() < self.width {
                cells.push_field("");
            }
        }
        self.rows.push(TableRow { line, cells });
        self.ledger.use_row();
    }

    /// Why a record is no row to use: code and words.
    fn fault(&mut self, record: &Record, unended: bool) -> Option<(&'static str, &'static str)> {
        if record.cells.as_slice().contains('\0') {
            return Some(("damaged-row", "NUL bytes within the row"));
        }
        let has_value = !self.layout.numeric || record.has_value();
        if !has_value && self.is_other_header(record) {
            self.other_header.get_or_insert(record.line);
            self.under_other_header = true;
            return Some(("header-changed", "another header in mid-file"));
        }
        if self.under_other_header {
            return Some(("header-changed", "under another header"));
        }
        if record.width_filled() > self.width {
            return Some(("long-row", "more cells than the header"));
        }
        // Without its line end the last row may have lost its tail.
        if unended && (record.cells.len() < self.layout.width || self.last_cell_is_cut(record)) {
            return Some(("cut-off-row", "the last row was cut off"));
        }
        if !has_value {
            return Some(("no-number", "text without any number"));
        }
        if record.cells.len() < self.layout.width.min(self.width) {
            return Some(("short-row", "fewer cells than the header"));
        }
        None
    }

    /// Words only, most of them words of the header, but not the header: a logger restarted with
    /// other channels.
    fn is_other_header(&self, record: &Record) -> bool {
        let Some(header) = &self.header else {
            return false;
        };
        let known = |cell: &&str| {
            !cell.is_empty() && header.iter().any(|h| h.trim().eq_ignore_ascii_case(cell))
        };
        let filled = record.filled();
        filled >= 2 && record.cells.iter().map(str::trim).filter(known).count() * 2 >= filled
    }

    /// The last cell is shorter than in every one of the twenty rows before it.
    fn last_cell_is_cut(&self, record: &Record) -> bool {
        const ROWS: usize = 20;
        if !self.layout.numeric || self.rows.len() < ROWS {
            return false;
        }
        let last = |cells: &StringRecord| cells.iter().next_back().map_or(0, |c| c.trim().len());
        let length = last(&record.cells);
        let mut before = self.rows.iter().rev().take(ROWS);
        before.all(|row| last(&row.cells) > length)
    }
}

fn repeats(record: &Record, row: Option<&StringRecord>) -> bool {
    fn filled(cells: &StringRecord) -> impl Iterator<Item = &str> {
        cells.iter().map(str::trim).filter(|c| !c.is_empty())
    }
    row.is_some_and(|row| filled(&record.cells).eq(filled(row)))
}
