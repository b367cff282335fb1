//! Figures and tables, in full at their first place and as links at later ones.

use std::collections::{BTreeMap, BTreeSet};

use serde::Serialize;

use super::Num;
use crate::findings::{DataCell, DataColumn, DataTable, Findings};
use crate::report::{Drawn, words};

/// In full at its first place, as a link at later ones.
#[derive(Debug, Serialize)]
#[serde(rename_all = "lowercase")]
pub(super) enum Shown<T> {
    Full(T),
    Link { anchor: String, words: String },
}

#[derive(Debug, Serialize)]
pub(super) struct FigureView<'a> {
    anchor: String,
    number: usize,
    caption: &'a str,
    alt: &'a str,
    /// Both empty where there is nothing to draw.
    wide: &'a str,
    narrow: &'a str,
    png: String,
}

#[derive(Debug, Serialize)]
pub(super) struct TableView<'a> {
    anchor: String,
    title: &'a str,
    columns: Vec<(&'a str, String, bool)>,
    rows: Vec<Vec<CellView<'a>>>,
}

#[derive(Debug, Serialize)]
struct CellView<'a> {
    text: Option<&'a str>,
    value: Option<Num>,
    low: Option<Num>,
    high: Option<Num>,
}

/// Figures and tables, handed out in full once each.
pub(super) struct Pieces<'a> {
    findings: &'a Findings,
    drawn: &'a [Option<Drawn>],
    stems: &'a [String],
    figure_at: BTreeMap<&'a str, usize>,
    table_at: BTreeMap<&'a str, usize>,
    table_stems: Vec<String>,
    /// Numbers given out, by index of the figure.
    numbers: BTreeMap<usize, usize>,
    tables_shown: BTreeSet<usize>,
}

impl<'a> Pieces<'a> {
    pub(super) fn new(
        findings: &'a Findings,
        drawn: &'a [Option<Drawn>],
        stems: &'a [String],
    ) -> Self {
        let mut figure_at = BTreeMap::new();
        for (i, figure) in findings.figures.iter().enumerate() {
            figure_at.entry(figure.id.as_str()).or_insert(i);
        }
        let mut table_at = BTreeMap::new();
        for (i, table) in findings.tables.iter().enumerate() {
            table_at.entry(table.id.as_str()).or_insert(i);
        }
        Self {
            findings,
            drawn,
            stems,
            figure_at,
            table_at,
            table_stems: words::stems(findings.tables.iter().map(|t| t.id.as_str())),
            numbers: BTreeMap::new(),
            tables_shown: BTreeSet::new(),
        }
    }

    pub(super) fn figure(&mut self, id: &str) -> Option<Shown<FigureView<'a>>> {
        let index = *self.figure_at.get(id)?;
        if let Some(number) = self.numbers.get(&index) {
            return Some(Shown::Link {
                anchor: format!("figure-{}", self.stems.get(index)?),
                words: format!("Figure {number}"),
            });
        }
        self.full_figure(index).map(Shown::Full)
    }

    pub(super) fn full_figure(&mut self, index: usize) -> Option<FigureView<'a>> {
        let figure = self.findings.figures.get(index)?;
        let stem = self.stems.get(index)?;
        let drawn = self.drawn.get(index).and_then(Option::as_ref);
        let number = self.numbers.len() + 1;
        self.numbers.insert(index, number);
        Some(FigureView {
            anchor: format!("figure-{stem}"),
            number,
            caption: &figure.caption,
            alt: &figure.alt,
            wide: drawn.map_or("", |d| &d.wide),
            narrow: drawn.map_or("", |d| &d.narrow),
            png: format!("figures/{stem}.png"),
        })
    }

    pub(super) fn table(&mut self, id: &str) -> Option<Shown<TableView<'a>>> {
        let index = *self.table_at.get(id)?;
        if self.tables_shown.contains(&index) {
            return Some(Shown::Link {
                anchor: format!("table-{}", self.table_stems.get(index)?),
                words: self.findings.tables.get(index)?.title.clone(),
            });
        }
        self.full_table(index).map(Shown::Full)
    }

    pub(super) fn full_table(&mut self, index: usize) -> Option<TableView<'a>> {
        let table = self.findings.tables.get(index)?;
        self.tables_shown.insert(index);
        Some(table_view(table, index, self.table_stems.get(index)?))
    }

    pub(super) fn figures_left(&mut self) -> Vec<FigureView<'a>> {
        let left: Vec<usize> = (0..self.findings.figures.len())
            .filter(|i| !self.numbers.contains_key(i))
            .collect();
        left.into_iter()
            .filter_map(|i| self.full_figure(i))
            .collect()
    }

    pub(super) fn tables_left(&mut self) -> Vec<TableView<'a>> {
        let left: Vec<usize> = (0..self.findings.tables.len())
            .filter(|i| !self.tables_shown.contains(i))
            .collect();
        left.into_iter()
            .filter_map(|i| self.full_table(i))
            .collect()
    }
}

fn table_view<'a>(table: &'a DataTable, index: usize, stem: &str) -> TableView<'a> {
    let is_number = |column: usize| {
        table.rows.iter().any(|row| {
            matches!(
                row.get(column),
                Some(DataCell::Number(_) | DataCell::Interval { .. })
            )
        })
    };
    TableView {
        anchor: format!("table-{stem}"),
        title: &table.title,
        columns: table
            .columns
            .iter()
            .enumerate()
            .map(|(i, c)| {
                let percent = words::is_percent(&c.name, &c.unit);
                let unit = if percent {
                    "%".to_owned()
                } else {
                    words::unit(&c.unit)
                };
                (c.name.as_str(), unit, is_number(i))
            })
            .collect(),
        rows: table
            .rows
            .iter()
            .enumerate()
            .map(|(r, row)| {
                table
                    .columns
                    .iter()
                    .enumerate()
                    .map(|(c, column)| {
                        let pointer = format!("/tables/{index}/rows/{r}/{c}");
                        cell_view(row.get(c), column, &pointer)
                    })
                    .collect()
            })
            .collect(),
    }
}

fn cell_view<'a>(cell: Option<&'a DataCell>, column: &DataColumn, pointer: &str) -> CellView<'a> {
    let percent = words::is_percent(&column.name, &column.unit);
    // The column's digits are those of the JSON's number; two of them go into the percentage.
    let digits = usize::from(if percent {
        column.digits.saturating_sub(2)
    } else {
        column.digits
    });
    let num = |value: f64, name: &str| Num::new(value, digits, format!("{pointer}{name}"), percent);
    let blank = CellView {
        text: None,
        value: None,
        low: None,
        high: None,
    };
    match cell {
        Some(DataCell::Text(text)) => CellView {
            text: Some(text),
            ..blank
        },
        Some(DataCell::Number(value)) if value.is_finite() => CellView {
            value: Some(num(*value, "")),
            ..blank
        },
        Some(DataCell::Interval { value, low, high }) => CellView {
            text: None,
            value: Some(num(*value, "/value")),
            low: low.map(|v| num(v, "/low")),
            high: high.map(|v| num(v, "/high")),
        },
        _ => blank,
    }
}
