//! Rows of the input files behind the answers and pages.

use crate::findings::answer::{Answer, Ledger, RowsBehind};
use crate::findings::evidence::Evidence;
use crate::ingest::FileLedger;
use crate::season::{Finding, QuestionKind};
use crate::store::FlightRow;

/// Sum over those of the ledger's files that `of` picks.
pub(super) fn over(ledger: &Ledger, of: impl Fn(&FileLedger) -> bool) -> RowsBehind {
    let mut rows = RowsBehind::default();
    for file in ledger.files.iter().filter(|f| of(f)) {
        rows.files += 1;
        rows.rows_in += file.rows_in;
        rows.rows_used += file.rows_used;
        rows.rows_set_aside += file.rows_set_aside;
    }
    rows
}

/// Whether a file of the ledger is one of a flight's logs. A flight's row names its logs with blanks
/// between them.
pub(super) fn is_log_of(flight: &FlightRow, file: &str) -> bool {
    // A name may have blanks of its own.
    flight.files.match_indices(file).any(|(at, name)| {
        let blank = |c: Option<char>| c.is_none_or(|c| c == ' ');
        blank(flight.files[..at].chars().next_back())
            && blank(flight.files[at + name.len()..].chars().next())
    })
}

/// Places of the findings about files that `of` picks.
pub(super) fn findings_of(ledger: &Ledger, of: impl Fn(&str) -> bool) -> Vec<u64> {
    let is_of = |f: &Finding| f.place.as_ref().is_some_and(|p| of(&p.file));
    (0..)
        .zip(&ledger.findings)
        .filter(|(_, finding)| is_of(finding))
        .map(|(i, _)| i)
        .collect()
}

/// Whether a question asks of a flight.
pub(super) fn asks_of(answer: &Answer, flight: &FlightRow) -> bool {
    let is =
        |of: &Option<String>| of.is_some() && (*of == answer.baseline || *of == answer.candidate);
    match answer.question {
        QuestionKind::CarryOver
        | QuestionKind::Airframe
        | QuestionKind::PowerAndDuration
        | QuestionKind::Controller => is(&flight.power),
        QuestionKind::Pack => is(&flight.pack),
        QuestionKind::Sisters => is(&flight.airframe),
        QuestionKind::WhatToChange | QuestionKind::Next => false,
    }
}

/// Fills in what each answer rests on, and the ledger's totals. What gathers the other answers rests on
/// every file.
pub(super) fn fill(evidence: &Evidence, answers: &mut [Answer], ledger: &mut Ledger) {
    for answer in answers {
        let gathers = matches!(
            answer.question,
            QuestionKind::WhatToChange | QuestionKind::Next
        );
        let of_bench = |file: &FileLedger| {
            let by_power = !matches!(answer.question, QuestionKind::Pack | QuestionKind::Sisters);
            by_power
                && evidence.season.benches.iter().any(|b| {
                    let power = Some(&b.power);
                    b.file == file.file
                        && (power == answer.baseline.as_ref() || power == answer.candidate.as_ref())
                })
        };
        let flights: Vec<&FlightRow> = evidence
            .tables
            .flights
            .iter()
            .filter(|f| asks_of(answer, f))
            .collect();
        answer.rows = over(ledger, |file| {
            gathers || of_bench(file) || flights.iter().any(|f| is_log_of(f, &file.file))
        });
    }
    ledger.totals = over(ledger, |_| true);
}
