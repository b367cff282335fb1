//! What one pass over all rows shows of each column.

use std::io;

use super::spark::Spark;
use crate::ingest::{Cell, Passed, Scan};

/// Numbers of a column that show its usual step.
const STEPS: usize = 5000;

/// A column over all rows.
#[derive(Debug, Clone)]
pub struct Tally {
    pub rows: usize,
    /// Rows whose cell is not blank.
    pub filled: usize,
    /// Of these the ones that are no number and no bound.
    pub bad: usize,
    /// Of these the ones that only bound their value, and the farthest bounds of either side.
    pub bounds: usize,
    pub above: Option<f64>,
    pub below: Option<f64>,
    /// Least and greatest number; a bound counts as the number it names.
    pub range: Option<(f64, f64)>,
    pub spark: Spark,
    /// First and last filled cell.
    pub ends: Option<(String, String)>,
    /// Its first numbers.
    pub numbers: Vec<f64>,
}

/// Goes through the rows once.
pub fn tally(scan: &Scan<'_>) -> io::Result<Vec<Tally>> {
    let blank = Tally {
        rows: scan.rows,
        filled: 0,
        bad: 0,
        bounds: 0,
        above: None,
        below: None,
        range: None,
        spark: Spark::new(scan.rows),
        ends: None,
        numbers: Vec::new(),
    };
    let mut out = vec![blank; scan.table.header.len()];
    let mut row = 0;
    scan.each(&mut |passed: Passed<'_>| {
        if passed.aside.is_some() {
            return;
        }
        for (column, (tally, text)) in out.iter_mut().zip(passed.cells).enumerate() {
            tally.add(row, text, scan.table.parse(text, column));
        }
        row += 1;
    })?;
    Ok(out)
}

impl Tally {
    fn add(&mut self, row: usize, text: &str, cell: Cell) {
        self.filled += usize::from(cell != Cell::Blank);
        self.bad += usize::from(cell == Cell::Bad);
        match cell {
            Cell::Above(x) => self.above = Some(self.above.map_or(x, |a| a.max(x))),
            Cell::Below(x) => self.below = Some(self.below.map_or(x, |b| b.min(x))),
            _ => {}
        }
        self.bounds += usize::from(matches!(cell, Cell::Above(_) | Cell::Below(_)));
        let text = text.trim();
        if !text.is_empty() {
            let (_, last) = self
                .ends
                .get_or_insert_with(|| (text.to_owned(), String::new()));
            text.clone_into(last);
        }
        if let Some(x) = number(cell).filter(|x| x.is_finite()) {
            let (low, high) = self.range.get_or_insert((x, x));
            (*low, *high) = (low.min(x), high.max(x));
            self.spark.add(row, x);
        }
        if let Some(x) = cell.number().filter(|_| self.numbers.len() < STEPS) {
            self.numbers.push(x);
        }
    }
}

/// A bound counts as the number it names.
pub fn number(cell: Cell) -> Option<f64> {
    match cell {
        Cell::Number(x) | Cell::Above(x) | Cell::Below(x) => Some(x),
        Cell::Blank | Cell::Bad => None,
    }
}
