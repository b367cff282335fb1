//! Question 7: what should I measure or fly next to settle what is not settled?

use crate::findings::answer::{Answer, HowWeKnow, Verdict};
use crate::findings::plan::FLIGHTS_NEEDED;
use crate::findings::sheets::bare;
use crate::season::QuestionKind;

const OPEN: &str = "questions_not_settled";

/// Gathers what the other answers ask for, once each: open questions first.
pub fn answer(others: &[Answer]) -> Answer {
    let mut answer = Answer::new(
        QuestionKind::Next,
        "next",
        "What should I measure or fly next to settle what is not settled?",
    );
    answer.verdict = Verdict::Answered;
    answer.how = HowWeKnow {
        method: vec![
            "Every answer names what it lacks. Flights needed: the fewest by which the verdict rule \
             itself settles the question in four of five seasons, whether all of the bench's gain \
             carried over or none, at the season's own scatter between flights and days (analysis of \
             variance), by the same linear model that will judge them; errors that flights share are \
             kept as they are."
                .to_owned(),
            "Order of a day: of all orders the one in which a steady drift over the day (wind, air, \
             packs, pilot) shifts neither fan against the other; fans and airframes change over \
             between days where both are asked about."
                .to_owned(),
        ],
        sources: vec![
            "Variance components: Searle, Casella, McCulloch (1992), sections 3.6 and 5.5.".to_owned(),
            "Power by the noncentral t: Owen, Technometrics 10 (1968) 445.".to_owned(),
            "Orders free of drift: Cox, Biometrika 38 (1951) 312.".to_owned(),
        ],
        inputs: vec!["the other questions' answers".to_owned()],
        would_change: vec!["A larger difference that matters needs fewer flights.".to_owned()],
    };
    answer.cautions.push(
        "Fly what local rules and your own skill allow; hold the model safely on the bench, keep \
         clear of the plane of the fan, and watch the pack."
            .to_owned(),
    );
    let (open, settled): (Vec<&Answer>, Vec<&Answer>) = others
        .iter()
        .partition(|a| a.verdict == Verdict::NotSettled);
    for other in open.iter().chain(&settled) {
        for step in &other.next {
            if !answer.next.contains(step) {
                answer.next.push(step.clone());
            }
        }
        for lack in &other.missing {
            if !answer.missing.contains(lack) {
                answer.missing.push(lack.clone());
            }
        }
        if let Some(estimate) = other.estimates.get(FLIGHTS_NEEDED) {
            // The flights for the most demanding question serve the others too.
            let most = answer.estimates.get(FLIGHTS_NEEDED);
            if most.is_none_or(|m| m.value < estimate.value) {
                answer
                    .estimates
                    .insert(FLIGHTS_NEEDED.to_owned(), estimate.clone());
            }
        }
    }
    if answer.estimates.contains_key(FLIGHTS_NEEDED) {
        answer.headline.push(FLIGHTS_NEEDED.to_owned());
    }
    if !others.is_empty() {
        answer.in_short = Some(match open.len() {
            0 => "Nothing is open".to_owned(),
            n => format!("{n} of {} open", others.len()),
        });
        let count = bare(
            Some(open.len() as f64),
            "1",
            "counted: answers whose verdict is 'not settled'",
        );
        let count = count.map(|e| e.at("questions_asked", others.len() as f64, "1"));
        if let Some(count) = count {
            answer.estimates.insert(OPEN.to_owned(), count);
            answer.headline.push(OPEN.to_owned());
        }
    }
    let first = first_of(if open.is_empty() { &settled } else { &open });
    answer.sentence = match (open.len(), first) {
        (0, None) => "Nothing is open: every question asked is settled.".to_owned(),
        (0, Some(first)) => format!("Every question is settled; to sharpen the answers: {first}"),
        (n, Some(first)) => format!(
            "{n} of {} questions {} not settled; first: {first}",
            others.len(),
            if n == 1 { "is" } else { "are" }
        ),
        (n, None) => format!("{n} of {} questions are not settled.", others.len()),
    };
    answer
}

/// What the first of them that asks for anything wants done.
fn first_of<'a>(some: &[&'a Answer]) -> Option<&'a str> {
    let steps = some.iter().flat_map(|a| &a.next);
    let lacks = some.iter().flat_map(|a| &a.missing);
    steps.chain(lacks).next().map(|step| step.what.as_str())
}
