//! Sorts the records below the header into rows used and rows set aside.

use std::collections::VecDeque;

use csv::StringRecord;

use super::layout::Layout;
use super::records::{Cells, Record, is_value};

/// Rows before the last that show whether its last number was cut short.
const CUT_ROWS: usize = 20;
/// Rows that show whether the first column holds values.
const LEADING_ROWS: usize = 50;

/// Sorts records into rows used and rows set aside.
#[derive(Clone)]
pub(super) struct Sorter {
    /// No row of the header holds a value: no row of values repeats one.
    words_above: bool,
    /// First record after header and units.
    first: usize,
    /// Usual width of the data.
    usual: usize,
    /// A table of numbers (else of words).
    numeric: bool,
    /// Columns of the table.
    width: usize,
    header: Option<StringRecord>,
    units: Option<StringRecord>,
    groups: Option<StringRecord>,
    /// The first column holds values.
    leading_values: bool,
    delimiter: u8,
    /// The record that has no line end.
    unended: Option<usize>,
    /// Records seen.
    at: usize,
    /// Lengths of the last cells of the rows before.
    last_lengths: VecDeque<usize>,
    /// Line of the first header that differs from the first one.
    pub other_header: Option<u32>,
    under_other_header: bool,
    /// The other header belongs to another table, of another width.
    other_table: bool,
    last_line: u32,
}

pub(super) enum Sorted<'a> {
    /// A row to use; its cells are as many as the columns.
    Row(&'a StringRecord),
    /// The header again.
    Restart,
    SetAside {
        code: &'static str,
        what: &'static str,
        cells: &'a StringRecord,
    },
    NoRow,
}

impl Sorter {
    pub fn new(
        head: &[Record],
        layout: &Layout,
        width: usize,
        delimiter: u8,
        unended: Option<usize>,
    ) -> Self {
        let cells = |row: Option<usize>| row.map(|i| head[i].cells.clone());
        let leading = head[layout.first.min(head.len())..]
            .iter()
            .filter_map(|r| r.cells.get(0))
            .take(LEADING_ROWS);
        let (values, others): (Vec<_>, Vec<_>) = leading.partition(|c| is_value(c));
        let above = [layout.header, layout.units, layout.groups];
        Self {
            words_above: above.iter().flatten().all(|i| !head[*i].cells.has_value()),
            first: layout.first,
            usual: layout.width,
            numeric: layout.numeric,
            width,
            header: cells(layout.header),
            units: cells(layout.units),
            groups: cells(layout.groups),
            leading_values: values.len() > others.len(),
            delimiter,
            unended,
            at: 0,
            last_lengths: VecDeque::new(),
            other_header: None,
            under_other_header: false,
            other_table: false,
            last_line: 0,
        }
    }

    /// Takes a record that is a row whatever its cells are: as many as usual, a number among them, the
    /// first one no word. False where the cells must be looked at ([`Self::sort`]).
    pub fn take_ordinary(&mut self, line: u32, cells: usize, last_length: usize) -> bool {
        let takes = self.words_above
            && self.numeric
            && !self.under_other_header
            && self.at >= self.first
            && self.unended != Some(self.at)
            && cells == self.usual
            && cells == self.width;
        if takes {
            self.at += 1;
            self.last_line = line;
            self.remember(last_length);
        }
        takes
    }

    fn remember(&mut self, last_length: usize) {
        if self.last_lengths.len() == CUT_ROWS {
            self.last_lengths.pop_front();
        }
        self.last_lengths.push_back(last_length);
    }

    pub fn sort<'a>(&mut self, line: u32, cells: &'a mut StringRecord) -> Sorted<'a> {
        let at = self.at;
        self.at += 1;
        if at < self.first {
            return Sorted::NoRow;
        }
        if repeats(cells, self.header.as_ref()) {
            self.under_other_header = false;
            return Sorted::Restart;
        }
        if cells.is_comment(self.delimiter)
            || repeats(cells, self.units.as_ref())
            || repeats(cells, self.groups.as_ref())
        {
            return Sorted::NoRow;
        }
        let gap = line > self.last_line + 1 && self.last_line > 0;
        self.last_line = line;
        if let Some((code, what)) = self.fault(line, cells, self.unended == Some(at), gap) {
            return Sorted::SetAside { code, what, cells };
        }
        if cells.len() != self.width {
            cells.truncate(self.width);
            while cells.len() < self.width {
                cells.push_field("");
            }
        }
        self.remember(last_length(cells));
        Sorted::Row(cells)
    }

    /// Why a record is no row to use: code and words.
    fn fault(
        &mut self,
        line: u32,
        cells: &StringRecord,
        unended: bool,
        gap: bool,
    ) -> Option<(&'static str, &'static str)> {
        if cells.as_slice().contains('\0') {
            return Some(("damaged-row", "NUL bytes within the row"));
        }
        let has_value = !self.numeric || cells.has_value();
        let known = self.is_other_header(cells);
        // Below a blank line, words for fewer or more columns: another table starts.
        let other_table = gap && cells.filled() >= 2 && cells.len() != self.usual;
        if self.numeric && !has_value && (known || other_table) {
            self.other_header.get_or_insert(line);
            self.under_other_header = true;
            self.other_table = !known;
            return Some(("header-changed", "another header in mid-file"));
        }
        self.under_other_header &= !(self.other_table && cells.len() == self.usual);
        if self.under_other_header {
            return Some(("header-changed", "under another header"));
        }
        if cells.width_filled() > self.width {
            return Some(("long-row", "more cells than the header"));
        }
        if unended && (cells.len() < self.usual || self.last_cell_is_cut(cells)) {
            return Some(("cut-off-row", "the last row was cut off"));
        }
        if self.numeric && self.leading_values && starts_with_total(cells) {
            return Some(("totals-row", "a line of totals"));
        }
        if !has_value {
            return Some(("no-number", "text without any number"));
        }
        if cells.len() < self.usual.min(self.width) {
            return Some(("short-row", "fewer cells than the header"));
        }
        None
    }

    /// Words only, most of them words of the header, but not the header: a logger restarted with
    /// other channels.
    fn is_other_header(&self, cells: &StringRecord) -> bool {
        let Some(header) = &self.header else {
            return false;
        };
        let known = |cell: &&str| {
            !cell.is_empty() && header.iter().any(|h| h.trim().eq_ignore_ascii_case(cell))
        };
        let filled = cells.filled();
        filled >= 2 && cells.iter().map(str::trim).filter(known).count() * 2 >= filled
    }

    /// The last cell is shorter than in every one of the [`CUT_ROWS`] rows before it.
    fn last_cell_is_cut(&self, cells: &StringRecord) -> bool {
        let length = last_length(cells);
        self.numeric
            && self.last_lengths.len() == CUT_ROWS
            && self.last_lengths.iter().all(|l| *l > length)
    }
}

fn last_length(cells: &StringRecord) -> usize {
    cells.iter().next_back().map_or(0, |c| c.trim().len())
}

fn repeats(cells: &StringRecord, row: Option<&StringRecord>) -> bool {
    fn filled(cells: &StringRecord) -> impl Iterator<Item = &str> {
        cells.iter().map(str::trim).filter(|c| !c.is_empty())
    }
    row.is_some_and(|row| filled(cells).eq(filled(row)))
}

/// A word in the place of a value that says what the line sums up.
fn starts_with_total(cells: &StringRecord) -> bool {
    #[rustfmt::skip]
    const TOTALS: &[&str] = &[
        "total", "totals", "sum", "sums", "average", "averages", "mean", "avg", "min", "max", "minimum",
        "maximum", "median", "summe", "gesamt", "mittel", "mittelwert", "durchschnitt", "moyenne",
        "somme", "totaux", "promedio", "suma", "media", "somma", "totale", "totaal", "gemiddelde",
        "srednia", "razem", "celkem", "prumer", "summa", "medel", "soma", "stdev", "std",
    ];
    let first = cells.get(0).unwrap_or_default();
    let word = first.trim().trim_end_matches([':', '.']).to_lowercase();
    TOTALS.contains(&word.as_str())
}
