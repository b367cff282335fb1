//! The answers for a terminal: about a line each.

use super::numbers::{decimals, fixed};
use super::words;
use crate::findings::{Answer, Findings, Verdict};
use crate::season::QuestionKind;
use crate::stats::estimate::Estimate;

/// One answer: what was asked of what, and what came out.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Line {
    /// "Controller, eleven-blade".
    pub asked: String,
    /// "Not enough; headroom in flight 11.1 % (8.9 to 13.5 %)".
    pub answer: String,
}

pub fn lines(findings: &Findings) -> Vec<Line> {
    findings.questions.iter().map(line).collect()
}

fn line(answer: &Answer) -> Line {
    let subject = match answer.question {
        QuestionKind::CarryOver => "Carry-over",
        QuestionKind::PowerAndDuration => "Power and time",
        QuestionKind::Controller => "Controller",
        QuestionKind::Airframe => "Airframe",
        QuestionKind::Pack => "Pack",
        QuestionKind::Sisters => "Sisters",
        QuestionKind::WhatToChange => "What to change",
        QuestionKind::Next => "What next",
    };
    let of = match (&answer.candidate, &answer.baseline) {
        (Some(candidate), Some(baseline)) => format!(", {candidate} against {baseline}"),
        (Some(one), None) | (None, Some(one)) => format!(", {one}"),
        (None, None) => String::new(),
    };
    let first = answer
        .headline
        .iter()
        .find_map(|key| Some((key, answer.estimates.get(key)?)));
    Line {
        asked: format!("{subject}{of}"),
        answer: match first {
            Some((key, estimate)) => {
                format!("{}; {}", answer.short(), in_words(key, estimate))
            }
            // The verdict's word alone would say nothing here.
            None if answer.in_short.is_none() && answer.verdict == Verdict::Answered => {
                answer.sentence.clone()
            }
            None => answer.short().to_owned(),
        },
    }
}

/// "gain in level top speed 3.9 % (2.6 to 5.2 %)".
fn in_words(key: &str, estimate: &Estimate) -> String {
    let name = words::estimate_name(key, &estimate.unit);
    // What comes after a comma is a condition; the page tells it.
    let name = name.split(',').next().unwrap_or_default();
    let percent = words::is_percent(key, &estimate.unit);
    let unit = match words::unit(&estimate.unit) {
        _ if percent => " %".to_owned(),
        unit if unit.is_empty() => unit,
        unit => format!(" {unit}"),
    };
    let scaled = |v: Option<f64>| v.map(|v| if percent { v * 100.0 } else { v });
    let (value, low, high) = (
        scaled(estimate.value),
        scaled(estimate.low),
        scaled(estimate.high),
    );
    let digits = decimals(value, low, high);
    let show = |v: f64| fixed(v, digits);
    let ends = match (low, high) {
        (Some(low), Some(high)) => format!("{} to {}{unit}", show(low), show(high)),
        (Some(low), None) => format!("at least {}{unit}", show(low)),
        (None, Some(high)) => format!("at most {}{unit}", show(high)),
        (None, None) => String::new(),
    };
    let text = match value {
        Some(value) if ends.is_empty() => format!("{}{unit}", show(value)),
        Some(value) => format!("{}{unit} ({ends})", show(value)),
        None if ends.is_empty() => "unknown".to_owned(),
        None => ends,
    };
    format!("{} {text}", crate::findings::evidence::uncapital(name))
}
