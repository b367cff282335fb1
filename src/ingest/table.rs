//! A delimited file as a table of text cells that still know their lines.

use csv::StringRecord;
use serde::{Deserialize, Serialize};

use super::angle;
use super::cell::{self, Cell};
use super::channels::AssignedColumn;
use super::dialect::Dialect;
use super::header;
use super::ledger::FileLedger;
use super::log::Channel;
use super::marks::Marks;
use crate::season::{Finding, Place};

/// One column's header.
#[derive(Debug, Clone, Default, PartialEq, Serialize, Deserialize)]
pub struct HeaderCell {
    /// As written (trimmed), e.g. `Current (A)`; empty where the file has no header.
    pub text: String,
    /// Every character as written; two header rows joined by a blank.
    pub written: String,
    /// Without the unit, e.g. `Current`.
    pub name: String,
    /// The unit written beside the name or in a second header row, as written.
    pub unit: Option<String>,
    /// The unit that stands behind every number of the column (`12.3 V`).
    pub unit_in_cells: Option<String>,
    /// The cells name sides of the world or mark degrees (`48.2 S`, `N48°12.5'`).
    #[serde(default)]
    pub degrees: bool,
    /// A power of ten written in the header (`erpm/100`): the numbers count so many of the unit.
    pub multiplier: Option<f64>,
    /// The column's own decimal mark, where the file's does not settle it.
    pub marks: Option<Marks>,
}

/// One data row; `cells` is as long as the header.
#[derive(Debug, Clone, PartialEq)]
pub struct TableRow {
    /// 1-based line of the file on which the row starts.
    pub line: u32,
    pub cells: StringRecord,
}

#[derive(Debug, Clone, PartialEq)]
pub struct Table {
    /// Relative to the season folder.
    pub file: String,
    pub header: Vec<HeaderCell>,
    pub rows: Vec<TableRow>,
    /// Indices of the first row after each repeated header (the logger was started again).
    pub restarts: Vec<usize>,
    pub dialect: Dialect,
}

/// The cells of one row.
pub(super) trait CellsOf {
    /// As written; empty where the row has no such cell.
    fn text(&self, column: usize) -> &str;

    /// The number that a cell is known to hold, in the column's own unit.
    fn number(&self, column: usize) -> Option<f64>;
}

impl CellsOf for StringRecord {
    fn text(&self, column: usize) -> &str {
        self.get(column).unwrap_or_default()
    }

    fn number(&self, _: usize) -> Option<f64> {
        None
    }
}

/// What reading a table gave.
#[derive(Debug, Clone, PartialEq)]
pub struct TableRead {
    /// `None` when the bytes hold no table.
    pub table: Option<Table>,
    pub ledger: FileLedger,
    pub findings: Vec<Finding>,
}

impl Table {
    /// The cell as written; empty outside the table.
    pub fn text(&self, row: usize, column: usize) -> &str {
        self.rows
            .get(row)
            .and_then(|r| r.cells.get(column))
            .unwrap_or_default()
    }

    /// The cell in the column's own unit.
    pub fn raw(&self, row: usize, column: usize) -> Cell {
        self.parse(self.text(row, column), column)
    }

    /// The decimal mark of a column is the comma.
    pub(super) fn decimal_comma(&self, column: usize) -> bool {
        let own = self.header.get(column).and_then(|h| h.marks);
        own.map_or(self.dialect.decimal_comma, |marks| marks.decimal == ',')
    }

    /// A cell of a row in the column's own unit.
    pub(super) fn cell(&self, cells: &impl CellsOf, column: usize) -> Cell {
        match cells.number(column) {
            Some(number) => Cell::Number(number),
            None => self.parse(cells.text(column), column),
        }
    }

    /// A cell of the column, as written, in the column's own unit.
    pub fn parse(&self, mut text: &str, column: usize) -> Cell {
        if let Some(unit) = self
            .header
            .get(column)
            .and_then(|h| h.unit_in_cells.as_ref())
        {
            text = text.trim_end();
            text = text.strip_suffix(unit.as_str()).unwrap_or(text);
        }
        let comma = self.decimal_comma(column);
        let thousands = match self.header.get(column).and_then(|h| h.marks) {
            Some(marks) => Some(marks.grouping()),
            None => self.dialect.thousands,
        };
        if self.header.get(column).is_some_and(|h| h.degrees)
            && let Some(degrees) = angle::degrees(text, comma)
        {
            return Cell::Number(degrees);
        }
        cell::parse_grouped(text, comma, thousands)
    }

    /// The cell in SI (throttle as a fraction), by the column's assignment.
    pub fn value(&self, row: usize, column: &AssignedColumn) -> Cell {
        let cells = self.rows.get(row).map(|r| &r.cells);
        cells.map_or(Cell::Blank, |cells| column.read(self, cells))
    }

    /// Finds the columns whose numbers carry their unit.
    pub(super) fn find_units_in_cells(&mut self) {
        const ROWS: usize = 50;
        for column in 0..self.header.len() {
            if self.holds_degrees(column) {
                self.header[column].degrees = true;
                continue;
            }
            let mut filled = (0..self.rows.len())
                .map(|row| self.text(row, column).trim())
                .filter(|text| cell::parse(text, self.dialect.decimal_comma) != Cell::Blank)
                .take(ROWS);
            let Some((_, unit)) = filled.next().and_then(header::number_with_unit) else {
                continue;
            };
            if filled.all(|t| header::number_with_unit(t).is_some_and(|(_, u)| u == unit)) {
                let unit = unit.to_owned();
                self.header[column].unit = Some(unit.clone());
                self.header[column].unit_in_cells = Some(unit);
            }
        }
    }

    /// A column by number (`#3`), by header text exactly, else without regard to case or the unit.
    pub fn find_column(&self, column: &str) -> Option<usize> {
        let column = column.trim();
        if let Some(number) = column
            .strip_prefix('#')
            .and_then(|n| n.parse::<usize>().ok())
        {
            return number.checked_sub(1).filter(|i| *i < self.header.len());
        }
        let by = |test: &dyn Fn(&str, &str) -> bool| {
            self.header.iter().position(|h| test(&h.text, &h.name))
        };
        by(&|text, _| text == column)
            .or_else(|| by(&|text, _| text.eq_ignore_ascii_case(column)))
            .or_else(|| by(&|_, name| name.eq_ignore_ascii_case(column)))
    }

    /// How a channel map names a column: by header where that is its alone, else by number.
    pub fn column_key(&self, column: usize) -> String {
        let text = self.header.get(column).map_or("", |h| &h.text);
        let same = self
            .header
            .iter()
            .filter(|h| h.text.eq_ignore_ascii_case(text));
        if text.is_empty() || text.starts_with('#') || same.count() != 1 {
            format!("#{}", column + 1)
        } else {
            text.to_owned()
        }
    }

    /// What to call a column: its header as written, or `#3` where it has none.
    pub fn column_name(&self, column: usize) -> String {
        match self.header.get(column) {
            Some(header) if !header.text.is_empty() => header.text.clone(),
            _ => format!("#{}", column + 1),
        }
    }

    /// The finding of a bench table's cell that is no number.
    pub fn bad_cell(&self, row: usize, column: &AssignedColumn) -> Finding {
        let to_do = if column.channel == Channel::Throttle {
            "Without a throttle the row has no place on the curve and is set aside. Write a number."
        } else {
            "The cell is left out, the rest of the row is used. Write a number, or >100 for a reading \
             at the instrument's end."
        };
        let what = format!(
            "'{}' in column '{}' is no number",
            self.text(row, column.index),
            self.column_name(column.index)
        );
        let line = self.rows.get(row).map_or(0, |r| r.line);
        Finding::warning("bad-cell", what, to_do).at(
            &self.file,
            line,
            Some(column.index as u32 + 1),
        )
    }

    /// Where a row stands.
    pub fn place(&self, row: usize, column: Option<usize>) -> Place {
        Place {
            file: self.file.clone(),
            line: self.rows.get(row).map(|r| r.line),
            column: column.map(|c| c as u32 + 1),
        }
    }
}
