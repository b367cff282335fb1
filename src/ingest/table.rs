//! A delimited file as a table of text cells that still know their lines.

use csv::StringRecord;
use serde::{Deserialize, Serialize};

use super::cell::{self, Cell};
use super::channels::AssignedColumn;
use super::dialect::Dialect;
use super::header;
use super::ledger::FileLedger;
use crate::season::{Finding, Place};

/// One column's header.
#[derive(Debug, Clone, Default, PartialEq, Eq, Serialize, Deserialize)]
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
        cell::parse_grouped(text, self.dialect.decimal_comma, self.dialect.thousands)
    }

    /// The cell in SI (throttle as a fraction), by the column's assignment.
    pub fn value(&self, row: usize, column: &AssignedColumn) -> Cell {
        column.to_si(self.raw(row, column.index))
    }

    /// Finds the columns whose numbers carry their unit.
    pub(super) fn find_units_in_cells(&mut self) {
        const ROWS: usize = 50;
        for column in 0..self.header.len() {
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

    /// What to call a column: its header as written, or `#3` where it has none.
    pub fn column_name(&self, column: usize) -> String {
        match self.header.get(column) {
            Some(header) if !header.text.is_empty() => header.text.clone(),
            _ => format!("#{}", column + 1),
        }
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
