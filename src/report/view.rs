//! Findings as the page shows them: every number with its digits and its place in `findings.json`.

use std::collections::{BTreeMap, BTreeSet};

use serde::Serialize;

use super::numbers::{decimals, fixed};
use super::{Drawn, chart, words};
use crate::findings::{Answer, DataCell, DataColumn, DataTable, Findings, Verdict};
use crate::ingest::FileLedger;
use crate::season::{DefaultUsed, Finding, QuestionKind, Severity};
use crate::stats::estimate::Estimate;

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

    fn count(n: u64, key: String) -> Self {
        Self::new(n as f64, 0, key, false)
    }
}

#[derive(Debug, Serialize)]
pub struct PageView<'a> {
    title: &'a str,
    invented: bool,
    version: &'a str,
    schema: Num,
    season: SeasonView<'a>,
    questions: Vec<AnswerView<'a>>,
    /// What no answer refers to.
    figures: Vec<FigureView<'a>>,
    tables: Vec<TableView<'a>>,
    files: Vec<FileView<'a>>,
    totals: bool,
    findings: Vec<FindingView<'a>>,
    defaults: &'a [DefaultUsed],
    cautions: &'a [String],
}

#[derive(Debug, Serialize)]
struct SeasonView<'a> {
    site: &'a str,
    airframes: &'a [String],
    powers: Vec<PowerView<'a>>,
    days: &'a [String],
    flights: Num,
    bench_runs: Num,
    seed: Num,
}

#[derive(Debug, Serialize)]
struct PowerView<'a> {
    name: &'a str,
    colour: String,
}

#[derive(Debug, Serialize)]
struct AnswerView<'a> {
    anchor: String,
    asks: &'a str,
    verdict: &'static str,
    settled: bool,
    is_card: bool,
    answer: &'a Answer,
    headline: Vec<EstimateView<'a>>,
    lead: Option<Shown<FigureView<'a>>>,
    estimates: Vec<EstimateView<'a>>,
    figures: Vec<Shown<FigureView<'a>>>,
    tables: Vec<Shown<TableView<'a>>>,
}

/// In full at its first place, as a link at later ones.
#[derive(Debug, Serialize)]
#[serde(rename_all = "lowercase")]
enum Shown<T> {
    Full(T),
    Link { anchor: String, words: String },
}

#[derive(Debug, Serialize)]
struct EstimateView<'a> {
    name: String,
    value: Option<Num>,
    low: Option<Num>,
    high: Option<Num>,
    unit: String,
    level: Option<Num>,
    at: Vec<(String, Num, String)>,
    counts: Vec<(Num, &'a str)>,
    method: &'a str,
    inputs: &'a [String],
}

#[derive(Debug, Serialize)]
struct FigureView<'a> {
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
struct TableView<'a> {
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

#[derive(Debug, Serialize)]
struct FileView<'a> {
    file: &'a str,
    rows_in: Num,
    rows_used: Num,
    rows_set_aside: Num,
    reasons: Vec<ReasonView<'a>>,
}

#[derive(Debug, Serialize)]
struct ReasonView<'a> {
    what: &'a str,
    count: Num,
    first_line: Num,
}

#[derive(Debug, Serialize)]
struct FindingView<'a> {
    severity: &'static str,
    place: Option<String>,
    finding: &'a Finding,
}

/// One step of a JSON pointer.
fn step(name: &str) -> String {
    name.replace('~', "~0").replace('/', "~1")
}

pub fn page<'a>(
    findings: &'a Findings,
    drawn: &'a [Option<Drawn>],
    stems: &'a [String],
) -> PageView<'a> {
    let mut pieces = Pieces::new(findings, drawn, stems);
    let anchors = words::stems(findings.questions.iter().map(|q| q.id.as_str()));
    let questions = findings
        .questions
        .iter()
        .zip(anchors)
        .enumerate()
        .map(|(i, (answer, anchor))| answer_view(answer, anchor, i, &mut pieces))
        .collect();
    let season = &findings.season;
    let count = |n, key: &str| Num::count(n, key.to_owned());
    PageView {
        title: &season.title,
        invented: season.invented,
        version: &findings.version,
        schema: count(findings.schema.into(), "/schema"),
        season: SeasonView {
            site: &season.site,
            airframes: &season.airframes,
            powers: season
                .powers
                .iter()
                .map(|p| PowerView {
                    name: &p.name,
                    colour: chart::look(p.colour).colour.hex(),
                })
                .collect(),
            days: &season.days,
            flights: count(season.flights, "/season/flights"),
            bench_runs: count(season.bench_runs, "/season/bench_runs"),
            seed: count(season.seed, "/season/seed"),
        },
        questions,
        figures: pieces.figures_left(),
        tables: pieces.tables_left(),
        files: findings
            .ledger
            .files
            .iter()
            .enumerate()
            .map(|(i, f)| file_view(f, i))
            .collect(),
        totals: !findings.ledger.files.is_empty(),
        findings: findings.ledger.findings.iter().map(finding_view).collect(),
        defaults: &season.defaults,
        cautions: &findings.cautions,
    }
}

fn answer_view<'a>(
    answer: &'a Answer,
    anchor: String,
    index: usize,
    pieces: &mut Pieces<'a>,
) -> AnswerView<'a> {
    let shown = |key: &'a str, estimate: &'a Estimate| {
        let pointer = format!("/questions/{index}/estimates/{}", step(key));
        estimate_view(key, estimate, &pointer)
    };
    let headline = answer
        .headline
        .iter()
        .filter_map(|key| answer.estimates.get_key_value(key))
        .map(|(key, estimate)| shown(key, estimate))
        .collect();
    let first = answer
        .headline
        .iter()
        .filter_map(|key| answer.estimates.get_key_value(key));
    let others = answer
        .estimates
        .iter()
        .filter(|(key, _)| !answer.headline.contains(key));
    let estimates = first.chain(others).map(|(k, e)| shown(k, e)).collect();
    let mut figures = answer.figures.iter().filter_map(|id| pieces.figure(id));
    let lead = figures.next();
    let figures = figures.collect();
    let tables = answer
        .tables
        .iter()
        .filter_map(|id| pieces.table(id))
        .collect();
    AnswerView {
        anchor: format!("question-{anchor}"),
        asks: &answer.asks,
        verdict: words::verdict(answer.verdict),
        settled: answer.verdict != Verdict::NotSettled,
        is_card: answer.question == QuestionKind::Next,
        answer,
        headline,
        lead,
        estimates,
        figures,
        tables,
    }
}

fn estimate_view<'a>(key: &str, estimate: &'a Estimate, pointer: &str) -> EstimateView<'a> {
    let percent = words::is_percent(key, &estimate.unit);
    let scaled = |v: Option<f64>| v.map(|v| if percent { v * 100.0 } else { v });
    let digits = decimals(
        scaled(estimate.value),
        scaled(estimate.low),
        scaled(estimate.high),
    );
    let num = |value: Option<f64>, name: &str| {
        value
            .filter(|v| v.is_finite())
            .map(|v| Num::new(v, digits, format!("{pointer}/{name}"), percent))
    };
    let bounded = estimate.low.is_some() || estimate.high.is_some();
    let level = estimate.level;
    EstimateView {
        name: words::estimate_name(key, &estimate.unit),
        value: num(estimate.value, "value"),
        low: num(estimate.low, "low"),
        high: num(estimate.high, "high"),
        unit: if percent {
            "%".to_owned()
        } else {
            words::unit(&estimate.unit)
        },
        level: (bounded && level > 0.0).then(|| {
            let digits = chart::short_decimals(level * 100.0);
            Num::new(level, digits, format!("{pointer}/level"), true)
        }),
        at: estimate
            .at
            .iter()
            .map(|(name, condition)| {
                let percent = words::is_percent(name, &condition.unit);
                let shown = if percent {
                    100.0 * condition.value
                } else {
                    condition.value
                };
                let digits = decimals(Some(shown), None, None);
                let key = format!("{pointer}/at/{}/value", step(name));
                let unit = if percent {
                    "%".to_owned()
                } else {
                    words::unit(&condition.unit)
                };
                (
                    words::plain(name),
                    Num::new(condition.value, digits, key, percent),
                    unit,
                )
            })
            .collect(),
        counts: estimate
            .basis
            .counts
            .iter()
            .map(|(what, n)| {
                let key = format!("{pointer}/basis/counts/{}", step(what));
                (Num::count(*n, key), what.as_str())
            })
            .collect(),
        method: &estimate.basis.method,
        inputs: &estimate.basis.inputs,
    }
}

fn file_view(file: &FileLedger, index: usize) -> FileView<'_> {
    let at = |name: &str| format!("/ledger/files/{index}/{name}");
    FileView {
        file: &file.file,
        rows_in: Num::count(file.rows_in, at("rows_in")),
        rows_used: Num::count(file.rows_used, at("rows_used")),
        rows_set_aside: Num::count(file.rows_set_aside, at("rows_set_aside")),
        reasons: file
            .reasons
            .iter()
            .enumerate()
            .map(|(i, reason)| ReasonView {
                what: &reason.what,
                count: Num::count(reason.count, at(&format!("reasons/{i}/count"))),
                first_line: Num::count(reason.first_line, at(&format!("reasons/{i}/first_line"))),
            })
            .collect(),
    }
}

fn finding_view(finding: &Finding) -> FindingView<'_> {
    FindingView {
        severity: match finding.severity {
            Severity::Error => "Error",
            Severity::Warning => "Warning",
            Severity::Note => "Note",
        },
        place: finding.place.as_ref().map(ToString::to_string),
        finding,
    }
}

/// Figures and tables, handed out in full once each.
struct Pieces<'a> {
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
    fn new(findings: &'a Findings, drawn: &'a [Option<Drawn>], stems: &'a [String]) -> Self {
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

    fn figure(&mut self, id: &str) -> Option<Shown<FigureView<'a>>> {
        let index = *self.figure_at.get(id)?;
        if let Some(number) = self.numbers.get(&index) {
            return Some(Shown::Link {
                anchor: format!("figure-{}", self.stems.get(index)?),
                words: format!("Figure {number}"),
            });
        }
        self.full_figure(index).map(Shown::Full)
    }

    fn full_figure(&mut self, index: usize) -> Option<FigureView<'a>> {
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

    fn table(&mut self, id: &str) -> Option<Shown<TableView<'a>>> {
        let index = *self.table_at.get(id)?;
        if self.tables_shown.contains(&index) {
            return Some(Shown::Link {
                anchor: format!("table-{}", self.table_stems.get(index)?),
                words: self.findings.tables.get(index)?.title.clone(),
            });
        }
        self.full_table(index).map(Shown::Full)
    }

    fn full_table(&mut self, index: usize) -> Option<TableView<'a>> {
        let table = self.findings.tables.get(index)?;
        self.tables_shown.insert(index);
        Some(table_view(table, index, self.table_stems.get(index)?))
    }

    fn figures_left(&mut self) -> Vec<FigureView<'a>> {
        let left: Vec<usize> = (0..self.findings.figures.len())
            .filter(|i| !self.numbers.contains_key(i))
            .collect();
        left.into_iter()
            .filter_map(|i| self.full_figure(i))
            .collect()
    }

    fn tables_left(&mut self) -> Vec<TableView<'a>> {
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
