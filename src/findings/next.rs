//! Question 7: what should I measure or fly next to settle what is not settled?

use crate::findings::answer::{Answer, HowWeKnow, Verdict};
use crate::season::QuestionKind;

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
            "Every answer names what it lacks; flights needed come from the season's own scatter \
             between flights of a day."
                .to_owned(),
        ],
        sources: Vec::new(),
        inputs: vec!["the other questions' answers".to_owned()],
        would_change: vec!["A larger difference that matters needs fewer flights.".to_owned()],
    };
    answer.cautions.push(
        "Fly what local rules and your own skill allow; hold the model safely on the bench, keep \
         clear of the plane of the fan, and watch the pack."
            .to_owned(),
    );
    let open: Vec<&Answer> = others
        .iter()
        .filter(|a| a.verdict == Verdict::NotSettled)
        .collect();
    for other in others {
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
        for (key, estimate) in &other.estimates {
            if key == "flights_needed_a_fan" {
                answer.estimates.insert(key.clone(), estimate.clone());
                answer.headline.push(key.clone());
            }
        }
    }
    answer.headline.dedup();
    let first = answer.next.first().or(answer.missing.first());
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
