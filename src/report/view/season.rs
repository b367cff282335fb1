//! The season page: the questions answered first, then the season at a glance, then the account.

use serde::Serialize;

use super::answer::{AnswerView, InShort, brief, in_short};
use super::ledger::{FileView, FindingView, file_view, finding_views};
use super::links::{self, Calendar, Link, calendar};
use super::pieces::{FigureView, Pieces, TableView};
use super::reading::{EstimateView, estimate_view};
use super::{Num, RowsView, Shell, Source, rows_view, shell};
use crate::findings::{Answer, Findings};
use crate::report::names::Place;
use crate::report::words;
use crate::season::{DefaultUsed, QuestionKind, Severity};

#[derive(Debug, Serialize)]
pub struct SeasonPage<'a> {
    shell: Shell<'a>,
    season: SeasonView<'a>,
    topics: Vec<Topic<'a>>,
    any_answer: bool,
    calendar: Calendar<'a>,
    flights: FlightList<'a>,
    powers: Vec<Link>,
    comparisons: Vec<Link>,
    /// What no answer and no other page refers to.
    figures: Vec<FigureView<'a>>,
    tables: Vec<TableView<'a>>,
    files: Vec<FileView<'a>>,
    totals: RowsView,
    /// Errors and warnings, then notes.
    findings: Vec<FindingView<'a>>,
    notes: Vec<FindingView<'a>>,
    defaults: &'a [DefaultUsed],
    cautions: &'a [String],
}

#[derive(Debug, Serialize)]
struct SeasonView<'a> {
    site: &'a str,
    airframes: &'a [String],
    days: &'a [String],
    flights: Num,
    bench_runs: Num,
    seed: Num,
}

/// One of the season's questions, with an answer for each system, pack or pair that it is asked of.
#[derive(Debug, Serialize)]
struct Topic<'a> {
    /// Among the seven; what to change is asked only where options are declared.
    number: Option<usize>,
    anchor: &'static str,
    asks: &'a str,
    answers: Vec<AnswerView<'a>>,
    short: Vec<InShort<'a>>,
    /// What it would take to ask it.
    not_asked: Option<&'static str>,
}

/// A line a flight, with the numbers that tell flights apart.
#[derive(Debug, Serialize)]
struct FlightList<'a> {
    columns: Vec<String>,
    rows: Vec<FlightLine<'a>>,
}

#[derive(Debug, Serialize)]
struct FlightLine<'a> {
    link: Link,
    day: &'a str,
    airframe: &'a str,
    power: &'a str,
    pack: &'a str,
    cells: Vec<Option<EstimateView<'a>>>,
    remarks: &'a str,
}

const LISTED: [&str; 4] = ["airborne", "level_speed", "mean_power", "charge"];

pub fn season(source: Source<'_>) -> SeasonPage<'_> {
    let Source {
        findings,
        drawn,
        names,
    } = source;
    let place = Place::SEASON;
    let mut pieces = Pieces::new(findings, drawn, names, place);
    let topics: Vec<Topic> = TOPICS
        .iter()
        .filter_map(|topic| topic_view(topic, &mut pieces))
        .collect();
    let facts = &findings.season;
    let count = |n, key: &str| Num::count(n, key.to_owned());
    let (figures, tables) = left(findings, &mut pieces);
    let of_severity = |notes: bool| {
        let kind = |s: Severity| (s == Severity::Note) == notes;
        finding_views(findings.ledger.findings.iter().filter(|f| kind(f.severity)))
    };
    SeasonPage {
        shell: shell(
            source,
            place,
            format!("{} – Benchborne report", facts.title),
            "Bench test and flight report".to_owned(),
            facts.title.clone(),
        ),
        season: SeasonView {
            site: &facts.site,
            airframes: &facts.airframes,
            days: &facts.days,
            flights: count(facts.flights, "/season/flights"),
            bench_runs: count(facts.bench_runs, "/season/bench_runs"),
            seed: count(facts.seed, "/season/seed"),
        },
        any_answer: !findings.questions.is_empty(),
        topics,
        calendar: calendar(findings, names, place),
        flights: flight_list(findings, &pieces),
        powers: (0..findings.powers.len())
            .filter_map(|i| links::power(findings, names, place, i))
            .collect(),
        comparisons: (0..findings.comparisons.len())
            .filter_map(|i| links::comparison(findings, names, place, i))
            .collect(),
        figures,
        tables,
        files: findings
            .ledger
            .files
            .iter()
            .enumerate()
            .map(|(i, f)| file_view(f, i))
            .collect(),
        totals: rows_view(&findings.ledger.totals, "/ledger/totals"),
        findings: of_severity(false),
        notes: of_severity(true),
        defaults: &facts.defaults,
        cautions: &findings.cautions,
    }
}

/// A kind of question: its number, its place on the page, its words and what it takes to ask it.
struct TopicOf {
    kind: QuestionKind,
    number: Option<usize>,
    anchor: &'static str,
    asks: &'static str,
    takes: &'static str,
}

/// In the order that they are asked in (design section 1).
const TOPICS: [TopicOf; 8] = [
    TopicOf {
        kind: QuestionKind::CarryOver,
        number: Some(1),
        anchor: "carry-over",
        asks: "Did the static gain carry over into flight?",
        takes: "a second power system to compare with the first",
    },
    TopicOf {
        kind: QuestionKind::PowerAndDuration,
        number: Some(2),
        anchor: "power-and-duration",
        asks: "What power does it really draw in the air, and how long can I fly?",
        takes: "a power system",
    },
    TopicOf {
        kind: QuestionKind::Controller,
        number: Some(3),
        anchor: "controller",
        asks: "Does the controller have enough headroom?",
        takes: "a power system",
    },
    TopicOf {
        kind: QuestionKind::Airframe,
        number: Some(4),
        anchor: "airframe",
        asks: "Is the airframe loaded harder than before?",
        takes: "a second power system to compare with the first",
    },
    TopicOf {
        kind: QuestionKind::Pack,
        number: Some(5),
        anchor: "pack",
        asks: "Is the pack up to it, and is it ageing?",
        takes: "a pack, declared and named in the logbook",
    },
    TopicOf {
        kind: QuestionKind::Sisters,
        number: Some(6),
        anchor: "sisters",
        asks: "Are the sister airframes really alike?",
        takes: "two airframes that flew the same power systems",
    },
    TopicOf {
        kind: QuestionKind::WhatToChange,
        number: None,
        anchor: "what-to-change",
        asks: "Which of the changes under consideration does the evidence support?",
        takes: "",
    },
    TopicOf {
        kind: QuestionKind::Next,
        number: Some(7),
        anchor: "next",
        asks: "What should I measure or fly next?",
        takes: "a question that can be asked of the season",
    },
];

/// `None` where a question that only some seasons have is not asked.
fn topic_view<'a>(topic: &TopicOf, pieces: &mut Pieces<'a>) -> Option<Topic<'a>> {
    let asked: Vec<(usize, &'a Answer)> = pieces
        .findings
        .questions
        .iter()
        .enumerate()
        .filter(|(_, q)| q.question == topic.kind)
        .collect();
    if asked.is_empty() && topic.number.is_none() {
        return None;
    }
    let short = asked.iter().filter_map(|(i, answer)| {
        let href = pieces.place.question(pieces.names, *i)?;
        Some(in_short(answer, *i, href))
    });
    let short = short.collect();
    let answers: Vec<AnswerView> = asked.iter().map(|(i, a)| brief(a, *i, pieces)).collect();
    Some(Topic {
        number: topic.number,
        anchor: topic.anchor,
        asks: match asked.as_slice() {
            [(_, only)] => &only.asks,
            _ => topic.asks,
        },
        not_asked: answers.is_empty().then_some(topic.takes),
        answers,
        short,
    })
}

fn flight_list<'a>(findings: &'a Findings, pieces: &Pieces<'a>) -> FlightList<'a> {
    let name = |key: &str| words::estimate_name(key, "");
    let word = |text: &'a Option<String>| text.as_deref().unwrap_or("–");
    let rows = findings.flights.iter().enumerate().filter_map(|(i, f)| {
        let cells = LISTED.iter().map(|key| {
            let (key, estimate) = f.sheet.estimates.get_key_value(*key)?;
            let pointer = format!("/flights/{i}/sheet/estimates/{key}");
            Some(estimate_view(key, estimate, &pointer))
        });
        Some(FlightLine {
            link: links::flight(findings, pieces.names, pieces.place, i)?,
            day: word(&f.day),
            airframe: word(&f.airframe_name),
            power: word(&f.power_name),
            pack: word(&f.pack_name),
            cells: cells.collect(),
            remarks: &f.remarks,
        })
    });
    FlightList {
        columns: LISTED.iter().map(|key| name(key)).collect(),
        rows: rows.collect(),
    }
}

/// Figures and tables that no answer and no other page has.
fn left<'a>(
    findings: &'a Findings,
    pieces: &mut Pieces<'a>,
) -> (Vec<FigureView<'a>>, Vec<TableView<'a>>) {
    let flights = findings.flights.iter().map(|f| &f.sheet);
    let powers = findings.powers.iter().map(|p| &p.sheet);
    let pairs = findings.comparisons.iter().map(|c| &c.sheet);
    let sheets: Vec<_> = flights.chain(powers).chain(pairs).collect();
    let answers = &findings.questions;
    let figure_has_place = |id: &String| {
        sheets.iter().any(|s| s.figures.contains(id))
            || answers.iter().any(|a| a.figures.contains(id))
    };
    let table_has_place = |id: &String| {
        sheets.iter().any(|s| s.tables.contains(id))
            || answers.iter().any(|a| a.tables.contains(id))
    };
    let figures = findings.figures.iter().enumerate();
    let figures = figures.filter(|(_, f)| !figure_has_place(&f.id));
    let figures = figures.filter_map(|(i, _)| pieces.full_figure(i)).collect();
    let tables = findings.tables.iter().enumerate();
    let tables = tables.filter(|(_, t)| !table_has_place(&t.id));
    let tables = tables.filter_map(|(i, _)| pieces.full_table(i)).collect();
    (figures, tables)
}
