//! Two power systems held against each other: which questions, flights and files belong together.

use crate::findings::answer::{Answer, Ledger};
use crate::findings::evidence::{Evidence, counted};
use crate::findings::rows;
use crate::findings::sheets::{ComparisonSheet, Sheet};
use crate::season::QuestionKind;
use crate::store::FlightRow;

/// Every pair that a question compares, in the order of the questions.
pub(super) fn sheets(
    evidence: &Evidence,
    answers: &[Answer],
    ledger: &Ledger,
) -> Vec<ComparisonSheet> {
    let mut sheets: Vec<ComparisonSheet> = Vec::new();
    for answer in answers {
        let of_powers = matches!(
            answer.question,
            QuestionKind::CarryOver | QuestionKind::Airframe
        );
        let (Some(baseline), Some(candidate)) = (&answer.baseline, &answer.candidate) else {
            continue;
        };
        if !of_powers || baseline == candidate {
            continue;
        }
        let id = format!("{baseline}--{candidate}");
        match sheets.iter_mut().find(|s| s.id == id) {
            Some(known) => known.sheet.questions.push(answer.id.clone()),
            None => sheets.push(sheet(evidence, id, [baseline, candidate], answer, ledger)),
        }
    }
    sheets
}

fn sheet(
    evidence: &Evidence,
    id: String,
    [baseline, candidate]: [&String; 2],
    first: &Answer,
    ledger: &Ledger,
) -> ComparisonSheet {
    let flights: Vec<&FlightRow> = evidence
        .tables
        .flights
        .iter()
        .filter(|f| rows::asks_of(first, f))
        .collect();
    let of = |power: &str| counted(evidence.flights_of(power).len(), "flight");
    let names = [baseline, candidate].map(|p| evidence.power_name(p));
    ComparisonSheet {
        sentence: format!(
            "{} flew {}, {} {}.",
            names[0],
            of(baseline),
            names[1],
            of(candidate)
        ),
        id,
        baseline: baseline.clone(),
        candidate: candidate.clone(),
        baseline_name: names[0].clone(),
        candidate_name: names[1].clone(),
        flights: flights.iter().map(|f| f.flight.clone()).collect(),
        sheet: Sheet {
            questions: vec![first.id.clone()],
            findings: rows::findings_of(ledger, |file| {
                flights.iter().any(|f| rows::is_log_of(f, file))
            }),
            rows: first.rows,
            ..Sheet::default()
        },
    }
}
