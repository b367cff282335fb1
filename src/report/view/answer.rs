//! An answer: short on the season page, with all its pictures and tables on the page it is at home on.

use serde::Serialize;

use super::links::{Link, homes};
use super::pieces::{FigureView, Pieces, Shown, TableView};
use super::reading::{EstimateView, estimate_view};
use super::{RowsView, rows_view, step};
use crate::findings::{Answer, Verdict};
use crate::season::QuestionKind;
use crate::stats::estimate::Estimate;

#[derive(Debug, Serialize)]
pub(super) struct AnswerView<'a> {
    anchor: String,
    asks: &'a str,
    verdict: &'a str,
    settled: bool,
    is_card: bool,
    /// On the season page: one number, one picture, the rest folded.
    brief: bool,
    /// The tables are the answer.
    tables_open: bool,
    answer: &'a Answer,
    /// The sentence that answers, and those that follow it.
    sentence: &'a str,
    more: &'a str,
    headline: Vec<EstimateView<'a>>,
    lead: Option<Shown<FigureView<'a>>>,
    estimates: Vec<EstimateView<'a>>,
    figures: Vec<Shown<FigureView<'a>>>,
    tables: Vec<Shown<TableView<'a>>>,
    /// Pages with the rest of the evidence.
    homes: Vec<Link>,
    rows: RowsView,
}

/// As the season page shows it.
pub(super) fn brief<'a>(
    answer: &'a Answer,
    index: usize,
    pieces: &mut Pieces<'a>,
) -> AnswerView<'a> {
    let homes = homes(pieces.findings, pieces.names, pieces.place, &answer.id);
    let mut view = base(answer, index, pieces);
    view.brief = true;
    view.lead = answer.figures.iter().find_map(|id| pieces.figure(id));
    // What has no page of its own is at home here.
    if homes.is_empty() {
        let others = answer.figures.iter().skip(1);
        view.figures = others.filter_map(|id| pieces.figure(id)).collect();
    }
    if homes.is_empty() || view.tables_open {
        let tables = answer.tables.iter();
        view.tables = tables.filter_map(|id| pieces.table(id)).collect();
    }
    view.homes = homes;
    view
}

/// With everything that belongs to it.
pub(super) fn full<'a>(
    answer: &'a Answer,
    index: usize,
    pieces: &mut Pieces<'a>,
) -> AnswerView<'a> {
    let mut view = base(answer, index, pieces);
    let mut figures = answer.figures.iter().filter_map(|id| pieces.figure(id));
    view.lead = figures.next();
    view.figures = figures.collect();
    let tables = answer.tables.iter();
    view.tables = tables.filter_map(|id| pieces.table(id)).collect();
    view
}

fn base<'a>(answer: &'a Answer, index: usize, pieces: &Pieces<'a>) -> AnswerView<'a> {
    let shown = |(key, estimate): (&'a String, &'a Estimate)| {
        let pointer = format!("/questions/{index}/estimates/{}", step(key));
        estimate_view(key, estimate, &pointer)
    };
    let headline = || {
        let keys = answer.headline.iter();
        keys.filter_map(|key| answer.estimates.get_key_value(key))
    };
    let others = answer
        .estimates
        .iter()
        .filter(|(key, _)| !answer.headline.contains(key));
    let (sentence, more) = first_sentence(&answer.sentence);
    let stem = pieces.names.questions.get(index);
    AnswerView {
        anchor: format!("question-{}", stem.map_or("unnamed", String::as_str)),
        asks: &answer.asks,
        verdict: answer.short(),
        settled: answer.verdict != Verdict::NotSettled,
        is_card: answer.question == QuestionKind::Next,
        brief: false,
        tables_open: answer.question == QuestionKind::WhatToChange,
        answer,
        sentence,
        more,
        headline: headline().map(shown).collect(),
        lead: None,
        estimates: headline().chain(others).map(shown).collect(),
        figures: Vec::new(),
        tables: Vec::new(),
        homes: Vec::new(),
        rows: rows_view(&answer.rows, &format!("/questions/{index}/rows")),
    }
}

/// The number of an answer in a line of a list.
#[derive(Debug, Serialize)]
pub(super) struct InShort<'a> {
    href: String,
    asks: &'a str,
    verdict: &'a str,
    settled: bool,
    number: Option<EstimateView<'a>>,
}

pub(super) fn in_short<'a>(answer: &'a Answer, index: usize, href: String) -> InShort<'a> {
    let first = answer
        .headline
        .iter()
        .find_map(|key| answer.estimates.get_key_value(key));
    InShort {
        href,
        asks: &answer.asks,
        verdict: answer.short(),
        settled: answer.verdict != Verdict::NotSettled,
        number: first.map(|(key, estimate)| {
            let pointer = format!("/questions/{index}/estimates/{}", step(key));
            estimate_view(key, estimate, &pointer)
        }),
    }
}

/// A text cut after its first sentence.
fn first_sentence(text: &str) -> (&str, &str) {
    let ends = text.match_indices(". ").map(|(at, _)| at);
    for at in ends {
        let rest = &text[at + 2..];
        if rest.starts_with(|c: char| c.is_uppercase()) {
            return (&text[..=at], rest);
        }
    }
    (text, "")
}

#[cfg(test)]
mod tests {
    use super::first_sentence;

    #[test]
    fn a_sentence_ends_where_a_capital_follows() {
        let text = "No: 72.0 A held, 11 % left. By the flights 90 A are wanted.";
        let (first, rest) = first_sentence(text);
        assert_eq!(first, "No: 72.0 A held, 11 % left.");
        assert_eq!(rest, "By the flights 90 A are wanted.");
        let whole = "It draws 4.5 W, approx. as before.";
        assert_eq!(first_sentence(whole), (whole, ""));
        assert_eq!(first_sentence(""), ("", ""));
    }
}
