//! The ordinary file at once: text held in memory, one delimiter, no quotes. One pass over its bytes
//! cuts lines into cells and turns plain numbers into values; every other cell and line is left to
//! the general reader, so that the result is the same to the bit (tests compare the two).

use std::borrow::Cow;

use csv::StringRecord;
use memchr::memchr2;

use super::records::{Cells, Splitter};
use super::table::{CellsOf, Table};

/// Longer lines are left to the general reader, which gives up on endless ones.
const LONGEST_LINE: usize = 1 << 16;
/// Digits of an integer that a double holds exactly; with at most 22 decimals the quotient of two such
/// numbers is the nearest double (Clinger, How to read floating point numbers accurately, PLDI 1990).
const EXACT_DIGITS: usize = 15;
const POWERS_OF_TEN: [f64; EXACT_DIGITS + 1] = [
    1e0, 1e1, 1e2, 1e3, 1e4, 1e5, 1e6, 1e7, 1e8, 1e9, 1e10, 1e11, 1e12, 1e13, 1e14, 1e15,
];

/// White space that bytes and characters judge differently.
const VERTICAL_TAB: u8 = 0x0B;

/// The lines of a text that are not blank.
pub(super) struct Plain<'a> {
    bytes: Cow<'a, [u8]>,
    /// Every byte is ASCII.
    ascii: bool,
    delimiter: u8,
    pub lines: Vec<Line>,
    /// Cells of the lines that are rows of numbers, and as many numbers a row: NaN where the cell
    /// holds something else.
    pub width: usize,
    numbers: Vec<f64>,
    /// Decimal marks seen in numbers.
    points: bool,
    commas: bool,
}

#[derive(Debug, Clone, Copy)]
pub(super) struct Line {
    /// 1-based line of the file.
    pub number: u32,
    start: u32,
    end: u32,
    /// Where its numbers begin.
    row: Option<u32>,
    /// Cells up to the last filled one, and the length of the last cell.
    pub filled: u32,
    pub last: u32,
}

impl Line {
    /// As many cells as the other rows, one of them a number, the first one a number or begun by a
    /// digit.
    pub fn is_row(&self) -> bool {
        self.row.is_some()
    }
}

impl<'a> Plain<'a> {
    /// `None` where the general reader is needed: `bytes` must be UTF-8 without NULs.
    pub fn of(bytes: Cow<'a, [u8]>, start: usize, splitter: &Splitter) -> Option<Self> {
        let ordinary = Splitter::new(splitter.delimiter, splitter.quotes) == *splitter;
        let lone_return = || {
            let mut returns = memchr::memchr_iter(b'\r', &bytes);
            returns.any(|at| bytes.get(at + 1) != Some(&b'\n'))
        };
        if !ordinary
            || splitter.delimiter == b' '
            || u32::try_from(bytes.len()).is_err()
            || memchr2(b'"', VERTICAL_TAB, &bytes).is_some()
            || lone_return()
        {
            return None;
        }
        let mut number = 1 + memchr::memchr_iter(b'\n', &bytes[..start]).count() as u32;
        let (length, mut at) = (bytes.len(), start);
        let mut out = Self {
            ascii: bytes.is_ascii(),
            bytes,
            delimiter: splitter.delimiter,
            lines: Vec::new(),
            width: 0,
            numbers: Vec::new(),
            points: false,
            commas: false,
        };
        while at < length {
            let next = out.line(number, at)?;
            (at, number) = (next, number + 1);
        }
        Some(out)
    }

    /// Takes the line that begins at a byte; where the next one begins. `None` where it is too long.
    fn line(&mut self, number: u32, start: usize) -> Option<usize> {
        let row = self.numbers.len();
        let mut cut = cut(&self.bytes, start, self.delimiter, &mut self.numbers);
        let stop = cut.stop.unwrap_or_else(|| {
            let rest = memchr::memchr(b'\n', &self.bytes[start..]);
            rest.map_or(self.bytes.len(), |length| start + length)
        });
        let mut end = stop;
        if end > start && self.bytes[end - 1] == b'\r' {
            end -= 1;
        }
        if end - start > LONGEST_LINE {
            return None;
        }
        // Bytes and characters judge other white space differently.
        cut.is_row &= self.ascii || self.bytes[start..end].is_ascii();
        let mut line = Line {
            number,
            start: start as u32,
            end: end as u32,
            row: None,
            filled: cut.filled,
            last: cut.last,
        };
        if self.width == 0 && cut.is_row {
            self.width = self.numbers.len() - row;
        }
        if cut.is_row && self.numbers.len() - row == self.width {
            line.row = Some(row as u32);
            self.points |= cut.points;
            self.commas |= cut.commas;
            self.lines.push(line);
        } else {
            self.numbers.truncate(row);
            if end > start {
                let cells = self.record(&line);
                if !cells.is_blank() && !cells.is_rule() {
                    self.lines.push(line);
                }
            }
        }
        Some(stop + 1)
    }

    fn text_of(&self, line: &Line) -> &str {
        let bytes = &self.bytes[line.start as usize..line.end as usize];
        std::str::from_utf8(bytes).unwrap_or_default()
    }

    /// The cells of a line.
    pub fn record(&self, line: &Line) -> StringRecord {
        let text = self.text_of(line);
        let mut record = StringRecord::with_capacity(text.len(), self.width.max(4));
        text.split(char::from(self.delimiter))
            .for_each(|cell| record.push_field(cell));
        record
    }
}

/// What cutting a line showed.
#[derive(Default)]
struct Cut {
    is_row: bool,
    /// Where the line ends, if it was cut to its end.
    stop: Option<usize>,
    filled: u32,
    last: u32,
    points: bool,
    commas: bool,
}

/// Cuts the line at a byte at its delimiters and appends a number a cell.
fn cut(bytes: &[u8], start: usize, delimiter: u8, numbers: &mut Vec<f64>) -> Cut {
    let mut out = Cut::default();
    let (mut at, mut cells) = (start, 0u32);
    loop {
        let cell = at;
        at = match number(bytes, at, delimiter) {
            Some(found) => {
                out.points |= found.mark == b'.';
                out.commas |= found.mark == b',';
                out.is_row = true;
                numbers.push(found.value);
                found.end
            }
            None => {
                // Words or a blank first cell are the general reader's to judge.
                if cells == 0 && !bytes.get(at).is_some_and(u8::is_ascii_digit) {
                    return out;
                }
                numbers.push(f64::NAN);
                memchr2(delimiter, b'\n', &bytes[at..]).map_or(bytes.len(), |length| at + length)
            }
        };
        cells += 1;
        let text = bytes[cell..at].trim_ascii();
        if !text.is_empty() {
            out.filled = cells;
        }
        if bytes.get(at) != Some(&delimiter) {
            out.last = text.len() as u32;
            break;
        }
        at += 1;
    }
    // A number may end before the carriage return of its line.
    out.stop = Some(at + usize::from(bytes.get(at) == Some(&b'\r')));
    out
}

struct Number {
    value: f64,
    /// 0 where there is none.
    mark: u8,
    /// Of the cell.
    end: usize,
}

/// The cell at a byte where it is a plain number: digits with at most a sign before and one mark
/// among them, blanks around.
#[inline]
fn number(bytes: &[u8], mut at: usize, delimiter: u8) -> Option<Number> {
    let byte = |at: usize| bytes.get(at).copied().unwrap_or(b'\n');
    while byte(at) == b' ' {
        at += 1;
    }
    let negative = byte(at) == b'-';
    at += usize::from(negative);
    let (mut digits, mut decimals, mut mark, mut whole) = (0usize, 0usize, 0u8, 0u64);
    loop {
        match byte(at) {
            digit @ b'0'..=b'9' => {
                // Beyond the exact digits the value is not used.
                whole = whole.wrapping_mul(10).wrapping_add(u64::from(digit - b'0'));
                digits += 1;
                decimals += usize::from(mark != 0);
            }
            m @ (b'.' | b',') if mark == 0 && m != delimiter => mark = m,
            _ => break,
        }
        at += 1;
    }
    while byte(at) == b' ' {
        at += 1;
    }
    let ends = byte(at) == delimiter || matches!(byte(at), b'\n' | b'\r');
    if !ends || digits == 0 || digits > EXACT_DIGITS {
        return None;
    }
    let size = whole as f64 / POWERS_OF_TEN[decimals];
    Some(Number {
        value: if negative { -size } else { size },
        mark,
        end: at,
    })
}

/// The rows of a table as a plain text holds them.
pub(super) struct PlainRows<'a> {
    pub plain: Plain<'a>,
    /// Places of the rows used among the lines.
    pub used: Vec<u32>,
}

impl PlainRows<'_> {
    /// Whether a column's plain numbers are its cells' numbers.
    pub fn direct(&self, table: &Table, column: usize) -> bool {
        let wrong = if table.decimal_comma(column) {
            self.plain.points
        } else {
            self.plain.commas
        };
        let header = table.header.get(column);
        !wrong && header.is_some_and(|h| h.unit_in_cells.is_none() && !h.degrees)
    }

    /// Goes through the rows; `direct` by column.
    pub fn each(&self, direct: &[bool], mut take: impl FnMut(u32, PlainCells<'_>)) {
        for &place in &self.used {
            let line = &self.plain.lines[place as usize];
            let plain = &self.plain;
            take(
                line.number,
                PlainCells {
                    plain,
                    line,
                    direct,
                },
            );
        }
    }
}

/// The cells of a row.
#[derive(Clone, Copy)]
pub(super) struct PlainCells<'a> {
    plain: &'a Plain<'a>,
    line: &'a Line,
    direct: &'a [bool],
}

impl CellsOf for PlainCells<'_> {
    fn text(&self, column: usize) -> &str {
        let text = self.plain.text_of(self.line);
        let mut cells = text.split(char::from(self.plain.delimiter));
        cells.nth(column).unwrap_or_default()
    }

    fn number(&self, column: usize) -> Option<f64> {
        let row = self.line.row?;
        if !*self.direct.get(column)? || column >= self.plain.width {
            return None;
        }
        let value = *self.plain.numbers.get(row as usize + column)?;
        (!value.is_nan()).then_some(value)
    }
}
