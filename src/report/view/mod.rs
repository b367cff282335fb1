//! Findings as the page shows them: every number with its digits and its place in `findings.json`.

mod answer;
mod ledger;
mod pieces;

use serde::Serialize;

use super::numbers::fixed;
use super::{Drawn, chart, words};
use crate::findings::Findings;
use crate::season::DefaultUsed;
use answer::{AnswerView, answer_view};
use ledger::{FileView, FindingView, file_view, finding_views};
use pieces::{FigureView, Pieces, TableView};

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
        findings: finding_views(&findings.ledger.findings),
        defaults: &season.defaults,
        cautions: &findings.cautions,
    }
}
