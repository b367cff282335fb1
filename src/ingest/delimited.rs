//! Delimited text to a [`Table`] and its ledger.
//!
//! Whatever follows the header ([`super::layout`]) is a row, used or set aside, except blank lines,
//! comments and repetitions of the header.

use csv::StringRecord;

use super::dialect::{self, Record};
use super::encoding::{self, Decoded};
use super::layout::Layout;
use super::ledger::FileLedger;
use super::table::{AsideRow, Table, TableRead, TableRow};
use crate::season::Finding;

/// Reads any delimited text; never fails.
pub fn read_table(bytes: &[u8], file: &str) -> TableRead {
    let mut findings = Vec::new();
    let nothing = |findings| TableRead {
        table: None,
        ledger: FileLedger::new(file),
        aside: Vec::new(),
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
        findings.push(no_header(&records, &layout, delimiter, file));
    }
    let header = layout.header_cells(&records);
    let unended = !text.ends_with(['\n', '\r']);
    let cells = |row: Option<usize>| row.map(|i| records[i].cells.clone());
    let mut sorter = Sorter {
        ledger: FileLedger::new(file),
        rows: Vec::with_capacity(records.len()),
        aside: Vec::new(),
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
        aside,
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
    let mut table = Table {
        file: file.to_owned(),
        header,
        rows,
        restarts,
        dialect,
    };
    table.find_units_in_cells();
    TableRead {
        table: Some(table),
        ledger,
        aside,
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

/// No header row; a row of words with too few cells hints at why.
fn no_header(records: &[Record], layout: &Layout, delimiter: u8, file: &str) -> Finding {
    let words = records[..layout.first]
        .iter()
        .rfind(|r| delimiter == b',' && !r.has_value() && r.cells.len() > 1);
    match words.filter(|r| r.cells.len() < layout.width) {
        Some(row) => Finding::error(
            "unquoted-decimal-commas",
            format!(
                "this row names {} columns, but the rows below have {} cells: decimal commas seem \
                 to stand unquoted between commas",
                row.cells.len(),
                layout.width
            ),
            "Export with decimal points, or with semicolons between the cells.",
        )
        .at(file, row.line, None),
        None => Finding::warning(
            "no-header",
            "the file has no header row",
            "Name its columns by number in a channel map, e.g. throttle = \"#2\".",
        )
        .in_file(file),
    }
}

fn join(record: &Record, delimiter: char) -> String {
    let cells: Vec<&str> = record.cells.iter().collect();
    cells
        .join(&delimiter.to_string())
        .trim_end_matches(delimiter)
        .to_owned()
}

/// Sorts records into rows used and rows set aside.
struct Sorter {
    ledger: FileLedger,
    rows: Vec<TableRow>,
    aside: Vec<AsideRow>,
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
        if repeats(&record, self.header.as_ref()) {
            self.under_other_header = false;
            if self.restarts.last() != Some(&self.rows.len()) && !self.rows.is_empty() {
                self.restarts.push(self.rows.len());
            }
            return;
        }
        if record.is_comment(self.delimiter) || repeats(&record, self.units.as_ref()) {
            return;
        }
        if let Some((code, what)) = self.fault(&record, unended) {
            self.ledger.set_aside(code, u64::from(record.line), what);
            let Record { line, cells } = record;
            self.aside.push(AsideRow {
                after: self.rows.len(),
                code,
                row: TableRow { line, cells },
            });
            return;
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
