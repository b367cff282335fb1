//! How a delimited file is written, by evidence over its whole head.
//!
//! Each delimiter (comma, semicolon, tab, bar) splits the first [`HEAD_LINES`] lines on trial. Its
//! score is the share of records that have the most common width (at least two cells), times how
//! clean the cells of those records come out: a number or a time stamp counts 1, plain text ½, and
//! text that still holds another delimiter 0. So `1,5;2,5` splits at the semicolon, since at the
//! comma it leaves `5;2`; a long preamble costs every candidate the same. Wider wins a near tie.
//! A `sep=;` line decides outright. The decimal mark is then counted over the cells.

use std::collections::BTreeMap;

use csv::{ReaderBuilder, StringRecord};
use serde::{Deserialize, Serialize};

use super::cell::{self, Cell, is_stamp};
use super::header::number_with_unit;

/// Lines of the file that the evidence is taken from.
pub const HEAD_LINES: usize = 200;

/// The delimiters tried.
const DELIMITERS: [u8; 4] = [b',', b';', b'\t', b'|'];

/// A quoted cell that runs over more lines than this was never closed.
const LONGEST_QUOTED_LINES: usize = 16;

#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum LineEnd {
    Lf,
    CrLf,
    Cr,
    Mixed,
}

/// How the file is written.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct Dialect {
    /// WHATWG name, e.g. `UTF-8`, `windows-1252`, `UTF-16LE`.
    pub encoding: String,
    pub bom: bool,
    pub delimiter: char,
    /// Quotes enclose cells; false where a quote was opened and never closed.
    pub quotes: bool,
    pub decimal_comma: bool,
    pub line_end: LineEnd,
    /// 1-based line of the header; `None`: the file has no header.
    pub header_line: Option<u32>,
    /// 1-based line of a second header row of units.
    pub unit_line: Option<u32>,
    /// The lines above the header, with their line numbers.
    pub preamble: Vec<(u32, String)>,
}

/// One record with its place.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Record {
    pub line: u32,
    pub cells: StringRecord,
}

impl Record {
    pub fn is_blank(&self) -> bool {
        self.cells.iter().all(|c| c.trim().is_empty())
    }

    pub fn filled(&self) -> usize {
        self.cells.iter().filter(|c| !c.trim().is_empty()).count()
    }

    /// Cells up to the last filled one.
    pub fn width_filled(&self) -> usize {
        let blank_tail = self
            .cells
            .iter()
            .rev()
            .take_while(|c| c.trim().is_empty())
            .count();
        self.cells.len() - blank_tail
    }

    /// Cells that hold a number, a bound or a time stamp.
    pub fn values(&self) -> usize {
        self.cells.iter().filter(|c| is_value(c)).count()
    }

    pub fn has_value(&self) -> bool {
        self.cells.iter().any(is_value)
    }

    pub fn is_comment(&self, delimiter: u8) -> bool {
        let first = self.cells.get(0).unwrap_or_default().trim_start();
        first.starts_with('#') && !first.starts_with("#N/A")
            || first.starts_with("//")
            || first.starts_with('%')
            || (first.starts_with(';') && delimiter != b';')
    }
}

pub(super) fn is_value(text: &str) -> bool {
    let number = |comma| !matches!(cell::parse(text, comma), Cell::Bad | Cell::Blank);
    !text.trim().is_empty()
        && (number(false) || number(true) || is_stamp(text) || number_with_unit(text).is_some())
}

/// Delimiter, quotes, decimal mark and line ends of `text`; the rest is filled in by the reader.
pub(super) fn detect(text: &str) -> (Dialect, usize) {
    let (declared, start) = declared_delimiter(text);
    let head = head(&text[start..]);
    let quotes = !head.contains('"')
        || DELIMITERS
            .iter()
            .any(|&d| !runaway_quote(&split(head, d, true)));
    let best = declared.unwrap_or_else(|| {
        DELIMITERS
            .iter()
            .map(|&d| (d, score(&split(head, d, quotes), d)))
            .fold(
                (b',', 0.0),
                |best, new| if new.1 > best.1 { new } else { best },
            )
            .0
    });
    let dialect = Dialect {
        encoding: String::new(),
        bom: false,
        delimiter: char::from(best),
        quotes,
        decimal_comma: decimal_comma(&split(head, best, quotes), best),
        line_end: line_end(text),
        header_line: None,
        unit_line: None,
        preamble: Vec::new(),
    };
    (dialect, start)
}

/// The whole text in records; lines count from 1 at the start of the file.
pub(super) fn records(text: &str, start: usize, dialect: &Dialect) -> Vec<Record> {
    let mut lines = LineCounter {
        bytes: text.as_bytes(),
        at: 0,
        line: 1,
    };
    let delimiter = dialect.delimiter as u8;
    let mut out = Vec::new();
    each(&text[start..], delimiter, dialect.quotes, |at, cells| {
        let line = lines.line_at(start + at);
        out.push(Record { line, cells });
    });
    out
}

/// True where a cell spans so many lines that its quote was surely never closed.
pub(super) fn runaway_quote(records: &[Record]) -> bool {
    records
        .iter()
        .any(|r| r.cells.as_slice().matches('\n').count() > LONGEST_QUOTED_LINES)
}

fn split(text: &str, delimiter: u8, quotes: bool) -> Vec<Record> {
    let mut out = Vec::new();
    each(text, delimiter, quotes, |_, cells| {
        out.push(Record { line: 0, cells })
    });
    out
}

fn each(text: &str, delimiter: u8, quotes: bool, mut take: impl FnMut(usize, StringRecord)) {
    let mut reader = ReaderBuilder::new()
        .has_headers(false)
        .flexible(true)
        .delimiter(delimiter)
        .quoting(quotes)
        .from_reader(text.as_bytes());
    let mut record = StringRecord::new();
    while let Ok(true) = reader.read_record(&mut record) {
        let at = record.position().map_or(0, |p| p.byte() as usize);
        // A copy is as long as it must be; the record read into keeps its room.
        take(at, record.clone());
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

fn head(text: &str) -> &str {
    let end = text
        .match_indices(['\n', '\r'])
        .nth(HEAD_LINES * if text.contains("\r\n") { 2 } else { 1 })
        .map_or(text.len(), |(at, _)| at);
    &text[..end]
}

fn declared_delimiter(text: &str) -> (Option<u8>, usize) {
    let end = text.find(['\n', '\r']).unwrap_or(text.len());
    let line = text[..end].trim_matches('"');
    match line.get(..4) {
        Some(key) if key.eq_ignore_ascii_case("sep=") => {
            let mark = line.as_bytes().get(4).copied();
            (mark.filter(|m| DELIMITERS.contains(m)), end)
        }
        _ => (None, 0),
    }
}

fn score(records: &[Record], delimiter: u8) -> f64 {
    let counted: Vec<&Record> = records
        .iter()
        .filter(|r| !r.is_blank() && !r.is_comment(delimiter))
        .collect();
    let Some(width) = common_width(counted.iter().map(|r| r.cells.len())).filter(|w| *w >= 2)
    else {
        return 0.0;
    };
    let fitting: Vec<_> = counted.iter().filter(|r| r.cells.len() == width).collect();
    let (mut cells, mut clean) = (0.0, 0.0);
    for text in fitting.iter().flat_map(|r| r.cells.iter()) {
        let text = text.trim();
        if text.is_empty() {
            continue;
        }
        cells += 1.0;
        clean += if is_value(text) && !text.contains(';') {
            1.0
        } else if holds_other_delimiter(text, delimiter) {
            0.0
        } else {
            0.5
        };
    }
    let share = fitting.len() as f64 / counted.len() as f64;
    share * (clean / f64::max(cells, 1.0)) * (1.0 - 0.2 / width as f64)
}

fn holds_other_delimiter(text: &str, delimiter: u8) -> bool {
    text.bytes().enumerate().any(|(i, b)| {
        b != delimiter
            && match b {
                b';' | b'\t' | b'|' => true,
                // A comma followed by a space is prose.
                b',' => text.as_bytes().get(i + 1) != Some(&b' '),
                _ => false,
            }
    })
}

/// The most common width; among equals the widest.
pub(super) fn common_width(widths: impl Iterator<Item = usize>) -> Option<usize> {
    let mut counts: BTreeMap<usize, usize> = BTreeMap::new();
    for width in widths {
        *counts.entry(width).or_default() += 1;
    }
    counts
        .into_iter()
        .max_by_key(|&(width, n)| (n, width))
        .map(|(width, _)| width)
}

fn decimal_comma(records: &[Record], delimiter: u8) -> bool {
    let (mut comma, mut point, mut grouped) = (0usize, 0usize, 0usize);
    for text in records.iter().flat_map(|r| r.cells.iter()) {
        let number = number_with_unit(text).map_or(text, |(number, _)| number);
        let text = number
            .trim()
            .trim_start_matches(['-', '+', '<', '>', '≤', '≥', ' ']);
        if !text.starts_with(|c: char| c.is_ascii_digit() || c == ',' || c == '.')
            || !text
                .bytes()
                .all(|b| b.is_ascii_digit() || matches!(b, b'.' | b',' | b'e' | b'E' | b'-'))
        {
            continue;
        }
        match (text.matches(',').count(), text.matches('.').count()) {
            (0, 1) => point += 1,
            (1, 0) => {
                let (before, after) = text.split_once(',').unwrap_or((text, ""));
                let could_be_grouped =
                    after.len() == 3 && (1..=3).contains(&before.len()) && !before.starts_with('0');
                // In a comma-separated file a quoted `1,234` may be either; elsewhere the comma
                // is far more often the decimal mark.
                if could_be_grouped && delimiter == b',' {
                    grouped += 1;
                } else {
                    comma += 1;
                }
            }
            (1, n) if n > 1 => comma += 1,
            (n, 1) if n > 1 => point += 1,
            _ => {}
        }
    }
    comma + usize::from(comma > 0) * grouped > point
}

fn line_end(text: &str) -> LineEnd {
    let bytes = &text.as_bytes()[..text.len().min(1 << 16)];
    let (mut lf, mut crlf, mut cr) = (false, false, false);
    let mut before = 0;
    for &byte in bytes {
        match (before, byte) {
            (b'\r', b'\n') => crlf = true,
            (_, b'\n') => lf = true,
            (b'\r', _) => cr = true,
            _ => {}
        }
        before = byte;
    }
    cr |= before == b'\r' && bytes.len() == text.len();
    match (lf, crlf, cr) {
        (_, false, false) => LineEnd::Lf,
        (false, true, false) => LineEnd::CrLf,
        (false, false, true) => LineEnd::Cr,
        _ => LineEnd::Mixed,
    }
}
