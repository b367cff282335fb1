//! Figures and tables, in full at their first place and as links at later ones.

use std::collections::{BTreeMap, BTreeSet};

use serde::Serialize;

use super::Num;
use super::reading::{Reading, unit_words};
use super::sheet::OwnFigure;
use crate::findings::{DataCell, DataColumn, DataTable, Findings};
use crate::report::names::{Names, Place, flight_at};
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
    png: Option<String>,
}

#[derive(Debug, Serialize)]
pub(super) struct TableView<'a> {
    anchor: String,
    title: &'a str,
    columns: Vec<ColumnView<'a>>,
    rows: Vec<Vec<CellView<'a>>>,
}

#[derive(Debug, Serialize)]
struct ColumnView<'a> {
    name: &'a str,
    si: String,
    /// The pilot's unit, where that is another one.
    own: Option<String>,
    numbers: bool,
}

#[derive(Debug, Default, Serialize)]
struct CellView<'a> {
    text: Option<&'a str>,
    /// The page of what the text names.
    href: Option<String>,
    si: Option<Reading>,
    own: Option<Reading>,
}

/// Figures and tables, handed out in full once each.
pub(super) struct Pieces<'a> {
    pub findings: &'a Findings,
    pub names: &'a Names,
    /// Where the page stands that they are for.
    pub place: Place,
    drawn: &'a [Option<Drawn>],
    figure_at: BTreeMap<&'a str, usize>,
    table_at: BTreeMap<&'a str, usize>,
    /// Numbers given out, by index of the figure.
    numbers: BTreeMap<usize, usize>,
    /// Given out to pictures that are none of the findings'.
    own_figures: usize,
    tables_shown: BTreeSet<usize>,
}

impl<'a> Pieces<'a> {
    pub(super) fn new(
        findings: &'a Findings,
        drawn: &'a [Option<Drawn>],
        names: &'a Names,
        place: Place,
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
            names,
            place,
            drawn,
            figure_at,
            table_at,
            numbers: BTreeMap::new(),
            own_figures: 0,
            tables_shown: BTreeSet::new(),
        }
    }

    pub(super) fn figure(&mut self, id: &str) -> Option<Shown<FigureView<'a>>> {
        let index = *self.figure_at.get(id)?;
        if let Some(number) = self.numbers.get(&index) {
            return Some(Shown::Link {
                anchor: format!("figure-{}", self.names.figures.get(index)?),
                words: format!("Figure {number}"),
            });
        }
        self.full_figure(index).map(Shown::Full)
    }

    pub(super) fn full_figure(&mut self, index: usize) -> Option<FigureView<'a>> {
        let figure = self.findings.figures.get(index)?;
        let stem = self.names.figures.get(index)?;
        let drawn = self.drawn.get(index).and_then(Option::as_ref);
        let number = self.numbers.len() + self.own_figures + 1;
        self.numbers.insert(index, number);
        Some(FigureView {
            anchor: format!("figure-{stem}"),
            number,
            caption: &figure.caption,
            alt: &figure.alt,
            wide: drawn.map_or("", |d| &d.wide),
            narrow: drawn.map_or("", |d| &d.narrow),
            png: drawn
                .and_then(|d| d.png.as_ref())
                .and(self.place.figure(self.names, index)),
        })
    }

    /// A picture of the page's flight.
    pub(super) fn own_figure(&mut self, own: &'a OwnFigure<'a>) -> FigureView<'a> {
        self.own_figures += 1;
        let drawn = own.drawn.as_ref();
        FigureView {
            anchor: format!("figure-{}", own.name),
            number: self.numbers.len() + self.own_figures,
            caption: &own.figure.caption,
            alt: &own.figure.alt,
            wide: drawn.map_or("", |d| &d.wide),
            narrow: drawn.map_or("", |d| &d.narrow),
            png: own.png.clone(),
        }
    }

    pub(super) fn table(&mut self, id: &str) -> Option<Shown<TableView<'a>>> {
        let index = *self.table_at.get(id)?;
        if self.tables_shown.contains(&index) {
            return Some(Shown::Link {
                anchor: format!("table-{}", self.names.tables.get(index)?),
                words: self.findings.tables.get(index)?.title.clone(),
            });
        }
        self.full_table(index).map(Shown::Full)
    }

    pub(super) fn full_table(&mut self, index: usize) -> Option<TableView<'a>> {
        let table = self.findings.tables.get(index)?;
        self.tables_shown.insert(index);
        Some(self.table_view(table, index, |_| true))
    }

    /// Rows of a table that name a flight in their first cell, where any does.
    pub(super) fn table_of_flight(&mut self, index: usize, flight: &str) -> Option<TableView<'a>> {
        let table = self.findings.tables.get(index)?;
        let of_flights = table.columns.first()?.name == "flight";
        let names = |row: &Vec<DataCell>| matches!(row.first(), Some(DataCell::Text(text)) if text == flight);
        let any = of_flights && table.rows.iter().any(names);
        any.then(|| self.table_view(table, index, names))
    }

    fn table_view(
        &self,
        table: &'a DataTable,
        index: usize,
        shown: impl Fn(&Vec<DataCell>) -> bool,
    ) -> TableView<'a> {
        let stem = self.names.tables.get(index);
        let is_number = |column: usize| {
            table.rows.iter().any(|row| {
                matches!(
                    row.get(column),
                    Some(DataCell::Number(_) | DataCell::Interval { .. })
                )
            })
        };
        let columns = table.columns.iter().enumerate();
        let rows = table.rows.iter().enumerate();
        TableView {
            anchor: format!("table-{}", stem.map_or("unnamed", String::as_str)),
            title: &table.title,
            columns: columns
                .clone()
                .map(|(i, c)| ColumnView {
                    name: &c.name,
                    si: unit_words(&c.unit, words::is_percent(&c.name, &c.unit)),
                    own: c.shown.as_ref().map(|s| words::unit(&s.unit)),
                    numbers: is_number(i),
                })
                .collect(),
            rows: rows
                .filter(|(_, row)| shown(row))
                .map(|(r, row)| {
                    columns
                        .clone()
                        .map(|(c, column)| {
                            let place = CellAt {
                                table: index,
                                row: r,
                                column: c,
                            };
                            self.cell_view(row.get(c), column, place)
                        })
                        .collect()
                })
                .collect(),
        }
    }

    fn cell_view(
        &self,
        cell: Option<&'a DataCell>,
        column: &DataColumn,
        at: CellAt,
    ) -> CellView<'a> {
        if let Some(DataCell::Text(text)) = cell {
            return CellView {
                text: Some(text),
                href: self.page_of(&column.name, text),
                ..CellView::default()
            };
        }
        let percent = words::is_percent(&column.name, &column.unit);
        // The column's digits are those of the JSON's number; two of them go into the percentage.
        let digits = if percent {
            column.digits.saturating_sub(2)
        } else {
            column.digits
        };
        let pointer = format!("/tables/{}/rows/{}/{}", at.table, at.row, at.column);
        let own = column.shown.as_ref().and_then(|shown| {
            let pointer = format!(
                "/tables/{}/columns/{}/shown/cells/{}",
                at.table, at.column, at.row
            );
            cell_reading(shown.cells.get(at.row), shown.digits, false, &pointer)
        });
        CellView {
            si: cell_reading(cell, digits, percent, &pointer),
            own,
            ..CellView::default()
        }
    }

    /// The page of the flight or power system that a cell names.
    fn page_of(&self, column: &str, text: &str) -> Option<String> {
        match column {
            "flight" => {
                let index = flight_at(&self.findings.flights, text)?;
                self.place.flight(self.names, index)
            }
            "power system" => {
                let index = self.findings.powers.iter().position(|p| p.name == text)?;
                self.place.power(self.names, index)
            }
            _ => None,
        }
    }
}

#[derive(Clone, Copy)]
struct CellAt {
    table: usize,
    row: usize,
    column: usize,
}

fn cell_reading(
    cell: Option<&DataCell>,
    digits: u8,
    percent: bool,
    pointer: &str,
) -> Option<Reading> {
    let num = |value: f64, name: &str| {
        Num::new(
            value,
            usize::from(digits),
            format!("{pointer}{name}"),
            percent,
        )
    };
    match cell? {
        DataCell::Number(value) if value.is_finite() => Some(Reading {
            value: Some(num(*value, "")),
            ..Reading::default()
        }),
        DataCell::Interval { value, low, high } => Some(Reading {
            value: Some(num(*value, "/value")),
            low: low.map(|v| num(v, "/low")),
            high: high.map(|v| num(v, "/high")),
            ..Reading::default()
        }),
        _ => None,
    }
}
