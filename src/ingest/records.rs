//! Text to records of cells, each with its line.

use csv::{ReaderBuilder, StringRecord};

use super::cell::{self, Cell, is_stamp};
use super::header::number_with_unit;

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

    fn is_runaway(&self) -> bool {
        self.as_slice().matches('\n').count() > LONGEST_QUOTED_LINES
    }
}

pub(super) fn is_value(text: &str) -> bool {
    let number = |comma| !matches!(cell::parse(text, comma), Cell::Bad | Cell::Blank);
    !text.trim().is_empty()
        && (number(false) || number(true) || is_stamp(text) || number_with_unit(text).is_some())
}

/// How lines are cut into cells.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) struct Splitter {
    /// A blank stands for any run of blanks.
    pub delimiter: u8,
    pub quotes: bool,
    /// The usual width where blanks delimit: a line of another width that has it when only runs of
    /// two and more blanks count (`Ground speed   Height`) is cut so.
    pub width: Option<usize>,
}

impl Splitter {
    pub fn new(delimiter: u8, quotes: bool) -> Self {
        Self {
            delimiter,
            quotes,
            width: None,
        }
    }

    /// Hands over the records of `text` from byte `start` on; lines count from 1 at the start of
    /// the file. Blank lines are left out.
    pub fn each(&self, text: &str, start: usize, mut take: impl FnMut(u32, &mut StringRecord)) {
        let mut lines = LineCounter {
            bytes: text.as_bytes(),
            at: 0,
            line: 1,
        };
        if self.delimiter == b' ' {
            return self.each_of_blanks(text, start, lines, take);
        }
        let mut reader = ReaderBuilder::new()
            .has_headers(false)
            .flexible(true)
            .delimiter(self.delimiter)
            .quoting(self.quotes)
            .from_reader(&text.as_bytes()[start..]);
        let mut record = StringRecord::new();
        while let Ok(true) = reader.read_record(&mut record) {
            let at = record.position().map_or(0, |p| p.byte() as usize);
            let line = lines.line_at(start + at);
            if !record.is_blank() {
                take(line, &mut record);
            }
        }
    }

    /// The records of a short text.
    pub fn all(&self, text: &str, start: usize) -> Vec<Record> {
        let mut out = Vec::new();
        self.each(text, start, |line, cells| {
            out.push(Record {
                line,
                cells: cells.clone(),
            });
        });
        out
    }

    fn each_of_blanks(
        &self,
        text: &str,
        start: usize,
        mut lines: LineCounter<'_>,
        mut take: impl FnMut(u32, &mut StringRecord),
    ) {
        let (mut record, mut wide) = (StringRecord::new(), StringRecord::new());
        let mut at = start;
        for content in text[start..].split(['\n', '\r']) {
            if !content.trim().is_empty() {
                let line = lines.line_at(at);
                self.cut(content, 1, &mut record);
                if self.width.is_some_and(|w| w != record.len()) {
                    self.cut(content, 2, &mut wide);
                    if self.width == Some(wide.len()) {
                        std::mem::swap(&mut record, &mut wide);
                    }
                }
                if !record.is_blank() {
                    take(line, &mut record);
                }
            }
            at += content.len() + 1;
        }
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

/// Counts line ends (`\n`, `\r\n`, bare `\r`) as records go by.
struct LineCounter<'a> {
    bytes: &'a [u8],
    at: usize,
    line: u32,
}

impl LineCounter<'_> {
    /// The line of the record that starts at or after `at` (blank lines before it are skipped).
    fn line_at(&mut self, at: usize) -> u32 {
        while let Some(&byte) = self.bytes.get(self.at) {
            let is_end =
                byte == b'\n' || (byte == b'\r' && self.bytes.get(self.at + 1) != Some(&b'\n'));
            if self.at >= at && !matches!(byte, b'\n' | b'\r') {
                break;
            }
            self.line += u32::from(is_end);
            self.at += 1;
        }
        self.line
    }
}
