//! The carry-over fraction: gain observed in flight over what a reference case makes of the bench's
//! gain, with an interval that stays right when the bench's gain is small.

use crate::findings::answer::Answer;
use crate::findings::evidence::{percent, with_interval};
use crate::findings::observed::Observed;
use crate::stats::estimate::Estimate;
use crate::stats::fieller::{Ratio, RatioSet, Term, ratio};
use crate::stats::normal_quantile;
use crate::stats::observed::Effect;

const METHOD: &str = "observed gain over the reference case's; Fieller's set at 95 %, errors of flight \
                      and bench taken as independent and normal, each with its own t factor";

/// One reference case: `from_thrust` or `from_power`, its gain, standard uncertainty and degrees of
/// freedom.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Case {
    pub key: &'static str,
    pub gain: f64,
    pub u: f64,
    pub degrees_of_freedom: f64,
}

impl Case {
    fn words(&self) -> &'static str {
        match self.key {
            "from_thrust" => "what the thrust gain makes of level top speed",
            _ => "what the power gain makes of level top speed",
        }
    }
}

/// The observed gain's errors: of the flights' scatter, and what they have wrong together.
fn term(observed: &Observed, effect: &Effect) -> Term {
    let slope = 1.0 + effect.gain;
    let own = if effect.floored {
        // The interval was widened to what the flights' own errors allow, taken as known.
        let half = effect.high.ln_1p() - effect.coefficient;
        (half / normal_quantile(0.975) * slope, f64::INFINITY)
    } else {
        (effect.se * slope, effect.df)
    };
    Term {
        value: effect.gain,
        parts: vec![own, (observed.common_error(effect) * slope, f64::INFINITY)],
    }
}

/// Adds the fraction of each case to a carry-over answer, or the words where there is none.
pub fn record(
    answer: &mut Answer,
    observed: &Observed,
    static_gain: Option<(f64, f64)>,
    cases: &[Case],
) {
    let Some(effect) = &observed.gain.effect else {
        return;
    };
    if cases.is_empty() {
        return;
    }
    if static_gain.is_some_and(|(low, high)| low <= 0.0 && 0.0 <= high) {
        answer.remarks.push(
            "What fraction of the static gain carried over cannot be said: the static gain may be \
             nothing, and a fraction of nothing is no number."
                .to_owned(),
        );
        return;
    }
    let flown = term(observed, effect);
    for case in cases {
        let reference = Term {
            value: case.gain,
            parts: vec![(case.u, case.degrees_of_freedom)],
        };
        let Some(found) = ratio(&flown, &reference, 0.95) else {
            continue;
        };
        let words = said(answer, case, &found);
        answer.remarks.push(words);
    }
}

/// The sentence on one case; its estimate goes into the answer where it has two ends.
fn said(answer: &mut Answer, case: &Case, found: &Ratio) -> String {
    let of = case.words();
    match found.set {
        RatioSet::Bounded { low, high } => {
            let estimate = Estimate::interval(found.value, low, high, 0.95, "1", METHOD);
            let words = with_interval(&estimate, 100.0, 0, " %");
            answer
                .estimates
                .insert(format!("carry_over_fraction_{}", case.key), estimate);
            format!(
                "Carry-over fraction: of {of} in the reference case, {words} arrived in flight."
            )
        }
        RatioSet::Outside { below, above } => format!(
            "The carry-over fraction of {of} has no finite interval, since that may be nothing: only \
             fractions between {} and {} are ruled out.",
            percent(below),
            percent(above)
        ),
        RatioSet::Everything => format!(
            "The carry-over fraction of {of} cannot be told: neither the gain in flight nor the \
             reference case is told apart from nothing, so no fraction is ruled out."
        ),
    }
}
