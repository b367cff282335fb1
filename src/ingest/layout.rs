//! Where header, units and data stand in a delimited file.
//!
//! *Data-like* records have the common width and at least a third of their filled cells are
//! numbers or time stamps. The header is the nearest record of text above the first of them that is
//! well filled (the rows before a receiver has its fix are not); where that record consists of
//! units, it is the row of units and the header stands above it; units may also stand under some of
//! the names only, or right above them. A row of words right above the names that groups them (`Battery`, `Battery`,
//! `Motor` above `Voltage`, `Current`, `Speed`) belongs to the header: it repeats words or stands
//! above blank names (merged cells), tells equal names apart, or is as full and names quantities. A
//! file without data-like records
//! (a table of words) has its first record of the common width as header. Where the rows are one cell
//! longer than the header and their first cells count 0, 1, 2 or 1, 2, 3, those are row numbers, and
//! the names belong to the columns after them.

use std::collections::BTreeSet;

use super::dialect::common_width;
use super::header;
use super::records::{Cells, Record};
use super::table::HeaderCell;
use super::words;

/// Where things stand in the list of records (blank ones left out).
pub(super) struct Layout {
    pub header: Option<usize>,
    pub units: Option<usize>,
    /// Words above the names that belong to them.
    pub groups: Option<usize>,
    /// First record after header and units.
    pub first: usize,
    /// Common width of the data.
    pub width: usize,
    /// A table of numbers (else of words).
    pub numeric: bool,
    /// The first column holds row numbers and has no name: header rows shorter than the data begin at
    /// the second.
    pub row_numbers: bool,
}

/// How the rows outgrow the header.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Longer {
    /// By a first cell that counts the rows.
    RowNumbers,
    /// By cells that nothing names.
    Unnamed,
}

/// Rows that show whether the first column counts them.
const COUNTED_ROWS: usize = 3;
/// Nearly all, in hundredths.
const NEARLY_ALL: usize = 95;

/// A column of time by one of these, in the languages of the channels' words.
const TIME_WORDS: [&str; 9] = [
    "time",
    "timestamp",
    "zeit",
    "uhrzeit",
    "temps",
    "heure",
    "tiempo",
    "hora",
    "tempo",
];

impl Layout {
    /// Records looked at: the layout shows at the top, long logs need not be judged twice.
    pub const HEAD: usize = 2000;

    pub fn of(records: &[Record], delimiter: u8) -> Self {
        let records = &records[..records.len().min(Self::HEAD)];
        if let Some(layout) = Self::of_a_header_alone(records, delimiter) {
            return layout;
        }
        let data: Vec<usize> = (0..records.len())
            .filter(|&i| !records[i].cells.is_comment(delimiter) && mostly_values(&records[i]))
            .collect();
        let width_of_all = common_width(
            records
                .iter()
                .filter(|r| !r.cells.is_comment(delimiter))
                .map(|r| r.cells.len()),
        );
        let Some(width) = common_width(data.iter().map(|&i| records[i].cells.len())) else {
            return Self::of_words(records, delimiter, width_of_all.unwrap_or(1));
        };
        let mut filled: Vec<usize> = data.iter().map(|&i| records[i].cells.filled()).collect();
        filled.sort_unstable();
        let usual = filled[filled.len() / 2];
        let fits = |r: &Record| r.cells.len() == width && r.cells.filled() * 5 >= usual * 2;
        let Some(first) = data.iter().copied().find(|&i| fits(&records[i])) else {
            return Self::of_words(records, delimiter, width_of_all.unwrap_or(1));
        };
        let rows = || data.iter().map(|&i| &records[i]);
        let numbered = delimiter == b' ' && counts(rows());
        let is_header = |i: usize| {
            let r = &records[i];
            // Cut at blanks, a header of another width cannot be told from prose, but for the name
            // that row numbers lack.
            let fits = match delimiter {
                b' ' => r.cells.len() + usize::from(numbered && i + 1 == first) == width,
                _ => r.cells.len() + 1 >= width,
            };
            fits && r.cells.filled() * 2 >= usual && r.cells.values() * 5 <= r.cells.filled()
        };
        let nearest = |comments: bool| {
            (0..first)
                .rev()
                .find(|&i| records[i].cells.is_comment(delimiter) == comments && is_header(i))
        };
        let (mut header, mut units) = (nearest(false).or_else(|| nearest(true)), None);
        if let Some(at) = header.filter(|&at| at > 0 && is_unit_row(&records[at])) {
            let name_row = at - 1;
            // Names may be units, too (`Volt`, `Amp`): the row of units is the one of nothing else.
            let purer = only_units(&records[at]) && !only_units(&records[name_row]);
            if is_header(name_row) && (purer || !is_unit_row(&records[name_row])) {
                units = Some(at);
                header = Some(name_row);
            }
        }
        if let Some(at) = header.filter(|at| units.is_none() && at + 1 < first)
            && only_units(&records[at + 1])
        {
            units = Some(at + 1);
        }
        if let Some(at) = header.filter(|at| units.is_none() && *at > 0) {
            let (above, names) = (&records[at - 1], &records[at]);
            let fits = above.line + 1 == names.line && above.cells.len() == names.cells.len();
            let full =
                above.cells.filled() >= 2 && 2 * above.cells.filled() >= names.cells.filled();
            if fits && full && only_units(above) && !is_unit_row(names) {
                units = Some(at - 1);
            }
        }
        let groups = header.and_then(|at| at.checked_sub(1)).filter(|&at| {
            delimiter != b' ' && groups_names(&records[at], &records[at + 1], delimiter)
        });
        Self {
            header,
            units,
            groups,
            first: match units.max(header) {
                Some(at) => at + 1,
                // Without a header sparse rows above the first full one count as well.
                None => (0..first)
                    .find(|&i| mostly_values(&records[i]) && records[i].cells.len() == width)
                    .unwrap_or(first),
            },
            width,
            numeric: true,
            row_numbers: false,
        }
    }

    /// Whether nearly all rows are longer than the header, and by what; a last cell that is always
    /// empty is but a trailing delimiter.
    pub fn longer_rows(&self, records: &[Record], delimiter: u8) -> Option<Longer> {
        let names = &records.get(self.header?)?.cells;
        let rows: Vec<&Record> = records[self.first.min(records.len())..]
            .iter()
            .take(Self::HEAD)
            .filter(|r| !r.cells.is_comment(delimiter) && mostly_values(r))
            .collect();
        let nearly_all = |count: usize| 100 * count >= NEARLY_ALL * rows.len().max(1);
        let longer = rows.iter().filter(|r| r.cells.len() > names.len());
        let named = names.width_filled();
        let filled = rows.iter().filter(|r| r.cells.width_filled() > named);
        if !self.numeric || !nearly_all(longer.count()) || 2 * filled.count() < rows.len() {
            return None;
        }
        let by_one = rows.iter().filter(|r| r.cells.len() == names.len() + 1);
        Some(
            if nearly_all(by_one.count()) && counts(rows.iter().copied()) {
                Longer::RowNumbers
            } else {
                Longer::Unnamed
            },
        )
    }

    /// The header of every column, units split off; `filled` is the widest row of data.
    pub fn header_cells(&self, records: &[Record], filled: usize) -> Vec<HeaderCell> {
        let shift = |i: usize| usize::from(self.row_numbers && records[i].cells.len() < self.width);
        let written_at = |row: Option<usize>, column: usize| {
            row.and_then(|i| records[i].cells.get(column.checked_sub(shift(i))?))
                .unwrap_or_default()
        };
        let text_at = |row: Option<usize>, column: usize| written_at(row, column).trim();
        // A column without header and without any value is but a trailing delimiter.
        let written = self
            .header
            .map_or(0, |i| records[i].cells.width_filled() + shift(i));
        let width = if self.numeric {
            written.max(filled)
        } else {
            self.width
        };
        let mut group = String::new();
        (0..width)
            .map(|column| {
                let mut text = text_at(self.header, column);
                if column == self.header.map_or(0, shift) {
                    text = text.trim_start_matches(['#', '/', '%', ';', ' ']);
                }
                let above = text_at(self.groups, column);
                if !above.is_empty() || text.is_empty() {
                    above.clone_into(&mut group);
                }
                let unit = text_at(self.units, column).trim_matches(['(', ')', '[', ']', ' ']);
                let unit = Some(unit).filter(|u| !u.is_empty() && !is_dash(u));
                let joined = |above: &str| format!("{above} {text}").trim().to_owned();
                let mut cell = header::parse(&joined(above), unit);
                if group != above {
                    // A merged cell's words stand above its first column only.
                    cell.name = header::parse(&joined(&group), unit).name;
                }
                if text.is_empty() {
                    group.clear();
                }
                let rows = [self.groups, self.header, self.units];
                cell.written = rows
                    .map(|row| written_at(row, column))
                    .into_iter()
                    .filter(|t| !t.is_empty())
                    .collect::<Vec<_>>()
                    .join(" ");
                cell
            })
            .collect()
    }

    /// The first record of the header, or else of the data.
    pub fn top(&self) -> usize {
        let names = self.groups.or(self.header).unwrap_or(self.first);
        self.units.map_or(names, |units| units.min(names))
    }

    /// A logger that was switched off before its first row: the file ends with its header (and its
    /// units), which is wider than anything above and names a time or units.
    fn of_a_header_alone(records: &[Record], delimiter: u8) -> Option<Self> {
        let last = records.len().checked_sub(1)?;
        let units = (last > 0 && is_unit_row(&records[last])).then_some(last);
        let at = units.map_or(last, |u| u - 1);
        let cells = &records[at].cells;
        let width = cells.width_filled();
        let wider = records[..at].iter().all(|r| r.cells.filled() < width);
        let named = |text: &str| header::parse(text, None).unit.is_some() || is_time_word(text);
        let is_header = width >= 2
            && records.len() < Self::HEAD
            && cells.values() == 0
            && cells.filled() == width
            && !cells.is_comment(delimiter)
            && (units.is_some() || cells.iter().any(named));
        (wider && is_header).then(|| Self {
            groups: None,
            header: Some(at),
            units,
            first: last + 1,
            width: cells.len(),
            numeric: true,
            row_numbers: false,
        })
    }

    fn of_words(records: &[Record], delimiter: u8, width: usize) -> Self {
        let header = records
            .iter()
            .position(|r| r.cells.len() == width && !r.cells.is_comment(delimiter));
        Self {
            header,
            units: None,
            groups: None,
            first: header.map_or(0, |at| at + 1),
            width,
            numeric: false,
            row_numbers: false,
        }
    }
}

/// The first cells of nearly all rows count 0, 1, 2 or 1, 2, 3.
fn counts<'r>(rows: impl Iterator<Item = &'r Record>) -> bool {
    let numbers: Vec<Option<u64>> = rows
        .map(|r| r.cells.get(0).unwrap_or_default().trim().parse().ok())
        .collect();
    let steps = numbers.windows(2).filter(|w| match (w[0], w[1]) {
        (Some(a), Some(b)) => a.checked_add(1) == Some(b),
        _ => false,
    });
    numbers.len() >= COUNTED_ROWS
        && matches!(numbers[0], Some(0 | 1))
        && 100 * steps.count() >= NEARLY_ALL * (numbers.len() - 1)
}

pub(super) fn mostly_values(record: &Record) -> bool {
    let values = record.cells.values();
    values > 0 && values * 3 >= record.cells.filled()
}

/// Most cells are units, and none is a name with its unit or a word for time: `Time (s)`, `Volts`,
/// `Amps` are names.
fn is_unit_row(record: &Record) -> bool {
    let names = |cell: &str| {
        let parsed = header::parse(cell, None);
        let with_unit = cell.contains(['(', '[']) && parsed.unit.is_some();
        (with_unit && !parsed.name.is_empty() && !header::is_unit(&parsed.name))
            || is_time_word(cell)
    };
    let bare = |cell: &str| header::is_unit(cell.trim_matches(['(', ')', '[', ']', ' ', '#']));
    if record.cells.iter().any(|cell| !bare(cell) && names(cell)) {
        return false;
    }
    let units = record
        .cells
        .iter()
        .filter(|c| header::is_unit(c.trim_matches(['(', ')', '[', ']', ' ', '#'])))
        .count();
    units > 0 && units * 5 >= record.cells.filled() * 3
}

fn is_time_word(text: &str) -> bool {
    let tokens = words::tokens(text);
    tokens.iter().any(|t| TIME_WORDS.contains(&t.as_str()))
}

fn is_dash(text: &str) -> bool {
    matches!(text, "-" | "–" | "—" | "")
}

/// Units under some of the names, and nothing else.
fn only_units(record: &Record) -> bool {
    let trimmed = |c: &str| c.trim_matches(['(', ')', '[', ']', ' ']).to_owned();
    let filled = || {
        record
            .cells
            .iter()
            .filter(|c| !c.trim().is_empty())
            .map(trimmed)
    };
    // A `1` is a value, not the unit of a ratio.
    !record.cells.has_value()
        && filled().any(|c| header::is_unit(&c))
        && filled().all(|c| header::is_unit(&c) || is_dash(&c))
}

/// Whether the words of a record belong to the names right below it.
fn groups_names(above: &Record, names: &Record, delimiter: u8) -> bool {
    let cell = |r: &Record, column: usize| {
        let text = r.cells.get(column).unwrap_or_default();
        text.trim().to_lowercase()
    };
    let width = names.cells.len();
    let filled = above.cells.filled();
    let next = above.line + 1 == names.line;
    if !next
        || above.cells.len() != width
        || filled < 2
        || above.cells.has_value()
        || above.cells.is_comment(delimiter)
        || is_unit_row(above)
        || (0..width).all(|c| cell(above, c) == cell(names, c))
    {
        return false;
    }
    let columns = || (0..width).filter(|&c| !cell(above, c).is_empty());
    let distinct = |texts: Vec<String>| {
        let count = texts.len();
        texts.into_iter().collect::<BTreeSet<_>>().len() == count
    };
    let merged = above.cells.width_filled() <= names.cells.width_filled()
        && columns().any(|c| cell(names, c).is_empty());
    let repeated = !distinct(columns().map(|c| cell(above, c)).collect());
    let named = || (0..width).filter(|&c| !cell(names, c).is_empty());
    let tells_apart = !distinct(named().map(|c| cell(names, c)).collect())
        && distinct(
            named()
                .map(|c| cell(above, c) + " " + &cell(names, c))
                .collect(),
        );
    let known = columns()
        .filter(|&c| words::is_known(&cell(above, c)))
        .count();
    let full = filled >= names.cells.filled() && known * 2 > filled;
    merged || repeated || tells_apart || full
}
