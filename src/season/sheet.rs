//! `logbook.csv` and `passes.csv` as cells with places: the delimiter, the header words and their
//! units, and the decimal comma are found here.

use std::collections::BTreeMap;
use std::ops::Range;

use super::Finding;
use super::bounds::Bound;
use super::source::Source;
use super::wording::{did_you_mean, one_of, quantity_code, quantity_to_do};
use crate::units::{self, QuantityError, Unit, nearest};

/// A column that a file may have: its word, what else it is called (without spaces and hyphens).
pub(super) struct Column {
    pub word: &'static str,
    pub others: &'static [&'static str],
    /// What its numbers mean.
    pub bound: Option<Bound>,
}

impl Column {
    pub const fn text(word: &'static str, others: &'static [&'static str]) -> Self {
        Self {
            word,
            others,
            bound: None,
        }
    }

    pub const fn number(word: &'static str, others: &'static [&'static str], bound: Bound) -> Self {
        Self {
            word,
            others,
            bound: Some(bound),
        }
    }
}

pub(super) struct Cell {
    pub text: String,
    pub span: Range<usize>,
    /// A quote was opened and never closed: the rest of the file went into this cell.
    open: bool,
}

pub(super) struct Row {
    cells: BTreeMap<&'static str, Cell>,
    pub span: Range<usize>,
    pub line: u32,
}

impl Row {
    /// The cell of a column, unless it is blank.
    pub fn cell(&self, word: &str) -> Option<&Cell> {
        self.cells.get(word)
    }
}

pub(super) struct Sheet<'a> {
    pub source: Source<'a>,
    pub rows: Vec<Row>,
    pub findings: Vec<Finding>,
    columns: &'static [Column],
    /// Unit named in the header, by column; None where the header is there without a unit.
    units: BTreeMap<&'static str, Option<&'static Unit>>,
    delimiter: u8,
    /// The mark that the file's numbers show to be decimal.
    decimal: Option<char>,
}

impl<'a> Sheet<'a> {
    pub fn read(file: &'static str, text: &'a str, columns: &'static [Column]) -> Self {
        let source = Source::new(file, text);
        let header_line = text
            .split(['\n', '\r'])
            .find(|l| !l.trim().is_empty())
            .unwrap_or("");
        let mut sheet = Self {
            source,
            rows: Vec::new(),
            findings: Vec::new(),
            columns,
            units: BTreeMap::new(),
            delimiter: delimiter(header_line, columns),
            decimal: None,
        };
        let mut reader = csv::ReaderBuilder::new()
            .delimiter(sheet.delimiter)
            .has_headers(false)
            .flexible(true)
            .from_reader(text.as_bytes());
        let mut heads: Option<Vec<Option<&'static str>>> = None;
        for record in reader.byte_records() {
            let Ok(record) = record else { break };
            let start = record.position().map_or(0, |p| p.byte() as usize);
            let cells = sheet.cells(&record, start);
            if cells.iter().all(|cell| cell.text.is_empty()) {
                continue;
            }
            match &heads {
                None => heads = Some(sheet.heads(&cells)),
                Some(heads) => {
                    let heads = heads.clone();
                    sheet.row(&heads, cells);
                }
            }
        }
        let numbers = sheet.columns.iter().filter(|c| c.bound.is_some());
        let cells = numbers.flat_map(|c| sheet.rows.iter().filter_map(|row| row.cell(c.word)));
        sheet.decimal = units::decimal_mark(cells.map(|c| units::number_and_unit(&c.text).0));
        // Between tabs a comma has no other use.
        if sheet.decimal.is_none() && sheet.delimiter == b'\t' {
            sheet.decimal = Some(',');
        }
        sheet
    }

    /// The cells of a record with their places in the text, which the reader does not give.
    fn cells(&self, record: &csv::ByteRecord, start: usize) -> Vec<Cell> {
        let bytes = self.source.text.as_bytes();
        let mut at = start;
        while matches!(bytes.get(at), Some(b'\r' | b'\n')) {
            at += 1;
        }
        let mut cells = Vec::new();
        for field in record {
            let from = at;
            let mut quoted = false;
            while let Some(&byte) = bytes.get(at) {
                match byte {
                    // Quotes open a field only at its start; doubled ones close and open again.
                    b'"' if quoted || at == from => quoted = !quoted,
                    b'"' if bytes[from] == b'"' => quoted = !quoted,
                    b'\r' | b'\n' if !quoted => break,
                    _ if byte == self.delimiter && !quoted => break,
                    _ => {}
                }
                at += 1;
            }
            let raw = &self.source.text[from..at];
            let lead = raw.len() - raw.trim_start_matches([' ', '"']).len();
            let tail = raw.trim_end_matches([' ', '"']).len();
            cells.push(Cell {
                text: String::from_utf8_lossy(field).trim().to_owned(),
                span: from + lead.min(tail)..from + tail.max(lead.min(tail)),
                open: quoted,
            });
            at += usize::from(bytes.get(at) == Some(&self.delimiter));
        }
        cells
    }

    /// The column that a header names, and its unit as written.
    fn column(&self, header: &str) -> (Option<&'static Column>, Option<String>) {
        let (words, unit) = split_unit(header);
        let found = find(self.columns, &words, unit.as_deref());
        (found.or_else(|| find(self.columns, header, None)), unit)
    }

    /// What each column of the header is.
    fn heads(&mut self, cells: &[Cell]) -> Vec<Option<&'static str>> {
        let mut heads = Vec::new();
        if !cells.iter().any(|cell| self.column(&cell.text).0.is_some()) {
            let expected = one_of(self.columns.iter().map(|c| c.word));
            let what = "the first row names no known column, so no row can be read";
            let to_do = "Put a row with the names of the columns on top.";
            let finding = Finding::error("no-header", what, to_do).expected(expected);
            if let Some(first) = cells.first() {
                self.report(finding, &first.span);
            }
            return vec![None; cells.len()];
        }
        for cell in cells {
            let (found, unit) = self.column(&cell.text);
            let Some(column) = found else {
                if !cell.text.is_empty() {
                    let words = || self.columns.iter().map(|c| c.word);
                    let to_do = did_you_mean(nearest(&cell.text, words()), "Rename or ignore it.");
                    let what = format!("column '{}' is not used", cell.text);
                    let finding =
                        Finding::warning("unknown-column", what, to_do).expected(one_of(words()));
                    self.report(finding, &cell.span);
                }
                heads.push(None);
                continue;
            };
            if self.units.contains_key(column.word) {
                let what = format!("two columns for '{}'; the first is used", column.word);
                let finding = Finding::warning("duplicate-column", what, "Remove one of them.");
                self.report(finding, &cell.span);
                heads.push(None);
                continue;
            }
            let unit = unit.as_deref().zip(column.bound).and_then(|(unit, bound)| {
                let found = units::find(unit, bound.quantity);
                if found.is_none() {
                    let error = units::parse(&format!("1 {unit}"), bound.quantity);
                    if let Err(error) = error {
                        let what = format!("column '{}': {error}", cell.text);
                        self.quantity_error(&error, what, &cell.span);
                    }
                }
                found
            });
            self.units.insert(column.word, unit);
            heads.push(Some(column.word));
        }
        heads
    }

    fn row(&mut self, heads: &[Option<&'static str>], cells: Vec<Cell>) {
        if heads.iter().all(Option::is_none) {
            return;
        }
        if let Some(cell) = cells.iter().find(|cell| cell.open) {
            let what = "a quote is opened here and never closed";
            let to_do = "Close it: all that follows was taken for the text of this cell.";
            self.report(Finding::error("open-quote", what, to_do), &cell.span);
        }
        let first = cells.first().map_or(0, |c| c.span.start);
        let last = cells.last().map_or(0, |c| c.span.end);
        let span = first..last;
        if let Some(extra) = cells.iter().skip(heads.len()).find(|c| !c.text.is_empty()) {
            let what = format!(
                "the row has {} cells, its header {}; '{}' belongs to no column",
                cells.len(),
                heads.len(),
                extra.text
            );
            let to_do = "Put a text that holds the delimiter in quotes, or remove the cell.";
            let finding = Finding::warning("ragged-row", what, to_do);
            self.report(finding, &extra.span);
        }
        let line = self.source.position(span.start).0;
        let cells = heads
            .iter()
            .zip(cells)
            .filter(|(_, cell)| !matches!(cell.text.as_str(), "" | "-" | "--" | "?" | "n/a"))
            .filter_map(|(head, cell)| Some(((*head)?, cell)))
            .collect();
        self.rows.push(Row { cells, span, line });
    }

    pub fn has(&self, word: &str) -> bool {
        self.units.contains_key(word)
    }

    pub fn report(&mut self, finding: Finding, span: &Range<usize>) {
        self.findings.push(self.source.place(finding, span));
    }

    fn quantity_error(&mut self, error: &QuantityError, what: String, span: &Range<usize>) {
        let to_do = match error {
            QuantityError::NoUnit { .. } => {
                "Name the unit in the header, e.g. put_back_mAh or speed_km/h.".to_owned()
            }
            QuantityError::NoNumber { .. } => "Write a number, or leave the cell blank.".to_owned(),
            other => quantity_to_do(other),
        };
        let finding = Finding::error(quantity_code(error), what, to_do).expected(error.expected());
        self.report(finding, span);
    }

    /// The number in a cell of row `index`, in SI and within the column's bound. `usual` is the
    /// unit meant where neither header nor cell names one.
    pub fn quantity(&mut self, index: usize, word: &str, usual: Option<&str>) -> Option<f64> {
        let column = self.columns.iter().find(|c| c.word == word)?;
        let bound = column.bound?;
        let cell = self.rows.get(index)?.cell(word)?;
        let (mut text, span) = (cell.text.clone(), cell.span.clone());
        let (digits, written) = units::number_and_unit(&text);
        let bare = written.is_empty();
        if let Some(decimal) = self.decimal {
            text = format!("{} {written}", units::with_decimal(digits, decimal));
            text.truncate(text.trim_end().len());
        }
        let unit = self
            .units
            .get(word)
            .copied()
            .flatten()
            .map(|u| u.word)
            .or(usual);
        if let (true, Some(unit)) = (bare, unit) {
            text = format!("{text} {unit}");
        }
        match units::parse(&text, bound.quantity) {
            Ok(value) if bound.holds(value) => Some(value),
            Ok(_) => {
                let other = bound.other_unit(&text);
                let to_do = match other {
                    Some(other) => format!("Is it '{other}'? Correct the value or its unit."),
                    None => "Correct the value or its unit.".to_owned(),
                };
                let finding =
                    Finding::error("not-physical", format!("{word} '{text}' cannot be"), to_do)
                        .expected(bound.words);
                self.report(finding, &span);
                None
            }
            Err(error) => {
                // A header without a unit is one mistake, not one a row.
                let missing = matches!(error, QuantityError::NoUnit { .. });
                let told = |f: &Finding| f.code == "no-unit" && f.what.starts_with(word);
                if !missing || !self.findings.iter().any(told) {
                    self.quantity_error(&error, format!("{word}: {error}"), &span);
                }
                None
            }
        }
    }
}

/// The delimiter that makes most known words of the header; of equals the one that cuts most.
fn delimiter(header: &str, columns: &[Column]) -> u8 {
    let score = |delimiter: u8| {
        let fields = header.split(char::from(delimiter));
        let known = fields
            .clone()
            .filter(|field| {
                let field = field.trim_matches([' ', '"']);
                find(columns, &split_unit(field).0, None).is_some()
                    || find(columns, field, None).is_some()
            })
            .count();
        (known, fields.count())
    };
    // `max_by_key` takes the last of equals: the comma.
    *[b'|', b'\t', b';', b',']
        .iter()
        .max_by_key(|d| score(**d))
        .unwrap_or(&b',')
}

/// The column that a header's words name. Of two with the same words (a run-up in metres or in
/// seconds) the one that its unit fits.
fn find<'c>(columns: &'c [Column], words: &str, unit: Option<&str>) -> Option<&'c Column> {
    let folded = fold(words);
    let named = |c: &&Column| fold(c.word) == folded || c.others.contains(&folded.as_str());
    let fits = |c: &&Column| {
        let (Some(unit), Some(bound)) = (unit, c.bound) else {
            return false;
        };
        units::find(unit, bound.quantity).is_some()
    };
    let mut all = columns.iter().filter(named);
    all.clone().find(fits).or_else(|| all.next())
}

fn fold(words: &str) -> String {
    words
        .to_lowercase()
        .chars()
        .filter(|c| c.is_alphanumeric())
        .collect()
}

/// Splits `put_back_mAh`, `Put-back (Ah)` or `speed in km/h` into words and unit.
fn split_unit(header: &str) -> (String, Option<String>) {
    if let Some(open) = header.find(['(', '[', '{']) {
        let unit = header[open + 1..].trim_end_matches([' ', ')', ']', '}']);
        return (
            header[..open].trim().to_owned(),
            Some(unit.trim().to_owned()),
        );
    }
    if let Some(cut) = header.rfind(['_', ' ']) {
        let (words, last) = (&header[..cut], &header[cut + 1..]);
        if !units::guess(last).is_empty() {
            let words = words.strip_suffix(" in").unwrap_or(words);
            return (words.to_owned(), Some(last.to_owned()));
        }
    }
    (header.to_owned(), None)
}
