//! How a delimited file is written, by evidence over its whole head.
//!
//! Each delimiter (comma, semicolon, tab, bar, runs of blanks) splits the first [`HEAD_LINES`] lines on trial. Its
//! score is the share of records that have the most common width (at least two cells), times how
//! clean the cells of those records come out: a number or a time stamp counts 1, plain text ½, and
//! text that still holds another delimiter 0. So `1,5;2,5` splits at the semicolon, since at the
//! comma it leaves `5;2`; a long preamble costs every candidate the same. Wider wins a near tie.
//! Blanks must be clearly better than any other. Where quotes enclose whole lines, what stands within
//! is split once more if that shows rows of values. A `sep=;` line decides outright. The decimal mark
//! is then counted over the cells; a thousands mark is one that some number shows twice or beside
//! the decimal mark, and only then `1,234` reads as a thousand.

use std::collections::BTreeMap;

use csv::StringRecord;
use serde::{Deserialize, Serialize};

use super::cell::{self, Cell, is_stamp};
use super::encoding::Text;
use super::header::number_with_unit;
use super::records::{Cells, Record, Splitter, is_value, without_currency};
use super::table::TableRow;

/// Lines of the file that the evidence is taken from.
pub const HEAD_LINES: usize = 200;

/// What a rarer way of quoting must be better by.
const CLEARLY: f64 = 0.02;

/// The delimiters tried.
const DELIMITERS: [u8; 5] = [b',', b';', b'\t', b'|', b' '];

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
    /// Another encoding could be meant: too few bytes tell.
    pub encoding_is_guess: bool,
    pub bom: bool,
    pub delimiter: char,
    /// Quotes enclose cells; false where a quote was opened and never closed.
    pub quotes: bool,
    /// The mark that quotes cells.
    pub quote: char,
    /// A backslash before a quote takes its meaning away.
    pub escapes: bool,
    /// Quotes enclose whole lines, and the cells stand within.
    pub quoted_lines: bool,
    pub decimal_comma: bool,
    /// The thousands mark, where some number shows beyond doubt that there is one.
    pub thousands: Option<char>,
    pub line_end: LineEnd,
    /// 1-based line of the header; `None`: the file has no header.
    pub header_line: Option<u32>,
    /// 1-based line of a second header row of units.
    pub unit_line: Option<u32>,
    /// The lines above the header, with their line numbers.
    pub preamble: Vec<(u32, String)>,
}

/// Delimiter, quotes, decimal mark and line ends of `text`, where its records start and how to cut
/// them; the rest is filled in by the reader.
pub(super) fn detect(text: &Text<'_>) -> (Dialect, usize, Splitter) {
    let (declared, start) = declared_delimiter(&text.head);
    let head = head(&text.head[start..], text.crlf);
    let split = |delimiter, quotes| Splitter::new(delimiter, quotes).all(head, 0);
    let runs_away = |records: &[Record]| records.iter().any(|r| r.cells.is_runaway());
    let quotes = !head.contains('"') || DELIMITERS.iter().any(|&d| !runs_away(&split(d, true)));
    let mut splitter = best_way(head, declared, quotes);
    let best = splitter.delimiter;
    let records = splitter.all(head, 0);
    if best == b'|' {
        let mut wide = records.iter().filter(|r| r.cells.len() > 2).peekable();
        let is_blank = |cell: Option<&str>| cell.is_some_and(|c| c.trim().is_empty());
        splitter.framed = wide.peek().is_some()
            && wide.all(|r| is_blank(r.cells.get(0)) && is_blank(r.cells.iter().next_back()));
    }
    if best == b' ' {
        splitter.width = common_width(records.iter().map(|r| r.cells.len()));
    }
    let cells = || records.iter().map(|r| &r.cells);
    let decimal_comma = decimal_comma(cells(), best).unwrap_or(false);
    let dialect = Dialect {
        encoding: text.encoding.name().to_owned(),
        encoding_is_guess: text.is_guess(),
        bom: text.mark > 0,
        delimiter: char::from(best),
        quotes,
        quote: char::from(splitter.quote),
        escapes: splitter.escapes,
        quoted_lines: splitter.quoted_lines,
        decimal_comma,
        thousands: thousands(cells(), decimal_comma),
        line_end: line_end(&text.head, text.whole),
        header_line: None,
        unit_line: None,
        preamble: Vec::new(),
    };
    (dialect, start, splitter)
}

/// What rows from all over a long file tell of the marks within numbers, where its head, at rest on
/// the ground, tells nothing.
pub(super) fn settle_marks(dialect: &mut Dialect, head: &[Record], rows: &[TableRow]) {
    let delimiter = u8::try_from(dialect.delimiter).unwrap_or(b',');
    let head = || head.iter().take(HEAD_LINES).map(|r| &r.cells);
    let rows = || rows.iter().map(|r| &r.cells);
    if decimal_comma(head(), delimiter).is_none() {
        dialect.decimal_comma = decimal_comma(rows(), delimiter).unwrap_or(false);
    }
    if dialect.thousands.is_none() {
        dialect.thousands = thousands(rows(), dialect.decimal_comma);
    }
}

/// Delimiter and quoting with the best score; single quotes and backslashes only where they make a
/// clear difference.
fn best_way(head: &str, declared: Option<u8>, quotes: bool) -> Splitter {
    let delimiters: &[u8] = match &declared {
        Some(mark) => std::slice::from_ref(mark),
        None => &DELIMITERS,
    };
    let single = head.matches('\'').count() >= 2 * head.lines().count().max(1);
    let mut best = (Splitter::new(declared.unwrap_or(b','), quotes), 0.0);
    let lines = || head.split(['\n', '\r']).filter(|l| !l.trim().is_empty());
    let enclosed = |l: &&str| l.len() > 2 && l.starts_with('"') && l.trim_end().ends_with('"');
    let whole = quotes && 5 * lines().filter(enclosed).count() >= 4 * lines().count();
    for (quote, escapes, quoted_lines, tried, handicap) in [
        (b'"', false, false, true, 0.0),
        (b'"', true, false, quotes && head.contains("\\\""), CLEARLY),
        (b'\'', false, false, quotes && single, CLEARLY),
        (b'"', false, true, whole, CLEARLY),
    ] {
        for &delimiter in delimiters.iter().filter(|_| tried) {
            let way = Splitter {
                quote,
                escapes,
                quoted_lines,
                ..Splitter::new(delimiter, quotes)
            };
            let records = way.all(head, 0);
            let of_values = records.iter().filter(|r| r.cells.has_value()).count();
            if quoted_lines && (delimiter == b' ' || 2 * of_values < records.len()) {
                continue;
            }
            let score = score(&records, delimiter) - handicap;
            if score > best.1 {
                best = (way, score);
            }
        }
    }
    best.0
}

fn head(text: &str, crlf: bool) -> &str {
    let end = text
        .match_indices(['\n', '\r'])
        .nth(HEAD_LINES * if crlf { 2 } else { 1 })
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
        .filter(|r| !r.cells.is_comment(delimiter))
        .collect();
    let Some(width) = common_width(counted.iter().map(|r| r.cells.len())).filter(|w| *w >= 2)
    else {
        return 0.0;
    };
    let fitting: Vec<_> = counted.iter().filter(|r| r.cells.len() == width).collect();
    let (mut cells, mut clean) = (0.0, 0.0);
    for text in fitting.iter().flat_map(|r| r.cells.iter()) {
        let text = without_currency(text);
        if text.is_empty() {
            continue;
        }
        cells += 1.0;
        clean += if is_value(text) && !text.contains(';') && !holds_blank(text) {
            1.0
        } else if holds_other_delimiter(text, delimiter) {
            0.0
        } else {
            0.5
        };
    }
    let share = fitting.len() as f64 / counted.len() as f64;
    // Words run together by blanks are prose; only clearly better does the blank win.
    let trust = if delimiter == b' ' { 0.95 } else { 1.0 };
    trust * share * (clean / f64::max(cells, 1.0)) * (1.0 - 0.2 / width as f64)
}

/// A blank amid a number may be a thousands mark or a delimiter.
fn holds_blank(text: &str) -> bool {
    text.contains(' ') && !is_stamp(text) && number_with_unit(text).is_none()
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

/// Whether the comma is the decimal mark; `None` where no number shows a mark.
fn decimal_comma<'r>(
    records: impl Iterator<Item = &'r StringRecord>,
    delimiter: u8,
) -> Option<bool> {
    let (mut comma, mut point, mut grouped, mut grouped_point) = (0usize, 0usize, 0usize, 0usize);
    for text in records.flat_map(StringRecord::iter) {
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
            (0, 1) if could_be_grouped(text, '.') => grouped_point += 1,
            (0, 1) => point += 1,
            (1, 0) => {
                // In a comma-separated file a quoted `1,234` may be either; elsewhere the comma
                // is far more often the decimal mark.
                if could_be_grouped(text, ',') && delimiter == b',' {
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
    // `31.400` beside `12,1` is grouped by points; on its own it has three decimals.
    let shown = comma + point + grouped + grouped_point;
    let point = point + usize::from(comma == 0 || point > 0) * grouped_point;
    (shown > 0).then_some(comma + usize::from(comma > 0) * grouped > point)
}

/// One mark before three digits: a thousands mark or a decimal mark.
fn could_be_grouped(text: &str, mark: char) -> bool {
    let (before, after) = text.split_once(mark).unwrap_or((text, ""));
    after.len() == 3 && (1..=3).contains(&before.len()) && !before.starts_with('0')
}

/// The mark of a number that shows it twice, or beside the decimal mark.
fn thousands<'r>(
    records: impl Iterator<Item = &'r StringRecord>,
    decimal_comma: bool,
) -> Option<char> {
    let (decimal, mark) = if decimal_comma {
        (',', '.')
    } else {
        ('.', ',')
    };
    let shows = |text: &str| {
        let text = text.trim();
        let marks = text.matches(mark).count();
        let number = !matches!(cell::parse(text, decimal_comma), Cell::Bad | Cell::Blank);
        number && (marks > 1 || (marks == 1 && text.contains(decimal)))
    };
    records
        .flat_map(StringRecord::iter)
        .any(shows)
        .then_some(mark)
}

fn line_end(text: &str, whole: bool) -> LineEnd {
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
    cr |= before == b'\r' && whole && bytes.len() == text.len();
    match (lf, crlf, cr) {
        (_, false, false) => LineEnd::Lf,
        (false, true, false) => LineEnd::CrLf,
        (false, false, true) => LineEnd::Cr,
        _ => LineEnd::Mixed,
    }
}
