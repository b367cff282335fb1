//! Delimited text to a [`Table`] and its ledger.
//!
//! Whatever follows the header ([`super::layout`]) is a row, used or set aside, except blank lines,
//! comments and repetitions of the header.

use std::io;

use csv::StringRecord;

use super::dialect;
use super::encoding::Text;
use super::foreign;
use super::layout::{Layout, Longer};
use super::ledger::FileLedger;
use super::no_table::{NoTable, no_table};
use super::plain::{Plain, PlainRows};
use super::records::{Cells, Record, Splitter};
use super::scan::{self, Keep, Passed, Scan};
use super::sorter::{Sorted, Sorter};
use super::source::{self, Source};
use super::table::{Table, TableRow};
use super::tap::End;
use super::track::report_set_aside;
use crate::season::{Finding, TextForm};

/// What tells a foreign format.
const FIRST_BYTES: usize = 512;

/// Goes through the text and sorts its rows; those not kept are read again when they are asked for.
/// The findings alone where there is no table.
pub(super) fn scan<'a>(
    source: &'a dyn Source,
    file: &str,
    form: TextForm,
    keep: Keep,
) -> Result<Scan<'a>, Vec<Finding>> {
    let unreadable = |e: io::Error| vec![scan::unreadable(file, &e)];
    let first = source::head(source, FIRST_BYTES).map_err(unreadable)?;
    if let Some(what) = foreign::named(&first) {
        return Err(vec![foreign_format(what).in_file(file)]);
    }
    let text = Text::of(source, form.encoding).map_err(unreadable)?;
    let mut findings = Vec::new();
    if let Some(finding) = no_text(&text) {
        return Err(vec![finding.in_file(file)]);
    }
    encoding_findings(&text, file, &mut findings);
    let (mut dialect, start, mut splitter) = dialect::detect(&text);
    let held = text.held().map_err(unreadable)?;
    let plain = held.and_then(|bytes| Plain::of(bytes, start, &splitter));
    let mut census = match &plain {
        Some(plain) => Census::of_plain(plain, splitter.delimiter),
        None => Census::of(&text, start, splitter).map_err(unreadable)?,
    };
    if splitter.quotes && (census.runs_away || census.end == End::Endless) {
        splitter.quotes = false;
        dialect.quotes = false;
        census = Census::of(&text, start, splitter).map_err(unreadable)?;
    }
    if census.end == End::Endless {
        findings.push(endless(file, census.last_line));
        return Err(findings);
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
    let (head, delimiter) = (census.head, splitter.delimiter);
    let mut layout = Layout::of(&head, delimiter);
    if let Some(what) = no_table(&head, delimiter) {
        findings.push(refused(what).in_file(file));
        return Err(findings);
    }
    if let Some(longer) = layout.longer_rows(&head, delimiter) {
        layout.row_numbers = form.row_numbers.unwrap_or(longer == Longer::RowNumbers);
        let line = layout.header.map_or(0, |i| head[i].line);
        if form.row_numbers.is_none() {
            findings.push(longer_rows(longer).at(file, line, None));
        }
    }
    dialect.preamble = head[..layout.top()]
        .iter()
        .map(|r| (r.line, join(r, dialect.delimiter)))
        .collect();
    dialect.header_line = layout.header.map(|i| head[i].line);
    dialect.unit_line = layout.units.map(|i| head[i].line);
    if layout.header.is_none() {
        findings.push(no_header(&head, &layout, delimiter, file));
    }
    let header = layout.header_cells(&head, census.filled.get(layout.width).copied().unwrap_or(0));
    // Without its line end the last row may have lost its tail.
    let unended = (!text.ended).then(|| census.records.saturating_sub(1));
    let template = Sorter::new(&head, &layout, header.len(), delimiter, unended);
    let mut table = Table {
        file: file.to_owned(),
        header,
        rows: Vec::new(),
        restarts: Vec::new(),
        dialect,
    };
    let mut gathering = Gathering {
        step: keep.step(census.records),
        ledger: FileLedger::new(file),
        sorter: template.clone(),
        rows: 0,
        restart_lines: Vec::new(),
        table: &mut table,
    };
    let plain = match plain {
        Some(plain) => {
            let used = gathering.of_plain(&plain);
            Some(PlainRows { plain, used })
        }
        None => {
            let mut sort = |line: u32, cells: &mut StringRecord| {
                gathering.sort(line, cells);
            };
            text.open()
                .and_then(|text| splitter.each(text, start, &mut sort))
                .map_err(unreadable)?;
            None
        }
    };
    let Gathering {
        ledger,
        sorter,
        rows,
        restart_lines,
        ..
    } = gathering;
    if let Some(line) = sorter.other_header {
        findings.push(
            Finding::warning(
                "header-changed",
                "the header changes in mid-file; the rows under the other header were set aside",
                "Split the file at this line and read both parts.",
            )
            .at(file, line, None),
        );
    }
    report_set_aside(
        &ledger,
        "row(s)",
        "Look at the line named; if the rows matter, mend them.",
        &mut findings,
    );
    if rows == 0 {
        let what = if ledger.rows_in == 0 && table.dialect.header_line.is_some() {
            "the file ends with its header: the logger wrote no row"
        } else {
            "the file has no usable data row"
        };
        let to_do = "Check the logger's card, or take the file out of the season.";
        findings.push(Finding::error("no-rows", what, to_do).in_file(file));
    }
    dialect::settle_marks(&mut table.dialect, &head, &table.rows);
    table.find_units_in_cells();
    table.find_marks();
    Ok(Scan {
        table,
        rows,
        restart_lines,
        ledger,
        findings,
        each: Box::new(move |take| {
            let mut sorter = template.clone();
            let mut pass = |line: u32, cells: &mut StringRecord| {
                let (cells, aside) = match sorter.sort(line, cells) {
                    Sorted::Row(cells) => (cells, None),
                    Sorted::SetAside { code, cells, .. } => (cells, Some(code)),
                    Sorted::Restart | Sorted::NoRow => return,
                };
                take(Passed { line, cells, aside });
            };
            splitter.each(text.open()?, start, &mut pass).map(|_| ())
        }),
        plain,
    })
}

/// The rows of a table on their way into it.
struct Gathering<'t> {
    table: &'t mut Table,
    sorter: Sorter,
    ledger: FileLedger,
    rows: usize,
    restart_lines: Vec<u32>,
    /// One row in so many is kept.
    step: usize,
}

impl Gathering<'_> {
    /// Sorts a record; whether it is a row to use.
    fn sort(&mut self, line: u32, cells: &mut StringRecord) -> bool {
        let cells = match self.sorter.sort(line, cells) {
            Sorted::Row(cells) => cells,
            Sorted::Restart => {
                if self.table.restarts.last() != Some(&self.rows) && self.rows > 0 {
                    self.table.restarts.push(self.rows);
                }
                return false;
            }
            Sorted::SetAside { code, what, .. } => {
                self.ledger.set_aside(code, u64::from(line), what);
                return false;
            }
            Sorted::NoRow => return false,
        };
        if self.rows.is_multiple_of(self.step) {
            let cells = cells.clone();
            self.table.rows.push(TableRow { line, cells });
        }
        self.use_row(line);
        true
    }

    fn use_row(&mut self, line: u32) {
        if self.table.restarts.last() == Some(&self.rows) {
            self.restart_lines.push(line);
        }
        self.rows += 1;
        self.ledger.use_row();
    }

    /// Sorts the lines of a plain text; the places of those to use.
    fn of_plain(&mut self, plain: &Plain<'_>) -> Vec<u32> {
        let mut used = Vec::with_capacity(plain.lines.len());
        for (place, line) in plain.lines.iter().enumerate() {
            let (number, last) = (line.number, line.last as usize);
            let takes = line.is_row() && self.sorter.take_ordinary(number, plain.width, last);
            if takes {
                if self.rows.is_multiple_of(self.step) {
                    let cells = plain.record(line);
                    self.table.rows.push(TableRow {
                        line: number,
                        cells,
                    });
                }
                self.use_row(number);
            }
            if takes || self.sort(number, &mut plain.record(line)) {
                used.push(place as u32);
            }
        }
        used
    }
}

/// What one pass over the whole text shows.
struct Census {
    /// The first records.
    head: Vec<Record>,
    records: usize,
    runs_away: bool,
    /// Cells up to the last filled one, at most, of the records of each width.
    filled: Vec<usize>,
    end: End,
    last_line: u32,
}

impl Census {
    fn of_plain(plain: &Plain<'_>, delimiter: u8) -> Self {
        let mut filled = Vec::new();
        let mut count = |width: usize, to: usize| {
            filled.resize(filled.len().max(width + 1), 0);
            filled[width] = filled[width].max(to);
        };
        for line in &plain.lines {
            if line.is_row() {
                count(plain.width, line.filled as usize);
                continue;
            }
            let cells = plain.record(line);
            if !cells.is_comment(delimiter) && cells.has_any_digit() {
                count(cells.len(), cells.width_filled());
            }
        }
        let head = plain.lines.iter().take(Layout::HEAD);
        Self {
            head: head
                .map(|line| Record {
                    line: line.number,
                    cells: plain.record(line),
                })
                .collect(),
            records: plain.lines.len(),
            // Without quotes no cell runs over lines, and long ones are not plain.
            runs_away: false,
            filled,
            end: End::Whole,
            last_line: plain.lines.last().map_or(0, |line| line.number),
        }
    }

    fn of(text: &Text<'_>, start: usize, splitter: Splitter) -> io::Result<Self> {
        let mut out = Self {
            head: Vec::new(),
            records: 0,
            runs_away: false,
            filled: Vec::new(),
            end: End::Whole,
            last_line: 0,
        };
        out.end = splitter.each(text.open()?, start, |line, cells| {
            if out.head.len() < Layout::HEAD {
                let cells = cells.clone();
                out.head.push(Record { line, cells });
            }
            out.records += 1;
            out.last_line = line;
            out.runs_away |= cells.is_runaway();
            if !cells.is_comment(splitter.delimiter) && cells.has_any_digit() {
                let width = cells.len();
                out.filled.resize(out.filled.len().max(width + 1), 0);
                out.filled[width] = out.filled[width].max(cells.width_filled());
            }
        })?;
        Ok(out)
    }
}

fn refused(what: NoTable) -> Finding {
    let (code, what) = match what {
        NoTable::Prose => (
            "prose",
            "this looks like prose: lines of words that fall into no columns, and no table",
        ),
        NoTable::Code => (
            "program-text",
            "this looks like program text or a dump of records: brackets stay open from cell to cell, \
             and there is no table",
        ),
    };
    let to_do = "Name a log or a table instead, or take the file out of the season.";
    Finding::error(code, what, to_do)
}

/// The rows have more cells than the header has names.
fn longer_rows(longer: Longer) -> Finding {
    match longer {
        Longer::RowNumbers => {
            let line = "row_numbers = false";
            Finding::warning(
                "row-numbers-assumed",
                "the rows have one cell more than the header, and their first cells count up by one: \
                 those were taken as row numbers, and each name as that of the column after",
                format!("If that is wrong, put this into the file's section of season.toml: {line}."),
            )
            .overruled_by(line)
        }
        Longer::Unnamed => {
            let line = "row_numbers = true";
            Finding::warning(
                "rows-longer-than-header",
                "nearly all rows have more cells than the header: the names were counted from the \
                 left, and what stands beyond the last one has none",
                format!(
                    "Give every column a name. If it is the first one that lacks it, put this into the \
                     file's section of season.toml: {line}."
                ),
            )
            .overruled_by(line)
        }
    }
}

/// A format that is known and holds no table.
fn foreign_format(what: &str) -> Finding {
    Finding::error(
        "not-a-table",
        format!("this is {what}, and no table"),
        "Export the log as delimited text (CSV), GPX, Parquet or Arrow, or take the file out of the season.",
    )
    .expected("delimited text")
}

/// A line so long that the file is no table.
fn endless(file: &str, line: u32) -> Finding {
    Finding::error(
        "endless-line",
        "a line of the file is megabytes long: this is no table",
        "Export the log as delimited text (CSV), a line a row.",
    )
    .at(file, line, None)
}

/// Why there is no table in the text.
fn no_text(text: &Text<'_>) -> Option<Finding> {
    if text.blank {
        return Some(Finding::error(
            "empty-file",
            "the file is empty",
            "Check the logger's card, or take the file out of the season.",
        ));
    }
    text.binary.then(|| {
        Finding::error(
            "not-text",
            "the file is no text: it looks like binary data",
            "Export the log as delimited text (CSV) or GPX from the logger's own program.",
        )
        .expected("delimited text")
    })
}

fn encoding_findings(text: &Text<'_>, file: &str, findings: &mut Vec<Finding>) {
    if text.damaged > 0 {
        let what = format!(
            "{} byte sequence(s) in {} line(s) are no {}",
            text.damaged,
            text.damaged_lines,
            text.encoding.name()
        );
        let to_do =
            "Copy the file from the card again; a number with one within it counts as absent.";
        let finding = Finding::warning("damaged-text", what, to_do);
        findings.push(match text.first_damaged {
            Some(line) => finding.at(file, line, None),
            None => finding.in_file(file),
        });
    }
    if text.is_guess() {
        let line = "encoding = \"windows-1250\"";
        findings.push(
            Finding::note(
                "encoding-assumed",
                format!(
                    "the text is no UTF-8; {} was taken, unsure: {} byte(s) above 127 {}",
                    text.encoding.name(),
                    text.high,
                    if text.odd > 0 {
                        "make signs that are rare in tables"
                    } else {
                        "tell too little"
                    }
                ),
                format!(
                    "Where names or units look wrong, save the file as UTF-8, or name its encoding in the \
                     file's section of season.toml, such as: {line}; numbers are the same either way."
                ),
            )
            .overruled_by(line)
            .in_file(file),
        );
    }
    if text.nul_bytes > 0 {
        findings.push(
            Finding::warning(
                "nul-bytes",
                format!(
                    "{} NUL bytes, as a loss of power leaves them",
                    text.nul_bytes
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
        .rfind(|r| delimiter == b',' && !r.cells.has_value() && r.cells.len() > 1);
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
