//! An answer with its estimates, pictures and tables.

use serde::Serialize;

use super::pieces::{FigureView, Pieces, Shown, TableView};
use super::{Num, step};
use crate::findings::{Answer, Verdict};
use crate::report::numbers::decimals;
use crate::report::{chart, words};
use crate::season::QuestionKind;
use crate::stats::estimate::Estimate;

#[derive(Debug, Serialize)]
pub(super) struct AnswerView<'a> {
    anchor: String,
    asks: &'a str,
    verdict: &'a str,
    settled: bool,
    is_card: bool,
    /// The tables are the answer.
    tables_open: bool,
    answer: &'a Answer,
    headline: Vec<EstimateView<'a>>,
    lead: Option<Shown<FigureView<'a>>>,
    estimates: Vec<EstimateView<'a>>,
    figures: Vec<Shown<FigureView<'a>>>,
    tables: Vec<Shown<TableView<'a>>>,
}

#[derive(Debug, Serialize)]
struct EstimateView<'a> {
    name: String,
    value: Option<Num>,
    low: Option<Num>,
    high: Option<Num>,
    unit: String,
    level: Option<Num>,
    /// The value itself is a bound, as a tolerance limit is.
    is_bound: bool,
    at: Vec<(String, Num, String)>,
    counts: Vec<(Num, &'a str)>,
    method: &'a str,
    inputs: &'a [String],
}

pub(super) fn answer_view<'a>(
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
        verdict: answer.short(),
        settled: answer.verdict != Verdict::NotSettled,
        is_card: answer.question == QuestionKind::Next,
        tables_open: answer.question == QuestionKind::WhatToChange,
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
        value: if words::is_p_value(key) {
            let key = format!("{pointer}/value");
            estimate.value.map(|p| Num::p_value(p, key))
        } else {
            num(estimate.value, "value")
        },
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
        is_bound: matches!(key, "timer" | "extrapolated_timer"),
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
