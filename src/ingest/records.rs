//! Text to records of cells, each with its line.

use std::io::{self, Read};

use csv::{ReaderBuilder, StringRecord};

use super::cell::{self, Cell, is_stamp};
use super::header::number_with_unit;
use super::tap::{BUFFER, End, Tap};

/// A quoted cell that runs over more lines than this was never closed.
const LONGEST_QUOTED_LINES: usize = 16;

/// One record with its place.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Record {
    pub line: u32,
    pub cells: StringRecord,
}

/// What one can tell from a record's cells.
pub(super) trait Cells {
    fn is_blank(&self) -> bool;
    fn filled(&self) -> usize;
    /// Cells up to the last filled one.
    fn width_filled(&self) -> usize;
    /// Cells that hold a number, a bound or a time stamp.
    fn values(&self) -> usize;
    fn has_value(&self) -> bool;
    fn has_any_digit(&self) -> bool;
    fn is_comment(&self, delimiter: u8) -> bool;
    /// A line drawn under a header or round a table (`|---|---|`).
    fn is_rule(&self) -> bool;
    /// A cell spans so many lines that its quote was surely never closed.
    fn is_runaway(&self) -> bool;
}

impl Cells for StringRecord {
    fn is_blank(&self) -> bool {
        let text = self.as_slice();
        text.trim().is_empty() || text.bytes().all(|b| b == 0)
    }

    fn filled(&self) -> usize {
        self.iter().filter(|c| !c.trim().is_empty()).count()
    }

    fn width_filled(&self) -> usize {
        let blank_tail = self
            .iter()
            .rev()
            .take_while(|c| c.trim().is_empty())
            .count();
        self.len() - blank_tail
    }

    fn values(&self) -> usize {
        self.iter().filter(|c| is_value(c)).count()
    }

    fn has_value(&self) -> bool {
        self.iter().any(is_value)
    }

    fn has_any_digit(&self) -> bool {
        self.as_slice().bytes().any(|b| b.is_ascii_digit())
    }

    fn is_comment(&self, delimiter: u8) -> bool {
        let first = self.get(0).unwrap_or_default().trim_start();
        first.starts_with('#') && !first.starts_with("#N/A")
            || first.starts_with("//")
            || first.starts_with('%')
            || (first.starts_with(';') && delimiter != b';')
    }

    fn is_rule(&self) -> bool {
        let is_drawn = |c: &str| {
            c.chars().count() >= 3
                && c.contains(['-', '=', '─', '━', '═'])
                && c.chars().all(|c| "-=:+─━═┼".contains(c))
        };
        let mut filled = self
            .iter()
            .map(str::trim)
            .filter(|c| !c.is_empty())
            .peekable();
        filled.peek().is_some() && filled.all(is_drawn)
    }

    fn is_runaway(&self) -> bool {
        self.as_slice().matches('\n').count() > LONGEST_QUOTED_LINES
    }
}

pub(super) fn is_value(text: &str) -> bool {
    // What most cells are is told without trying.
    if is_plain_number(text.as_bytes()) {
        return true;
    }
    let number = |comma| !matches!(cell::parse(text, comma), Cell::Bad | Cell::Blank);
    let text = without_currency(text);
    !text.is_empty()
        && (number(false) || number(true) || is_stamp(text) || number_with_unit(text).is_some())
}

/// A few digits with a decimal point among them.
fn is_plain_number(text: &[u8]) -> bool {
    let digits = text.strip_prefix(b"-").unwrap_or(text);
    let points = digits.iter().filter(|b| **b == b'.').count();
    let all = digits.iter().all(|b| b.is_ascii_digit() || *b == b'.');
    all && points <= 1 && (1..=15).contains(&(digits.len() - points))
}

/// Sums of money are values, too, where it is about how a table is written.
pub(super) fn without_currency(text: &str) -> &str {
    text.trim_matches([' ', '\t', '€', '$', '£', '¥', '₣', '₤'])
}

/// How lines are cut into cells.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) struct Splitter {
    /// A blank stands for any run of blanks.
    pub delimiter: u8,
    pub quotes: bool,
    /// The mark that quotes cells.
    pub quote: u8,
    /// A backslash takes a quote's meaning away.
    pub escapes: bool,
    /// Quotes enclose whole lines, and the cells stand within.
    pub quoted_lines: bool,
    /// The delimiter stands before the first and after the last cell, too (`| 1 | 2 |`).
    pub framed: bool,
    /// The usual width where blanks delimit: a line of another width that has it when only runs of
    /// two and more blanks count (`Ground speed   Height`) is cut so.
    pub width: Option<usize>,
}

impl Splitter {
    pub fn new(delimiter: u8, quotes: bool) -> Self {
        Self {
            delimiter,
            quotes,
            quote: b'"',
            escapes: false,
            quoted_lines: false,
            framed: false,
            width: None,
        }
    }

    /// Hands over the records of a text from byte `start` on; lines count from 1 at the start of the
    /// text. Blank lines are left out.
    pub fn each(
        &self,
        text: impl Read,
        start: usize,
        take: impl FnMut(u32, &mut StringRecord),
    ) -> io::Result<End> {
        let mut tap = Tap::new(text);
        tap.skip(start)?;
        if self.delimiter == b' ' {
            self.each_of_blanks(tap, take)
        } else {
            self.each_of_cells(tap, start, take)
        }
    }

    fn each_of_cells(
        &self,
        tap: Tap<impl Read>,
        start: usize,
        mut take: impl FnMut(u32, &mut StringRecord),
    ) -> io::Result<End> {
        let mut reader = ReaderBuilder::new()
            .has_headers(false)
            .flexible(true)
            .delimiter(self.delimiter)
            .quoting(self.quotes)
            .quote(self.quote)
            .escape(self.escapes.then_some(b'\\'))
            .buffer_capacity(BUFFER)
            .from_reader(tap);
        let mut record = StringRecord::new();
        while reader.read_record(&mut record).map_err(io::Error::from)? {
            let at = record.position().map_or(0, |p| p.byte() as usize);
            let line = reader.get_mut().line_at(start + at);
            if self.quoted_lines && record.len() == 1 {
                record = self.within(&record)?;
            }
            if self.framed {
                record = unframed(&record);
            }
            if !record.is_blank() && !record.is_rule() {
                take(line, &mut record);
            }
        }
        Ok(reader.get_ref().end)
    }

    /// The cells within the quotes of a line.
    fn within(&self, line: &StringRecord) -> io::Result<StringRecord> {
        let mut cells = StringRecord::new();
        ReaderBuilder::new()
            .has_headers(false)
            .delimiter(self.delimiter)
            .buffer_capacity(1 << 10)
            .from_reader(line.as_slice().as_bytes())
            .read_record(&mut cells)?;
        Ok(cells)
    }

    /// The records of a short text.
    pub fn all(&self, text: &str, start: usize) -> Vec<Record> {
        let mut out = Vec::new();
        // Reading from memory does not fail.
        let _ = self.each(text.as_bytes(), start, |line, cells| {
            out.push(Record {
                line,
                cells: cells.clone(),
            });
        });
        out
    }

    fn each_of_blanks(
        &self,
        mut tap: Tap<impl Read>,
        mut take: impl FnMut(u32, &mut StringRecord),
    ) -> io::Result<End> {
        let (mut record, mut wide) = (StringRecord::new(), StringRecord::new());
        while let Some((line, content)) = tap.next_line()? {
            self.cut(content, 1, &mut record);
            if self.width.is_some_and(|w| w != record.len()) {
                self.cut(content, 2, &mut wide);
                if self.width == Some(wide.len()) {
                    std::mem::swap(&mut record, &mut wide);
                }
            }
            if !record.is_blank() && !record.is_rule() {
                take(line, &mut record);
            }
        }
        Ok(tap.end)
    }

    /// Cuts a line at runs of at least `least` blanks outside quotes.
    fn cut(&self, line: &str, least: usize, record: &mut StringRecord) {
        record.clear();
        let mut rest = line.trim_matches([' ', '\t']);
        let is_blank = |c: char| c == ' ' || c == '\t';
        while !rest.is_empty() {
            if self.quotes
                && let Some(inner) = rest.strip_prefix('"')
                && let Some(end) = inner.find('"')
            {
                record.push_field(&inner[..end]);
                rest = inner[end + 1..].trim_start_matches(is_blank);
                continue;
            }
            let mut end = rest.len();
            let mut from = 0;
            while let Some(gap) = rest[from..].find(is_blank).map(|i| i + from) {
                let run = rest[gap..].len() - rest[gap..].trim_start_matches(is_blank).len();
                if run >= least || rest[gap..].starts_with('\t') {
                    end = gap;
                    break;
                }
                from = gap + run;
            }
            record.push_field(&rest[..end]);
            rest = rest[end..].trim_start_matches(is_blank);
        }
    }
}

/// The cells between the outer bars, without the blanks that set them in columns.
fn unframed(record: &StringRecord) -> StringRecord {
    let mut cells: Vec<&str> = record.iter().map(str::trim).collect();
    if cells.len() > 1 && cells.last() == Some(&"") {
        cells.pop();
    }
    let from = usize::from(cells.len() > 1 && cells.first() == Some(&""));
    StringRecord::from(cells[from..].to_vec())
}
