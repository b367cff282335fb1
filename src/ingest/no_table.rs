//! Texts that are no table: prose, program text, dumps of records.

use super::dialect::common_width;
use super::layout::{Layout, mostly_values};
use super::records::{Cells, Record, is_value};

/// What a text is that holds no table.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum NoTable {
    Prose,
    /// Program text, or records dumped with their names and brackets.
    Code,
}

/// Lines, and words in one, that make a text.
const PROSE_LINES: usize = 4;
const PROSE_WORDS: usize = 3;
/// Words in a cell, on average, that make it a part of a sentence.
const SENTENCE_WORDS: usize = 5;

/// A text that is no table: lines of words that fall into no columns or end as sentences do, and
/// lines whose brackets stay open from cell to cell, as in program text. Three rows of values one
/// below the other make a table whatever stands around them.
pub(super) fn no_table(records: &[Record], delimiter: u8) -> Option<NoTable> {
    let records = &records[..records.len().min(Layout::HEAD)];
    let counted: Vec<&Record> = records
        .iter()
        .filter(|r| !r.cells.is_comment(delimiter))
        .collect();
    let lines = counted.len();
    let is_row = |r: &Record, width: usize| r.cells.len() == width && mostly_values(r);
    let rows = counted.windows(3).any(|w| {
        let width = w[0].cells.len();
        width >= 2 && w.iter().all(|r| is_row(r, width))
    });
    if lines < 2 || rows {
        return None;
    }
    let most = |is: &dyn Fn(&Record) -> bool| 2 * counted.iter().filter(|r| is(r)).count() > lines;
    if most(&|r| is_code(r, delimiter)) {
        return Some(NoTable::Code);
    }
    if most(&|r| is_sentence(r, delimiter)) {
        return Some(NoTable::Prose);
    }
    if lines < PROSE_LINES {
        return None;
    }
    let width = common_width(counted.iter().map(|r| r.cells.len())).unwrap_or(0);
    let fitting = counted.iter().filter(|r| r.cells.len() == width).count();
    let least = if delimiter == b' ' { 0.8 } else { 0.5 };
    let in_columns = width >= 2 && fitting as f64 >= least * lines as f64;
    let (mut all, mut words, mut values, mut cells) = (0usize, 0usize, 0usize, 0usize);
    for cell in counted.iter().flat_map(|r| r.cells.iter()) {
        cells += usize::from(!cell.trim().is_empty());
        for token in cell.split_whitespace() {
            all += 1;
            values += usize::from(is_value(token));
            words += usize::from(token.chars().filter(|c| c.is_alphabetic()).count() >= 2);
        }
    }
    let of_words = 2 * words >= all && 10 * values <= all;
    let long_lines = words >= PROSE_WORDS * lines || width < 2;
    // Cells of whole sentences are commas within a text.
    let sentences = words >= SENTENCE_WORDS * cells;
    (of_words && (sentences || (!in_columns && long_lines))).then_some(NoTable::Prose)
}

/// A line of words that ends as a sentence does; behind a comma within it stands a blank.
fn is_sentence(record: &Record, delimiter: u8) -> bool {
    let words = record
        .cells
        .iter()
        .flat_map(str::split_whitespace)
        .filter(|w| w.chars().filter(|c| c.is_alphabetic()).count() >= 2)
        .count();
    let cells = &record.cells;
    let spaced = delimiter == b' ' || cells.iter().skip(1).all(|c| c.starts_with(' '));
    let last = cells.iter().next_back().unwrap_or_default().trim_end();
    let before = last.strip_suffix(['.', '!', '?']);
    let ends = before.is_some_and(|b| b.ends_with(|c: char| c.is_alphabetic()));
    ends && spaced && words >= PROSE_WORDS && 2 * cells.values() < cells.len()
}

/// Brackets that are open at the end of a cell, or a line that ends as those of programs do.
fn is_code(record: &Record, delimiter: u8) -> bool {
    let open = |cell: &str| {
        [('(', ')'), ('[', ']'), ('{', '}')]
            .iter()
            .any(|(open, close)| cell.matches(*open).count() != cell.matches(*close).count())
    };
    let cells = &record.cells;
    let filled = cells.iter().map(str::trim_end).rfind(|c| !c.is_empty());
    let last = filled.unwrap_or_default();
    let ends = last.ends_with(['{', '}', ':']) || (last.ends_with(';') && delimiter != b';');
    (ends || cells.iter().any(open)) && !mostly_values(record)
}
