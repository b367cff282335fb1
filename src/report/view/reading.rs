//! A number with its interval, in the units of the findings and in the pilot's.

use serde::Serialize;

use super::{Num, step};
use crate::report::numbers::decimals;
use crate::report::{chart, words};
use crate::stats::estimate::Estimate;

/// A number and its interval in one unit.
#[derive(Debug, Clone, Default, Serialize)]
pub(super) struct Reading {
    pub value: Option<Num>,
    pub low: Option<Num>,
    pub high: Option<Num>,
    pub unit: String,
}

#[derive(Debug, Serialize)]
pub(super) struct EstimateView<'a> {
    name: String,
    si: Reading,
    /// The same in the pilot's unit, where that is another one.
    own: Option<Reading>,
    level: Option<Num>,
    /// The value itself is a bound, as a tolerance limit is.
    is_bound: bool,
    /// Counted, so exact.
    is_count: bool,
    at: Vec<ConditionView>,
    counts: Vec<(Num, &'a str)>,
    method: &'a str,
    inputs: &'a [String],
}

#[derive(Debug, Serialize)]
struct ConditionView {
    name: String,
    si: (Num, String),
    own: Option<(Num, String)>,
}

/// Value and ends, as far as they are known, written to the digits that they leave worth showing.
fn reading(
    [value, low, high]: [Option<f64>; 3],
    unit: &str,
    percent: bool,
    pointer: &str,
) -> Reading {
    let scaled = |v: Option<f64>| v.map(|v| if percent { v * 100.0 } else { v });
    let digits = decimals(scaled(value), scaled(low), scaled(high));
    let num = |value: Option<f64>, name: &str| {
        value
            .filter(|v| v.is_finite())
            .map(|v| Num::new(v, digits, format!("{pointer}/{name}"), percent))
    };
    Reading {
        value: num(value, "value"),
        low: num(low, "low"),
        high: num(high, "high"),
        unit: unit_words(unit, percent),
    }
}

pub(super) fn unit_words(code: &str, percent: bool) -> String {
    if percent {
        "%".to_owned()
    } else {
        words::unit(code)
    }
}

pub(super) fn estimate_view<'a>(
    key: &str,
    estimate: &'a Estimate,
    pointer: &str,
) -> EstimateView<'a> {
    let percent = words::is_percent(key, &estimate.unit);
    let ends = [estimate.value, estimate.low, estimate.high];
    let mut si = reading(ends, &estimate.unit, percent, pointer);
    if words::is_p_value(key) {
        let key = format!("{pointer}/value");
        si.value = estimate.value.map(|p| Num::p_value(p, key));
    }
    let own = estimate.shown.as_ref().map(|shown| {
        let ends = [shown.value, shown.low, shown.high];
        reading(ends, &shown.unit, false, &format!("{pointer}/shown"))
    });
    let bounded = estimate.low.is_some() || estimate.high.is_some();
    let level = estimate.level;
    EstimateView {
        name: words::estimate_name(key, &estimate.unit),
        si,
        own,
        level: (bounded && level > 0.0).then(|| {
            let digits = chart::short_decimals(level * 100.0);
            Num::new(level, digits, format!("{pointer}/level"), true)
        }),
        is_bound: matches!(key, "timer" | "extrapolated_timer"),
        is_count: key == "questions_not_settled" || key.starts_with("bench_readings"),
        at: conditions(estimate, pointer),
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

fn conditions(estimate: &Estimate, pointer: &str) -> Vec<ConditionView> {
    let conditions = estimate.at.iter().map(|(name, condition)| {
        let percent = words::is_percent(name, &condition.unit);
        let scale = if percent { 100.0 } else { 1.0 };
        let digits = |v: f64| decimals(Some(scale * v), None, None);
        let key = format!("{pointer}/at/{}", step(name));
        let si = Num::new(
            condition.value,
            digits(condition.value),
            format!("{key}/value"),
            percent,
        );
        let own = condition.shown.as_ref().map(|shown| {
            let key = format!("{key}/shown/value");
            let num = Num::new(shown.value, digits(shown.value), key, false);
            (num, words::unit(&shown.unit))
        });
        ConditionView {
            name: words::plain(name),
            si: (si, unit_words(&condition.unit, percent)),
            own,
        }
    });
    conditions.collect()
}
