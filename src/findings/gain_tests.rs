//! p values of the observed gain, beside its interval: no gain at all, a gain that matters, and what
//! asking several questions of one season makes of them.

use crate::findings::answer::{Answer, Verdict};
use crate::findings::evidence::{p_value as shown_p, percent};
use crate::findings::observed::Observed;
use crate::stats::estimate::Estimate;
use crate::stats::holm::holm;
use crate::stats::tost::tost;

const NO_GAIN: &str = "p_no_gain";

fn p_value(p: f64, method: &str) -> Estimate {
    Estimate {
        low: None,
        high: None,
        ..Estimate::plus_minus(p, 0.0, "1", method)
    }
}

/// Adds the p values to a carry-over answer whose verdict is already there.
pub fn record(answer: &mut Answer, observed: &Observed, margin: f64) {
    let Some(difference) = observed.difference().filter(|d| d.se > 0.0) else {
        return;
    };
    answer.estimates.insert(
        NO_GAIN.to_owned(),
        p_value(
            difference.p(),
            "two-sided t test of no gain: standard error of the flights' scatter and of what they may \
             have wrong together, at the flights' degrees of freedom. The interval takes the latter as \
             normal and so implies a smaller p",
        )
        .at("standard_error_of_the_logarithm", difference.se, "1")
        .at("degrees_of_freedom", difference.df, "1"),
    );
    if answer.verdict == Verdict::NoDifferenceThatMatters {
        let p = tost(difference, margin.ln_1p()).p();
        answer.remarks.push(format!(
            "Two one-sided tests against ±{}: {}.",
            percent(margin),
            shown_p(p)
        ));
        answer.estimates.insert(
            "p_difference_that_matters".to_owned(),
            p_value(p, "two one-sided t tests against the margin"),
        );
    }
}

/// Where several carry-over questions were asked, one of them may find a gain by luck: says which
/// stand after Holm's correction.
pub fn together(answers: &mut [Answer]) {
    let mut tested: Vec<(&mut Answer, f64)> = answers
        .iter_mut()
        .filter_map(|a| {
            let p = a.estimates.get(NO_GAIN)?.value?;
            Some((a, p))
        })
        .collect();
    if tested.len() < 2 {
        return;
    }
    // The same test under another margin is no further look.
    let mut looks: Vec<(Option<String>, Option<String>, f64)> = Vec::new();
    let mut of_answer = Vec::new();
    for (answer, p) in &tested {
        let look = (answer.baseline.clone(), answer.candidate.clone(), *p);
        let place = looks.iter().position(|known| *known == look);
        of_answer.push(place.unwrap_or(looks.len()));
        if place.is_none() {
            looks.push(look);
        }
    }
    if looks.len() < 2 {
        return;
    }
    let shared = shared_power(&tested.iter().map(|t| &*t.0).collect::<Vec<_>>());
    let adjusted = holm(&looks.iter().map(|l| l.2).collect::<Vec<_>>());
    let count = looks.len();
    for ((answer, _), look) in tested.iter_mut().zip(of_answer) {
        let p = adjusted[look];
        answer.remarks.push(format!(
            "{count} gains were looked for in this season; with Holm's correction for that, {} \
             for no gain at all.",
            shown_p(p)
        ));
        answer.estimates.insert(
            "p_no_gain_holm".to_owned(),
            p_value(p, "Holm, Scand. J. Statist. 6 (1979) 65").count("questions", count),
        );
        if shared {
            answer.remarks.push(
                "The same flights stand in more than one of these questions, so their answers lean on \
                 each other; Holm's correction holds all the same."
                    .to_owned(),
            );
        }
    }
}

/// Whether a power system, and with it its flights, is in two of the answers.
fn shared_power(answers: &[&Answer]) -> bool {
    let mut powers: Vec<&String> = answers
        .iter()
        .flat_map(|a| a.baseline.iter().chain(&a.candidate))
        .collect();
    let all = powers.len();
    powers.sort();
    powers.dedup();
    powers.len() < all
}
