//! Findings as the pages show them: every number with its digits and its place in `findings.json`.

mod answer;
mod ledger;
mod links;
mod pieces;
mod reading;
mod season;
mod sheet;

use serde::Serialize;

use super::names::{Names, Place};
use super::numbers::fixed;
use super::{Drawn, words};
use crate::findings::{Findings, RowsBehind};
use links::Link;

pub use season::{SeasonPage, season};
pub use sheet::{OwnFigure, SheetPage, comparison, flight, power};

/// What every page is made from.
#[derive(Debug, Clone, Copy)]
pub struct Source<'a> {
    pub findings: &'a Findings,
    pub drawn: &'a [Option<Drawn>],
    pub names: &'a Names,
}

/// A number on the page: its digits, and the JSON pointer (RFC 6901) of the same number.
#[derive(Debug, Clone, Serialize)]
pub struct Num {
    pub text: String,
    pub key: String,
    /// Shown times 100.
    pub percent: bool,
}

impl Num {
    fn new(value: f64, decimals: usize, key: String, percent: bool) -> Self {
        let shown = if percent { value * 100.0 } else { value };
        Self {
            text: fixed(shown, decimals),
            key,
            percent,
        }
    }

    /// Three digits; what they cannot show is bounded.
    fn p_value(p: f64, key: String) -> Self {
        if p < 0.001 {
            return Self {
                text: "< 0.001".to_owned(),
                key,
                percent: false,
            };
        }
        Self::new(p, 3, key, false)
    }

    fn count(n: u64, key: String) -> Self {
        Self::new(n as f64, 0, key, false)
    }
}

/// What stands around every page.
#[derive(Debug, Serialize)]
pub struct Shell<'a> {
    /// Of the window.
    title: String,
    /// Over the heading.
    kind: String,
    heading: String,
    season: &'a str,
    invented: bool,
    version: &'a str,
    schema: Num,
    /// From the page to the report's folder.
    root: &'static str,
    units: Vec<UnitView>,
    /// Of the same kind, before and after this page.
    before: Option<Link>,
    after: Option<Link>,
    /// The file beside it with the data of its own pictures.
    own_data: Option<String>,
}

/// What the switch of units changes.
#[derive(Debug, Serialize)]
struct UnitView {
    si: String,
    own: String,
    written: bool,
}

fn shell<'a>(
    source: Source<'a>,
    place: Place,
    title: String,
    kind: String,
    heading: String,
) -> Shell<'a> {
    let findings = source.findings;
    Shell {
        title,
        kind,
        heading,
        season: &findings.season.title,
        invented: findings.season.invented,
        version: &findings.version,
        schema: Num::count(findings.schema.into(), "/schema".to_owned()),
        root: place.0,
        units: findings
            .units
            .iter()
            .map(|u| UnitView {
                si: words::unit(&u.unit),
                own: words::unit(&u.shown),
                written: u.written,
            })
            .collect(),
        before: None,
        after: None,
        own_data: None,
    }
}

/// Rows of the input files that something rests on.
#[derive(Debug, Serialize)]
struct RowsView {
    any: bool,
    files: Num,
    rows_in: Num,
    used: Num,
    set_aside: Num,
}

fn rows_view(rows: &RowsBehind, pointer: &str) -> RowsView {
    let count = |n, name: &str| Num::count(n, format!("{pointer}/{name}"));
    RowsView {
        any: rows.files > 0,
        files: count(rows.files, "files"),
        rows_in: count(rows.rows_in, "rows_in"),
        used: count(rows.rows_used, "rows_used"),
        set_aside: count(rows.rows_set_aside, "rows_set_aside"),
    }
}

/// One step of a JSON pointer.
fn step(name: &str) -> String {
    name.replace('~', "~0").replace('/', "~1")
}
